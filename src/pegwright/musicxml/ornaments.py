"""Ornaments of MusicXML notes: of what kind, and how far away their neighbour notes are."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from fractions import Fraction
from math import floor
from xml.etree.ElementTree import Element

from pegwright.musicxml.notices import Notice
from pegwright.musicxml.values import SEMITONES, note_value, number, written_value
from pegwright.score import Ornament, OrnamentKind

_KINDS = {
    "trill-mark": OrnamentKind.TRILL,
    "shake": OrnamentKind.TRILL,  # the older sign for a trill: common practice, no source
    "mordent": OrnamentKind.MORDENT,
    "inverted-mordent": OrnamentKind.INVERTED_MORDENT,
    "turn": OrnamentKind.TURN,
    "inverted-turn": OrnamentKind.INVERTED_TURN,
}
_TURNS = (OrnamentKind.TURN, OrnamentKind.INVERTED_TURN)
_NO_ORNAMENT = ("wavy-line", "accidental-mark", "other-ornament")
_STEPS = "".join(SEMITONES)
_SHARPS = "FCGDAEB"  # the order in which key signatures add sharps; flats come from the other end
_ALTERS = {
    "natural": 0,
    "sharp": 1,
    "natural-sharp": 1,
    "double-sharp": 2,
    "sharp-sharp": 2,
    "flat": -1,
    "natural-flat": -1,
    "flat-flat": -2,
}
_TRILL_STEPS = {"whole": 2, "half": 1, "unison": 0}
_WIDEST_STEP = 3  # semitones: an augmented second
_MOST_MARKS = 8


class OrnamentWalk:
    """Follows one part note by note, with its key signature and the accidentals of the bar.

    Args:
        ornaments: filled in: by row of the written part, the ornaments of its notes.
        add_notice: is called with what is noticed.
    """

    def __init__(self, ornaments: dict[int, Ornament], add_notice: Callable[[Notice], None]) -> None:
        self._ornaments = ornaments
        self._add_notice = add_notice
        self._key = dict.fromkeys(_STEPS, 0)
        self._chord_rows: list[int] = []
        self._tremolo: Ornament | None = None  # of the present chord
        self.start_bar()

    def start_bar(self) -> None:
        """Forget the accidentals of the bar before."""
        self._accidentals: dict[tuple[str, int], Fraction] = {}
        self._earlier: list[dict[str, Element]] = []  # notes whose accidentals are not in yet: they are seldom needed

    def set_key(self, key: Element) -> None:
        """Take in a key signature; one without usable fifths counts as C.

        Source: MusicXML 4.0, fifths: flats below 0, sharps above.
        """
        fifths = number(key.findtext("fifths")) or 0
        self._key = {step: floor((fifths - place + 6) / 7) for place, step in enumerate(_SHARPS)}

    def take_note(self, note: Element, children: dict[str, Element], row: int | None) -> None:
        """Take in the next note.

        Args:
            note: the element.
            children: the same, by tag.
            row: where it stands in the written part; None if it does not sound.
        """
        if "chord" not in children:
            self._chord_rows.clear()
            self._tremolo = None
        if "notations" in children:
            for sign, accidentals in _signs(note):
                ornament, notice = self._read(note, children, sign, accidentals)
                self._add_notice(notice)
                if ornament is not None and row is not None:
                    self._keep(ornament, row)
        if row is not None:
            self._chord_rows.append(row)
            if self._tremolo is not None:
                self._ornaments.setdefault(row, self._tremolo)
        if "pitch" in children:
            self._earlier.append(children)

    def _keep(self, ornament: Ornament, row: int) -> None:
        """Of several ornaments a note has the first; a chord is struck again whole, whichever note has the tremolo."""
        self._ornaments.setdefault(row, ornament)
        if ornament.kind is OrnamentKind.TREMOLO and self._tremolo is None:
            self._tremolo = ornament
            for other in self._chord_rows:
                self._ornaments.setdefault(other, ornament)

    def _read(
        self, note: Element, children: dict[str, Element], sign: Element, accidentals: list[Element]
    ) -> tuple[Ornament | None, Notice]:
        if sign.tag == "tremolo":
            return _tremolo(note, sign)
        kind = _KINDS.get(sign.tag)
        if kind is None:
            return None, Notice.OTHER_ORNAMENT
        if "pitch" not in children:
            return Ornament(kind), Notice.ORNAMENT  # the neighbour of a drum is itself, so that its trill is a roll
        upper, lower = _alters(kind, accidentals)
        step = None if kind in _TURNS else _TRILL_STEPS.get(sign.get("trill-step", ""))
        has_upper, has_lower = kind is not OrnamentKind.MORDENT, kind in (*_TURNS, OrnamentKind.MORDENT)
        return (
            Ornament(
                kind,
                (self._distance(children, 1, upper) if step is None else step) if has_upper else 0,
                (self._distance(children, -1, lower) if step is None else step) if has_lower else 0,
            ),
            Notice.ORNAMENT,
        )

    def _distance(self, children: dict[str, Element], way: int, alter: int | None) -> int:
        """Semitones between a note and its diatonic neighbour, 1 to 3.

        Args:
            children: of the note.
            way: 1 for the neighbour above, -1 for the one below.
            alter: of the neighbour; None takes it from earlier notes in the bar, else from the key.
        """
        place, own = _place(children["pitch"])
        step = _STEPS[(place + way) % 7]
        if alter is None:
            for earlier in self._earlier:
                earlier_place, bent = _place(earlier["pitch"])
                self._accidentals[_voice(earlier), earlier_place] = bent
            self._earlier.clear()
            near = self._accidentals.get((_voice(children), place + way), Fraction(self._key[step]))
        else:
            near = Fraction(alter)
        apart = way * (SEMITONES[step] + near - SEMITONES[_STEPS[place % 7]] - own) % 12
        return min(_WIDEST_STEP, max(1, floor(apart + Fraction(1, 2)))) if apart < 6 else 1


def _signs(note: Element) -> Iterator[tuple[Element, list[Element]]]:
    """The ornaments of a note, each with the accidentals that follow it.

    Source: MusicXML 4.0, ornaments: every ornament may be followed by accidental-marks.
    """
    for ornaments in note.iterfind("notations/ornaments"):
        following: list[Element] = []
        signs = []
        for child in ornaments:
            if child.tag == "accidental-mark":
                following.append(child)
            elif child.tag not in _NO_ORNAMENT:
                following = []
                signs.append((child, following))
        yield from signs


def _alters(kind: OrnamentKind, accidentals: list[Element]) -> tuple[int | None, int | None]:
    """Alterations of the upper and lower neighbour that accidentals over or under the sign give."""
    upper = lower = None
    for accidental in accidentals:
        alter = _ALTERS.get((accidental.text or "").strip())
        if kind is OrnamentKind.MORDENT or (kind in _TURNS and accidental.get("placement") == "below"):
            lower = alter
        else:
            upper = alter
    return upper, lower


def _tremolo(note: Element, sign: Element) -> tuple[Ornament | None, Notice]:
    """A tremolo on one note.

    Source: MusicXML 4.0, tremolo: the number of marks, 0 to 8, without the note's own flags or beams.
    """
    kind, marks = sign.get("type", "single"), number(sign.text)
    if kind in ("start", "stop"):
        return None, Notice.TWO_NOTE
    if kind == "unmeasured":
        return Ornament(OrnamentKind.TREMOLO), Notice.TREMOLO
    if marks is None or marks.denominator != 1 or not 0 < marks <= _MOST_MARKS:
        return None, Notice.OTHER_ORNAMENT
    value = note_value((note.findtext("type") or "").strip()) or Fraction(1)
    every = min(value, Fraction(1)) * (written_value(note, dotted=False) or value) / value / 2 ** int(marks)
    return Ornament(OrnamentKind.TREMOLO, every_quarters=every), Notice.TREMOLO


def _place(pitch: Element) -> tuple[int, Fraction]:
    """Diatonic place of a written pitch, 7 to the octave from C0 = 0, and its alteration in semitones."""
    step, octave = (pitch.findtext("step") or "").strip().upper(), number(pitch.findtext("octave")) or Fraction(0)
    return max(0, _STEPS.find(step)) + 7 * floor(octave), number(pitch.findtext("alter")) or Fraction(0)


def _voice(children: dict[str, Element]) -> str:
    return children["voice"].text or "" if "voice" in children else ""
