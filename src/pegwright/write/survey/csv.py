"""A survey as CSV: one row a file."""

from __future__ import annotations

import unicodedata
from collections.abc import Sequence

from pegwright.note_count import REASONS
from pegwright.tell.findings import reason_code
from pegwright.units import printed, quarters_per_minute
from pegwright.verdict.tally import group_of
from pegwright.verdict.values import Sounding, SurveyRow, Verdict
from pegwright.write.csv_text import Cell, csv_bytes
from pegwright.write.json_text import rounded

_PIECE = ("title", "notes", "bars", "turns", "quarters_per_minute")
_AS_IS = ("as_is_placed", "as_is_shared", "as_is_left_out")
_BEST = ("transpose_semitones", "start_step", "placed", "shared", "left_out")
_REASONS = tuple(reason_code(reason).replace("-", "_") for reason in REASONS)
_REST = ("moved", "farthest_ms", "weight_gap", "lacks", "let_in_by_these", "error")
_LATER = ("sounding", "dropped", "as_is_sounding", *(f"as_is_{reason}" for reason in _REASONS), "played_by_hand")
HEADER = ("path", "verdict", *_PIECE, *_AS_IS, *_BEST, *_REASONS, *_REST, *_LATER)
LACKS_JOIN = "; "


def survey_csv(rows: Sequence[SurveyRow]) -> bytes:
    """One row for each path, in the order given."""
    return csv_bytes(HEADER, [_cells(row) for row in rows])


def path_text(path: str) -> str:
    r"""A path as one line, different from that of every other path: unprintable characters become escapes such as `\n`.

    A backslash is doubled; a byte that is not UTF-8 becomes `\xff`, a control or format character `\u200b`.
    """
    return "".join(mark if _is_plain(mark) else _escape(mark) for mark in path)


def _is_plain(mark: str) -> bool:
    return mark != "\\" and unicodedata.category(mark) not in {"Cc", "Cf", "Cs", "Co", "Cn", "Zl", "Zp"}


def _escape(mark: str) -> str:
    if 0xDC80 <= ord(mark) <= 0xDCFF:  # how Python holds a byte of a file name that is not UTF-8
        return f"\\x{ord(mark) - 0xDC00:02x}"
    return (
        mark.encode("unicode_escape").decode("ascii") if ord(mark) < 0x80 or ord(mark) > 0xFF else f"\\u{ord(mark):04x}"
    )


def _cells(row: SurveyRow) -> list[Cell]:
    head: list[Cell] = [path_text(row.path), str(group_of(row))]
    if row.verdict is None:
        return [*head, *[None] * (len(HEADER) - len(_LATER) - 3), row.error, *[None] * len(_LATER)]
    verdict = row.verdict
    best, as_is = verdict.at_best, verdict.as_is
    return [
        *head,
        *(verdict.title, best.count.read, verdict.bars, verdict.turns),
        rounded(quarters_per_minute(verdict.us_per_quarter)),
        *_counts(as_is),
        *(verdict.transpose_semitones, printed(verdict.start_steps)),
        *_counts(best),
        *_by_reason(best),
        *(best.moved, rounded(best.farthest_ms), verdict.weight_gap),
        LACKS_JOIN.join(addition.code for addition in verdict.lacks) or None,
        _let_in(verdict),
        None,
        *(best.count.sounding, best.count.dropped, as_is.count.sounding, *_by_reason(as_is)),
        "yes" if verdict.by_hand else "no",
    ]


def _counts(sounding: Sounding) -> tuple[int, int, int]:
    return sounding.count.own_pin, sounding.count.shared_pin, sounding.count.left_out


def _by_reason(sounding: Sounding) -> list[int]:
    return [sounding.count.left_out_by_reason.get(reason, 0) for reason in REASONS]


def _let_in(verdict: Verdict) -> str | None:
    if verdict.fits:
        return None
    return "yes" if verdict.let_in else "no"
