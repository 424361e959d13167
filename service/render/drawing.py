"""An SVG being drawn: elements by the standard library's XML, so that every text is escaped.

Coordinates are user units, y downward; a picture is 400 wide, about as wide as a phone, and scales.
Numbers are written to a hundredth, so the same picture always gives the same bytes.
"""

from __future__ import annotations

import copy
import re
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from math import cos, isfinite, pi, sin
from typing import Literal
from xml.etree import ElementTree

from service.render.palette import CLASSES, SIZES, Theme, style_sheet

WIDTH = 400.0
MARGIN = 12.0
Anchor = Literal["start", "middle", "end"]
Shape = Literal["circle", "diamond", "square", "triangle", "cross"]

#: Widths of characters over the size of the text, in the widest of the usual fonts; the first that holds.
_WIDTHS: Sequence[tuple[float, str]] = (
    (0.34, " \N{NO-BREAK SPACE}\N{NARROW NO-BREAK SPACE}ijlI!.,:;'|/"),
    (0.46, 'frt()[]{}-"'),
    (0.64, "abcdeghknopqsuvxyz0123456789°_?*$FL"),
    (0.80, "wABCDEGHJKNOPQRSTUVXYZ&"),
    (0.85, "+=<>~\N{MINUS SIGN}"),
    (1.00, "mMW%@"),
)
_WIDTH_OF = {character: width for width, those in _WIDTHS for character in those}
#: Of any other character, and how much wider bold is.
_WIDEST = 1.05
_BOLDER = 1.13
_BOLD = frozenset({"heading", "strong", "tag"})
#: Characters that XML 1.0 cannot hold, and those that turn the direction of what stands beside them.
_NOT_XML = re.compile("[^\t\n\r\u0020-\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]|[\u202a-\u202e\u2066-\u2069]")
#: The space between a number and a sign of its unit, where no line breaks.
_TOGETHER = re.compile(r"(?<=\d) (?=[°%])")
_BREAKS = re.compile("[ \t\n\r]+")


def number(value: float) -> str:
    """A coordinate to a hundredth, without needless zeros."""
    text = f"{value:.2f}".rstrip("0").rstrip(".")
    return "0" if text in ("-0", "") else text


def plain(text: str) -> str:
    """Text that XML can hold."""
    return _NOT_XML.sub("\ufffd", text)


def text_width(text: str, style: str) -> float:
    """Width that a text may take in the widest of the usual fonts."""
    width = sum(_WIDTH_OF.get(character, _WIDEST) for character in text)
    return width * SIZES[style] * (_BOLDER if style in _BOLD else 1.0)


def wrapped(text: str, style: str, width: float) -> list[str]:
    """Lines of a text that stay within a width in any of the usual fonts; a long word is broken."""
    together = _TOGETHER.sub("\N{NO-BREAK SPACE}", plain(text))
    space = text_width(" ", style)
    lines, line, taken = [], "", 0.0
    for word in _BREAKS.split(together):
        needed = text_width(word, style)
        if line and taken + space + needed > width:
            lines.append(line)
            line, taken = "", 0.0
        if not line:
            pieces = _pieces(word, style, width) if needed > width else [word]
            lines += pieces[:-1]
            line, taken = pieces[-1], text_width(pieces[-1], style)
        else:
            line, taken = f"{line} {word}", taken + space + needed
    return [*lines, line]


def _pieces(word: str, style: str, width: float) -> list[str]:
    """A word that no line holds, broken where each is full."""
    pieces, start, taken = [], 0, 0.0
    for place, character in enumerate(word):
        needed = text_width(character, style)
        if place > start and taken + needed > width:
            pieces.append(word[start:place])
            start, taken = place, 0.0
        taken += needed
    return [*pieces, word[start:]]


class Drawing:
    """One picture.

    Parameters
    ----------
    name
        Begins every id within the picture; different for each picture on one page.
    title, description
        What a screen reader says: the title, and the content in sentences.
    """

    def __init__(self, name: str, title: str, description: str) -> None:
        self.name = name
        self.height = 0.0
        self._root = ElementTree.Element(
            "svg",
            {
                "xmlns": "http://www.w3.org/2000/svg",
                "class": "picture",
                "role": "img",
                "aria-labelledby": f"{name}-title {name}-description",
            },
        )
        for tag, text in (("title", title), ("desc", description)):
            element = ElementTree.SubElement(
                self._root, tag, {"id": f"{name}-{'title' if tag == 'title' else 'description'}"}
            )
            element.text = plain(text)
        self._paper = ElementTree.SubElement(self._root, "rect", {"class": "paper", "width": number(WIDTH)})
        self._parent = self._root
        self._clips = 0

    # ------------------------------------------------------------ elements

    def _add(self, tag: str, style: str | None, **attributes: str) -> ElementTree.Element:
        if style is not None:
            if style not in CLASSES:
                raise ValueError(f"no such class: {style}")
            attributes = {"class": style, **attributes}
        return ElementTree.SubElement(self._parent, tag, attributes)

    def line(self, x1: float, y1: float, x2: float, y2: float, style: str) -> None:
        """A straight line."""
        self._add("line", style, x1=number(x1), y1=number(y1), x2=number(x2), y2=number(y2))

    def rectangle(self, x: float, y: float, width: float, height: float, style: str) -> None:
        """A rectangle by its upper left corner."""
        self._add(
            "rect",
            style,
            x=number(x),
            y=number(y),
            width=number(max(width, 0.0)),
            height=number(max(height, 0.0)),
        )

    def path(self, points: Sequence[tuple[float, float]], style: str, *, closed: bool = False) -> None:
        """Straight pieces from point to point; a point that is not finite breaks the line."""
        parts, joined = [], False
        for x, y in points:
            if isfinite(x) and isfinite(y):
                parts.append(f"{'L' if joined else 'M'}{number(x)} {number(y)}")
                joined = True
            else:
                joined = False
        if parts:
            self._add("path", style, d="".join(parts) + ("Z" if closed else ""))

    def text(
        self,
        x: float,
        y: float,
        text: str,
        style: str = "text",
        anchor: Anchor = "start",
        turned: float = 0.0,
    ) -> None:
        """A line of text by its base line."""
        attributes = {"x": number(x), "y": number(y)}
        if anchor != "start":
            attributes["text-anchor"] = anchor
        if turned:
            attributes["transform"] = f"rotate({number(turned)} {number(x)} {number(y)})"
        self._add("text", style, **attributes).text = plain(text)

    def lines(self, x: float, y: float, text: str, style: str, width: float) -> float:
        """Text wrapped to a width; returns the y under it."""
        step = SIZES[style] * 1.3
        for line in wrapped(text, style, width):
            self.text(x, y + SIZES[style], line, style)
            y += step
        return y

    def mark(self, x: float, y: float, shape: Shape, style: str, size: float = 5.5) -> None:
        """A mark about a point."""
        if not (isfinite(x) and isfinite(y)):
            return
        if shape == "circle":
            self._add("circle", style, cx=number(x), cy=number(y), r=number(size))
        elif shape == "cross":
            for sign in (1.0, -1.0):
                self.line(x - size, y - sign * size, x + size, y + sign * size, style)
        else:
            corners, start, reach = {
                "diamond": (4, 0.0, 1.35),
                "square": (4, pi / 4, 1.3),
                "triangle": (3, -pi / 2, 1.35),
            }[shape]
            self.path(
                [
                    (
                        x + reach * size * cos(start + 2 * pi * k / corners),
                        y + reach * size * sin(start + 2 * pi * k / corners),
                    )
                    for k in range(corners)
                ],
                style,
                closed=True,
            )

    def band(self, x1: float, x2: float, y: float, style: str, cap: float = 4.0) -> None:
        """A horizontal band with caps."""
        self.line(x1, y, x2, y, style)
        for x in (x1, x2):
            self.line(x, y - cap, x, y + cap, style)

    def arrowhead(self, x: float, y: float, sign: float, style: str, size: float = 4.5) -> None:
        """The head of an arrow whose tip is at a point; it points right for a positive sign."""
        back = x - size if sign > 0.0 else x + size
        self.path([(back, y - size), (x, y), (back, y + size)], style)

    @contextmanager
    def clipped(self, x: float, y: float, width: float, height: float) -> Iterator[None]:
        """What is drawn within shows only inside a rectangle."""
        self._clips += 1
        ident = f"{self.name}-clip{self._clips}"
        clip = ElementTree.SubElement(self._root, "clipPath", {"id": ident})
        ElementTree.SubElement(
            clip,
            "rect",
            {"x": number(x), "y": number(y), "width": number(width), "height": number(height)},
        )
        outer = self._parent
        self._parent = ElementTree.SubElement(self._parent, "g", {"clip-path": f"url(#{ident})"})
        yield
        self._parent = outer

    # ------------------------------------------------------------ the whole

    def heading(self, title: str, under: str = "") -> float:
        """The visible title and a line or two under it; returns the y below."""
        y = self.lines(MARGIN, MARGIN, title, "heading", WIDTH - 2 * MARGIN)
        if under:
            y = self.lines(MARGIN, y + 2, under, "small", WIDTH - 2 * MARGIN)
        return y + 6

    def svg(
        self,
        theme: Theme = "auto",
        *,
        styled: bool = True,
        width: float = WIDTH,
        prefix: str = "",
    ) -> str:
        """The picture as text; without its style sheet where the page around it has it.

        ``width`` is its own size in px, ``prefix`` begins its ids where several stand on one page.
        """
        height = number(self.height)
        self._paper.set("height", height)
        root = self._root
        root.set("viewBox", f"0 0 {number(WIDTH)} {height}")
        root.set("width", number(width))
        root.set("height", number(self.height * width / WIDTH))
        style = ElementTree.Element("style")
        style.text = style_sheet(theme)
        if styled:
            root.insert(2, style)
        written = _prefixed(root, prefix) if prefix else root
        text = ElementTree.tostring(written, encoding="unicode")
        if styled:
            root.remove(style)
        return text


def _prefixed(root: ElementTree.Element, prefix: str) -> ElementTree.Element:
    """A copy whose ids, and what points at them, begin with a prefix."""
    found = copy.deepcopy(root)
    for element in found.iter():
        for name in ("id", "aria-labelledby"):
            if name in element.attrib:
                ids = element.attrib[name].split(" ")
                element.set(name, " ".join(prefix + ident for ident in ids))
        if "clip-path" in element.attrib:
            element.set("clip-path", element.attrib["clip-path"].replace("#", f"#{prefix}"))
    return found
