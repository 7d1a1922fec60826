"""Where jumps lead: to the top of a movement, to a sign, to a coda; and where what is played again ends."""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass, field

from pegwright.frozen import frozen
from pegwright.musicxml.marks import BarMarks


@frozen()
class Target:
    """Where a jump leads.

    Args:
        bar: the first bar played again.
        end: the last one, where neither fine nor coda says so; None to play on to a fine, a coda or the end.
    """

    bar: int
    end: int | None = None


@dataclass(slots=True)
class _Labelled:
    """The bars of one kind of sign, in order, all of them and by label."""

    bars: list[int] = field(default_factory=list)
    by_label: defaultdict[str, list[int]] = field(default_factory=lambda: defaultdict(list))

    def of(self, label: str) -> list[int]:
        """The bars with this label, or where none has it those of the kind."""
        return self.by_label.get(label, self.bars)


class Signs:
    """Finds where jumps lead.

    Args:
        marks: of all bars, bare signs and words put in place.
    """

    def __init__(self, marks: Sequence[BarMarks]) -> None:
        self._marks = marks
        self._segnos, self._codas = _Labelled(), _Labelled()
        for bar, mark in enumerate(marks):
            for kind, label in ((self._segnos, mark.segno), (self._codas, mark.coda)):
                if label is not None:
                    kind.bars.append(bar)
                    kind.by_label[label].append(bar)
        bars = range(len(marks))
        self._trios = [bar for bar in bars if marks[bar].trio]
        self._stops = [bar for bar in bars if marks[bar].fine or marks[bar].tocoda is not None]
        self._finals = [bar for bar in bars if marks[bar].final]
        self._strains = [bar for bar in bars if marks[bar].backward]
        self._new_metres = [bar for bar in bars if marks[bar].new_metre]
        self._doubles = [bar for bar in bars if marks[bar].closing and not marks[bar].backward]
        # A trio begins no movement: its da capo goes back to what stands before it.
        self._tops = [0, *(bar + 1 for bar in self._finals if bar + 1 < len(marks) and not marks[bar + 1].trio)]

    def segno(self, label: str, bar: int) -> Target | None:
        """The sign that a jump in a bar goes back to: the last one up to it, else the first."""
        bars = self._segnos.of(label)
        return Target(bars[max(0, bisect_right(bars, bar) - 1)]) if bars else None

    def coda(self, label: str, bar: int) -> Target | None:
        """The coda that a bar leads to: the next one, else the last."""
        bars = self._codas.of(label)
        return Target(bars[min(len(bars) - 1, bisect_right(bars, bar))]) if bars else None

    def top(self, bar: int) -> Target:
        """Where a da capo in a bar leads.

        A final barline ends a movement only where a fine, a coda to leave for or a trio follows it before the jump: the
        da capo could not end otherwise. Without any of them it ends one all the same, unless the words name the
        piece to be played again, which then is the one before.

        A piece with a trio, or that the words name, has one metre, and its da capo goes back over no change (our rule).
        """
        if self._marks[bar].to_segno and self._segnos.bars:
            sign = self._segnos.bars[max(0, bisect_right(self._segnos.bars, bar) - 1)]
            return Target(_last(self._tops, sign), sign if self._marks[sign].segno_late else max(0, sign - 1))
        stop, trio = _before(self._stops, bar), _before(self._trios, bar + 1)
        known = max(stop, trio)
        if known >= 0:
            top = _last(self._tops, known)
            if stop >= top:
                return Target(self._one_metre(top, stop) if self._marks[bar].named or trio >= top else top)
            if trio > top:
                before_trio = self._trios[bisect_right(self._trios, top)] - 1
                return Target(self._one_metre(top, before_trio), before_trio)
        final = _before(self._finals, bar)
        if self._marks[bar].named:
            last = final if final >= 0 else self._end_before_trio(bar)
            if last is not None:
                return Target(self._one_metre(_last(self._tops, last), last), last)
        return Target(final + 1)

    def _one_metre(self, top: int, end: int) -> int:
        """Where the piece that ends with a bar begins, no earlier than at its top and with its metre."""
        return max(top, _before(self._new_metres, end + 1))

    def _end_before_trio(self, bar: int) -> int | None:
        """Where the first of two pieces ends without a heading or a final barline between them.

        That is the last double bar before the jump; else, of an even number of repeated strains, the end of the
        first half (our rule: minuet and trio have as many strains each).
        """
        double = _before(self._doubles, bar)
        if double >= 0:
            return double
        strains = bisect_right(self._strains, bar)
        return self._strains[strains // 2 - 1] if strains and strains % 2 == 0 else None


def _before(bars: Sequence[int], bar: int) -> int:
    """The last of ascending bars before another, or -1."""
    place = bisect_left(bars, bar)
    return bars[place - 1] if place else -1


def _last(tops: Sequence[int], bar: int) -> int:
    """The last of the tops that is not after a bar."""
    return tops[bisect_right(tops, bar) - 1]
