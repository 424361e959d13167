"""How many random cases an invariant gets.

Without a word from here: 20 in CI, always the same, and 10,000 others each night
(``HYPOTHESIS_PROFILE=nightly``, registered in ``tests/conftest.py``).
"""

from __future__ import annotations

from hypothesis import settings

from tests.nightly import AT_NIGHT

#: Of an invariant that takes over a twentieth of a second a case, each night.
SLOW_AT_NIGHT = 1_000


def slow_cases(in_ci: int) -> settings:
    """For an invariant that takes over a twentieth of a second a case: fewer in CI, and 1,000 at night."""
    return settings(max_examples=SLOW_AT_NIGHT if AT_NIGHT else in_ci)
