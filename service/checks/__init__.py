"""Checks: tests with the unit off, and other work that is arithmetic with uncertainty."""
