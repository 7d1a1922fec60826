"""MusicXML (.musicxml, .xml, .mxl) to a score: repeats played out, ties joined, everything at sounding pitch."""

from __future__ import annotations

import hashlib
from collections.abc import Sequence
from pathlib import PurePath

import numpy as np

from pegwright.columns import Ints, frozen_ints
from pegwright.errors import check_limit
from pegwright.findings import Finding, Notices
from pegwright.formats import MAX_BARS, MAX_NOTES
from pegwright.musicxml.archive import xml_tree
from pegwright.musicxml.bars import PartWalk
from pegwright.musicxml.lengths import bar_lengths
from pegwright.musicxml.marks import BarMarks
from pegwright.musicxml.notes import PlayedPart, play_part, played_count
from pegwright.musicxml.notices import Notice
from pegwright.musicxml.order import playing_order
from pegwright.musicxml.parts import PartSource, clean, part_sources, score_title
from pegwright.musicxml.time import DEFAULT_METRE, STRAIGHT, bar_map, in_force, tempo_map, timeline
from pegwright.musicxml.written import WrittenPart
from pegwright.score import NO_ORNAMENT, Ornament, Part, Score, WrittenMusic, bar_name
from pegwright.spelling import frozen_spellings
from pegwright.units import UniqueNames, printed


def read_musicxml(data: bytes, file_name: str) -> tuple[Score, tuple[Finding, ...]]:
    """Read a MusicXML score as it sounds, every onset exact.

    The rules, with the reasons for them, are in docs/reading-musicxml.md.

    Args:
        data: the whole file, plain XML or a .mxl archive; its first bytes say which.
        file_name: the file's name, for `SourceRef`, messages and a missing title.

    Returns:
        The score, with tolerance 0, and what was noticed: one finding for each kind of thing.

    Raises:
        InputError: no readable MusicXML, or beyond a limit of `formats`.
    """
    file = PurePath(file_name).name or file_name
    root, notices = xml_tree(data, file), Notices(Notice, file)
    sources = part_sources(root, notices)
    labels = _bar_labels(sources, file)
    marks = [BarMarks() for _ in labels]
    written = [PartWalk(source, marks, f"{file}:{source.name}", notices).walk() for source in sources]
    metres = in_force([part.metres for part in written], len(labels), DEFAULT_METRE)
    metre_stated = any(part.metres for part in written)
    swings = in_force([part.swings for part in written], len(labels), STRAIGHT)
    lengths = bar_lengths(written, labels, notices)
    line = timeline(written, lengths, _order(marks, labels, notices), notices)
    check_limit(sum(played_count(part, line) for part in written), MAX_NOTES, "notes as played", file)
    played = [play_part(part, line) for part in written]
    for source, written_part, played_part in zip(sources, written, played, strict=True):
        _note_played(written_part, played_part, labels, f"{file}:{source.name}", notices)
    parts, ornaments, columns = _columns(sources, written, played)
    onset, part, pitch, duration, velocity, ornament, element, spelling = columns
    notices.add(Notice.NO_NOTES, 0 if len(onset) else len(labels))
    score = Score(
        title=score_title(root, file),
        file=file,
        sha256=hashlib.sha256(data).hexdigest(),
        resolution=line.resolution,
        tolerance_ticks=0,
        onset_ticks=frozen_ints(onset),
        duration_ticks=frozen_ints(duration),
        pitch_midi=frozen_ints(pitch),
        velocity=frozen_ints(velocity),
        part=frozen_ints(part),
        parts=tuple(parts),
        tempo_map=tempo_map(written, line),
        bar_map=bar_map(line, metres, labels, metre_stated, swings),
        ornament=frozen_ints(ornament if ornaments else []),
        ornaments=ornaments,
        spelling=frozen_spellings(spelling),
        written=frozen_ints(element),
    )
    notices.add(Notice.NO_TEMPO, not score.tempo_map.stated)
    notices.add(Notice.NO_METRE, not metre_stated)
    return score, notices.findings()


def read_written(data: bytes, file_name: str) -> WrittenMusic:
    """The bars of a MusicXML score as written.

    Args:
        data: the whole file, plain or compressed.
        file_name: for messages.

    Raises:
        InputError: as `read_musicxml` does.
    """
    file = PurePath(file_name).name or file_name
    sources = part_sources(xml_tree(data, file), Notices(Notice, file))
    parts = tuple((source.name, source.bars) for source in sources)
    return WrittenMusic(parts, tuple(_bar_labels(sources, file)))


def _bar_labels(sources: Sequence[PartSource], file: str) -> list[str]:
    """What is printed at every written bar: its number in the first part that has the bar."""
    longest = max(sources, key=lambda source: len(source.bars))
    check_limit(len(longest.bars), MAX_BARS, "bars", file)
    return [clean(bar.get("number"))[:20] or str(printed(index)) for index, bar in longest.bars.items()]


def _order(marks: list[BarMarks], labels: Sequence[str], notices: Notices) -> list[int]:
    """Written bars in playing order, with what was noticed about them."""
    order = playing_order(marks)
    notices.add(Notice.STRAIGHT, 0 if order.clear else len(marks))
    for notice, bars in order.faults.items():
        for bar in bars:
            notices.add(notice, where=f"{notices.file}:{bar_name(labels[bar])}")
    return order.bars


def _note_played(written: WrittenPart, played: PlayedPart, labels: Sequence[str], where: str, notices: Notices) -> None:
    notices.add(Notice.GRACE_FIRST, played.early_graces, where)
    notices.add(Notice.BEFORE_SONG, played.early_notes, where)
    for notice, rows in played.ties.items():
        for row in dict.fromkeys(rows):  # once for all the times round
            notices.add(notice, where=f"{where}:{bar_name(labels[written.bar[row]])}")


def _columns(
    sources: Sequence[PartSource], written: Sequence[WrittenPart], played: Sequence[PlayedPart]
) -> tuple[list[Part], tuple[Ornament, ...], Ints]:
    """The parts of the score, its different ornaments and, shape (8, n), its notes by onset, then part, then pitch.

    The rows are onset, part, pitch, duration, velocity, number of the ornament, number of the element, counted through
    all parts, and spelling.

    A part with both pitched and unpitched notes becomes two, since a pitch means something else in each.
    """
    different = tuple(dict.fromkeys(ornament for part in written for ornament in part.ornaments.values()))
    numbers = {ornament: number for number, ornament in enumerate(different)}
    parts: list[Part] = []
    columns = [np.zeros((8, 0), dtype=np.int64)]
    names = UniqueNames(source.name for source in sources)
    element_count = 0
    for source, part, notes in zip(sources, written, played, strict=True):
        ornament = np.full(len(part.bar), NO_ORNAMENT, dtype=np.int64)
        ornament[list(part.ornaments)] = [numbers[each] for each in part.ornaments.values()]
        element = np.array(part.element, dtype=np.int64) + element_count
        element_count += part.element_count
        spelling = np.array(part.spelling, dtype=np.int64)
        kinds = sorted(set(notes.unpitched.tolist())) or [False]
        for unpitched in kinds:
            name = source.name if unpitched == kinds[0] else names.take(f"{source.name}, unpitched")
            own = notes.unpitched == unpitched
            index = np.full(len(notes.onset), len(parts))
            rows = (notes.onset, index, notes.pitch, notes.duration, notes.velocity)
            columns.append(np.stack((*rows, ornament[notes.row], element[notes.row], spelling[notes.row]))[:, own])
            parts.append(Part(name, unpitched, None if unpitched else source.program))
    joined = np.concatenate(columns, axis=1)
    return parts, different, joined[:, np.lexsort((joined[2], joined[1], joined[0]))]
