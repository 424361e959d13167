"""Seeing what the service does: logs, metrics, domain counts, traces.  None of them holds what a body holds."""
