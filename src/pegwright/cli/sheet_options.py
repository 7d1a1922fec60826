"""The options of printed sheets, and the style that they make."""

from __future__ import annotations

import datetime
from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

from pegwright.ask.table import INSIDE
from pegwright.errors import UsageError

if TYPE_CHECKING:
    from pegwright.draw.sheet_style import SheetStyle

TODAY = "today"


def style_from(given: Mapping[str, Any]) -> SheetStyle:
    """The style of sheets that the options of a command make.

    Raises:
        UsageError: the date is not one.
    """
    from pegwright.draw.sheet_style import SheetStyle  # noqa: PLC0415  # drawing is loaded where files are written

    return SheetStyle(given["larger"], given["seen_from"] == INSIDE, _date(given["date"]), given["labels"])


def _date(text: str | None) -> str:
    """A date as it is printed, year first; the clock is read only where that is asked for."""
    if text is None:
        return ""
    if text.strip().lower() == TODAY:
        return datetime.datetime.now().astimezone().date().isoformat()
    try:
        return datetime.date.fromisoformat(text.strip()).isoformat()
    except ValueError:
        hint = f"write year, month and day as 2026-05-01, or {TODAY}"
        raise UsageError(f"{text[:40]!r} is not a date", where="--date", hint=hint) from None
