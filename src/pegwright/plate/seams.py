"""Where plates go on the rim, so that the way across every seam is nearest to what the inside pitch asks for.

All lengths are whole hundredths of a mm. Plates and seams count from the datum plate, which stays where it is: seam k
lies after plate k, and the last one closes the turn. The place of a plate is the sum of the interval errors of the
seams between it and the datum plate; that of the closing seam's far side is fixed, because the turn closes.

What is best, in this order: the least greatest interval error over all seams; the least greatest displacement of any
plate, by the middle of its holes, a common turn of all being free; the fewest shims (or plates shifted); the least
total thickness (or shift). A dynamic programme over places finds it. Shims are taken to be owned without end at first;
only kinds of which the plan then takes more than there are become part of the state, so that the plan stays exact.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence
from itertools import combinations_with_replacement, pairwise

from pegwright.errors import UsageError
from pegwright.frozen import frozen

MAX_SHIMS_PER_SEAM = 3
MAX_MOVES = 2_000_000  # that are looked at; some twelve seconds
_State = tuple[int, tuple[int, ...]]  # the place of a plate, and how many shims of each tracked kind were taken
_Path = tuple[tuple[int, ...], ...]
_Cost = tuple[int, int, _Path]


@frozen()
class ShimKind:
    """Shims of one thickness, in hundredths of a mm, and how many are owned."""

    thickness: int
    count: int


@frozen()
class SeamProblem:
    """Plates to be placed; in hundredths of a mm, from the datum plate on, each of length p.

    Args:
        arc_errors: by which the way from a plate's first hole to its last is longer than the pitch asks for.
        touching: the interval error of each seam whose plates touch.
        at_rest: of dowelled plates the interval error of each seam with no plate shifted; empty for butted plates.
        clearance: by which a dowelled plate can be shifted to either side.
        shims: that are owned, for butted plates.
    """

    arc_errors: tuple[int, ...]
    touching: tuple[int, ...]
    at_rest: tuple[int, ...] = ()
    clearance: int = 0
    shims: tuple[ShimKind, ...] = ()

    @property
    def plate_count(self) -> int:
        """Plates of the turn, and seams."""
        return len(self.touching)

    @property
    def total(self) -> int:
        """The sum of all interval errors, which no placing changes."""
        return -sum(self.arc_errors)

    @property
    def middles(self) -> tuple[int, ...]:
        """Twice the displacement of each plate's middle against the datum plate's, its place taken off."""
        doubled = [0]
        for before, after in pairwise(self.arc_errors):
            doubled.append(doubled[-1] + before + after)
        return tuple(doubled)


@frozen()
class SeamPlan:
    """Where plates go; in hundredths of a mm, from the datum plate on.

    Args:
        errors: interval error of each seam.
        displacements_doubled: twice the displacement of each plate's middle against the datum plate's.
        shims: thicknesses at each seam, thickest first; empty for dowelled plates and at the closing seam.
        shifts: of each dowelled plate from its place at rest, later being positive; zeros for butted plates.
    """

    errors: tuple[int, ...]
    displacements_doubled: tuple[int, ...]
    shims: tuple[tuple[int, ...], ...]
    shifts: tuple[int, ...]

    @property
    def greatest_error(self) -> int:
        """The greatest interval error, without its sign."""
        return max(map(abs, self.errors))

    @property
    def range_doubled(self) -> int:
        """Twice the way from the plate that is furthest early to the one furthest late."""
        return max(self.displacements_doubled) - min(self.displacements_doubled)

    @property
    def cost(self) -> tuple[int, int, int, int]:
        """What was made least, in order."""
        count = sum(map(len, self.shims)) + sum(shift != 0 for shift in self.shifts)
        return self.greatest_error, self.range_doubled, count, sum(map(sum, self.shims)) + sum(map(abs, self.shifts))


@frozen()
class _SeamMove:
    """From one plate to the next.

    Args:
        error: interval error of the seam between them.
        used: shims of each tracked kind that it takes.
        count: shims, or 1 for a plate that is shifted.
        size: their total thickness, or the shift without its sign.
        parts: the shims, thickest first; or the shift.
    """

    error: int
    used: tuple[int, ...]
    count: int
    size: int
    parts: tuple[int, ...]


def plan_seams(problem: SeamProblem) -> SeamPlan | None:
    """The best plan; None where the plates do not close the turn, whatever is done.

    Raises:
        UsageError: there are more ways than can be looked at.
    """
    tracked: set[int] = set()
    while True:
        plan = _SeamSearch(problem, sorted(tracked)).plan()
        if plan is None:
            return None
        taken = Counter(thickness for seam in plan.shims for thickness in seam)
        over = {n for n, kind in enumerate(problem.shims) if taken[kind.thickness] > kind.count}
        if not over:
            return plan
        tracked |= over


class _SeamSearch:
    """The dynamic programme for one choice of tracked kinds of shims.

    Args:
        problem: to be solved.
        tracked: indexes of the kinds of which no more than are owned may be taken.
    """

    def __init__(self, problem: SeamProblem, tracked: Sequence[int]) -> None:
        self.problem = problem
        self.owned = tuple(problem.shims[n].count for n in tracked)
        self.moves = 0
        self.start: _State = (0, (0,) * len(tracked))
        self.middles = problem.middles
        self.packs = () if problem.at_rest else tuple(self._packs(tracked))
        self.rests = [0]
        for error in problem.at_rest:
            self.rests.append(self.rests[-1] + error)

    def plan(self) -> SeamPlan | None:
        """The best plan, or None."""
        bound = self._least_error()
        if bound is None:
            return None
        width = self._least_width(bound)
        costs = (self._cheapest(bound, low, low + width) for low in range(-width, 1))
        return self._of_path(min(cost for cost in costs if cost is not None)[2])

    def _packs(self, tracked: Sequence[int]) -> Iterator[_SeamMove]:
        """Every choice of shims for a seam; of those that do the same the one of the fewest, then the first."""
        kinds = sorted(range(len(self.problem.shims)), key=lambda n: -self.problem.shims[n].thickness)
        seen: set[tuple[int, tuple[int, ...]]] = set()
        for count in range(MAX_SHIMS_PER_SEAM + 1):
            for chosen in combinations_with_replacement(kinds, count):
                parts = tuple(self.problem.shims[n].thickness for n in chosen)
                used = tuple(chosen.count(n) for n in tracked)
                enough = all(chosen.count(n) <= self.problem.shims[n].count for n in chosen)
                if enough and (sum(parts), used) not in seen:
                    seen.add((sum(parts), used))
                    yield _SeamMove(sum(parts), used, count, sum(parts), parts)

    def _moves(self, seam: int, place: int, bound: int) -> Iterator[_SeamMove]:
        """Every move over a seam, from a place, with an interval error of at most `bound` either way."""
        touching = self.problem.touching[seam]
        for pack in self.packs:
            error = touching + pack.error
            if -bound <= error <= bound:
                yield _SeamMove(error, pack.used, pack.count, pack.size, pack.parts)
        if self.problem.at_rest:
            rest, clearance = self.rests[seam + 1], self.problem.clearance
            lowest = max(rest - clearance, place + max(-bound, touching))
            for after in range(lowest, min(rest + clearance, place + bound) + 1):
                shift = after - rest
                yield _SeamMove(after - place, (), int(shift != 0), abs(shift), (shift,))

    def _next(self, seam: int, state: _State, bound: int) -> Iterator[tuple[_State, _SeamMove]]:
        """States after a seam from which the turn can still be closed."""
        place, used = state
        last = self.problem.plate_count - 1
        for move in self._moves(seam, place, bound):
            self.moves += 1
            if self.moves > MAX_MOVES:
                message = f"more than {MAX_MOVES:,} ways to pack or shift these plates, the maximum"
                raise UsageError(message, hint="give fewer kinds of shims, more of each, or less clearance")
            after = place + move.error
            rest = self.problem.total - after
            taken = tuple(a + b for a, b in zip(used, move.used, strict=True))
            if abs(rest) > (last - seam) * bound or any(a > b for a, b in zip(taken, self.owned, strict=True)):
                continue
            if seam + 1 == last and rest < self.problem.touching[last]:
                continue
            yield (after, taken), move

    def _closes(self, bound: int) -> bool:
        """Whether there is a plan with no interval error above `bound`."""
        states = {self.start}
        for seam in range(self.problem.plate_count - 1):
            states = {after for state in states for after, _ in self._next(seam, state, bound)}
        return bool(states) and (self.problem.plate_count > 1 or self._single(bound))

    def _single(self, bound: int) -> bool:
        return self.problem.touching[0] <= self.problem.total and abs(self.problem.total) <= bound

    def _least_error(self) -> int | None:
        """The least greatest interval error of any plan; None where there is none."""
        problem = self.problem
        low = -(-abs(problem.total) // problem.plate_count)
        rest = problem.total - sum(problem.touching[:-1])
        ceiling = max(abs(error) for error in (*problem.touching[:-1], rest, problem.total, *problem.at_rest))
        ceiling += 2 * problem.clearance
        step, high = 1, low
        while not self._closes(high):
            if high >= ceiling:
                return None
            low, high, step = high + 1, min(high + step, ceiling), 2 * step
        while low < high:
            middle = (low + high) // 2
            low, high = (low, middle) if self._closes(middle) else (middle + 1, high)
        return high

    def _least_width(self, bound: int) -> int:
        """Twice the least range of displacements of any plan with no interval error above `bound`."""
        best: int | None = None
        low = 0
        while best is None or -low < best:
            high = self._lowest_high(bound, low, best)
            if high is not None:
                best = high - low if best is None else min(best, high - low)
            low -= 1
        return best

    def _lowest_high(self, bound: int, low: int, best: int | None) -> int | None:
        """The least greatest displacement, doubled, where none is below `low`; None where there is none.

        Args:
            bound: of interval errors.
            low: of displacements, doubled.
            best: range that is known to be possible, doubled; wider ones are not looked for.
        """
        highs = {self.start: 0}
        for seam in range(self.problem.plate_count - 1):
            after_seam: dict[_State, int] = {}
            for state, high in highs.items():
                for after, _ in self._next(seam, state, bound):
                    middle = 2 * after[0] + self.middles[seam + 1]
                    reached = max(high, middle)
                    if middle >= low and (best is None or reached - low <= best):
                        after_seam[after] = min(reached, after_seam.get(after, reached))
            highs = after_seam
        return min(highs.values(), default=None)

    def _cheapest(self, bound: int, low: int, high: int) -> _Cost | None:
        """The cheapest plan with every displacement, doubled, from `low` to `high`; None where there is none.

        Args:
            bound: of interval errors.
            low: of displacements, doubled.
            high: of displacements, doubled.
        """
        costs: dict[_State, _Cost] = {self.start: (0, 0, ())}
        for seam in range(self.problem.plate_count - 1):
            after_seam: dict[_State, _Cost] = {}
            for state, (count, size, path) in costs.items():
                for after, move in self._next(seam, state, bound):
                    if low <= 2 * after[0] + self.middles[seam + 1] <= high:
                        cost = (count + move.count, size + move.size, (*path, move.parts))
                        after_seam[after] = min(cost, after_seam.get(after, cost))
            costs = after_seam
        return min(costs.values(), default=None)

    def _of_path(self, path: _Path) -> SeamPlan:
        """The plan of what was chosen at each seam but the last."""
        problem = self.problem
        if problem.at_rest:
            places = [0, *(self.rests[n] + shift for n, (shift,) in enumerate(path, start=1))]
            shims: _Path = ((),) * problem.plate_count
            shifts: tuple[int, ...] = (0, *(shift for (shift,) in path))
        else:
            places = [0]
            for seam, parts in enumerate(path):
                places.append(places[-1] + problem.touching[seam] + sum(parts))
            shims, shifts = (*path, ()), (0,) * problem.plate_count
        middles = (2 * place + middle for place, middle in zip(places, self.middles, strict=True))
        errors = (after - before for before, after in pairwise((*places, problem.total)))
        return SeamPlan(tuple(errors), tuple(middles), shims, shifts)
