"""Pictures of bars as elements of the report page."""

from __future__ import annotations

from dataclasses import asdict
from html import escape

from pegwright.json_value import Json
from pegwright.write.notation.pictures import ScorePictures
from pegwright.write.notation.redraw import Drawn, glyph_markup


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


def _svg(page: Drawn, attributes: str) -> str:
    return (
        f'<svg {attributes} viewBox="{escape(page.view)}" width="{page.width_px:g}" height="{page.height_px:g}">'
        f"{page.body}</svg>"
    )
