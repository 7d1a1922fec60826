"""Swaps as text, JSON and CSV: every pin that moves is there once, and nothing a title holds can do harm."""

from __future__ import annotations

import csv
import json
import re
from collections import Counter
from dataclasses import replace

from hypothesis import given, settings

from pegwright.cautions import TOUCH
from pegwright.placement import PinMap, pin_map_sha256
from pegwright.show.swap import swap
from pegwright.swapping import Moves
from pegwright.write.swap.data import swap_csv, swap_json
from pegwright.write.swap.text import swap_text
from pegwright.write.tables import LINE_CELLS
from placed import pin_map, pin_maps, small_wheel
from schemas import closed

WHEEL = small_wheel()
SCHEMA = closed("swap-1.json")


def rows_of(moves: Moves) -> Counter[tuple[int, ...]]:
    """Place, channel, row, hole and pin type, counted from 1."""
    columns = (moves.plate, moves.channel, moves.row, moves.index, moves.pin_type)
    return Counter(tuple(value + 1 for value in row) for row in zip(*(it.tolist() for it in columns), strict=True))


@settings(max_examples=60)
@given(pin_maps(WHEEL), pin_maps(WHEEL))
def test_the_json_holds_every_move_and_every_count(old: PinMap, new: PinMap) -> None:
    made = swap(old, new, WHEEL)
    data = swap_json(WHEEL, made, old, new)
    document = json.loads(data)
    SCHEMA.validate(document)
    assert data == swap_json(WHEEL, made, old, new)
    for action, moves in (("pull", made.pull), ("set", made.set_pins)):
        listed = Counter(
            (plate["place"], pin["channel"], pin["row"], pin["hole"], pin["pin_type"])
            for plate in document["plates"]
            for pin in plate[action]
        )
        assert listed == rows_of(moves)
        assert document[f"{action}_count"] == moves.count
    assert document["new"]["map_sha256"] == pin_map_sha256(new)
    assert sum(plate["before_count"] for plate in document["plates"]) == old.pin_count
    assert sum(plate["after_count"] for plate in document["plates"]) == new.pin_count
    for plate in document["plates"]:
        assert plate["came_from"] == made.came_from[plate["place"] - 1] + 1
        for channel in plate["channels"]:
            assert channel["after"] == channel["before"] - channel["pull"] + channel["set"]
            for action in ("pull", "set"):
                assert channel[action] == sum(pin["channel"] == channel["channel"] for pin in plate[action])


@settings(max_examples=60)
@given(pin_maps(WHEEL), pin_maps(WHEEL))
def test_the_csv_has_a_line_for_every_move(old: PinMap, new: PinMap) -> None:
    made = swap(old, new, WHEEL)
    rows = list(csv.DictReader(swap_csv(WHEEL, made).decode().splitlines()))
    listed = Counter(
        (row["action"], *(int(row[key]) for key in ("place", "channel", "row", "hole", "pin_type"))) for row in rows
    )
    expected: Counter[tuple[str | int, ...]] = Counter()
    for action, moves in (("pull", made.pull), ("set", made.set_pins)):
        expected.update({(action, *key): count for key, count in rows_of(moves).items()})
    assert listed == expected
    actions = [(int(row["place"]), row["action"]) for row in rows]
    assert actions == sorted(actions)  # pull comes before set


@settings(max_examples=60)
@given(pin_maps(WHEEL), pin_maps(WHEEL))
def test_the_text_calls_every_move_once_and_its_counts_add_up(old: PinMap, new: PinMap) -> None:
    made = swap(old, new, WHEEL)
    text = swap_text(WHEEL, made, replace(old, title="Old"), replace(new, title="New"))
    assert all(words in " ".join(text.split()) for words in TOUCH)
    assert all(len(line) <= LINE_CELLS for line in text.splitlines())
    called: Counter[tuple[str, int, int]] = Counter()
    action, place, channel = "", 0, 0
    for line in text.replace("\n        ", " ").splitlines():  # long lines go on further in
        if match := re.match(r"Place (\d+): (?:this plate (?:stood at place (\d+)|stays)|set)", line):
            place = int(match[1])
            action = "Set"  # on empty plates, of which nothing else is said
            assert made.came_from[place - 1] + 1 == int(match[2] or place)
        elif match := re.match(r"  (Pull|Set) (\d+|nothing)", line):
            action = match[1]
        elif match := re.match(r" {4,6}(\d+) ([^(]+?)(?: \((\d+) → (\d+)\))?: (.*)", line):
            channel = int(match[1])
            assert match[2] == WHEEL.channels[channel - 1].name
            calls = match[5].split(", ")
            assert abs(int(match[4] or len(calls)) - int(match[3] or 0)) == len(calls)
            called[action, place, channel] += len(calls)
    expected = Counter(
        (name, row[0], row[1])
        for name, moves in (("Pull", made.pull), ("Set", made.set_pins))
        for row in rows_of(moves).elements()
    )
    assert called == expected


def test_a_step_is_called_by_its_number_and_row() -> None:
    """The first hole of row on, the second half-way one, and the first triplet one of the second pair of steps."""
    new = pin_map(WHEEL, [(0, 0, 0, 0, 0, -1), (0, 0, 1, 1, 0, -1), (1, 0, 2, 2, 1, -1)])
    text = swap_text(WHEEL, swap(pin_map(WHEEL, []), new, WHEEL), pin_map(WHEEL, []), new)
    assert "Set 3 pins on empty plates." in text
    assert "Place 1: set 3 pins\n" in text
    assert "1 low bar: 1 on peg, 2.5 half peg" in text
    assert "2 high bar: 3 2/3 triplet long peg" in text
    assert "Place 2: set nothing" in text
    assert not {"Pull", "stays", "before"} & set(text.partition("Place 1")[2].split())


def test_titles_cannot_break_the_page() -> None:
    bad = pin_map(WHEEL, [(0, 0, 0, 1, 0, -1)], title="\x1b[31mred\n=1+1 " + "x" * 500)
    text = swap_text(WHEEL, swap(bad, bad, WHEEL), bad, bad)
    assert "\x1b" not in text
    assert all(len(line) <= LINE_CELLS for line in text.splitlines())
    assert "no plate moves" in text
    assert "Nothing to pull, nothing to set." in text
