"""Readings over time: what happened, what can be trusted, and what each reading settles at.  Read settled.py first."""
