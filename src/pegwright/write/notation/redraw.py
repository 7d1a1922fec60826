"""The engraver's SVG drawn anew for our pages: only plain shapes, glyphs shared by all pictures, and the marks.

Colours are left to the page that shows the picture: everything is drawn in `currentColor`, and every mark is a group
of the classes `mark` and its level.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from html import escape
from xml.etree import ElementTree
from xml.etree.ElementTree import Element

from pegwright.frozen import frozen
from pegwright.write.notation.document import LABEL, MARK_ID
from pegwright.write.notation.engrave import NotEngravedError
from pegwright.write.notation.marks import Mark

# In a box of 16 by 16; the report page's script draws its own marks by the same paths.
SHAPES = {"slight": "M3 3H13V13H3Z", "audible": "M8 2L14 13H2Z", "out": "M3 3L13 13M3 13L13 3"}
GLYPH_ID = "glyph-"
NO_DRAWING = "the notation library gave no drawing of them"
SPACE = 180  # from staff line to staff line in the engraver's units
ROOM = SPACE * 0.6  # from a note's head to its ring

_SVG = "{http://www.w3.org/2000/svg}"
_SHAPE_ATTRIBUTES = (
    *("d", "points", "x", "y", "width", "height", "cx", "cy", "rx", "ry", "r", "transform", "fill"),
    *("stroke-width", "stroke-linecap", "stroke-linejoin", "stroke-dasharray"),
)
_TEXT_ATTRIBUTES = ("x", "y", "dx", "dy", "text-anchor", "font-size", "font-style", "font-weight")
_LEAVES = frozenset({"path", "polygon", "polyline", "rect", "ellipse", "circle", "line"})
_BOLD, _ITALIC = frozenset({"ending", "fing", "reh", "tempo"}), frozenset({"dir", "dynam", "mNum"})
_PLACE = re.compile(r"translate\(([0-9.-]+), ([0-9.-]+)\) scale\(([0-9.]+), ([0-9.]+)\)")
_PLAIN = "translate({} {}) scale({} -{})"
_UNSEEN = frozenset({"bounding-box", "placeholder"})
_LABEL = re.compile(re.escape(LABEL) + r"([0-9]+)")


@frozen()
class Drawn:
    """One page of a picture.

    Args:
        width_px, height_px: natural size.
        view: the `viewBox`.
        body: markup within the `svg` element.
        glyphs: of the music font: name -> path.
        marked: numbers of the marks whose notes were found.
    """

    width_px: float
    height_px: float
    view: str
    body: str
    glyphs: dict[str, str]
    marked: frozenset[int]


def redraw(svg: str, marks: Mapping[int, Mark]) -> Drawn:
    """Draw a page of the engraver anew with the marks.

    Args:
        svg: as the engraver gave it.
        marks: by number.

    Raises:
        NotEngravedError: it is not a drawing as the engraver makes them.
    """
    try:
        root = ElementTree.fromstring(svg)  # noqa: S314  # our own engraver's, made of a document that we wrote
    except ElementTree.ParseError as fault:
        raise NotEngravedError(NO_DRAWING) from fault
    inner = root.find(f"{_SVG}svg")  # the engraver scales its drawing within a second svg element
    if inner is None:
        raise NotEngravedError(NO_DRAWING)
    pen = _Pen(marks)
    body = "".join(pen.draw(inner))
    _, _, width, height = root.get("viewBox", "").split()
    glyphs = {_glyph(group.get("id", "")): _path(group) for group in root.iterfind(f"{_SVG}defs/{_SVG}g")}
    return Drawn(float(width), float(height), inner.get("viewBox", ""), body, glyphs, frozenset(pen.marked))


def glyph_markup(glyphs: Mapping[str, str]) -> str:
    """The glyphs of pictures, in one `defs` element that they share."""
    paths = "".join(f'<path id="{GLYPH_ID}{name}" d="{path}"/>' for name, path in sorted(glyphs.items()))
    return f"<defs>{paths}</defs>"


def _glyph(name: str) -> str:
    """Name of a glyph without the engraver's suffix: it is the glyph's place in the music font's standard."""
    return escape(name.lstrip("#").partition("-")[0])


def _path(group: Element) -> str:
    """The path of a glyph; the engraver turns each over with a transform of its own, which `use` takes over here."""
    path = group.find(f"{_SVG}path")
    return "" if path is None else escape(path.get("d", ""))


@dataclass(slots=True)
class _Pen:
    """Draws elements one after another and collects the marks that it has drawn."""

    marks: Mapping[int, Mark]
    marked: set[int] = field(default_factory=set)

    def draw(self, parent: Element, style: str = "") -> Iterator[str]:
        """Markup of what is within an element; `style` is what texts have from their group."""
        for element in parent:
            tag = element.tag.removeprefix(_SVG)
            if tag == "g":
                yield from self._group(element, style)
            elif tag == "use":
                yield f'<use href="#{GLYPH_ID}{_glyph(element.get("href", ""))}"{_turned(element)}/>'
            elif tag in _LEAVES:
                yield f"<{tag}{_attributes(element, _SHAPE_ATTRIBUTES)}/>"
            elif tag == "text":
                yield _text(element, "text", style)

    def _group(self, group: Element, style: str) -> Iterator[str]:
        kinds = set(group.get("class", "").split())
        if kinds & _UNSEEN:
            return
        style = "font-weight:bold" if kinds & _BOLD else "font-style:italic" if kinds & _ITALIC else style
        name = group.get("id", "")
        label = _LABEL.fullmatch("".join(group.itertext()).strip()) if "dir" in kinds else None
        number = int(label[1]) if label else int(name.removeprefix(MARK_ID)) if name.startswith(MARK_ID) else 0
        mark = self.marks.get(number)
        if mark is None:
            inside = "".join(self.draw(group, style))
            turned = _attributes(group, ("transform",))
            yield f"<g{turned}>{inside}</g>" if turned else inside
            return
        drawn = _label(group, mark) if label else "".join([*self.draw(group, style), *self._ring(group, mark)])
        yield f'<g class="mark {mark.level}" data-mark="{mark.number}">{drawn}</g>'

    def _ring(self, note: Element, mark: Mark) -> Iterator[str]:
        """A ring about a note's head."""
        for box in note.iterfind(f"{_SVG}g/{_SVG}rect"):
            x, y, width, height = (float(box.get(name, "0")) for name in ("x", "y", "width", "height"))
            self.marked.add(mark.number)
            yield (
                f'<ellipse class="ring" cx="{x + width / 2:g}" cy="{y + height / 2:g}" rx="{width / 2 + ROOM:g}" '
                f'ry="{height / 2 + ROOM:g}" fill="none" stroke-width="{SPACE / 4:g}"/>'
            )
            return


def _shape(level: str, transform: str) -> str:
    """The shape of a level, 16 by 16, moved by a transform."""
    drawn = 'fill="none" stroke-width="3"' if level == "out" else 'stroke-width="1"'
    return f'<path d="{SHAPES[level]}" transform="{transform}" {drawn}/>'


def _label(group: Element, mark: Mark) -> str:
    """The mark's shape and number in place of the words that reserved their room."""
    text = next(group.iter(f"{_SVG}text"))
    x, y = float(text.get("x", "0")) - SPACE / 2, float(text.get("y", "0"))
    shape = _shape(mark.level, f"translate({x:g} {y - SPACE * 1.75:g}) scale({SPACE / 8:g})")
    number = f'x="{x + SPACE * 2:g}" y="{y:g}" font-size="{SPACE * 2.1:g}px" font-weight="bold"'
    return f"{shape}<text {number}>{mark.number}</text>"


def _text(element: Element, tag: str, style: str = "") -> str:
    within = "".join(_text(child, "tspan") for child in element if child.tag == f"{_SVG}tspan")
    words = escape(element.text or "")
    name, _, value = style.partition(":")
    own = f' {name}="{value}"' if name else ""
    return f"<{tag}{own}{_attributes(element, _TEXT_ATTRIBUTES)}>{words}{within}</{tag}>"


def _turned(use: Element) -> str:
    """Where a glyph goes; fonts count upwards, drawings downwards."""
    place = use.get("transform", "")
    plain = _PLACE.fullmatch(place)
    return f' transform="{_PLAIN.format(*plain.groups()) if plain else f"{escape(place)} scale(1 -1)"}"'


def _attributes(element: Element, kept: tuple[str, ...]) -> str:
    return "".join(f' {name}="{escape(element.attrib[name])}"' for name in kept if name in element.attrib)
