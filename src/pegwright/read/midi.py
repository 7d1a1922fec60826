"""Reads a Standard MIDI File into a `Score`. The rules are told to users in docs/reading-midi.md."""

from __future__ import annotations

import hashlib
from dataclasses import replace
from pathlib import Path

import numpy as np

from pegwright.columns import Ints, frozen_ints
from pegwright.errors import InputError
from pegwright.findings import Finding, Severity
from pegwright.fit.offset import constant_offset, song_end
from pegwright.read.limits import MAX_MIDI_BYTES, MAX_QUARTERS
from pegwright.read.midi_changes import Changes, read_changes, starts_in_turn
from pegwright.read.midi_chunks import Layout, read_layout
from pegwright.read.midi_events import Events, read_events
from pegwright.read.midi_notes import Notes, pair_notes
from pegwright.read.midi_parts import Labels, name_parts, read_labels
from pegwright.read.midi_time import MAX_BEAT_TYPE, Clock, clock_of, lay_bars, lay_tempi
from pegwright.score import Part, Score
from pegwright.units import plural, quarters_per_minute

_NO_TITLES = frozenset({"control track", "conductor", "conductor track", "tempo", "tempo track", "untitled", "track 0"})
_SHORTER = "cut the song into shorter files"


def read_midi(data: bytes, file_name: str) -> tuple[Score, tuple[Finding, ...]]:
    """Read a Standard MIDI File of any format.

    Args:
        data: the file's bytes.
        file_name: its base name, for the title where the file has none, and for messages.

    Returns:
        The score; what was mended, assumed or passed over.

    Raises:
        InputError: nothing in it can be read as music, or it is beyond a limit of `read.limits`.
    """
    if len(data) > MAX_MIDI_BYTES:
        raise InputError(
            f"{len(data):,} bytes of MIDI; at most {MAX_MIDI_BYTES:,} are read", where=file_name, hint=_SHORTER
        )
    layout = read_layout(data, file_name)
    events, mended = read_events(layout, file_name)
    changes = read_changes(events.others)
    clock = clock_of(layout.division, changes.first_tempo)
    notes = pair_notes(events.notes, events.track_ends)
    starts = frozen_ints(np.zeros(len(layout.tracks)))
    if layout.format == 2:
        starts = starts_in_turn(changes, events.track_ends, clock.ticks_per_quarter)
        moved = starts[notes.voice >> 4]
        notes = replace(notes, onset=notes.onset + moved, end=notes.end + moved)
    last_tick = song_end(notes.onset, notes.end, clock.ticks_per_quarter)
    _check_length(last_tick, clock, file_name)
    tempi, metres = changes.on_line(starts.tolist())
    bar_map, clock, inside_count = lay_bars(metres, clock, last_tick, file_name)
    voices, part = np.unique(notes.voice, return_inverse=True)
    order = np.lexsort((notes.pitch_midi, part, notes.onset))
    labels = read_labels(events.others)
    score = Score(
        title=_title(labels, len(layout.tracks), voices) or Path(file_name).stem or file_name,
        file=Path(file_name).name,
        sha256=hashlib.sha256(data).hexdigest(),
        resolution=clock.resolution,
        tolerance_ticks=clock.tolerance_units,
        onset_ticks=frozen_ints(notes.onset[order] * clock.scale),
        duration_ticks=frozen_ints((notes.end - notes.onset)[order] * clock.scale),
        pitch_midi=frozen_ints(notes.pitch_midi[order]),
        velocity=frozen_ints(notes.velocity[order]),
        part=frozen_ints(part[order]),
        parts=_parts(notes, voices, part, starts, labels),
        tempo_map=lay_tempi(tempi, clock),
        bar_map=bar_map,
    )
    findings = (
        *layout.findings,
        *mended,
        *_note_findings(score, notes, order),
        *_time_findings(score, layout, changes, inside_count),
        *_passed_over(events, file_name),
    )
    return score, findings


def _check_length(last_tick: int, clock: Clock, file_name: str) -> None:
    if last_tick > MAX_QUARTERS * clock.ticks_per_quarter:
        raise InputError(
            f"the last note ends {float(last_tick / clock.ticks_per_quarter):,.0f} quarter notes into the song; "
            f"at most {MAX_QUARTERS:,} are read",
            where=file_name,
            hint=_SHORTER,
        )


def _title(labels: Labels, track_count: int, voices: Ints) -> str:
    """The first track's name, where that track is the whole song or has no notes: then it names the song.

    Programs also name that track after its task; such a name is no title.

    Source: Standard MIDI Files 1.0, meta event FF 03 (from memory): in the first track, the name of the sequence.
    """
    names_song = track_count == 1 or not np.any(voices >> 4 == 0)
    name = labels.track_names.get(0, "") if names_song else ""
    return "" if name.casefold() in _NO_TITLES else name


def _parts(notes: Notes, voices: Ints, part: Ints, starts: Ints, labels: Labels) -> tuple[Part, ...]:
    first_onsets = np.full(len(voices), np.iinfo(np.int64).max)
    np.minimum.at(first_onsets, part, notes.onset)
    own_onsets = first_onsets - starts[voices >> 4]
    return tuple(name_parts(voices.tolist(), own_onsets.tolist(), labels, single_track=len(starts) == 1))


def _note_findings(score: Score, notes: Notes, order: Ints) -> list[Finding]:
    found: list[Finding] = []
    if not score.note_count:
        found.append(Finding("no-notes", Severity.NOTE, score.file, "the file has no notes in it"))
    if notes.hanging_count:
        where = str(score.source(int(np.flatnonzero(notes.hanging[order])[0])))
        message = (
            f"{plural(notes.hanging_count, 'note')} never end{'s' if notes.hanging_count == 1 else ''}; "
            "such a note is held to the next event of its pitch, or to the end of its track"
        )
        found.append(Finding("hanging-notes", Severity.MENDED, where, message, count=notes.hanging_count))
    if overlap_count := int(np.count_nonzero(notes.overlapping)):
        where = str(score.source(int(np.flatnonzero(notes.overlapping[order])[0])))
        message = (
            f"{plural(overlap_count, 'note')} struck while the same pitch of the same part still sounds; "
            "the first note-off ends the note that began first"
        )
        found.append(Finding("overlapping-notes", Severity.NOTE, where, message, count=overlap_count))
    return found


def _time_findings(score: Score, layout: Layout, changes: Changes, inside_count: int) -> list[Finding]:
    found: list[Finding] = []

    def tell(severity: Severity, code: str, message: str, hint: str = "", count: int = 1) -> None:
        found.append(Finding(code, severity, score.file, message, hint, count))

    tempo = f"{quarters_per_minute(int(score.tempo_map.us_per_quarter[0])):g} quarter notes a minute"
    if layout.format == 2:
        sequences = plural(len(layout.tracks), "independent sequence")
        tell(Severity.NOTE, "midi-format-2", f"{sequences} played one after the other, each from a bar line")
    if layout.division & 0x8000:
        message = f"time is in film frames, not in beats; a quarter note was taken as at {tempo}, and that tempo holds"
        tell(Severity.NOTE, "midi-frames", message, "bars and beats are a guess; export the song with beats if you can")
    elif not changes.tempi:
        tell(Severity.NOTE, "tempo-assumed", f"the file states no tempo; {tempo} assumed")
    if not changes.metres:
        tell(Severity.NOTE, "metre-assumed", "the file states no metre; 4/4 assumed")
    if inside_count:
        tell(
            Severity.NOTE,
            "metre-inside-bar",
            "a new metre begins inside a bar; a new bar begins there",
            "",
            inside_count,
        )
    if changes.bad_tempo_count:
        message = "a tempo of 0 microseconds a quarter left out; at least 1 is needed"
        tell(Severity.MENDED, "midi-tempo", message, "", changes.bad_tempo_count)
    if changes.bad_metre_count:
        message = f"a metre of no beats or of beats shorter than 1/{MAX_BEAT_TYPE} left out"
        tell(Severity.MENDED, "midi-metre", message, "", changes.bad_metre_count)
    if late := constant_offset(score):
        message = (
            f"onsets stand {abs(late):,} of {score.resolution:,} ticks a quarter {'after' if late > 0 else 'before'} "
            "their places throughout"
        )
        tell(Severity.NOTE, "constant-offset", message, "--offset auto takes it out")
    return found


def _passed_over(events: Events, file_name: str) -> list[Finding]:
    found = []
    if events.pedal_count:
        message = "the sustain pedal is used; it is passed over, and notes end where their keys do"
        found.append(Finding("pedal-ignored", Severity.NOTE, file_name, message, count=events.pedal_count))
    if events.bend_count:
        message = "pitch bends are used; they are passed over, and notes keep their written pitch"
        found.append(Finding("bend-ignored", Severity.NOTE, file_name, message, count=events.bend_count))
    return found
