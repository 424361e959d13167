"""Array aliases shared by the physics rooms.

Every function here works element by element, so a float, a vector of draws and a
``(visits, draws)`` block all pass through the same code.  The draws axis is always the last.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]
FloatLike = float | FloatArray
