"""What the reader of MusicXML can notice."""

from __future__ import annotations

from pegwright.findings import NoticeKind, Severity

_NOTE, _MENDED, _CHANGED = Severity.NOTE, Severity.MENDED, Severity.CHANGED
_WRITE_OUT = "write it out to hear it"
_PLAY = "play them with --ornaments 1/32"
_LOOK = "look at the bar in the score program"
_SWING = "swing them with --swing 2:1"
_GIVE_KEYS = "give every drum its MIDI key in the score program"


class Notice(NoticeKind):
    """Everything the reader of MusicXML can notice."""

    NO_TEMPO = "tempo-assumed", _NOTE, "", "the file states no tempo; 120 quarter notes a minute assumed", ""
    NO_METRE = "metre-assumed", _NOTE, "", "the file states no metre; 4/4 assumed", ""
    NO_NOTES = "no-notes", _NOTE, "bar", "without a single note that sounds", "check that this is the right file"
    CUE = "cue-notes", _NOTE, "cue note", "silent, as cue notes are", ""
    GRACE = "grace-notes", _NOTE, "grace note", "played as a 32nd just before the main note", ""
    GRACE_FIRST = "grace-notes-at-start", _CHANGED, "grace note", "before the first beat, played on it", ""
    ORNAMENT = "ornaments", _CHANGED, "ornament", "played as the plain note", _PLAY
    TREMOLO = "tremolos", _CHANGED, "tremolo", "played as the plain note", _PLAY
    OTHER_ORNAMENT = "other-ornaments", _CHANGED, "ornament", "of a rarer kind, played as the plain note", _WRITE_OUT
    TWO_NOTE = "two-note-tremolos", _CHANGED, "tremolo", "between two notes, played as the plain notes", _WRITE_OUT
    TIE_ORNAMENT = "ornaments-in-ties", _CHANGED, "ornament", "begun inside a tied note, never played out", _WRITE_OUT
    ARPEGGIO = "arpeggios", _CHANGED, "arpeggio", "played as a chord at once", _WRITE_OUT
    GLISSANDO = "glissandos", _CHANGED, "glissando", "played as its plain notes", _WRITE_OUT
    FERMATA = "fermatas", _NOTE, "fermata", "not held", ""
    SWING = "swing", _NOTE, "swing mark", "not of eighths, or too fine: notes stay as written", _SWING
    PERFORMED = "performed-times", _NOTE, "note", "kept at the written time in spite of a performed one", ""
    DOUBLED = "octave-doublings", _CHANGED, "octave doubling", "not played", _WRITE_OUT
    MICROTONE = "microtones", _CHANGED, "microtone", "rounded to the nearest semitone", ""
    FOLDED = "pitch-range", _CHANGED, "note", "beyond MIDI pitches 0 to 127, moved by octaves", ""
    DRUM_BY_NAME = "drum-by-name", _MENDED, "unpitched note", "without MIDI key, sounded by its name", _GIVE_KEYS
    DRUM_BY_PLACE = "drum-by-place", _MENDED, "unpitched note", "sounded by its place on the staff", _GIVE_KEYS
    TIE_UNMARKED = "tie-end-unmarked", _MENDED, "tie", "without a marked end, joined to the next note of its pitch", ""
    TIE_TORN = "torn-ties", _MENDED, "tie", "between notes that do not meet, joined all the same", ""
    TIE_UNENDED = "tie-not-ended", _MENDED, "tie", "leading to no note, left at its written length", ""
    TIE_UNBEGUN = "tie-not-begun", _MENDED, "tie", "coming from no note, so its note is struck", ""
    ROUNDED_TUPLET = "rounded-tuplets", _MENDED, "rounded tuplet note", "given its true length", ""
    ROUNDED_TIME = "rounded-times", _MENDED, "time", "too finely divided to keep exactly, rounded", ""
    NO_DURATION = "no-duration", _MENDED, "note", "without a duration, given its written value", ""
    NEGATIVE = "negative-duration", _MENDED, "note", "of a length below 0, given its written value", _LOOK
    NO_PITCH = "no-pitch", _MENDED, "note", "without a pitch, read as a rest", _LOOK
    BEFORE_BAR = "before-bar", _MENDED, "note", "written before the beginning of its bar, sounding there", _LOOK
    BEFORE_SONG = "before-song", _CHANGED, "note", "written before the song begins, sounding on its first beat", _LOOK
    BAD_NUMBER = "number-ignored", _MENDED, "unusable number", "ignored", ""
    EMPTY_BAR = "empty-bars", _MENDED, "empty bar", "given the length of its metre", ""
    PICKUP = "pickup-bar", _NOTE, "", "the first bar is shorter than its metre, as a pickup is, and kept so", ""
    SHORT_BAR = "short-bars", _NOTE, "bar", "shorter than the metre, as long as written ({bars})", ""
    LONG_BAR = "long-bars", _MENDED, "bar", "longer than the metre, as long as the notes in it ({bars})", _LOOK
    NOTES_PAST_BAR = (
        "notes-past-bar",
        _MENDED,
        "bar",
        "with last notes that reach past its end, kept to the metre ({bars})",
        _LOOK,
    )
    PAST_BAR = (
        "past-bar",
        _MENDED,
        "bar",
        "with rests, cue notes or notes of chords that reach past its end, kept to the metre ({bars})",
        "",
    )
    UNEVEN_BAR = "uneven-bars", _MENDED, "bar", "shorter in one part than in another, filled with a rest", ""
    UNLISTED_PART = "unlisted-parts", _MENDED, "part", "missing from the part list, read all the same", ""
    NO_TARGET = "jump-without-target", _MENDED, "jump", "to a sign that is not in the score, ignored", ""
    OPEN_JUMP = "jump-without-end", _NOTE, "jump back", "without a fine or coda after it, played on to the end", ""
    NO_FINE = "da-capo-end", _NOTE, "jump back", "without a fine, played to the end of the piece before the trio", ""
    STRAIGHT = "repeats-unclear", _MENDED, "bar", "played straight through, since the repeats do not fit together", ""
    UNPLAYED = "bars-not-played", _NOTE, "bar", "never reached by the repeats and jumps", ""
