"""The clock of a show: when sets come free, how long there is, and who is late."""

from __future__ import annotations

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

import thorough
from pegwright.show.time import SongTime, WorkTimes, hurry, late_s, timetable
from pegwright.show.turns import turns_of


def test_work_takes_so_long() -> None:
    """3 pulled at 1 + 0.5 s and 4 set at 2 + 0.5 s, a tenth of rest, two people: 14.5 x 1.1 / 2."""
    times = WorkTimes(1.0, 2.0, find_s=0.5, rest_percent=10, people=2)
    assert times.needed_s(3, 4) == pytest.approx(7.975)


songs_of_one_set = st.lists(st.tuples(st.integers(1, 9), st.integers(1, 9), st.integers(0, 30)), min_size=1, max_size=8)


@settings(max_examples=thorough.cases(50, 200))
@given(songs_of_one_set, st.integers(1, 4))
def test_a_set_is_free_from_its_song_until_it_is_needed_again(
    songs: list[tuple[int, int, int]], plate_sets: int
) -> None:
    """Song j is on set j modulo k: there is the talk after song j - k, and music and talk of all songs between."""
    played = [
        (turns_of((0,), times, plate_sets), SongTime(turn_s, turn_s / 2, talk_s)) for times, turn_s, talk_s in songs
    ]
    lasts = [(times - 0.5) * turn_s for times, turn_s, _ in songs]
    table = timetable(played, plate_sets)
    assert [it.plate_set for it in table.carried] == [number % plate_sets for number in range(len(songs))]
    for number, it in enumerate(table.carried):
        if number < plate_sets:
            assert it.before is None
            continue
        between = range(number - plate_sets + 1, number)
        expected = songs[number - plate_sets][2] + sum(lasts[j] + songs[j][2] for j in between)
        assert it.before == number - plate_sets
        assert it.available_s == pytest.approx(expected)
    assert table.song_start_s[0] == 0
    assert table.song_end_s[-1] == pytest.approx(sum(lasts) + sum(talk for *_, talk in songs[:-1]))


def test_changing_the_set_takes_its_time_from_everybody() -> None:
    """Two sets, talk of 60 s, changes of 20 s: song 3's set has 60 + 100 + 60 s less two changes."""
    song = (turns_of((0,), 1, 2), SongTime(100.0, 100.0, 60.0))
    table = timetable([song] * 3, 2, change_s=20.0)
    assert table.carried[2].available_s == pytest.approx(60 + 100 + 60 - 2 * 20)
    assert table.waits_s == (0.0, 0.0)
    assert table.song_start_s == (0.0, 160.0, 320.0)


def test_the_audience_waits_where_changing_takes_longer_than_the_talk() -> None:
    song = (turns_of((0,), 1, 1), SongTime(100.0, 100.0, 15.0))
    table = timetable([song] * 2, 1, change_s=20.0)
    assert table.waits_s == (5.0,)
    assert table.song_start_s[1] == 120.0
    assert table.carried[1].available_s == 0.0


def test_a_song_of_two_sets_stops_while_they_are_changed() -> None:
    """A A B A with changes of 10 s: A is free at the end, B before the last turn."""
    long = (turns_of((0, 0, 1, 0), 1, 2), SongTime(30.0, 25.0, 40.0))
    short = (turns_of((0,), 2, 2), SongTime(30.0, 30.0, 40.0))
    table = timetable([long, short, short], 2, change_s=10.0)
    a, b, one, two = table.carried
    assert (a.first_s, a.last_s, b.first_s, b.last_s) == (0.0, 135.0, 70.0, 100.0)
    assert (one.plate_set, one.before, two.plate_set, two.before) == (1, 1, 0, 0)
    # B is free from 100 on; A is put on the wheel again by 110; the song starts after 40 s of talk at 175.
    assert one.available_s == pytest.approx((175 - 100) - 2 * 10)
    assert two.available_s == pytest.approx(40 + 60 + 40 - 2 * 10)


def test_a_swap_within_a_song_on_the_only_set_has_no_time_at_all() -> None:
    table = timetable([(turns_of((0, 1), 1, 1), SongTime(30.0, 30.0))], 1)
    assert table.carried[1].available_s == 0.0
    assert hurry(5.0, table.carried[1].available_s) == math.inf


def test_the_same_people_do_one_swap_after_another() -> None:
    """Each swap fits its own time, 220 s, but the second waits for the first.

    Three songs on two sets, 100 s each and 60 s of talk; the work for the third lasts from 100 to 310, and
    it is needed at 320; that for the fourth begins at 310 and ends at 520, needed at 480.
    """
    song = (turns_of((0,), 1, 2), SongTime(100.0, 100.0, 60.0))
    table = timetable([song] * 4, 2)
    assert late_s(table.carried, (0.0, 0.0, 210.0, 210.0)) == pytest.approx((0.0, 0.0, 0.0, 40.0))
    assert late_s(table.carried, (9999.0, 9999.0, 210.0, 100.0)) == pytest.approx((0.0, 0.0, 0.0, 0.0))


def test_a_wait_puts_off_all_that_comes_after_it() -> None:
    """The third song's set takes 250 s of the 220 there are, so the show waits 30 s and ends 30 s later.

    The fourth song's set is free at 260; the people come to it at 350, and it is needed at 480 + 30.
    """
    song = (turns_of((0,), 1, 2), SongTime(100.0, 100.0, 60.0))
    table = timetable([song] * 4, 2)
    assert late_s(table.carried, (0.0, 0.0, 250.0, 160.0)) == pytest.approx((0.0, 0.0, 30.0, 0.0))
    assert late_s(table.carried, (0.0, 0.0, 250.0, 170.0)) == pytest.approx((0.0, 0.0, 30.0, 10.0))
    one = (turns_of((0,), 1, 1), SongTime(100.0, 100.0, 60.0))
    assert late_s(timetable([one] * 3, 1).carried, (0.0, 80.0, 80.0)) == pytest.approx((0.0, 20.0, 20.0))


def test_hurry_is_the_share_of_the_time_that_is_needed() -> None:
    assert hurry(30.0, 60.0) == 0.5
    assert hurry(0.0, 0.0) == 0.0
    assert hurry(1.0, 0.0) == math.inf
    assert hurry(1.0, math.inf) == 0.0
