"""What the reader of MIDI can notice: what it mended, assumed or ignored."""

from __future__ import annotations

from pegwright.findings import NoticeKind, Severity
from pegwright.read.midi.time import MAX_BEAT_TYPE

_NOTE, _MENDED = Severity.NOTE, Severity.MENDED
_GUESS = "bars and beats are a guess; export the song with beats if you can"
_HANGING = "never end{s}; such a note is held to the next event of its pitch, or to the end of its track"
_OVERLAPPING = "the same pitch of the same part still sounds; the first note-off ends the note that began first"
_FRAMES = "time is in film frames, not in beats; a quarter note was taken as at {tempo}, and that tempo holds"
_BAD_TEMPO = "a tempo of 0 microseconds a quarter left out; at least 1 is needed"
_BAD_METRE = f"a metre of no beats or of beats shorter than 1/{MAX_BEAT_TYPE} left out"
_PEDAL = "the sustain pedal is used; it is ignored, and notes end where their keys do"
_RUNNING_STATUS = "events that go on from an earlier status byte across a meta or system event read that way"
_DATA_BYTE = "data bytes above their bound of 127: a velocity read as 127, other events left out"
_OFFSET = "onsets are {late:,} of {resolution:,} ticks a quarter {side} their places throughout"


class MidiFault(NoticeKind):
    """Everything that can be wrong with the bytes of a file."""

    LEADING_BYTES = "midi-leading-bytes", _MENDED, "", "{skipped} before the MIDI header skipped", ""
    HEADER_LENGTH = "midi-header-length", _MENDED, "", "the header says it is {claimed:,} bytes long; read as 6", ""
    FORMAT = "midi-format", _MENDED, "", "the header says format {form}, which {misfit}; read as 1", ""
    STRAY_BYTES = "midi-stray-bytes", _MENDED, "", "{stray} between or after the tracks left out", ""
    TRACK_COUNT = "midi-track-count", _MENDED, "", "the header promises {promised}; {read} found and read", ""
    NO_END = "midi-no-end", _MENDED, "", "tracks without an end of track read to their last event", ""
    RUNNING_STATUS = "midi-running-status", _MENDED, "", _RUNNING_STATUS, ""
    DATA_BYTE = "midi-data-byte", _MENDED, "", _DATA_BYTE, ""
    KEY = "midi-key-signature", _MENDED, "", "key signatures that name no key ignored", ""
    META_LENGTH = "midi-meta-length", _MENDED, "", "tempo or metre events of a wrong length read as far as they go", ""
    SYSTEM_EVENT = "midi-system-event", _MENDED, "", "system messages, which a file cannot hold, ignored", ""
    AFTER_END = "midi-after-end", _MENDED, "", "bytes after an end of track left out", ""


class MidiNotice(NoticeKind):
    """Everything that can be unusual about a song, or is ignored since a wheel cannot play it."""

    NO_NOTES = "no-notes", _NOTE, "", "the file has no notes in it", ""
    HANGING = "hanging-notes", _MENDED, "note", _HANGING, ""
    OVERLAPPING = "overlapping-notes", _NOTE, "note", f"struck while {_OVERLAPPING}", ""
    FORMAT_2 = "midi-format-2", _NOTE, "", "{sequences} played one after the other, each from a bar line", ""
    FRAMES = "midi-frames", _NOTE, "", _FRAMES, _GUESS
    NO_TEMPO = "tempo-assumed", _NOTE, "", "the file states no tempo; {tempo} assumed", ""
    NO_METRE = "metre-assumed", _NOTE, "", "the file states no metre; 4/4 assumed", ""
    METRE_INSIDE = "metre-inside-bar", _NOTE, "", "a new metre begins inside a bar; a new bar begins there", ""
    BAD_TEMPO = "midi-tempo", _MENDED, "", _BAD_TEMPO, ""
    BAD_METRE = "midi-metre", _MENDED, "", _BAD_METRE, ""
    OFFSET = "constant-offset", _NOTE, "", _OFFSET, "--offset auto takes it out"
    PEDAL = "pedal-ignored", _NOTE, "", _PEDAL, ""
    BEND = "bend-ignored", _NOTE, "", "pitch bends are used; they are ignored, and notes keep their written pitch", ""
