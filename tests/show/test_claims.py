"""What a plan says of itself: against what it is compared, what that costs, and how much time there is."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import NamedTuple

import pytest

from commands import SONGS
from pegwright.config import load_wheel
from pegwright.config.song_set import load_song_set
from pegwright.draw.overview import free_time, work_time
from pegwright.show.plan import Aim
from pegwright.show.show import Savings, Show
from pegwright.show_pipeline.files import overview_rows
from pegwright.show_pipeline.plan import plan_song_set
from pegwright.write.show.text import show_text, verdict

NAMES = ("low-water-slowly.mid", "lamplighters-march.mid", "turnstile-tango.mid")
WORK = "[work]\npeople = 1\npull_s = 9\nset_s = 9\nchange_s = 40\n\n"


class Case(NamedTuple):
    name: str
    savings: Savings
    words: str


LISTED = "the songs as listed, each from the first of its best starts, no plate moved to another place"
CASES = (
    Case("fewer", Savings(900, 1000, 950, 800), f"800 pins moved during the show: 200 (20%) fewer than {LISTED}."),
    Case("more", Savings(900, 700, 700, 800), f"800 pins moved during the show: 100 more than {LISTED}."),
    Case("equal", Savings(900, 800, 800, 800), f"800 pins moved during the show, as many as {LISTED}."),
    Case("notes", Savings(702, 900, 900, 800, 3, 0), "From step 1 they would take 98 fewer still, at the cost of 3"),
    Case("moves", Savings(702, 900, 900, 800, 0, 14), "at the cost of 14 more notes moved from their places."),
    Case("both", Savings(702, 900, 900, 800, 1, 2), "1 more note left out and 2 more notes moved from their places."),
)


@pytest.fixture(scope="module")
def planned(tmp_path_factory: pytest.TempPathFactory) -> Show:
    file = Path(tmp_path_factory.mktemp("set")) / "evening.toml"
    songs = "".join(f'[[song]]\nscore = "{SONGS / name}"\n\n' for name in NAMES)
    file.write_text(f'title = "Evening"\nwheel = "{SONGS / "merrow-sands.toml"}"\n\n{WORK}{songs}', "utf-8")
    song_set = load_song_set(file)
    assert song_set.aim == Aim.GIVEN
    return plan_song_set(song_set, load_wheel(song_set.wheel)).show


@pytest.mark.parametrize("case", CASES, ids=lambda case: case.name)
def test_the_headline_compares_like_with_like_and_says_what_the_rest_costs(planned: Show, case: Case) -> None:
    assert case.words in " ".join(verdict(replace(planned, savings=case.savings)))


def test_a_plan_moves_no_more_than_the_songs_as_listed_from_their_best_starts(planned: Show) -> None:
    assert planned.savings.planned <= planned.savings.listed


def test_overview_and_plan_give_the_same_times(planned: Show) -> None:
    late = [pinned for pinned in planned.pinned if pinned.late_s]
    assert late
    lines = show_text(planned).splitlines()
    for pinned, row in zip(planned.pinned, overview_rows(planned), strict=True):
        assert (row.needed_s, row.available_s, row.late_s) == (pinned.needed_s, pinned.available_s, pinned.late_s)
        if pinned.available_s is not None:
            times = work_time(row.needed_s), free_time(pinned.available_s)
            assert any(all(time in line for time in times) for line in lines), times
