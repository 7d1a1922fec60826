"""Remedies for a wheel, pasted into its file as the report says: it loads, and as many notes sound as promised."""

from __future__ import annotations

import json
import random
import tomllib
from dataclasses import replace
from fractions import Fraction
from pathlib import Path

import pytest

import samples
import thorough
from commands import WHEEL
from pegwright.ask.options import FitOptions
from pegwright.check.verify import verify
from pegwright.config import load_wheel, parse_wheel
from pegwright.config.wheel_file import could_be_loaded
from pegwright.fit.placing import place_song
from pegwright.remedy.additions import Addition, AdditionKind, row_additions, with_additions
from pegwright.remedy.new_rows import laterals_mm
from pegwright.remedy.song_remedies import find_remedies
from pegwright.remedy.wheel_changes import WheelRemedy, fewest_changes
from pegwright.score import Part, Score
from pegwright.wheel import Channel, Kind, PinType, Row, StrikeLimit, Wheel
from pegwright.write.report.remedies import edit_words, remedies_json
from pegwright.write.wheel.toml import WheelFileEdit, wheel_file_edits
from wheel_text import wheel_text

SIXTEENTHS = (samples.ON,)
ROWS = (
    SIXTEENTHS,
    SIXTEENTHS,
    (samples.ON, samples.HALF),
    (samples.ON, samples.HALF, replace(samples.TRIPLET, lateral_mm=4.0)),
    (Row("quarters", (Fraction(1, 4), Fraction(3, 4)), 1, -2.0), samples.ON),
    (Row("odd", (Fraction(0), Fraction(2, 3)), 1, 1.5),),
)
PIN_TYPES = ((PinType("peg", 900),), (PinType("peg", 900), PinType("early", 50, -1.0), PinType("late", 50, 1.0)))


def seeded(number: int) -> random.Random:
    """Chance that is the same in every run."""
    return random.Random(number)  # noqa: S311  # nothing secret


def random_wheel(chance: random.Random) -> Wheel:
    """A wheel that a file can hold, with few rows and channels."""
    while True:
        rows = chance.choice(ROWS)
        steps, plates = chance.choice([(16, 2), (32, 1), (12, 3)])
        channels = [random_channel(chance, number, rows) for number in range(chance.randint(1, 6))]
        geometry = replace(
            samples.GEOMETRY,
            radius_mm=plates * steps * chance.choice([4.5, 6.0, 9.0, 15.6]) / 6.283185307,
            hole_diameter_mm=chance.choice([1.5, 2.5, 3.5]),
            pin_diameter_mm=chance.choice([1.5, 3.0, 4.0]),
            channel_pitch_mm=chance.choice([6.0, 9.0, 14.0]),
        )
        names = tuple(channel.name for channel in channels[: chance.randint(1, 4)])
        wheel = samples.wheel(
            channels,
            plate_count=plates,
            steps_per_plate=steps,
            rows=rows,
            geometry=geometry,
            pin_types=chance.choice(PIN_TYPES),
            reach_quarters=chance.choice([Fraction(0), Fraction(1, 48), Fraction(1, 16)]),
            strike_limits=chance.choice([(), (StrikeLimit("drive", names, 2, 80.0),)]),
        )
        if could_be_loaded(wheel):
            return wheel


def random_channel(chance: random.Random, number: int, rows: tuple[Row, ...]) -> Channel:
    drum, hold = chance.random() < 0.2, chance.random() < 0.15
    names = [row.name for row in rows if chance.random() < 0.8] or [rows[0].name]
    return samples.channel(
        chance.choice(["bell", "High Agogo, 2", "x" * 55, 'the "big" one', "row 1/2 of 1"]) + f" {number}",
        [] if drum else [60 + 2 * number],
        [35 + number] if drum else [],
        restrike_ms=chance.choice([30.0, 90.0, 200.0]),
        rows=names,
        kind=Kind.HOLD if hold else Kind.STRIKE,
        hold_mm=12.0 if hold else 0.0,
    )


def random_song(chance: random.Random) -> Score:
    """Notes on and off the steps, of pitches that the wheel has and has not, over a turn or a little more."""
    grains = chance.choice([(24,), (24, 12), (24, 8), (24, 16, 5), (24, 12, 6, 3)])
    notes = []
    for _ in range(chance.randint(3, 40)):
        grain = chance.choice(grains)
        onset = chance.randrange(0, 96 * 9 // grain) * grain
        part = chance.random() < 0.2
        notes.append((onset, chance.randint(35, 42) if part else chance.randint(58, 72), 80, int(part)))
    return samples.score(sorted(set(notes)), resolution=96, parts=(Part("Melody"), Part("Drums", percussion=True)))


def pasted(text: str, edits: tuple[WheelFileEdit, ...]) -> str:
    """A wheel file with the lines put where `edit_words` says; written as whole tables in double brackets."""
    for edit in edits:
        if not edit.name:
            assert edit_words(edit) == "At the end of the wheel file"
            text = f"{text.rstrip()}\n\n{edit.lines}"
            continue
        tables = text.split("\n[")
        (number,) = [
            number
            for number, table in enumerate(tables)
            if table.startswith(f"[{edit.table}]") and tomllib.loads(f"[{table}")[edit.table][0]["name"] == edit.name
        ]
        key = edit.lines.partition(" ")[0]
        kept, inside = [], False
        for line in tables[number].splitlines():
            inside = inside or line.startswith(f"{key} =")
            if not inside:
                kept.append(line)
            inside = inside and not line.rstrip().endswith("]")
        tables[number] = "\n".join([*filter(None, kept), edit.lines])
        text = "\n[".join(tables)
    return text


def silent(score: Score, wheel: Wheel) -> int:
    placement = place_song(score, wheel, FitOptions())
    assert verify(score, wheel, placement) == ()
    return int((~placement.sounding).sum())


def the_file_does_what_the_remedy_says(path: Path, score: Score, remedy: WheelRemedy) -> Wheel:
    path.write_text(pasted(wheel_text(remedy.wheel), wheel_file_edits(remedy.wheel, remedy.changed)), encoding="utf-8")
    changed = load_wheel(path)
    assert replace(changed, sha256="") == replace(remedy.changed, sha256="")
    assert silent(score, changed) == remedy.silent < remedy.silent_now
    return changed


def test_every_wheel_remedy_loads_and_does_what_it_says(tmp_path: Path) -> None:
    """Of 300 songs on 30 wheels in the thorough run; about one in four wheels has sixteenth holes only."""
    wheels, songs = thorough.cases(8, 30), thorough.cases(5, 10)
    remedied = rows = limits = 0
    for number in range(wheels):
        wheel = random_wheel(seeded(number))
        for song in range(songs):
            score = random_song(seeded(1000 * number + song))
            placement = place_song(score, wheel, FitOptions())
            remedy = fewest_changes([score], wheel, FitOptions(), [placement], could_be_loaded)
            if remedy is None:
                continue
            the_file_does_what_the_remedy_says(tmp_path / "wheel.toml", score, remedy)
            assert len(remedy.words) <= len(remedy.changes)
            remedied += 1
            rows += any(change.kind is AdditionKind.ROW for change in remedy.changes)
            limits += remedy.changed.strike_limits != wheel.strike_limits
    assert remedied > wheels * songs // 2
    assert rows > remedied // 4
    assert limits > 0


def test_a_wheel_with_sixteenth_holes_only_is_given_rows_that_can_be_made(tmp_path: Path) -> None:
    """Eighths of a step would run into the holes on the steps, and touch one another: two rows beside them."""
    demo = load_wheel(WHEEL)
    wheel = replace(
        demo, rows=demo.rows[:1], channels=tuple(replace(channel, rows=("on",)) for channel in demo.channels)
    )
    score = samples.score([(0, 67), (24 + 9, 69), (48, 71)], resolution=96)
    placement = place_song(score, wheel, FitOptions(reach_quarters=Fraction(0)))
    exact = replace(wheel, reach_quarters=Fraction(0))
    remedy = fewest_changes([score], exact, FitOptions(), [placement], could_be_loaded)
    assert remedy
    changed = the_file_does_what_the_remedy_says(tmp_path / "wheel.toml", score, remedy)
    (row,) = changed.rows[1:]
    assert Fraction(3, 8) in row.phases
    assert [channel.name for channel in changed.channels if row.name in channel.rows] == ["chime A4"]
    assert remedy.words == (f"holes at {' and '.join(map(str, row.phases))} of every step on chime A4",)
    assert not could_be_loaded(with_additions(exact, [Addition(AdditionKind.ROW, 0, (*row.phases, Fraction(5, 8)))]))
    for addition in row_additions(exact):
        assert could_be_loaded(with_additions(exact, [addition], could_be_loaded)), addition.code


def test_a_row_lies_beside_the_holes_it_would_run_into() -> None:
    """An eighth of a step of 16 mm is 2 mm: beside holes of 2.5 mm it lies 1.5 mm (3, 4, 5 halved), either way."""
    geometry = replace(samples.GEOMETRY, radius_mm=16 * 32 * 6 / 6.283185307179586, hole_diameter_mm=2.5)
    wheel = samples.wheel(rows=(samples.ON,), geometry=geometry)
    assert laterals_mm(wheel, (Fraction(1, 8),), 1) == (1.5, -1.5)
    assert laterals_mm(wheel, (Fraction(1, 2),), 1) == (0.0,)


def test_further_channels_of_one_sound_are_named_by_what_is_on_the_wheel() -> None:
    """F#, which the wheel lacks, three times within its re-strike: none of its channels is called after the first."""
    wheel = samples.wheel([samples.channel("bar", [60])], rows=(samples.ON,), reach_quarters=Fraction(0))
    wheel = replace(wheel, channels=tuple(replace(channel, rows=("on",)) for channel in wheel.channels))
    score = samples.score([(0, 60), (0, 66), (6, 66), (12, 66)], us_per_quarter=125_000)
    remedy = fewest_changes([score], wheel, FitOptions(), [place_song(score, wheel, FitOptions())])
    assert remedy
    assert remedy.silent == 0
    assert remedy.words == ("3 channels for F#4 (66)",)
    assert [channel.name for channel in remedy.changed.channels] == ["bar", "F#4", "F#4, 2", "F#4, 3"]


@pytest.mark.parametrize("number", range(12))
def test_a_wheel_written_out_is_read_again(number: int) -> None:
    wheel = random_wheel(seeded(number))
    assert replace(parse_wheel(wheel_text(wheel).encode(), "again"), sha256=wheel.sha256) == wheel


@pytest.mark.parametrize("moved", [True, False])
def test_lines_for_a_channel_written_in_short_do_what_they_say(moved: bool) -> None:
    """Retuned, given another row, or both: below one [[channel]] table of its name."""
    rows = (samples.ON, samples.HALF)
    bars = [samples.channel(f"bar {name}", [pitch], rows=["on"]) for name, pitch in (("C4", 60), ("D4", 62))]
    before = samples.wheel(bars, rows=rows)
    changed = replace(bars[0], pitches=(53,), rows=("on", "half") if moved else ("on",))
    after = replace(before, channels=(changed, bars[1]))
    head, *tables = wheel_text(before).split("\n[[")
    others = "\n[[".join([head, *(table for table in tables if not table.startswith("channel]]"))])
    short = '[[channels]]\nname = "bar {pitch}"\npitches = ["C4", "D4"]\nrows = ["on"]\nrestrike_ms = '
    text = f"{others}\n\n{short}{bars[0].restrike_ms}\n"
    assert replace(parse_wheel(text.encode(), "short"), sha256=before.sha256) == before
    edits = wheel_file_edits(before, after)
    assert len(edits) == 1 + moved
    for edit in edits:
        assert edit_words(edit).endswith(
            "; if [[channels]] gives that channel, at the end of the file below new lines `[[channel]]` and"
            ' `name = "bar C4"`'
        )
    text += '\n[[channel]]\nname = "bar C4"\n' + "".join(edit.lines for edit in edits)
    assert replace(parse_wheel(text.encode(), "pasted"), sha256=after.sha256) == after


def test_a_channel_that_cannot_be_written_in_short_has_no_words_on_that() -> None:
    before = samples.wheel([samples.channel("bar", [60, 72], rows=["on"])], rows=(samples.ON,))
    after = replace(before, channels=(replace(before.channels[0], pitches=(60, 74)),))
    (edit,) = wheel_file_edits(before, after)
    assert edit_words(edit).endswith("in place of `pitches` if it has that")


def test_the_lines_are_in_the_report_as_data() -> None:
    wheel = samples.wheel([samples.channel("bar", [60], rows=["on"])], rows=(samples.ON,))
    limited = replace(wheel, strike_limits=(StrikeLimit("drive", ("bar",), 2, 100.0),))
    score = samples.score([(0, 60), (24, 61)])
    placements = [place_song(score, limited, FitOptions())]
    remedy = fewest_changes([score], limited, FitOptions(), placements)
    data = remedies_json(score, find_remedies([score], limited, FitOptions(), placements), remedy)
    assert isinstance(data["wheel"], dict)
    file = json.loads(json.dumps(data["wheel"]["file"]))
    assert [(edit["table"], edit["name"]) for edit in file] == [("channel", None), ("limit", "drive")]
    assert tomllib.loads(file[0]["toml"])["channel"][0]["name"] == "C#4"
    assert file[1]["toml"] == 'channels = ["bar", "C#4"]\n'
    assert file[1]["where"] == (
        'In the [[limit]] table of the wheel file named "drive", in place of `channels` if it has that'
    )
