"""Many songs on one wheel, one line a song, as text and as JSON."""

from __future__ import annotations

from collections.abc import Sequence

from pegwright.fit.audible import Audibility
from pegwright.placement import Placement
from pegwright.score import Score
from pegwright.units import quarters_per_minute
from pegwright.wheel import Wheel
from pegwright.write.json_text import Json, json_bytes
from pegwright.write.report import Report, reason_code, report_on
from pegwright.write.tables import LINE_CELLS, one_line, text_table

HEADER = ("Song", "Bars", "Metre", "♩", "Notes", "Exact", "Moved", "Left out", "Verdict")
TITLE_CELLS = 30
VERDICT_CELLS = 34
FORMAT = "pegwright summary"
VERSION = 1


def summary_text(wheel: Wheel, songs: Sequence[tuple[Score, Placement]]) -> str:
    """One table line for each song and a line of totals; notes = exact + moved + left out on every line.

    Args:
        wheel: what all songs were fitted to.
        songs: each song with what came of it.
    """
    reports = [report_on(score, wheel, placement, ()) for score, placement in songs]
    rows = [_row(score, placement, report) for (score, placement), report in zip(songs, reports, strict=True)]
    totals = [sum(counts) for counts in zip(*map(_counts, reports), strict=True)] if reports else [0] * 4
    lines = text_table(
        HEADER, [*rows, ("All songs", "", "", "", *(f"{count:,}" for count in totals), "")], left=(0, 2, 8)
    )
    rule = "─" * min(LINE_CELLS, max(map(len, lines)))
    return "\n".join([lines[0], rule, *lines[1:-1], rule, lines[-1]]) + "\n"


def summary_json(wheel: Wheel, songs: Sequence[tuple[Score, Placement]]) -> bytes:
    """The same as `summary_text` for programs."""
    lines: list[Json] = []
    for score, placement in songs:
        report = report_on(score, wheel, placement, ())
        exact, moved, left_out = _counts(report)[1:]
        lines.append(
            {
                "title": score.title,
                "file": score.file,
                "bars": len(score.bar_map.ticks),
                "notes": report.notes,
                "exact": exact,
                "moved": moved,
                "left_out": left_out,
                "left_out_by_reason": {reason_code(reason): len(told) for reason, told in report.reasons().items()},
            }
        )
    return json_bytes({"format": FORMAT, "version": VERSION, "wheel": wheel.name, "songs": lines})


def _row(score: Score, placement: Placement, report: Report) -> tuple[str, ...]:
    bars = score.bar_map
    metres = {f"{beats}/{kind}" for beats, kind in zip(bars.beats.tolist(), bars.beat_types.tolist(), strict=True)}
    return (
        one_line(score.title, TITLE_CELLS),
        f"{len(bars.ticks):,}",
        metres.pop() if len(metres) == 1 else "mixed",
        f"{quarters_per_minute(placement.us_per_quarter):.4g}",
        *(f"{count:,}" for count in _counts(report)),
        one_line(_verdict(report), VERDICT_CELLS),
    )


def _counts(report: Report) -> tuple[int, int, int, int]:
    """Notes, exact, moved, left out."""
    moved = sum(count for level, count in report.heard.items() if level > Audibility.EXACT)
    return report.notes, report.placed - moved, moved, len(report.left_out)


def _verdict(report: Report) -> str:
    if not report.left_out:
        audible = report.heard[Audibility.AUDIBLE]
        return f"all in, {audible} moved audibly" if audible else "all in"
    counts = sorted(((len(told), reason.words) for reason, told in report.reasons().items()), reverse=True)
    return ", ".join(f"{count} {words}" for count, words in counts)
