"""Where in a TOML text a key stands, so that a fault can name its line."""

from __future__ import annotations

import re

HEADER = re.compile(
    r"\s*\[(?P<many>\[?)\s*(?P<quote>[\"']?)(?P<name>[A-Za-z0-9_-]+(?:\.[A-Za-z0-9_-]+)*)(?P=quote)\s*\]\]?\s*(?:#.*)?"
)
KEY = re.compile(r"\s*(?P<quote>[\"']?)(?P<name>[A-Za-z0-9_-]+)(?P=quote)\s*[.=]")

_STRING = re.compile(r""" "(?:[^"\\]|\\.)*" | '[^']*' """, re.VERBOSE)


def line_numbers(text: str) -> dict[str, int]:
    """Line number, from 1, of the headers and keys of a TOML text by their key path.

    Numbers in a path count from 1, as in `channel[3].pitches`. Only plain headers and keys are
    found, those with dots too: a text with multi-line strings, in which anything can look like a key, yields nothing.
    """
    lines: dict[str, int] = {}
    if '"""' in text or "'''" in text:
        return lines
    counts: dict[str, int] = {}
    table = ""
    for number, line in enumerate(text.splitlines(), start=1):
        if header := HEADER.fullmatch(line):
            name = header["name"]
            counts[name] = counts.get(name, 0) + 1
            table = f"{name}[{counts[name]}]" if header["many"] else name
            lines.setdefault(table, number)
        elif key := KEY.match(line):
            lines.setdefault(f"{table}.{key['name']}" if table else key["name"], number)
    return lines


def without_texts(text: str) -> str:
    """A line of TOML with its texts in quotes blanked out, so that only what is outside of them is left."""
    return _STRING.sub(lambda match: " " * len(match[0]), text)


def without_remark(text: str) -> str:
    """A line of TOML up to the remark at its end."""
    return text[: len(text) if (at := without_texts(text).find("#")) < 0 else at]
