"""The report page: one HTML file that needs no network, with its style, script and data inside."""

from __future__ import annotations

import base64
import hashlib
import json
from collections.abc import Mapping
from html import escape
from string import Template
from typing import TYPE_CHECKING

from pegwright.json_value import Json
from pegwright.package_data import data_bytes

if TYPE_CHECKING:
    from pegwright.write.notation.pictures import ScorePictures

# Inside a script element only these can end it or start a comment; JSON can write all of them otherwise.
_HARMLESS = str.maketrans({"<": "\\u003c", ">": "\\u003e", "&": "\\u0026", "\u2028": "\\u2028", "\u2029": "\\u2029"})


def page_html(data: Mapping[str, Json], pictures: ScorePictures | None = None) -> bytes:
    """The page of a song.

    A Content-Security-Policy in the page allows its own style and script by their hashes and nothing else: no
    request, no frame, no form.

    Args:
        data: as `page_data` gives it.
        pictures: of the bars in trouble, if there are any.
    """
    style = _file("page.css")
    script = "\n".join(_file(name) for name in ("sound.js", "wheel.js", "paper.js", "words.js", "page.js"))
    policy = (
        f"default-src 'none'; style-src '{_hash(style)}'; script-src '{_hash(script)}'; img-src data:; "
        "base-uri 'none'; form-action 'none'"
    )
    music, music_html = _music(pictures)
    data = {**data, "music": music}
    values = json.dumps(data, ensure_ascii=False, separators=(",", ":"), allow_nan=False).translate(_HARMLESS)
    template = Template(_file("page.html"))
    title = escape(" ".join(str(data["title"]).split()))
    parts = {"style": style, "script": script, "data": values, "music": music_html}
    return template.substitute(parts, title=title, policy=escape(policy)).encode()


def _music(pictures: ScorePictures | None) -> tuple[dict[str, Json], str]:
    """What the page's script needs of the pictures, and the pictures as elements."""
    if pictures is None:
        return {"pictures": [], "told": []}, ""
    from pegwright.write.notation.markup import pictures_data, pictures_html  # noqa: PLC0415  # seldom needed

    return pictures_data(pictures), pictures_html(pictures)


def _file(name: str) -> str:
    """A text file of the page."""
    return data_bytes(f"page/{name}").decode()


def _hash(text: str) -> str:
    """Source: W3C Content Security Policy Level 3, hash-source: base64 of the SHA-256 of the element's text."""
    return f"sha256-{base64.b64encode(hashlib.sha256(text.encode()).digest()).decode()}"
