"""What the probabilities amount to: what is found, what must wait, and the one verdict.

Parts of one answer must not contradict each other: a fault that takes efficiency is not found where
nothing is lost, charge is not judged before the outdoor fan turns, and no unit is healthy while the
assessment of the same readings asks for action.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from schemas.diagnoses import DiagnosisVerdict
from service.reference.faults import (
    CLAIMED,
    EXPLAINS_ALL,
    FAULTS,
    FOUND,
    HEALTHY_FROM,
    LOOK_ALIKE,
    SETTLED_FIRST,
    STANDS_IN_THE_WAY,
    TAKES_EFFICIENCY,
)
from service.uncertainty.mixture import Normals

#: A condition of the visit, not a fault of the unit.
_CONDITION = "low_load"


@dataclass(frozen=True, slots=True)
class Verdict:
    """The verdict; ``groups`` are the faults found, those that look alike together; ``contradicted`` those
    that were probable enough and are not called found, as the efficiency denies them; ``waiting`` those
    that wait until something else is settled.  Health is ``denied`` where only the assessment
    speaks against it."""

    name: DiagnosisVerdict
    groups: tuple[tuple[str, ...], ...] = ()
    contradicted: tuple[str, ...] = ()
    waiting: tuple[str, ...] = ()
    denied: bool = False

    @property
    def found(self) -> list[str]:
        """All faults that are found, in order."""
        return [name for group in self.groups for name in group]


def settled_first(chances: Mapping[str, float]) -> frozenset[str]:
    """Faults that are not judged until something more urgent, or the conditions, are settled."""
    return frozenset(
        name for first, (least, waits) in SETTLED_FIRST.items() if chances.get(first, 0.0) >= least for name in waits
    )


def direct_groups(of_direct: Mapping[str, float]) -> tuple[tuple[str, ...], ...]:
    """Faults that show by themselves, most urgent first."""
    found = [name for name, chance in of_direct.items() if chance >= FOUND and name != _CONDITION]
    return tuple((name,) for name in sorted(found, key=lambda name: name not in EXPLAINS_ALL))


def verdict(
    chances: Mapping[str, float],
    of_any: Mapping[frozenset[str], float],
    of_direct: Mapping[str, float],
    loss: tuple[Normals, float] | None,
    *,
    objected: bool,
) -> Verdict:
    """The verdict on one visit.

    Parameters
    ----------
    chances
        Probabilities of the hypotheses of the cycle and of its readings, by name.
    of_any
        Probability of each group of look-alikes, that any of it is there.
    of_direct
        Probabilities of what shows in one value by itself.
    loss
        The change of the logarithm of efficiency, and the probability of a loss that counts; None where
        the readings do not show it.
    objected
        Whether the assessment of the same readings asks for action, or does not trust them.
    """
    waits = settled_first(of_direct)
    none_lost = loss is not None and loss[0].mean >= 0.0 and loss[1] <= 1.0 - FOUND
    groups: list[tuple[str, ...]] = [
        (name,)
        for name, chance in chances.items()
        if chance >= FOUND and FAULTS[name].shown == "cycle" and name != "no_fault"
    ]
    named = {name for group in groups for name in group}
    groups += [
        tuple(sorted(alike, key=lambda name: -chances[name]))
        for alike in LOOK_ALIKE
        if of_any[alike] >= FOUND and not alike & named
    ]
    waiting = tuple(name for group in groups if waits & set(group) for name in group)
    contradicted = tuple(
        name
        for group in groups
        if none_lost and TAKES_EFFICIENCY & set(group) and not waits & set(group)
        for name in group
    )
    beside = direct_groups(of_direct)
    found = beside + tuple(group for group in groups if not {*waiting, *contradicted} & set(group))
    explained = any(group[0] in EXPLAINS_ALL for group in beside)
    # Before anything else; what shows by itself is still found where readings are doubted.
    if chances["measurement_mistake"] + chances["none_of_these"] >= FOUND and not explained:
        return Verdict("readings_doubted", beside)
    if found:
        return Verdict("fault_found", found, contradicted, waiting)
    if contradicted:
        return Verdict("not_enough_to_tell", (), contradicted, waiting)
    if 1.0 - chances["no_fault"] - chances["measurement_mistake"] >= CLAIMED:
        return Verdict("fault_not_told_apart", (), (), waiting)
    largest = max(chance for name, chance in chances.items() if FAULTS[name].shown == "cycle" and name != "no_fault")
    healthy = (
        loss is not None
        and loss[1] <= 1.0 - FOUND
        and chances["no_fault"] >= HEALTHY_FROM
        and largest <= STANDS_IN_THE_WAY
        and of_direct.get(_CONDITION, 0.0) < FOUND
        and not waits
    )
    name: DiagnosisVerdict = "healthy" if healthy and not objected else "not_enough_to_tell"
    return Verdict(name, (), (), waiting, denied=healthy and objected)
