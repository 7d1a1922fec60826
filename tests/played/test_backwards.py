"""The beat followed from the end as well: where both ways agree, notes are right; where they do not, it is said."""

from __future__ import annotations

from fractions import Fraction

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from commands import SONGS
from pegwright.ask.request import Beat
from pegwright.columns import Floats
from pegwright.played.backwards import ABOUT, IN_ALL, PARTS, agreement, followed_backwards, mean_about
from pegwright.played.bar_laws import EVEN, MOVING
from pegwright.played.bar_places import metre_of
from pegwright.played.model import PLACES
from pegwright.played.quantise import quantise_performed
from pegwright.played.struck import Struck, struck_by, turned_round
from pegwright.read import read_score
from pegwright.score import LOW_CONFIDENCE
from played.test_free_beat import notes_at, right_but_for_a_shift, slowed, stumbling

CLUSTERS = 400
STUMBLED = ("turnstile-tango.mid", "salt-water-shuffle.musicxml", "pier-masters-hornpipe.mid", "shrimpers-jig.mid")


def rhythm(*steps: float) -> Floats:
    """Where clusters lie that go on in these steps over and over."""
    quarters: Floats = np.array(np.cumsum(np.resize(steps, CLUSTERS)), dtype=np.float64)
    return quarters


def test_readings_at_one_distance_agree_whatever_it_is() -> None:
    quarters = rhythm(0.5, 0.25, 0.25, 1.0)
    for apart in (0.0, -7.25, 1 / 3):
        assert agreement(quarters, np.add(quarters, apart, dtype=np.float64)).tolist() == [1.0] * CLUSTERS


@given(st.integers(1, CLUSTERS - 1), st.sampled_from([-0.5, -0.25, 1 / 3, 0.25, 0.5, 1.0]))
def test_a_slip_makes_the_shorter_side_the_less_sure(slip: int, quarters: float) -> None:
    plain = rhythm(0.5)
    agreed = agreement(plain, np.where(np.arange(CLUSTERS) >= slip, plain + quarters, plain))
    share = max(slip, CLUSTERS - slip) / CLUSTERS
    sure, unsure = (agreed[0], agreed[-1]) if 2 * slip > CLUSTERS else (agreed[-1], agreed[0])
    assert agreed.max() <= share**IN_ALL + 1e-12, "a slip anywhere makes every note less sure"
    if 2 * slip != CLUSTERS:
        assert unsure <= sure
    if ABOUT < min(slip, CLUSTERS - slip) < CLUSTERS / 2:
        assert unsure == 0.0
        assert sure == pytest.approx(share**IN_ALL)


@given(st.floats(-0.99, 0.99))
def test_less_than_a_twelfth_of_a_quarter_is_no_other_reading(part: float) -> None:
    quarters = rhythm(0.5)
    wavering = quarters + rhythm(part / PARTS, -part / PARTS)
    assert agreement(quarters, wavering).min() == 1.0


@given(st.lists(st.floats(0, 1), min_size=1, max_size=30), st.integers(0, 40))
def test_the_mean_about_each_value_is_that_of_those_within_reach(values: list[float], reach: int) -> None:
    means = mean_about(np.array(values), reach)
    for at, mean in enumerate(means.tolist()):
        assert mean == pytest.approx(np.mean(values[max(0, at - reach) : at + reach + 1]))


def tune(seed: int = 3) -> tuple[Struck, np.ndarray]:
    """Eighths and quarters at 120 with a bass on bar lines, and their holes in quarters."""
    rng = np.random.default_rng(seed)
    steps = np.concatenate([[0.0], rng.choice([0.5, 0.5, 1.0], 160)])
    quarters = np.cumsum(steps)
    pitch = np.where(quarters % 4 == 0, 40, 60 + rng.integers(0, 5, len(quarters)))
    return struck_by(notes_at(quarters * 0.5, pitch)), quarters


def test_turned_round_twice_it_is_what_it_was() -> None:
    struck, _ = tune()
    back = turned_round(struck)
    again = turned_round(back)
    assert again.which.tolist() == struck.which.tolist()
    assert again.mark.tolist() == struck.mark.tolist()
    assert again.weight.tolist() == struck.weight.tolist()
    assert np.allclose(again.time_s, struck.time_s - struck.time_s[0])
    assert np.diff(back.time_s).tolist() == pytest.approx(np.diff(struck.time_s)[::-1].tolist())


@pytest.mark.parametrize("seed", range(8))
def test_from_the_end_an_even_tune_has_the_same_steps_though_a_moving_tempo_may_differ_in_two(seed: int) -> None:
    struck, quarters = tune(seed)
    for laws, most in ((EVEN, 0), (MOVING, 2)):
        found = followed_backwards(PLACES, struck, metre_of("4/4", Fraction(0)), np.full(len(quarters), 0.5), laws)
        assert (np.abs(np.diff(found) - np.diff(quarters)) > 1e-9).sum() <= most


def test_notes_that_are_called_sure_are_right_through_phrases_that_slow_down() -> None:
    sure = right = 0
    for name in ("turnstile-tango.mid", "salt-water-shuffle.musicxml", "pier-masters-hornpipe.mid"):
        song, _ = read_score(SONGS / name)
        for seed in range(2):
            performance, true = slowed(song, 0.3, seed)
            result, _ = quantise_performed(performance, None, Beat.FOLLOW)
            confident = result.confidence >= LOW_CONFIDENCE
            sure += int(confident.sum())
            right += int((confident & right_but_for_a_shift(result.onset_units, true)).sum())
    assert sure > 500, "else the test says nothing"
    assert right >= 0.95 * sure


def test_most_notes_that_are_wrong_are_unsure_where_the_player_stops_at_random() -> None:
    """Of those that are sure many are wrong all the same: after a stop nothing tells where the song goes on."""
    wrong = unsure = 0
    for name in STUMBLED:
        song, _ = read_score(SONGS / name)
        for seed in range(4):
            performance, true = stumbling(song, seed)
            result, _ = quantise_performed(performance, None, Beat.FOLLOW)
            lost = ~right_but_for_a_shift(result.onset_units, true)
            wrong += int(lost.sum())
            unsure += int((lost & (result.confidence < LOW_CONFIDENCE)).sum())
    assert wrong > 1000, "else the test needs harder playing"
    assert unsure >= 0.55 * wrong


def test_where_the_beat_is_lost_it_is_said_for_three_players_of_four() -> None:
    lost = said = 0
    for name in ("turnstile-tango.mid", "pier-masters-hornpipe.mid"):
        song, _ = read_score(SONGS / name)
        for seed in range(10):
            performance, true = stumbling(song, seed)
            result, findings = quantise_performed(performance, None, Beat.FOLLOW)
            if right_but_for_a_shift(result.onset_units, true).mean() < 0.9:
                lost, said = lost + 1, said + any(finding.code == "beat-unsure" for finding in findings)
    assert lost >= 12, "else the test needs harder playing"
    assert said >= 0.75 * lost
