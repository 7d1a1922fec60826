"""The load as text that a person can check line by line, and as data."""

from __future__ import annotations

import json
from dataclasses import replace
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pegwright.load import SetLoad, loads_of
from pegwright.wheel import StrikeLimit, Wheel
from pegwright.write.report.json import report_json
from pegwright.write.report.load import load_json, load_text
from placed import RESOLUTION, TITLES, Note, Placed, pin_maps, placed, small_wheel, song_of
from samples import channel, wheel
from schemas import closed

LONGEST_LINE = 100
WHEEL = small_wheel(strike_limits=(StrikeLimit("bars", ("low bar", "high bar"), 2, 250.0),))


def crowded() -> Placed:
    """Seven pins: a chord of three at the song's beginning, two bars a step apart round the turn's end, two alone."""
    return placed(
        [
            Note(0, 60, (0, 1, 0, 0, 0)),
            Note(0, 72, (1, 1, 0, 0, 0)),
            Note(0, 76, (2, 1, 0, 0, 0), part=1),
            Note(30, 76, (2, 1, 0, 5, 0), part=1),
            Note(51, 60, (0, 2, 1, 0, 0)),
            Note(90, 60, (0, 2, 0, 7, 0)),
            Note(96, 72, (1, 0, 0, 0, 0)),
        ],
        WHEEL,
    )


def sets_of(made: Placed, window_ms: float, letter: str = "", turns: tuple[int, ...] = (0,)) -> list[SetLoad]:
    return [SetLoad(letter, turns, made.pins, loads_of(made.pins, made.wheel, RESOLUTION, window_ms, made.score))]


# 250 ms are two steps: strikes exactly two steps apart are not in one window.
GOLDEN = """\
Load: how many pins trip within a time of one another, all round the turn

              Strikes  Window  Mean  Most  Limit  Headroom
All channels        7  200 ms  0.47     3
bars                5  250 ms  0.42     2      2         0

        All channels, █ = 3   bars, █ = 2
        1   5                 1   5
plate 1 ▃·······              ▄·······
plate 2 █····▃··              █·······
plate 3 ▃······▆              ▄······█

Worst places, all channels
  Strikes  Plate  Step  Bar  Beat  Channels
        3      2     1    1     1  low bar, high bar, block
        2      3     8    1  4.75  low bar, high bar

Worst places, bars
  Strikes  Plate  Step  Bar  Beat  Channels
        2      2     1    1     1  low bar, high bar
        2      3     8    1  4.75  low bar, high bar
"""


def test_the_text_line_by_line() -> None:
    made = crowded()
    assert load_text(made.wheel, sets_of(made, 200.0)) == GOLDEN


def test_sets_of_a_longer_song_are_told_one_by_one_with_their_turns() -> None:
    made = crowded()
    sets = [*sets_of(made, 200.0, "A", (0, 1, 3)), *sets_of(made, 200.0, "B", (2,))]
    lines = load_text(made.wheel, sets).splitlines()
    assert [line for line in lines if line.startswith("Set")] == ["Set A, turns 1, 2 and 4", "Set B, turn 3"]
    assert sum(line.startswith("Worst places") for line in lines) == 4


def test_equal_places_beyond_those_listed_are_counted() -> None:
    on = wheel()
    chords = [Note(24 * beat, pitch, (pitch - 60, 0, 0, 4 * beat, 0)) for beat in range(8) for pitch in (60, 61)]
    made = placed(chords, on)
    told = load_text(on, sets_of(made, 125.0))
    assert "  and 3 more places with 2\n" in told


@pytest.mark.parametrize("window_ms", [0.001, 62.5])
def test_pins_that_are_all_alone_are_said_to_be(window_ms: float) -> None:
    made = placed([Note(0, 60, (0, 0, 0, 0, 0)), Note(48, 60, (0, 1, 0, 0, 0))], WHEEL)
    assert f"All channels: no two strikes within {window_ms:g} ms\n" in load_text(made.wheel, sets_of(made, window_ms))


def test_no_pins_no_bars() -> None:
    made = placed([], WHEEL)
    assert "plate" not in load_text(made.wheel, sets_of(made, 125.0))


@pytest.mark.parametrize(("plates", "steps"), [(1, 8), (1, 192), (1, 1000), (12, 16), (3, 90), (200, 3)])
def test_bars_fit_the_line_whatever_the_wheel(plates: int, steps: int) -> None:
    on = wheel([channel(f"bar {pitch}", [pitch]) for pitch in (60, 61)], plate_count=plates, steps_per_plate=steps)
    made = placed([Note(0, 60, (0, plates - 1, 0, steps - 1, 0)), Note(0, 61, (1, plates - 1, 0, steps - 1, 0))], on)
    lines = load_text(on, sets_of(made, 100.0)).splitlines()
    assert max(map(len, lines)) <= LONGEST_LINE
    bars = [line for line in lines if line.startswith("plate ")]
    assert len(bars) == plates
    assert bars[-1].endswith("█")
    assert sum(line.count("█") for line in bars) == 1


def data_of(made: Placed, window_ms: float) -> Any:  # noqa: ANN401  # JSON
    told = load_json(made.wheel, sets_of(made, window_ms))
    document = json.loads(report_json(song_of(made.score, made.wheel, made.placement, pins=made.pins), load=told))
    closed("fit-report-3.json").validate(document)
    return document["load"]


def test_data_counts_from_1_and_holds_every_pin() -> None:
    (of_set,) = data_of(crowded(), 200.0)
    assert (of_set["set"], of_set["turns"]) == (None, [1])
    everything, bars = of_set["loads"]
    assert (everything["name"], everything["limit"], everything["headroom"]) == ("all channels", None, None)
    assert {key: bars[key] for key in ("name", "window_ms", "limit", "headroom", "strikes", "most", "mean")} == {
        "name": "bars", "window_ms": 250.0, "limit": 2, "headroom": 0, "strikes": 5, "most": 2, "mean": 0.417,
    }  # fmt: skip
    assert bars["channels"] == ["low bar", "high bar"]
    assert bars["worst"][1] == {
        "strikes": 2, "plate": 3, "step": "8", "trip_ms": 2875.0, "bar": "1", "beat": "4.75",
        "channels": ["low bar", "high bar"],
    }  # fmt: skip
    assert [pin["strikes"] for pin in everything["pins"]] == [1, 3, 3, 3, 1, 1, 2]
    assert everything["pins"][5] == {
        "plate": 3, "step": "1.5", "trip_ms": 2062.5, "channel_name": "low bar", "strikes": 1,
    }  # fmt: skip


@given(pin_maps(WHEEL), st.sampled_from([0.001, 125.0, 3000.0]))
@settings(max_examples=25)
def test_data_keep_to_the_schema(pins: Any, window_ms: float) -> None:  # noqa: ANN401  # a pin map
    made = replace(placed([], WHEEL), pins=replace(pins, note=pins.note * 0 - 1))
    (of_set,) = data_of(made, window_ms)
    everything = of_set["loads"][0]
    assert everything["strikes"] == len(everything["pins"]) == pins.pin_count
    assert everything["most"] == max((pin["strikes"] for pin in everything["pins"]), default=0)


@pytest.mark.parametrize("name", [title for title in TITLES if title])
def test_hostile_names_do_no_harm(name: str) -> None:
    made = crowded()
    on: Wheel = replace(
        made.wheel,
        channels=(replace(made.wheel.channels[0], name=name), *made.wheel.channels[1:]),
        strike_limits=(StrikeLimit(name, (name,), 1, 60.0),),
    )
    told = load_text(on, sets_of(replace(made, wheel=on), 200.0))
    for mark in "\x1b\0\r\u202e\u200d":
        assert mark not in told
    assert max(map(len, told.encode("utf-8", "replace").decode().splitlines())) <= LONGEST_LINE
