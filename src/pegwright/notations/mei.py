"""MEI made ready for music21: one movement, its sections and endings in one row of bars, marks kept aside.

Source: the MEI Guidelines 5.0 (2023), Common Music Notation; elements are named in each place.
"""

from __future__ import annotations

import re
from collections import Counter
from fractions import Fraction
from xml.etree.ElementTree import Element, SubElement, tostring

from pegwright.errors import InputError, check_limit
from pegwright.findings import Notices
from pegwright.formats import MAX_BARS
from pegwright.musicxml.archive import parse_xml
from pegwright.musicxml.parts import clean
from pegwright.musicxml.values import number, usable_tempo
from pegwright.notations.losses import NotationLoss
from pegwright.notations.mei_layer import LayerWalk, refers
from pegwright.notations.mei_ties import join_ties
from pegwright.notations.prepared import BarExtra, Drums, PartExtra, Prepared

MAX_DEPTH = 100
_NAMESPACE = "http://www.music-encoding.org/ns/mei"
_JUMP_WORDS = re.compile(r"\bd\.?\s?[cs]\b|\bda capo\b|\bdal segno\b|\bfine\b|\bcoda\b", re.IGNORECASE)
_REPEAT_MARKS = {"daCapo": "D.C.", "dalSegno": "D.S.", "fine": "Fine", "coda": "Coda"}
_DIRECTION_TYPES = {"dacapo": "D.C.", "dalsegno": "D.S.", "fine": "Fine", "tocoda": "To Coda", "coda": "Coda"}
_MARKS = {
    "trill": NotationLoss.ORNAMENTS,
    "mordent": NotationLoss.ORNAMENTS,
    "turn": NotationLoss.ORNAMENTS,
    "ornam": NotationLoss.ORNAMENTS,
    "arpeg": NotationLoss.ARPEGGIOS,
    "gliss": NotationLoss.GLISSANDOS,
    "fermata": NotationLoss.FERMATAS,
}
_SYMBOLS = {"common": ("4", "4"), "cut": ("2", "2")}
_BARS = {"rptstart", "rptend", "rptboth", "single", "dbl", "end", "invis", "dashed", "dotted"}


def prepare_mei(data: bytes, file: str) -> Prepared:
    """The first movement of an MEI document.

    Args:
        data: the document.
        file: for messages.

    Raises:
        InputError: broken XML, declarations in it, no score or no bar in it, or beyond a limit.
    """
    root = parse_xml(data, file)
    _plain_names(root, file)
    losses = Notices(NotationLoss, file)
    losses.add(NotationLoss.MOVEMENTS, max(0, sum(1 for _ in root.iter("mdiv")) - 1))
    score = next(root.iter("score"), None)
    if score is None:
        raise InputError("this MEI has no <score> in it", where=file, hint="export the song as a score, not as parts")
    join_ties(score, losses)
    movement = _Movement(score, losses)
    if not movement.bars:
        raise InputError("the score has no bar in it", where=file, hint="check that this is the right file")
    check_limit(len(movement.bars), MAX_BARS, "bars", file)
    title = _words(next(root.iter("title"), None))
    text = tostring(movement.document(), encoding="unicode")
    return Prepared(text, movement.note_count, movement.tie_count, losses, title, movement.parts(), movement.bars)


def _plain_names(root: Element, file: str) -> None:
    """Take the namespace prefixes off, and refuse nesting that no score has.

    Raises:
        InputError: nested too deeply.
    """
    level = [root]
    for _ in range(MAX_DEPTH):
        for element in level:
            element.tag = element.tag.rpartition(":")[2]
            for name in [name for name in element.attrib if ":" in name and name != "xml:id"]:
                del element.attrib[name]
            element.attrib.pop("xmlns", None)
        level = [child for element in level for child in element]
        if not level:
            return
    raise InputError(f"elements are nested more than {MAX_DEPTH} deep", where=file, hint="export the song again")


class _Movement:
    """One movement as a row of bars.

    Args:
        score: its element; used up.
        losses: counts what is lost.
    """

    def __init__(self, score: Element, losses: Notices) -> None:
        self.bars: list[BarExtra] = []
        self._losses = losses
        self._section = Element("section")
        self._beat = Fraction(1)  # quarters of the metre's unit, in which places are counted
        self._score_def = next((each for each in score if each.tag == "scoreDef"), Element("scoreDef"))
        self._staves = {each.get("n", ""): each for each in self._score_def.iter("staffDef") if each.get("n")}
        self._drums = _drum_staves(score, self._staves)
        default_values = (each.get("dur.default") for each in self._score_def.iter())
        self._layers = LayerWalk(losses, self._drums, next(filter(None, default_values), ""))
        for definition in (self._score_def, *self._staves.values()):
            self._note_metre(_metre_and_key(definition))
        for element in score:
            if element is not self._score_def:
                self._take(element)
        self._note_expansions(score)
        tempo = _tempo_of(self._score_def)
        if tempo is not None and self.bars and not self.bars[0].tempi:
            self.bars[0].tempi.append((Fraction(0), tempo))

    @property
    def note_count(self) -> int:
        """Note heads in all bars."""
        return sum(1 for _ in self._section.iter("note"))

    @property
    def tie_count(self) -> int:
        """How many of them continue a tie."""
        return sum(note.get("tie", "i") != "i" for note in self._section.iter("note"))

    def parts(self) -> tuple[PartExtra, ...]:
        """One for every staff in the order of the score."""
        return tuple(
            PartExtra(_label(staff), _transposition(staff), Drums.KEYS if name in self._drums else Drums.NONE)
            for name, staff in self._staves.items()
        )

    def document(self) -> Element:
        """The document for the library."""
        root = Element("mei", xmlns=_NAMESPACE)
        score = SubElement(SubElement(SubElement(SubElement(root, "music"), "body"), "mdiv"), "score")
        definition = SubElement(score, "scoreDef", _metre_and_key(self._score_def))
        group = SubElement(definition, "staffGrp")
        for name, staff in self._staves.items():
            SubElement(group, "staffDef", {"n": name, "lines": "5", **_metre_and_key(staff)})
        score.append(self._section)
        return root

    # The row of bars

    def _take(self, element: Element) -> None:
        tag = element.tag
        if tag == "measure":
            self._bar(element)
        elif tag == "ending":
            first = len(self.bars)
            for child in element:
                self._take(child)
            if len(self.bars) > first:
                self.bars[first].ending = _ending_numbers(element)
                self.bars[-1].ending_stops = True
        elif tag == "scoreDef":
            self._note_metre(_metre_and_key(element))
            SubElement(self._section, "scoreDef", _metre_and_key(element))
            for staff in element.iter("staffDef"):
                self._staff_def(staff)
        elif tag == "staffDef":
            self._staff_def(element)
        elif tag in ("app", "choice", "subst"):
            self._losses.add(NotationLoss.VARIANTS)
            for child in list(element)[:1]:
                self._take(child)
        elif tag not in ("del", "ossia", "annot", "expansion"):
            for child in element:
                self._take(child)

    def _note_expansions(self, score: Element) -> None:
        """An `expansion` says once more what repeat signs, endings and jumps say; alone it is not followed."""
        lists = [each.get("plist", "").split() for each in score.iter("expansion")]
        has_signs = any(extra.words or extra.ending for extra in self.bars) or any(
            bar.get(side, "").startswith("rpt") for bar in self._section for side in ("left", "right")
        )
        if not has_signs:
            self._losses.add(NotationLoss.SECTIONS, sum(len(set(names)) < len(names) for names in lists))

    def _note_metre(self, attributes: dict[str, str]) -> None:
        unit = int(attributes.get("meter.unit", "0"))
        self._beat = Fraction(4, unit) if unit else self._beat

    def _staff_def(self, staff: Element) -> None:
        name, attributes = staff.get("n", ""), _metre_and_key(staff)
        if name in self._staves and attributes:
            self._note_metre(attributes)
            SubElement(self._section, "staffDef", {"n": name, **attributes})
        if staff.get("trans.semi") and _transposition(staff) != _transposition(self._staves.get(name, staff)):
            self._losses.add(NotationLoss.TRANSPOSITIONS)

    def _bar(self, measure: Element) -> None:
        extra = BarExtra(clean(measure.get("n"))[:20] or str(len(self.bars) + 1))
        bar = SubElement(self._section, "measure", n=str(len(self.bars) + 1))
        for side in ("left", "right"):
            if measure.get(side) in _BARS:
                bar.set(side, measure.get(side, ""))
        self._losses.add(NotationLoss.REFERENCES, refers(measure))
        self._parts_of_bar(measure, bar, extra)
        self.bars.append(extra)

    def _parts_of_bar(self, measure: Element, bar: Element, extra: BarExtra) -> None:
        for child in measure:
            if child.tag == "staff":
                self._layers.take_staff(child, SubElement(bar, "staff", n=child.get("n", "1")))
            elif child.tag == "tempo":
                if (tempo := _tempo_of(child)) is not None:
                    beat = number(child.get("tstamp")) or Fraction(1)
                    extra.tempi.append((max(Fraction(0), (beat - 1) * self._beat), tempo))
            elif child.tag == "repeatMark":
                extra.words.append(_REPEAT_MARKS.get(child.get("func", "")) or _words(child))
            elif child.tag == "dir":
                words = _words(child)
                if not _JUMP_WORDS.search(words):
                    words = _DIRECTION_TYPES.get(child.get("type", "").lower(), "")
                extra.words += filter(None, [words])
            elif child.tag == "octave":
                self._losses.add(NotationLoss.OCTAVES, not any(note.get("oct.ges") for note in measure.iter("note")))
            elif child.tag == "tupletSpan":
                bar.append(child)
            elif child.tag in _MARKS:
                self._losses.add(_MARKS[child.tag])
            elif child.tag in ("app", "choice", "subst", "supplied", "add", "corr", "unclear"):
                self._parts_of_bar(child, bar, extra)


def _tempo_of(element: Element) -> Fraction | None:
    """Quarter notes a minute that an element states, or None.

    Source: att.mmTempo and att.midiTempo: `midi.bpm` in quarter notes a minute, `mm` in `mm.unit` with `mm.dots`.
    """
    tempo, printed = number(element.get("midi.bpm")), number(element.get("mm"))
    unit = number(element.get("mm.unit") or "4")
    if tempo is None and printed and unit:
        dots = element.get("mm.dots")
        tempo = printed * Fraction(4) / unit * (2 - Fraction(1, 2 ** int(dots) if dots in ("1", "2", "3") else 1))
    return tempo if usable_tempo(tempo) else None


def _drum_staves(score: Element, staves: dict[str, Element]) -> set[str]:
    """Numbers of the staves with a percussion clef at the beginning, or with notes none of which has a pitch name."""
    named: Counter[str] = Counter()
    unnamed: Counter[str] = Counter()
    for staff in score.iter("staff"):
        for note in staff.iter("note"):
            (named if note.get("pname") else unnamed)[staff.get("n", "1")] += 1
    return {name for name, staff in staves.items() if _is_percussion(staff) or (unnamed[name] and not named[name])}


def _is_percussion(staff: Element) -> bool:
    return "perc" in (staff.get("clef.shape"), *(clef.get("shape") for clef in staff.findall("clef")[:1]))


def _label(staff: Element) -> str:
    label = staff.find("label")
    return clean(staff.get("label")) if label is None else _words(label)


def _metre_and_key(definition: Element) -> dict[str, str]:
    """Metre and key as attributes, from attributes or from child elements."""
    sign, key = (definition.find(tag) for tag in ("meterSig", "keySig"))
    own = {} if sign is None else sign.attrib
    count, unit, symbol = (own.get(name) or definition.get(f"meter.{name}") for name in ("count", "unit", "sym"))
    if symbol in _SYMBOLS and not (count and unit):
        count, unit = _SYMBOLS[symbol]
    signature = definition.get("key.sig") or (None if key is None else key.get("sig")) or ""
    attributes = {}
    if count and unit and re.fullmatch(r"[1-9]\d{0,2}(\+\d{1,3})*", count) and re.fullmatch(r"[1-9]\d{0,2}", unit):
        attributes = {"meter.count": str(sum(map(int, count.split("+")))), "meter.unit": unit}
    if re.fullmatch(r"0|[1-7][sf]", signature):
        attributes["key.sig"] = signature
    return attributes


def _transposition(staff: Element) -> int:
    """Semitones from written to sounding pitch. Source: att.transposition."""
    semitones = staff.get("trans.semi", "")
    return int(semitones) if re.fullmatch(r"-?\d{1,2}", semitones) else 0


def _ending_numbers(ending: Element) -> str:
    numbers = re.findall(r"\d{1,3}", ending.get("n") or ending.get("label") or "")
    return ", ".join(numbers) or "1"


def _words(element: Element | None) -> str:
    return "" if element is None else clean("".join(element.itertext()))
