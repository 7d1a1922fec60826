"""The report page: one HTML file that needs no network, with its style, script and data inside."""

from __future__ import annotations

import base64
import hashlib
import json
from collections.abc import Mapping
from html import escape
from importlib import resources
from string import Template

from pegwright.json_value import Json
from pegwright.write.notation.markup import pictures_data, pictures_html
from pegwright.write.notation.pictures import ScorePictures

NO_PICTURES = ScorePictures()

# Inside a script element only these can end it or start a comment; JSON can write all of them otherwise.
_HARMLESS = str.maketrans({"<": "\\u003c", ">": "\\u003e", "&": "\\u0026", "\u2028": "\\u2028", "\u2029": "\\u2029"})


def page_html(data: Mapping[str, Json], pictures: ScorePictures = NO_PICTURES) -> bytes:
    """The page of a song.

    A Content-Security-Policy in the page allows its own style and script by their hashes and nothing else: no
    request, no frame, no form.

    Args:
        data: as `page_data` gives it.
        pictures: of the bars in trouble.
    """
    files = resources.files("pegwright") / "page"
    style = (files / "page.css").read_text(encoding="utf-8")
    script = "\n".join((files / name).read_text(encoding="utf-8") for name in ("sound.js", "wheel.js", "page.js"))
    policy = (
        f"default-src 'none'; style-src '{_hash(style)}'; script-src '{_hash(script)}'; img-src data:; "
        "base-uri 'none'; form-action 'none'"
    )
    data = {**data, "music": pictures_data(pictures)}
    values = json.dumps(data, ensure_ascii=False, separators=(",", ":"), allow_nan=False).translate(_HARMLESS)
    template = Template((files / "page.html").read_text(encoding="utf-8"))
    title = escape(" ".join(str(data["title"]).split()))
    parts = {"style": style, "script": script, "data": values, "music": pictures_html(pictures)}
    return template.substitute(parts, title=title, policy=escape(policy)).encode()


def _hash(text: str) -> str:
    """Source: W3C Content Security Policy Level 3, hash-source: base64 of the SHA-256 of the element's text."""
    return f"sha256-{base64.b64encode(hashlib.sha256(text.encode()).digest()).decode()}"
