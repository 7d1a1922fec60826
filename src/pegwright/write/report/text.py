"""The fit report as plain text for a terminal of 80 to 100 columns: the verdict first, then the reasons."""

from __future__ import annotations

import re
import textwrap
from collections import defaultdict
from collections.abc import Sequence
from fractions import Fraction
from pathlib import PurePath

from pegwright.ask.text import typed
from pegwright.findings import Finding, Severity
from pegwright.note_count import NoteCount
from pegwright.placement import Outcome, Placement, Status
from pegwright.running import running_summary
from pegwright.score import Score
from pegwright.song import FittedSong
from pegwright.tell.audible import Audibility
from pegwright.tell.counts import count_words
from pegwright.tell.report import Report, ReportedNote
from pegwright.units import figures, fraction_text, plural, quarters_per_minute, seconds_text
from pegwright.write.pin_map.json import start_of
from pegwright.write.tables import LINE_CELLS, one_line, paragraphs, text_table

LISTED = 5  # notes or lines of a group before "and N more"
THINNED = "thinned"  # how the codes of findings on notes dropped by --thin begin
NAME_CELLS = 40
PART_CELLS = 20
PLACE_CELLS = 60
_INDENT = "  "
_CUT = re.compile(rf"{_INDENT}and [0-9,]+ more\b")
_TITLES = {
    Severity.LOST: "Also lost",
    Severity.CHANGED: "Changed",
    Severity.MENDED: "Mended in reading",
    Severity.NOTE: "Worth knowing",
}


def report_text(song: FittedSong) -> str:
    """Verdict, what was fitted to what, notes left out by reason and dropped, those that sound, and all other findings.

    Args:
        song: on its wheel.

    Returns:
        lines of at most about 100 cells; long lists are cut, with the number of lines that are left out.
    """
    report, file = song.report, song.score.file
    count = song.count
    blocks = [textwrap.wrap(f"{count_words(count)}.", LINE_CELLS, subsequent_indent=_INDENT)]
    blocks.append([*_fitted(song), *_labelled("Options", one_line(typed(song.request), 6 * LINE_CELLS), whole=True)])
    blocks += [_left_out(reason, notes, file) for reason, notes in report.reasons().items()]
    thinned = [finding for finding in report.findings if finding.code.startswith(THINNED)]
    if thinned:
        title = f"Dropped on request, --thin: {plural(count.dropped_by_option.get('thin', 0), 'note')}"
        blocks.append(_finding_lines(title, thinned, file))
    blocks += [_sounding(count, report), _shared(report, file)] if count.sounding else []
    for severity, title in _TITLES.items():
        findings = [one for one in report.findings if one.severity == severity and one not in thinned]
        blocks += [_finding_lines(f"{title}:", findings, file)] if findings else []
    if any(_CUT.match(line) for block in blocks for line in block):
        blocks.append([f"Lists stop after {LISTED} here; the report as JSON holds every one."])
    return paragraphs(blocks)


def _fitted(song: FittedSong) -> list[str]:
    score, wheel, report, placement = song.score, song.wheel, song.report, song.whole_placement
    bars = plural(len(score.bar_map.ticks), "bar")
    tempo = f"{quarters_per_minute(placement.us_per_quarter):.4g} quarters a minute"
    plate, step = start_of(wheel, placement)
    semitones = placement.transpose_semitones
    rows = [
        ("Song", f"{_song(score)}, {bars}"),
        ("Wheel", f"{one_line(wheel.name, NAME_CELLS)}, {plural(wheel.plate_count, 'plate')}"),
        ("Length", _length(score, report)),
        ("Tempo", f"{tempo}, {seconds_text(report.turn_s)} a turn"),
        ("Start", f"plate {plate}, step {step}"),
    ]
    if song.several_turns:
        rows.insert(3, ("Turns", _turns(song)))
    if semitones:
        rows.append(("Pitch", f"{plural(abs(semitones), 'semitone')} {'up' if semitones > 0 else 'down'}"))
    if placement.status != Status.OPTIMAL:
        rows.append(("Search", _search(placement)))
    return [line for name, text in rows for line in _labelled(name, text)]


def _labelled(label: str, text: str, whole: bool = False) -> list[str]:
    """A labelled paragraph; `whole` words and options are never broken."""
    indents, breaks = (f"{label:8}", " " * 8), not whole
    return textwrap.TextWrapper(LINE_CELLS, *indents, break_long_words=breaks, break_on_hyphens=breaks).wrap(text)


def _turns(song: FittedSong) -> str:
    """`A A B A: 4 turns with 2 different sets of plates`."""
    sets = plural(len(song.pinnings), "different set", "different sets")
    return f"{running_summary(song.running)}: {plural(len(song.turns), 'turn')} with {sets} of plates"


def _song(score: Score) -> str:
    file = one_line(score.file, NAME_CELLS)
    return file if PurePath(score.file).stem == score.title else f"{one_line(score.title, NAME_CELLS)} ({file})"


def _length(score: Score, report: Report) -> str:
    quarters = fraction_text(Fraction(score.length_ticks, score.resolution))
    if report.turns == 1:
        return f"{quarters} quarters, exactly one turn"
    turns = float(report.turns)
    if turns < 1:
        return f"{quarters} quarters, {turns:.0%} of a turn"
    return f"{quarters} quarters, {figures(turns)} turns"


def _search(placement: Placement) -> str:
    short = placement.weight_bound - placement.weight
    return f"stopped before proving the best: at most {short / max(1, placement.weight_bound):.1%} could be gained"


def _left_out(reason: Outcome, notes: Sequence[ReportedNote], file: str) -> list[str]:
    heading = f"Left out, {reason.words}: {plural(len(notes), 'note')}"
    if reason == Outcome.NO_CHANNEL:
        return [heading, *_by_pitch(notes)]
    if reason == Outcome.PAST_TURN:
        return [heading, f"{_INDENT}from {' '.join(_place(notes[0]))} on"]
    return [heading, *_note_lines(notes, file)]


def _shared(report: Report, file: str) -> list[str]:
    if not report.shared:
        return []
    heading = f"Sounding by the pin of another note: {plural(len(report.shared), 'note')}"
    return [heading, *_note_lines(report.shared, file)]


def _note_lines(notes: Sequence[ReportedNote], file: str) -> list[str]:
    lines: list[str] = []
    for note in notes[:LISTED]:
        detail = note.detail.replace(f" {file}:", " ") or _pitch(note)
        lines += _wrapped(f"{' '.join(_place(note))}: {detail}{_in_brackets(note.hint)}")
    return lines + _more(len(notes))


def _by_pitch(notes: Sequence[ReportedNote]) -> list[str]:
    """One line for each pitch of a part: a channel that is missing is missing for all its notes."""
    groups: dict[tuple[str, int], list[ReportedNote]] = defaultdict(list)
    for note in notes:
        groups[note.source.part, note.pitch_midi].append(note)
    largest = sorted(groups.values(), key=lambda group: -len(group))
    lines = []
    for group in largest[:LISTED]:
        first = group[0]
        where = f"from {_bar_beat(first)} on" if len(group) > 1 else f"at {_bar_beat(first)}"
        what = f"{_pitch(first)}: {plural(len(group), 'note')} of {_place(first)[0]}"
        lines += _wrapped(f"{what}, {where}{_in_brackets(first.hint)}")
    return lines + _more(len(largest), "of other pitch or part")


def _sounding(count: NoteCount, report: Report) -> list[str]:
    counts = [f"{notes:,} {level.words}" for level, notes in report.audibility_counts.items() if notes]
    counts += [f"{count.shared_pin:,} by the pin of another note"] if count.shared_pin else []
    lines = [f"Sounding: {plural(count.sounding, 'note')}, {', '.join(counts)}"]
    if report.moved:
        lines.append(f"{_INDENT}how audible a move is: a guide from listening tests, not a pass mark")
    for level in sorted(Audibility, reverse=True):
        notes = [note for note in report.moved if note.audibility == level]
        if level > Audibility.UNHEARD and notes:
            rows = [(f"{note.deviation_ms:+.1f} ms", *_place(note), _pitch(note)) for note in notes[:LISTED]]
            table = text_table(rows[0], rows[1:], left=(1, 2, 3))
            lines.append(f"{level.words.capitalize()}: moved by")
            lines += [f"{_INDENT}{line}" for line in table] + _more(len(notes))
    return lines


def _finding_lines(title: str, findings: Sequence[Finding], file: str) -> list[str]:
    lines = [title]
    kinds: dict[str, list[Finding]] = defaultdict(list)
    for finding in findings:
        kinds[finding.code].append(finding)
    for kind in kinds.values():
        for finding in kind[:LISTED]:
            place = "" if finding.where == file else finding.where.removeprefix(f"{file}:")
            where = f"{one_line(place, PLACE_CELLS)}: " if place else ""
            lines += _wrapped(f"{where}{finding.message}{_in_brackets(finding.hint)}")
        lines += _more(len(kind))
    return lines


def _wrapped(text: str) -> list[str]:
    """A sentence as lines that fit, the later ones indented; a very long one is cut."""
    return textwrap.TextWrapper(LINE_CELLS, _INDENT, 3 * _INDENT).wrap(one_line(text, 4 * LINE_CELLS))


def _more(count: int, things: str = "") -> list[str]:
    return [f"{_INDENT}and {count - LISTED:,} more {things}".rstrip()] if count > LISTED else []


def _place(note: ReportedNote) -> tuple[str, str]:
    return one_line(note.source.part, PART_CELLS), _bar_beat(note)


def _bar_beat(note: ReportedNote) -> str:
    return f"bar {one_line(note.source.bar, PART_CELLS)} beat {fraction_text(note.source.beat)}"


def _pitch(note: ReportedNote) -> str:
    return f"{note.pitch} ({note.pitch_midi})"


def _in_brackets(hint: str) -> str:
    return f" ({hint})" if hint else ""
