"""One part of a MusicXML score, bar by bar, to notes as written: exact places inside their bars."""

from __future__ import annotations

from collections.abc import Callable
from fractions import Fraction
from xml.etree.ElementTree import Element

from pegwright.errors import InputError
from pegwright.findings import Notices
from pegwright.formats import MAX_NOTES, MAX_QUARTERS
from pegwright.musicxml import values
from pegwright.musicxml.drums import key_of_name, key_of_place
from pegwright.musicxml.marks import BarMarks, add_barline
from pegwright.musicxml.notices import Notice
from pegwright.musicxml.ornaments import OrnamentWalk
from pegwright.musicxml.parts import PartSource, clean
from pegwright.musicxml.written import BarReach, WrittenPart
from pegwright.score import bar_name
from pegwright.spelling import UNKNOWN

MAX_DIVISIONS = 10**9
MAX_DENOMINATOR = 10**18  # no music comes near; without a bound the sums could grow without end
GRACE_QUARTERS = Fraction(1, 8)
DEFAULT_TEMPO = Fraction(120)

_ZERO = Fraction(0)
_EXPORT_AGAIN = "export the score again from the program that made it"
_NOTATIONS = {
    "arpeggiate": Notice.ARPEGGIO,
    "glissando": Notice.GLISSANDO,
    "slide": Notice.GLISSANDO,
    "fermata": Notice.FERMATA,
}


class PartWalk:
    """Walks the bars of one part in the order of the file.

    Two places are kept: the one that the file's whole-number durations lead to, and its `drift` from
    the true one, which is not 0 inside tuplets whose durations the writing program had to round.

    Args:
        source: the part.
        marks: one for each bar of the score, filled in from this part.
        where: file and part, for messages.
        notices: counts what was noticed.
    """

    def __init__(self, source: PartSource, marks: list[BarMarks], where: str, notices: Notices) -> None:
        self.written = WrittenPart()
        self._source = source
        self._marks = marks
        self._where = where
        self._notices = notices
        self._divisions = Fraction(1)
        self._transpose = 0
        self._ornaments = OrnamentWalk(self.written.ornaments, self._notice)
        self._bar = 0
        self._label = ""
        self._start_bar()
        self._handlers: dict[str, Callable[[Element], None]] = {
            "note": self._note,
            "backup": self._backup,
            "forward": self._forward,
            "attributes": self._attributes,
            "direction": self._direction,
            "sound": self._sound,
            "barline": self._barline,
        }

    def _start_bar(self) -> None:
        self._place = self._drift = self._onset = _ZERO
        self._notes_end = self._chords_end = self._written_end = self._gaps_end = self._rests_end = _ZERO
        self._last_onset = _ZERO
        self._silent_lead = False
        self._voice_ends: dict[str, Fraction] = {}
        self._sounding_voices: set[str] = set()
        self._drifts: dict[Fraction, Fraction] = {}
        self._graces: list[list[int]] = []
        self._ornaments.start_bar()

    def walk(self) -> WrittenPart:
        """The part as written."""
        for number, bar in self._source.bars.items():
            self._take_bar(number, bar)
        return self.written

    def _take_bar(self, number: int, element: Element) -> None:
        self._bar = number
        self._label = element.get("number", "?")
        self._start_bar()
        for child in element:
            if handler := self._handlers.get(child.tag):
                handler(child)
        self._place_graces()
        gaps = max(self._written_end, self._gaps_end)
        reach = BarReach(
            notes=self._notes_end,
            written=self._written_end,
            gaps=gaps,
            rests=max(gaps, self._rests_end),
            chords=self._chords_end,
            last_onset=self._last_onset,
            voices=frozenset(self._voice_ends[voice] for voice in self._sounding_voices),
        )
        if reach.furthest > MAX_QUARTERS:
            raise self._refuse(f"the bar is longer than {MAX_QUARTERS:,} quarters")
        self.written.reaches[self._bar] = reach

    def _here(self) -> str:
        return f"{self._where}:{bar_name(clean(self._label)[:20])}"

    def _notice(self, notice: Notice, is_so: bool = True) -> None:
        if is_so:
            self._notices.add(notice, where=self._here())

    def _refuse(self, message: str) -> InputError:
        return InputError(message, where=self._here(), hint=_EXPORT_AGAIN)

    # Time

    @property
    def _now(self) -> Fraction:
        return self._place + self._drift if self._drift else self._place

    def _duration(self, text: str | None) -> Fraction:
        """A duration in quarters; the whole timeline hangs on it, so a bad one ends the reading."""
        value = values.in_quarters(text, self._divisions)
        if value is None or value > MAX_QUARTERS:
            raise self._refuse(f"the duration {clean(text)[:20]!r} is not a number from 0 to {MAX_QUARTERS:,} quarters")
        return value

    def _advance(self, written: Fraction, true: Fraction) -> None:
        start = self._now
        self._place += written
        self._check_place()
        if self._drift or true is not written:
            end = start + true
            # A plain length after rounded ones may go on from the true place or close the rounded
            # run: of the two ends the one on the coarser grid is meant.
            if true is written and self._place.denominator < end.denominator:
                end = self._place
            self._drift = self._drifts[self._place] = end - self._place
        if max(self._place.denominator, self._drift.denominator) > MAX_DENOMINATOR:
            raise self._refuse(f"times are divided finer than 1/{MAX_DENOMINATOR:,} of a quarter")

    def _check_place(self) -> None:
        if self._place < -MAX_QUARTERS:
            raise self._refuse(f"the file steps back more than {MAX_QUARTERS:,} quarters before the bar")

    def _backup(self, element: Element) -> None:
        self._place_graces()
        length = self._duration(element.findtext("duration"))
        place, drift = self._place - length, None
        if place < 0 <= self._now - length:  # from a place that was rounded down, back by the true length
            place, drift = self._now - length, _ZERO
        self._place = place
        self._check_place()
        self._drift = self._drifts.get(place, _ZERO) if drift is None else drift

    def _forward(self, element: Element) -> None:
        self._place_graces()
        length = self._duration(element.findtext("duration"))
        self._advance(length, length)
        self._gaps_end = max(self._gaps_end, self._now)

    def _place_graces(self) -> None:
        """Put the waiting grace notes one after another just before the present place."""
        for before, notes in enumerate(reversed(self._graces), start=1):
            for note in notes:
                self.written.onset[note] = self._now - before * GRACE_QUARTERS
        self._graces.clear()

    # Notes

    def _note(self, element: Element) -> None:
        children = {child.tag: child for child in element}
        length, row = _ZERO, len(self.written.bar)
        if "grace" not in children:
            written, length = self._lengths(element, children)
            if "chord" not in children:
                self._place_graces()
                self._onset = self._now
                self._advance(written, written if written < 0 else length)
        self._take_reach(children, length)
        if "cue" in children:
            self._notice(Notice.CUE)
        elif "rest" not in children:
            self._sounding(element, children, length)
        if "notations" in children:
            for mark in element.iterfind("notations/*"):
                if mark.tag in _NOTATIONS and mark.get("type") != "stop":
                    self._notice(_NOTATIONS[mark.tag])
        self._ornaments.take_note(element, children, row if row < len(self.written.bar) else None)
        self.written.element_count += 1

    def _take_reach(self, children: dict[str, Element], length: Fraction) -> None:
        """Note how far a note or rest reaches; the place is behind it already, unless it belongs to a chord."""
        is_rest, is_cue = "rest" in children, "cue" in children
        voice = children["voice"].text or "" if "voice" in children else ""
        if "chord" in children:
            if self._silent_lead and not is_cue:  # it stands for the first note of its chord, which is silent
                self._silent_lead = False
                self._take_sounding(voice, self._onset + length)
            elif not is_cue:
                self._chords_end = max(self._chords_end, self._onset + length)
            return
        self._silent_lead = is_cue and "grace" not in children
        if is_rest and children["rest"].get("measure") == "yes":
            self._rests_end = max(self._rests_end, self._now)
            return
        self._written_end = max(self._written_end, self._now)
        if "grace" in children:
            return
        self._voice_ends[voice] = max(self._voice_ends.get(voice, _ZERO), self._now)
        if not is_rest and not is_cue:
            self._take_sounding(voice, self._now)

    def _take_sounding(self, voice: str, end: Fraction) -> None:
        """Note how far the notes that sound reach, one after another in their voices."""
        self._sounding_voices.add(voice)
        self._notes_end = max(self._notes_end, end)
        self._last_onset = max(self._last_onset, self._onset)

    def _lengths(self, element: Element, children: dict[str, Element]) -> tuple[Fraction, Fraction]:
        """A note's length in quarters as the file's duration says, and as it is meant: mostly one and the same object.

        A duration is whole divisions. A tuplet note that falls between them was rounded, and its
        written value with its ratio is exact; any other duration is taken as it stands.
        """
        if "duration" not in children:
            self._notice(Notice.NO_DURATION)
            plain = values.written_value(element) or _ZERO
            return plain, plain
        text = children["duration"].text
        if (text or "").lstrip().startswith("-"):
            return self._negative(text, element)
        written = self._duration(text)
        if "time-modification" in children:
            value = values.written_value(element)
            if value is not None and value != written:
                divisions = value * self._divisions
                if divisions.denominator != 1 and abs(divisions - written * self._divisions) < 1:
                    self._notice(Notice.ROUNDED_TUPLET)
                    return written, value
        return written, written

    def _negative(self, text: str | None, element: Element) -> tuple[Fraction, Fraction]:
        """A duration below 0: the place goes back as the file says, and the note has its written value."""
        number, value = values.number(text), values.written_value(element)
        if number is None or value is None:
            self._duration(text)  # refuses it
        self._notice(Notice.NEGATIVE)
        return -self._duration(str(text).strip().lstrip("-")), value or _ZERO

    def _sounding(self, element: Element, children: dict[str, Element], length: Fraction) -> None:
        """Add a note that sounds."""
        pitch = self._pitch(children["pitch"]) if "pitch" in children else self._drum_key(children)
        if pitch is None:
            self._notice(Notice.NO_PITCH)
            return
        written = self.written
        row = len(written.bar)
        if row == MAX_NOTES:
            raise InputError(f"the part holds more than {MAX_NOTES:,} notes", where=self._here())
        if "grace" in children:
            self._notice(Notice.GRACE)
            length = GRACE_QUARTERS
            if not ("chord" in children and self._graces):
                self._graces.append([])
            self._graces[-1].append(row)
        elif self._onset < 0:
            self._notice(Notice.BEFORE_BAR)
            written.early.add(row)
        if "attack" in element.attrib or "release" in element.attrib:
            self._notice(Notice.PERFORMED)
        ties = {tie.get("type") for tie in element.iterfind("tie")} if "tie" in children else ()
        written.bar.append(self._bar)
        written.onset.append(self._onset)
        written.duration.append(length)
        written.pitch.append(pitch)
        written.spelling.append(self._spelling(children["pitch"]) if "pitch" in children else UNKNOWN)
        written.velocity.append(self._velocity(element) if "dynamics" in element.attrib else 0)
        written.voice.append(children["voice"].text or "" if "voice" in children else "")
        written.unpitched.append("pitch" not in children)
        written.element.append(written.element_count)
        written.tie_from.append("stop" in ties)
        written.tie_to.append("start" in ties)
        if "time-only" in element.attrib:
            written.passes[row] = frozenset(values.numbers_in(element.get("time-only")))

    def _pitch(self, element: Element) -> int | None:
        written = element.findtext("step"), element.findtext("alter"), element.findtext("octave")
        sounding = values.sounding_pitch(*written, self._transpose)
        if sounding is None:
            return None
        pitch, rounded, folded = sounding
        if rounded or folded:
            self._notice(Notice.MICROTONE, rounded)
            self._notice(Notice.FOLDED, folded)
        return pitch

    def _spelling(self, element: Element) -> int:
        """The place of the sounding pitch on the line of fifths; see `spelling`."""
        return values.sounding_fifths(element.findtext("step"), element.findtext("alter"), self._transpose)

    def _drum_key(self, children: dict[str, Element]) -> int | None:
        """General MIDI key of an unpitched note: its instrument's number, else its name, else its place."""
        display = children.get("unpitched")
        if display is None:
            return None
        instruments = self._source.instruments
        named = children["instrument"].get("id", "") if "instrument" in children else ""
        instrument = instruments.get(named) or (next(iter(instruments.values())) if len(instruments) == 1 else None)
        if instrument is not None and instrument.key is not None:
            return instrument.key
        names = [instrument.name] if instrument is not None else []
        if len(instruments) <= 1:
            names.append(self._source.name)
        key = next(filter(None, map(key_of_name, names)), None)
        self._notice(Notice.DRUM_BY_PLACE if key is None else Notice.DRUM_BY_NAME)
        step, octave = (display.findtext(f"display-{name}", "").strip() for name in ("step", "octave"))
        return key_of_place(step, octave) if key is None else key

    def _velocity(self, element: Element) -> int:
        """The velocity of an element's `dynamics`; 0, for none of its own, where that is not a number."""
        value = values.velocity(element.get("dynamics"))
        self._notice(Notice.BAD_NUMBER, value is None)
        return value or 0

    # Attributes and events

    def _attributes(self, element: Element) -> None:
        for child in element:
            if child.tag == "divisions":
                value = values.number(child.text)
                if value is None or not 0 < value <= MAX_DIVISIONS:
                    raise self._refuse(
                        f"divisions {clean(child.text)[:20]!r} is not a number above 0 and up to {MAX_DIVISIONS:,}"
                    )
                self._divisions = value
            elif child.tag == "key":
                self._ornaments.set_key(child)
            elif child.tag == "transpose":
                semitones = values.transposition(child)
                self._notice(Notice.BAD_NUMBER, semitones is None)
                self._transpose = self._transpose if semitones is None else semitones
                self._notice(Notice.DOUBLED, child.find("double") is not None)
            elif child.tag == "time" and self._bar not in self.written.metres:
                beats = values.metre(child)
                if beats is not None or child.find("senza-misura") is not None:
                    self._marks[self._bar].new_metre |= beats != next(reversed(self.written.metres.values()), beats)
                    self.written.metres[self._bar] = beats
                else:
                    self._notice(Notice.BAD_NUMBER)

    def _barline(self, element: Element) -> None:
        add_barline(self._marks, self._bar, element, at_start=self._now <= 0)

    def _direction(self, element: Element) -> None:
        self._marks[self._bar].add_direction(element, at_start=self._now <= 0)
        sound, shift = element.find("sound"), values.number(element.findtext("offset[@sound='yes']"))
        if sound is not None:
            self._events(sound, shift)
        if sound is None or "tempo" not in sound.attrib:
            metronome = element.find("direction-type/metronome")
            if metronome is not None:
                before = self.written.tempi[-1][2] if self.written.tempi else DEFAULT_TEMPO
                tempo = values.metronome_tempo(metronome, before)
                if tempo is not None:
                    self._tempo(tempo, shift)

    def _sound(self, element: Element) -> None:
        self._marks[self._bar].add_sound(element)
        self._events(element, None)

    def _events(self, sound: Element, shift: Fraction | None) -> None:
        """Tempo, dynamics and swing of a `sound` element."""
        own_shift = values.number(sound.findtext("offset"))
        shift = shift if own_shift is None else own_shift
        if "tempo" in sound.attrib:
            self._tempo(values.number(sound.get("tempo")), shift)
        if "dynamics" in sound.attrib and (level := self._velocity(sound)):
            self.written.levels.append((self._bar, self._shifted(shift), level))
        for swing in sound.findall("swing"):
            ratio = values.swing_ratio(swing)
            self.written.swings[self._bar] = ratio or Fraction(1)
            self._notice(Notice.SWING, ratio is None)

    def _shifted(self, shift: Fraction | None) -> Fraction:
        return max(_ZERO, self._now + shift / self._divisions if shift else self._now)

    def _tempo(self, quarters_per_minute: Fraction | None, shift: Fraction | None) -> None:
        if values.usable_tempo(quarters_per_minute):
            self.written.tempi.append((self._bar, self._shifted(shift), quarters_per_minute))
        else:
            self._notice(Notice.BAD_NUMBER)
