"""What reading a MIDI file mended, assumed or ignored, in words."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from pegwright.columns import Ints
from pegwright.edit.offset import constant_offset
from pegwright.findings import Finding, Severity
from pegwright.read.midi.changes import Changes
from pegwright.read.midi.chunks import Layout
from pegwright.read.midi.events import Events
from pegwright.read.midi.notes import Notes
from pegwright.read.midi.scan import ACROSS_META
from pegwright.read.midi.time import MAX_BEAT_TYPE
from pegwright.score import Score
from pegwright.units import plural, printed, quarters_per_minute

_FAULTS = {
    "midi-no-end": "tracks without an end of track read to their last event",
    "midi-running-status": "events that go on from an earlier status byte across a meta or system event read that way",
    "midi-data-byte": "data bytes above their bound of 127: a velocity read as 127, other events left out",
    "midi-key-signature": "key signatures that name no key ignored",
    "midi-meta-length": "tempo or metre events of a wrong length read as far as they go",
    "midi-system-event": "system messages, which a file cannot hold, ignored",
    "midi-after-end": "bytes after an end of track left out",
}


def fault_findings(events: Events, bodies: Sequence[bytes], file_name: str) -> list[Finding]:
    """What was wrong inside tracks.

    Args:
        events: as read.
        bodies: the bytes of each track's events.
        file_name: for messages.
    """
    counts = Counter(events.faults)
    across_meta_count = counts.pop(ACROSS_META, 0)
    if counts.total() or events.breaks:  # in a file without other faults every reader allows it
        counts["midi-running-status"] += across_meta_count
    faults = [
        Finding(code, Severity.MENDED, file_name, text, count=counts[code])
        for code, text in _FAULTS.items()
        if counts[code]
    ]
    breaks = [
        Finding(
            "midi-track-broken",
            Severity.MENDED,
            f"{file_name}:track {printed(track)}",
            f"the events break off at byte {at:,} of the track; {plural(len(bodies[track]) - at, 'byte')} after it "
            "left out",
            "export the song again if notes are missing",
        )
        for track, at in events.breaks.items()
    ]
    return [*faults, *breaks]


def note_findings(score: Score, notes: Notes, order: Ints) -> list[Finding]:
    """What was unusual about notes.

    Args:
        score: as read.
        notes: as paired.
        order: shape (n,), index into `notes` of each note of the score.
    """
    findings: list[Finding] = []

    def first_where(mask: NDArray[np.bool_]) -> str:
        return str(score.source(int(np.flatnonzero(mask[order])[0])))

    if not score.note_count:
        findings.append(Finding("no-notes", Severity.NOTE, score.file, "the file has no notes in it"))
    if count := notes.hanging_count:
        message = (
            f"{plural(count, 'note')} never end{'s' if count == 1 else ''}; "
            "such a note is held to the next event of its pitch, or to the end of its track"
        )
        where = first_where(notes.hanging)
        findings.append(Finding("hanging-notes", Severity.MENDED, where, message, count=count))
    if count := int(np.count_nonzero(notes.overlapping)):
        message = (
            f"{plural(count, 'note')} struck while the same pitch of the same part still sounds; "
            "the first note-off ends the note that began first"
        )
        where = first_where(notes.overlapping)
        findings.append(Finding("overlapping-notes", Severity.NOTE, where, message, count=count))
    return findings


def time_findings(score: Score, layout: Layout, changes: Changes, inside_count: int) -> list[Finding]:
    """What was assumed or unusual about time.

    Args:
        score: as read.
        layout: of the file.
        changes: of tempo and metre.
        inside_count: metre changes inside a bar.
    """
    findings: list[Finding] = []

    def add(severity: Severity, code: str, message: str, count: int = 1, hint: str = "") -> None:
        findings.append(Finding(code, severity, score.file, message, hint, count))

    tempo = f"{quarters_per_minute(int(score.tempo_map.us_per_quarter[0])):g} quarter notes a minute"
    if layout.format == 2:
        sequences = plural(len(layout.tracks), "independent sequence")
        add(Severity.NOTE, "midi-format-2", f"{sequences} played one after the other, each from a bar line")
    if layout.division & 0x8000:
        message = f"time is in film frames, not in beats; a quarter note was taken as at {tempo}, and that tempo holds"
        hint = "bars and beats are a guess; export the song with beats if you can"
        add(Severity.NOTE, "midi-frames", message, hint=hint)
    elif not changes.tempi:
        add(Severity.NOTE, "tempo-assumed", f"the file states no tempo; {tempo} assumed")
    if not changes.metres:
        add(Severity.NOTE, "metre-assumed", "the file states no metre; 4/4 assumed")
    if inside_count:
        message = "a new metre begins inside a bar; a new bar begins there"
        add(Severity.NOTE, "metre-inside-bar", message, inside_count)
    if count := changes.bad_tempo_count:
        add(Severity.MENDED, "midi-tempo", "a tempo of 0 microseconds a quarter left out; at least 1 is needed", count)
    if count := changes.bad_metre_count:
        message = f"a metre of no beats or of beats shorter than 1/{MAX_BEAT_TYPE} left out"
        add(Severity.MENDED, "midi-metre", message, count)
    if late := constant_offset(score):
        side = "after" if late > 0 else "before"
        message = f"onsets are {abs(late):,} of {score.resolution:,} ticks a quarter {side} their places throughout"
        add(Severity.NOTE, "constant-offset", message, hint="--offset auto takes it out")
    return findings


def ignored_findings(events: Events, file_name: str) -> list[Finding]:
    """Findings on what the file holds and a wheel cannot play."""
    pedal = "the sustain pedal is used; it is ignored, and notes end where their keys do"
    bends = "pitch bends are used; they are ignored, and notes keep their written pitch"
    uses = (("pedal-ignored", pedal, events.pedal_count), ("bend-ignored", bends, events.bend_count))
    return [Finding(code, Severity.NOTE, file_name, message, count=count) for code, message, count in uses if count]
