"""Benchmarks and studies: figures, not tests."""

# Sets the number of linear algebra threads, which must be said before NumPy is first imported.
import service  # noqa: F401
