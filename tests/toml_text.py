"""Writes plain TOML for tests, so that a wheel file can be changed as data and read again."""

from __future__ import annotations

import json
from collections.abc import Mapping
from datetime import date


def toml_text(top: Mapping[str, object]) -> str:
    """`top` as TOML: plain values and inline tables, one key a line."""
    return "".join(f"{_quoted(key)} = {_value(value)}\n" for key, value in top.items())


def _value(value: object) -> str:
    if isinstance(value, bool):
        return str(value).lower()
    if isinstance(value, int | float | date):
        return str(value)
    if isinstance(value, str):
        return _quoted(value)
    if isinstance(value, list):
        return f"[{', '.join(_value(item) for item in value)}]"
    assert isinstance(value, dict), value
    return f"{{{', '.join(f'{_quoted(key)} = {_value(inner)}' for key, inner in value.items())}}}"


def _quoted(text: str) -> str:
    return json.dumps(text, ensure_ascii=False).replace("\x7f", "\\u007f")
