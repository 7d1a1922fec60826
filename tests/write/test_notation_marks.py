"""Which bars are drawn as music and which notes in them are marked."""

from __future__ import annotations

from fractions import Fraction
from itertools import pairwise

import pytest

import musicxml_text as xml
import samples
from engraved import chosen, key, pictures
from pegwright.ask.request import Request
from pegwright.write.notation import marks
from pegwright.write.notation.marks import BARS_IN_A_ROW, MAX_BARS, MAX_MARKS

PLAYS_D4 = samples.wheel([samples.channel("D4", [62])])
ONE_BEAT_WHEEL = samples.wheel([samples.channel("D4", [62])], plate_count=2, steps_per_plate=4)


def bars(*names: str) -> bytes:
    """Bars of one whole note each."""
    return xml.score(xml.bars_of_quarters(names, {}))


def test_bars_that_touch_or_have_one_between_are_one_picture() -> None:
    found = chosen(bars("C4", "D4", "C4", "D4", "D4", "C4"), PLAYS_D4)
    assert [(each.first, each.last) for each in found.pictures] == [(0, 2), (5, 5)]
    assert [[mark.bar for mark in each.marks] for each in found.pictures] == [[0, 2], [5]]
    assert [mark.number for each in found.pictures for mark in each.marks] == [1, 2, 3]
    assert (found.unshown_bars, found.unshown_notes, found.unshown_past) == (0, 0, 0)


def test_a_song_that_fits_has_no_picture() -> None:
    assert chosen(bars("D4", "D4"), PLAYS_D4).pictures == ()
    assert pictures(bars("D4", "D4"), PLAYS_D4).remarks == ()


def test_long_stretches_are_cut_and_every_note_is_marked_or_counted() -> None:
    count = 3 * MAX_BARS
    found = chosen(bars(*["C4"] * count), samples.wheel([samples.channel("none", [127])], steps_per_plate=4 * count))
    shown = [mark for each in found.pictures for mark in each.marks]
    assert len(shown) == MAX_BARS
    assert found.unshown_bars == found.unshown_notes == count - MAX_BARS
    assert all(each.last - each.first < BARS_IN_A_ROW for each in found.pictures)
    assert all(one.last < other.first for one, other in pairwise(found.pictures))


def test_the_worst_bars_come_first_where_not_all_are_shown(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(marks, "MAX_BARS", 1)
    # A quintuplet is moved, and by less than the C, which has no channel, is lost.
    moved = xml.tuplet("16th", 5, 4)
    music = xml.score(
        [
            xml.bar(
                xml.attributes("<divisions>20</divisions>" + xml.FOUR_FOUR),
                *[xml.note(name, 4, moved) for name in ("D4", "E4", "D4", "E4", "D4")],
                xml.rest(60),
                number=1,
            ),
            xml.bar(xml.note("C4", 80), number=2),
        ]
    )
    plays_both = samples.wheel([samples.channel("D4", [62]), samples.channel("E4", [64])])
    found = chosen(music, plays_both)
    assert [mark.level for each in found.pictures for mark in each.marks] == ["out"]
    assert found.pictures[0].first == 1
    assert found.unshown_bars == 1
    assert found.unshown_notes >= 1


def test_a_bar_with_more_notes_than_can_be_marked_is_told() -> None:
    drawn = pictures(xml.one_bar(*[xml.note("C9")] * (MAX_MARKS + 1)), samples.wheel(steps_per_plate=2000))
    assert drawn.remarks == (f"1 more bar with {MAX_MARKS + 1} notes in trouble is not shown as music",)


def test_past_the_end_of_the_turn_only_the_bar_where_it_ends_is_shown() -> None:
    """A turn of two quarters under a song of three bars."""
    music = xml.score(
        [
            xml.bar(xml.attributes(xml.QUARTER + xml.FOUR_FOUR), *[xml.note("D4")] * 4, number=1),
            xml.bar(*[xml.note("D4")] * 4, number=2),
            xml.bar(xml.note("D4", 4), number=3),
        ]
    )
    drawn = pictures(music, ONE_BEAT_WHEEL, Request(turns=1))
    assert [each.title for each in drawn.pictures] == ["Bar 1"]
    assert key(drawn) == [
        "1 D4, bar 1 beat 3, Part P1: left out: past the end of the turn",
        "2 D4, bar 1 beat 4, Part P1: left out: past the end of the turn",
    ]
    assert drawn.remarks == ("5 notes further past the end of the turn are not shown as music",)


def test_a_note_played_twice_is_marked_once_and_the_key_says_which_time() -> None:
    music = xml.score(xml.bars_of_quarters(["D4", "C4", "D4"], {1: xml.repeat("forward"), 2: xml.repeat("backward")}))
    drawn = pictures(music, PLAYS_D4)
    assert key(drawn) == [
        "1 C4, bar 2, 1st time beat 1, Part P1: left out: no channel for this pitch",
        "1 C4, bar 2, 2nd time beat 1, Part P1: left out: no channel for this pitch",
    ]
    assert drawn.pictures[0].words == "Bar 2. Marked: 1 C4 in bar 2."


def test_trouble_at_one_time_round_alone_is_told_with_that_time() -> None:
    """Two bars twice over a turn of three: only the second time round of the second bar is past it."""
    music = xml.score(xml.bars_of_quarters(["D4", "D4"], {2: xml.repeat("backward")}))
    on = samples.wheel([samples.channel("D4", [62])], plate_count=3, steps_per_plate=16)
    drawn = pictures(music, on, Request(turns=1))
    assert key(drawn) == ["1 D4, bar 2, 2nd time beat 1, Part P1: left out: past the end of the turn"]


def test_a_second_ending_is_a_bar_of_its_own_and_played_once() -> None:
    music = xml.score(
        xml.bars_of_quarters(
            ["D4", "C4", "E4"],
            {2: xml.ending("1", "start") + xml.ending("1", "stop", repeats=True), 3: xml.ending("2", "start")},
        )
    )
    assert key(pictures(music, PLAYS_D4)) == [
        "1 C4, bar 2 beat 1, Part P1: left out: no channel for this pitch",
        "2 E4, bar 3 beat 1, Part P1: left out: no channel for this pitch",
    ]


def test_a_tied_note_is_marked_where_it_is_struck() -> None:
    music = xml.score(
        [
            xml.bar(xml.attributes(xml.QUARTER + xml.FOUR_FOUR), xml.note("C4", 4, xml.tie("start")), number=1),
            xml.bar(xml.note("C4", 4, xml.tie("stop")), number=2),
        ]
    )
    found = chosen(music)
    assert [(mark.element, mark.bar) for each in found.pictures for mark in each.marks] == [(0, 0)]


def test_every_note_of_a_written_out_ornament_is_counted_in_one_line() -> None:
    tremolo = '<notations><ornaments><tremolo type="single">2</tremolo></ornaments></notations>'
    music = xml.one_bar(xml.note("C4", 1, f"<type>quarter</type>{tremolo}"), xml.note("C4", 3))
    drawn = pictures(music, PLAYS_D4, Request(ornaments=Fraction(1, 8)))
    assert key(drawn) == [
        "1 C4, bar 1 beat 1, Part P1: left out: no channel for this pitch, and 3 more of its ornament",
        "2 C4, bar 1 beat 2, Part P1: left out: no channel for this pitch",
    ]


def test_bars_chosen_at_the_second_time_round_are_told_as_such() -> None:
    music = xml.score(xml.bars_of_quarters(["C4", "D4"], {2: xml.repeat("backward")}))
    assert key(pictures(music, PLAYS_D4, Request(bars=(3, 4)))) == [
        "1 C4, bar 1, 2nd time beat 1, Part P1: left out: no channel for this pitch"
    ]


def test_every_head_of_a_chord_has_its_mark_and_a_rest_has_none() -> None:
    found = chosen(xml.one_bar(xml.note("C4"), xml.note("E4", before="<chord/>"), xml.rest(), xml.note("G4", 2)))
    assert [mark.element for each in found.pictures for mark in each.marks] == [0, 1, 3]
