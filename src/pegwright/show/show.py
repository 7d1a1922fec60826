"""A planned show in full: what people pin, when, how long they have, and what they must own.

Everything that a page, a file or a screen shows of a show is taken from here.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from fractions import Fraction

from pegwright.columns import Ints, frozen_ints
from pegwright.errors import InternalError
from pegwright.findings import Finding
from pegwright.frozen import frozen
from pegwright.note_count import NoteCount
from pegwright.placement import PinMap
from pegwright.show.count import Need
from pegwright.show.plan import Plan
from pegwright.show.replay import SwapStep, Wear, replay
from pegwright.show.swap import swap
from pegwright.show.time import WorkTimes
from pegwright.swapping import Swap
from pegwright.wheel import Wheel

_ROUNDING_S = 1e-6  # sums of times in another order differ by less


@frozen(eq=False)
class Pinned:
    """One set of plates made ready for one song, or for some turns of it: a swap.

    Args:
        place: of the song in the playing order, 0-based.
        letter: which of the song's pinnings, such as `A`; empty where it has one only.
        plate_set: 0-based.
        before: number of what the set carried before, among `Show.pinned`; None if it is done before the show.
        start_steps: where on the turn the song begins, in steps from 0.
        old: what the set carried; a map without pins for empty plates.
        pins: what it carries then.
        swap: from `old` to `pins`.
        plates: for each place on the rim the plate that stands there then, by the place it had at the beginning.
        needed_s: seconds of work.
        available_s: seconds there are; None before the show.
        late_s: how long the show waits for it, if the same people do one swap after another.
        first_s: when it must be on the wheel, in seconds from the start of the show.
    """

    place: int
    letter: str
    plate_set: int
    before: int | None
    start_steps: Fraction
    old: PinMap
    pins: PinMap
    swap: Swap
    plates: tuple[int, ...]
    needed_s: float
    available_s: float | None
    late_s: float
    first_s: float

    @property
    def wait_s(self) -> int:
        """`late_s` as it is printed: whole seconds, no fewer than the printed times needed and available differ by."""
        if not self.late_s:
            return 0
        return max(1, math.ceil(self.late_s - _ROUNDING_S), self._short_s)

    @property
    def busy_s(self) -> int:
        """How many of the seconds available the same people still need for an earlier set, as they are printed."""
        return self.wait_s - self._short_s if self.late_s else 0

    @property
    def _short_s(self) -> int:
        """Time needed less time available, each as it is printed."""
        return math.ceil(self.needed_s) - math.floor(self.available_s or 0.0)


@frozen()
class PlayedSong:
    """One song of the show in its place.

    Args:
        number: in the song set, 0-based.
        title, file: of the score.
        times: how often it is played through.
        running: the pinning of each turn of one pass, such as (0, 0, 1, 0) for A A B A.
        pinned: numbers of its pinnings among `Show.pinned`.
        swaps_within: sets that are pinned anew while it plays.
        changes_within: how often the set on the wheel is changed while it plays.
        start_s, end_s: from the start of the show.
        talk_s: talk and applause after it.
        count: of the notes of one pass.
        us_per_quarter: its tempo.
        transpose_semitones: as fitted.
    """

    number: int
    title: str
    file: str
    times: int
    running: tuple[int, ...]
    pinned: tuple[int, ...]
    swaps_within: int
    changes_within: int
    start_s: float
    end_s: float
    talk_s: float
    count: NoteCount
    us_per_quarter: int
    transpose_semitones: int

    @property
    def pinning_count(self) -> int:
        """Different pinnings: the sets of plates it takes if none is to be pinned while it plays."""
        return len(set(self.running))


@frozen()
class Savings:
    """Work during the show as planned and without planning.

    Args:
        plain: in the order given, each song from the first step (or the start it was given), no plate moved to another
            place; a song may lose more there than at its best starts.
        listed: the same from the first of its best starts, so with the same notes lost as in the plan.
        given: in the order given, with the best starts and exchanges of plates.
        planned: as planned.
        plain_silent, plain_moved: how many more notes `plain` leaves out than the others, and moves from their places.
    """

    plain: int
    listed: int
    given: int
    planned: int
    plain_silent: int = 0
    plain_moved: int = 0


@frozen(eq=False)
class Show:
    """A planned show.

    Args:
        title: of the song set.
        wheel: what it is pinned for.
        songs: in playing order.
        pinned: everything that is pinned, by when it is first on the wheel.
        carried: what each set of plates carries at the beginning.
        plan: the plan behind it, with its floor.
        work: how long things take.
        savings: see `Savings`.
        skipped: songs that could not be planned: file, and why.
        findings: what must be reported.
        max_at_once: pins of each type, the maximum in all sets at one time.
        needs: the same with spares, against the stock.
        spares_percent: spares of each type.
        wear: pins pulled and set on each plate.
    """

    title: str
    wheel: Wheel
    songs: tuple[PlayedSong, ...]
    pinned: tuple[Pinned, ...]
    carried: tuple[PinMap, ...]
    plan: Plan
    work: WorkTimes
    savings: Savings
    skipped: tuple[tuple[str, str], ...]
    findings: tuple[Finding, ...]
    max_at_once: Ints
    needs: tuple[Need, ...]
    spares_percent: float
    wear: tuple[Wear, ...]

    def song_of(self, pinned: Pinned) -> PlayedSong:
        """The song that something is pinned for."""
        return self.songs[pinned.place]

    def music_s(self, song: PlayedSong) -> float:
        """Seconds for which the music of a song sounds, without its stops for changes of sets."""
        return song.end_s - song.start_s - self.stops_s(song)

    def stops_s(self, song: PlayedSong) -> float:
        """Seconds for which the music of a song stops while the set on the wheel is changed."""
        return song.changes_within * self.work.change_s

    @property
    def on_time(self) -> bool:
        """Whether every set is ready when it is needed."""
        return all(pinned.late_s == 0 for pinned in self.pinned)


@frozen(eq=False)
class ShowSwaps:
    """The swaps of a plan, checked by carrying them out.

    Args:
        pinned: see `Show.pinned`.
        max_at_once, wear: see `Show`.
    """

    pinned: tuple[Pinned, ...]
    max_at_once: Ints
    wear: tuple[Wear, ...]


def show_swaps(
    plan: Plan,
    maps: Sequence[PinMap],
    letters: Sequence[str],
    starts: Sequence[Fraction],
    carried: Sequence[PinMap],
    wheel: Wheel,
    fixed: Sequence[int],
) -> ShowSwaps:
    """Compute every swap of a plan in full and check them.

    Args:
        plan: the plan; `maps`, `letters` and `starts` have one entry for each of its `table.carried`.
        maps: the pins that are set.
        letters: the name of each pinning in the running order of its song; empty where the song takes one turn.
        starts: where each begins, in steps.
        carried: what each set carries at the beginning.
        wheel: the wheel.
        fixed: places (0-based) whose plates stay.

    Raises:
        InternalError: the swaps do not do what the plan says.
    """
    stints = plan.table.carried
    olds = [carried[stint.plate_set] if stint.before is None else maps[stint.before] for stint in stints]
    swaps = [swap(old, new, wheel, fixed) for old, new in zip(olds, maps, strict=True)]
    steps = [SwapStep(stint.plate_set, moves, new) for stint, moves, new in zip(stints, swaps, maps, strict=True)]
    outcome = replay(carried, steps, wheel.plate_count)
    faults = list(outcome.faults)
    faults += [
        f"swap {number} moves {moves.work} pins, not {work}"
        for number, (moves, work) in enumerate(zip(swaps, plan.works, strict=True))
        if moves.work != work
    ]
    if faults:
        hint = "nothing was written; please report this with the song set"
        raise InternalError(
            f"the plan broke {len(faults)} of its own rules, the first: {faults[0]}", where="plan", hint=hint
        )
    pinned = tuple(
        Pinned(
            place=stint.place,
            letter=letters[number],
            plate_set=stint.plate_set,
            before=stint.before,
            start_steps=starts[number],
            old=olds[number],
            pins=maps[number],
            swap=swaps[number],
            plates=outcome.plates[number],
            needed_s=plan.needed_s[number],
            available_s=None if stint.before is None else stint.available_s,
            late_s=plan.late_s[number],
            first_s=stint.first_s,
        )
        for number, stint in enumerate(stints)
    )
    max_at_once = [max(count[kind] for count in outcome.in_plates) for kind in range(len(wheel.pin_types))]
    return ShowSwaps(pinned, frozen_ints(max_at_once), outcome.wear)
