"""Note edits: a note of the score is dropped, moved, put in another octave or on another channel, or repeated.

Each is a line of text: `drop Melody, bar 12, beat 2.5, C5`. The note is named as reports name it: by its part, its bar
as the score labels it, its beat, and its pitch as it is written.
"""

from __future__ import annotations

import re
from enum import StrEnum
from fractions import Fraction

from pegwright.errors import UsageError
from pegwright.frozen import frozen
from pegwright.units import fraction_of, nearest_hint

EVERY_TIME = "every time"
MAX_EDIT_CHARS = 300
MAX_DENOMINATOR = 960  # of a beat
_LETTER_SEMITONES = {"C": 0, "D": 2, "E": 4, "F": 5, "G": 7, "A": 9, "B": 11}
_SIGN_SEMITONES = {"#": 1, "♯": 1, "b": -1, "♭": -1}
_BEAT = r"[0-9]{1,4}(?:\.[0-9]{1,6}|/[0-9]{1,3}|\s+[0-9]{1,3}/[0-9]{1,3})?"
_TIME = rf",\s*(?:{EVERY_TIME}|[0-9]{{1,4}}(?:st|nd|rd|th) time)"
_BAR = rf"(?:(?:bar\s+(?P<bar>[^,]+?)|(?P<pickup>pickup bar))(?P<time>{_TIME})?\s*,?\s+)"
# A part stands in quotes as in reports, `'Melody' bar 12`, or ends at a comma or colon; then its quotes are its own.
_PART = r"(?:(?P<quote>['\"])(?P<quoted>.+?)(?P=quote)\s+|(?P<part>.+?)\s*[,:]\s*)"
_PITCH = r"(?P<pitch>[A-G](?:#{1,3}|b{1,3}|♯|♭)?-?[0-9]{1,2}|[0-9]{1,3})(?:\s\([0-9]{1,3}\))?"
_NOTE = re.compile(
    rf"(?P<verb>\S+)\s+{_PART}{_BAR}(?:near\s+)?beat\s+(?P<beat>{_BEAT})"
    rf"\s*[,:]?\s+(?:key\s+)?{_PITCH}(?P<rest>\s.*|)"
)
_TO = re.compile(rf"\s+(?:to|at)\s+{_BAR}?beat\s+(?P<beat>{_BEAT})")
_OCTAVES = re.compile(r"(?:\s+(?:by\s+)?(?P<count>an|[0-9]{1,2})\s+octaves?)?")
_ON = re.compile(r"\s+on\s+(?P<channel>.+)")


class NoteVerb(StrEnum):
    """What is done with the note."""

    DROP = "drop"
    MOVE = "move"
    RAISE = "raise"
    LOWER = "lower"
    SOUND = "sound"
    REPEAT = "repeat"


_FORMS = {
    NoteVerb.DROP: "drop Melody, bar 12, beat 2.5, C5",
    NoteVerb.MOVE: "move Melody, bar 12, beat 2.5, C5 to beat 3",
    NoteVerb.RAISE: "raise Melody, bar 12, beat 2.5, C5 by 1 octave",
    NoteVerb.LOWER: "lower Melody, bar 12, beat 2.5, C5 by 2 octaves",
    NoteVerb.SOUND: "sound Melody, bar 12, beat 2.5, C5 on chime C5",
    NoteVerb.REPEAT: "repeat Melody, bar 12, beat 2.5, C5 at bar 13, beat 1",
}
FORM = _FORMS[NoteVerb.DROP]


@frozen()
class Place:
    """A place in the score.

    Args:
        bar: as the score labels it; empty for the bar of the note itself.
        beat: counted from 1.
    """

    bar: str
    beat: Fraction


@frozen()
class NoteEdit:
    """One edit of the notes at a place.

    Args:
        text: as it was written.
        verb: what is done.
        part: name of the part.
        place: where the note begins.
        every_time: whether it is meant at every time that the bar is played.
        pitch_midi: of the note as it is written; a percussion key.
        to: where it is moved, or repeated.
        octaves: up, or down if negative.
        channel: the name of the channel that is to sound it.
    """

    text: str
    verb: NoteVerb
    part: str
    place: Place
    every_time: bool
    pitch_midi: int
    to: Place | None = None
    octaves: int = 0
    channel: str = ""

    def __str__(self) -> str:
        """As it was written."""
        return self.text


def note_edit_of(written: str) -> NoteEdit:
    """The note edit of a text.

    Raises:
        UsageError: it is none; the hint has the form.
    """
    text = " ".join(written.split())
    if len(text) > MAX_EDIT_CHARS or not text.isprintable():
        raise _refused(text, f"is longer than {MAX_EDIT_CHARS} characters, or has some that cannot be printed", FORM)
    word = text.partition(" ")[0]
    if word not in tuple(NoteVerb):
        hint = f"{nearest_hint(word, list(map(str, NoteVerb)), '')}; a note edit begins with {', '.join(NoteVerb)}"
        raise UsageError(f"{_short(text)!r} does not begin with what is to be done", hint=hint)
    verb = NoteVerb(word)
    match = _NOTE.fullmatch(text)
    if not match:
        raise _refused(text, "does not name a note by part, bar, beat and pitch", _FORMS[verb])
    pitch = _pitch(match["pitch"])
    if not 0 <= pitch <= 127:
        raise _refused(text, f"names pitch {match['pitch']}, which is outside 0 to 127", _FORMS[verb])
    every_time = (match["time"] or "").endswith(EVERY_TIME)
    edit = NoteEdit(text, verb, match["quoted"] or match["part"], _place(match, text), every_time, pitch)
    return _with_rest(edit, match["rest"])


def _with_rest(edit: NoteEdit, rest: str) -> NoteEdit:
    """A note edit with what comes after the note: where to, by how many octaves, on which channel."""
    from dataclasses import replace  # noqa: PLC0415  # only where notes are edited

    match edit.verb:
        case NoteVerb.MOVE | NoteVerb.REPEAT:
            if ending := _TO.fullmatch(rest):
                return replace(edit, to=_place(ending, edit.text))
        case NoteVerb.RAISE | NoteVerb.LOWER:
            if ending := _OCTAVES.fullmatch(rest):
                count = int(ending["count"]) if (ending["count"] or "an") != "an" else 1
                return replace(edit, octaves=count if edit.verb is NoteVerb.RAISE else -count)
        case NoteVerb.SOUND:
            if ending := _ON.fullmatch(rest):
                return replace(edit, channel=ending["channel"])
        case NoteVerb.DROP:
            if not rest:
                return edit
    wrong = f"ends in {rest.strip()[:40]!r}" if rest else "ends too early"
    raise _refused(edit.text, wrong, _FORMS[edit.verb])


def _place(match: re.Match[str], text: str) -> Place:
    label = "0" if match["pickup"] else (match["bar"] or "")
    time = match["time"] or ""
    if label and time and not time.endswith(EVERY_TIME):
        label += f", {time.lstrip(', ')}"
    try:
        beat = fraction_of(match["beat"])
    except ZeroDivisionError:
        raise _refused(text, f"has beat {match['beat']}, which divides by 0", FORM) from None
    if beat.denominator > MAX_DENOMINATOR:
        raise _refused(text, f"has beat {match['beat']}, which is finer than 1/{MAX_DENOMINATOR} of a beat", FORM)
    if beat < 1:
        raise _refused(text, f"has beat {match['beat']}, and beats count from 1", FORM)
    return Place(label, beat)


def _pitch(text: str) -> int:
    if text.isdecimal():
        return int(text)
    signs = text[1:].rstrip("-0123456789")
    octave = int(text[1 + len(signs) :])
    return _LETTER_SEMITONES[text[0]] + sum(_SIGN_SEMITONES[sign] for sign in signs) + 12 * (octave + 1)


def _refused(text: str, wrong: str, form: str) -> UsageError:
    return UsageError(f"{_short(text)!r} {wrong}", hint=f"write for example: {form}")


def _short(text: str) -> str:
    return text if len(text) <= 80 else f"{text[:77]}..."
