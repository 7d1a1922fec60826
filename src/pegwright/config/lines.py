"""Where in a TOML text a key stands, so that a fault can name its line."""

from __future__ import annotations

import re

_HEADER = re.compile(r"\s*\[(?P<many>\[?)\s*(?P<name>[A-Za-z0-9_-]+)\s*\]\]?\s*(?:#.*)?")
_KEY = re.compile(r"\s*(?P<name>[A-Za-z0-9_-]+)\s*[.=]")


def line_numbers(text: str) -> dict[str, int]:
    """Line number, from 1, of the headers and keys of a TOML text by their key path.

    Numbers in a path count from 1, as in `channel[3].pitches`. Only plain headers and keys are
    found: a text with multi-line strings, in which anything can look like a key, yields nothing.
    """
    lines: dict[str, int] = {}
    if '"""' in text or "'''" in text:
        return lines
    counts: dict[str, int] = {}
    table = ""
    for number, line in enumerate(text.splitlines(), start=1):
        if header := _HEADER.fullmatch(line):
            name = header["name"]
            counts[name] = counts.get(name, 0) + 1
            table = f"{name}[{counts[name]}]" if header["many"] else name
            lines.setdefault(table, number)
        elif key := _KEY.match(line):
            lines.setdefault(f"{table}.{key['name']}" if table else key["name"], number)
    return lines
