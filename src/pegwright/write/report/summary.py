"""Many songs on one wheel, one line a song, as text and as JSON."""

from __future__ import annotations

from collections.abc import Sequence

from pegwright.json_value import Json
from pegwright.song import FittedSong
from pegwright.tell.audible import Audibility
from pegwright.tell.findings import reason_code
from pegwright.tell.report import Report
from pegwright.units import quarters_per_minute
from pegwright.wheel import Wheel
from pegwright.write.json_text import json_file
from pegwright.write.tables import one_line, paragraphs, ruled, text_table

HEADER = ("Song", "Bars", "Metre", "♩", "Notes", "Exact", "Moved", "Left out", "Verdict")
TITLE_CELLS = 30
VERDICT_CELLS = 34
FORMAT = "pegwright summary"
VERSION = 1


def summary_text(songs: Sequence[FittedSong]) -> str:
    """One table line for each song and a line of totals; notes = exact + moved + left out on every line.

    Args:
        songs: all on one wheel.
    """
    counts_of_each = [_counts(song.report) for song in songs]
    totals = [sum(counts) for counts in zip(*counts_of_each, strict=True)] or [0] * 4
    total = ("All songs", "", "", "", *(f"{count:,}" for count in totals), "")
    lines = text_table(HEADER, [*map(_row, songs), total], left=(0, 2, 8))
    return paragraphs([ruled(lines)])


def summary_json(wheel: Wheel, songs: Sequence[FittedSong]) -> bytes:
    """The same as `summary_text` for programs."""
    return json_file(FORMAT, VERSION, {"wheel": wheel.name, "songs": [_song_json(song) for song in songs]})


def _song_json(song: FittedSong) -> dict[str, Json]:
    report = song.report
    _, exact, moved, left_out = _counts(report)
    return {
        "title": song.score.title,
        "file": song.score.file,
        "bars": len(song.score.bar_map.ticks),
        "notes": report.notes,
        "exact": exact,
        "moved": moved,
        "left_out": left_out,
        "left_out_by_reason": {reason_code(reason): len(notes) for reason, notes in report.reasons().items()},
    }


def _row(song: FittedSong) -> tuple[str, ...]:
    score, report = song.score, song.report
    bars = score.bar_map
    metres = {f"{beats}/{kind}" for beats, kind in zip(bars.beats.tolist(), bars.beat_types.tolist(), strict=True)}
    return (
        one_line(score.title, TITLE_CELLS),
        f"{len(bars.ticks):,}",
        metres.pop() if len(metres) == 1 else "mixed",
        f"{quarters_per_minute(song.turns[0].placement.us_per_quarter):.4g}",
        *(f"{count:,}" for count in _counts(report)),
        one_line(_verdict(song), VERDICT_CELLS),
    )


def _counts(report: Report) -> tuple[int, int, int, int]:
    """Notes, exact, moved, left out."""
    moved = sum(count for level, count in report.audibility_counts.items() if level > Audibility.EXACT)
    return report.notes, report.placed - moved, moved, len(report.left_out)


def _verdict(song: FittedSong) -> str:
    report = song.report
    if not report.left_out:
        audible = report.audibility_counts[Audibility.AUDIBLE]
        turns = f", {len(song.turns)} turns" if song.several_turns else ""
        return f"all in{turns}, {audible} moved audibly" if audible else f"all in{turns}"
    counts = sorted(((len(notes), reason.words) for reason, notes in report.reasons().items()), reverse=True)
    return ", ".join(f"{count} {words}" for count, words in counts)
