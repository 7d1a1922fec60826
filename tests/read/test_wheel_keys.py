"""Every key of the wheel file changed in turn: a pin map is refused exactly where a hole or a name of its pins is."""

from __future__ import annotations

import hashlib
import json
import re
from fractions import Fraction
from pathlib import Path

import pytest

from pegwright.config.fields import Table
from pegwright.config.wheel_file import parse_wheel
from pegwright.correct.faults import map_faults
from pegwright.errors import InputError
from pegwright.layout import layout_sha256
from pegwright.read.pinmap import read_map_file
from pegwright.read.working_map import inspected_maps
from pegwright.wheel import Wheel
from pegwright.write.pin_map.json import pin_map_json
from placed import Note, placed
from places import ROOT

TEXT = """\
name = "Test wheel"
[wheel]
plates = 3
steps_per_plate = 8
step = "1/16"
plate_sets = 2
repin_within_song = true
reach = "1/64"
seam = true
slowest_turn_s = 60
fastest_turn_s = 2
[geometry]
radius_mm = 60.0
thickness_mm = 6.0
hole_diameter_mm = 2.5
pin_diameter_mm = 4.0
min_wall_mm = 3.0
pin_clearance_mm = 0.5
channel_pitch_mm = 14.0
lead_edge_mm = 5.0
trail_edge_mm = 5.3
[[row]]
name = "on"
phases = [0]
[[row]]
name = "half"
phases = ["1/2"]
[[row]]
name = "triplet"
phases = ["2/3", "4/3"]
period_steps = 2
lateral_mm = 3.0
[[row]]
name = "late row"
phases = ["1/4"]
channels = ["bell"]
[channel_defaults]
rows = ["on", "half", "triplet"]
kind = "strike"
restrike_ms = 110
lead_ms = 18
hold_mm = 9.0
[[channels]]
name = "bar {pitch}"
pitches = "C4..E4"
[[channels]]
name = "reed {pitch}"
pitches = ["C5"]
kind = "hold"
restrike_ms = 90
lead_ms = 5
hold_mm = 8.5
rows = ["on", "half"]
[[channel]]
name = "pipe"
kind = "hold"
pitches = ["C6"]
restrike_ms = 80
lead_ms = 7
hold_mm = 8.0
rows = ["on"]
[[channel]]
name = "bell"
drum_keys = [76]
rows = ["on", "half"]
[[pin_type]]
name = "peg"
stock = 100
[[pin_type]]
name = "late"
stock = 9
offset_mm = 1.2
collar = "stays"
[[pin_type]]
name = "staple"
stock = 5
bridge_mm = 10.0
[[lost]]
row = "half"
hole = 2
plate = 1
channel = "bell"
[[limit]]
name = "drive"
channels = ["bell", "pipe"]
strikes = 2
window_ms = 50
"""
PINS = (  # channel, plate, row, index, pin type: bar C4, bar D4, bar E4 on a triplet, pipe, bell
    (0, 0, 0, 0, 0),
    (2, 1, 1, 3, 1),
    (4, 0, 2, 1, 0),
    (6, 1, 0, 2, 2),
    (7, 2, 1, 4, 0),
)
SAME, READ, EARLY = "same", "read", "early"

# A change of the file, one or more replacements, and what becomes of a map written before: nothing that matters is
# changed (SAME), it is read and what changed is named (READ and words; EARLY and words where pins are set early), or
# it is refused with these words.
CHANGES: dict[str, list[tuple[list[tuple[str, str]], str]]] = {
    "name": [([('"Test wheel"', '"Renamed"')], SAME)],
    "wheel.plates": [
        (
            [("plates = 3", "plates = 4")],
            "the number of plates is 3 in the map and 4 on the wheel; "
            "this concerns 5 of 5 pins: 'bar C4' plate 1 step 1 row 'on'",
        )
    ],
    "wheel.steps_per_plate": [
        ([("= 8", "= 10")], "the number of steps on a plate is 8 in the map and 10 on the wheel; this concerns 5 of 5")
    ],
    "wheel.step": [
        ([('"1/16"', '"1/8"')], "the value of a step is '1/16' in the map and '1/8' on the wheel; this concerns 5 of 5")
    ],
    "wheel.plate_sets": [([("plate_sets = 2", "plate_sets = 3")], SAME)],
    "wheel.repin_within_song": [([("= true\nreach", "= false\nreach")], SAME)],
    "wheel.reach": [([('"1/64"', '"1/32"')], SAME)],
    "wheel.seam": [
        (
            [
                ("seam = true", "seam = false"),
                ("min_wall_mm = 3.0\n", ""),
                ("lead_edge_mm = 5.0\n", ""),
                ("trail_edge_mm = 5.3\n", ""),
            ],
            READ + "not the same holes exist",
        )
    ],
    "wheel.slowest_turn_s": [([("= 60\n", "= 70\n")], SAME)],
    "wheel.fastest_turn_s": [([("fastest_turn_s = 2", "fastest_turn_s = 3")], SAME)],
    "geometry.radius_mm": [([("= 60.0", "= 61.0")], SAME)],
    "geometry.thickness_mm": [([("= 6.0", "= 5.0")], SAME)],
    "geometry.hole_diameter_mm": [([("= 2.5", "= 2.6")], SAME)],
    "geometry.pin_diameter_mm": [([("= 4.0", "= 3.9")], SAME)],
    "geometry.min_wall_mm": [
        ([("= 3.0\npin", "= 3.1\npin")], SAME),
        ([("= 3.0\npin", "= 0.5\npin")], READ + "not the same holes exist"),
    ],
    "geometry.pin_clearance_mm": [([("= 0.5", "= 0.6")], SAME)],
    "geometry.channel_pitch_mm": [([("= 14.0", "= 15.0")], SAME)],
    "geometry.lead_edge_mm": [
        ([("= 5.0", "= 5.1")], SAME),
        (
            [("= 5.0", "= 4.0")],
            "hole 1 of row 'on' is lost on this wheel, at a seam; "
            "this concerns 1 of 5 pins: 'bar C4' plate 1 step 1 row 'on'",
        ),
    ],
    "geometry.trail_edge_mm": [
        ([("= 5.3", "= 5.4")], SAME),
        ([("= 5.3", "= 14.0")], READ + "not the same holes exist"),
    ],
    "row.name": [
        (
            [('"half"', '"middle"')],
            "row 2 is 'half' in the map and 'middle' on the wheel; "
            "this concerns 2 of 5 pins: 'bar D4' plate 2 step 4.5 row 'half' and 'bell' plate 3",
        )
    ],
    "row.phases": [
        (
            [('["1/2"]', '["5/8"]')],
            "row 'half': hole 4 of the row is 'step 4.5' in the map and 'step 4 5/8' on the wheel; row 'half': hole 5",
        ),
        ([('["1/4"]', '["3/4"]')], READ + "row 'late row' is not as it was"),
    ],
    "row.period_steps": [
        ([("period_steps = 2", "period_steps = 4")], READ + "row 'triplet' is not as it was"),
        (
            [('name = "half"', 'period_steps = 2\nname = "half"')],
            "row 'half': hole 4 of the row is 'step 4.5' in the map and 'step 7.5' on the wheel",
        ),
    ],
    "row.lateral_mm": [([("lateral_mm = 3.0", "lateral_mm = 3.5")], SAME)],
    "row.channels": [
        (
            [('["bell"]\n[channel_defaults]', '["bell", "pipe"]\n[channel_defaults]')],
            READ + "channel 'pipe' is not as it was",
        )
    ],
    "channel_defaults.rows": [
        (
            [('"half", "triplet"]', '"half"]')],
            "hole 2 of row 'triplet' does not exist on this wheel; this concerns 1 of 5 pins: 'bar E4'",
        ),
        ([('["on", "half", "triplet"]', '["on", "triplet", "half"]')], SAME),
    ],
    "channel_defaults.kind": [([('"strike"', '"hold"')], SAME)],
    "channel_defaults.restrike_ms": [([("= 110", "= 120")], SAME)],
    "channel_defaults.lead_ms": [([("= 18", "= 19")], SAME)],
    "channel_defaults.reader_mm": [([("= 18", "= 18\nreader_mm = -2.5")], SAME)],
    "channel_defaults.advance_steps": [
        (
            [("= 18", "= 18\nadvance_steps = 0.5")],
            EARLY + "advance_steps of channel 'bar C4' is 0 in the map and 0.5 on the wheel: "
            "its pins stand 0.5 steps too late for this wheel",
        )
    ],
    "channel_defaults.fall_mm": [([("lead_ms = 18", "fall_mm = 30")], SAME)],
    "channel_defaults.fall_start_mm_per_s": [([("lead_ms = 18", "fall_mm = 30\nfall_start_mm_per_s = 100")], SAME)],
    "channel_defaults.hold_mm": [([("= 9.0", "= 9.1")], SAME)],
    "channels.name": [
        (
            [('"bar {pitch}"', '"tone {pitch}"')],
            "channel 1 is 'bar C4' in the map and 'tone C4' on the wheel; channel 3 is",
        ),
        ([('"bar {pitch}"', '"bar {midi}"')], "channel 1 is 'bar C4' in the map and 'bar 60' on the wheel"),
    ],
    "channels.pitches": [
        (
            [('"C4..E4"', '"C4..F4"')],
            "channel 7 is 'pipe' in the map and 'reed C5' on the wheel; channel 8 is 'bell' in the map and 'pipe'",
        ),
        ([('["C5"]', '"C5..C5"')], SAME),
        ([('"C4..E4"', '["C4", "C#4", "D4", "Eb4", "E4"]')], SAME),
    ],
    "channels.kind": [
        ([('pitches = ["C5"]\nkind = "hold"', 'pitches = ["C5"]\nkind = "strike"'), ("hold_mm = 8.5\n", "")], SAME)
    ],
    "channels.restrike_ms": [([("= 90", "= 95")], SAME)],
    "channels.lead_ms": [([("= 5\n", "= 6\n")], SAME)],
    "channels.reader_mm": [([("= 5\n", "= 5\nreader_mm = 3\n")], SAME)],
    "channels.advance_steps": [([("= 5\n", "= 5\nadvance_steps = 2\n")], SAME)],  # of a channel without a pin
    "channels.fall_mm": [([("lead_ms = 5\n", "fall_mm = 9\n")], SAME)],
    "channels.fall_start_mm_per_s": [([("lead_ms = 5\n", "fall_mm = 9\nfall_start_mm_per_s = 5\n")], SAME)],
    "channels.hold_mm": [([("= 8.5", "= 8.6")], SAME)],
    "channels.rows": [
        ([('8.5\nrows = ["on", "half"]', '8.5\nrows = ["on"]')], READ + "channel 'reed C5' is not as it was")
    ],
    "channel.name": [
        (
            [
                ('name = "bell"', 'name = "gong"'),
                ('["bell", "pipe"]', '["gong", "pipe"]'),
                ('["bell"]', '["gong"]'),
                ('channel = "bell"', 'channel = "gong"'),
            ],
            "channel 8 is 'bell' in the map and 'gong' on the wheel; "
            "this concerns 1 of 5 pins: 'bell' plate 3 step 5.5 row 'half'",
        )
    ],
    "channel.pitches": [([('["C6"]', '["D6"]')], SAME)],
    "channel.drum_keys": [([("[76]", "[77]")], SAME)],
    "channel.restrike_ms": [([("= 80", "= 85")], SAME)],
    "channel.lead_ms": [([("= 7\n", "= 8\n")], SAME)],
    "channel.reader_mm": [([("= 7\n", "= 7\nreader_mm = 3\n")], SAME)],
    "channel.advance_steps": [
        (
            [("= 7\n", "= 7\nadvance_steps = 1\n")],
            EARLY + "advance_steps of channel 'pipe' is 0 in the map and 1 on the wheel: "
            "its pins stand 1 step too late for this wheel",
        )
    ],
    "channel.fall_mm": [([("lead_ms = 7\n", "fall_mm = 9\n")], SAME)],
    "channel.fall_start_mm_per_s": [([("lead_ms = 7\n", "fall_mm = 9\nfall_start_mm_per_s = 5\n")], SAME)],
    "channel.kind": [([('kind = "hold"\npitches', 'kind = "strike"\npitches'), ("hold_mm = 8.0\n", "")], SAME)],
    "channel.hold_mm": [([("= 8.0", "= 8.1")], SAME)],
    "channel.rows": [
        (
            [('rows = ["on"]', 'rows = ["half"]')],
            "hole 3 of row 'on' does not exist on this wheel; this concerns 1 of 5 pins: 'pipe'",
        ),
        ([('rows = ["on"]', 'rows = ["on", "triplet"]')], READ + "channel 'pipe' is not as it was"),
    ],
    "pin_type.name": [
        (
            [('"staple"', '"bridge"')],
            "pin type 3 is 'staple' in the map and 'bridge' on the wheel; this concerns 1 of 5 pins: 'pipe'",
        )
    ],
    "pin_type.stock": [([("= 100", "= 110")], SAME)],
    "pin_type.offset_mm": [
        (
            [("= 1.2", "= 1.3")],
            "offset of pin type 'late' is '1.2 mm' in the map and '1.3 mm' on the wheel; "
            "this concerns 1 of 5 pins: 'bar D4'",
        )
    ],
    "pin_type.bridge_mm": [
        (
            [("= 10.0", "= 11.0")],
            "bridge of pin type 'staple' is '10 mm' in the map and '11 mm' on the wheel; "
            "this concerns 1 of 5 pins: 'pipe'",
        )
    ],
    "pin_type.collar": [([('"stays"', '"moves"')], SAME)],
    "lost.row": [([('row = "half"\nhole', 'row = "on"\nhole')], READ + "not the same holes exist")],
    "lost.hole": [
        ([("hole = 2", "hole = 3")], READ + "not the same holes exist"),
        (
            [("hole = 2\nplate = 1", "hole = 5\nplate = 3")],
            "hole 5 of row 'half' is lost on this wheel, as declared; "
            "this concerns 1 of 5 pins: 'bell' plate 3 step 5.5 row 'half'",
        ),
    ],
    "lost.plate": [([("plate = 1\n", "plate = 2\n")], READ + "not the same holes exist")],
    "lost.channel": [([('channel = "bell"', 'channel = "bar C4"')], READ + "not the same holes exist")],
    "lost.set": [  # pins of a map without a set are in holes that every set has
        ([("plate = 1\n", "plate = 1\nset = 2\n")], SAME),
        (
            [("hole = 2\nplate = 1", "hole = 5\nplate = 3\nset = 2")],
            "hole 5 of row 'half' is lost on set 2 of plates, as declared; "
            "this concerns 1 of 5 pins: 'bell' plate 3 step 5.5 row 'half'",
        ),
    ],
    "limit.name": [([('"drive"', '"supply"')], SAME)],
    "limit.channels": [([('["bell", "pipe"]', '["bell"]')], SAME)],
    "limit.strikes": [([("strikes = 2", "strikes = 1")], SAME)],
    "limit.window_ms": [([("= 50", "= 60")], SAME)],
}
TABLES = {"wheel", "geometry", "row", "channel_defaults", "channels", "channel", "pin_type", "lost", "limit"}


def parsed(text: str) -> Wheel:
    return parse_wheel(text.encode(), "wheel.toml")


WHEEL = parsed(TEXT)
MAP = pin_map_json(placed([Note(3 * number, 60, hole) for number, hole in enumerate(PINS)], WHEEL).song)


def changed(replacements: list[tuple[str, str]]) -> Wheel:
    text = TEXT
    for old, new in replacements:
        assert old in text, old
        text = text.replace(old, new, 1 if old[0] in "=[" else -1)
    return parsed(text)


def outcome(wheel: Wheel) -> str:
    """SAME, READ with what changed, or the words of the refusal."""
    try:
        read = read_map_file(MAP, "air.json", wheel)
    except InputError as error:
        return error.message
    assert read.pins.pin_count == len(PINS)
    if not read.findings:
        return SAME
    if read.findings[0].code == "advance-changed":
        return EARLY + read.findings[0].message
    (finding,) = read.findings
    assert finding.message.startswith("the wheel file was changed after this map was written: ")
    assert finding.message.endswith("; no pin of it is concerned")
    return READ + finding.message


def text_of_maps(name: str) -> bytes:
    return (ROOT / "tests/data/maps" / name).read_bytes()


def known_keys(monkeypatch: pytest.MonkeyPatch) -> set[str]:
    """Every key that reading the wheel asks for."""
    keys: set[str] = set()
    has = Table.has

    def noted(table: Table, key: str) -> bool:
        keys.add(re.sub(r"\[\d+\]", "", table.at(key)))
        return has(table, key)

    monkeypatch.setattr(Table, "has", noted)
    parsed(TEXT)
    return keys


def test_every_key_of_a_wheel_file_is_changed_here(monkeypatch: pytest.MonkeyPatch) -> None:
    of_file = known_keys(monkeypatch) - TABLES
    in_inches = {key for key in of_file if key.endswith("_in")}
    never = {"channels.drum_keys"}  # refused in the file
    assert of_file - in_inches - never == set(CHANGES)
    assert {f"{key.removesuffix('_mm')}_in" for key in CHANGES if key.endswith("_mm")} == in_inches


@pytest.mark.parametrize(
    ("replacements", "expected"),
    [pytest.param(*each, id=f"{key}-{number}") for key, many in CHANGES.items() for number, each in enumerate(many)],
)
def test_a_map_is_refused_only_where_a_hole_or_a_name_of_its_pins_changed(
    replacements: list[tuple[str, str]], expected: str
) -> None:
    wheel = changed(replacements)
    found = outcome(wheel)
    assert len(found) < 400
    same = layout_sha256(wheel) == layout_sha256(WHEEL)
    assert found.startswith((SAME, EARLY)) == expected.startswith((SAME, EARLY)) == same
    if expected != SAME:
        assert (READ in expected) == found.startswith(READ)
        assert expected.removeprefix(READ) in found


@pytest.mark.parametrize(
    ("replacements", "expected"),
    [pytest.param(*each, id=f"{key}-{number}") for key, many in CHANGES.items() for number, each in enumerate(many)],
)
def test_a_check_faults_every_map_that_is_refused_and_has_the_finding_of_any_other(
    replacements: list[tuple[str, str]], expected: str, tmp_path: Path
) -> None:
    path = tmp_path / "air.json"
    path.write_bytes(MAP)
    before = {fault.words for fault in map_faults(inspected_maps(path, WHEEL)[0], WHEEL)}
    wheel = changed(replacements)
    maps, of_file = inspected_maps(path, wheel)
    new = {fault.words for fault in (*of_file, *map_faults(maps, wheel))} - before
    if not expected.startswith((SAME, READ)):
        assert new
        assert maps[0].wheel_findings == ()
    elif expected.startswith(READ):
        assert not of_file
        assert [READ + finding.message for finding in maps[0].wheel_findings] == [outcome(wheel)]
    else:
        assert (of_file, maps[0].wheel_findings) == ((), ())


def test_lengths_in_inches_are_the_same_lengths() -> None:
    text = re.sub(r"(\w+)_mm = ([\d.]+)", lambda match: f"{match[1]}_in = {float(match[2]) / 25.4!r}", TEXT)
    assert "_mm" not in text
    assert outcome(parsed(text)) == SAME


def test_remarks_and_channels_written_one_by_one_are_the_same_layout() -> None:
    short = '[[channels]]\nname = "bar {pitch}"\npitches = "C4..E4"\n'
    single = "".join(
        f'[[channel]]\nname = "bar {name}"\npitches = ["{name}"]\n' for name in ("C4", "C#4", "D4", "Eb4", "E4")
    )
    reed = TEXT[TEXT.index('[[channels]]\nname = "reed') : TEXT.index("[[channel]]\n")]
    text = TEXT.replace(short, single).replace(
        reed, reed.replace("[[channels]]", "[[channel]]").replace("{pitch}", "C5")
    )
    assert outcome(parsed("# measured anew\n" + text)) == SAME


def test_the_value_of_a_step_is_compared_exactly() -> None:
    assert WHEEL.step_quarters == Fraction(1, 4)
    assert "'1/16' in the map and '16/255' on the wheel" in outcome(changed([('"1/16"', '"16/255"')]))


def test_the_hash_of_a_layout_can_be_computed_from_the_wheel_by_the_published_rule() -> None:
    lines = [
        "pegwright layout 1",
        "plates 3 steps 8 quarters 1/4",
        'row "on" period 1 phases 0',
        'row "half" period 1 phases 1/2',
        'row "triplet" period 2 phases 2/3 4/3',
        'row "late row" period 1 phases 1/4',
        *(f'channel "bar {name}" rows "on" "half" "triplet"' for name in ("C4", "C#4", "D4", "Eb4", "E4")),
        'channel "reed C5" rows "on" "half"',
        'channel "pipe" rows "on"',
        'channel "bell" rows "on" "half" "late row"',
    ]
    # 125.66 mm of plate less 5.3 mm, so that only the half-way hole 117.8 mm along is nearer the edge than 4.25 mm
    of_channel: dict[int, list[tuple[int, int, int]]] = {
        number: [(plate, 2, 8) for plate in (1, 2, 3)] for number in (1, 2, 3, 4, 5, 6, 8)
    }
    of_channel[8].append((1, 2, 2))
    lines += [
        f"lost {number} {plate} {row} {hole}"
        for number, holes in of_channel.items()
        for plate, row, hole in sorted(holes)
    ]
    lines += [
        'pin "peg" offset 0.000000 bridge 0.000000',
        'pin "late" offset 1.200000 bridge 0.000000',
        'pin "staple" offset 0.000000 bridge 10.000000',
    ]
    text = "".join(f"{line}\n" for line in lines)
    assert layout_sha256(WHEEL) == hashlib.sha256(text.encode("ascii")).hexdigest()


def test_a_new_map_has_the_hash_of_the_layout_and_what_is_listed_of_it() -> None:
    layout = json.loads(MAP)["layout"]
    assert layout["sha256"] == layout_sha256(WHEEL)
    assert layout["step_quarters"] == "1/4"
    assert layout["rows"][2] == {"name": "triplet", "phases": "2/3 4/3", "period_steps": 2}
    assert layout["channels"][6] == {"name": "pipe", "rows": ["on"]}
    assert layout["pin_types"][1] == {"name": "late", "offset_mm": 1.2, "bridge_mm": 0.0}


@pytest.mark.parametrize(("name", "pin_count"), [("minuet-3.json", 32), ("low-water-b-3.json", 5)])
def test_maps_written_before_there_was_a_layout_are_compared_hole_by_hole(name: str, pin_count: int) -> None:
    """Both were written by the version before, for the wheel file beside them."""
    data, text = text_of_maps(name), text_of_maps("pavilion-3.toml").decode()
    assert "layout" not in json.loads(data)
    assert json.loads(data)["wheel"]["sha256"] == hashlib.sha256(text.encode()).hexdigest()
    same = read_map_file(data, name, parsed(text))
    assert (same.pins.pin_count, same.findings) == (pin_count, ())
    bought = read_map_file(data, name, parsed(text.replace("stock = 640", "stock = 650")))
    (finding,) = bought.findings
    assert finding.message == "the wheel file was changed after this map was written; every pin still has its hole"
    assert "offsets of pin types" in finding.hint
    with pytest.raises(
        InputError, match="channel 17 is 'bass D3' in the map and 'bass low D' on the wheel; this concern"
    ):
        read_map_file(data, name, parsed(text.replace("bass D3", "bass low D")))
    with pytest.raises(InputError, match="the number of plates is 6 in the map and 8 on the wheel"):
        read_map_file(data, name, parsed(text.replace("plates = 6", "plates = 8")))
