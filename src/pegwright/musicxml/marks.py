"""What a bar says about the order of play: repeats, endings, signs and jumps."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from xml.etree.ElementTree import Element

from pegwright.musicxml.jump_words import Jump, JumpWords, jump_words
from pegwright.musicxml.values import numbers_in

_JUMPS = ("dacapo", "dalsegno", "segno", "coda", "tocoda", "fine", "forward-repeat")
_PLAIN = ("regular", "dotted", "dashed", "tick", "short", "none")


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
        named: the da capo names what is played again.
        with_repeats: the jump says that repeats are taken again.
        to_segno: the da capo ends at the sign.
        segno_late: the sign stands after the beginning of the bar.
        trio, trio_late: the heading of a trio stands at the beginning of the bar, or behind it.
        closing: the bar ends with a double, final or repeat barline.
        final: the bar ends with a final barline that repeats nothing.
        new_metre: the metre changes here.
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
    named: bool = False
    with_repeats: bool = False
    to_segno: bool = False
    segno_late: bool = False
    trio: bool = False
    trio_late: bool = False
    closing: bool = False
    final: bool = False
    new_metre: bool = False

    def add_barline(self, barline: Element, at_end: bool) -> None:
        """Take in a barline's style and signs.

        Args:
            barline: the element.
            at_end: it is the one at the end of the bar.
        """
        style = barline.findtext("bar-style", "regular")
        if at_end and style not in _PLAIN:
            self.closing = True
            self.final |= style == "light-heavy" and barline.find("repeat") is None
        for sign in ("segno", "coda"):
            if barline.find(sign) is not None or barline.get(sign):
                setattr(self, sign, barline.get(sign, ""))

    def add_backward(self, repeat: Element) -> None:
        """Take in a repeat that ends with the bar.

        Source: MusicXML 4.0, repeat: `times` and `after-jump` belong to backward repeats.
        """
        self.backward = self.closing = True
        self.times = max(self.times, *numbers_in(repeat.get("times")), 0)
        self.after_jump |= repeat.get("after-jump") == "yes"

    def add_ending(self, ending: Element) -> None:
        """Take in an ending that begins with the bar."""
        self.ending = self.ending or tuple(numbers_in(ending.get("number"))) or (0,)
        self.ending_text = self.ending_text or ending.text or ""

    def add_direction(self, direction: Element, at_start: bool) -> None:
        """Take in a direction: its `sound` where that speaks of jumps, else its signs and words.

        Args:
            direction: the element.
            at_start: it stands at the beginning of the bar.
        """
        texts = [*direction.iterfind("direction-type/words"), *direction.iterfind("direction-type/rehearsal")]
        words = jump_words(" ".join(element.text or "" for element in texts))
        self.trio |= words.trio and at_start
        self.trio_late |= words.trio and not at_start
        self.named |= words.named
        self.with_repeats |= words.with_repeats
        self.to_segno |= words.to_segno
        has_segno = direction.find("direction-type/segno") is not None
        self.segno_late |= has_segno and not at_start
        sound = direction.find("sound")
        if sound is None or not self.add_sound(sound):
            if has_segno and words.jump is not Jump.DAL_SEGNO and not words.to_segno:
                self.segno = self.segno or ""
            self._add_words(words, direction.find("direction-type/coda") is not None)

    def _add_words(self, words: JumpWords, coda_sign: bool) -> None:
        match words.jump:
            case Jump.FINE:
                self.fine = True
            case Jump.DA_CAPO:
                self.dacapo = self.worded = True
            case Jump.DAL_SEGNO:
                self.dalsegno, self.worded = self.dalsegno or "", True
            case Jump.TO_CODA:
                self.tocoda, coda_sign = self.tocoda or "", False
            case Jump.CODA:
                self.coda, coda_sign = self.coda or "", False
        self.bare_coda |= coda_sign

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


def add_barline(marks: Sequence[BarMarks], bar: int, barline: Element, at_start: bool) -> None:
    """Take in a barline of a bar.

    What begins at the end of a bar begins with the next one, and what ends at its start ends with the one before.

    Source: MusicXML 4.0, barline: its `location` is left, right or middle.

    Args:
        marks: of all bars.
        bar: the index of the bar.
        barline: the element.
        at_start: it stands before all notes of the bar, which counts where it does not say its location.
    """
    location = barline.get("location")
    begins = bar + (location == "right" or (location is None and not at_start))
    ends = bar - (location == "left")
    begun = marks[begins] if begins < len(marks) else BarMarks()  # behind the last bar nothing begins
    ended = marks[ends] if ends >= 0 else BarMarks()
    marks[bar].add_barline(barline, at_end=location in (None, "right"))
    repeat, ending = barline.find("repeat"), barline.find("ending")
    if repeat is not None and repeat.get("direction") == "forward":
        begun.forward = True
    elif repeat is not None:
        ended.add_backward(repeat)
    if ending is not None and ending.get("type") == "start":
        begun.add_ending(ending)
    elif ending is not None:
        ended.ending_ends = True
