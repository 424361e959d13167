"""How many draws may be asked for. By itself, so that settings need not load the contract."""

from __future__ import annotations

from typing import Literal

#: Sizes of the sample behind every band.
Draws = Literal[256, 512, 1024, 2048, 4096]
