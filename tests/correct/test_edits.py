"""Edits and their inverse, and edits made again after another fit."""

from __future__ import annotations

import random
import re
from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pegwright.correct.apply import edit_maps
from pegwright.correct.faults import map_faults, new_faults
from pegwright.correct.lines import read_edit
from pegwright.correct.names import edit_words, inverse, is_there, with_letter
from pegwright.correct.reapply import reapply
from pegwright.correct.values import Edit, Hole, Verb, WorkingMap
from pegwright.errors import UsageError
from pegwright.song_pipeline.corrected import correct
from pegwright.write.pin_map.edited import edited_map_json
from pegwright.write.pin_map.json import FORMAT, VERSION
from working import JIG, MARCH, PIER, demo_wheel, document_bytes, maps_of

WHEEL = demo_wheel()


def some_edits(maps: tuple[WorkingMap, ...], chance: random.Random, count: int) -> list[tuple[Edit, str]]:
    """Edits that can be made one after another, of every kind, chosen at random."""
    edits: list[tuple[Edit, str]] = []
    pins = {working.letter: {pin.hole: pin.pin_type for pin in working.pins} for working in maps}
    for _ in range(count):
        letter = chance.choice(list(pins))
        own = pins[letter]
        verb = chance.choice(list(Verb)) if own else Verb.SET
        row = chance.randrange(len(WHEEL.rows))
        number = chance.randrange(WHEEL.rows[row].hole_count(WHEEL.steps_per_plate))
        free = Hole(chance.randrange(len(WHEEL.channels)), chance.randrange(WHEEL.plate_count), row, number)
        kind = chance.randrange(len(WHEEL.pin_types))
        if verb != Verb.REMOVE and (free in own or not is_there(WHEEL, free)):
            continue
        if verb == Verb.SET:
            edits.append((Edit(letter, verb, free, kind), ""))
            own[free] = kind
            continue
        old = chance.choice(list(own))
        before = own.pop(old)
        if verb == Verb.MOVE:
            edits.append((Edit(letter, verb, old, None, free, kind), ""))
            own[free] = kind
        else:
            edits.append((Edit(letter, verb, old, chance.choice([None, before])), ""))
    return edits


@settings(max_examples=60, deadline=None)
@given(st.integers(0, 10**6), st.integers(1, 12), st.sampled_from([JIG, MARCH, PIER]))
def test_edits_and_their_inverse_give_the_map_of_the_fit_again(seed: int, count: int, song: str) -> None:
    maps = maps_of(song)
    edits = some_edits(maps, random.Random(seed), count)  # noqa: S311  # a seeded sample
    edited = edit_maps(maps, edits, WHEEL)
    back = edit_maps(edited.maps, [(edit, "") for edit in inverse(edited.edits)], WHEEL)
    for pinning, (before, between, after) in enumerate(zip(maps, edited.maps, back.maps, strict=True)):
        assert after.sha256 == before.sha256
        assert unrounded(edited_map_json(after, WHEEL)) == unrounded(document_bytes(song, pinning))
        if between.edits:
            assert between.parent_sha256 == between.fitted_sha256 == before.sha256


@settings(max_examples=40, deadline=None)
@given(st.integers(0, 10**6), st.integers(1, 8))
def test_an_edit_is_read_back_from_its_words(seed: int, count: int) -> None:
    edits = some_edits(maps_of(PIER), random.Random(seed), count)  # noqa: S311  # a seeded sample
    for edit in edit_maps(maps_of(PIER), edits, WHEEL).edits:
        assert read_edit(with_letter(edit.letter, edit_words(WHEEL, edit)), WHEEL, "") == edit


def unrounded(data: bytes) -> bytes:
    """A map without its deviations, which are rounded each time that a pin is moved."""
    return re.sub(rb'"deviation_ms": [^}]*', b"", data)


def placed(*lines: str) -> list[tuple[Edit, str]]:
    return [(read_edit(line, WHEEL, "edit"), line) for line in lines]


def test_an_edited_map_lists_its_edits_and_names_its_parent() -> None:
    maps = maps_of(JIG)
    first = correct(maps, placed("remove plate 1, channel 5, step 1"), WHEEL).after
    second = correct(first, placed("set plate 6, channel 1, step 10, late"), WHEEL).after[0]
    assert [edit.words for edit in second.edits] == [
        "remove plate 1, channel 5 (chime D5), step 1 on, plain",
        "set plate 6, channel 1 (chime G4), step 10 on, late",
    ]
    assert (second.parent_sha256, second.fitted_sha256) == (first[0].sha256, maps[0].sha256)
    assert second.notes_removed == {1}
    assert len({maps[0].sha256, first[0].sha256, second.sha256}) == 3


def test_a_moved_pin_keeps_its_note_and_says_how_much_later_it_sounds() -> None:
    line = "move plate 1, channel 5, step 1 to channel 4, step 2, late"
    pin = next(pin for pin in correct(maps_of(JIG), placed(line), WHEEL).after[0].pins if pin.hole == Hole(3, 0, 0, 1))
    number, source, written, _, pitch, name, late_ms = pin.cells
    # a sixteenth at 156 quarters a minute, 96.154 ms, and 1.2 mm of 15.626 mm a step later
    assert late_ms == pytest.approx(96.154 + 1.2 / 15.6258 * 96.154, abs=0.01)
    assert (number, source, written) == (1, "shrimpers-jig.mid:Chimes:bar 1 beat 1", 74)
    assert (pitch, name) == (72, "C5")


@pytest.mark.parametrize(
    ("line", "words"),
    [
        ("set plate 1, channel 8, step 3 half", "chime F#5 is struck again after 48.1 ms where 110 ms are needed"),
        ("set plate 1, channel 8, step 4", "is struck again after 96.2 ms where 110 ms are needed: plate 1, channel 8"),
    ],
)
def test_an_edit_that_breaks_a_rule_is_refused_with_it_and_kept_with_force(line: str, words: str) -> None:
    with pytest.raises(UsageError) as refused:
        correct(maps_of(JIG), placed(line), WHEEL)
    assert words in str(refused.value)
    kept = correct(maps_of(JIG), placed(line), WHEEL, keep_faults=True)
    assert words in kept.kept[0].words
    assert any(words in finding for finding in kept.after[0].findings)


def test_a_fault_that_was_there_before_bars_no_other_edit() -> None:
    forced = correct(maps_of(JIG), placed("set plate 1, channel 8, step 3 half"), WHEEL, keep_faults=True).after
    after = correct(forced, placed("remove plate 4, channel 1, step 19"), WHEEL).after
    assert len(after[0].findings) == 1
    assert after[0].findings == forced[0].findings


def test_a_stock_that_an_edit_exceeds_is_refused() -> None:
    few = replace(WHEEL, pin_types=tuple(replace(kind, stock=205) for kind in WHEEL.pin_types))
    edits = placed("set plate 6, channel 1, step 10")
    assert map_faults(maps_of(JIG), few) == ()
    with pytest.raises(UsageError, match="pin type plain: 206 are needed and 205 are in stock"):
        correct(maps_of(JIG), edits, few)
    lacking = map_faults(correct(maps_of(JIG), edits, few, keep_faults=True).after, few)
    assert [fault.rule for fault in lacking] == ["stock"]


def test_edits_that_still_apply_are_made_again_and_the_others_named_with_the_reason() -> None:
    maps = maps_of(JIG)
    lines = (
        "remove plate 1, channel 5, step 1",
        "remove plate 1, channel 5, step 2",
        "set plate 1, channel 8, step 3 half",
        "move plate 1, channel 6, step 15 to step 16",
    )
    outcome = reapply(maps, [edit for edit, _ in placed(*lines)], WHEEL)
    assert [edit_words(WHEEL, edit).split(",")[0] for edit in outcome.edited.edits] == [
        "remove plate 1",
        "move plate 1",
    ]
    reasons = dict(outcome.refused)
    assert len(reasons) == 2
    assert any("there is no pin in plate 1, channel 5 (chime D5), step 2 on" in why for why in reasons.values())
    assert any("is struck again after 48.1 ms" in why for why in reasons.values())
    assert new_faults(maps, outcome.edited.maps, WHEEL) == ()


def test_edited_maps_have_the_format_of_those_of_a_fit() -> None:
    from pegwright.write.pin_map import edited

    assert (edited.FORMAT, edited.VERSION) == (FORMAT, VERSION)
