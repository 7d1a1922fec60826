"""Pictures of bars as elements of the report page, and as a drawing of their own."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import asdict
from html import escape

from pegwright.json_value import Json
from pegwright.write.notation.pictures import BarsDrawn, KeyLine, ScorePictures
from pegwright.write.notation.redraw import Drawn, glyph_markup, shape_markup

_STYLE = (
    "svg{fill:currentColor}.staves path,.staves polygon,.staves polyline,.staves rect,.staves ellipse,.mark path"
    "{stroke:currentColor}"
    ".out{color:#b3001e}.audible{color:#a33c00}.slight{color:#7a5a00}"
)
_FONT = 'font-family="\'DejaVu Sans\', sans-serif" font-size="13"'
_STAVES = 'class="staves" font-family="Times New Roman, serif"'
_MARGIN_PX, _LINE_PX, _KEY_PX = 24, 20, 640


def pictures_data(pictures: ScorePictures) -> dict[str, Json]:
    """What the report page's script needs; notes 0-based as in its other data."""
    return {
        "pictures": [{"title": each.title, "key": list(map(asdict, each.key))} for each in pictures.pictures],
        "told": pictures.remarks,
    }


def pictures_html(pictures: ScorePictures) -> str:
    """The pictures for the report page, each with room for its key; it has their tones."""
    if not pictures.pictures:
        return ""
    figures = [
        f'<figure class="picture" id="picture-{number}"><div class="staves" tabindex="0" role="group" '
        f'aria-label="{escape(each.title)} as music">'
        + "".join(_svg(page, f'role="img" aria-label="{escape(each.words)}"') for page in each.pages)
        + f'</div><figcaption><h3>{escape(each.title)}</h3><ol class="key"></ol></figcaption></figure>'
        for number, each in enumerate(pictures.pictures)
    ]
    return f'<svg class="glyphs" aria-hidden="true">{glyph_markup(pictures.glyphs)}</svg>{"".join(figures)}'


def pictures_svg(pictures: ScorePictures, title: str) -> bytes:
    """All pictures one below the other with their keys, as one SVG drawing."""
    y: float = _MARGIN_PX + _LINE_PX
    body = [f'<text x="{_MARGIN_PX}" y="{y}" font-weight="bold">{escape(title)}</text>']
    width = max([_KEY_PX, *(page.width_px for each in pictures.pictures for page in each.pages)]) + 2 * _MARGIN_PX
    for each in pictures.pictures:
        for markup, height in _stacked(each):
            body.append(f'<g transform="translate({_MARGIN_PX} {y:g})">{markup}</g>')
            y += height
    for words in pictures.remarks:
        y += _LINE_PX
        body.append(f'<text x="{_MARGIN_PX}" y="{y:g}">{escape(words)}.</text>')
    height = y + _MARGIN_PX
    size = f'width="{width:g}" height="{height:g}"'
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" {size} viewBox="0 0 {width:g} {height:g}" {_FONT}>'
        f"<title>{escape(title)}</title><style>{_STYLE}</style>{glyph_markup(pictures.glyphs)}"
        f'<rect {size} fill="#fff"/>{"".join(body)}</svg>\n'
    ).encode()


def _stacked(drawn: BarsDrawn) -> Iterator[tuple[str, float]]:
    """The pieces of a picture from the top with their heights in px."""
    yield f'<text y="{2 * _LINE_PX}" font-weight="bold">{escape(drawn.title)}</text>', 2.5 * _LINE_PX
    for page in drawn.pages:
        yield _svg(page, _STAVES), page.height_px
    for line in drawn.key:
        yield _key_line(line), _LINE_PX


def _key_line(line: KeyLine) -> str:
    return (
        f'<g class="mark {line.level}">{shape_markup(line.level, "translate(0 2)")}</g>'
        f'<text x="46" y="15" text-anchor="end" font-weight="bold">{line.number}</text>'
        f'<text x="56" y="15">{escape(line.name)}: {escape(line.what)}</text>'
    )


def _svg(page: Drawn, attributes: str) -> str:
    return (
        f'<svg {attributes} viewBox="{escape(page.view)}" width="{page.width_px:g}" height="{page.height_px:g}">'
        f"{page.body}</svg>"
    )
