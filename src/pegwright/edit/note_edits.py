"""Note edits carried out: single notes of a score dropped, moved, repeated, in another octave or on another channel.

Every edit names its notes in the score as it was read, so edits do not disturb each other's places. Those of one note
are carried out in their order. One that names no note is refused, and so is one that leads out of the score.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace
from fractions import Fraction

import numpy as np

from pegwright.ask.note_edits import NoteEdit, NoteVerb, Place
from pegwright.columns import Ints, frozen_ints
from pegwright.errors import UsageError
from pegwright.findings import Finding, Severity
from pegwright.formats import MAX_RESOLUTION
from pegwright.frozen import frozen
from pegwright.score import NAMED_PARTS, Part, Score, bar_name, beat_name
from pegwright.spelling import UNKNOWN, frozen_spellings
from pegwright.units import nearest_hint, plural
from pegwright.wheel import Wheel

OPTION = "--note-edit"
HIGHEST_PITCH = 127
SEMITONES_PER_OCTAVE = 12
_PRINTED_BEATS = Fraction(1, 200)  # half of the last digit of `near beat 2.44`
_NEAR_SHOWN = 3


@frozen(eq=False)
class EditedNotes:
    """A score with its notes edited.

    Args:
        score: with the edits made.
        dropped: how many notes were dropped.
        added: how many were added by repeating.
        findings: one for each edit.
    """

    score: Score
    dropped: int
    added: int
    findings: tuple[Finding, ...]


def edit_notes(score: Score, edits: Sequence[NoteEdit], wheel: Wheel, transpose_semitones: int) -> EditedNotes:
    """Carry out note edits.

    Args:
        score: as it was read.
        edits: in their order.
        wheel: its channels can be named.
        transpose_semitones: by which the whole song is transposed afterwards.

    Raises:
        UsageError: an edit names no note, or leads to a bar, beat, pitch or channel that there is not.
    """
    if not edits:
        return EditedNotes(score, 0, 0, ())
    places = [_ticks(score, edit) for edit in edits]
    factor = math.lcm(*(tick.denominator for ticks in places for tick in ticks))
    if score.resolution * factor > MAX_RESOLUTION:
        raise UsageError(
            f"the beats named divide a quarter note into {score.resolution * factor:,} parts, above {MAX_RESOLUTION:,}",
            where=f"{score.file}, {OPTION}",
            hint="name beats by simple fractions",
        )
    desk = _Desk(score.in_finer_ticks(factor) if factor > 1 else score, wheel, transpose_semitones)
    findings = []
    for edit, ticks in zip(edits, places, strict=True):
        notes = _notes_of(score, edit)
        desk.carry_out(edit, notes, [int(tick * factor) for tick in ticks])
        where = str(score.source(notes[0]))
        words = _words(edit, len(notes))
        severity = Severity.NOTE if edit.verb is NoteVerb.DROP else Severity.CHANGED
        findings.append(Finding(f"note-{edit.verb}", severity, where, words, count=len(notes)))
    return desk.finished(tuple(findings))


class _Desk:
    """The columns of a score while its notes are edited.

    Args:
        score: as it was read, in ticks fine enough for every place.
        wheel: its channels can be named.
        transpose_semitones: of the whole song.
    """

    def __init__(self, score: Score, wheel: Wheel, transpose_semitones: int) -> None:
        self._score, self._wheel, self._transpose = score, wheel, transpose_semitones
        self._onset, self._pitch, self._part = (
            np.array(column) for column in (score.onset_ticks, score.pitch_midi, score.part)
        )
        self._kept = np.ones(score.note_count, dtype=bool)
        self._repeated: list[tuple[int, int, int, int]] = []  # note, onset, pitch and part of each
        self._parts = list(score.parts)

    def carry_out(self, edit: NoteEdit, notes: Sequence[int], ticks: Sequence[int]) -> None:
        """Carry out one edit.

        Args:
            edit: see there.
            notes: that it names.
            ticks: for each of them where it goes, if anywhere.
        """
        for number, note in enumerate(notes):
            match edit.verb:
                case NoteVerb.DROP:
                    self._kept[note] = False
                case NoteVerb.MOVE:
                    self._onset[note] = ticks[number]
                case NoteVerb.REPEAT:
                    self._repeated.append((note, ticks[number], int(self._pitch[note]), int(self._part[note])))
                case NoteVerb.RAISE | NoteVerb.LOWER:
                    self._pitch[note] = self._octave(edit, note)
                case NoteVerb.SOUND:
                    self._sound(edit, note)

    def finished(self, findings: tuple[Finding, ...]) -> EditedNotes:
        """The score as it was edited."""
        extra = np.array(self._repeated, dtype=np.int64).reshape(-1, 4)
        chosen = np.concatenate([np.flatnonzero(self._kept), extra[:, 0]])
        score = self._score.with_notes(chosen)
        onset, pitch, part = (
            frozen_ints(np.concatenate([column[self._kept], extra[:, place]]))
            for place, column in enumerate((self._onset, self._pitch, self._part), start=1)
        )
        spelling = score.spelling
        if len(spelling):
            same = (pitch - score.pitch_midi) % SEMITONES_PER_OCTAVE == 0
            spelling = frozen_spellings(np.where(same, spelling, UNKNOWN))
        edited = replace(
            score, onset_ticks=onset, pitch_midi=pitch, part=part, parts=tuple(self._parts), spelling=spelling
        )
        dropped = int(np.count_nonzero(~self._kept))
        return EditedNotes(edited.in_order(), dropped, len(self._repeated), findings)

    def _octave(self, edit: NoteEdit, note: int) -> int:
        pitch = int(self._pitch[note]) + SEMITONES_PER_OCTAVE * edit.octaves
        if self._score.parts[int(self._score.part[note])].percussion:
            message = f"{edit.text!r} is of a percussion part, which has no octaves"
            raise _refused(self._score, message, "sound it on another channel instead")
        if not 0 <= pitch <= HIGHEST_PITCH:
            message = f"{edit.text!r} leads to pitch {pitch}"
            raise _refused(self._score, message, f"MIDI pitches go from 0 to {HIGHEST_PITCH}")
        return pitch

    def _sound(self, edit: NoteEdit, note: int) -> None:
        """Put a note into a part of its own that the channel alone sounds, at a pitch or key that it has."""
        channel = next((each for each in self._wheel.channels if each.name == edit.channel), None)
        if channel is None:
            names = [each.name for each in self._wheel.channels]
            message = f"{self._wheel.name} has no channel {edit.channel[:40]!r}, which {edit.text!r} names"
            raise _refused(self._score, message, nearest_hint(edit.channel, names, "the wheel has no channels"))
        old = self._score.parts[int(self._score.part[note])]
        part = Part(f"{old.name} on {channel.name}", old.percussion, old.program, old.name, channel.name)
        if part not in self._parts:
            self._parts.append(part)
        self._part[note] = self._parts.index(part)
        sounds = channel.drum_keys if old.percussion else channel.pitches
        shift = 0 if old.percussion else self._transpose
        wanted = int(self._pitch[note]) + shift
        if not sounds:
            kind = "percussion key" if old.percussion else "pitch"
            message = f"channel {channel.name!r}, which {edit.text!r} names, sounds no {kind}"
            raise _refused(self._score, message, "name one that does")
        if wanted not in sounds:
            nearest = min(sounds, key=lambda sound: (abs(sound - wanted), sound))
            self._pitch[note] = min(max(nearest - shift, 0), HIGHEST_PITCH)


def _notes_of(score: Score, edit: NoteEdit) -> list[int]:
    """The notes that an edit names: those nearest to its place, within the rounding of the file and of a printed beat.

    Raises:
        UsageError: there are none.
    """
    parts = [number for number, part in enumerate(score.parts) if part.name == edit.part]
    if not parts:
        names = [part.name for part in score.parts]
        hint = nearest_hint(edit.part, names, "the score has no parts")
        raise _refused(score, f"{edit.text!r} names no note: the score has no part {edit.part!r}", hint)
    bars = _bars_of(score, edit.place.bar, edit.every_time)
    if not bars:
        labels = score.bar_map.labels
        hint = f"its bars are {labels[0]} to {labels[-1]}"
        where = bar_name(edit.place.bar)
        raise _refused(score, f"{edit.text!r} names no note: the score has no {where}", hint)
    alike = np.flatnonzero((score.part == parts[0]) & (score.pitch_midi == edit.pitch_midi))
    notes = [note for bar in bars for note in _nearest(score, alike, bar, edit.place.beat)]
    if not notes:
        raise _refused(score, f"{edit.text!r} names no note", _near_hint(score, edit, parts[0], bars[0]))
    return notes


def _bars_of(score: Score, label: str, every_time: bool) -> list[int]:
    """Indexes of the bars of a label; with it also those of the later times round."""

    def same(other: str) -> bool:
        return other == label or (every_time and other.startswith(f"{label}, ") and other.endswith(" time"))

    return [bar for bar, other in enumerate(score.bar_map.labels) if same(other)]


def _nearest(score: Score, alike: Ints, bar: int, beat: Fraction) -> list[int]:
    """Of some notes those of a bar that are nearest to a beat, if they are near enough to be meant."""
    wanted = _tick_of(score, bar, beat)
    beat_ticks = Fraction(4 * score.resolution, int(score.bar_map.beat_types[bar]))
    slack = Fraction(score.tolerance_ticks)
    near: dict[Fraction, list[int]] = {}
    for note in alike.tolist():
        tick = int(score.onset_ticks[note])
        if score.bar_map.bar_of(tick) != bar:
            continue
        _, named = score.bar_map.place_of(tick, score.resolution)
        allowed = slack if named.denominator in NAMED_PARTS else max(slack, _PRINTED_BEATS * beat_ticks)
        if abs(tick - wanted) <= allowed:
            near.setdefault(abs(tick - wanted), []).append(note)
    return near[min(near)] if near else []


def _near_hint(score: Score, edit: NoteEdit, part: int, bar: int) -> str:
    """The notes of the part in the bar, the nearest first."""
    wanted = _tick_of(score, bar, edit.place.beat)
    in_bar = [
        note
        for note in np.flatnonzero(score.part == part).tolist()
        if score.bar_map.bar_of(int(score.onset_ticks[note])) == bar
    ]
    label = bar_name(score.bar_map.labels[bar])
    if not in_bar:
        return f"{edit.part!r} has no notes in {label}"
    in_bar.sort(key=lambda note: (abs(int(score.onset_ticks[note]) - wanted), int(score.pitch_midi[note])))
    percussion = score.parts[part].percussion
    near = [f"{beat_name(score.source(note).beat)}, {_pitch_words(score, note, percussion)}" for note in in_bar]
    return f"the nearest in {label}: {'; '.join(near[:_NEAR_SHOWN])}"


def _pitch_words(score: Score, note: int, percussion: bool) -> str:
    return str(int(score.pitch_midi[note])) if percussion else score.pitch_name(note)


def _ticks(score: Score, edit: NoteEdit) -> list[Fraction]:
    """Where each of the notes that an edit names goes, in ticks; nothing where they stay.

    Raises:
        UsageError: there is no such bar, or it has no such beat.
    """
    if edit.to is None:
        return []
    ticks = []
    for note in _notes_of(score, edit):
        bar = score.bar_map.bar_of(int(score.onset_ticks[note]))
        if edit.to.bar:
            bars = _bars_of(score, edit.to.bar, every_time=False)
            if not bars:
                labels = score.bar_map.labels
                message = f"{edit.text!r} leads to {bar_name(edit.to.bar)}, which the score has not"
                raise _refused(score, message, f"its bars are {labels[0]} to {labels[-1]}")
            bar = bars[0]
        ticks.append(_tick_in(score, edit, bar, edit.to))
    return ticks


def _tick_in(score: Score, edit: NoteEdit, bar: int, place: Place) -> Fraction:
    """The tick of a place in a bar, which must be in it."""
    tick, bars = _tick_of(score, bar, place.beat), score.bar_map
    end = int(bars.ticks[bar + 1]) if bar + 1 < len(bars.ticks) else bars.end_ticks
    if tick >= end:
        beats = Fraction((end - int(bars.ticks[bar])) * int(bars.beat_types[bar]), 4 * score.resolution)
        message = f"{edit.text!r} leads to {beat_name(place.beat)} of {bar_name(bars.labels[bar])}"
        raise _refused(score, message, f"that bar ends before beat {float(beats) + 1:g}")
    return tick


def _tick_of(score: Score, bar: int, beat: Fraction) -> Fraction:
    bars = score.bar_map
    into_bar = (beat - 1) * Fraction(4 * score.resolution, int(bars.beat_types[bar]))
    return int(bars.ticks[bar]) + into_bar - (0 if bar else bars.cut_ticks)


def _words(edit: NoteEdit, count: int) -> str:
    """What was done: `dropped, as asked: drop Melody, bar 12, beat 2.5, C5`."""
    participle = {
        NoteVerb.DROP: "dropped",
        NoteVerb.MOVE: "moved",
        NoteVerb.RAISE: "raised",
        NoteVerb.LOWER: "lowered",
        NoteVerb.SOUND: f"put on channel {edit.channel}",
        NoteVerb.REPEAT: "repeated",
    }[edit.verb]
    return f"{plural(count, 'note')} {participle}, as {OPTION} asks: {edit.text}"


def _refused(score: Score, message: str, hint: str) -> UsageError:
    return UsageError(message, where=score.file, hint=hint)
