"""What a plan says of itself: against what it is compared, what that costs, and how much time there is."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import NamedTuple

import pytest
from hypothesis import given
from hypothesis import strategies as st

from commands import SONGS
from drawn import texts
from pegwright.config import load_wheel
from pegwright.config.song_set import load_song_set
from pegwright.draw.overview import free_time, minutes, overview_pages, work_time
from pegwright.draw.paper import A4
from pegwright.show.findings import late_findings
from pegwright.show.plan import Aim
from pegwright.show.remedy import Late, ShowRemedies
from pegwright.show.show import Pinned, Savings, Show
from pegwright.show.time import Carried, late_s
from pegwright.show_pipeline.plan import plan_song_set
from pegwright.show_pipeline.printed import overview_rows
from pegwright.write.show.text import show_text, verdict

NAMES = ("low-water-slowly.mid", "lamplighters-march.mid", "turnstile-tango.mid")
WORK = "[work]\npeople = 1\npull_s = 9\nset_s = 9\nchange_s = 40\n\n"


class Case(NamedTuple):
    name: str
    savings: Savings
    words: str


LISTED = "the songs as listed, each from the first of its best starts, no plate moved to another place"
CASES = (
    Case("fewer", Savings(900, 1000, 950, 800), f"800 pins moved during the show: 200 (20 %) fewer than {LISTED}."),
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


def test_music_is_counted_without_the_changes_of_sets(planned: Show) -> None:
    """A song of two turns on two sets stops for a change, and the overview gives both times, which add up."""
    played = replace(planned.songs[0], changes_within=2, start_s=0.0, end_s=100.0)
    show = replace(planned, songs=(played, *planned.songs[1:]))
    music_s = 100 - 2 * 40 + sum(song.end_s - song.start_s for song in planned.songs[1:])
    facts = f"{minutes(music_s)} of music, stopped for 1:20 while sets are changed ·"
    (page,) = overview_pages("Evening", "Wheel", overview_rows(show), A4)
    words = [text.text for text in texts(page)]
    assert any(facts in word for word in words), words
    assert minutes(music_s) in words  # the total of the column
    assert "0:20" in words
    first = next(line for line in show_text(show).splitlines() if line.startswith("1  "))
    assert "0:20" in first.split()


def test_the_length_of_the_show_has_the_waits_in_it(planned: Show) -> None:
    planned_s = round(planned.songs[-1].end_s)
    waits_s = sum(pinned.wait_s for pinned in planned.pinned)
    assert waits_s > 0
    length = f"{minutes(planned_s)} with talk and changes of sets"
    assert f"Show    3 songs, {length}, {minutes(planned_s + waits_s)} with the waits too\n" in show_text(planned)
    assert f"The show waits {minutes(waits_s)} in all" in show_text(planned)
    free = replace(planned, pinned=tuple(replace(pinned, late_s=0.0) for pinned in planned.pinned))
    assert f"3 songs, {length}\n" in show_text(free)


def late_pinned(planned: Show, needed_s: float, available_s: float, late: float) -> Pinned:
    return replace(planned.pinned[-1], needed_s=needed_s, available_s=available_s, late_s=late)


def test_a_wait_for_people_who_are_busy_says_so(planned: Show) -> None:
    """Free at 70 s and due at 101 s, but those who pin it are busy with the set before it until 90 s."""
    stints = (Carried(1, 0, 0, 0, 100.0, 110.0, 0.0, 100.0), Carried(2, 0, 1, 0, 101.0, 111.0, 70.0, 101.0))
    on_time, late = late_s(stints, (90.0, 187.6))
    assert on_time == 0
    pinned = late_pinned(planned, 187.6, 31.0, late)
    helped = ShowRemedies((Late(0, ()),), (), None)
    (finding,) = late_findings([pinned], planned.songs, helped, [])
    assert finding.message.startswith("the show waits 2:57 for set ")
    assert finding.message.endswith(
        "it needs 3:08 and there are 0:31, and for 0:20 of these the same people are still busy with an earlier set"
    )
    alone = late_pinned(planned, 187.1, 31.9, 187.1 - 31.9)
    (finding,) = late_findings([alone], planned.songs, helped, [])
    assert finding.message.startswith("the show waits 2:37 for set ")
    assert finding.message.endswith("it needs 3:08 and there are 0:31")


@given(st.floats(0.1, 900), st.floats(0, 900), st.floats(0, 1))
def test_printed_times_of_a_wait_add_up(planned: Show, needed_s: float, available_s: float, share: float) -> None:
    late = max(0.0, needed_s - available_s * (1 - share))  # people are busy for a share of the time available
    pinned = late_pinned(planned, needed_s, available_s, late)
    assert late - 1e-6 <= pinned.wait_s < late + 2
    if late:
        needed, available = (
            int(m) * 60 + int(s) for m, s in (time.split(":") for time in (work_time(needed_s), free_time(available_s)))
        )
        assert pinned.wait_s == needed - available + pinned.busy_s
        assert 0 <= pinned.busy_s <= max(available, 1)
        assert pinned.busy_s or share * available_s < 2
