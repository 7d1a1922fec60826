"""Repeats, endings and jumps: from the marks on the bars to the order in which the bars are played."""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from xml.etree.ElementTree import Element

from pegwright.read.limits import MAX_BARS
from pegwright.read.musicxml_values import numbers_in

_JUMPS = ("dacapo", "dalsegno", "segno", "coda", "tocoda", "fine", "forward-repeat")
_DA_CAPO = re.compile(r"\bd\.?\s?c\b|\bda capo\b", re.IGNORECASE)
_DAL_SEGNO = re.compile(r"\bd\.?\s?s\b|\bdal segno\b", re.IGNORECASE)
_TO_CODA = re.compile(r"\bto coda\b", re.IGNORECASE)
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
        bare_codas: coda signs drawn without a word on whether they are left from or come to.
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
    bare_codas: int = 0

    def add_barline(self, barline: Element) -> None:
        """Take in a barline's repeat, ending and signs.

        Source: MusicXML 4.0, barline, repeat, ending: `times` and `after-jump` belong to backward repeats.
        """
        repeat = barline.find("repeat")
        if repeat is not None:
            if repeat.get("direction") == "forward":
                self.forward = True
            else:
                self.backward = True
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
            self.dacapo |= bool(_DA_CAPO.search(words))
            self.fine |= bool(_FINE.fullmatch(words))
            if _DAL_SEGNO.search(words):
                self.dalsegno = self.dalsegno or ""
            elif _TO_CODA.search(words) and not _DA_CAPO.search(words):
                self.tocoda = self.tocoda or ""
                coda = False
        self.bare_codas += coda

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


@dataclass(frozen=True, slots=True)
class Order:
    """The bars in playing order.

    Args:
        bars: 0-based index of the written bar, for every bar played; never empty.
        clear: False where the repeats did not fit together and the bars are played straight through.
        unplayed: written bars that are never reached.
        lost_jumps: bars whose jump leads to a sign that does not exist.
    """

    bars: list[int]
    clear: bool
    unplayed: list[int]
    lost_jumps: list[int]


def playing_order(marks: list[BarMarks]) -> Order:
    """The order in which bars with these marks are played.

    Repeats are taken as written; after a jump (da capo, dal segno) none is, unless it says so, and
    of alternative endings the last is played. A jump is taken once, at the end of its bar.

    Args:
        marks: one for each written bar, at least one.
    """
    _place_bare_codas(marks)
    player = _Player(marks, *_endings(marks))
    played = player.play()
    unplayed = sorted(set(range(len(marks))) - set(played))
    if played and (not unplayed or player.jumped):
        return Order(played, True, unplayed, player.lost_jumps)
    return Order(list(range(len(marks))), False, [], player.lost_jumps)


def _place_bare_codas(marks: list[BarMarks]) -> None:
    """Of coda signs drawn without explanation the last is the coda, the ones before it lead there."""
    bare = [mark for mark in marks for _ in range(mark.bare_codas)]
    if bare and all(mark.coda is None for mark in marks):
        bare.pop().coda = ""
    for mark in bare:
        if mark.tocoda is None:
            mark.tocoda = ""


@dataclass(slots=True)
class _Group:
    """Alternative endings that stand side by side: how often the bars before them are played in all."""

    passes: list[int] = field(default_factory=list)
    brackets: int = 0

    @property
    def total(self) -> int:
        # A lone first ending leaves its last pass to the bars after it.
        return max(self.passes) + (self.brackets == 1)


def _endings(marks: list[BarMarks]) -> tuple[list[frozenset[int]], list[_Group | None]]:
    """For every bar the passes of the ending it is in (empty for none) and the group of that ending."""
    passes: list[frozenset[int]] = []
    groups: list[_Group | None] = []
    current: frozenset[int] = frozenset()
    group: _Group | None = None
    for bar, mark in enumerate(marks):
        if mark.ending:
            beside = group if bar and passes[-1] else None
            current = _ending_passes(mark, beside)
            group = _Group() if beside is None or current & set(beside.passes) else beside
            group.passes += sorted(current)
            group.brackets += 1
        elif mark.forward:
            current = frozenset()
        passes.append(current)
        groups.append(group if current else None)
        if mark.ending_ends or mark.backward:
            current = frozenset()
    return passes, groups


def _ending_passes(mark: BarMarks, beside: _Group | None) -> frozenset[int]:
    """The passes of an ending; its printed text helps where its number repeats the one before it."""
    numbered = frozenset(mark.ending) - {0}
    used = set(beside.passes) if beside else set()
    printed = frozenset(numbers_in(mark.ending_text))
    if (not numbered or numbered & used) and printed and not printed & used:
        return printed
    return numbered or frozenset({max(used, default=0) + 1})


class _Player:
    """Walks the bars as a player reads them."""

    def __init__(self, marks: list[BarMarks], passes: list[frozenset[int]], groups: list[_Group | None]) -> None:
        self.marks = marks
        self.passes = passes
        self.groups = groups
        self.jumped = False
        self.lost_jumps: list[int] = []
        self._taken: set[tuple[str, int]] = set()
        self._start = 0  # where the repeat goes back to
        self._pass = 1
        self._playings = [0] * len(marks)

    def play(self) -> list[int]:
        """Indexes of the bars as played; empty if they never come to an end."""
        played: list[int] = []
        bar, before = 0, -1
        while 0 <= bar < len(self.marks):
            group = self.groups[bar]
            if group is not None and (group.total if self.jumped else self._pass) not in self.passes[bar]:
                bar, before = bar + 1, bar
                continue
            if group is None and 0 <= before == bar - 1 and self.groups[before] is not None:
                self._begin_at(bar)  # past the last ending a new stretch begins
            if self.marks[bar].forward and bar != self._start:
                self._begin_at(bar)
            if len(played) == MAX_BARS:
                return []
            played.append(bar)
            self._playings[bar] += 1
            bar, before = self._after(bar), bar
        return played

    def _begin_at(self, bar: int) -> None:
        self._start, self._pass = bar, 1

    def _after(self, bar: int) -> int:
        """The bar that follows in play, past the last one at the end."""
        mark = self.marks[bar]
        if mark.backward:
            if self._pass < self._total(bar) and (mark.after_jump or not self.jumped):
                self._pass += 1
                return self._start
            self._begin_at(bar + 1)
        if mark.passes and self._playings[bar] not in mark.passes:
            return bar + 1
        if self.jumped and mark.fine:
            return len(self.marks)
        return self._jump(bar)

    def _total(self, bar: int) -> int:
        """How often the bars up to this backward repeat are played in all."""
        group = self.groups[bar]
        return group.total if group is not None else self.marks[bar].times or 2

    def _jump(self, bar: int) -> int:
        mark = self.marks[bar]
        kinds = [("coda", mark.tocoda)] if self.jumped else []
        kinds += [("segno", mark.dalsegno), ("top", "" if mark.dacapo else None)]
        for kind, label in kinds:
            if label is None or (kind, bar) in self._taken:
                continue
            self._taken.add((kind, bar))
            target = 0 if kind == "top" else self._find(kind, label)
            if target is None:
                self.lost_jumps.append(bar)
                continue
            self.jumped = True
            self._begin_at(target)
            return target
        return bar + 1

    def _find(self, kind: str, label: str) -> int | None:
        """The bar of a sign: the one with this label, else the first of its kind."""
        labels = [mark.segno if kind == "segno" else mark.coda for mark in self.marks]
        if label in labels:
            return labels.index(label)
        return next((bar for bar, found in enumerate(labels) if found is not None), None)
