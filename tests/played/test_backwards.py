"""The beat followed from the end as well: where both ways agree, notes are right; where they do not, it is said."""

from __future__ import annotations

from fractions import Fraction

import numpy as np
import pytest

from commands import SONGS
from pegwright.ask.request import Beat
from pegwright.played.backwards import followed_backwards
from pegwright.played.bar_laws import EVEN, MOVING
from pegwright.played.bar_places import bar_places
from pegwright.played.drawn_ways import share_alike
from pegwright.played.model import PLACES
from pegwright.played.quantise import quantise_performed
from pegwright.played.struck import Struck, struck_by, turned_round
from pegwright.read import read_score
from pegwright.score import LOW_CONFIDENCE
from played.test_free_beat import notes_at, right_but_for_a_shift, slowed, stumbling

STUMBLED = ("turnstile-tango.mid", "salt-water-shuffle.musicxml", "pier-masters-hornpipe.mid", "shrimpers-jig.mid")


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
def test_from_the_end_an_even_tune_has_the_same_steps_though_a_moving_tempo_may_slip(seed: int) -> None:
    struck, quarters = tune(seed)
    bar = bar_places(PLACES, Fraction(4), Fraction(1))
    for laws, least in ((EVEN, 0.99), (MOVING, 0.95)):
        ways = followed_backwards(bar, struck, np.full(len(quarters), 0.5), laws)
        apart = ways - np.rint(quarters * bar.resolution).astype(np.int64)[:, None]
        right = np.diff(apart, axis=0) == 0
        assert right.mean() > least
        if laws == EVEN:
            assert share_alike(apart, np.ones(ways.shape[1])).mean() > least


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
        for seed in range(12):
            performance, true = stumbling(song, seed)
            result, _ = quantise_performed(performance, None, Beat.FOLLOW)
            lost = ~right_but_for_a_shift(result.onset_units, true)
            wrong += int(lost.sum())
            unsure += int((lost & (result.confidence < LOW_CONFIDENCE)).sum())
    assert wrong > 1000, "else the test needs harder playing"
    assert unsure >= 0.6 * wrong


def test_where_the_beat_is_lost_it_is_said_for_three_players_of_four() -> None:
    lost = said = 0
    for name in ("turnstile-tango.mid", "pier-masters-hornpipe.mid"):
        song, _ = read_score(SONGS / name)
        for seed in range(12):
            performance, true = stumbling(song, seed)
            result, findings = quantise_performed(performance, None, Beat.FOLLOW)
            if right_but_for_a_shift(result.onset_units, true).mean() < 0.9:
                lost, said = lost + 1, said + any(finding.code == "beat-unsure" for finding in findings)
    assert lost >= 12, "else the test needs harder playing"
    assert said >= 0.75 * lost
