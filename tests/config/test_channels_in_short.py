"""Channels in short are exactly those written out, in the order of the file."""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from pegwright.config import parse_wheel
from pegwright.errors import ConfigError
from pegwright.song_pipeline.fitting import fit_score
from pegwright.wheel import Wheel
from samples import score

HEAD = """
name = "Short"
[wheel]
plates = 2
steps_per_plate = 16
step = "1/16"
[geometry]
radius_mm = 120
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
[[row]]
name = "half"
phases = ["1/2"]
[channel_defaults]
restrike_ms = 100
[[pin_type]]
name = "peg"
stock = 20
"""
NAMES = ("C", "C#", "D", "Eb", "E", "F", "F#", "G", "Ab", "A", "Bb", "B")


def parsed(text: str) -> Wheel:
    """The wheel without the hash of its file."""
    return replace(parse_wheel((HEAD + text).encode(), "w.toml"), sha256="0" * 64)


def faults(text: str) -> str:
    with pytest.raises(ConfigError) as caught:
        parsed(text)
    return str(caught.value)


def named(pitch: int) -> str:
    return f"{NAMES[pitch % 12]}{pitch // 12 - 1}"


@st.composite
def blocks(draw: st.DrawFn) -> tuple[str, str]:
    """Some channels, in short and written out."""
    short, long, low = "", "", draw(st.integers(12, 30))
    for number in range(draw(st.integers(1, 4))):
        high = low + draw(st.integers(0, 9))
        own = draw(st.sampled_from(["", "restrike_ms = 250\n", 'rows = ["on"]\n', "lead_ms = 12.5\n"]))
        if draw(st.booleans()):
            pitches = draw(
                st.sampled_from(
                    [
                        f'"{named(low)}..{named(high)}"',
                        f'"{low}..{high}"',
                        str([named(pitch) for pitch in range(low, high + 1)]).replace("'", '"'),
                        f'["{named(low)}..{named(high)}"]',
                    ]
                )
            )
            short += f'[[channels]]\nname = "b{number} {{pitch}}"\npitches = {pitches}\n{own}'
            for pitch in range(low, high + 1):
                long += f'[[channel]]\nname = "b{number} {named(pitch)}"\npitches = [{pitch}]\n{own}'
        else:
            single = f'[[channel]]\nname = "one {number}"\npitches = [{low}, {high + 1}]\n{own}'
            short, long = short + single, long + single
        low = high + 1
    return short, long


@given(blocks())
def test_in_short_is_the_same_wheel_with_the_same_pins(texts: tuple[str, str]) -> None:
    short, long = (parsed(text) for text in texts)
    assert short == long
    song = score([(6 * number, pitch) for number, pitch in enumerate(range(12, 50))])
    ours, theirs = (fit_score(song, wheel).turns[0].pins for wheel in (short, long))
    for column in ("channel", "plate", "row", "index", "pin_type", "note"):
        assert getattr(ours, column).tolist() == getattr(theirs, column).tolist()


def test_names_stand_for_the_pitch_as_listed_its_number_and_its_place() -> None:
    made = parsed('[[channels]]\nname = "{number} {pitch} {midi}"\npitches = ["A#4", 71, "C5..C#5"]')
    assert [channel.name for channel in made.channels] == ["1 A#4 70", "2 B4 71", "3 C5 72", "4 C#5 73"]


def test_a_single_channel_changes_one_that_is_in_short_in_its_place() -> None:
    made = parsed('[[channel]]\nname = "b D4"\nrestrike_ms = 300\n[[channels]]\nname = "b {pitch}"\npitches = "C4..E4"')
    assert [channel.name for channel in made.channels] == ["b C4", "b C#4", "b D4", "b Eb4", "b E4"]
    assert [channel.restrike_ms for channel in made.channels] == [100, 100, 300, 100, 100]
    assert made.channels[2].pitches == (62,)


@pytest.mark.parametrize(
    ("text", "told"),
    [
        (
            'name = "bar"\npitches = "C4..E4"',
            "would be the name of all 5 channels (put the pitch in it",
        ),
        ('name = "b {note}"\npitches = "C4..E4"', "has {note}, which stands for nothing"),
        ('name = "b {pitch}"\npitches = "E4..C4"', '"E4..C4" does not run upwards (give a range of pitches'),
        ('name = "b {pitch}"\npitches = "C4-E4"', '"C4-E4" is not a range of pitches'),
        ('name = "b {pitch}"\npitches = ["C4", "C4..D4"]', "C4, MIDI pitch 60, is in pitches[1] already"),
        ('name = "b {pitch}"', "channels[1].pitches (line 28): is missing"),
        ('name = "b {pitch}"\npitches = "0..127"\nrestrike_ms = -1', "1 fault"),
        ('name = "b {pitch}"\npitches = "C4..D4"\ndrum_keys = [35]', "give drums a [[channel]] each"),
    ],
)
def test_faults_are_reported_once(text: str, told: str) -> None:
    message = faults(f"[[channels]]\n{text}")
    if told == "1 fault":
        assert "\n" not in message
    else:
        assert told in message
