"""The service as it listens: limits, processes, stopping."""
