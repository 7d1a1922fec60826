"""Notes of MEI staves rewritten for music21: only what it reads, with every note in it.

Source: the MEI Guidelines 5.0 (2023), Common Music Notation.
"""

from __future__ import annotations

import re
from collections import Counter
from xml.etree.ElementTree import Element, SubElement

from pegwright.musicxml.drums import key_of_place
from pegwright.notations.losses import NotationLoss

_DURATIONS = {"long", "breve", "1", "2", "4", "8", "16", "32", "64", "128", "256", "512", "1024", "2048"}
_ACCIDENTALS = {
    "s": "s", "ss": "ss", "x": "ss", "f": "f", "ff": "ff", "n": "n", "ns": "s", "nf": "f",
}  # fmt: skip
_FIRST_ONLY = ("app", "choice", "subst")
_OPEN = ("beam", "add", "corr", "damage", "orig", "reg", "sic", "supplied", "unclear", "expan", "lem", "rdg", "restore")
_SIGNS = ("mRpt", "mRpt2", "multiRpt", "halfmRpt", "beatRpt")
_STEPS = "CDEFGAB"
_KEY_NAMES = ("c", "c s", "d", "d s", "e", "f", "f s", "g", "g s", "a", "a s", "b")
_BOTTOM_LINE = 30  # steps from C0 to E4, the bottom line under a treble clef


class LayerWalk:
    """Rewrites layers.

    Args:
        losses: counts what is lost.
        drums: numbers of staves with a percussion clef.
        default: note value of notes that state none, or empty.
    """

    def __init__(self, losses: Counter[NotationLoss], drums: set[str], default: str) -> None:
        self._losses = losses
        self._drums = drums
        self._default = default
        self._is_drum = False

    def take_staff(self, staff: Element, rewritten: Element) -> None:
        """Rewrite a staff of one bar.

        Args:
            staff: as it stands.
            rewritten: filled in.
        """
        self._is_drum = rewritten.get("n") in self._drums
        if staff.get("copyof") or staff.get("sameas"):
            self._losses[NotationLoss.REFERENCES] += 1
        for layer in staff.iter("layer"):
            target = SubElement(rewritten, "layer", n=str(len(rewritten) + 1))
            for child in layer:
                self._take(child, target, grace="")
            if not len(target):
                SubElement(target, "mRest")

    def _take(self, element: Element, target: Element, grace: str) -> None:
        tag = element.tag
        if element.get("copyof") or element.get("sameas"):
            self._losses[NotationLoss.REFERENCES] += 1
        elif tag == "note":
            self._note(element, target, grace)
        elif tag == "chord":
            self._chord(element, target, grace)
        elif tag in ("rest", "space"):
            self._timed(element, SubElement(target, tag))
        elif tag in ("mRest", "mSpace", "multiRest"):
            SubElement(target, "mRest")
            self._losses[NotationLoss.LONG_RESTS] += tag == "multiRest" and element.get("num", "1") != "1"
        elif tag in _SIGNS:
            self._losses[NotationLoss.BAR_REPEATS] += 1
            SubElement(
                target, "mRest" if tag.startswith(("m", "h")) else "space", {} if tag[0] in "mh" else {"dur": "4"}
            )
        else:
            self._container(element, target, grace)

    def _container(self, element: Element, target: Element, grace: str) -> None:
        tag = element.tag
        if tag == "tuplet":
            rewritten = SubElement(target, "tuplet", num=element.get("num", "3"), numbase=element.get("numbase", "2"))
            self._all(element, rewritten, grace)
        elif tag == "graceGrp":
            self._all(element, target, element.get("grace") or "unacc")
        elif tag == "bTrem":
            self._losses[NotationLoss.TREMOLOS] += 1
            self._all(element, target, grace)
        elif tag == "fTrem":
            self._losses[NotationLoss.TREMOLOS] += 1
            # Each of the two is written with the length of both.
            self._all(element, SubElement(target, "tuplet", num="2", numbase="1"), grace)
        elif tag in _FIRST_ONLY:
            self._losses[NotationLoss.VARIANTS] += 1
            for child in list(element)[:1]:
                self._take(child, target, grace)
        elif tag in _OPEN:
            self._all(element, target, grace)

    def _all(self, element: Element, target: Element, grace: str) -> None:
        for child in element:
            self._take(child, target, grace)

    def _timed(self, element: Element, rewritten: Element) -> None:
        """Note value and dots."""
        value = element.get("dur") or self._default
        if value not in _DURATIONS:
            self._losses[NotationLoss.NO_DURATION] += 1
            value = "4"
        rewritten.set("dur", value)
        dots = element.get("dots") or str(len(element.findall("dot")))
        if dots in ("1", "2", "3", "4"):
            rewritten.set("dots", dots)

    def _note(self, note: Element, target: Element, grace: str) -> None:
        grace = note.get("grace") or grace
        if note.get("cue") == "true" and not grace:
            self._losses[NotationLoss.CUES] += 1
            self._timed(note, SubElement(target, "space"))
            return
        rewritten = self._pitched(note)
        if rewritten is None:
            self._losses[NotationLoss.NO_PITCH] += 1
            if not grace:
                self._timed(note, SubElement(target, "rest"))
            return
        self._timed(note, rewritten)
        if grace:
            rewritten.set("grace", grace)
        target.append(rewritten)

    def _chord(self, chord: Element, target: Element, grace: str) -> None:
        grace = chord.get("grace") or grace
        if chord.get("cue") == "true" and not grace:
            self._losses[NotationLoss.CUES] += len(chord.findall("note"))
            self._timed(chord, SubElement(target, "space"))
            return
        notes = [rewritten for note in chord.iter("note") if (rewritten := self._pitched(note)) is not None]
        self._losses[NotationLoss.NO_PITCH] += sum(1 for _ in chord.iter("note")) - len(notes)
        if notes:
            rewritten = SubElement(target, "chord")
            self._timed(chord, rewritten)
            rewritten.extend(notes)
            if grace:
                rewritten.set("grace", grace)
        elif not grace:
            self._timed(chord, SubElement(target, "rest"))

    def _pitched(self, note: Element) -> Element | None:
        """A note with its sounding pitch and ties, without a length; None where it has no pitch."""
        name = note.get("pname.ges") or note.get("pname") or ""
        octave = note.get("oct.ges") or note.get("oct") or ""
        if self._is_drum:
            return self._drum(note, name, octave)
        if not re.fullmatch(r"[a-g]", name) or not re.fullmatch(r"\d", octave):
            return None
        rewritten = Element("note", pname=name, oct=octave)
        accidental = self._accidental(note)
        if accidental:
            rewritten.set("accid.ges", accidental)
        return _with_tie(rewritten, note)

    def _drum(self, note: Element, name: str, octave: str) -> Element | None:
        """A drum note, its pitch being its General MIDI key: as it states, else as its place on the staff says."""
        key = note.get("pnum", "")
        if not re.fullmatch(r"\d{1,3}", key) or int(key) > 127:
            place = note.get("loc", "")
            if re.fullmatch(r"-?\d{1,2}", place):
                steps = max(0, _BOTTOM_LINE + int(place))
                name, octave = _STEPS[steps % 7], str(steps // 7)
            elif not name or not octave:
                return None
            key = str(key_of_place(name.upper(), octave))
            self._losses[NotationLoss.DRUM_PLACES] += 1
        step, _, sharp = _KEY_NAMES[int(key) % 12].partition(" ")
        rewritten = Element("note", pname=step, oct=str(max(0, int(key) // 12 - 1)))
        if sharp:
            rewritten.set("accid.ges", sharp)
        return _with_tie(rewritten, note)

    def _accidental(self, note: Element) -> str:
        """The sounding accidental, in whichever of its four places it stands."""
        child = note.find("accid")
        sources = [note] if child is None else [note, child]
        written = [source.get(name, "") for name in ("accid.ges", "accid") for source in sources]
        stated = next((sign for sign in written if sign), "")
        if stated and stated not in _ACCIDENTALS:
            self._losses[NotationLoss.MICROTONES] += 1
        return _ACCIDENTALS.get(stated, "")


def _with_tie(rewritten: Element, note: Element) -> Element:
    if note.get("tie") in ("i", "m", "t"):
        rewritten.set("tie", note.get("tie", ""))
    return rewritten
