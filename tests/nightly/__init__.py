"""Checks too long for CI, run at night: see the commands in tests/README.md."""

from __future__ import annotations

import os

#: Whether the long form of a check runs: more cases, more draws, every pair of visits.
AT_NIGHT = os.environ.get("HYPOTHESIS_PROFILE") == "nightly"
