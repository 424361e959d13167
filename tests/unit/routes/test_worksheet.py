"""What the worksheet asks for, against the published contract."""

from __future__ import annotations

import json
import re
from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import Any

import pytest
from fastapi.testclient import TestClient
from pydantic.json_schema import models_json_schema

from service.reference.notices import NOTICES
from service.routes import worksheet

PUBLISHED = json.loads((Path(__file__).parents[3] / "schemas" / "openapi.json").read_text("utf-8"))
PARTS: Mapping[str, Any] = PUBLISHED["components"]["schemas"]


@pytest.fixture(scope="module")
def described() -> dict[str, Any]:
    return whole(worksheet.description())


def whole(description: bytes) -> dict[str, Any]:
    """A description with what fields of one kind share, as the page reads it."""
    found: dict[str, Any] = json.loads(description)

    def fill(fields: dict[str, Any]) -> None:
        for field in fields.values():
            field.update(found["kinds"].get(field.get("like"), {}))
            fill(field.get("fields", {}))

    fill(found["fields"])
    return found


def forms(node: Mapping[str, Any]) -> Iterator[Mapping[str, Any]]:
    """A node of the published schema in each of its forms, without references."""
    if "$ref" in node:
        yield from forms(PARTS[node["$ref"].rpartition("/")[2]])
    elif "anyOf" in node or "oneOf" in node:
        for one in node.get("anyOf", node.get("oneOf", ())):
            yield from forms(one)
    else:
        yield node


def entries(name: str, node: Mapping[str, Any]) -> Iterator[str]:
    """Dotted names of everything that a person may enter below a node."""
    below = [form for form in forms(node) if "properties" in form and "value" not in form["properties"]]
    below = [form for form in below if "values" not in form["properties"]]
    rows = [one for form in forms(node) if "items" in form for one in forms(form["items"]) if "properties" in one]
    named = [form["additionalProperties"] for form in forms(node) if isinstance(form.get("additionalProperties"), dict)]
    rows += [one for table in named for one in forms(table)]
    if not below and not rows:
        yield name
    for form in (*below, *rows):
        for part, one in form["properties"].items():
            yield from entries(f"{name}.{part}", one)


def asked(name: str, field: Mapping[str, Any]) -> Iterator[str]:
    """The same of the description."""
    if "fields" not in field:
        yield name
    for part, one in field.get("fields", {}).items():
        yield from asked(f"{name}.{part}", one)


def test_everything_that_a_request_takes_is_asked(described: dict[str, Any]) -> None:
    """Every entry of a visit and of a comparison, and no other."""
    published = set()
    for request in ("AssessmentRequest", "ComparisonRequest"):
        for name, node in PARTS[request]["properties"].items():
            if name != "runs":
                published |= set(entries(name, node))
    # A log is given as a file.
    arrays = ("run.log.seconds", "run.log.readings")
    published = {one for one in published if not one.startswith(arrays)}
    assert {one for name, field in described["fields"].items() for one in asked(name, field)} == published
    assert PARTS["DiagnosisRequest"]["properties"].keys() - described["fields"].keys() == {"baseline"}
    assert {name for name, _ in PARTS["Runs"]["properties"].items()} == {"before", "after"}


def test_readings_have_their_units_bounds_and_words(described: dict[str, Any]) -> None:
    """As the contract publishes them."""
    fields = described["fields"]["run"]["fields"]["readings"]["fields"]
    for name, node in PARTS["Readings"]["properties"].items():
        if "x-range" not in node:
            assert fields[name]["kind"] == "group"
            continue
        field = fields[name]
        assert field["range"] == node["x-range"]
        assert field["units"][0] == node["x-unit"].removesuffix(" gauge")
        if "`" not in node["description"]:
            assert node["description"].startswith(field["about"])
        assert not re.search(r"`|\w_\w|GET", field["about"])
        stated = next(f for form in node["anyOf"] for f in forms(form) if "value" in f.get("properties", {}))
        assert f"{field['units'][1]} in metric" in str(stated) or f"{field['units'][1]} in both" in str(stated)
        assert set(field["choices"]) | {"psig", "psia"} >= {
            unit
            for form in forms(stated["properties"]["unit"])
            for unit in form.get("enum", [form.get("const")])
            if unit
        }


def test_every_reading_has_one_place_on_the_page(described: dict[str, Any]) -> None:
    """Under one heading; and what is shown first, or stands for another, exists."""
    listed = [name for heading in described["headings"] for name in heading["readings"]]
    assert sorted(listed) == sorted(PARTS["Readings"]["properties"])
    modes = set(described["fields"]["unit"]["fields"]["mode"]["of"])
    assert set(described["usual"]) == set(described["first"]) == modes
    for names in described["usual"].values():
        assert set(names) <= set(listed)
    assert {name for pair in described["instead"] for name in pair} <= set(listed)
    for table in (*described["first"].values(), described["always"]):
        for part, names in table.items():
            for name in names:
                node = described["fields"][part]
                for step in name.split("."):
                    node = node["fields"][step]
    controls = described["fields"]["unit"]["fields"]["capacity_control"]["of"]
    assert set(described["staged"]) <= set(controls)
    assert {one for names in described["staged"].values() for one in names} <= set(described["fields"]["run"]["fields"])
    assert set(described["settled"]) <= {row.code.partition(".")[0] for row in NOTICES.values()}
    for path in described["settled"].values():
        part, name = path.split(".")
        assert name in described["fields"][part]["fields"]


def test_what_a_reading_is_for_follows_the_mode(described: dict[str, Any]) -> None:
    """Nothing of cooling in heating, nor the other way; the evaporating coil is outdoors in heating."""
    gives = described["gives"]
    told = {
        mode: {gives["labels"][place] for row in gives[mode].values() for place in row} for mode in described["first"]
    }
    assert not [one for one in told["heating"] if re.search("cooling|energy efficiency ratio|split", one, re.I)]
    assert not [one for one in told["cooling"] if re.search("heating|vapour", one, re.I)]
    suction = {gives["labels"][place] for place in gives["heating"]["suction_pressure"]}
    assert "Evaporating temperature below outdoor air" in suction


def test_a_reading_that_is_added_is_asked(monkeypatch: pytest.MonkeyPatch) -> None:
    """A new entry of the contract appears without any other edit; the tests in a browser see it shown."""

    def with_new(*args: Any, **kwargs: Any) -> Any:  # noqa: ANN401
        found = models_json_schema(*args, **kwargs)
        parts = found[1]["$defs"]
        parts["Readings"]["properties"]["attic_air_dry_bulb"] = parts["Readings"]["properties"]["outdoor_air_dry_bulb"]
        parts["Run"]["properties"]["speed_percent"] = {"type": "number", "minimum": 0, "maximum": 100, "x-unit": "%"}
        return found

    monkeypatch.setattr(worksheet, "models_json_schema", with_new)
    described = whole(worksheet.description.__wrapped__())
    run = described["fields"]["run"]["fields"]
    assert run["readings"]["fields"]["attic_air_dry_bulb"]["units"] == ["degF", "degC"]
    assert run["speed_percent"] == {"kind": "number", "range": [0, 100], "units": ["%", "%"]}


def test_the_description_is_served_small(client: TestClient) -> None:
    """With a tag to ask again by."""
    answer = client.get("/page/fields.json")
    assert answer.content == worksheet.description()
    assert len(answer.content) < 58_000
    again = client.get("/page/fields.json", headers={"If-None-Match": answer.headers["etag"]})
    assert again.status_code == 304


def test_scripts_lose_nothing_but_comments_and_indentation(client: TestClient) -> None:
    """A text over several lines would lose its indentation too, so no line leaves one open."""
    folder = Path(worksheet.__file__).parent / "page"
    for path in folder.glob("*.js"):
        text = path.read_text("utf-8")
        assert not [line for line in text.splitlines() if line.count("`") % 2], path.name
        code = [line.strip() for line in re.sub(r"/\*\*.*?\*/", "", text, flags=re.DOTALL).splitlines()]
        kept = [line for line in code if line and not line.startswith("//")]
        assert client.get(f"/page/{path.name}").text.splitlines() == kept
