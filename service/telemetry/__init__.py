"""Observing the service: logs, metrics, counts of answers, traces.  None of them holds the content of a body."""
