"""A drawing as its reader gets it, for tests: parsed, with its elements, texts and points."""

from __future__ import annotations

import re
from math import exp, log
from xml.etree import ElementTree

from service.render.drawing import WIDTH, Drawing, text_width

SVG = "{http://www.w3.org/2000/svg}"
HOSTILE = "<script>alert('&')</script> \x00 \ud800 \"]]> " + "W" * 200


class Seen:
    """A drawing as its reader gets it: parsed, with its elements in order."""

    def __init__(self, drawing: Drawing) -> None:
        self.text = drawing.svg("auto")
        self.root = ElementTree.fromstring(self.text)
        self.height = drawing.height

    def all(self, tag: str, style: str | None = None) -> list[ElementTree.Element]:
        """Elements of a kind, and of a class."""
        return [e for e in self.root.iter(SVG + tag) if style is None or e.get("class") == style]

    @property
    def texts(self) -> list[ElementTree.Element]:
        """Every line of text."""
        return self.all("text")

    @property
    def words(self) -> str:
        """All that is written in the picture, wrapped lines joined."""
        return " ".join(e.text or "" for e in self.texts).replace("\N{NO-BREAK SPACE}", " ")

    @property
    def description(self) -> str:
        """What a screen reader says."""
        return self.all("desc")[0].text or ""

    def tick(self, text: str, axis: str) -> float:
        """Where the axis has a number: ``x`` of a text in the middle, ``y`` of one at the left."""
        anchor = "middle" if axis == "x" else "end"
        found = [e for e in self.texts if e.text == text and e.get("text-anchor") == anchor]
        assert found, f"no tick {text}"
        return number(found[0], axis) - (0.0 if axis == "x" else 4.5)


def number(element: ElementTree.Element, name: str) -> float:
    """A coordinate."""
    return float(element.get(name, "nan"))


def corners(element: ElementTree.Element) -> list[tuple[float, float]]:
    """Points of a path."""
    return [(float(x), float(y)) for x, y in re.findall(r"[ML]([-\d.]+) ([-\d.]+)", element.get("d", ""))]


def inside(drawing: Drawing) -> None:
    """Every text lies in the picture in the widest of the usual fonts, and its lines are apart."""
    seen = Seen(drawing)
    for e in seen.texts:
        width = text_width(e.text or "", e.get("class", ""))
        anchor = e.get("text-anchor", "start")
        left = number(e, "x") - {"start": 0.0, "middle": width / 2, "end": width}[anchor]
        assert left >= 0.0, e.text
        assert left + width <= WIDTH, e.text
        assert 0.0 < number(e, "y") < drawing.height


def value_of(text: str) -> float | None:
    """The number that a text is, if it is nothing else."""
    try:
        return float(text.replace("\N{MINUS SIGN}", "-").replace("\N{NARROW NO-BREAK SPACE}", ""))
    except ValueError:
        return None


class Axis:
    """An axis as its reader takes it: from the numbers beside it, and from nothing else."""

    def __init__(self, seen: Seen, along: str, *, logarithmic: bool = False) -> None:
        self._logarithmic = logarithmic
        groups: dict[float, list[tuple[float, float]]] = {}
        for e in seen.texts:
            value = value_of(e.text or "")
            # Numbers under an axis stand in the middle of their tick, those beside one do not.
            if value is None or (e.get("text-anchor") == "middle") != (along == "x"):
                continue
            across = number(e, "y" if along == "x" else "x")
            place = number(e, along) - (0.0 if along == "x" else 4.5)
            groups.setdefault(across, []).append((value, place))
        most = max(len(group) for group in groups.values())
        self.ticks = sorted(next(g for g in groups.values() if len(g) == most))
        assert len(self.ticks) > 1
        (low, start), (high, end) = self.ticks[0], self.ticks[-1]
        self._low, self._start = self._straight(low), start
        self.slope = (self._straight(high) - self._low) / (end - start)
        for value, place in self.ticks:
            assert abs(self.place(value) - place) < 0.02, f"tick {value} off its axis"

    def _straight(self, value: float) -> float:
        return log(value) if self._logarithmic else value

    def place(self, value: float) -> float:
        """Coordinate of a value."""
        return self._start + (self._straight(value) - self._low) / self.slope

    def value(self, place: float) -> float:
        """Value at a coordinate."""
        straight = self._low + (place - self._start) * self.slope
        return exp(straight) if self._logarithmic else straight
