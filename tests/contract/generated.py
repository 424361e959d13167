"""Requests generated from the service's own schema, and what is asked of their answers.

Sent by a few in CI (``test_contract.py``), by tens of thousands at night (``tests/nightly/contract.py``).
"""

from __future__ import annotations

import json
import re
from collections import Counter, defaultdict
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from typing import Any

import schemathesis
from schemathesis.core.parameters import ParameterLocation
from schemathesis.engine import Status, events, from_schema
from schemathesis.engine.recorder import ScenarioRecorder
from schemathesis.generation.meta import REQUEST_SHAPE_PROBES, coverage_scenario
from schemathesis.specs.openapi.checks import negative_data_rejection

Case = schemathesis.Case[Any]

PHASES = ("examples", "coverage", "fuzzing", "stateful")
BATCHES = "/v1/batches"

#: Both are replaced by the checks below.
REPLACED = ("positive_data_acceptance", "negative_data_rejection")


@schemathesis.hook
def before_load_schema(_: schemathesis.HookContext, raw_schema: dict[str, Any]) -> None:
    """Answers may get fields, says the contract; a field that it does not name is a fault all the same."""
    models = raw_schema["components"]["schemas"]
    waiting = [row["responses"] for operations in raw_schema["paths"].values() for row in operations.values()]
    seen: set[str] = set()
    while waiting:
        names = set(re.findall(r'"#/components/schemas/([^"]+)"', json.dumps(waiting.pop()))) - seen
        seen |= names
        waiting += [models[name] for name in names]
    for name in seen:
        if "properties" in models[name]:
            models[name].setdefault("additionalProperties", False)


@schemathesis.serializer(
    "application/x-ndjson",
    "application/ndjson",
    "application/jsonl",
    "application/x-jsonlines",
    "application/json-lines",
    "text/csv",
)
def lines_as_they_are(_: schemathesis.SerializationContext, value: object) -> bytes:
    """A body of lines is a text."""
    return str(value).encode("utf-8", "replace")


@schemathesis.check
def what_the_schema_allows_is_at_most_impossible(
    _: schemathesis.CheckContext, response: schemathesis.Response, case: Case
) -> None:
    """What the schema allows is accepted, or refused for what it says, never for how it is written.

    A wet bulb above its dry bulb is well formed and still impossible, so the usual check (that nothing
    well formed is refused) does not fit.  But ``invalid-request`` would mean that the schema promises
    more than the service takes.
    """
    meta = case.meta
    if meta is None or meta.generation.mode.is_negative or response.status_code == 200:
        return
    if coverage_scenario(case) in REQUEST_SHAPE_PROBES:
        return
    told = response.json()
    assert told["type"] in ("/problems/cannot-be-assessed", "/problems/not-found"), told


@schemathesis.check
def what_the_schema_forbids_is_refused(
    context: schemathesis.CheckContext, response: schemathesis.Response, case: Case
) -> bool | None:
    """The usual check; of a batch by its parameters alone, as a wrong line is answered in its place."""
    if case.path == BATCHES and case.meta is not None:
        parts = case.meta.components.items()
        if [place for place, part in parts if part.mode.is_negative] == [ParameterLocation.BODY]:
            return None
    return negative_data_rejection(context, response, case)


@dataclass(slots=True)
class Tally:
    """What became of the requests to one operation."""

    requests: Counter[str] = field(default_factory=Counter)  # by phase
    statuses: Counter[int] = field(default_factory=Counter)
    failures: list[str] = field(default_factory=list)

    @property
    def sent(self) -> int:
        """How many were sent."""
        return self.requests.total()


@dataclass(slots=True)
class Run:
    """What became of all requests; ``errors`` are those of the generator itself."""

    operations: dict[str, Tally] = field(default_factory=lambda: defaultdict(Tally))
    followed: Counter[str] = field(default_factory=Counter)  # links
    errors: list[str] = field(default_factory=list)

    @property
    def sent(self) -> int:
        """How many requests were sent."""
        return sum(tally.sent for tally in self.operations.values())

    @property
    def failures(self) -> list[str]:
        """Every failed check, with the request that failed it."""
        return [text for tally in self.operations.values() for text in tally.failures]

    def add(self, phase: str, recorder: ScenarioRecorder) -> None:
        """Count one scenario."""
        for identifier, interaction in recorder.interactions.items():
            case = recorder.cases[identifier].value
            tally = self.operations[case.operation.label]
            tally.requests[phase] += 1
            if interaction.response is not None:
                tally.statuses[interaction.response.status_code] += 1
                self._follow(phase, recorder, identifier, interaction.response.status_code)
        for identifier, checks in recorder.checks.items():
            label = recorder.cases[identifier].value.operation.label
            for check in checks:
                if check.status is not Status.SUCCESS:
                    info = check.failure_info
                    said = f"{info.failure}\n{info.code_sample}" if info else "the check ended early"
                    self.operations[label].failures.append(f"{label} ({phase}), {check.name}: {said}")

    def _follow(self, phase: str, recorder: ScenarioRecorder, identifier: str, status: int) -> None:
        """A link leads somewhere: a body that was answered is answered where the link leads, too."""
        node = recorder.cases[identifier]
        if node.transition is None or node.parent_id is None or not node.is_transition_applied:
            return
        case, parent = node.value, recorder.cases[node.parent_id].value
        self.followed[f"{parent.operation.label} -> {case.operation.label}"] += 1
        before = recorder.find_response(case_id=node.parent_id)
        same = isinstance(case.body, dict) and case.body == parent.body
        valid = case.meta is not None and case.meta.generation.mode.is_positive
        if before is not None and before.status_code == 200 != status and same and valid:
            label = case.operation.label
            self.operations[label].failures.append(
                f"{label} ({phase}), follows {parent.operation.label}: {status} for a body that was "
                f"answered there: {case.body!r}"
            )


def prepared(schema: Any, *, examples: int, seed: int, phases: Sequence[str] = PHASES) -> Any:  # noqa: ANN401
    """A loaded schema, set to send ``examples`` requests of chance to each operation.

    How many the phases ``examples`` and ``coverage`` send follows from the schema alone.
    """
    config = schema.config
    config.seed = seed
    config.continue_on_failure = True
    config.phases.update(phases=list(phases))
    config.generation.update(max_examples=examples, database="none", no_shrink=True)
    config.checks.update(excluded_check_names=list(REPLACED))
    return schema


def sent(schema: Any, told: Callable[[str], None] = lambda _: None) -> Run:  # noqa: ANN401
    """Send them all; ``told`` hears of each phase and operation that is done."""
    run = Run()
    for event in from_schema(schema).execute():
        if isinstance(event, events.ScenarioFinished):
            run.add(event.phase.value, event.recorder)
            if event.phase.value != "stateful":
                told(f"{event.phase.value}: {event.label}, {len(event.recorder.interactions)} requests")
        elif isinstance(event, events.PhaseFinished):
            told(f"{event.phase.name.value}: {event.status.value}, {run.sent} requests so far")
        elif isinstance(event, events.NonFatalError):
            run.errors.append(f"{event.label}: {event.info.title} {event.info.message}")
        elif isinstance(event, events.FatalError):
            raise event.exception
    return run
