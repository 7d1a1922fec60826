"""What is unusual about a MIDI song, seen when its notes and its time are known."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np
from numpy.typing import NDArray

from pegwright.columns import Ints
from pegwright.edit.offset import constant_offset
from pegwright.findings import Finding, Notices, Severity
from pegwright.read.midi.changes import Changes
from pegwright.read.midi.chunks import Layout
from pegwright.read.midi.notes import Notes
from pegwright.read.midi.notices import MidiNotice
from pegwright.score import Score
from pegwright.units import plural, printed, quarters_per_minute


def break_findings(breaks: Mapping[int, int], bodies: Sequence[bytes], file_name: str) -> list[Finding]:
    """One finding for each track that breaks off.

    Args:
        breaks: offset at which a track's events break off, by track.
        bodies: the bytes of each track's events.
        file_name: for messages.
    """
    return [
        Finding(
            "midi-track-broken",
            Severity.MENDED,
            f"{file_name}:track {printed(track)}",
            f"the events break off at byte {at:,} of the track; {plural(len(bodies[track]) - at, 'byte')} after it "
            "left out",
            "export the song again if notes are missing",
        )
        for track, at in breaks.items()
    ]


def notice_notes(score: Score, notes: Notes, order: Ints, notices: Notices) -> None:
    """Note what is unusual about notes.

    Args:
        score: as read.
        notes: as paired.
        order: shape (n,), index into `notes` of each note of the score.
        notices: are added to.
    """

    def first_where(mask: NDArray[np.bool_]) -> str:
        return str(score.source(int(np.argmax(mask[order]))))

    hanging, overlapping = notes.hanging_count, int(np.count_nonzero(notes.overlapping))
    notices.add(MidiNotice.NO_NOTES, not score.note_count)
    if hanging:
        notices.add(MidiNotice.HANGING, hanging, first_where(notes.hanging), s="s" if hanging == 1 else "")
    if overlapping:
        notices.add(MidiNotice.OVERLAPPING, overlapping, first_where(notes.overlapping))


def notice_time(score: Score, layout: Layout, changes: Changes, notices: Notices) -> None:
    """Note what was assumed or is unusual about time.

    Args:
        score: as read.
        layout: of the file.
        changes: of tempo and metre.
        notices: are added to.
    """
    tempo = f"{quarters_per_minute(int(score.tempo_map.us_per_quarter[0])):g} quarter notes a minute"
    in_frames = bool(layout.division & 0x8000)
    sequences = plural(len(layout.tracks), "independent sequence")
    late = constant_offset(score)
    side = "after" if late > 0 else "before"
    notices.add(MidiNotice.FORMAT_2, layout.format == 2, sequences=sequences)
    notices.add(MidiNotice.FRAMES, in_frames, tempo=tempo)
    notices.add(MidiNotice.NO_TEMPO, not in_frames and not changes.tempi, tempo=tempo)
    notices.add(MidiNotice.NO_METRE, not changes.metres)
    notices.add(MidiNotice.OFFSET, late != 0, late=abs(late), resolution=score.resolution, side=side)
