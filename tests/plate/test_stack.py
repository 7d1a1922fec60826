"""Tolerances in milliseconds: published examples, plates walked by hand, and the claim which to halve."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest
from GTC import reporting, ureal  # type: ignore[import-untyped]  # it has none

from pegwright.columns import frozen_floats, frozen_ints
from pegwright.making import Held, Holding, HoleKind, Material, PlateFile, Source, Spread, Tolerance
from pegwright.plate.effects import Effect, NotePlaces, effects_of
from pegwright.plate.stack import Stack, stack_of
from pegwright.plate.tolerance import DIVISORS, pin_lean_mm
from plate_text import demo_plate, demo_wheel

TEMPO = 120.0
MS_PER_MM = 24_000 / (2 * math.pi * 477.5)  # 48 quarters a turn of 0.5 s, on the demo rim
STEP_MM = 2 * math.pi * 477.5 / 192
PLATE_MM = 32 * STEP_MM
DOWELLED, BUTTED = Held(Holding.DOWELLED, clearance_mm=0.15), Held(Holding.BUTTED, datum=2)


def steps(every: int = 1) -> NotePlaces:
    """Steps of a turn, each judged against the one before."""
    step = np.arange(0, 192, every)
    limit = np.full(len(step), 6.0)
    return NotePlaces(
        plate=frozen_ints(step // 32),
        along_mm=frozen_floats(step % 32 * STEP_MM),
        channel=frozen_ints(step % 24),
        beside=frozen_ints(np.roll(np.arange(len(step)), 1)),
        unheard_ms=frozen_floats(limit),
        slight_ms=frozen_floats(limit + 4),
    )


def with_tolerances(*tolerances: Tolerance, held: Held = DOWELLED, dowel: bool = True) -> PlateFile:
    plate = demo_plate()
    fixings = tuple(each for each in plate.fixings if dowel or each.kind is not HoleKind.DOWEL)
    return replace(plate, tolerances=tolerances, held=held, fixings=fixings)


def stacked(*tolerances: Tolerance, held: Held = DOWELLED, seed: int = 1, places: NotePlaces | None = None) -> Stack:
    plate = with_tolerances(*tolerances, held=held)
    return stack_of(plate, demo_wheel(), places or steps(), TEMPO, np.random.default_rng(seed))


def effect(tolerance: Tolerance, held: Held = DOWELLED, dowel: bool = True) -> Effect:
    plate = with_tolerances(tolerance, held=held, dowel=dowel)
    return effects_of(plate, demo_wheel(), steps(), TEMPO)[0]


def end_gauge() -> tuple[float, float, list[float]]:
    """Length and standard uncertainty in nm of the GUM's example H.1, and its components, by another library, GTC.

    Source: JCGM 100:2008, H.1, calibration of an end gauge: 50 000 838 nm, components 25, 9.7, 2.9 and 16.6 nm, 32 nm.
    """
    standard, read = ureal(50_000_623, 25), ureal(215, 5.8)  # the mean of five observations
    chance, bias = ureal(0, 3.9), ureal(0, 6.7)  # of the comparator
    expansion, own = ureal(11.5e-6, 1.2e-6), ureal(0, 1e-6 / 3**0.5)
    warm, apart = ureal(-0.1, 0.41), ureal(0, 0.05 / 3**0.5)
    length = standard + read + chance + bias - standard * (own * warm + expansion * apart)
    each = [abs(reporting.u_component(length, one)) for one in (standard, read, chance, bias, own, apart)]
    each = [each[0], math.hypot(*each[1:4]), *each[4:]]
    return length.x, length.u, each


def test_the_published_end_gauge_by_root_sum_square_and_by_simulation() -> None:
    length, uncertainty, parts = end_gauge()
    assert round(length) == 50_000_838
    assert [round(part, 1) for part in parts] == [25.0, 9.7, 2.9, 16.6]
    assert round(uncertainty, 2) == 31.66
    assert math.ceil(uncertainty) == 32
    sources = (Source.HOLE, Source.READER, Source.SEAM, Source.REGISTER)
    spreads = (Spread.NORMAL, Spread.NORMAL, Spread.RECTANGULAR, Spread.ARCSINE)
    for seed in range(3):
        each = zip(sources, parts, spreads, strict=True)
        tolerances = [Tolerance(source, part * DIVISORS[spread], spread) for source, part, spread in each]
        total = stacked(*tolerances, seed=seed).size
        assert total.rss_ms / MS_PER_MM == pytest.approx(uncertainty, rel=1e-6)
        assert total.simulated_ms / MS_PER_MM == pytest.approx(uncertainty, rel=0.01)


def test_worked_values() -> None:
    """Run-out of 0.5 mm by the indicator is 2.0 ms; k wrong by 0.1 is 0.628 mm, 5.0 ms, a plate."""
    run_out = stacked(Tolerance(Source.RUN_OUT, 0.25, Spread.ARCSINE)).size
    assert round(run_out.worst_ms, 1) == 2.0
    assert run_out.simulated_ms == pytest.approx(run_out.worst_ms / math.sqrt(2), rel=0.01)
    growth = effect(Tolerance(Source.K, 0.1, Spread.RECTANGULAR), held=BUTTED).size_ms[:, 0]
    a_plate_ms = growth[32 * 4] - growth[32 * 3]
    assert a_plate_ms == pytest.approx(0.6283 * MS_PER_MM, rel=1e-3)
    assert round(a_plate_ms, 1) == 5.0
    assert round(pin_lean_mm(clearance_mm=0.1, height_mm=8, thickness_mm=6), 3) == 0.183


def test_slow_errors_are_judged_by_the_change_from_note_to_note() -> None:
    run_out = effect(Tolerance(Source.RUN_OUT, 0.25, Spread.ARCSINE))
    change_ms = 2 * 0.25 * math.sin(math.pi / 192) * MS_PER_MM  # of a sine over a step of a turn
    assert run_out.greatest_ms(run_out.judged_ms) == pytest.approx(change_ms)
    speed = effect(Tolerance(Source.SPEED, 0.01, Spread.ARCSINE))
    assert speed.greatest_ms(speed.judged_ms).max() == pytest.approx(0.01 * 125, rel=1e-3)  # 1 % of a step
    heat = effect(Tolerance(Source.HEAT, 5, Spread.RECTANGULAR), replace(DOWELLED, rim=Material("steel", 11.4e-6)))
    a_step_ms = (180e-6 - 11.4e-6) * 5 * STEP_MM * MS_PER_MM
    judged_ms = np.abs(heat.judged_ms[:, 0])
    assert judged_ms[1:32] == pytest.approx(a_step_ms)
    assert judged_ms[32] == pytest.approx(31 * a_step_ms)  # the seam: both plates' ends by half of it
    register = effect(Tolerance(Source.REGISTER, 0.15, Spread.RECTANGULAR))
    at_most_ms = register.greatest_ms(register.judged_ms)
    assert at_most_ms[[0, 32, 160]] == pytest.approx(2 * 0.15 * MS_PER_MM)
    assert not at_most_ms[1:32].any()
    hole = effect(Tolerance(Source.HOLE, 0.1, Spread.NORMAL))
    assert hole.greatest_ms(hole.judged_ms) == pytest.approx(0.1 * MS_PER_MM)


def test_a_plate_grows_from_its_dowel_or_its_middle() -> None:
    length = Tolerance(Source.LENGTH, 0.3, Spread.RECTANGULAR)
    on_dowel, in_middle = effect(length).size_ms, effect(length, dowel=False).size_ms
    assert on_dowel[31, 0] == pytest.approx(0.3 * (31 - 15.5) / 32 * MS_PER_MM)  # the dowel is at step 16.5
    assert in_middle[0, 0] == pytest.approx(-0.15 * MS_PER_MM)
    assert not on_dowel[32:, 0].any()


def walked_ms(lengths_mm: Sequence[float], seams_mm: Sequence[float]) -> list[float]:
    """How late every step comes on plates edge to edge, walked from the datum plate, the third, round the turn."""
    late = {}
    place_mm = 0.0
    for number in range(6):
        plate = (2 + number) % 6
        for step in range(32):
            late[32 * plate + step] = (place_mm + lengths_mm[plate] * step / 32) * MS_PER_MM
        place_mm += lengths_mm[plate] + seams_mm[plate]
    return [late[step] for step in range(192)]


def test_plates_edge_to_edge_push_those_after_them() -> None:
    generator = np.random.default_rng(3)
    lengths_mm, seams_mm = generator.uniform(-0.5, 0.5, (2, 6)).tolist()
    length = effect(Tolerance(Source.LENGTH, 0.4, Spread.RECTANGULAR), held=BUTTED)
    seam = effect(Tolerance(Source.SEAM, 0.2, Spread.RECTANGULAR), held=BUTTED)
    late_ms = length.errors_ms(np.array([lengths_mm]) / 0.4, length.size_ms)[0]
    late_ms = late_ms + seam.errors_ms(np.array([seams_mm]) / 0.2, seam.size_ms)[0]
    expected_ms = walked_ms(lengths_mm, seams_mm)
    assert late_ms == pytest.approx(expected_ms)
    judged_ms = length.errors_ms(np.array([lengths_mm]) / 0.4, length.judged_ms)[0]
    judged_ms = judged_ms + seam.errors_ms(np.array([seams_mm]) / 0.2, seam.judged_ms)[0]
    changes_ms = [after - before for before, after in pairwise([expected_ms[-1], *expected_ms])]
    assert judged_ms == pytest.approx(changes_ms)


@pytest.mark.parametrize("spread", list(Spread))
def test_distributions_have_their_standard_uncertainty(spread: Spread) -> None:
    # a / sqrt 3, a / 3, a / sqrt 2: JCGM 100:2008, 4.3.7, and JCGM 101:2008, 6.4.6 (from memory).
    divisor = {"rectangular": 3**0.5, "normal": 3.0, "arcsine": 2**0.5}[spread]
    draws = effect(Tolerance(Source.REGISTER, 1.0, spread)).draws(np.random.default_rng(7), 50_000)
    assert draws.std() == pytest.approx(1 / divisor, rel=0.01)
    assert draws.mean() == pytest.approx(0, abs=0.01)
    assert np.abs(draws).max() <= (1.0 if spread is not Spread.NORMAL else 2.0)
    whole = stacked(Tolerance(Source.HOLE, 1.0, spread))
    # 95 % of rectangular values lie within 0.95 a, of normal ones within 1.96 / 3, of an arcsine sin(0.475 pi).
    within = {"rectangular": 0.95, "normal": 1.95996 / 3, "arcsine": math.sin(0.475 * math.pi)}[spread]
    assert whole.judged.within_95_ms == pytest.approx(within * MS_PER_MM, rel=0.01)


def all_tolerances(**half_widths: float) -> list[Tolerance]:
    widths = {
        "hole": 0.3, "length": 0.5, "register": 0.4, "seam": 0.1, "run_out": 0.4, "k": 0.05, "heat": 8.0,
        "pin_lean": 0.5, "reader": 0.3, "speed": 0.002,
    } | half_widths  # fmt: skip
    waves = {Source.RUN_OUT, Source.SPEED}
    return [
        Tolerance(source, widths[source], Spread.ARCSINE if source in waves else Spread.RECTANGULAR)
        for source in Source
    ]


@pytest.mark.parametrize(
    ("half_widths", "every", "best"),
    [({}, 12, "pin_lean"), ({"reader": 0.9}, 12, "reader"), ({"speed": 0.02}, 12, "speed"),
     ({"register": 2.0}, 16, "register")],
)  # fmt: skip
def test_the_tolerance_that_is_said_to_help_most_does(half_widths: dict[str, float], every: int, best: str) -> None:
    held, places = replace(DOWELLED, rim=Material("steel", 11.4e-6)), steps(every)
    tolerances = all_tolerances(**half_widths)
    whole = stacked(*tolerances, held=held, seed=11, places=places)
    assert whole.best.tolerance.source == best
    noticed = {}
    for number, tolerance in enumerate(tolerances):
        halved = [*tolerances]
        halved[number] = replace(tolerance, half_width=tolerance.half_width / 2)
        one = stacked(*halved, held=held, seed=number + 20, places=places)  # drawn anew
        noticed[tolerance.source] = one.slight + one.audible
        share = whole.shares[number]
        assert share.halved_95_ms == pytest.approx(one.judged.within_95_ms, rel=0.03)
        assert share.halved_noticed == pytest.approx(noticed[tolerance.source], abs=0.01)
    assert min(noticed, key=lambda source: noticed[source]) == best


def test_shares_are_by_the_limits_of_each_note() -> None:
    places = steps()
    limits = np.where(np.arange(192) < 96, 0.2, 0.4) * MS_PER_MM
    places = replace(places, unheard_ms=frozen_floats(limits), slight_ms=frozen_floats(2 * limits))
    whole = stacked(Tolerance(Source.HOLE, 1.0, Spread.RECTANGULAR), places=places)
    assert (whole.unheard, whole.slight, whole.audible) == pytest.approx((0.3, 0.3, 0.4), abs=0.005)


def test_a_simulation_goes_on_until_it_is_steady_or_ends_at_its_maximum() -> None:
    shared = Tolerance(Source.K, 0.1, Spread.NORMAL)  # one draw for a whole turn
    plate = with_tolerances(shared)
    whole = stack_of(plate, demo_wheel(), steps(), TEMPO, np.random.default_rng(1))
    values = [
        stack_of(plate, demo_wheel(), steps(), TEMPO, np.random.default_rng(seed)).size.within_95_ms
        for seed in range(2, 6)
    ]
    assert whole.steady
    assert whole.turns > 10 * 520
    assert values == pytest.approx([whole.size.within_95_ms] * 4, rel=0.03)
    short = stack_of(plate, demo_wheel(), steps(), TEMPO, np.random.default_rng(1), max_turns=700)
    assert (short.turns, short.steady) == (700, False)
