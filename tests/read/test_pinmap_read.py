from __future__ import annotations

import json
from collections.abc import Callable
from dataclasses import fields, replace
from fractions import Fraction
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from hypothesis import given

from pegwright.errors import InputError
from pegwright.placement import Outcome, PinMap
from pegwright.read.pinmap import MAX_BYTES, read_pin_map
from pegwright.wheel import LostHole, PinType, Row
from pegwright.write.pin_map.json import pin_map_json
from placed import Note, pin_map, pin_maps, placed, small_wheel, song_of
from samples import channel

WHEEL = small_wheel()
MADE = placed(
    [
        Note(0, 60, (0, 0, 0, 1, 0)),
        Note(3, 60, (0, 0, 1, 1, 1)),
        Note(6, 72, (1, 1, 2, 4, 0)),
        Note(9, 61, Outcome.NO_CHANNEL),
        Note(12, 76, (2, 2, 0, 4, 0), part=1),
    ],
    WHEEL,
)


def written(pins: PinMap = MADE.pins) -> bytes:
    return pin_map_json(song_of(MADE.score, WHEEL, MADE.placement, pins=pins))


def assert_same(one: PinMap, other: PinMap) -> None:
    for field in fields(PinMap):
        a, b = getattr(one, field.name), getattr(other, field.name)
        assert np.array_equal(a, b), field.name


def refused(data: bytes, **arguments: Any) -> str:  # noqa: ANN401  # read_pin_map's
    with pytest.raises(InputError) as caught:
        read_pin_map(data, "air.json", **arguments)
    text = str(caught.value)
    assert text.startswith("air.json: ")
    assert "\n" not in text
    assert len(text) < 400
    return text


def changed(change: Callable[[Any], object]) -> bytes:
    document = json.loads(written())
    change(document)
    return json.dumps(document).encode()


def first_pin(document: Any) -> Any:  # noqa: ANN401  # JSON
    return document["plates"][0]["pins"][0]


def test_a_map_written_is_read_back_the_same() -> None:
    assert_same(read_pin_map(written(), wheel=WHEEL), MADE.pins)


@given(pin_maps(WHEEL))
def test_any_map_is_read_back_the_same_with_and_without_the_wheel(pins: PinMap) -> None:
    known = replace(pins, title="Test song", note=pins.note.clip(max=MADE.score.note_count - 1))
    assert_same(read_pin_map(written(known)), known)
    assert_same(read_pin_map(written(known), wheel=WHEEL), known)


def test_a_file_is_named_in_its_errors(tmp_path: Path) -> None:
    file = tmp_path / "air.json"
    file.write_bytes(written())
    assert_same(read_pin_map(file), MADE.pins)
    file.write_bytes(b"{}")
    with pytest.raises(InputError, match=r"air\.json: format is None, not 'pegwright pin map'"):
        read_pin_map(file)


def test_order_of_pins_in_the_file_does_not_matter() -> None:
    assert_same(read_pin_map(changed(lambda d: d["plates"][0]["pins"].reverse())), MADE.pins)


def test_keys_that_a_later_pegwright_added_are_passed_over() -> None:
    assert_same(read_pin_map(changed(lambda d: first_pin(d).update(colour="red"))), MADE.pins)


def test_whole_numbers_may_be_written_as_json_numbers_with_a_point() -> None:
    # Source: JSON Schema 2020-12 validation 6.1.1: any number with a zero fraction is an integer
    assert_same(read_pin_map(written().replace(b'"hole": 2', b'"hole": 2.0'), wheel=WHEEL), MADE.pins)


@pytest.mark.parametrize(
    ("data", "told"),
    [
        (b"", "this file is empty, not a pin map (name a pin map written by pegwright"),
        (b"MThd\0\0\0\x06\xff", "this is a song (MIDI), not a pin map (name a pin map written by pegwright"),
        (b"PK\x03\x04", "this is a song (a packed score), not a pin map"),
        (b'[wheel]\nname = "W"\n[[channel]]\nname = "a"\n', "this is a wheel file, not a pin map"),
        (b'wheel = "w.toml"\n[[song]]\nscore = "s.mid"\n', "this is a song set, not a pin map"),
        (b"\xff\xfe{", "is not JSON: byte 1 is not text in UTF-8"),
        (b'{"a": 1,\n  b}', "is not JSON: it cannot be read from line 2, column 3 on"),
        (b"[1]", "holds a list, not an object"),
        (b"null", "holds null, not an object"),
        (b"[" * 100_000, "lists are inside one another too deeply"),
        (b'{"a": ' + b"9" * 5_000 + b"}", "a number has too many digits"),
        (b'{"a": NaN}', "NaN is not a number of JSON"),
        (b'{"format": "pegwright pin count"}', "format is 'pegwright pin count', not 'pegwright pin map'"),
        (b'{"format": "pegwright pin map", "version": 4}', "version is 4; this pegwright reads versions 1, 2 and 3"),
        (b'{"format": "pegwright pin map", "version": true}', "version is True"),
        (b'{"format": "pegwright pin map", "version": 1}', "'map_sha256' is a required property"),
    ],
)  # fmt: skip
def test_what_is_no_pin_map_is_told_with_what_was_seen(data: bytes, told: str) -> None:
    assert told in refused(data)


@pytest.mark.parametrize(
    ("change", "told"),
    [
        (lambda d: d.update(map_sha256="a" * 64), f"map_sha256 is {'a' * 64}, but the pins listed have "),
        (lambda d: first_pin(d).update(hole=3), "map_sha256 is "),
        (lambda d: first_pin(d).update(hole=0), "plates[0].pins[0].hole: 0 is less than the minimum of 1"),
        (lambda d: first_pin(d).update(hole="2"), "plates[0].pins[0].hole: '2' is not of type 'integer'"),
        (lambda d: first_pin(d).update(hole=True), "plates[0].pins[0].hole: True is not of type 'integer'"),
        (lambda d: first_pin(d).update(hole=10**30), "greater than the maximum"),
        (lambda d: first_pin(d).update(step="1 1/0"), "does not match"),
        (lambda d: first_pin(d).pop("row"), "plates[0].pins[0]: 'row' is a required property"),
        (lambda d: d["plates"][0]["pins"].pop(), "pin_count of the map is 4, but 3 pins are listed"),
        (lambda d: d["plates"][0].update(pin_count=9), "pin_count of plate 1 is 9, but 2 pins are listed"),
        (lambda d: d["plates"].reverse(), "plates are numbered [3, 2, 1], not 1 to 3"),
        (lambda d: d["plates"].pop(), "plates are numbered [1, 2], not 1 to 3"),
        (lambda d: d["plates"][0]["pins"].__setitem__(1, d["plates"][0]["pins"][0]), "4 pins are in 3 holes"),
        (lambda d: d["wheel"].update(sha256="XYZ"), "wheel.sha256: 'XYZ' does not match"),
        (lambda d: d.update(plates="x" * 10_000), "plates: "),
    ],
)  # fmt: skip
def test_a_map_changed_by_hand_is_refused(change: Callable[[Any], object], told: str) -> None:
    assert told in refused(changed(change))


def test_a_huge_file_is_not_read(tmp_path: Path) -> None:
    file = tmp_path / "huge.json"
    with file.open("wb") as stream:
        stream.truncate(MAX_BYTES + 1)
    with pytest.raises(InputError, match="is larger than 64 MiB"):
        read_pin_map(file)


def test_a_missing_file_and_a_folder_are_told(tmp_path: Path) -> None:
    with pytest.raises(InputError, match=r"none\.json: cannot be read: no such file"):
        read_pin_map(tmp_path / "none.json")
    with pytest.raises(InputError, match="cannot be read: is a directory"):
        read_pin_map(tmp_path)


@pytest.mark.parametrize(
    ("maps", "hint"),
    [
        (["set-a/pin-map.json"], "(name its pin map: {0}/set-a/pin-map.json)"),
        (["set-a/pin-map.json", "set-b/pin-map.json"], "{0}/set-a/pin-map.json or {0}/set-b/pin-map.json)"),
    ],
)
def test_for_a_folder_the_pin_map_in_it_is_named(tmp_path: Path, maps: list[str], hint: str) -> None:
    for name in maps:
        (tmp_path / name).parent.mkdir(exist_ok=True)
        (tmp_path / name).write_bytes(written())
    with pytest.raises(InputError) as raised:
        read_pin_map(tmp_path)
    assert hint.format(tmp_path) in str(raised.value)


def test_the_map_of_a_folder_that_pin_wrote_is_read(tmp_path: Path) -> None:
    (tmp_path / "pin-map.json").write_bytes(written())
    assert_same(read_pin_map(tmp_path, wheel=WHEEL), MADE.pins)


def test_pins_that_the_wheel_has_no_hole_for_are_refused() -> None:
    told = refused(written(), wheel=replace(WHEEL, plate_count=2))
    assert "the number of plates is 3 in the map and 2 on the wheel; this concerns 4 of 4 pins: " in told
    assert "write the map again" in told
    told = refused(written(), wheel=replace(WHEEL, channels=WHEEL.channels[:2]))
    assert (
        "channel 3, 'block', is none of the 2 of this wheel; this concerns 1 of 4 pins: 'block' plate 3 step 5" in told
    )
    assert "row 3, 'triplet', is none of the 2 of this wheel" in refused(
        written(), wheel=replace(WHEEL, rows=WHEEL.rows[:2])
    )
    assert "pin type 2, 'long peg', is none of the 1 of this wheel" in refused(
        written(), wheel=replace(WHEEL, pin_types=WHEEL.pin_types[:1])
    )
    told = refused(written(), wheel=replace(WHEEL, steps_per_plate=4))
    assert "the number of steps on a plate is 8 in the map and 4 on the wheel; hole 5 of row" in told


def test_a_pin_in_a_row_that_its_channel_lacks_is_refused() -> None:
    pins = pin_map(WHEEL, [(2, 0, 1, 1, 0, -1)])  # the block has holes on the step alone
    told = refused(written(pins), wheel=WHEEL)
    assert (
        "hole 2 of row 'half' does not exist on this wheel; this concerns 1 of 1 pin: 'block' plate 1 step 2.5" in told
    )


def test_a_pin_in_a_hole_that_a_seam_takes_is_refused() -> None:
    wheel = replace(WHEEL, lost=(LostHole("half", 1, plate=0),))
    told = refused(written(), wheel=wheel)
    assert (
        "hole 2 of row 'half' is lost on this wheel, as declared; this concerns 1 of 4 pins: 'low bar' plate 1 step 2"
        in told
    )


def test_a_wheel_file_changed_in_what_moves_no_pin_is_accepted() -> None:
    kept = replace(WHEEL, sha256="f" * 64, name="Renamed", pin_types=(PinType("peg", 7), PinType("long peg", 0)))
    assert_same(read_pin_map(written(), wheel=kept), replace(MADE.pins, wheel_name="Renamed", wheel_sha256="f" * 64))


def test_of_many_changes_the_first_are_told_and_the_others_counted() -> None:
    renamed = [replace(each, name=f"new {each.name}") for each in WHEEL.channels]
    told = refused(written(), wheel=replace(WHEEL, channels=tuple(renamed)))
    assert "channel 1 is 'low bar' in the map and 'new low bar' on the wheel; channel 2 is" in told
    assert "; 1 more like it; this concerns 4 of 4 pins: 'low bar' plate 1 step 2 row 'on', " in told
    assert told.endswith(" and 1 more (write the map again from the song with this wheel file)")


def test_a_wheel_whose_numbers_mean_other_things_is_refused() -> None:
    swapped = replace(WHEEL, channels=(WHEEL.channels[1], WHEEL.channels[0], WHEEL.channels[2]))
    assert "channel 1 is 'low bar' in the map and 'high bar' on the wheel" in refused(written(), wheel=swapped)
    rows = (WHEEL.rows[0], replace(WHEEL.rows[1], name="quarter"), WHEEL.rows[2])
    channels = [channel("low bar", [60], rows=["on", "quarter"]), WHEEL.channels[1], WHEEL.channels[2]]
    renamed = replace(WHEEL, rows=rows, channels=tuple(channels))
    assert "row 2 is 'half' in the map and 'quarter' on the wheel" in refused(written(), wheel=renamed)
    moved = replace(WHEEL, rows=(WHEEL.rows[0], Row("half", (Fraction(1, 4),)), WHEEL.rows[2]))
    told = refused(written(), wheel=moved)
    assert "row 'half': hole 2 of the row is 'step 2.5' in the map and 'step 2.25' on the wheel" in told
    retyped = replace(WHEEL, pin_types=(PinType("nail", 9), WHEEL.pin_types[1]))
    assert "pin type 1 is 'peg' in the map and 'nail' on the wheel" in refused(written(), wheel=retyped)


def test_a_map_of_version_1_is_read_as_it_was_meant() -> None:
    """Written by the program before the written pitch had a key of its own."""
    data = (Path(__file__).parents[1] / "data/maps/air-1.json").read_bytes()
    assert json.loads(data)["version"] == 1
    assert_same(read_pin_map(data, "air-1.json", wheel=WHEEL), MADE.pins)
