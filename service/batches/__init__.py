"""Batches: many visits in, many answers out, in their order."""
