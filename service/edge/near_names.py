"""What a caller may have meant by a name or a value that the contract does not know.

The trade's words come first, then names of the contract in another spelling or at another place, then close
typing errors.  Where none of these decides, nothing is suggested, or the readings of the quantity are listed.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping, Sequence
from functools import cache, lru_cache
from typing import Any

from pydantic import TypeAdapter
from rapidfuzz.distance import OSA

from schemas.assessments import AssessmentRequest
from schemas.readings import READING_GROUPS, READINGS
from service.reference.trade_words import (
    ENDINGS,
    IDLE,
    MARKS,
    MEASURED_IN,
    SPELLED_OUT,
    TRADE_WORDS,
    VALUE_WORDS,
    TradeWord,
)

#: Characters of a refused name that are compared.
_LONGEST = 80
#: Letters of a name from which two of them may be wrong, or missing, or exchanged; below, one.
_LONG = 8
#: Fields that are named together at most.
_MOST = 4
#: Stands in a path for the number of a run.
_ANY_RUN = "#"

#: The kinds of readings that are called otherwise.
_KINDS = {"relative humidity": "fraction", "static pressure": "static_pressure"}

#: Repeats the readings: a reading at a wrong place is meant as a single one.
_LOG = ("log",)

#: Objects of one value a part: the name of a part alone says too little.
_PARTS = {(name,) for name in (*READING_GROUPS, "capacitors")}

Path = tuple[str, ...]


def meant_by(location: Sequence[object], model: Any) -> str | None:  # noqa: ANN401
    """What to do about an unknown name: a sentence, or None where nothing is clear.

    ``location`` is where it was given, the name last, without tags of branches; ``model`` is the kind of body.
    """
    model = model or AssessmentRequest
    *above, last = location
    place = tuple(str(step) for step in above)
    name, here = str(last)[:_LONGEST], _names_at(model, above)
    paths = _at_runs(model, place)
    tabulated = any(isinstance(step, int) for step in above) and place[:1] != ("runs",)
    # The names of an instrument or a table row are not those of the visit.
    quantities = () if tabulated or place[:1] == ("kit",) else paths
    phrase = _phrase(name)
    row, again = _row_at(phrase, place), _same_words(phrase, here, quantities, place)
    if row is None and not again:
        again = _same_words(_phrase(_without_unit(name)), here, quantities, place)
    if row is not None and _is_meant(row, again, place):
        found = _by_trade_word(phrase, row, here, quantities, place)
        if found is not None:
            return found
    found_paths = again or _misspelled(name, here, quantities, place)
    if found_paths == [(name,)]:
        return f"{name} belongs at the top of the body."
    if found_paths:
        spelling = "" if again else " Check the spelling; /docs lists every field."
        return f"Did you mean {_one_of([_shown(path, place) for path in found_paths])}?{spelling}"
    return _readings_of(phrase) if place[-1:] == ("readings",) else None


def _is_meant(row: TradeWord, again: Sequence[Path], place: Path) -> bool:
    """Whether a row goes before fields of the contract with the same words.

    Not if one is in the same object and the row does not know it.
    """
    beside = [path[-1] for path in again if path[:-1] == place]
    return not beside or any(field.rsplit(".", 1)[-1] in beside for field in row.fields)


def near_value(given: object, expected: str) -> str | None:
    """The allowed values that one may have meant; ``expected`` holds them in single quotes.

    The trade's words come first, then values that hold all its words, then a typing error of one.
    """
    values = re.findall(r"'([^']+)'", expected)
    if not isinstance(given, str) or not values:
        return None
    words = re.findall(r"[^\W_]+|°\w", given[:_LONGEST].lower())
    meant = [value for value in VALUE_WORDS.get(" ".join(words), ()) if value in values]
    found = meant or [value for value in values if words and set(words) <= set(value.lower().split("_"))]
    if not found:
        by_lower = {value.lower(): value for value in values}
        close = _closest("_".join(words), list(by_lower)) or _closest("".join(words), list(by_lower))
        found = [by_lower[close]] if close else by_lower.get("_".join(words), "") and [by_lower["_".join(words)]]
    return _one_of(found) if found and len(found) <= _MOST else None


# ---------------------------------------------------------------- words


@lru_cache(maxsize=1024)
def _phrase(name: str) -> str:
    """A name as words: case, separators and abbreviations spelled out, a unit at the end as what it measures."""
    apart = re.sub(r"(?<=[a-z])(?=[A-Z])", " ", name)
    words = [word for word in re.split(r"[^a-z0-9]+", apart.lower()) if word]
    if len(words) > 1 and words[-1] in MEASURED_IN:
        words[-1] = MEASURED_IN[words[-1]]
    spelled = " ".join(SPELLED_OUT.get(word, word) for word in words).split()
    kept = [word for word in spelled if word not in IDLE] or spelled
    once = [word for place, word in enumerate(kept) if kept[place - 1 : place] != [word]]
    return " ".join(once)


def _quantity(phrase: str) -> tuple[str, str] | None:
    """A phrase without the quantity that it ends in, and that quantity."""
    for quantity in sorted(MARKS, key=len, reverse=True):
        if phrase == quantity or phrase.endswith(" " + quantity):
            return phrase.removesuffix(quantity).strip(), quantity
    return None


def _row_at(phrase: str, place: Path) -> TradeWord | None:
    """The row for a phrase at a place: what is derived is meant among readings only, elsewhere a part's own word."""
    row = _row(phrase)
    if row is None or not row.derived or _in_a_run(place):
        return row
    return _rows().get(" ".join((*place[-1:], phrase)))


@cache
def _rows() -> Mapping[str, TradeWord]:
    return {_phrase(word): row for row in TRADE_WORDS for word in row.words}


def _row(phrase: str) -> TradeWord | None:
    """The row of the table for a phrase; its last word may be left off if the row's fields agree with it."""
    found = _rows().get(phrase)
    ending = _quantity(phrase)
    if found is not None or ending is None:
        return found
    rest, quantity = ending
    row = _rows().get(rest)
    if row is None:
        return None
    fits = quantity == "temperature" if row.derived else _marked(row.fields, quantity)
    return row if fits else None


def _marked(fields: Sequence[str], quantity: str) -> bool:
    """Whether each field is of a quantity, by its name."""
    return all(any(mark in field.rsplit(".", 1)[-1] for mark in MARKS[quantity]) for field in fields)


def _by_trade_word(phrase: str, row: TradeWord, here: Sequence[str], paths: Sequence[Path], place: Path) -> str | None:
    """The hint of a row: its fields that the body has, those of the same object first."""
    if row.instead:
        return row.instead if any(path[0] in {"run", "runs"} for path in paths) else None
    names = [field.rsplit(".", 1)[-1] for field in row.fields]
    beside = [name for name in names if name in here]
    reached = [path for field in row.fields for path in _paths_of(field, paths, place)]
    # Those of the same part of the body, if it has any: a name on the plate is no reading.
    same = [path for path in reached if path[:1] == place[:1]]
    known = [_shown(path, place) for path in (same if same and not row.derived else reached)]
    if row.derived:
        fields = [*beside, *(shown for shown in known if shown not in beside)][: len(row.fields)]
        listed = " and ".join(filter(None, (", ".join(fields[:-1]), fields[-1]))) if fields else ""
        return _sentences(f"{row.derived} is derived, not read: give {listed}.", row.note) if fields else None
    fields = beside or known
    # A name that only stands at the wrong place, or has a unit at its end, needs no explanation.
    note = "" if len(fields) == 1 and _phrase(names[0]) == phrase else row.note
    return _sentences(f"Did you mean {_one_of(fields)}?", note) if fields else None


def _paths_of(field: str, paths: Sequence[Path], place: Path) -> list[Path]:
    """The paths of a row's field in a body: at its place, or in the run where the name was given."""
    wanted = tuple(field.split("."))
    if wanted in paths:
        return [wanted]
    within = wanted[1:] if wanted[0] == "run" else ()
    found = [path for path in paths if within and path[0] == "runs" and path[2:] == within]
    return _nearest(found, place)[:1]


def _sentences(*texts: str) -> str:
    return " ".join(text for text in texts if text)


def _one_of(names: Sequence[str]) -> str:
    unique = list(dict.fromkeys(names))
    return " or ".join(filter(None, (", ".join(unique[:-1]), unique[-1])))


def _readings_of(phrase: str) -> str | None:
    """The readings of the quantity in which a phrase ends."""
    ending = _quantity(phrase)
    if ending is None:
        return None
    quantity = ending[1]
    kind = _KINDS.get(quantity, quantity)
    names = dict.fromkeys(name.partition(".")[0] for name, spec in READINGS.items() if spec.kind == kind)
    return f"Readings of {quantity}: {', '.join(names)}."


# ---------------------------------------------------------------- names of the contract


def _without_unit(name: str) -> str:
    """A name without a unit at its end that says too little of what it measures."""
    shorter, _, last = name.replace("-", "_").rpartition("_")
    return shorter if last.lower() in ENDINGS else name


def _same_words(phrase: str, here: Sequence[str], paths: Sequence[Path], place: Path) -> list[Path]:
    """Fields whose names are the same words, or their plural: in the same object, else the nearest elsewhere."""
    beside = [(*place, name) for name in here if _phrase(name).removesuffix("s") == phrase.removesuffix("s")]
    elsewhere = [path for path in paths if _phrase(path[-1]) == phrase and path[-2:-1] not in _PARTS]
    return beside or _few(_nearest(elsewhere, place))


def _misspelled(name: str, here: Sequence[str], paths: Sequence[Path], place: Path) -> list[Path]:
    """Fields that a name is a typing error of: in the same object, else, for long names, elsewhere."""
    beside = _closest(name, here)
    if beside is not None:
        return [(*place, beside)]
    found = _closest(name, sorted({path[-1] for path in paths})) if len(name) >= _LONG else None
    return _few(_nearest([path for path in paths if path[-1] == found], place))


def _closest(name: str, others: Sequence[str]) -> str | None:
    """The one name that is a letter or two away; digits are never typing errors, they tell names apart."""
    most = 2 if len(name) >= _LONG else 1
    near = [
        (OSA.distance(name.lower(), other, score_cutoff=most), other)
        for other in others
        if other != name and re.findall(r"\d", name) == re.findall(r"\d", other)
    ]
    least = min((distance for distance, _ in near), default=most + 1)
    found = [other for distance, other in near if distance == least]
    return found[0] if least <= most and len(found) == 1 else None


def _nearest(paths: Sequence[Path], place: Path) -> list[Path]:
    """The paths that share most of a place, of these the shortest."""
    ranked = [(-_shared(path, place), len(path), path) for path in paths]
    best = min((rank[:2] for rank in ranked), default=None)
    return [path for *rank, path in ranked if tuple(rank) == best]


def _shared(path: Path, place: Path) -> int:
    return next((n for n, (a, b) in enumerate(zip(path, place, strict=False)) if a != b), min(len(path), len(place)))


def _few(paths: list[Path]) -> list[Path]:
    return paths if len(paths) <= _MOST else []


def _in_a_run(place: Path) -> bool:
    return place[:1] in ((), ("run",), ("runs",))


def _shown(path: Path, place: Path) -> str:
    """A path as a hint shows it: from the object in which the name was given if it is there, else in full."""
    inside = path[: len(place)] == place and (len(path) == len(place) + 1 or place[-1:] == ("readings",))
    return ".".join(path[len(place) :] if inside else path)


def _at_runs(model: Any, place: Path) -> tuple[Path, ...]:  # noqa: ANN401
    """Every path of a body; in a list of runs, of the run that a place is in, else of the first."""
    number = place[1] if place[:1] == ("runs",) and len(place) > 1 else "0"
    return tuple(tuple(number if step == _ANY_RUN else step for step in path) for path in _paths(model))


@cache
def _paths(model: Any) -> tuple[Path, ...]:  # noqa: ANN401
    """The path of every field of a body outside of tables and of single quantities."""
    schema = _schema(model)
    definitions = schema.get("$defs", {})

    def below(part: Mapping[str, Any], path: Path) -> Iterator[Path]:
        for one in _objects(part, definitions, lists=path[-1:] == ("runs",)):
            if "value" in one["properties"] or "values" in one["properties"]:
                continue
            inside = (*path, _ANY_RUN) if path == ("runs",) and "readings" in one["properties"] else path
            for name, field in one["properties"].items():
                yield (*inside, name)
                if inside[-1:] != _LOG:
                    yield from below(field, (*inside, name))

    return tuple(dict.fromkeys(below(schema, ())))


@cache
def _schema(model: Any) -> Mapping[str, Any]:  # noqa: ANN401
    return TypeAdapter(model).json_schema()


def fields_at(model: Any, location: Sequence[object]) -> Mapping[str, Any]:  # noqa: ANN401
    """The schema of each field that a body of that kind may have at a place."""
    schema = _schema(model)
    definitions = schema.get("$defs", {})
    found = list(_objects(schema, definitions))
    for step in location:
        # A step that is not a field is a place in a list, a key of a table, or the name of a branch.
        deeper = [
            one
            for owner in found
            if step in owner["properties"]
            for one in _objects(owner["properties"][step], definitions)
        ]
        found = deeper or found
    return {name: field for one in found for name, field in one["properties"].items()}


def objects_of(model: Any, field: Mapping[str, Any]) -> list[Mapping[str, Any]]:  # noqa: ANN401
    """The objects that a field of a body may be, itself and not as a member of a list or a table."""
    return list(_objects(field, _schema(model).get("$defs", {}), lists=False))


def takes_numbers(model: Any, field: Mapping[str, Any]) -> bool:  # noqa: ANN401
    """Whether a field of a body may be a bare number."""
    if "$ref" in field:
        return takes_numbers(model, _schema(model)["$defs"][field["$ref"].rsplit("/", 1)[1]])
    branches = (*field.get("anyOf", ()), *field.get("oneOf", ()))
    return field.get("type") == "number" or any(takes_numbers(model, branch) for branch in branches)


def _names_at(model: Any, location: Sequence[object]) -> list[str]:  # noqa: ANN401
    return sorted(fields_at(model, location))


def _objects(part: Mapping[str, Any], definitions: Mapping[str, Any], *, lists: bool = True) -> Iterator[Any]:
    """Every object that a part of a schema may be, or hold as a member of a list or a table."""
    if "$ref" in part:
        yield from _objects(definitions[part["$ref"].rsplit("/", 1)[1]], definitions, lists=lists)
    if "properties" in part:
        yield part
    for branch in (*part.get("anyOf", ()), *part.get("oneOf", ()), *part.get("allOf", ())):
        yield from _objects(branch, definitions, lists=lists)
    for within in (part.get("items"), part.get("additionalProperties")) if lists else ():
        if isinstance(within, Mapping):
            yield from _objects(within, definitions, lists=lists)
