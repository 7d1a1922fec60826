"""The demo songs read and fitted by pegwright itself: what goes in, what does not, and why.

Most are fitted without the wheel's drive limit, so that every loss told has one cause; then with it.

The expected figures come from the scores and the wheel file (see test_songs.py, which reckons them
with other readers and plain arithmetic).
"""

from __future__ import annotations

from collections import Counter
from dataclasses import replace
from fractions import Fraction
from functools import lru_cache
from itertools import takewhile

import numpy as np
import pytest

from commands import SONGS, WHEEL, runner
from pegwright.ask.options import FitOptions
from pegwright.check.verify import verify
from pegwright.config.wheel_file import load_wheel
from pegwright.edit.bars import select_bars
from pegwright.fit import counting
from pegwright.placement import Outcome, Placement, Status
from pegwright.read import read_score
from pegwright.score import Score
from pegwright.tell.findings import fit_with_findings
from pegwright.wheel import Collar, StrikeLimit, Wheel

WHOLE = (
    "shrimpers-jig.mid",
    "pier-masters-hornpipe.mid",
    "turnstile-tango.mid",
    "lullaby-for-a-lighthouse.mid",
    "rowing-boat-barcarolle.mid",
    "waltz-of-the-empty-deckchairs.musicxml",
    "salt-water-shuffle.musicxml",
    "bathing-machine-minuet.musicxml",
    "donkey-ride-polka.mxl",
    "penny-rocket-galop.musicxml",
    "the-sands-at-evening.musicxml",
)


@lru_cache
def wheel() -> Wheel:
    """The Pavilion's wheel without its drive limit, so that every loss told here has one cause."""
    return replace(load_wheel(SONGS / "merrow-sands.toml"), strike_limits=())


@lru_cache
def song(name: str) -> Score:
    score, findings = read_score(SONGS / name)
    assert {finding.code for finding in findings} <= {"pickup-bar", "short-bars"}  # a minuet begins with an upbeat
    return score


def fitted(score: Score, reach_quarters: Fraction | None = None) -> Placement:
    return fit_with_findings(score, wheel(), FitOptions(reach_quarters=reach_quarters))[0]


def fitted_with_plain_pins(name: str) -> Placement:
    with_one_type = replace(wheel(), pin_types=wheel().pin_types[:1])
    return fit_with_findings(song(name), with_one_type, FitOptions())[0]


def left_out(placement: Placement) -> Counter[Outcome]:
    return Counter(Outcome(int(outcome)) for outcome in placement.outcome[~placement.sounding])


@pytest.mark.parametrize("name", WHOLE)
def test_goes_in_whole_and_unmoved(name: str) -> None:
    placement = fitted(song(name))
    assert left_out(placement) == Counter()
    assert not np.any(placement.deviation_ms)
    assert song(name).length_ticks == 48 * song(name).resolution


@pytest.mark.parametrize("bars", [(1, 12), (13, 24)])
def test_the_round_goes_in_turn_by_turn(bars: tuple[int, int]) -> None:
    placement = fitted(select_bars(song("round-the-pier-and-back.mxl"), *bars))
    assert placement.note_count == {1: 163, 13: 219}[bars[0]]
    assert left_out(placement) == Counter()


def test_the_march_loses_one_32nd_and_moves_another() -> None:
    placement = fitted(song("lamplighters-march.mid"))
    assert left_out(placement) == Counter({Outcome.LOST_AT_SEAM: 1})
    moved = placement.deviation_ms[placement.deviation_ms != 0]
    # From half-way to the third before it is a sixth of a step, of which the late pin takes back 1.2 mm.
    step_mm, late_mm = wheel().step_mm, 1.2
    assert moved == pytest.approx([-60_000 / 112 / 4 * (1 / 6 - late_mm / step_mm)], abs=0.05)


def test_the_committee_loses_what_the_readme_says() -> None:
    placement = fitted(song("the-committee-regrets.musicxml"))
    losses = left_out(placement)
    assert losses == Counter(
        {
            Outcome.NO_CHANNEL: 3,
            Outcome.LOST_AT_SEAM: 1,
            Outcome.RESTRIKE: 8,
            Outcome.PAST_TURN: 33,
        }
    )
    assert left_out(fitted(song("the-committee-regrets.musicxml"), Fraction(1, 32)))[Outcome.OFF_GRID] == 2
    assert Outcome.OFF_GRID not in left_out(fitted(song("the-committee-regrets.musicxml"), Fraction(1, 16)))


def test_low_water_loses_what_the_readme_says() -> None:
    losses = left_out(fitted(song("low-water-slowly.mid")))
    assert losses == Counter(
        {
            Outcome.NO_CHANNEL: 1,
            Outcome.OFF_GRID: 1,
            Outcome.LOST_AT_SEAM: 1,
            Outcome.HOLE_USED: 1,
            Outcome.RESTRIKE: 1,
            Outcome.PINS_TOUCH: 2,
            Outcome.PAST_TURN: 5,
        }
    )


def test_early_and_late_pins_save_what_plain_ones_lose() -> None:
    """Bent ones make room for each other as well; those of the Pavilion, ground on one side, do not."""
    plain = left_out(fitted_with_plain_pins("low-water-slowly.mid"))
    assert plain == left_out(fitted(song("low-water-slowly.mid")))
    bent = replace(wheel(), pin_types=tuple(replace(one, collar=Collar.MOVES) for one in wheel().pin_types))
    placement, _ = fit_with_findings(song("low-water-slowly.mid"), bent, FitOptions())
    assert plain - left_out(placement) == Counter({Outcome.RESTRIKE: 1, Outcome.PINS_TOUCH: 2})
    committee = left_out(fitted_with_plain_pins("the-committee-regrets.musicxml"))
    assert committee - left_out(fitted(song("the-committee-regrets.musicxml"))) == Counter({Outcome.OFF_GRID: 2})


def said_in_the_readme() -> list[tuple[list[str], str]]:
    """What songs/README.md has `pegwright fit` say: the arguments, and the headline in one line."""
    lines = (SONGS / "README.md").read_text(encoding="utf-8").splitlines()
    heads = [number for number, line in enumerate(lines) if line.startswith("    pegwright fit ")]
    said = []
    for head in heads:
        text = takewhile(lambda line: line.startswith("     "), lines[head + 1 :])
        said.append((lines[head].split()[2:], " ".join(" ".join(text).split())))
    return said


@pytest.mark.parametrize(("arguments", "headline"), said_in_the_readme())
def test_what_the_readme_says_of_songs_is_what_is_printed(
    arguments: list[str], headline: str, capsys: pytest.CaptureFixture[str]
) -> None:
    name, *options = arguments
    done = runner(capsys)("fit", SONGS / name, "-w", WHEEL, *options)
    assert " ".join(done.out.split("\n\n")[0].split()) == headline


def test_the_songs_show_every_reason() -> None:
    """Seven on the Pavilion's own wheel with no option given; the eighth where one turn alone is asked for.

    A note that shares a pin sounds, and stands for none of them.
    """
    said = {" ".join(arguments): headline for arguments, headline in said_in_the_readme()}
    alone = " ".join(text for asked, text in said.items() if "--turns" not in asked)
    reasons = {Outcome(reason).words for reason in Outcome} - {Outcome.PLACED.words}
    assert {words for words in reasons if words in alone} == reasons - {Outcome.PAST_TURN.words}
    assert all(Outcome.PAST_TURN.words in text for asked, text in said.items() if "--turns" in asked)


@lru_cache
def limited_wheel() -> Wheel:
    """The Pavilion's wheel as it is: no more than three drums within 50 ms."""
    return load_wheel(SONGS / "merrow-sands.toml")


@pytest.mark.parametrize(
    ("name", "losses"),
    [("the-committee-regrets.musicxml", 2), *((name, 0) for name in WHOLE)],
)
def test_the_drive_limit_takes_the_fourth_drum_and_nothing_else(name: str, losses: int) -> None:
    """Bass drum, snare, wood block and triangle at once: the lightest of the four, the triangle, is left out."""
    score = song(name)
    with_limit, _ = fit_with_findings(score, limited_wheel(), FitOptions())
    without = fitted(score)
    assert verify(score, limited_wheel(), with_limit) == ()
    changed = np.flatnonzero(with_limit.outcome != without.outcome)
    assert with_limit.outcome[changed].tolist() == [Outcome.TOO_MANY] * losses
    assert {limited_wheel().channels[channel].name for channel in with_limit.channel[changed]} <= {"triangle"}
    assert (with_limit.weight, with_limit.status) == (with_limit.weight_bound, Status.OPTIMAL)
    others = np.setdiff1d(np.arange(score.note_count), changed)
    assert with_limit.index[others].tolist() == without.index[others].tolist()


@pytest.mark.parametrize("general", [False, True])
@pytest.mark.parametrize("name", WHOLE)
def test_the_bound_is_met_on_every_song_whatever_the_limit(
    name: str, general: bool, monkeypatch: pytest.MonkeyPatch
) -> None:
    """As the wheel is, and with no more than two strikes of all its channels within 50 ms, by either way of solving."""
    if general:
        monkeypatch.setattr(counting, "MOST_STATES", 0)
    names = tuple(made.name for made in limited_wheel().channels)
    tight = replace(limited_wheel(), strike_limits=(StrikeLimit("supply", names, 2, 50.0),))
    score = song(name)
    for on in (limited_wheel(), tight):
        placement, _ = fit_with_findings(score, on, FitOptions())
        assert verify(score, on, placement) == ()
        assert (placement.weight, placement.status) == (placement.weight_bound, Status.OPTIMAL)


def test_a_tight_limit_takes_notes_from_most_songs() -> None:
    """So that the bound of the test above is not met for want of anything to solve."""
    names = tuple(made.name for made in limited_wheel().channels)
    tight = replace(limited_wheel(), strike_limits=(StrikeLimit("supply", names, 2, 50.0),))
    taken = [
        np.count_nonzero(fit_with_findings(song(name), tight, FitOptions())[0].outcome == Outcome.TOO_MANY)
        for name in WHOLE
    ]
    assert sum(count > 0 for count in taken) >= 8
