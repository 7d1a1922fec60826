"""From the repeats, endings and jumps on the bars to the order in which the bars are played."""

from __future__ import annotations

from dataclasses import dataclass, field, replace

from pegwright.formats import MAX_BARS
from pegwright.frozen import frozen
from pegwright.musicxml.marks import BarMarks
from pegwright.musicxml.notices import Notice
from pegwright.musicxml.signs import Signs, Target
from pegwright.musicxml.values import numbers_in

_MAX_STEPS = 10 * MAX_BARS  # bars played and endings skipped
_WORDS_REACH_BARS = 2  # words begin that far before the barline they stand for
_ENDING_REACH_BARS = 12  # and a bracket drawn short ends that far before its repeat


@frozen()
class Order:
    """The bars in playing order.

    Args:
        bars: 0-based index of the written bar, for every bar played; never empty.
        clear: False where the repeats did not fit together and the bars are played straight through.
        faults: written bars at fault, by what was done about them.
    """

    bars: list[int]
    clear: bool = True
    faults: dict[Notice, list[int]] = field(default_factory=dict)


def playing_order(marks: list[BarMarks]) -> Order:
    """The order in which bars with these marks are played.

    A repeat without a beginning goes back to the end of the repeat before it, or to the start. After a
    jump (da capo, dal segno) bars already heard are played without repeats, unless the repeat or the jump says
    otherwise, and with their last ending. A jump is taken once, at the end of its bar. A fine ends a
    movement: bars after the jump that led to it are another.

    Args:
        marks: one for each written bar, at least one.
    """
    marks = [replace(mark) for mark in marks]
    _place_bare_codas(marks)
    _place_words(marks)
    player = _Player(marks, _ending_groups(marks))
    played = player.play()
    unplayed = sorted(set(range(len(marks))) - set(played))
    if played and (not unplayed or player.jumped):
        faults = {
            Notice.NO_TARGET: player.lost_jumps,
            Notice.OPEN_JUMP: player.open_jumps,
            Notice.NO_FINE: player.ended_jumps,
            Notice.UNPLAYED: unplayed,
        }
        return Order(played, True, faults)
    return Order(list(range(len(marks))), clear=False)


def _place_bare_codas(marks: list[BarMarks]) -> None:
    """Coda signs drawn without explanation are what is missing: the last of them the coda, the others lead there."""
    bare = [mark for mark in marks if mark.bare_coda and mark.coda is None and mark.tocoda is None]
    if bare and all(mark.coda is None for mark in marks):
        bare.pop().coda = ""
    if all(mark.tocoda is None for mark in marks):
        for mark in bare:
            mark.tocoda = ""


def _place_words(marks: list[BarMarks]) -> None:
    """Printed words such as "D.C. al Fine" begin before the barline where they hold: move them there.

    A heading such as "Trio" behind the notes of a bar that closes with a double bar is that of the next one.
    """
    for bar, mark in enumerate(marks):
        if mark.trio_late:
            heads = mark.closing and bar + 1 < len(marks)
            marks[bar + heads].trio = True
        if mark.worded:
            near = marks[bar : bar + 1 + _WORDS_REACH_BARS]
            target = next((ahead for ahead in near if ahead.closing), mark)
            if target is not mark:
                target.dacapo, target.dalsegno, target.passes = mark.dacapo, mark.dalsegno, mark.passes
                target.named, target.with_repeats, target.to_segno = mark.named, mark.with_repeats, mark.to_segno
                mark.dacapo, mark.dalsegno = False, None


@dataclass(slots=True)
class _Group:
    """Alternative endings side by side.

    Args:
        first_bar: of the first of them.
        passes: for each bar in an ending, the passes at which it is played.
        used: every pass that has an ending.
        brackets: how many endings.
        last_pass, last_bar: the last pass and the last bar that have an ending, 0 for none.
    """

    first_bar: int
    passes: dict[int, frozenset[int]] = field(default_factory=dict)
    used: set[int] = field(default_factory=set)
    brackets: int = 0
    last_pass: int = 0
    last_bar: int = 0

    def add(self, bars: range, passes: frozenset[int]) -> None:
        """Take in an ending."""
        self.passes.update(dict.fromkeys(bars, passes))
        self.used |= passes
        self.brackets += 1
        self.last_pass = max(self.last_pass, *passes)
        self.last_bar = max(self.last_bar, bars[-1])

    @property
    def total(self) -> int:
        """How often the bars before are played: a lone first ending leaves the last pass to the bars after it."""
        return self.last_pass + (self.brackets == 1)


def _ending_groups(marks: list[BarMarks]) -> dict[int, _Group]:
    """The group of every bar that is in an ending."""
    groups: dict[int, _Group] = {}
    for bar, mark in enumerate(marks):
        begins = mark.ending or (mark.ending_ends and mark.backward and bar not in groups)
        if not begins:
            continue
        group = groups.get(bar - 1, _Group(bar))
        # An end without a beginning, before a repeat, was the first ending, one bar long.
        passes = _ending_passes(mark, group) if mark.ending else frozenset({1})
        if passes & group.used:
            group = _Group(bar)
        bars = range(bar, _last_bar(marks, bar) + 1)
        group.add(bars, passes)
        groups.update(dict.fromkeys(bars, group))
    return groups


def _last_bar(marks: list[BarMarks], first: int) -> int:
    """The last bar of the ending that begins at `first`."""
    last = first
    while not (marks[last].ending_ends or marks[last].backward) and last + 1 < len(marks):
        if marks[last + 1].ending or marks[last + 1].forward:
            return last
        last += 1
    if not marks[last].backward:
        for ahead in range(last + 1, min(last + 1 + _ENDING_REACH_BARS, len(marks) - 1)):
            if marks[ahead].ending or marks[ahead].forward:
                break
            if marks[ahead].backward and marks[ahead + 1].ending:
                return ahead
    return last


def _ending_passes(mark: BarMarks, beside: _Group) -> frozenset[int]:
    """The passes of an ending; its printed text helps where its number repeats one of those beside it."""
    numbered = frozenset(mark.ending) - {0}
    printed = frozenset(numbers_in(mark.ending_text))
    if (not numbered or numbered & beside.used) and printed and not printed & beside.used:
        return printed
    return numbered or frozenset({beside.last_pass + 1})


class _Player:
    """Walks the bars as a player reads them."""

    def __init__(self, marks: list[BarMarks], groups: dict[int, _Group]) -> None:
        self.marks = marks
        self.groups = groups
        self.lost_jumps: list[int] = []
        self.open_jumps: list[int] = []
        self.ended_jumps: list[int] = []
        self.jumped = 0  # how many jumps back were taken
        self._signs = Signs(marks)
        self._taken: set[tuple[str, int]] = set()
        self._first_played: list[int | None] = [None] * len(marks)  # `jumped` when the bar was first played
        self._start = 0  # where the repeat goes back to
        self._pass = 1
        self._left = 0  # the bar of the latest jump back
        self._end: int | None = None  # where what it plays again ends, if no fine says so
        self._repeats_again = False
        self._played: list[int] = []
        self._playings = [0] * len(marks)
        self._news = 0  # how often something happened that cannot happen without end
        self._seen: set[tuple[int | None, ...]] = set()  # what was met since then at steps back

    def play(self) -> list[int]:
        """Indexes of the bars as played; empty if they never come to an end, or not within the limit."""
        bar, before = 0, -1
        for _ in range(_MAX_STEPS):
            if bar >= len(self.marks):
                return self._played
            if bar <= before and self._comes_again(bar, before):
                break
            group = self.groups.get(bar)
            if group is not None:
                playing = group.total if self._played_plain(group.first_bar) else self._pass
                if playing not in group.passes[bar]:
                    bar, before = bar + 1, bar
                    continue
            if (before == bar - 1 and self._begins(bar)) or (self.marks[bar].forward and bar != self._start):
                self._begin_at(bar)
            if len(self._played) == MAX_BARS:
                break
            self._play(bar)
            bar, before = self._after(bar), bar
        return []

    def _play(self, bar: int) -> None:
        self._played.append(bar)
        self._playings[bar] += 1
        if self._first_played[bar] is None:
            self._first_played[bar] = self.jumped
            self._news += 1
        elif self._playings[bar] <= 1 + max(self.marks[bar].passes, default=0):  # later ones are all alike
            self._news += 1

    def _comes_again(self, bar: int, before: int) -> bool:
        """Whether the bars go on as they did at an earlier step back, and so for ever.

        All that decides how they go on is compared, but for what only ever grows, and that did not since then.
        """
        if self._news:
            self._news = 0
            self._seen.clear()
        state = bar, before, self._start, self._pass, self._left, self._end, self._repeats_again
        known = state in self._seen
        self._seen.add(state)
        return known

    def _begins(self, bar: int) -> bool:
        """Whether repeats do not reach back over a bar's beginning.

        That is so behind the last of some endings, at the end of a movement or of a piece before its trio.
        """
        if bar == 0:
            return False
        before = self.marks[bar - 1]
        after_endings = bar - 1 in self.groups and bar not in self.groups
        return after_endings or before.final or (before.fine and before.closing) or self.marks[bar].trio

    def _played_before_jump(self, bar: int) -> bool:
        """Whether a bar was played before the latest jump back."""
        first = self._first_played[bar]
        return first is not None and first < self.jumped

    def _played_plain(self, bar: int) -> bool:
        """Whether a bar is played without its repeats and with its last ending."""
        return self._played_before_jump(bar) and not self._repeats_again

    def _begin_at(self, bar: int) -> None:
        self._start, self._pass = bar, 1

    def _after(self, bar: int) -> int:
        """The bar that follows in play, past the last one at the end."""
        mark = self.marks[bar]
        if mark.backward:
            group = self.groups.get(bar)
            total = group.total if group is not None else mark.times or 2
            if self._pass < total and (mark.after_jump or not self._played_plain(bar)):
                self._pass += 1
                return self._start
            self._begin_at(bar + 1)
        holds = not mark.passes or self._playings[bar] in mark.passes
        if self._played_before_jump(bar):
            if bar == self._end:
                self.ended_jumps.append(self._left)
            if bar == self._end or (mark.fine and holds):
                return self._past_the_fine()
        return self._jump(bar) if holds else bar + 1

    def _past_the_fine(self) -> int:
        """What follows a fine: the bars after the jump that led to it, unless they were played."""
        self.open_jumps.clear()
        self._end, self._repeats_again = None, False
        following = self._left + 1
        if following >= len(self.marks) or self._first_played[following] is not None:
            return len(self.marks)
        self._begin_at(following)
        return following

    def _jump(self, bar: int) -> int:
        mark = self.marks[bar]
        kinds = [("coda", mark.tocoda)] if self._played_before_jump(bar) else []
        kinds += [("segno", mark.dalsegno), ("top", "" if mark.dacapo else None)]
        for kind, label in kinds:
            if label is None or (kind, bar) in self._taken:
                continue
            self._taken.add((kind, bar))
            self._news += 1
            target = self._target(kind, label, bar)
            if target is None:
                self.lost_jumps.append(bar)
                continue
            if kind == "coda":
                self.open_jumps.clear()
            else:
                self.open_jumps.append(bar)
                self.jumped, self._left = self.jumped + 1, bar
                self._repeats_again = mark.with_repeats
            group = self.groups.get(-1 if target.end is None else target.end)
            self._end = group.last_bar if group is not None else target.end
            self._begin_at(target.bar)
            return target.bar
        return bar + 1

    def _target(self, kind: str, label: str, bar: int) -> Target | None:
        if kind == "top":
            return self._signs.top(bar)
        return self._signs.segno(label, bar) if kind == "segno" else self._signs.coda(label, bar)
