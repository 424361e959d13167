"""Refrigerants: the one place to touch for a new one.

Compositions by mass and safety groups are those of ANSI/ASHRAE Standard 34.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Literal

from rapidfuzz import process

SafetyGroup = Literal["A1", "A2L", "A3"]

#: ASHRAE designation, CoolProp fluid name, mass fraction.
Component = tuple[str, str, float]

#: CoolProp fluid names: one, another that has no fitted pair with it, and the fluid whose pair
#: with the first is used instead.
BorrowedPair = tuple[str, str, str]

_HANDBOOK_PURE = "ANSI/ASHRAE Standard 34, as printed in ASHRAE Handbook Fundamentals (SI) 2021, chapter 29, table 1"
_HANDBOOK_BLEND = _HANDBOOK_PURE.replace("table 1", "table 2")
_ASHRAE_34 = "ANSI/ASHRAE Standard 34 (value from memory)"
_PURE = "reference equation of state of the pure fluid"
_PSEUDO = "pseudo-pure equation of state (Lemmon 2003) with its bubble and dew curves"
_MIXTURE = "Helmholtz-energy mixture model with fitted binary pairs"


@dataclass(frozen=True, slots=True)
class Refrigerant:
    """One refrigerant.

    Attributes
    ----------
    designation : str
        ASHRAE designation.
    components : tuple of (str, str, float)
        ASHRAE designation, CoolProp fluid and mass fraction [1] of each component.
    safety_group : str
        ASHRAE 34 safety group.
    fluid : str or None
        The CoolProp fluid to use as a whole (pure or pseudo-pure); None means the mixture of the
        components.
    model : str
        Equation of state or mixture model behind the saturation curves.
    notes : str
        What a reader of the numbers has to know.
    composition_source, safety_group_source : str
        Where these are printed.
    borrowed_pairs : tuple of (str, str, str)
        Binary pairs that the mixture model lacks, each with the fluid that stands in.
    """

    designation: str
    components: tuple[Component, ...]
    safety_group: SafetyGroup
    fluid: str | None = None
    model: str = _MIXTURE
    notes: str = ""
    composition_source: str = _HANDBOOK_BLEND
    safety_group_source: str = _HANDBOOK_BLEND
    borrowed_pairs: tuple[BorrowedPair, ...] = ()

    @property
    def model_uncertainty(self) -> float:
        """Standard uncertainty of a saturation temperature that the model brings [K].

        Judged from how far normal boiling points lie from the printed ones: none for pure fluids
        beyond the digits, 0.1 K for pseudo-pure fluids (bubble and dew ancillaries), 0.3 K
        root mean square for mixtures with fitted pairs, 0.4 K where pairs are borrowed.
        """
        if self.borrowed_pairs:
            return 0.4
        if self.fluid is None:
            return 0.25
        return 0.02 if len(self.components) == 1 else 0.1


def _pure(designation: str, fluid: str, group: SafetyGroup) -> Refrigerant:
    return Refrigerant(
        designation,
        ((designation, fluid, 1.0),),
        group,
        fluid,
        _PURE,
        composition_source="a pure substance",
        safety_group_source=_HANDBOOK_PURE,
    )


_F = {
    "R-32": "R32",
    "R-125": "R125",
    "R-134a": "R134a",
    "R-143a": "R143a",
    "R-1234yf": "R1234yf",
    "R-1234ze(E)": "R1234ze(E)",
    "R-600": "n-Butane",
    "R-600a": "IsoButane",
    "R-601a": "Isopentane",
}


def _blend(
    designation: str,
    group: SafetyGroup,
    parts: dict[str, float],
    fluid: str | None = None,
    model: str | None = None,
    notes: str = "",
    source: str = _HANDBOOK_BLEND,
    borrowed_pairs: tuple[BorrowedPair, ...] = (),
) -> Refrigerant:
    components = tuple((name, _F[name], percent / 100) for name, percent in parts.items())
    chosen = model or (_PSEUDO if fluid else _MIXTURE)
    return Refrigerant(designation, components, group, fluid, chosen, notes, source, source, borrowed_pairs)


#: Critical temperature [K] and pressure [Pa] of the blends that CoolProp takes as mixtures.  Its
#: search (``all_critical_points``) can take twenty seconds a blend and returns unphysical roots
#: (negative pressure, or not stable) beside the physical one; kept here is the stable one of
#: positive pressure, of which each blend has one.  A test runs the search again for some.
MIXTURE_CRITICAL_POINTS: Mapping[str, tuple[float, float]] = MappingProxyType(
    {
        "R-454B": (351.43, 5304109.0),
        "R-448A": (355.94, 4605181.0),
        "R-449A": (355.64, 4516518.0),
        "R-513A": (368.56, 3655094.0),
        "R-421A": (355.92, 3918474.0),
        "R-422D": (351.26, 3798750.0),
        "R-427A": (358.64, 4412068.0),
        "R-438A": (356.71, 4169462.0),
        "R-452B": (350.32, 5246318.0),
        "R-454C": (360.79, 4370460.0),
        "R-407A": (355.40, 4513894.0),
    }
)

_GLIDE = "Has glide: superheat is taken from the dew curve, subcooling from the bubble curve."

_ROWS = (
    _pure("R-22", "R22", "A1"),
    _blend("R-410A", "A1", {"R-32": 50, "R-125": 50}, "R410A"),
    _pure("R-32", "R32", "A2L"),
    _blend("R-454B", "A2L", {"R-32": 68.9, "R-1234yf": 31.1}, notes=_GLIDE),
    _blend("R-407C", "A1", {"R-32": 23, "R-125": 25, "R-134a": 52}, "R407C", notes=_GLIDE),
    _pure("R-134a", "R134a", "A1"),
    _blend("R-404A", "A1", {"R-125": 44, "R-143a": 52, "R-134a": 4}, "R404A"),
    _blend("R-507A", "A1", {"R-125": 50, "R-143a": 50}, "R507A"),
    _blend(
        "R-448A",
        "A1",
        {"R-32": 26, "R-125": 26, "R-1234yf": 20, "R-134a": 21, "R-1234ze(E)": 7},
        notes=_GLIDE + " One binary pair of the mixture model (R-125/R-1234ze(E)) is not fitted.",
    ),
    _blend(
        "R-449A",
        "A1",
        {"R-32": 24.3, "R-125": 24.7, "R-1234yf": 25.3, "R-134a": 25.7},
        notes=_GLIDE,
    ),
    _blend("R-513A", "A1", {"R-1234yf": 56, "R-134a": 44}),
    _pure("R-290", "n-Propane", "A3"),
    _blend("R-421A", "A1", {"R-125": 58, "R-134a": 42}, notes=_GLIDE),
    _blend("R-422D", "A1", {"R-125": 65.1, "R-134a": 31.5, "R-600a": 3.4}, notes=_GLIDE),
    _blend(
        "R-427A",
        "A1",
        {"R-32": 15, "R-125": 25, "R-143a": 10, "R-134a": 50},
        notes=_GLIDE + " One binary pair of the mixture model (R-32/R-143a) is not fitted.",
    ),
    _blend(
        "R-438A",
        "A1",
        {"R-32": 8.5, "R-125": 45, "R-134a": 44.2, "R-600": 1.7, "R-601a": 0.6},
        model=_MIXTURE + "; the pairs of R-601a with R-32, R-125 and R-134a are not fitted and are "
        "taken to be those of R-600",
        notes=_GLIDE + " At atmospheric pressure the dew point is 0.2 K and the bubble point 0.5 K "
        "above the published ones. R-601a is 0.6 % of the mass, yet its pairs matter: the library's "
        "simple mixing rules would put the dew point 2.7 to 3.2 K above the published one.",
        borrowed_pairs=tuple((f, "Isopentane", "n-Butane") for f in ("R32", "R125", "R134a")),
    ),
    _blend("R-452B", "A2L", {"R-32": 67, "R-125": 7, "R-1234yf": 26}, notes=_GLIDE, source=_ASHRAE_34),
    _blend("R-454C", "A2L", {"R-32": 21.5, "R-1234yf": 78.5}, notes=_GLIDE, source=_ASHRAE_34),
    _blend("R-407A", "A1", {"R-32": 20, "R-125": 40, "R-134a": 40}, notes=_GLIDE),
    _pure("R-1234yf", "R1234yf", "A2L"),
    _pure("R-600a", "IsoButane", "A3"),
)

#: Asked for now and then, but not carried, with the reason.
NOT_CARRIED: Mapping[str, str] = MappingProxyType(
    {
        "R-744": "Its critical temperature, 31 °C, lies below the condensing temperatures of an "
        "air conditioner, where a saturation curve and subcooling have no meaning",
    }
)

REFRIGERANTS: Mapping[str, Refrigerant] = MappingProxyType({r.designation: r for r in _ROWS})


def _plain(text: str) -> str:
    return re.sub(r"[^a-z0-9]", "", text.lower()).removeprefix("r")


_PLAIN = {_plain(name): name for name in REFRIGERANTS}


def designation_of(text: str) -> str | None:
    """The catalogue's designation for what a caller wrote (``r410a``, ``R 410A``), else None."""
    return _PLAIN.get(_plain(text)) if len(text) <= 30 else None


def reason_not_carried(text: str) -> str | None:
    """Why a refrigerant that exists is not in the catalogue; None where that is not known."""
    plain = _plain(text[:30])
    return next((why for name, why in NOT_CARRIED.items() if _plain(name) == plain), None)


def near_designations(text: str) -> list[str]:
    """Designations spelt like the text, nearest first, three at the most."""
    found = process.extract(_plain(text[:30]), list(_PLAIN), limit=3, score_cutoff=60)
    return [_PLAIN[key] for key, _, _ in found]
