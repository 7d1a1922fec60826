"""The options of printed sheets, and the style that they make."""

from __future__ import annotations

import datetime
import re
from collections.abc import Callable, Mapping
from typing import TYPE_CHECKING, Any, TypeVar

from pegwright.ask.table import INSIDE, Topic
from pegwright.cli.grouped import option
from pegwright.errors import UsageError

if TYPE_CHECKING:
    from pegwright.draw.sheet_style import SheetStyle

Command = TypeVar("Command", bound=Callable[..., Any])

TODAY = "today"
_PAGES = re.compile(r"([0-9]{1,6})(?:\s*[-–]\s*([0-9]{1,6}))?")


def part_options(command: Command) -> Command:
    """Add the options by which only a part of what is printed is written."""
    pages = option(
        "--pages", topic=Topic.OUTPUT, metavar="PAGES", help="Print only these pages, by their numbers: 3-7 or 1,9-12."
    )
    sheets = option("--sheets", topic=Topic.OUTPUT, is_flag=True, help="Print only the sheets of plates.")
    decorated: Command = sheets(pages(command))
    return decorated


def style_from(given: Mapping[str, Any]) -> SheetStyle:
    """The style of sheets that the options of a command make.

    Raises:
        UsageError: the date is not one, or pages are not numbered from 1 up.
    """
    from pegwright.draw.sheet_style import SheetStyle  # noqa: PLC0415  # drawing is loaded where files are written

    inside, sheets, pages = given["seen_from"] == INSIDE, given.get("sheets", False), given.get("pages")
    spans = () if pages is None else tuple(_span(part.strip()) for part in pages.split(","))
    return SheetStyle(given["larger"], inside, _date(given["date"]), given["labels"], sheets, spans)


def _span(text: str) -> tuple[int, int]:
    """The first and the last page of `3-7` or `3`."""
    match = _PAGES.fullmatch(text)
    first, last = (int(match[1]), int(match[2] or match[1])) if match else (0, 0)
    if not 1 <= first <= last:
        hint = "write 3-7, or several parted by commas: 1,9-12"
        raise UsageError(f"{text[:40]!r} names no pages", where="--pages", hint=hint)
    return first, last


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
