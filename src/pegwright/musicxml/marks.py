"""What a bar says about the order of play: repeats, endings, signs and jumps."""

from __future__ import annotations

import re
from dataclasses import dataclass
from xml.etree.ElementTree import Element

from pegwright.musicxml.values import numbers_in

_JUMPS = ("dacapo", "dalsegno", "segno", "coda", "tocoda", "fine", "forward-repeat")
_DA_CAPO = re.compile(r"\bd\.?\s?c\b|\bda capo\b", re.IGNORECASE)
_DAL_SEGNO = re.compile(r"\bd\.?\s?s\b|\bdal segno\b", re.IGNORECASE)
_TO_CODA = re.compile(r"\bto coda\b", re.IGNORECASE)
_PLAIN = ("regular", "dotted", "dashed", "tick", "short", "none")
_CODA = re.compile(r"\W*coda\W*", re.IGNORECASE)
_FINE = re.compile(r"\W*fine\W*", re.IGNORECASE)


@dataclass(slots=True)
class BarMarks:
    """What the barlines and directions of one bar, in whatever part, say about the order of play.

    Args:
        forward, backward: a repeat begins or ends here.
        times: how often the repeated bars are played in all, 0 where not said.
        after_jump: the repeat is taken again after a jump.
        ending: the passes of the ending that begins here, empty for none.
        ending_ends: an ending ends with this bar.
        dacapo, fine: those words stand here.
        dalsegno, segno, tocoda, coda: the sign's label, possibly "", or None where there is none.
        passes: the jump counts only at these playings of the bar; empty for all.
        bare_coda: a coda sign is drawn here without a word on whether it is left from or come to.
        worded: the jump is known by its printed words alone.
        closing: the bar ends with a double, final or repeat barline.
        final: the bar ends with a final barline that repeats nothing.
    """

    forward: bool = False
    backward: bool = False
    times: int = 0
    after_jump: bool = False
    ending: tuple[int, ...] = ()
    ending_text: str = ""
    ending_ends: bool = False
    dacapo: bool = False
    fine: bool = False
    dalsegno: str | None = None
    segno: str | None = None
    tocoda: str | None = None
    coda: str | None = None
    passes: frozenset[int] = frozenset()
    bare_coda: bool = False
    worded: bool = False
    closing: bool = False
    final: bool = False

    def add_barline(self, barline: Element) -> None:
        """Take in a barline's repeat, ending and signs.

        Source: MusicXML 4.0, barline, repeat, ending: `times` and `after-jump` belong to backward repeats.
        """
        repeat = barline.find("repeat")
        style = barline.findtext("bar-style", "regular")
        if barline.get("location", "right") == "right" and style not in _PLAIN:
            self.closing = True
            self.final |= style == "light-heavy" and repeat is None
        if repeat is not None:
            if repeat.get("direction") == "forward":
                self.forward = True
            else:
                self.backward = self.closing = True
                self.times = max(self.times, *numbers_in(repeat.get("times")), 0)
                self.after_jump |= repeat.get("after-jump") == "yes"
        ending = barline.find("ending")
        if ending is not None:
            if ending.get("type") == "start":
                self.ending = self.ending or tuple(numbers_in(ending.get("number"))) or (0,)
                self.ending_text = self.ending_text or ending.text or ""
            else:
                self.ending_ends = True
        for sign in ("segno", "coda"):
            if barline.find(sign) is not None or barline.get(sign):
                setattr(self, sign, barline.get(sign, ""))

    def add_direction(self, direction: Element) -> None:
        """Take in a direction: its `sound` where that speaks of jumps, else its signs and words."""
        sound = direction.find("sound")
        if sound is not None and self.add_sound(sound):
            return
        words = " ".join(element.text or "" for element in direction.iterfind("direction-type/words"))
        coda = direction.find("direction-type/coda") is not None
        if direction.find("direction-type/segno") is not None and not _DAL_SEGNO.search(words):
            self.segno = self.segno or ""
        if words.strip():
            self.fine |= bool(_FINE.fullmatch(words))
            if _DA_CAPO.search(words):
                self.dacapo = self.worded = True
            elif _DAL_SEGNO.search(words):
                self.dalsegno, self.worded = self.dalsegno or "", True
            elif _TO_CODA.search(words):
                self.tocoda, coda = self.tocoda or "", False
            elif _CODA.fullmatch(words):
                self.coda, coda = self.coda or "", False
        self.bare_coda |= coda

    def add_sound(self, sound: Element) -> bool:
        """Take in a `sound` element; whether it says anything about the order of play."""
        said = [name for name in _JUMPS if sound.get(name) is not None]
        for name in said:
            value = sound.get(name, "")
            if name == "forward-repeat":
                self.forward |= value == "yes"
            elif name == "dacapo":
                self.dacapo |= value == "yes"
            elif name == "fine":
                self.fine |= value != "no"
            elif getattr(self, name) is None:
                setattr(self, name, value)
        if said:
            self.passes |= frozenset(numbers_in(sound.get("time-only")))
        return bool(said)
