"""CSV as bytes that a spreadsheet opens safely."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable, Sequence
from typing import TypeAlias

Cell: TypeAlias = str | int | float | None
_STARTS_A_FORMULA = (*"=+-@＝＋－＠", "\t", "\r", "\n", "\0")  # full-width signs: U+FF1D, U+FF0B, U+FF0D, U+FF20


def csv_bytes(header: Sequence[str], rows: Iterable[Sequence[Cell]]) -> bytes:
    """A header and rows in UTF-8; None is an empty cell, numbers stay numbers.

    A text cell that a spreadsheet could take for a formula gets an apostrophe in front.

    Source: RFC 4180 (commas, CRLF, quotes doubled); OWASP ASVS 5.0 requirement 1.2.10 and
        CWE-1236 (the apostrophe; the line breaks are our addition); OWASP, "CSV Injection" (the full-width signs).
    """
    text = io.StringIO(newline="")
    writer = csv.writer(text)  # the default dialect is RFC 4180's
    writer.writerow(header)
    writer.writerows([_harmless(cell) for cell in row] for row in rows)
    return text.getvalue().encode("utf-8", "replace")


def _harmless(cell: Cell) -> Cell:
    return f"'{cell}" if isinstance(cell, str) and cell.startswith(_STARTS_A_FORMULA) else cell
