"""SVG: one page of flat shapes, a unit to the millimetre."""

from __future__ import annotations

from collections.abc import Iterable
from html import escape

from pegwright.draw.lettering import FONT_NAME, shown, text_span_mm
from pegwright.drawing import Anchor, Circle, Page, Path, Pen, Shape, Text, Use

# Where the sheets' own font is not installed, text is set in another and fitted to the same width.
_FAMILY = f"{FONT_NAME}, DejaVu Sans, Verdana, sans-serif"


def svg_text(page: Page) -> str:
    """An SVG document of `page`, to print at its true size; it refers to nothing outside itself.

    Source: SVG 1.1 (Second Edition), 7.2: with a width in mm and a viewBox of as many units, a
    user unit is a millimetre.
    """
    width, height = _number(page.width_mm), _number(page.height_mm)
    head = (
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{width}mm" height="{height}mm" '
        f'viewBox="0 0 {width} {height}" role="img" stroke-linecap="round" stroke-linejoin="round" '
        f'font-family="{_FAMILY}">'
    )
    title = f"<title>{escape(shown(page.title), quote=False)}</title>"
    sheet = f'<rect width="{width}" height="{height}" fill="#fff"/>'
    return "\n".join([head, title, sheet, *_elements(page.items), "</svg>", ""])


def _elements(items: Iterable[Shape | Use]) -> Iterable[str]:
    for item in items:
        if isinstance(item, Use):
            # Symbols are written out, not referred to: several pages may stand in one HTML file,
            # where identifiers of theirs would clash.
            yield f'<g transform="translate({_number(item.x_mm)} {_number(item.y_mm)})">'
            yield from _elements(item.symbol.shapes)
            yield "</g>"
        elif isinstance(item, Text):
            yield _text(item)
        elif isinstance(item, Circle):
            x, y, radius = _number(item.x_mm), _number(item.y_mm), _number(item.radius_mm)
            yield f'<circle cx="{x}" cy="{y}" r="{radius}"{_pen(item.pen)}/>'
        else:
            yield _path(item)


def _path(path: Path) -> str:
    points = " ".join(f"{_number(x)},{_number(y)}" for x, y in path.points)
    return f'<{"polygon" if path.closed else "polyline"} points="{points}"{_pen(path.pen)}/>'


def _text(text: Text) -> str:
    line = shown(text.text)
    begin, end = text_span_mm(text)
    x, y = _number(text.x_mm), _number(text.y_mm)
    parts = [f'<text x="{x}" y="{y}" font-size="{_number(text.size_mm)}"']
    if text.anchor is not Anchor.START:
        parts.append(f' text-anchor="{text.anchor}"')
    if text.bold:
        parts.append(' font-weight="bold"')
    if line.strip():
        parts.append(f' textLength="{_number(end - begin)}" lengthAdjust="spacingAndGlyphs"')
    if text.turn_deg:
        parts.append(f' transform="rotate({_number(text.turn_deg)} {x} {y})"')
    parts.append(f' fill="{_grey(text.grey)}">{escape(line, quote=False)}</text>')
    return "".join(parts)


def _pen(pen: Pen) -> str:
    parts = [f' fill="{_grey(pen.fill)}"']
    if pen.stroke is not None:
        parts.append(f' stroke="{_grey(pen.stroke)}" stroke-width="{_number(pen.width_mm)}"')
        if pen.dash_mm:
            parts.append(f' stroke-dasharray="{" ".join(_number(length) for length in pen.dash_mm)}"')
    return "".join(parts)


def _grey(value: float | None) -> str:
    return "none" if value is None else "#" + f"{round(255 * value):02x}" * 3


def _number(value: float) -> str:
    """A length to a ten-thousandth of a millimetre, without needless zeros."""
    return f"{round(value, 4) + 0.0:.4f}".rstrip("0").rstrip(".")  # + 0.0 turns -0.0 into 0.0
