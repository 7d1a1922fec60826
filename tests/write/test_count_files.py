from __future__ import annotations

import json
from dataclasses import replace
from typing import Any

from hypothesis import given, settings
from hypothesis import strategies as st

from pegwright.placement import PinMap
from pegwright.show.count import PinCount, pin_count
from pegwright.wheel import PinType
from pegwright.write.cautions import TOUCH_LINE
from pegwright.write.count.data import count_json
from pegwright.write.count.text import count_text
from pegwright.write.tables import TextTable, one_line, paragraphs
from placed import TITLES, pin_map, pin_maps, small_wheel
from schemas import closed

WHEEL = small_wheel()  # 100 pegs and 5 long pegs in stock
VALID = closed("pin-count-1.json")


def two_songs() -> PinCount:
    one = pin_map(WHEEL, [(0, 0, 0, step, 1, -1) for step in range(1, 7)], title="Air")
    other = pin_map(WHEEL, [(0, 1, 0, 1, 0, -1), (2, 2, 0, 4, 0, -1)], title="Jig")
    return pin_count([one, other], WHEEL, 50)


def test_the_bill_has_a_line_for_each_pin_type() -> None:
    rows = [tuple(row.values()) for row in json.loads(count_json(two_songs()))["pin_types"]]
    assert rows == [(1, "peg", 2, 1, 3, 100, 0), (2, "long peg", 6, 3, 9, 5, 4)]


def test_places_have_a_line_wherever_pins_are() -> None:
    rows = [tuple(row.values()) for row in json.loads(count_json(two_songs()))["places"]]
    assert rows == [
        (1, "Air", 1, 1, "low bar", 2, "long peg", 6),
        (2, "Jig", 2, 1, "low bar", 1, "peg", 1),
        (2, "Jig", 3, 3, "block", 1, "peg", 1),
    ]


@given(st.lists(pin_maps(WHEEL), max_size=3), st.integers(0, 100))
@settings(max_examples=40)
def test_every_file_adds_up_to_the_same_pins(maps: list[PinMap], spares: int) -> None:
    count = pin_count(maps, WHEEL, spares)
    document: Any = json.loads(count_json(count))
    VALID.validate(document)
    assert count_json(count) == count_json(pin_count(maps, WHEEL, spares))
    pins = sum(pins.pin_count for pins in maps)
    assert document["pin_count"] == pins
    assert sum(place["pins"] for place in document["places"]) == pins
    assert sum(kind["pins"] for kind in document["pin_types"]) == pins
    assert sum(kind["to_buy"] for kind in document["pin_types"]) == document["to_buy"]


def test_a_song_of_two_sets_of_plates_has_its_name() -> None:
    text = count_text(two_songs(), song="Air and Jig")
    lines = text.splitlines()
    assert "Song" not in text
    assert [line.split()[0] for line in text.split("Plates ")[1].splitlines()[1:4]] == ["set", "set", "total"]
    assert [line[:13] for line in lines if " plate " in line][:2] == ["set A plate 1", "set A plate 2"]
    assert lines[1] == "Air and Jig, sets of plates A and B"
    assert count_text(pin_count([pin_map(WHEEL, [], title="Air")], WHEEL), song="Air").splitlines()[1] == "Air"


def test_the_text_is_a_page_one_can_read() -> None:
    assert count_text(two_songs()) == (
        "8 pins and 4 spares: to buy: 4 long peg\n"
        "2 songs\n"
        "Test wheel, 50 % spares of each type, rounded up\n"
        "\n"
        "Pin type  pins  spares  needed  in stock  to buy\n"
        "peg          2       1       3       100       0\n"
        "long peg     6       3       9         5       4\n"
        "total        8       4      12       105       4\n"
        "\n"
        "Song   peg  long peg  all\n"
        "Air      0         6    6\n"
        "Jig      2         0    2\n"
        "total    2         6    8\n"
        "\n"
        "Plate    peg  long peg  all\n"
        "plate 1    0         6    6\n"
        "plate 2    1         0    1\n"
        "plate 3    1         0    1\n"
        "total      2         6    8\n"
        "\n"
        "Channel    peg  long peg  all\n"
        "1 low bar    1         6    7\n"
        "3 block      1         0    1\n"
        "total        2         6    8\n"
        "1 other channel without a pin\n"
        "\n" + paragraphs([[TOUCH_LINE]])
    )


def test_with_one_pin_type_there_is_one_column_and_with_enough_stock_nothing_to_buy() -> None:
    plain = replace(WHEEL, pin_types=(PinType("peg", 2000),))
    text = count_text(pin_count([pin_map(plain, [(0, 0, 0, 1, 0, -1)])], plain, 0))
    assert text.startswith("1 pin and 0 spares: the stock is enough\nTest song\n")
    assert "Plate    pins\nplate 1     1\n" in text


def test_pin_types_that_are_not_used_take_no_column() -> None:
    text = count_text(pin_count([pin_map(WHEEL, [(0, 0, 0, 1, 1, -1)])], WHEEL, 0))
    assert "peg          0       0       0       100       0\n" in text
    assert "Plate    pins\nplate 1     1\nplate 2     0\n" in text


@given(st.sampled_from(TITLES), st.sampled_from(TITLES))
def test_hostile_names_do_no_harm(title: str, name: str) -> None:
    hostile = replace(WHEEL, name=name, pin_types=(PinType(name, 1),))
    count = pin_count([pin_map(hostile, [(0, 0, 0, 1, 0, -1)], title=title)] * 2, hostile, 5)
    text = count_text(count)
    assert not set(text) & set("\x1b\0\r\u202e\u200d\udcff")
    assert len(text.splitlines()) == 23 + 1 + len(paragraphs([[TOUCH_LINE]]).splitlines())
    VALID.validate(json.loads(count_json(count)))


def test_columns_stand_under_each_other_for_wide_letters_too() -> None:
    # Source: Unicode Annex 11: a CJK ideograph takes two cells
    assert TextTable(["n", "x"], [("港", "1"), ("ab", "22")]).lines(100) == ["n    x", "港   1", "ab  22"]


def test_one_line_is_one_line() -> None:
    assert one_line("a\nb\tc\x1b[31m \u2028d", 40) == "a b c [31m d"
    assert one_line("x" * 10_000, 10) == "xxxxxxxxx…"
    assert one_line("港" * 10, 10) == "港港港港…"
