"""Reads a Standard MIDI File into a `Score`. The rules are in docs/reading-midi.md."""

from __future__ import annotations

import hashlib
from dataclasses import replace
from pathlib import Path

import numpy as np

from pegwright.columns import Ints, frozen_ints
from pegwright.edit.offset import song_end
from pegwright.errors import InputError, check_limit
from pegwright.findings import Finding, Notices
from pegwright.formats import MAX_MIDI_BYTES, MAX_QUARTERS
from pegwright.read.midi.changes import read_changes, read_spellings, starts_in_turn
from pegwright.read.midi.chunks import read_layout
from pegwright.read.midi.events import read_events
from pegwright.read.midi.findings import break_findings, notice_notes, notice_time
from pegwright.read.midi.notes import Notes, pair_notes
from pegwright.read.midi.notices import MidiFault, MidiNotice
from pegwright.read.midi.parts import Labels, name_parts, read_labels
from pegwright.read.midi.time import Clock, clock_of, lay_bars, lay_tempi
from pegwright.score import Part, Score

_NO_TITLES = frozenset({"control track", "conductor", "conductor track", "tempo", "tempo track", "untitled", "track 0"})


def read_midi(data: bytes, file_name: str) -> tuple[Score, tuple[Finding, ...]]:
    """Read a Standard MIDI File of any format.

    Args:
        data: the file's bytes.
        file_name: its base name, for the title where the file has none, and for messages.

    Returns:
        The score; what was mended, assumed or ignored.

    Raises:
        InputError: nothing in it can be read as music, or it is beyond a limit of `formats`.
    """
    check_limit(len(data), MAX_MIDI_BYTES, "bytes of MIDI", file_name)
    faults, notices = Notices(MidiFault, file_name), Notices(MidiNotice, file_name)
    events = read_events((layout := read_layout(data, faults)).tracks, faults)
    changes = read_changes(events.metas, notices)
    clock = clock_of(layout.division, changes.first_tempo)
    notes = pair_notes(events.notes, events.track_ends)
    starts = frozen_ints(np.zeros(len(layout.tracks)))
    if layout.format == 2:
        starts = starts_in_turn(changes, events.track_ends, clock.ticks_per_quarter)
        begin = starts[notes.voice >> 4]
        notes = replace(notes, onset=notes.onset + begin, end=notes.end + begin)
    last_tick = song_end(notes.onset, notes.end, clock.ticks_per_quarter)
    _check_length(last_tick, clock, file_name)
    tempi, metres = changes.on_line(starts.tolist())
    bar_map, clock, inside_count = lay_bars(metres, clock, last_tick, file_name)
    voices, part = np.unique(notes.voice, return_inverse=True)
    order = np.lexsort((notes.pitch_midi, part, notes.onset))
    labels = read_labels(events.metas, events.programs)
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
        spelling=read_spellings(events.metas, starts, notes.onset[order], notes.pitch_midi[order]),
    )
    notice_notes(score, notes, order, notices)
    notice_time(score, layout, changes, notices)
    notices.add(MidiNotice.METRE_INSIDE, inside_count)
    notices.add(MidiNotice.PEDAL, events.pedal_count)
    notices.add(MidiNotice.BEND, events.bend_count)
    return score, (*faults.findings(), *break_findings(events.breaks, layout.tracks, file_name), *notices.findings())


def _check_length(last_tick: int, clock: Clock, file_name: str) -> None:
    quarters = last_tick / clock.ticks_per_quarter
    if quarters > MAX_QUARTERS:
        end = f"{float(quarters):,.0f} quarter notes into the song"
        message = f"the last note ends {end}; at most {MAX_QUARTERS:,} are read"
        raise InputError(message, where=file_name, hint="cut the song into shorter files")


def _title(labels: Labels, track_count: int, voices: Ints) -> str:
    """The first track's name, where that track is the whole song or has no notes: then it names the song.

    Programs also name that track after its purpose; such a name is no title.

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
