"""Readings of a service visit in, graded findings with uncertainty bands out."""

from __future__ import annotations

import os

# A visit's matrices are small: a second thread of linear algebra costs far more than it gives, and
# fights the other workers for cores. It must be said before NumPy is first imported.
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
os.environ.setdefault("OMP_NUM_THREADS", "1")
