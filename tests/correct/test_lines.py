"""Edits as people type them."""

from __future__ import annotations

from pathlib import Path

import pytest

from pegwright.correct.lines import read_edit
from pegwright.correct.values import Edit, Hole, Verb
from pegwright.errors import InputError, UsageError
from pegwright.read import edit_lines
from working import demo_wheel

WHEEL = demo_wheel()
HALF_12 = Hole(6, 2, 1, 11)


@pytest.mark.parametrize(
    ("line", "edit"),
    [
        ("remove plate 3, channel 7, step 12 half", Edit("", Verb.REMOVE, HALF_12)),
        ("remove plate 3, channel 7, step 12.5", Edit("", Verb.REMOVE, HALF_12)),
        ("Remove Plate 3, Channel chime F5, Step 12.5 half", Edit("", Verb.REMOVE, HALF_12)),
        ("remove step 12.5 half, channel 'chime F5', plate 3, plain", Edit("", Verb.REMOVE, HALF_12, 0)),
        ("remove plate 3, channel 7 (chime F5), step 12 half", Edit("", Verb.REMOVE, HALF_12)),
        ('b: remove plate 3, channel "CHIME F5", step 12 half', Edit("B", Verb.REMOVE, HALF_12)),
        ("set plate 3, channel 7, step 13 on, late", Edit("", Verb.SET, Hole(6, 2, 0, 12), 2)),
        ("set plate 3, channel 7, step 13", Edit("", Verb.SET, Hole(6, 2, 0, 12), 0)),
        ("set plate 3, channel 7, step 13, type late", Edit("", Verb.SET, Hole(6, 2, 0, 12), 2)),
        ("set plate 3, channel 7, step 4 1/3 triplet", Edit("", Verb.SET, Hole(6, 2, 2, 3), 0)),
        (
            "move plate 3, channel 7, step 12 half to step 13",
            Edit("", Verb.MOVE, HALF_12, None, Hole(6, 2, 0, 12), None),
        ),
        ("move plate 3, channel 7, step 12 half to late", Edit("", Verb.MOVE, HALF_12, None, HALF_12, 2)),
        (
            "A2: move plate 3, channel 7, step 12 half, plain to plate 4, channel snare, step 1 half, early",
            Edit("A2", Verb.MOVE, HALF_12, 0, Hole(20, 3, 1, 0), 1),
        ),
    ],
)
def test_a_line_is_read(line: str, edit: Edit) -> None:
    assert read_edit(line, WHEEL, "edit 1") == edit


@pytest.mark.parametrize(
    ("line", "words"),
    [
        ("take plate 3", "is not an edit"),
        ("remove", "is not an edit"),
        ("remove plate 3, channel 7", "has no step"),
        ("remove plate 3, plate 4, channel 7, step 1", "has two of plate"),
        ("remove plate , channel 7, step 1", "has no plate"),
        ("remove plate 7, channel 7, step 1", "there is no plate 7 among 6"),
        ("remove plate x, channel 7, step 1", "there is no plate x among 6"),
        ("remove plate 3, channel 25, step 1", "there is no channel 25 among 24"),
        (
            "remove plate 3, channel chime F6, step 1",
            "no channel 'chime F6' (the nearest name is 'chime F5'; the names are",
        ),
        ("remove plate 3, channel 7 (snare), step 1", "channel 7 is 'chime F5', not 'snare'"),
        ("remove plate 3, channel 7, step 33", "step 33 is not on the plate, whose steps are 1 to 32"),
        ("remove plate 3, channel 7, step 0", "step 0 is not on the plate"),
        ("remove plate 3, channel 7, step 4.4", "no hole at step 4.4; the nearest is step 4 1/3 triplet"),
        ("remove plate 3, channel 7, step 12 thirds", "chime F5 has no row 'thirds' (it has on, half and triplet)"),
        ("remove plate 3, channel snare, step 12 triplet", "snare has no row 'triplet' (it has on and half)"),
        ("remove plate 3, channel 7, step twelve", "step 'twelve' is not such as"),
        ("remove plate 3, channel 7, step 1/0", "step '1/0' is not such as"),
        ("remove plate 3, channel 7, step 12, steel", "no pin type 'steel' (there are plain, early and late)"),
        ("move plate 3, channel 7, step 12", "has no place, or more than one, to move the pin to"),
        ("remove plate 3, channel 7, step 1" + " " * 400 + "x", "is not an edit"),
    ],
)
def test_what_is_not_an_edit_is_refused_in_one_line(line: str, words: str) -> None:
    with pytest.raises(UsageError) as refused:
        read_edit(line, WHEEL, "edit 1")
    assert words in str(refused.value)
    assert str(refused.value).startswith("edit 1 ")
    assert "\n" not in str(refused.value)


def test_a_step_in_two_rows_needs_the_row() -> None:
    from dataclasses import replace

    on, half, triplet = WHEEL.rows
    wheel = replace(WHEEL, rows=(on, replace(half, phases=on.phases), triplet))
    with pytest.raises(UsageError, match="step 12 can be step 12 on and step 12 half: say which"):
        read_edit("remove plate 3, channel 7, step 12", wheel, "edit 1")
    moved = read_edit("move plate 3, channel 7, step 12 half to step 13", wheel, "edit 1")
    assert moved.to == Hole(6, 2, 1, 12)


def test_a_file_of_edits_that_is_too_large_is_refused_and_not_cut(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(edit_lines, "MAX_BYTES", 2**20)
    path = tmp_path / "edits.txt"
    path.write_bytes(b"#" * 2**20 + b"\nremove plate 3, channel 7, step 12 on\n")
    with pytest.raises(InputError, match=r"edits\.txt: is larger than 1 MiB"):
        edit_lines.read_edit_lines(path)
