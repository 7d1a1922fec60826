"""Notes of MEI staves rewritten for music21: only what it reads, with every note in it.

Source: the MEI Guidelines 5.0 (2023), Common Music Notation.
"""

from __future__ import annotations

import re
from xml.etree.ElementTree import Element, SubElement

from pegwright.findings import Notices
from pegwright.musicxml.drums import key_of_place
from pegwright.notations.losses import NotationLoss

_DURATIONS = {"long", "breve", "1", "2", "4", "8", "16", "32", "64", "128", "256", "512", "1024", "2048"}
_ACCIDENTALS = {
    "s": "s", "ss": "ss", "x": "ss", "f": "f", "ff": "ff", "n": "n", "ns": "s", "nf": "f",
}  # fmt: skip
_FIRST_ONLY = ("app", "choice", "subst")
_OPEN = ("beam", "add", "corr", "damage", "orig", "reg", "sic", "supplied", "unclear", "expan", "lem", "rdg", "restore")
_BAR_SIGNS = ("mRpt", "mRpt2", "multiRpt", "halfmRpt")
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

    def __init__(self, losses: Notices, drums: set[str], default: str) -> None:
        self._losses = losses
        self._drums = drums
        self._default = default
        self._is_drum = False

    def take_staff(self, staff: Element, target: Element) -> None:
        """Rewrite a staff of one bar.

        Args:
            staff: as it stands.
            target: the staff that is filled in.
        """
        self._is_drum = target.get("n") in self._drums
        self._losses.add(NotationLoss.REFERENCES, refers(staff))
        for layer in staff.iter("layer"):
            written = SubElement(target, "layer", n=str(len(target) + 1))
            self._all(layer, written, grace="")
            if not len(written):
                SubElement(written, "mRest")

    def _all(self, element: Element, target: Element, grace: str) -> None:
        for child in element:
            self._take(child, target, grace)

    def _take(self, element: Element, target: Element, grace: str) -> None:
        tag = element.tag
        if refers(element):
            self._losses.add(NotationLoss.REFERENCES)
        elif tag in ("note", "chord"):
            self._notes(element, target, element.get("grace") or grace)
        elif tag in ("rest", "space"):
            self._timed(element, SubElement(target, tag))
        elif tag in ("mRest", "mSpace", "multiRest"):
            SubElement(target, "mRest")
            self._losses.add(NotationLoss.LONG_RESTS, tag == "multiRest" and element.get("num", "1") != "1")
        elif tag in _BAR_SIGNS:
            self._losses.add(NotationLoss.BAR_REPEATS)
            SubElement(target, "mRest")
        elif tag == "beatRpt":
            self._losses.add(NotationLoss.BAR_REPEATS)
            SubElement(target, "space", dur="4")
        else:
            self._container(element, target, grace)

    def _container(self, element: Element, target: Element, grace: str) -> None:
        tag = element.tag
        if tag in _FIRST_ONLY:
            self._losses.add(NotationLoss.VARIANTS)
            for child in list(element)[:1]:
                self._take(child, target, grace)
            return
        if tag == "tuplet":
            target = SubElement(target, "tuplet", num=element.get("num", "3"), numbase=element.get("numbase", "2"))
        elif tag == "graceGrp":
            grace = element.get("grace") or "unacc"
        elif tag in ("bTrem", "fTrem"):
            self._losses.add(NotationLoss.TREMOLOS)
            if tag == "fTrem":  # each of its two is written with the length of both
                target = SubElement(target, "tuplet", num="2", numbase="1")
        elif tag not in _OPEN:
            return
        self._all(element, target, grace)

    def _timed(self, element: Element, target: Element) -> None:
        """Note value and dots."""
        value = element.get("dur") or self._default
        if value not in _DURATIONS:
            self._losses.add(NotationLoss.NO_DURATION)
            value = "4"
        target.set("dur", value)
        dots = element.get("dots") or str(len(element.findall("dot")))
        if dots in ("1", "2", "3", "4"):
            target.set("dots", dots)

    def _notes(self, element: Element, target: Element, grace: str) -> None:
        """A note or a chord."""
        notes = [element] if element.tag == "note" else list(element.iter("note"))
        if element.get("cue") == "true" and not grace:
            self._losses.add(NotationLoss.CUES, len(notes))
            self._timed(element, SubElement(target, "space"))
            return
        pitched = [note for note in map(self._pitched, notes) if note is not None]
        self._losses.add(NotationLoss.NO_PITCH, len(notes) - len(pitched))
        if pitched:
            written = pitched[0]
            if element.tag == "chord":
                written = Element("chord")
                written.extend(pitched)
            self._timed(element, written)
            if grace:
                written.set("grace", grace)
            target.append(written)
        elif not grace:
            self._timed(element, SubElement(target, "rest"))

    def _pitched(self, note: Element) -> Element | None:
        """A note with its sounding pitch and ties, without a length; None where it has no pitch."""
        name = note.get("pname.ges") or note.get("pname") or ""
        octave = note.get("oct.ges") or note.get("oct") or ""
        if self._is_drum:
            key = self._drum_key(note, name, octave)
            if key is None:
                return None
            name, _, accidental = _KEY_NAMES[key % 12].partition(" ")
            octave = str(max(0, key // 12 - 1))
        elif re.fullmatch(r"[a-g]", name) and re.fullmatch(r"\d", octave):
            accidental = self._accidental(note)
        else:
            return None
        pitched = Element("note", pname=name, oct=octave)
        if accidental:
            pitched.set("accid.ges", accidental)
        if (tie := note.get("tie")) in ("i", "m", "t"):
            pitched.set("tie", tie)
        return pitched

    def _drum_key(self, note: Element, name: str, octave: str) -> int | None:
        """The General MIDI key of a drum note: as it states, else as its place on the staff says."""
        key = note.get("pnum", "")
        if re.fullmatch(r"\d{1,3}", key) and int(key) <= 127:
            return int(key)
        place = note.get("loc", "")
        if re.fullmatch(r"-?\d{1,2}", place):
            steps = max(0, _BOTTOM_LINE + int(place))
            name, octave = _STEPS[steps % 7], str(steps // 7)
        elif not name or not octave:
            return None
        self._losses.add(NotationLoss.DRUM_PLACES)
        return key_of_place(name.upper(), octave)

    def _accidental(self, note: Element) -> str:
        """The sounding accidental, in whichever of its four places it stands."""
        child = note.find("accid")
        sources = [note] if child is None else [note, child]
        written = (source.get(name) for name in ("accid.ges", "accid") for source in sources)
        stated = next(filter(None, written), "")
        self._losses.add(NotationLoss.MICROTONES, bool(stated) and stated not in _ACCIDENTALS)
        return _ACCIDENTALS.get(stated, "")


def refers(element: Element) -> bool:
    """Whether an element stands for the content of another."""
    return bool(element.get("copyof") or element.get("sameas"))
