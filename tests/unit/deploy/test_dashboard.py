"""The dashboard and the alerts ask for nothing but what the registry exposes."""

from __future__ import annotations

import json
import re
import shutil
import subprocess
from collections.abc import Iterator
from itertools import pairwise
from pathlib import Path
from typing import Any

import promql_parser
import pytest
import yaml

from service.edge.problems import PROBLEM_TYPES
from service.telemetry.counts import COUNTED
from service.telemetry.metrics import REFUSED, REPLACED
from tests.unit.telemetry.test_metrics import exposed, whole

DEPLOY = Path(__file__).parents[3] / "deploy"
DASHBOARD: dict[str, Any] = json.loads((DEPLOY / "grafana" / "readings.json").read_text("utf-8"))
ALERTS: dict[str, Any] = yaml.safe_load((DEPLOY / "prometheus" / "alerts.yaml").read_text("utf-8"))

#: What Prometheus itself adds to every series, and the one that it makes of each target.
TARGET_LABELS = frozenset({"job", "instance"})
OF_PROMETHEUS = {"up": TARGET_LABELS, "ALERTS": TARGET_LABELS}
#: The words that a label may have, where they are few.
WORDS = {
    "reason": {*REFUSED, *REPLACED},
    "type": set(PROBLEM_TYPES),
    **{label: set(words) for row in COUNTED.values() for label, words in row.labels.items() if words},
}


def series() -> dict[str, frozenset[str]]:
    """Every name that can be asked for, with its labels."""
    found: dict[str, frozenset[str]] = dict(OF_PROMETHEUS)
    for name, (kind, labels) in exposed(whole().registry).items():
        own = TARGET_LABELS | set(labels)
        if kind == "histogram":
            found |= {f"{name}_count": own, f"{name}_sum": own, f"{name}_bucket": own | {"le"}}
        else:
            found[name] = own
    return found


SERIES = series()


def parsed(expression: str) -> promql_parser.Expr:
    """The expression, with a duration in place of Grafana's."""
    return promql_parser.parse(expression.replace("$__rate_interval", "5m"))


def parts(expression: promql_parser.Expr, kind: type) -> list[Any]:
    found: list[Any] = []

    def seen(part: Any) -> None:  # noqa: ANN401
        found.append(part.vector_selector if hasattr(part, "vector_selector") else part)

    promql_parser.walk(expression, seen)
    return [part for part in found if isinstance(part, kind)]


def asks_for_what_is_there(text: str) -> set[str]:
    """Check names, labels and words of an expression; the labels that its result has."""
    expression = parsed(text)
    selectors = parts(expression, promql_parser.VectorSelector)
    for selector in selectors:
        check_selector(selector, text)
    check_aggregates(expression, text)
    check_calls(expression, text)
    outermost = parts(expression, promql_parser.AggregateExpr)
    if not outermost:
        return set().union(*(SERIES[selector.name] for selector in selectors))
    return set(outermost[0].modifier.labels if outermost[0].modifier is not None else ())


def check_selector(selector: promql_parser.VectorSelector, text: str) -> None:
    assert selector.name in SERIES, f"{selector.name} in {text}"
    for matcher in selector.matchers.matchers:
        assert matcher.name in SERIES[selector.name], f"{matcher.name} in {text}"
        if matcher.name in WORDS:
            assert set(matcher.value.split("|")) <= WORDS[matcher.name], text


def check_aggregates(expression: promql_parser.Expr, text: str) -> None:
    for aggregate in parts(expression, promql_parser.AggregateExpr):
        if aggregate.modifier is not None:
            within = parts(aggregate.expr, promql_parser.VectorSelector)
            for selector in within:
                assert set(aggregate.modifier.labels) <= SERIES[selector.name], text


def check_calls(expression: promql_parser.Expr, text: str) -> None:
    for call in parts(expression, promql_parser.Call):
        names = {one.name for one in parts(call, promql_parser.VectorSelector)}
        if call.func.name in ("rate", "increase"):
            assert all(re.search("_(total|bucket|count|sum)$", name) for name in names), text
        elif call.func.name == "histogram_quantile":
            (sum_,) = parts(call, promql_parser.AggregateExpr)
            assert "le" in sum_.modifier.labels, text


# ---------------------------------------------------------------- dashboard


def panels() -> Iterator[dict[str, Any]]:
    """Every panel but the headings of rows."""
    return (panel for panel in DASHBOARD["panels"] if panel["type"] != "row")


def targets() -> list[tuple[str, str, str]]:
    return [
        (panel["title"], target["expr"], target["legendFormat"]) for panel in panels() for target in panel["targets"]
    ]


@pytest.mark.parametrize(("title", "expression", "legend"), targets())
def test_a_panel_asks_for_what_is_there(title: str, expression: str, legend: str) -> None:
    """And its legend names labels that its result has; and only what was chosen above is asked for."""
    labels = asks_for_what_is_there(expression)
    assert set(re.findall(r"{{(\w+)}}", legend)) <= labels
    for selector in parts(parsed(expression), promql_parser.VectorSelector):
        chosen = {matcher.name: matcher.value for matcher in selector.matchers.matchers}
        assert chosen["job"] == "$job"
        assert chosen["instance"] == "$instance"


def test_the_dashboard_is_whole() -> None:
    """Ids, places, sources, descriptions and units; and it shows every metric of the service."""
    assert DASHBOARD["schemaVersion"] >= 39
    assert DASHBOARD["uid"]
    assert "id" not in DASHBOARD  # one of another installation's
    ids = [panel["id"] for panel in DASHBOARD["panels"]]
    assert len(set(ids)) == len(ids)
    for panel in panels():
        assert panel["title"]
        assert panel["description"].endswith("."), panel["title"]
        assert panel["fieldConfig"]["defaults"]["unit"], panel["title"]
        letters = [target["refId"] for target in panel["targets"]]
        assert len(set(letters)) == len(letters)
        for part in (panel, *panel["targets"]):
            assert part["datasource"] == {"type": "prometheus", "uid": "${datasource}"}
    names = [one["name"] for one in DASHBOARD["templating"]["list"]]
    assert names == ["datasource", "job", "instance"]
    assert DASHBOARD["templating"]["list"][0]["type"] == "datasource"
    for variable in DASHBOARD["templating"]["list"][1:]:
        asked, label = re.fullmatch(r"label_values\((.+), (\w+)\)", variable["definition"]).groups()  # type: ignore[union-attr]
        (selector,) = parts(parsed(asked), promql_parser.VectorSelector)
        assert label in SERIES[selector.name]
    shown = {
        re.sub("_(bucket|count|sum)$", "", selector.name)
        for _, expression, _ in targets()
        for selector in parts(parsed(expression), promql_parser.VectorSelector)
    }
    ours = {name for name in exposed(whole().registry) if name.startswith("readings")}
    assert ours - shown == set()


def test_panels_do_not_overlap() -> None:
    """Each has its place on a grid of 24 columns."""
    taken: set[tuple[int, int]] = set()
    for panel in DASHBOARD["panels"]:
        place = panel["gridPos"]
        cells = {(place["x"] + column, place["y"] + row) for column in range(place["w"]) for row in range(place["h"])}
        assert place["x"] + place["w"] <= 24
        assert taken.isdisjoint(cells), panel["title"]
        taken |= cells


# ---------------------------------------------------------------- alerts


def rules() -> list[dict[str, Any]]:
    return [rule for group in ALERTS["groups"] for rule in group["rules"]]


@pytest.mark.parametrize("rule", rules(), ids=lambda rule: str(rule["alert"]))
def test_an_alert_asks_for_what_is_there(rule: dict[str, Any]) -> None:
    """It says how grave it is, what happened and what to do, by labels that its result has."""
    labels = asks_for_what_is_there(rule["expr"])
    assert rule["labels"]["severity"] in ("warning", "critical")
    assert set(rule["annotations"]) == {"summary", "description"}
    said = " ".join(rule["annotations"].values())
    assert set(re.findall(r"\$labels\.(\w+)", said)) <= labels
    titles = {panel["title"] for panel in panels()}
    assert set(re.findall('panel "([^"]+)"', said)) <= titles
    assert set(re.findall(r"\b(Readings[A-Z]\w+)", said)) <= {one["alert"] for one in rules()}
    bounds = [b for row in exposed_buckets() for b in row]
    if "histogram_quantile" in rule["expr"]:
        # A quantile lies between the bounds of buckets: a limit between two of them is a guess.
        assert float(rule["expr"].rpartition(">")[2]) in bounds


def exposed_buckets() -> Iterator[list[float]]:
    for family in whole().registry.collect():
        if family.type == "histogram":
            bounds = [float(s.labels["le"]) for s in family.samples if s.name.endswith("_bucket")]
            assert all(low < high for low, high in pairwise(bounds[: bounds.index(float("inf"))]))
            yield bounds


def test_alerts_go_off_when_they_must() -> None:
    """As Prometheus' own tool runs them over series of trouble, of health and of nothing."""
    names = [rule["alert"] for rule in rules()]
    assert len(set(names)) == len(names)
    cases = yaml.safe_load((DEPLOY / "prometheus" / "alerts_test.yaml").read_text("utf-8"))
    fired = {
        name
        for case in cases["tests"]
        for asked in case.get("promql_expr_test", ())
        for sample in asked["exp_samples"]
        for name in re.findall('alertname="(\\w+)"', sample["labels"])
    }
    assert fired == set(names)
    for case in cases["tests"]:
        for row in case["input_series"]:
            asks_for_what_is_there(row["series"])
    promtool = shutil.which("promtool")
    if promtool is None:
        pytest.skip("promtool is not installed (Debian: prometheus)")
    for arguments in (["check", "rules", "alerts.yaml"], ["test", "rules", "alerts_test.yaml"]):
        done = subprocess.run(
            [promtool, *arguments],
            cwd=DEPLOY / "prometheus",
            capture_output=True,
            text=True,
            check=False,
        )
        assert done.returncode == 0, done.stdout + done.stderr
