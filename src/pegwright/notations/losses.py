"""What is lost or changed when a song is read through the library, as findings."""

from __future__ import annotations

from pegwright.findings import NoticeKind, Severity

_NOTE, _MENDED, _CHANGED, _LOST = Severity.NOTE, Severity.MENDED, Severity.CHANGED, Severity.LOST
_WRITE_OUT = "write it out to hear it, or export the song as MusicXML"
_EXPORT = "export the song as MusicXML"
_ONE_SONG = "put each of them into a file of its own"


class NotationLoss(NoticeKind):
    """Everything that this route loses or changes."""

    NOTES = "notes-not-carried", _LOST, "note", "of the file not passed on by music21", _EXPORT
    NOTES_ADDED = "notes-added", _CHANGED, "note", "added by music21 that the file does not hold", _EXPORT
    TUNES = "tunes-not-read", _LOST, "further tune", "in the file; only the first is read", _ONE_SONG
    MOVEMENTS = "movements-not-read", _LOST, "further movement", "in the file; only the first is read", _ONE_SONG
    OVERLAYS = "overlay-notes", _LOST, "note", "in a voice overlay (&), left out", _EXPORT
    BAR_REPEATS = "bar-repeat-signs", _LOST, "sign", "that repeats a bar or beat, read as silence", _WRITE_OUT
    LONG_RESTS = "long-rests", _CHANGED, "rest", "of several bars read as one bar", _WRITE_OUT
    REFERENCES = "copied-notes", _LOST, "element", "that refers to another for its content, left empty", _WRITE_OUT
    VARIANTS = "variant-readings", _NOTE, "place", "with several readings; the first is read", ""
    JUMPS = "jumps-not-read", _CHANGED, "jump mark", "(da capo, segno, coda or fine) not followed", _WRITE_OUT
    PART_ORDER = "part-order-not-read", _CHANGED, "part order", "not followed; parts are played as written", _WRITE_OUT
    SECTIONS = "section-order-not-read", _CHANGED, "list", "of sections in playing order not followed", _WRITE_OUT
    TIMES = "repeat-times-not-read", _CHANGED, "repeat", "of more than two times, played twice", _WRITE_OUT
    ENDINGS = "endings-not-read", _CHANGED, "ending", "beyond a plain first and second, read as plain", _WRITE_OUT
    TEMPO = "tempo-changes-not-read", _CHANGED, "tempo change", "ignored", _EXPORT
    KEY = "key-accidentals-not-read", _CHANGED, "key", "with accidentals of its own, read without them", _EXPORT
    TRANSPOSITIONS = "transposition-changes-not-read", _CHANGED, "change", "of transposition ignored", _EXPORT
    CHORD_TIES = "chord-ties-not-read", _CHANGED, "tie", "of a chord not joined: it is struck again", _EXPORT
    TIES = "ties-not-read", _CHANGED, "tie", "that names no notes, not joined", _EXPORT
    GRACE_CHORDS = "grace-chords", _CHANGED, "grace chord", "played as single grace notes", _EXPORT
    OCTAVES = "octave-signs-not-read", _CHANGED, "octave sign", "without sounding octaves, ignored", _EXPORT
    MICROTONES = "microtones", _CHANGED, "quarter-tone sign", "ignored", _EXPORT
    ORNAMENTS = "ornaments-not-read", _CHANGED, "ornament", "ignored: the plain note is played", _WRITE_OUT
    TREMOLOS = "tremolos-not-read", _CHANGED, "tremolo", "played as plain notes", _WRITE_OUT
    ARPEGGIOS = "arpeggios", _CHANGED, "arpeggio", "played as a chord at once", _WRITE_OUT
    GLISSANDOS = "glissandos", _CHANGED, "glissando", "played as its plain notes", _WRITE_OUT
    FERMATAS = "fermatas", _NOTE, "fermata", "not held", ""
    CUES = "cue-notes", _NOTE, "cue note", "silent, as cue notes are", ""
    DRUM_MAPS = "drum-maps-not-read", _CHANGED, "drum map", "ignored", _EXPORT
    DRUM_PLACES = "drum-by-place", _MENDED, "unpitched note", "sounded by its place on the staff", _EXPORT
    NO_PITCH = "no-pitch", _LOST, "note", "without a pitch, read as a rest", _EXPORT
    NO_DURATION = "no-duration", _MENDED, "note", "without a duration, read as a quarter note", _EXPORT
    FREE_TEXT = "free-text", _NOTE, "line", "of text between tunes, ignored", ""
    SPINES = "spines-not-read", _NOTE, "column", "that holds no **kern, ignored", ""
    BARS = "bar-marks-not-read", _CHANGED, "bar", "of the file not matched, so their labels and marks are lost", _EXPORT
