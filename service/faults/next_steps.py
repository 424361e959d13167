"""What to do next, in the trade's order of work."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from math import inf
from typing import cast

from schemas.diagnoses import FaultName, NextStep
from service.derive.derivations import UnitKind
from service.faults.verdict import settled_first
from service.reference.faults import STAGES, SUSPECTED
from service.reference.faults_by_mode import IN_MODE
from service.reference.settling import READ_AGAIN

#: Work that a wrong reading must not lead to.
_ON_THE_CIRCUIT = ("charge", "open_circuit")


def next_steps(
    chances: Mapping[str, float],
    found: Sequence[str],
    unit: UnitKind,
    *,
    healthy: bool,
    settling: bool = False,
    chart: bool = False,
    settle: Sequence[str] = (),
) -> list[NextStep]:
    """Steps for all hypotheses worth mentioning: by stage, then by the probability of what they are for.

    ``chances`` are probabilities by name; ``unit`` is the kind of unit: its mode, and its metering device where that
    is stated.  What changes the unit is only for what is ``found``; what looks or measures is for what is possible; of
    a healthy unit nothing but measuring is left.  What must wait until something else is settled has no step yet.
    ``settling`` is whether what the start had left in the readings limits them most: they are then made again before
    anything else is measured.  ``chart`` is whether the maker's table says what the charge of a healthy unit shows
    here.  ``settle`` is what to do first where readings are not what they are called: the charge is then not
    touched, and the circuit not opened.
    """
    waits = settled_first(chances)
    rows: dict[str, NextStep] = {}
    order: dict[str, tuple[int, float]] = {}
    for text in (*settle, *((READ_AGAIN,) if settling else ())):
        again = [cast(FaultName, name) for name, chance in chances.items() if chance >= SUSPECTED]
        rows[text] = {"stage": "measure", "text": text, "faults": again, "cautions": []}
        order[text] = (STAGES.index("measure"), -inf)
    for name, chance in sorted(chances.items(), key=lambda item: -item[1]):
        if name in waits or (chance < SUSPECTED and name not in found):
            continue
        for step in IN_MODE[unit.mode].faults[name].steps:
            if not step.suits(unit.device, chart=chart) or (settle and step.stage in _ON_THE_CIRCUIT):
                continue
            if (step.changes and name not in found) or (healthy and step.stage != "measure"):
                continue
            if step.text in rows:
                rows[step.text]["faults"].append(cast(FaultName, name))
                continue
            rows[step.text] = {
                "stage": step.stage,
                "text": step.text,
                "faults": [cast(FaultName, name)],
                "cautions": list(step.cautions),
            }
            order[step.text] = (STAGES.index(step.stage), -chance)
    return [rows[text] for text in sorted(rows, key=lambda text: order[text])]
