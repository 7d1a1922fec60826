"""Wheel files that are right: what they become."""

from __future__ import annotations

import hashlib
import re
import tomllib
from fractions import Fraction
from pathlib import Path

import pytest

from pegwright.config import load_wheel, parse_wheel
from pegwright.errors import ConfigError, UsageError
from pegwright.facts import count_holes
from pegwright.wheel import Kind, LostHole, PinType, Row, StrikeLimit
from places import ROOT
from samples import HALF, ON, wheel
from toml_text import toml_text

DEMO = ROOT / "songs" / "merrow-sands.toml"
STARTER = ROOT / "src" / "pegwright" / "starter" / "wheel.toml"
DOCS = ROOT / "docs" / "wheel-file.md"

SMALL = """
name = "Small"
[wheel]
plates = 2
steps_per_plate = 8
step = "1/8"
[geometry]
radius_mm = 100
thickness_mm = 3
hole_diameter_mm = 2
pin_diameter_mm = 2
min_wall_mm = 2
pin_clearance_mm = 0.5
channel_pitch_mm = 10
lead_edge_mm = 5
trail_edge_mm = 5
[[row]]
name = "on"
phases = [0]
[[channel]]
name = "bell"
pitches = [60]
restrike_ms = 100
[[pin_type]]
name = "peg"
stock = 20
"""


def test_the_least_file_gets_the_defaults() -> None:
    made = parse_wheel(SMALL.encode(), "small.toml")
    assert made.plate_sets == 2
    assert made.reach_quarters == Fraction(1, 16)
    assert made.step_quarters == Fraction(1, 2)
    assert made.turn_quarters == 8
    assert made.channels[0].rows == ("on",)
    assert made.channels[0].kind is Kind.STRIKE
    assert made.channels[0].lead_ms == 0
    assert made.pin_types == (PinType("peg", 20, 0.0),)
    assert made.lost == ()
    assert made.strike_limits == ()


def test_the_demo_wheel_becomes_what_its_file_says() -> None:
    made = load_wheel(DEMO)
    assert (made.plate_count, made.steps_per_plate, made.plate_sets) == (6, 32, 2)
    assert made.turn_quarters == 48
    assert made.rows[:2] == (ON, HALF)
    assert made.rows[2] == Row("triplet", (Fraction(2, 3), Fraction(4, 3)), 2, 3.0)
    assert len(made.channels) == 24
    assert made.channels[0].pitches == (67,)
    by_name = {channel.name: channel for channel in made.channels}
    assert by_name["snare"].rows == ("on", "half")
    assert by_name["snare"].drum_keys == (38, 40)
    assert by_name["snare"].restrike_ms == 55
    assert by_name["chime G4"].rows == ("on", "half", "triplet")
    assert by_name["chime G4"].restrike_ms == 110  # from channel_defaults
    assert made.strike_limits[0] == StrikeLimit(
        "drum drive", ("bass drum", "snare", "wood block", "tambourine", "triangle"), 3, 50.0
    )
    assert made.sha256 == hashlib.sha256(DEMO.read_bytes()).hexdigest()


@pytest.mark.parametrize("path", [DEMO, STARTER], ids=["demo", "starter"])
def test_files_of_ours_load_and_survive_rewriting(path: Path) -> None:
    data = path.read_bytes()
    rewritten = toml_text(tomllib.loads(data.decode())).encode()
    first, second = parse_wheel(data, "first"), parse_wheel(rewritten, "second")
    assert first.channels == second.channels
    assert (first.rows, first.geometry, first.lost, first.pin_types) == (
        second.rows,
        second.geometry,
        second.lost,
        second.pin_types,
    )


def test_what_the_starter_has_as_remarks_can_be_switched_on() -> None:
    text = re.sub(r"(?m)^# (\[\[\w+\]\]|\w+ = .*)$", r"\1", STARTER.read_text(encoding="utf-8"))
    made = parse_wheel(text.encode(), "starter")
    assert [pin_type.name for pin_type in made.pin_types] == ["peg", "late peg"]
    assert made.lost == (LostHole("on", 15, 1, "drum"),)
    assert made.strike_limits == (StrikeLimit("drive", ("C bar", "D bar", "E bar"), 2, 50.0),)


def test_every_example_in_the_docs_loads() -> None:
    blocks = re.findall(r"```toml\n(.*?)```", DOCS.read_text(encoding="utf-8"), flags=re.DOTALL)
    assert len(blocks) >= 2
    whole = [block for block in blocks if "[geometry]" in block]
    assert whole
    base = parse_wheel(whole[0].encode(), "docs")
    for block in blocks:
        if block not in whole:
            parse_wheel(f"{whole[0]}\n{block}".encode(), "docs")
    assert base.name


def test_the_docs_tell_every_key() -> None:
    strange = toml_text(
        {
            "zzzz": 1,
            "wheel": {"zzzz": 1},
            "geometry": {"zzzz": 1},
            "channel_defaults": {"zzzz": 1},
            **{key: [{"zzzz": 1}] for key in ("row", "channel", "channels", "pin_type", "lost", "limit")},
        }
    )
    with pytest.raises(ConfigError) as caught:
        parse_wheel(strange.encode(), "strange.toml")
    docs = DOCS.read_text(encoding="utf-8")
    told = [fault for fault in caught.value.faults if fault.message == "is not a known key"]
    assert len(told) == 9
    keys = {key for fault in told for key in fault.hint.removeprefix("known here: ").split(", ")}
    assert len(keys) >= 50
    for key in keys:
        in_mm = key.replace("_in", "_mm") if key.endswith("_in") else key  # said once for all keys in inches
        assert f"`{in_mm}`" in docs, f"docs/wheel-file.md does not tell of {key}"


def test_names_of_pitches_are_scientific_with_middle_c_as_c4() -> None:
    """Against the pitch names of pretty_midi, an independent library."""
    from pretty_midi import note_name_to_number

    assert note_name_to_number("C4") == 60
    names = [f"{letter}{sign}{octave}" for letter in "ABCDEFG" for sign in ("", "#", "b") for octave in range(8)]
    for name in names:
        made = parse_wheel(SMALL.replace("[60]", f'["{name}"]').encode(), "names")
        assert made.channels[0].pitches == (note_name_to_number(name),), name


def test_a_byte_order_mark_and_windows_line_ends_do_no_harm() -> None:
    plain = parse_wheel(SMALL.encode(), "plain")
    marked = parse_wheel(b"\xef\xbb\xbf" + SMALL.replace("\n", "\r\n").encode(), "marked")
    assert marked.channels == plain.channels


def test_losses_count_from_one_in_the_file_and_from_nought_inside() -> None:
    made = parse_wheel(f'{SMALL}\n[[lost]]\nrow = "on"\nhole = 8\nplate = 2\n'.encode(), "lost")
    assert made.lost == (LostHole("on", 7, 1, None),)
    assert count_holes(made).lost_count == 1
    every = parse_wheel(f'{SMALL}\n[[lost]]\nrow = "on"\nhole = 1\n'.encode(), "lost")
    assert count_holes(every).lost_count == 2


def test_whole_numbers_and_quoted_fractions_are_the_same_phases() -> None:
    row = '[[row]]\nname = "more"\nlateral_mm = 4\nperiod_steps = 4\nphases = [{}]\n'
    made = [
        parse_wheel(f"{SMALL}\n{row.format(phases)}".encode(), "phases").rows[1].phases
        for phases in ('"1", "2/2", 3'.replace('"2/2"', '"4/2"'), "1, 2, 3", "1.0, 2.0, 3.0")
    ]
    assert made == [(Fraction(1), Fraction(2), Fraction(3))] * 3


def test_rows_of_a_channel_keep_the_order_of_the_wheel() -> None:
    text = DEMO.read_text(encoding="utf-8").replace('rows = ["on", "half"]', 'rows = ["half", "on"]')
    assert parse_wheel(text.encode(), "demo").channels[-1].rows == ("on", "half")


def test_several_channels_may_share_a_pitch() -> None:
    twin = '[[channel]]\nname = "other bell"\npitches = ["C4"]\nrestrike_ms = 90\n'
    assert [it.pitches for it in parse_wheel(f"{SMALL}\n{twin}".encode(), "twin").channels] == [(60,), (60,)]


@pytest.mark.parametrize("path", [".", "none.toml", "none/none.toml", "a\0b"])
def test_a_path_that_cannot_be_read_is_a_usage_error(path: str, tmp_path: Path) -> None:
    with pytest.raises(UsageError, match="cannot be read") as caught:
        load_wheel(tmp_path / path)
    assert caught.value.exit_code == 2
    assert "\n" not in str(caught.value)


def test_the_sample_wheel_of_the_tests_is_like_the_demo() -> None:
    sample, demo = wheel(), load_wheel(DEMO)
    assert (sample.turn_quarters, sample.step_mm) == (demo.turn_quarters, demo.step_mm)


def test_a_row_can_name_its_channels_so_that_no_other_line_changes() -> None:
    more = '[[channel]]\nname = "drum"\ndrum_keys = [36]\nrestrike_ms = 100\nrows = ["on"]\n'
    third = '[[row]]\nname = "third"\nphases = ["1/3"]\nchannels = [{}]\n'
    plain = parse_wheel(f"{SMALL}{more}".encode(), "plain")
    assert [channel.rows for channel in plain.channels] == [("on",), ("on",)]
    for named, rows in (
        ('"bell"', [("on", "third"), ("on",)]),
        ('"drum"', [("on",), ("on", "third")]),
        ('"drum", "bell"', [("on", "third"), ("on", "third")]),
    ):
        made = parse_wheel(f"{SMALL}{more}{third.format(named)}".encode(), "named")
        assert [channel.rows for channel in made.channels] == rows
        assert made.rows[1] == Row("third", (Fraction(1, 3),))


@pytest.mark.parametrize(
    ("line", "where", "message"),
    [
        ('channels = ["bel"]', "row[1].channels[1]", 'did you mean "bell"'),
        ('channels = ["drum"]', "channel[1].rows", "is missing, and every row names other channels"),
        ("channels = []", "row[1].channels", "is empty"),
    ],
)
def test_a_row_that_names_its_channels_amiss_is_refused(line: str, where: str, message: str) -> None:
    more = '[[channel]]\nname = "drum"\ndrum_keys = [36]\nrestrike_ms = 100\n'
    text = SMALL.replace("phases = [0]", f"phases = [0]\n{line}") + more
    with pytest.raises(ConfigError) as caught:
        parse_wheel(text.encode(), "amiss")
    (fault,) = caught.value.faults
    assert str(fault.where).startswith(where)
    assert message in str(fault)
