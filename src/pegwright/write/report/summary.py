"""Many songs on one wheel, one line a song, as text and as JSON."""

from __future__ import annotations

from collections.abc import Sequence

from pegwright.json_value import Json
from pegwright.song import FittedSong
from pegwright.tell.audible import Audibility
from pegwright.tell.report import Report
from pegwright.units import quarters_per_minute
from pegwright.wheel import Wheel
from pegwright.write.json_text import json_file
from pegwright.write.note_count import note_count_json
from pegwright.write.tables import LINE_CELLS, TextTable, one_line, paragraphs

HEADER = ("Song", "Bars", "Metre", "♩", "Notes", "Sound", "Moved", "Left out", "Verdict")
TITLE_CELLS = 30
ALL_SOUND = "all sound"
FORMAT = "pegwright summary"
VERSION = 2


def summary_text(songs: Sequence[FittedSong], width: int = LINE_CELLS) -> str:
    """One table line for each song and a line of totals; notes = sound + left out on every line.

    Args:
        songs: all on one wheel.
        width: cells of a line.
    """
    counts_of_each = [_counts(song) for song in songs]
    totals = [sum(counts) for counts in zip(*counts_of_each, strict=True)] or [0] * 4
    total = ("All songs", "", "", "", *(f"{count:,}" for count in totals), "")
    rows = [*(_row(song, width) for song in songs), total]
    return paragraphs([[TextTable(HEADER, rows, left=(0, 2, 8), below=((1, 2, 3),), over=True, ruled=True)]], width)


def summary_json(wheel: Wheel, songs: Sequence[FittedSong]) -> bytes:
    """The same as `summary_text` for programs."""
    return json_file(FORMAT, VERSION, {"wheel": wheel.name, "songs": [_song_json(song) for song in songs]})


def _song_json(song: FittedSong) -> dict[str, Json]:
    moved = _moved(song.report)
    return {
        "title": song.score.title,
        "file": song.score.file,
        "bars": len(song.score.bar_map.ticks),
        "count": note_count_json(song.count),
        "exact": song.count.own_pin - moved,
        "moved": moved,
    }


def _row(song: FittedSong, width: int) -> tuple[str, ...]:
    """The cells of a song; where the verdict has a line of its own, one that only repeats the numbers is left out."""
    score, verdict = song.score, _verdict(song)
    bars = score.bar_map
    metres = {f"{beats}/{kind}" for beats, kind in zip(bars.beats.tolist(), bars.beat_types.tolist(), strict=True)}
    return (
        one_line(score.title, TITLE_CELLS),
        f"{len(bars.ticks):,}",
        metres.pop() if len(metres) == 1 else "mixed",
        f"{quarters_per_minute(song.turns[0].placement.us_per_quarter):.4g}",
        *(f"{count:,}" for count in _counts(song)),
        verdict if width >= LINE_CELLS or verdict != ALL_SOUND else "",
    )


def _counts(song: FittedSong) -> tuple[int, int, int, int]:
    """Notes, those that sound, those of them that were moved, left out."""
    count = song.count
    return count.read, count.sounding, _moved(song.report), count.left_out


def _moved(report: Report) -> int:
    return sum(count for level, count in report.audibility_counts.items() if level > Audibility.EXACT)


def _verdict(song: FittedSong) -> str:
    count = song.count
    if not count.left_out:
        audible = song.report.audibility_counts[Audibility.AUDIBLE]
        turns = f", {len(song.turns)} turns" if song.several_turns else ""
        return f"{ALL_SOUND}{turns}, {audible} moved audibly" if audible else f"{ALL_SOUND}{turns}"
    counts = sorted(((notes, reason.words) for reason, notes in count.left_out_by_reason.items()), reverse=True)
    return ", ".join(f"{count} {words}" for count, words in counts)
