"""Repeats, endings and jumps: the bars in playing order."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import NoReturn

import pytest
from hypothesis import given
from hypothesis import strategies as st

from musicxml_text import attributes, bar, bars_of_quarters, ending, note, repeat, score, sound, tie, words
from pegwright.findings import Finding
from pegwright.musicxml.jump_words import Jump, jump_words
from pegwright.musicxml.marks import BarMarks
from pegwright.musicxml.notices import Notice
from pegwright.musicxml.order import _ending_groups, _Player, playing_order
from pegwright.musicxml.reader import read_musicxml
from pegwright.score import Score

FINAL = '<barline location="right"><bar-style>light-heavy</bar-style></barline>'
DOUBLE = FINAL.replace("light-heavy", "light-light")


def played(count: int, marks: dict[int, str]) -> tuple[list[int], Score, dict[str, Finding]]:
    """Numbers of `count` bars in playing order, given what stands in bars by number."""
    song, findings = read_musicxml(score(bars_of_quarters(["C4"] * count, marks)), "tune.xml")
    assert song.note_count == len(song.bar_map.labels)
    return (
        [int(label.split(",")[0]) for label in song.bar_map.labels],
        song,
        {finding.code: finding for finding in findings if finding.code != "tempo-assumed"},
    )


def order(count: int, marks: dict[int, str]) -> list[int]:
    bars, _, findings = played(count, marks)
    assert findings == {}
    return bars


# Repeats


def test_a_repeat_without_a_beginning_goes_back_to_the_start_or_to_the_repeat_before() -> None:
    assert order(3, {2: repeat("backward")}) == [1, 2, 1, 2, 3]
    # Two-part form, each half repeated: A A B B, as every minuet and dance is written.
    assert order(4, {2: repeat("backward"), 4: repeat("backward")}) == [1, 2, 1, 2, 3, 4, 3, 4]


def test_a_repeat_does_not_reach_back_over_a_final_barline() -> None:
    assert order(4, {2: FINAL, 4: repeat("backward")}) == [1, 2, 3, 4, 3, 4]


def test_a_repeat_goes_back_to_its_beginning() -> None:
    assert order(4, {2: repeat("forward"), 3: repeat("backward")}) == [1, 2, 3, 2, 3, 4]
    assert order(3, {2: sound('forward-repeat="yes"') + repeat("backward")}) == [1, 2, 2, 3]


def test_a_repeat_that_begins_at_the_end_of_a_bar_begins_with_the_next_one() -> None:
    # MusicXML 4.0, barline: its location is left, right or middle; where it is not stated, right.
    for location in (' location="right"', ""):
        begins = f'<barline{location}><bar-style>heavy-light</bar-style><repeat direction="forward"/></barline>'
        assert order(3, {2: begins, 3: repeat("backward")}) == [1, 2, 3, 3]  # behind the note of bar 2
    assert order(3, {3: repeat("forward").replace("left", "right")}) == [1, 2, 3]  # behind the last bar
    first = bar('<barline><repeat direction="forward"/></barline>', note("C4", 4))  # before its note: as meant
    song, _ = read_musicxml(score([bar(note("C4", 4)), first, bar(note("C4", 4), repeat("backward"))]), "tune.xml")
    assert [label[0] for label in song.bar_map.labels] == ["1", "1", "1", "1", "1"]


def test_a_repeat_and_an_ending_that_end_at_the_beginning_of_a_bar_end_with_the_one_before() -> None:
    back = repeat("backward").replace("right", "left")
    assert order(4, {2: repeat("forward"), 4: back}) == [1, 2, 3, 2, 3, 4]
    assert order(2, {1: back}) == [1, 2]
    closes = ending("1", "stop", repeats=True).replace("right", "left")
    assert order(4, {2: ending("1", "start"), 3: closes + ending("2", "start")}) == [1, 2, 1, 3, 4]


def test_a_repeat_never_ended_is_played_once() -> None:
    assert order(3, {2: repeat("forward")}) == [1, 2, 3]


def test_times_says_how_often_the_bars_are_played_in_all() -> None:
    # W3C MusicXML 4.0, repeat, times: the number of times the repeated section is played.
    assert order(2, {1: repeat("backward", ' times="3"')}) == [1, 1, 1, 2]
    assert order(2, {1: repeat("backward", ' times="x"')}) == [1, 1, 2]


def test_w3c_endings_28_1_2_and_29_3_play_28_28_29() -> None:
    # W3C MusicXML 4.0, ending: bars 28 (numbers 1, 2) and 29 (number 3) are played 28, 28, 29.
    marks = {
        28: ending("1,2", "start") + ending("1,2", "stop", repeats=True),
        29: ending("3", "start") + ending("3", "stop"),
    }
    bars = order(29, {27: repeat("forward"), **marks})
    assert bars[26:] == [27, 28, 27, 28, 27, 29]
    assert [bar for bar in bars if bar >= 28] == [28, 28, 29]


def test_endings_of_several_bars_and_a_new_stretch_after_them() -> None:
    marks = {
        2: ending("1", "start"), 3: ending("1", "stop", repeats=True), 4: ending("2", "start"),
        5: ending("2", "discontinue"), 7: repeat("backward"),
    }  # fmt: skip
    assert order(8, marks) == [1, 2, 3, 1, 4, 5, 6, 7, 6, 7, 8]


def test_a_lone_first_ending_leaves_the_second_time_to_what_follows() -> None:
    assert order(4, {2: ending("1", "start") + ending("1", "stop", repeats=True)}) == [1, 2, 1, 3, 4]


def test_the_last_ending_may_carry_a_repeat_sign_that_repeats_nothing() -> None:
    marks = {
        number: ending(str(number - 1), "start") + ending(str(number - 1), "stop", repeats=True) for number in (2, 3)
    }
    assert order(4, marks) == [1, 2, 1, 3, 4]


@pytest.mark.parametrize(
    "marks",
    [
        # the first bracket closed a bar before its repeat, as in files of string quartets
        {2: ending("1", "start") + ending("1", "stop"), 3: repeat("backward"), 4: ending("2", "start")},
        # or ten
        {2: ending("1", "start") + ending("1", "stop"), 12: repeat("backward"), 13: ending("2", "start")},
        # never closed
        {2: ending("1", "start"), 3: repeat("backward"), 4: ending("2", "start") + ending("2", "stop")},
        # both numbered 1, the printed text telling them apart
        {2: ending("1", "start"), 3: ending("1", "stop", repeats=True), 4: ending("1", "start", text="2.")},
        # not numbered at all
        {2: ending("", "start"), 3: ending("", "stop", repeats=True), 4: ending(" ", "start")},
    ],
)
def test_faulty_brackets_are_read_as_meant(marks: dict[int, str]) -> None:
    repeat_at = 12 if 12 in marks else 3
    assert order(repeat_at + 1, marks) == [*range(1, repeat_at + 1), 1, repeat_at + 1]


def test_a_first_ending_known_only_by_its_end_is_one_bar_long() -> None:
    marks = {2: ending("", "stop", repeats=True), 3: ending("2", "start") + ending("2", "discontinue")}
    assert order(4, marks) == [1, 2, 1, 3, 4]


def test_labels_tell_the_time_round() -> None:
    _, song, _ = played(2, {1: repeat("backward", ' times="22"')})
    assert song.bar_map.labels[:3] == ("1", "1, 2nd time", "1, 3rd time")
    assert [song.bar_map.labels[number - 1] for number in (11, 21, 22)] == [
        "1, 11th time", "1, 21st time", "1, 22nd time",
    ]  # fmt: skip
    assert str(song.source(1)) == "tune.xml:Part P1:bar 1, 2nd time beat 1"


# Jumps


def test_da_capo_al_fine_takes_no_repeats_the_second_time_and_ends_at_the_fine() -> None:
    marks = {1: repeat("backward"), 2: sound('fine="yes"'), 3: repeat("backward"), 4: sound('dacapo="yes"')}
    assert order(4, marks) == [1, 1, 2, 3, 2, 3, 4, 1, 2]


def test_dal_segno_al_coda_leaves_for_the_coda_only_after_the_jump() -> None:
    marks = {2: sound('segno="s"'), 3: sound('tocoda="c"'), 4: sound('dalsegno="s"'), 5: sound('coda="c"')}
    assert order(6, marks) == [1, 2, 3, 4, 2, 3, 5, 6]


def test_signs_are_matched_by_label_and_repeats_of_the_coda_are_taken() -> None:
    marks = {
        1: sound('segno="a"'), 2: sound('segno="b"'), 3: sound('tocoda="y"'), 4: sound('dalsegno="b"'),
        5: sound('coda="x"') + repeat("backward"), 6: sound('coda="y"'), 7: repeat("backward"),
    }  # fmt: skip
    bars, _, findings = played(7, marks)
    assert bars == [1, 2, 3, 4, 2, 3, 6, 7, 6, 7]
    assert (findings["bars-not-played"].count, findings["bars-not-played"].where) == (1, "tune.xml:bar 5")


def test_after_a_jump_the_last_ending_is_played_and_after_jump_repeats_again() -> None:
    # W3C MusicXML 4.0, repeat, after-jump: whether the repeat is taken after a jump.
    marks = {
        2: ending("1", "start") + ending("1", "stop", repeats=True), 3: ending("2", "start") + ending("2", "stop"),
        4: repeat("backward", ' after-jump="yes"'), 5: sound('fine="yes"'), 6: sound('dacapo="yes"'),
    }  # fmt: skip
    assert order(6, marks) == [1, 2, 1, 3, 4, 4, 5, 6, 1, 3, 4, 4, 5]


def test_time_only_limits_a_jump_to_a_playing_of_its_bar() -> None:
    # W3C MusicXML 4.0, sound, time-only: the times through on which the sound applies.
    marks = {2: sound('dacapo="yes" time-only="2"') + repeat("backward"), 3: sound('fine="yes"')}
    bars, _, _ = played(3, marks)
    assert bars == [1, 2, 1, 2, 1, 2, 3]


def test_minuet_two_trios_and_a_da_capo_after_each() -> None:
    marks = {1: sound('fine="yes"'), 2: sound('dacapo="yes"'), 3: sound('dacapo="yes"')}
    assert order(3, marks) == [1, 2, 1, 3, 1]


def test_da_capo_goes_back_to_the_top_of_its_movement() -> None:
    marks = {2: FINAL, 3: sound('fine="yes"'), 4: sound('dacapo="yes"') + FINAL, 5: repeat("backward")}
    assert order(5, marks) == [1, 2, 3, 4, 3, 5, 5]


def test_a_repeat_sign_drawn_as_a_final_barline_ends_no_movement() -> None:
    sign = '<barline><bar-style>light-heavy</bar-style><repeat direction="backward"/></barline>'
    marks = {1: sound('fine="yes"'), 2: sign, 3: sound('dacapo="yes"')}
    assert order(3, marks) == [1, 2, 1, 2, 3, 1]


def test_printed_words_and_signs_serve_where_nothing_sounds() -> None:
    segno, coda = (f"<direction><direction-type><{sign}/></direction-type></direction>" for sign in ("segno", "coda"))
    assert order(4, {2: words("Fine"), 4: words("D.C. al Fine")}) == [1, 2, 3, 4, 1, 2]
    assert order(5, {2: segno, 3: words("To Coda"), 4: words("D.S. al Coda"), 5: coda}) == [1, 2, 3, 4, 2, 3, 5]
    assert order(5, {2: segno, 3: coda, 4: words("Dal Segno"), 5: coda}) == [1, 2, 3, 4, 2, 3, 5]
    assert order(5, {2: segno, 3: words("To Coda"), 4: words("D.S. al Coda"), 5: words("CODA")}) == [
        1,
        2,
        3,
        4,
        2,
        3,
        5,
    ]
    assert order(3, {1: words("Fine"), 3: words("Menuetto da capo")}) == [1, 2, 3, 1]
    assert order(2, {1: words("dolce, con discrezione"), 2: words("fine grained")}) == [1, 2]


@pytest.mark.parametrize("fine_bar", [1, 2])
@pytest.mark.parametrize("fine", [sound('fine="yes"'), words("Fine")])
def test_a_final_barline_at_or_after_the_fine_ends_no_movement(fine_bar: int, fine: str) -> None:
    marks = {2: FINAL, 4: sound('dacapo="yes"')}
    marks[fine_bar] = fine + marks.get(fine_bar, "")
    assert order(4, marks) == [1, 2, 3, 4, *range(1, fine_bar + 1)]
    # The trio's repeats still do not reach back over it, and the end of the whole changes nothing.
    trio = {**marks, 4: sound('dacapo="yes"') + repeat("backward"), 5: FINAL}
    assert order(5, trio) == [1, 2, 3, 4, 3, 4, *range(1, fine_bar + 1), 5]


def test_each_of_two_movements_has_its_own_da_capo_al_fine() -> None:
    fine, capo = sound('fine="yes"'), sound('dacapo="yes"')
    marks = {1: fine + FINAL, 2: capo + FINAL, 3: fine + FINAL, 4: capo + FINAL}
    assert order(4, marks) == [1, 2, 1, 3, 4, 3]


def test_dal_segno_and_coda_are_those_of_the_movement() -> None:
    movement = {1: sound('segno="s"') + sound('tocoda="c"'), 2: sound('dalsegno="s"'), 3: sound('coda="c"') + FINAL}
    assert order(6, {**movement, **{bar + 3: mark for bar, mark in movement.items()}}) == [1, 2, 1, 3, 4, 5, 4, 6]


# A trio whose da capo says where to go back to, and not where to end.

CAPO = words("M. D. C.")
MINUETS = {
    "final barline": {2: FINAL, 4: CAPO},
    "final barlines": {2: FINAL, 4: CAPO + FINAL},
    "heading": {3: words("Trio"), 4: CAPO},
    "heading behind the bar before": {2: words("Trio") + DOUBLE, 4: CAPO},
    "rehearsal mark": {3: words("TRIO", "rehearsal"), 4: CAPO},
    "repeats and heading": {2: repeat("backward"), 3: words("Trio."), 4: CAPO + repeat("backward")},
    "repeats alone": {2: repeat("backward"), 4: CAPO + repeat("backward")},
    "double bar": {2: DOUBLE, 4: CAPO},
}


@pytest.mark.parametrize("name", MINUETS)
def test_a_minuets_da_capo_plays_it_once_without_repeats_to_its_end(name: str) -> None:
    bars, _, findings = played(4, MINUETS[name])
    repeated = [1, 2, 1, 2, 3, 4, 3, 4] if "repeats" in name else [1, 2, 3, 4]
    assert bars == [*repeated, 1, 2]
    assert set(findings) == {"da-capo-end"}
    assert findings["da-capo-end"].where == "tune.xml:bar 4"


def test_a_minuets_da_capo_goes_back_over_no_other_movement() -> None:
    marks = {1: FINAL, 2: repeat("backward"), 3: words("Trio"), 4: words("Menuetto da capo"), 5: ""}
    bars, _, _ = played(5, marks)
    assert bars == [1, 2, 2, 3, 4, 2, 5]
    marks |= {2: repeat("backward") + FINAL, 4: words("Menuetto da capo") + FINAL}
    marks[2] = FINAL
    bars, _, _ = played(5, marks)
    assert bars == [1, 2, 3, 4, 2, 5]


def test_a_minuets_da_capo_ends_with_its_last_ending() -> None:
    marks = {
        1: repeat("backward"), 2: ending("1", "start") + ending("1", "stop", repeats=True),
        3: ending("2", "start") + ending("2", "stop"), 4: repeat("backward"), 5: repeat("backward") + CAPO,
    }  # fmt: skip
    bars, _, findings = played(5, marks)
    assert bars == [1, 1, 2, 3, 4, 4, 5, 5, 1, 3]
    assert set(findings) == {"da-capo-end"}


def test_a_trios_repeat_does_not_reach_back_into_the_piece_before_it() -> None:
    for mark in ({2: words("Fine") + DOUBLE}, {1: words("Fine"), 3: words("Trio")}):
        marks = {**mark, 4: repeat("backward") + sound('dacapo="yes"')}
        bars, _, _ = played(4, marks)
        assert bars == [1, 2, 3, 4, 3, 4, *range(1, next(iter(mark)) + 1)]


def test_a_minuets_da_capo_goes_back_over_no_change_of_metre() -> None:
    # As in files of a whole quartet without final barlines, whose minuet is the third movement.
    two_four, three_four = (attributes(f"<time><beats>{n}</beats><beat-type>4</beat-type></time>") for n in (2, 3))
    marks = {1: two_four, 3: three_four, 4: three_four, 5: words("Trio"), 6: words("Men. D.C."), 7: two_four}
    assert played(7, marks)[0] == [1, 2, 3, 4, 5, 6, 3, 4, 7]
    assert played(7, {**marks, 6: sound('dacapo="yes"')})[0] == [1, 2, 3, 4, 5, 6, 3, 4, 7]
    assert played(7, {**marks, 4: words("Fine")})[0] == [1, 2, 3, 4, 5, 6, 3, 4, 7]
    # A piece without a trio may change its metre.
    fine = {1: two_four, 3: three_four, 4: words("Fine"), 6: words("D.C. al Fine")}
    assert played(6, fine)[0] == [1, 2, 3, 4, 5, 6, 1, 2, 3, 4]


def test_two_trios_are_each_followed_by_the_minuet() -> None:
    marks = {2: words("Trio I"), 3: words("Menuet D.C."), 4: words("Trio II"), 5: words("Menuet D.C.")}
    for final in ("", FINAL):
        bars, _, _ = played(5, {bar: mark + final * (bar in (1, 3, 5)) for bar, mark in {1: "", **marks}.items()})
        assert bars == [1, 2, 3, 1, 4, 5, 1]


@pytest.mark.parametrize(
    ("text", "bars"),
    [
        ("Minuetto D.C. senza replica", [1, 1, 2, 3, 1]),
        ("Min. D.C. con repliche", [1, 1, 2, 3, 1, 1]),
        ("Menuet da capo, avec les reprises", [1, 1, 2, 3, 1, 1]),
        ("Scherzo D.C. senza repetizione e poi la Coda", [1, 1, 2, 3, 1, 4]),
    ],
)
def test_words_say_whether_repeats_are_taken_again(text: str, bars: list[int]) -> None:
    count, _, _ = played(max(bars), {1: repeat("backward"), 2: words("Trio"), 3: words(text)})
    assert count == bars


def test_da_capo_al_segno_ends_at_the_sign() -> None:
    segno = words("", "segno")
    assert played(4, {2: segno, 4: words("D.C. al Segno")})[0] == [1, 2, 3, 4, 1, 2]  # drawn behind the bar's note
    marked = [bar(segno if number == 3 else "", note("C4", 4), words("Da capo al segno") if number == 4 else "")
              for number in range(1, 5)]  # fmt: skip
    song, _ = read_musicxml(score(marked), "tune.xml")
    assert song.note_count == 6  # drawn at the beginning of bar 3: to the end of bar 2


JUMP = {
    Jump.DA_CAPO: """D.C.|D. C. al Fine|DC|D.C. sino al Fine|<D.C. al Coda>|Da Capo|dacapo|
        D.C. senza repetizione al Fine|
        Da Capo bis Ende|Von vorn bis Fine|Vom Anfang bis zum Ende|From the beginning to Fine|D.C. al Segno|
        du commencement jusqu'au mot fin|d.c. ma senza repliche""",
    Jump.DAL_SEGNO: "D.S.|Dal Segno|D. S. al Fine|D.S. al Coda|dal 𝄋 al Fine|Al Segno|Vom Zeichen bis Ende",
    Jump.TO_CODA: "To Coda|al Coda|to the coda|alla Coda",
    Jump.CODA: "Coda|CODA.|(Coda)",
    Jump.FINE: "Fine|FINE.|Fin|Ende|Il fine|Fine del Minuetto",
    None: """dolce, con discrezione|fine grained|after the D.C. without repeats|p on D.C.|nach dem D.C. gleich weiter|
        poco a poco accelerando al fine|sempre stretto sin al fine|Trio|Menuetto|codetta|m.d.|adc|gli DC|
        this song was sung from the beginning of the feast to its end by all who had come there""",
}
NAMED = """M. D. C.|M.D.C.|MDC|M: D: C:|Menuetto da capo|Menuet D.C.|Men. D.C.|Min. D.C.|
    Minuetto Da Capo|Menuet I da capo|
    Scherzo da Capo senza replica.|Scherzo D.C. senza repetizione e poi la Coda|Allegretto da capo|Thema da capo|
    Polonaise D.C. al Fine|Da capo il Menuetto|Si replica il Minuetto|Repeat the Minuet|On reprend le Menuet|
    Menuetto da Capo al Fine."""


def listed(text: str) -> list[str]:
    return [" ".join(each.split()) for each in text.split("|")]


@pytest.mark.parametrize("jump", JUMP)
def test_wordings_of_the_tradition(jump: Jump | None) -> None:
    assert {text: jump_words(text).jump for text in listed(JUMP[jump])} == dict.fromkeys(listed(JUMP[jump]), jump)
    assert [text for text in listed(JUMP[jump]) if jump_words(text).named] == []


def test_wordings_that_name_what_is_played_again() -> None:
    said = {text: (jump_words(text).jump, jump_words(text).named) for text in listed(NAMED)}
    assert said == dict.fromkeys(listed(NAMED), (Jump.DA_CAPO, True))


@pytest.mark.parametrize(
    "text", ["Trio", "TRIO.", "Trio II", "Minore", "Maggiore", "Menuetto II", "Gavotte 2", "Bourrée seconda"]
)
def test_headings_of_a_trio(text: str) -> None:
    assert jump_words(text).trio
    assert not jump_words("Klaviertrio").trio
    assert not jump_words("Menuetto").trio


def test_signs_drawn_in_one_part_and_sounding_in_another_are_the_same_signs() -> None:
    coda = "<direction><direction-type><coda/></direction-type></direction>"
    sounding = {1: sound('segno="s"'), 2: sound('tocoda="c"'), 3: sound('dalsegno="s"'), 4: sound('coda="c"')}
    drawn = bars_of_quarters(["C3"] * 4, {2: coda, 4: coda})
    song, _ = read_musicxml(score(bars_of_quarters(["C4"] * 4, sounding), drawn), "tune.xml")
    assert song.bar_map.labels == ("1", "2", "3", "1, 2nd time", "2, 2nd time", "4")


def test_words_that_begin_before_their_barline_hold_at_it() -> None:
    # "Menuet D.C." begins in the last bar but one of the trio, whose last bar has the repeat.
    marks = {1: words("Fine"), 2: repeat("forward"), 3: words("Menuet D.C."), 4: repeat("backward")}
    assert order(4, marks) == [1, 2, 3, 4, 2, 3, 4, 1]


def test_a_jump_without_fine_plays_on_to_the_end_and_is_told() -> None:
    bars, _, findings = played(2, {2: sound('dacapo="yes"')})
    assert bars == [1, 2, 1, 2]
    assert findings["jump-without-end"].where == "tune.xml:bar 2"


def test_a_jump_to_nowhere_is_passed_over_and_told() -> None:
    bars, _, findings = played(2, {1: sound('dalsegno="x"')})
    assert bars == [1, 2]
    assert findings["jump-without-target"].count == 1


@pytest.mark.parametrize(
    "marks",
    [
        {1: ending("2", "start") + ending("2", "stop")},
        {2: ending("1", "start") + ending("1", "stop", repeats=True), 3: ending("3", "start") + ending("3", "stop")},
    ],
)
def test_repeats_that_do_not_fit_together_are_played_straight_and_told(marks: dict[int, str]) -> None:
    bars, _, findings = played(4, marks)
    assert bars == [1, 2, 3, 4]
    assert findings["repeats-unclear"].count == 4


# What follows the order


def test_ties_follow_the_playing_order_into_a_second_ending() -> None:
    bars = [
        bar("<attributes><divisions>1</divisions></attributes>", note("C4", 4, tie("start"))),
        bar(ending("1", "start"), note("C4", 2, tie("stop")), note("D4", 2), ending("1", "stop", repeats=True)),
        bar(ending("2", "start"), note("C4", 4, tie("stop")), ending("2", "stop")),
    ]
    song, findings = read_musicxml(score(bars), "tune.xml")
    assert song.pitch_midi.tolist() == [60, 62, 60]
    assert song.onset_ticks.tolist() == [0, 6, 8]
    assert song.duration_ticks.tolist() == [6, 2, 8]
    assert [finding.code for finding in findings] == ["tempo-assumed", "metre-assumed"]


def test_time_only_notes_sound_on_their_pass_alone() -> None:
    # W3C MusicXML 4.0, note, time-only: "the times through" on which the note is played.
    first = note("C4", 4, attributes=' time-only="1"')
    second = note("E4", 4, attributes=' time-only="2,3"', before="<chord/>")
    bars = [bar("<attributes><divisions>1</divisions></attributes>", first, second, repeat("backward", ' times="3"'))]
    song, _ = read_musicxml(score(bars), "tune.xml")
    assert song.pitch_midi.tolist() == [60, 64, 64]


def test_every_bar_has_the_tempo_metre_and_dynamics_of_the_place_where_it_is_written() -> None:
    change = "<attributes><time><beats>2</beats><beat-type>4</beat-type></time></attributes>"
    bars = [
        bar("<attributes><divisions>1</divisions></attributes>", note("C4", 4)),
        bar(change, sound('tempo="60" dynamics="50"'), note("C4", 2), repeat("backward"), number=2),
    ]
    song, _ = read_musicxml(score(bars), "tune.xml")
    assert song.bar_map.ticks.tolist() == [0, 4, 6, 10]
    assert song.bar_map.beats.tolist() == [4, 2, 4, 2]
    assert song.tempo_map.ticks.tolist() == [0, 4, 6, 10]
    assert song.tempo_map.us_per_quarter.tolist() == [500_000, 1_000_000] * 2
    assert song.velocity.tolist() == [80, 45] * 2


def test_marks_of_any_part_count() -> None:
    plain = bars_of_quarters(["C4", "D4"], {})
    thrice = bars_of_quarters(["C3", "D3"], {1: repeat("backward", ' times="3"')})
    twice = bars_of_quarters(["C2", "D2"], {1: repeat("backward")})
    song, _ = read_musicxml(score(plain, thrice, twice), "tune.xml")
    assert song.pitch_midi.tolist() == [60, 48, 36] * 3 + [62, 50, 38]


labels = st.sampled_from([None, None, None, "", "a"])


@given(
    st.lists(
        st.builds(
            BarMarks,
            forward=st.booleans(), backward=st.booleans(), times=st.integers(0, 4), after_jump=st.booleans(),
            ending=st.sampled_from([(), (), (), (1,), (2,), (1, 2), (3,), (0,)]), ending_ends=st.booleans(),
            dacapo=st.booleans(), fine=st.booleans(), dalsegno=labels, segno=labels, tocoda=labels, coda=labels,
            passes=st.sampled_from([frozenset(), frozenset({2})]), bare_coda=st.booleans(), worded=st.booleans(),
            closing=st.booleans(), final=st.booleans(),
        ),
        min_size=1,
        max_size=12,
    )
)  # fmt: skip
def test_any_marks_at_all_give_an_end_and_lose_no_bar_unsaid(marks: Sequence[BarMarks]) -> None:
    result = playing_order(list(marks))
    unplayed = set(result.faults.get(Notice.UNPLAYED, []))
    assert set(result.bars) | unplayed == set(range(len(marks)))
    assert not set(result.bars) & unplayed
    if not result.clear:
        assert result.bars == list(range(len(marks)))


class Walked(_Player):
    """Counts the steps of one walk."""

    steps = 0

    def _after(self, bar: int) -> int:
        self.steps += 1
        return super()._after(bar)


def test_repeats_that_never_end_are_noticed_when_they_come_again() -> None:
    marks = [BarMarks(ending=(2,), dacapo=True), BarMarks(), BarMarks(backward=True, ending=(1, 3), fine=True)]
    player = Walked(marks, _ending_groups(marks))
    assert player.play() == []
    assert player.steps < 10 * len(marks)
    assert playing_order(marks).clear is False


def test_a_song_as_long_as_may_be_is_no_repeat_without_end() -> None:
    marks = [BarMarks() for _ in range(9)] + [BarMarks(backward=True, times=9_999)]
    assert len(playing_order(marks).bars) == 9_999 * len(marks)
    # The same place twice, with the same repeats to come: but at its second playing the jump holds no more.
    marks = [BarMarks(), BarMarks(backward=True, times=4), BarMarks(dacapo=True, with_repeats=True)]
    assert playing_order(marks).bars == [*[0, 1] * 4, 2] * 2
    # A bar whose jump holds only at its third playing.
    marks = [BarMarks(), BarMarks(backward=True, dalsegno="", passes=frozenset({6}), times=5, segno="")]
    assert playing_order(marks).bars[:10] == [0, 1] * 5


def test_the_passes_of_an_ending_are_gathered_once_whatever_its_length() -> None:
    marks = [BarMarks(), BarMarks(ending=(1,)), *(BarMarks() for _ in range(50)), BarMarks(backward=True)]
    marks += [BarMarks(ending=(2,), ending_ends=True), BarMarks(dacapo=True)]
    groups = _ending_groups(marks)
    group = groups[1]
    assert group.used == {1, 2}
    assert (group.total, group.last_bar, group.brackets) == (2, 53, 2)
    group.passes = Unasked(group.passes)
    player = _Player(marks, groups)
    assert player.play() == [*range(53), 0, 53, 54, 0, 53, 54]


class Unasked(dict[int, frozenset[int]]):
    """Passes by bar that are looked up, and not gone through."""

    def __iter__(self) -> Iterator[int]:
        raise AssertionError("every bar of an ending is gone through at a step")

    def values(self) -> NoReturn:
        raise AssertionError("the passes of every bar of an ending are put together at a step")
