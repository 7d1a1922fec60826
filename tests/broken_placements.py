"""Placements each of which breaks one rule of the verifier, made of sound ones: the cases of every sentence."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from fractions import Fraction
from typing import Any

import numpy as np

from pegwright.ask.options import FitOptions
from pegwright.check.verify import verify
from pegwright.columns import frozen_floats, frozen_ints
from pegwright.placement import Outcome, Placement, Status
from pegwright.score import Score
from pegwright.tell.findings import fit_with_findings
from pegwright.wheel import Channel, Collar, LostHole, PinType, Row, StrikeLimit, Wheel
from samples import GEOMETRY, HALF, ON, channel, score, wheel

STEP_MM = 15.625
RIM = replace(GEOMETRY, radius_mm=STEP_MM * 192 / (2 * np.pi))
TURN_TICKS = 1152  # 192 steps of 6
HOLE_COLUMNS = ("plate", "row", "index", "pin_type")


def put(placement: Placement, note: int, **values: int) -> Placement:
    """The placement with some columns of one note changed, and nothing else."""
    columns: dict[str, Any] = {}
    for name, value in values.items():
        column = getattr(placement, name).copy()
        column[note] = value
        columns[name] = frozen_floats(column) if column.dtype == np.float64 else frozen_ints(column)
    return replace(placement, **columns)


def left_out(placement: Placement, note: int, outcome: Outcome, **values: int) -> Placement:
    return put(placement, note, outcome=outcome, **dict.fromkeys(HOLE_COLUMNS, -1), **values)


def settled(song: Score, on: Wheel, placement: Placement) -> Placement:
    """The placement with the deviations, weight and cost that its holes have."""
    scale = placement.resolution // song.resolution
    turn = int(on.turn_quarters * placement.resolution)
    half = (turn - 1) // 2
    away, ms = np.zeros(song.note_count, dtype=np.int64), np.zeros(song.note_count)
    placed = np.flatnonzero(placement.outcome == Outcome.PLACED).tolist()
    for note in placed:
        row = on.rows[int(placement.row[note])]
        steps = int(placement.plate[note]) * on.steps_per_plate + row.position_steps(int(placement.index[note]))
        offset = on.pin_types[int(placement.pin_type[note])].offset_mm / on.geometry.circumference_mm * turn
        position = int(steps * on.step_quarters * placement.resolution) + round(offset)
        onset = int(song.onset_ticks[note]) * scale
        away[note] = (position - placement.start_ticks - onset + half) % turn - half
        if abs(away[note]) > song.tolerance_ticks * scale:
            exact = float(away[note]) + offset - round(offset)
            ms[note] = exact * placement.us_per_quarter / 1000 / placement.resolution
    weight = sum(128 + int(song.velocity[note]) for note in placed)
    cost = int(np.maximum(np.abs(away) - song.tolerance_ticks * scale, 0).sum())
    return replace(
        placement,
        deviation_ticks=frozen_ints(away),
        deviation_ms=frozen_floats(ms),
        weight=weight,
        weight_bound=weight,
        cost_ticks=cost,
    )


Case = tuple[Score, Wheel, Placement]
Hole = tuple[int, int, int, int]  # plate, row, index, pin type


def sound(song: Score, on: Wheel, outcome: Sequence[int], options: FitOptions | None = None) -> Placement:
    """The fit has these outcomes, worked out by hand, and the verifier agrees."""
    placement, _ = fit_with_findings(song, on, options or FitOptions())
    assert placement.outcome.tolist() == list(outcome)
    assert verify(song, on, placement) == ()
    return placement


def fitted(song: Score, on: Wheel) -> Case:
    """A sound placement."""
    placement, _ = fit_with_findings(song, on, FitOptions())
    assert verify(song, on, placement) == ()
    return song, on, placement


def by_hand(song: Score, on: Wheel, holes: Sequence[Hole], reach_quarters: Fraction = Fraction(23, 24)) -> Case:
    """Every note on the first channel, in a hole chosen by hand; all that follows from the holes is right."""
    _, _, placement = fitted(song, on)
    columns: dict[str, Any] = {
        name: frozen_ints(column) for name, column in zip(HOLE_COLUMNS, zip(*holes, strict=True), strict=True)
    }
    none, first = frozen_ints([-1] * len(holes)), frozen_ints([0] * len(holes))
    made = replace(
        placement,
        outcome=first,
        channel=first,
        unison=none,
        reach_ticks=int(reach_quarters * placement.resolution),
        **columns,
    )
    return song, on, settled(song, on, made)


TWINS = (channel("bar 60", [60]), channel("bar 61", [61]), channel("twin 60", [60]))


def plain() -> Case:
    """Two notes in holes and one without a channel."""
    return fitted(score([(6, 60), (12, 61), (18, 64)]), wheel(TWINS))


def together(*velocities: int, channels: Sequence[Channel] = TWINS[:1]) -> Case:
    """Notes of one pitch at one moment: one strike."""
    return fitted(score([(6, 60, velocity) for velocity in velocities]), wheel(channels))


def wheel_of(restrike_ms: float = 0.0, **changes: object) -> Wheel:
    return wheel([channel("bar 60", [60], restrike_ms=restrike_ms)], **{"geometry": RIM, **changes})


CASES: list[tuple[str, str, Callable[[], Case]]] = []  # sentence, what is wrong, and the placement


def case(sentence: str, what: str) -> Callable[[Callable[[], Case]], Callable[[], Case]]:
    def listed(build: Callable[[], Case]) -> Callable[[], Case]:
        CASES.append((sentence, what, build))
        return build

    return listed


def changed(sentence: str, what: str, **values: object) -> None:
    """A case of the plain song with one thing changed that holds for all its notes."""

    def build() -> Case:
        song, on, placement = plain()
        return song, on, replace(placement, **values)  # type: ignore[arg-type]  # as in `samples`

    CASES.append((sentence, what, build))


def changed_note(sentence: str, note: int, **values: int) -> None:
    """A case of the plain song with one note changed."""

    def build() -> Case:
        song, on, placement = plain()
        return song, on, put(placement, note, **values)

    CASES.append((sentence, f"note {note} {values}", build))


for name in (*HOLE_COLUMNS, "outcome", "channel", "deviation_ticks", "deviation_ms", "unison"):
    short = frozen_floats([0]) if name == "deviation_ms" else frozen_ints([0])
    changed("column {} has {} items for {} notes", name, **{name: short})
changed("the placement is of another score or another wheel", "score", score_sha256="2" * 64)
changed("the placement is of another score or another wheel", "wheel", wheel_sha256="2" * 64)
changed("resolution {} does not make score and wheel whole", "not the score", resolution=36)
changed("start {} is outside the turn of {} ticks", "before", start_ticks=-1)
changed("start {} is outside the turn of {} ticks", "past", start_ticks=TURN_TICKS)
changed("reach {} is not below half a turn of {} ticks", "below 0", reach_ticks=-1)
changed("reach {} is not below half a turn of {} ticks", "half", reach_ticks=TURN_TICKS // 2)
NOWHERE = {"channel": 3, "plate": 6, "row": 3, "pin_type": 1, "unison": 3}
for name, past in NOWHERE.items():
    changed_note("has a {} that does not exist", 0, **{name: past})
changed_note("has a {} that does not exist", 2, outcome=len(Outcome))
changed_note("has a {} that does not exist", 2, outcome=-1)
changed_note("has a {} that does not exist", 2, channel=-2)
changed_note("has a {} that does not exist", 0, unison=-2)
for name in HOLE_COLUMNS:
    changed_note("is placed without a {}", 0, **{name: -1})
    changed_note("is left out and has a {}", 2, **{name: 0})
changed_note("is placed without a channel", 0, channel=-1)
changed_note("has a channel that does not sound it", 0, channel=1)
changed_note(
    "is left out for lack of a channel and has one, or has none and another outcome", 2, outcome=Outcome.OFF_GRID
)


@case("resolution {} does not make score and wheel whole", "not the wheel")
def _() -> Case:
    song, on, placement = plain()
    fine = replace(on, rows=(replace(on.rows[0], phases=(Fraction(1, 7),)), *on.rows[1:]))
    return song, fine, placement


@case("resolution {} does not make score and wheel whole", "not a step")
def _() -> Case:
    song, on, placement = plain()
    whole = tuple(replace(row, phases=(Fraction(0),)) for row in on.rows)
    return song, replace(on, step_quarters=Fraction(1, 5), rows=whole), placement


@case("resolution {} does not make score and wheel whole", "not how early pins are")
def _() -> Case:
    song, on, placement = plain()
    early = tuple(replace(one, advance_steps=Fraction(1, 7)) for one in on.channels)
    return song, replace(on, channels=early), placement


@case("resolution {} does not make score and wheel whole", "not a phase")
def _() -> Case:
    song, on, placement = fitted(
        score([(1, 60)], resolution=4), wheel([channel("bar 60", [60], rows=["on"])], rows=(ON,))
    )
    assert placement.resolution == 4
    return song, replace(on, rows=(ON, HALF)), placement


@case("resolution {} does not make score and wheel whole", "the wheel, but not the score")
def _() -> Case:
    song, on, placement = fitted(score([(12, 60)], resolution=48), wheel(TWINS))
    return song, on, replace(placement, resolution=72)


@case("has no channel although one sounds it", "left out")
def _() -> Case:
    song, on, placement = plain()
    return song, on, settled(song, on, left_out(placement, 0, Outcome.NO_CHANNEL, channel=-1))


@case("shares a strike although it needs none", "no channel")
def _() -> Case:
    song, on, placement = fitted(score([(6, 64, 80), (6, 64, 90)]), wheel(TWINS))
    return song, on, put(placement, 0, unison=1)


@case("shares a strike although it needs none", "past the turn")
def _() -> Case:
    song, on, placement = fitted(score([(TURN_TICKS, 60, 80), (TURN_TICKS, 60, 90)]), wheel(TWINS[:1]))
    return song, on, put(placement, 0, unison=1)


@case("shares a strike with a note of other channels or another onset", "another onset")
def _() -> Case:
    song, on, placement = fitted(score([(6, 60, 80), (12, 60, 90)]), wheel(TWINS[:1]))
    return song, on, settled(song, on, left_out(placement, 0, Outcome.HOLE_USED, unison=1))


@case("shares a strike with a note of other channels or another onset", "another channel")
def _() -> Case:
    song, on, placement = together(80, 90, channels=TWINS)
    assert placement.unison.tolist() == [1, -1]
    return song, on, put(placement, 0, channel=2 - int(placement.channel[1]))


@case("shares a strike with a note of other channels or another onset", "other channels")
def _() -> Case:
    channels = [channel("bar 60", [60]), channel("both", [60, 61])]
    song, on, placement = fitted(score([(6, 60, 80), (6, 61, 90)]), wheel(channels))
    assert placement.channel.tolist() == [0, 1]
    return song, on, settled(song, on, left_out(placement, 0, Outcome.HOLE_USED, unison=1, channel=1))


@case("shares a strike with a note that shares one itself", "a chain")
def _() -> Case:
    song, on, placement = together(70, 80, 90)
    assert placement.unison.tolist() == [2, 2, -1]
    return song, on, put(placement, 0, unison=1)


@case("shares a strike with a note that shares one itself", "a chain to the first note")
def _() -> Case:
    on = wheel([channel("all", [60, 61, 62])])
    song, _, placement = fitted(score([(6, 60, 90), (6, 61, 80), (6, 62, 70)]), on)
    assert placement.unison.tolist() == [-1, 0, 0]
    return song, on, put(placement, 2, unison=1)


def exchanged(*velocities: int) -> Case:
    """Two notes that are one strike, the other of which stands for both."""
    song, on, placement = together(*velocities)
    (head,) = np.flatnonzero(placement.unison < 0).tolist()
    hole = {name: int(getattr(placement, name)[head]) for name in HOLE_COLUMNS}
    made = left_out(put(placement, 1 - head, outcome=0, unison=-1, **hole), head, Outcome.HOLE_USED, unison=1 - head)
    return song, on, settled(song, on, made)


@case("shares a strike with a note that weighs less or comes later", "the lighter stands")
def _() -> Case:
    return exchanged(80, 90)


@case("shares a strike with a note that weighs less or comes later", "the later of equals stands")
def _() -> Case:
    return exchanged(80, 80)


@case("shares a strike and has another outcome", "of a note that is placed")
def _() -> Case:
    song, on, placement = together(80, 90)
    return song, on, put(placement, 0, outcome=Outcome.RESTRIKE)


@case("shares a strike and has another outcome", "of a note that is left out")
def _() -> Case:
    song, on, placement = fitted(score([(8, 60, 80), (8, 60, 90)]), wheel([channel("bar 60", [60], rows=["on"])]))
    assert placement.outcome.tolist() == [Outcome.OFF_GRID] * 2
    return song, on, put(placement, 0, outcome=Outcome.HOLE_USED)


@case("is the same strike as another and does not say so", "not said")
def _() -> Case:
    song, on, placement = together(80, 90)
    return song, on, put(placement, 0, unison=-1)


@case("is in a hole that the row does not have", "past the last")
def _() -> Case:
    song, on, placement = plain()
    return song, on, put(placement, 0, index=32)


@case("is in a hole that the row does not have", "past the last, though its first is lost")
def _() -> Case:
    song, on, placement = plain()
    return song, replace(on, lost=(LostHole("on", 0),)), put(placement, 0, index=32)


@case("is in a hole that the row does not have", "past its only one, where other rows have more")
def _() -> Case:
    rows = (ON, Row("single", (Fraction(1, 2),), period_steps=32))
    song, on, placement = fitted(score([(3, 60)]), wheel([channel("bar 60", [60], rows=["single"])], rows=rows))
    return song, on, put(placement, 0, index=1)


@case("is in a row that the channel does not have", "another row")
def _() -> Case:
    song, on, placement = fitted(score([(3, 60)]), wheel([channel("bar 60", [60])]))
    return song, replace(on, channels=(channel("bar 60", [60], rows=["on"]),)), placement


for what, hole in {
    "everywhere": LostHole("on", 1),
    "on a plate": LostHole("on", 1, plate=0),
    "of a channel": LostHole("on", 1, channel="bar 60"),
}.items():

    def _lost(hole: LostHole = hole) -> Case:
        song, on, placement = plain()
        return song, replace(on, lost=(hole,)), placement

    CASES.append(("is in a lost hole", what, _lost))


@case("is in a lost hole", "too near the edge")
def _() -> Case:
    song, on, placement = fitted(score([(0, 60)]), wheel_of())
    return song, replace(on, geometry=replace(RIM, lead_edge_mm=4.4)), placement


OFFSETS = (PinType("peg", 9), PinType("early", 9, offset_mm=-4.0), PinType("late", 9, offset_mm=4.0))


@case("shares its hole with another pin", "pins that trip at different places")
def _() -> Case:
    on = wheel([channel("bar 60", [60], restrike_ms=0.0, rows=["on"])], pin_types=OFFSETS, geometry=RIM)
    return by_hand(score([(4, 60), (8, 60)]), on, [(0, 0, 1, 1), (0, 0, 1, 2)])


@case("has a pin type although another trips at the same place and comes first", "the second of equals")
def _() -> Case:
    on = wheel_of(pin_types=(PinType("peg", 9), PinType("other peg", 9)))
    return by_hand(score([(6, 60)]), on, [(0, 0, 1, 1)])


@case("has a pin type although another trips at the same place and comes first", "a bridge")
def _() -> Case:
    on = wheel_of(pin_types=(PinType("peg", 9), PinType("bridge", 9, bridge_mm=9.0)))
    return by_hand(score([(6, 60)]), on, [(0, 0, 1, 1)])


@case("has a deviation that its hole does not have", "of a placed note")
def _() -> Case:
    song, on, placement = plain()
    return song, on, replace(put(placement, 0, deviation_ticks=1), cost_ticks=1)


@case("has a deviation that its hole does not have", "of a note left out")
def _() -> Case:
    song, on, placement = plain()
    return song, on, put(placement, 2, deviation_ticks=1)


@case("is moved farther than the reach", "by a tick")
def _() -> Case:
    return by_hand(score([(8, 60)]), wheel_of(), [(0, 0, 1, 0)], reach_quarters=Fraction(1, 24))


@case("is moved farther than the reach", "by half a turn, later")
def _() -> Case:
    return by_hand(score([(TURN_TICKS // 2, 60)]), wheel_of(), [(0, 0, 0, 0)])


@case("is moved farther than the reach", "by nearly half a turn, earlier")
def _() -> Case:
    return by_hand(score([(TURN_TICKS // 2 - 1, 60)]), wheel_of(), [(0, 0, 0, 0)])


@case("is placed although it is past the turn", "the first tick past")
def _() -> Case:
    song, on, placement = fitted(score([(TURN_TICKS, 60)]), wheel([channel("bar 60", [60])]))
    return song, on, settled(song, on, put(placement, 0, outcome=0, plate=0, row=0, index=0, pin_type=0))


@case("has a wrong deviation in ms", "of a placed note")
def _() -> Case:
    song, on, placement = plain()
    return song, on, replace(placement, deviation_ms=frozen_floats([0.001, 0, 0]))


@case("has a wrong deviation in ms", "within the file's rounding")
def _() -> Case:
    song, on, placement = fitted(score([(7, 60)], tolerance_ticks=1), wheel_of())
    return song, on, replace(placement, deviation_ms=frozen_floats([-500 / 24]))


@case("is pinned out of the order of its channel's notes", "exchanged")
def _() -> Case:
    return by_hand(score([(6, 60), (12, 60)]), wheel_of(), [(0, 0, 2, 0), (0, 0, 1, 0)])


@case("is pinned out of the order of its channel's notes", "over the end of the turn")
def _() -> Case:
    return by_hand(score([(0, 60), (1148, 60)]), wheel_of(), [(0, 0, 0, 0), (0, 1, 0, 0)])


def soon(ticks: int, restrike_ms: float, hold_mm: float = 0.0) -> Case:
    song, on, placement = fitted(score([(0, 60), (ticks, 60)]), wheel_of())
    made = replace(on.channels[0], restrike_ms=restrike_ms, hold_mm=hold_mm)
    return song, replace(on, channels=(made,)), placement


RESTRIKE = "is struck again before the channel's re-strike is over"
CASES += [
    (RESTRIKE, "by a microsecond", lambda: soon(6, 125.001)),
    (RESTRIKE, "round the end of the turn", lambda: soon(TURN_TICKS - 6, 125.001)),
    (RESTRIKE, "after a pin has let go", lambda: soon(12, 125.001, hold_mm=STEP_MM)),
]


@case("has a pin that touches another", "on one channel")
def _() -> Case:
    return by_hand(score([(3, 60), (4, 60)]), wheel_of(), [(0, 1, 0, 0), (0, 2, 0, 0)])


@case("has a pin that touches another", "on neighbouring channels")
def _() -> Case:
    song, on, placement = fitted(score([(6, 60), (6, 61)]), wheel(TWINS[:2]))
    return song, replace(on, geometry=replace(on.geometry, channel_pitch_mm=3.4)), placement


@case("has a pin that reaches over an edge of its plate", "a collar that is off its hole")
def _() -> Case:
    song, on, placement = fitted(score([(0, 60)]), wheel_of(pin_types=(PinType("peg", 9, offset_mm=-1.0),)))
    stays = replace(on.pin_types[0], collar=Collar.STAYS)
    edge = replace(on.geometry, min_wall_mm=0.0, lead_edge_mm=2.0)
    assert verify(song, replace(on, geometry=edge, pin_types=(stays,)), placement) == ()
    return song, replace(on, geometry=edge), placement


@case("has a pin that reaches over an edge of its plate", "a collar past the trailing edge")
def _() -> Case:
    last = wheel_of().steps_per_plate - 1
    song, on, placement = fitted(score([(6 * last, 60)]), wheel_of(pin_types=(PinType("peg", 9, offset_mm=1.0),)))
    stays = replace(on.pin_types[0], collar=Collar.STAYS)
    edge = replace(on.geometry, min_wall_mm=0.0, trail_edge_mm=STEP_MM - 2.0)
    assert verify(song, replace(on, geometry=edge, pin_types=(stays,)), placement) == ()
    return song, replace(on, geometry=edge), placement


def crowded(ticks: Sequence[int], strikes: int, window_ms: float) -> Case:
    song, on, placement = fitted(score([(tick, 60) for tick in ticks]), wheel_of())
    return song, replace(on, strike_limits=(StrikeLimit("drive", ("bar 60",), strikes, window_ms),)), placement


LIMIT = "is one of more than {} strikes within the window of limit {}"
CASES += [
    (LIMIT, "by a microsecond", lambda: crowded([0, 6], strikes=1, window_ms=125.001)),
    (LIMIT, "three within two steps", lambda: crowded([0, 6, 12], strikes=2, window_ms=250.001)),
    (LIMIT, "round the end of the turn", lambda: crowded([0, TURN_TICKS - 6], strikes=1, window_ms=125.001)),
]


@case(LIMIT, "of two channels at once")
def _() -> Case:
    song, on, placement = fitted(score([(6, 60), (6, 61)]), wheel(TWINS[:2]))
    return song, replace(on, strike_limits=(StrikeLimit("drive", ("bar 60", "bar 61"), 1, 0.0),)), placement


@case(LIMIT, "where another channel has no limit")
def _() -> Case:
    song, on, placement = fitted(score([(6, 60), (7, 61), (12, 60)]), wheel(TWINS[:2]))
    return song, replace(on, strike_limits=(StrikeLimit("drive", ("bar 60",), 1, 125.001),)), placement


def totals(sentence: str, by: dict[str, int], status: Status = Status.OPTIMAL) -> None:
    def build() -> Case:
        song, on, placement = plain()
        more: dict[str, Any] = {name: getattr(placement, name) + change for name, change in by.items()}
        return song, on, replace(placement, status=status, **more)

    CASES.append((sentence, f"{by}, {status.name}", build))


totals("the weight placed is {}, not {}", {"weight": 1, "weight_bound": 1})
totals("the weight {} exceeds its bound {}", {"weight_bound": -1})
totals("the weight {} exceeds its bound {}", {"weight_bound": -1}, status=Status.BOUNDED)
totals("the weight {} is called the best and its bound is {}", {"weight_bound": 1})
totals("the cost is {} ticks, not {}", {"cost_ticks": 1})


@case("is left out and past the end of the turn, or is not and is said to be", "said to be off the grid")
def _() -> Case:
    song, on, placement = fitted(score([(TURN_TICKS, 60)]), wheel_of())
    return song, on, put(placement, 0, outcome=Outcome.OFF_GRID)


@case("is left out and could simply be added", "a free hole")
def _() -> Case:
    song, on, placement = plain()
    return song, on, settled(song, on, left_out(placement, 0, Outcome.HOLE_USED))


@case("is left out and could simply be added", "one strike fewer than a limit allows")
def _() -> Case:
    limit = StrikeLimit("drive", ("bar 60",), 2, 126.0)
    song, on, placement = fitted(score([(6, 60), (12, 60), (18, 60)]), wheel_of(strike_limits=(limit,)))
    return song, on, settled(song, on, left_out(placement, 1, Outcome.TOO_MANY))


@case("is left out and could simply be added", "long before as many strikes as a limit allows")
def _() -> Case:
    limit = StrikeLimit("drive", ("bar 60",), 2, 126.0)
    song, on, placement = fitted(score([(6, 60), (18, 60), (24, 60)]), wheel_of(strike_limits=(limit,)))
    return song, on, settled(song, on, left_out(placement, 0, Outcome.TOO_MANY))


def off_grid() -> Case:
    return fitted(score([(9, 60)]), wheel([replace(one, rows=("on",)) for one in TWINS]))


@case("is left out on another channel than its nearest hole's", "the second of two")
def _() -> Case:
    song, on, placement = off_grid()
    return song, on, put(placement, 0, channel=2)


for outcome in range(Outcome.LOST_AT_SEAM, Outcome.PAST_TURN):

    def _of(outcome: int = outcome) -> Case:
        song, on, placement = off_grid()
        return song, on, put(placement, 0, outcome=outcome)

    CASES.append(("is left out for another reason than it says", f"off the grid, not {outcome}", _of))


def crowd_of(reason: Outcome) -> Case:
    """Two notes of which the first, lighter one is left out for a reason."""
    on, late = {
        Outcome.LOST_AT_SEAM: (wheel_of(lost=(LostHole("on", 1),)), 60),
        Outcome.HOLE_USED: (wheel([channel("bar 60", [60], restrike_ms=0.0, rows=["on"])]), 7),
        Outcome.RESTRIKE: (wheel_of(restrike_ms=126.0), 12),
        Outcome.PINS_TOUCH: (
            wheel([channel("bar 60", [60], restrike_ms=0.0)], geometry=replace(RIM, pin_diameter_mm=8)),
            9,
        ),
        Outcome.TOO_MANY: (wheel_of(strike_limits=(StrikeLimit("drive", ("bar 60",), 1, 126.0),)), 12),
    }[reason]
    song, on, placement = fitted(score([(6, 60, 70), (late, 60, 90)]), on)
    assert placement.outcome.tolist() == [reason, Outcome.PLACED], placement.outcome
    return song, on, placement


for reason in (Outcome.LOST_AT_SEAM, Outcome.HOLE_USED, Outcome.RESTRIKE, Outcome.PINS_TOUCH, Outcome.TOO_MANY):

    def _said(reason: Outcome = reason) -> Case:
        song, on, placement = crowd_of(reason)
        return song, on, put(placement, 0, outcome=Outcome.OFF_GRID)

    CASES.append(("is left out for another reason than it says", f"{reason.words}, not off the grid", _said))
