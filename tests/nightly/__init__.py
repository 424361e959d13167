"""Checks too long for CI, run at night: see the commands in tests/README.md."""
