"""PDF: pages of flat shapes as vectors, with the font inside and symbols drawn once.

Inside a page or form the unit is 1 mm and y runs up from the page's upper edge, so a point of the
drawing is written as (x, -y).
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from contextlib import contextmanager
from functools import lru_cache
from io import BytesIO
from itertools import groupby
from typing import TYPE_CHECKING, cast

from pegwright.draw.bounds import bounds_mm
from pegwright.draw.document import Bookmark, Document
from pegwright.draw.lettering import shown, text_span_mm
from pegwright.drawing import Circle, Page, Path, Pen, Shape, Symbol, Text, Use
from pegwright.package_data import common_font_bytes, font_bytes

if TYPE_CHECKING:
    from reportlab.pdfbase.ttfonts import TTFont
    from reportlab.pdfgen.canvas import Canvas

POINTS_PER_MM = 72 / 25.4  # Source: ISO 32000-1:2008, 8.3.2.3: a unit of default user space is 1/72 inch
MAKER = "pegwright"
_FONTS = {  # by boldness, and whether it is the whole font, which takes long to read
    (False, False): "PegwrightSans",
    (True, False): "PegwrightSans-Bold",
    (False, True): "PegwrightSansWhole",
    (True, True): "PegwrightSansWhole-Bold",
}
# By stroke and fill. Source: ISO 32000-1:2008, table 60; f* and B* fill by the even-odd rule, the library's own.
_PAINT = {(False, False): "n", (True, False): "S", (False, True): "f*", (True, True): "B*"}
_MIN_RUN = 3  # circles of one size that are drawn from one to the next
_PLACES = 6  # decimals of a number, as the library writes it
_ORIGIN = "BT 1 0 0 1"  # how the library begins a text, before its place
_ROUND = 1  # Source: ISO 32000-1:2008, tables 54 and 55: round caps and joins, so that no corner sticks out


def pdf_bytes(pages: Sequence[Page], title: str) -> bytes:
    """A PDF file of `pages`; the same pages and title give the same bytes.

    Args:
        pages: at least one; each keeps its own size.
        title: of the document.
    """
    outline = tuple(Bookmark(0, page.title, place) for place, page in enumerate(pages) if page.title)
    return document_pdf(Document(title, tuple(pages), tuple(range(1, len(pages) + 1)), outline))


def document_pdf(document: Document) -> bytes:
    """A document as a PDF file; the same document gives the same bytes.

    Its outline opens at its sections, and its pages are labelled with their printed numbers.
    """
    from reportlab.pdfgen.canvas import Canvas  # noqa: PLC0415  # heavy: loaded when first needed

    font = _font_name(False, "")
    stream = BytesIO()
    canvas = Canvas(stream, invariant=1, pageCompression=1, initialFontName=font)  # type: ignore[arg-type]  # a name
    canvas.setTitle(shown(document.title))
    canvas.setAuthor(MAKER)
    canvas.setCreator(MAKER)
    canvas.setProducer(MAKER)
    writer = _Writer(canvas)
    keys = [f"entry{number}" for number in range(len(document.outline))]  # one key leads to one title
    for place, page in enumerate(document.pages):
        writer.page(page, [key for key, entry in zip(keys, document.outline, strict=True) if entry.page == place])
    deepest = max((entry.level for entry in document.outline), default=0)
    for key, entry in zip(keys, document.outline, strict=True):
        folded = 0 < deepest == entry.level + 1  # only pages are under it
        canvas.addOutlineEntry(shown(entry.title), key, entry.level, folded)
    if document.numbers != tuple(range(1, len(document.pages) + 1)):
        for place, number in enumerate(document.numbers):
            canvas.addPageLabel(place, "ARABIC", number)
    with _streams_as_bytes():
        canvas.save()
    return stream.getvalue()


@contextmanager
def _streams_as_bytes() -> Iterator[None]:
    """Compressed streams are written as they are, not as text a quarter longer, which the library makes slowly."""
    from reportlab import rl_config  # noqa: PLC0415  # as above

    before, rl_config.useA85 = rl_config.useA85, 0
    try:
        yield
    finally:
        rl_config.useA85 = before


class _Writer:
    """Draws pages on one canvas; keeps the symbols drawn and the pen in use."""

    def __init__(self, canvas: Canvas) -> None:
        self.canvas = canvas
        self.forms: dict[Symbol, str] = {}
        self.forms_by_id: dict[int, str] = {}  # the same object again: no need to compare its shapes
        self.lines: dict[tuple[str, float, bool], str] = {}
        self.held: Pen | None = None  # whose stroke is set
        self.held_fill: float | None = None

    def page(self, page: Page, keys: Iterable[str]) -> None:
        """Draw a page, to which keys of the outline lead."""
        canvas = self.canvas
        canvas.setPageSize((page.width_mm * POINTS_PER_MM, page.height_mm * POINTS_PER_MM))
        for item in page.items:
            if isinstance(item, Use):
                self.form(item.symbol)
        for key in keys:
            canvas.bookmarkPage(key)
        canvas.transform(POINTS_PER_MM, 0, 0, POINTS_PER_MM, 0, page.height_mm * POINTS_PER_MM)
        self.draw(page.items)
        canvas.showPage()

    def form(self, symbol: Symbol) -> str:
        """Name of the form that draws `symbol`, declared now if it is new."""
        if id(symbol) not in self.forms_by_id:
            if symbol not in self.forms:
                self.forms[symbol] = f"symbol{len(self.forms)}"
                left, top, right, bottom = bounds_mm(symbol.shapes)
                self.canvas.beginForm(self.forms[symbol], left, -bottom, right, -top)  # type: ignore[arg-type]  # any number
                self.draw(symbol.shapes)
                self.canvas.endForm()
            self.forms_by_id[id(symbol)] = self.forms[symbol]
        return self.forms_by_id[id(symbol)]

    def draw(self, items: Iterable[Shape | Use]) -> None:
        """Fill one page or form, which begins with a fresh graphics state."""
        self.held = self.held_fill = None
        self.canvas.setLineCap(_ROUND)
        self.canvas.setLineJoin(_ROUND)
        for radius_mm, group in groupby(items, _radius_mm):
            if radius_mm is None:
                for item in group:
                    self.item(item)
            else:
                for pen, circles in groupby(cast("Iterator[Circle]", group), lambda circle: circle.pen):
                    self.circles(radius_mm, pen, list(circles))

    def item(self, item: Shape | Use) -> None:
        if isinstance(item, Use):
            self.canvas.saveState()
            self.canvas.translate(item.x_mm, -item.y_mm)
            self.canvas.doForm(self.form(item.symbol))
            self.canvas.restoreState()
        elif isinstance(item, Text):
            self.text(item)
        elif item.pen.stroke is not None or item.pen.fill is not None:
            self.take(item.pen)
            self.outline(item)

    def outline(self, shape: Circle | Path) -> None:
        """Write a circle or path as the operators that the library would write, its numbers kept: most return."""
        points = _round(shape.x_mm, -shape.y_mm, shape.radius_mm) if isinstance(shape, Circle) else _straight(shape)
        self.canvas.addLiteral(f"{points}\n{_paint(shape.pen)}")

    def circles(self, radius_mm: float, pen: Pen, circles: Sequence[Circle]) -> None:
        """Circles of one size, one after another: all but the way to each is the same text, which packs well."""
        if len(circles) < _MIN_RUN:
            for circle in circles:
                self.item(circle)
        elif pen.stroke is not None or pen.fill is not None:
            self.take(pen)
            one = f" cm\n{_round(0.0, 0.0, radius_mm)}\n{_paint(pen)}"
            places = [(round(circle.x_mm, _PLACES), round(-circle.y_mm, _PLACES)) for circle in circles]
            ways = zip(places, [(0.0, 0.0), *places], strict=False)
            drawn = [
                f"1 0 0 1 {_number(round(x - from_x, _PLACES))} {_number(round(y - from_y, _PLACES))}{one}"
                for (x, y), (from_x, from_y) in ways
            ]
            self.canvas.addLiteral("\n".join(["q", *drawn, "Q"]))

    def take(self, pen: Pen) -> None:
        """Set a pen; what it shares with the one in use is not written again."""
        canvas, held = self.canvas, self.held
        if pen.fill is not None:
            self.fill(pen.fill)
        if pen.stroke is None:
            return
        if held is None or held.stroke != pen.stroke:
            canvas.setStrokeGray(pen.stroke)
        if held is None or held.width_mm != pen.width_mm:
            canvas.setLineWidth(pen.width_mm)
        if held is None or held.dash_mm != pen.dash_mm:
            canvas.setDash(list(pen.dash_mm))
        self.held = pen

    def fill(self, grey: float) -> None:
        if self.held_fill != grey:
            self.canvas.setFillGray(grey)
            self.held_fill = grey

    def text(self, text: Text) -> None:
        line = shown(text.text)
        if not line:
            return
        canvas = self.canvas
        begin, _ = text_span_mm(text)
        self.fill(text.grey)
        words = self.words(text, line)
        if text.turn_deg:
            canvas.saveState()
            canvas.translate(text.x_mm, -text.y_mm)
            canvas.rotate(-text.turn_deg)
            canvas.addLiteral(f"{_ORIGIN} {_number(begin)} 0 Tm{words}")
            canvas.restoreState()
        else:
            canvas.addLiteral(f"{_ORIGIN} {_number(text.x_mm + begin)} {_number(-text.y_mm)} Tm{words}")

    def words(self, text: Text, line: str) -> str:
        """The operators that the library writes for a line after its origin, kept: sheets repeat words."""
        key = line, text.size_mm, text.bold
        if key not in self.lines:
            self.canvas.setFont(_font_name(text.bold, line), text.size_mm)
            written = self.canvas.beginText(0, 0)
            written.textLine(line)
            self.lines[key] = written.getCode().removeprefix(f"{_ORIGIN} 0 0 Tm")
        return self.lines[key]


def _straight(path: Path) -> str:
    number = _number
    first, *others = [f"{number(x_mm)} {number(-y_mm)}" for x_mm, y_mm in path.points]
    return " ".join(["n", f"{first} m", *(f"{point} l" for point in others), *("h" if path.closed else "")])


def _radius_mm(item: Shape | Use) -> float | None:
    return item.radius_mm if isinstance(item, Circle) else None


def _paint(pen: Pen) -> str:
    return _PAINT[pen.stroke is not None, pen.fill is not None]


def _round(x_mm: float, y_mm: float, radius_mm: float) -> str:
    """A circle as four curves; here y runs up."""
    across, _ = _arcs(x_mm, radius_mm)
    _, along = _arcs(y_mm, radius_mm)
    begin, *points = [f"{x} {y}" for x, y in zip(across, along, strict=True)]
    curves = [f"{' '.join(points[first : first + 3])} c" for first in range(0, len(points), 3)]
    return "\n".join(["n", f"{begin} m", *curves])


@lru_cache(maxsize=4096)  # holes stand in lines both ways
def _arcs(middle_mm: float, radius_mm: float) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """Coordinates of the points of a circle whose middle is at the same place both ways, across and along."""
    from reportlab.pdfgen.pdfgeom import bezierArc  # noqa: PLC0415  # as above

    low = middle_mm - radius_mm
    high = low + (middle_mm + radius_mm - low)
    (begin_x, begin_y, *_), *_ = arcs = bezierArc(low, low, high, high, 0, 360)
    across = [begin_x, *(x for arc in arcs for x in arc[2::2])]
    along = [begin_y, *(y for arc in arcs for y in arc[3::2])]
    return tuple(map(_number, across)), tuple(map(_number, along))


@lru_cache(maxsize=65_536)
def _number(value: float) -> str:
    """A number as the library writes it."""
    from reportlab.lib.rl_accel import fp_str  # noqa: PLC0415  # as above

    return str(fp_str(value))


def _kept(make: Callable[[Sequence[int]], bytes]) -> Callable[[Sequence[int]], bytes]:
    """What makes the part of a font with some characters, the last parts kept: documents show much the same ones."""
    kept = lru_cache(maxsize=64)(make)
    return lambda characters: kept(tuple(characters))


@lru_cache(maxsize=8192)  # sheets print the same step numbers on every page
def _font_name(bold: bool, line: str) -> str:
    """Name under which the library knows the font that has all characters of a line."""
    common = _registered_font(bold, whole=False)
    if common.face.charToGlyph.keys() >= set(map(ord, line)):
        return _FONTS[bold, False]
    _registered_font(bold, whole=True)
    return _FONTS[bold, True]


@lru_cache(maxsize=4)
def _registered_font(bold: bool, whole: bool) -> TTFont:
    from reportlab.pdfbase.pdfmetrics import registerFont  # noqa: PLC0415
    from reportlab.pdfbase.ttfonts import TTFont  # noqa: PLC0415

    font = TTFont(_FONTS[bold, whole], BytesIO((font_bytes if whole else common_font_bytes)(bold)))
    font.face.makeSubset = _kept(font.face.makeSubset)  # type: ignore[assignment, method-assign]  # of this font
    registerFont(font)
    return font
