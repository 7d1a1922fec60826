"""Lengths that are in inches, or not known at all, drums without seams, and how fast a wheel can be turned."""

from __future__ import annotations

import re
from dataclasses import replace
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from commands import Command, runner
from pegwright.check.verify import verify
from pegwright.clearance import clearances, rows_at_same_places
from pegwright.config import parse_wheel
from pegwright.config.seam_file import parse_seams
from pegwright.errors import ConfigError, UsageError
from pegwright.facts import count_holes, require_all_lengths
from pegwright.song_pipeline.files import song_files
from pegwright.song_pipeline.fitting import fit_score
from pegwright.units import LengthUnit
from pegwright.wheel import Wheel
from pegwright.write.report.text import report_text
from pegwright.write.wheel.text import wheel_text
from places import ROOT
from samples import score


@pytest.fixture
def pegwright(capsys: pytest.CaptureFixture[str]) -> Command:
    return runner(capsys)


SONG = ROOT / "songs" / "shrimpers-jig.mid"
STARTER = (ROOT / "src" / "pegwright" / "starter" / "wheel.toml").read_text(encoding="utf-8")
LENGTHS = re.findall(r"(?m)^(\w+_mm) = .*", STARTER[STARTER.index("[geometry]") : STARTER.index("[[row]]")])
NEEDED = [name for name in LENGTHS if name != "thickness_mm"]


def without(*names: str, text: str = STARTER) -> str:
    for name in names:
        text = re.sub(rf"(?m)^{name} = .*\n", "", text)
    return text


def wheel(text: str) -> Wheel:
    return parse_wheel(text.encode(), "wheel.toml")


def in_inches(text: str) -> str:
    return re.sub(r"(\w+)_mm = ([0-9.]+)", lambda m: f"{m[1]}_in = {float(m[2]) / 25.4!r}", text)


def test_inches_are_the_same_wheel_and_are_printed() -> None:
    """The international inch is 25.4 mm exactly (the yard and pound agreement of 1959; from memory)."""
    ours, theirs = wheel(STARTER), wheel(in_inches(STARTER))
    assert theirs.unit is LengthUnit.IN
    assert replace(theirs, unit=ours.unit, sha256=ours.sha256) == ours
    text = wheel_text(theirs, 120)
    assert "39.58 in round" in text
    assert not re.search(r"\bmm\b", text)
    assert "0.101 in from the trailing edge, needs 0.167 in" in " ".join(text.split())


@pytest.mark.parametrize(
    ("written", "mm"), [('"-3/16"', -4.7625), ('"-1 1/2"', -38.1), ('"1-1/2"', 38.1), ('"1 1/2"', 38.1)]
)
def test_a_fraction_of_an_inch_may_be_below_zero(written: str, mm: float) -> None:
    made = wheel(
        STARTER.replace("lateral_mm = 4 ", f"lateral_in = {written} ").replace(
            "channel_pitch_mm = 12", "channel_pitch_mm = 90"
        )
    )
    assert made.rows[2].lateral_mm == pytest.approx(mm, abs=1e-9)


def test_a_length_that_a_drum_without_seams_has_not_is_named_as_it_is_written() -> None:
    seamless = STARTER.replace("plates = 4 ", "seam = false\nplates = 4 ").replace(
        "min_wall_mm = 3 ", 'min_wall_in = "1/8" '
    )
    with pytest.raises(ConfigError) as refused:
        wheel(seamless)
    line = next(number for number, each in enumerate(seamless.split("\n"), 1) if each.startswith("min_wall_in"))
    assert f"geometry.min_wall_in (line {line}): is for plates with cut edges, and this drum has none" in str(
        refused.value
    )


def test_inches_may_be_fractions_and_one_key_among_others() -> None:
    made = wheel(STARTER.replace("pin_diameter_mm = 3 ", 'pin_diameter_in = "3/32"'))
    assert made.geometry.pin_diameter_mm == 2.38125
    assert made.unit is LengthUnit.MM
    with pytest.raises(ConfigError, match=r"radius_in .*is given together with radius_mm \(keep one"):
        wheel(STARTER.replace("radius_mm = 160", "radius_in = 6.3\nradius_mm = 160"))


def test_errors_on_a_wheel_in_inches_are_in_inches() -> None:
    with pytest.raises(ConfigError, match=r"geometry.trail_edge_in .*0.19\d+ in is below lead_edge_in, 0.196\d* in"):
        wheel(in_inches(STARTER.replace("trail_edge_mm = 5.3", "trail_edge_mm = 4.9")))


def test_a_wheel_without_lengths_is_fitted_and_says_so_in_its_first_lines() -> None:
    made = wheel(without(*LENGTHS))
    fitted = fit_score(score([(0, 72), (21, 72), (12, 74)]), made)
    assert fitted.placed_count == 3
    head = " ".join(report_text(fitted).partition("Sounding")[0].split())
    assert (
        "the distance of pins, which holes the seams take and whether holes run into each other were not checked"
        in head
    )
    assert "does not give radius_mm, hole_diameter_mm" in head
    assert count_holes(made).lost_count == 0
    text = wheel_text(made, 120)
    assert "its length is not known" in text
    assert "Unchecked" in text


def test_pins_need_the_lengths_that_are_lacking() -> None:
    fitted = fit_score(score([(0, 72)]), wheel(without("radius_mm", "min_wall_mm")))
    with pytest.raises(UsageError, match=r"does not give radius_mm and min_wall_mm \(measure and add them"):
        song_files(fitted)
    require_all_lengths(wheel(without("thickness_mm")))


@given(st.sets(st.sampled_from(LENGTHS)), st.booleans(), st.lists(st.tuples(st.integers(0, 380), st.integers(70, 85))))
def test_whatever_is_not_known_the_verifier_agrees(names: set[str], seam: bool, notes: list[tuple[int, int]]) -> None:
    text = without(*names) if seam else drum(without(*names))
    made, song = wheel(text), score(sorted(set(notes)))
    for turn in fit_score(song, made).turns:
        assert verify(turn.score, made, turn.placement) == ()
    assert set(made.geometry.unknown) == {name for name in names if seam or name not in OF_SEAMS}


OF_SEAMS = ("min_wall_mm", "lead_edge_mm", "trail_edge_mm")


def drum(text: str = STARTER) -> str:
    return without(*OF_SEAMS, text=text).replace("plates = 4 ", "plates = 4\nseam = false ")


def test_a_drum_without_seams_loses_no_hole() -> None:
    made = wheel(drum())
    assert count_holes(made).lost_count == 0 < count_holes(wheel(STARTER)).lost_count
    assert "no seams" in wheel_text(made, 120)
    with pytest.raises(ConfigError, match="is for plates with cut edges, and this drum has none"):
        wheel(STARTER.replace("plates = 4 ", "plates = 4\nseam = false "))
    with pytest.raises(UsageError, match="has no seams"):
        parse_seams(b"", "seams.toml", made)
    files = song_files(fit_score(score([(0, 72), (90, 74)]), wheel(drum().replace("plates = 4", "plates = 1"))))
    assert {"plate-1.csv", "pin-map.json", "print-a4.pdf"} <= set(files)


def test_a_wheel_of_one_plate_has_one_seam() -> None:
    made = wheel(STARTER.replace("plates = 4 ", "plates = 1 ").replace("radius_mm = 160", "radius_mm = 40"))
    assert count_holes(made).lost_count == 9
    text = wheel_text(made, 120)
    assert "1 plate of 16 steps" in text
    assert "from plate to plate" not in text


def test_a_length_along_the_rim_needs_the_radius() -> None:
    text = without("radius_mm").replace("stock = 200", "stock = 200\noffset_mm = 1")
    with pytest.raises(
        ConfigError, match=r"pin_type\[1\].offset_mm .*a time only if the radius is known \(add radius_mm"
    ):
        wheel(text)


def test_two_rows_with_the_same_places_are_remarked() -> None:
    made = wheel(STARTER.replace('name = "half"\nphases = ["1/2"]', 'name = "half"\nphases = [0]\nlateral_mm = -4'))
    assert rows_at_same_places(made) == (("on", "half"),)
    assert "rows on and half have the same places: one adds nothing to the other" in wheel_text(made, 120)
    assert rows_at_same_places(wheel(STARTER)) == ()


def test_a_channel_that_no_note_sounds_is_shown_with_the_name_that_may_be_meant() -> None:
    short = (
        '[[channels]]\nname = "rod {pitch}"\npitches = "C7..E7"\n\n[[channel]]\nname = "rod C77"\nrestrike_ms = 300\n'
    )
    made = wheel(f"{STARTER}\n{short}")
    words = " ".join(wheel_text(made, 120).split())
    assert "Silent channel 'rod C77' has neither pitches nor drum keys: no note sounds it; is 'rod C7' meant?" in words
    assert "Silent" not in wheel_text(wheel(f"{STARTER}\n{short.replace('C77', 'C7')}"), 120)


def test_the_lowest_clearance_is_shown() -> None:
    """12 mm apart with 4 mm aside: the triplet's hole is at hypot(pi * 320 / 64 / 6, 8) from the next half-way hole."""
    lowest = clearances(wheel(STARTER))
    assert lowest is not None
    assert lowest.between_channels_mm == pytest.approx((2.618**2 + 8**2) ** 0.5 - 3, abs=1e-3)
    assert lowest.in_row_mm == pytest.approx(2 / 3 * 3.14159265 * 320 / 64 - 3, abs=1e-3)
    assert "Clearance    7.47 mm between pins of one row, 5.42 mm between pins of diff" in wheel_text(
        wheel(STARTER), 120
    )


TURNS = STARTER.replace("plates = 4 ", "slowest_turn_s = 20\nfastest_turn_s = 10\nplates = 4 ")


@pytest.mark.parametrize(
    ("tempo_us", "told"),
    [
        (500_000, "a turn takes 8 s; the wheel can turn no faster than once in 10 s (--tempo 48 to 96 is within"),
        (2_000_000, "a turn takes 32 s; the wheel can turn no slower than once in 20 s (--tempo 48 to 96 is within"),
        (1_000_000, ""),
    ],
)
def test_songs_beyond_the_crank_are_reported_with_tempi_within(tempo_us: int, told: str) -> None:
    text = " ".join(report_text(fit_score(score([(0, 72)], us_per_quarter=tempo_us), wheel(TURNS))).split())
    assert told in text
    assert ("the wheel can turn no" in text) == bool(told)


def test_speed_is_given_in_revolutions_a_minute() -> None:
    text = wheel_text(wheel(TURNS), 120)
    assert "8.00 s a turn, 7.5 revolutions a minute" in text
    assert "60.00 s a turn, 1 revolution a minute" in wheel_text(wheel(TURNS), 16)
    assert "no slower than 20 s a turn, 3 revolutions a minute: tempo 48" in text
    assert "no faster than 10 s a turn, 6 revolutions a minute: tempo 96" in text
    with pytest.raises(ConfigError, match="5 s is below fastest_turn_s, 10 s"):
        wheel(TURNS.replace("slowest_turn_s = 20", "slowest_turn_s = 5"))


def test_no_tempo_beyond_the_crank_is_offered_for_a_note() -> None:
    song = score([(0, 72), (3, 72)])  # an eighth of a quarter apart: 62.5 ms, and 120 ms are needed
    hints = [
        note.hint
        for text in (STARTER, STARTER.replace("plates = 4 ", "plates = 4\nslowest_turn_s = 8 "))
        for note in fit_score(song, wheel(text)).report.left_out
    ]
    assert "quarter notes a minute or slower" in hints[0]
    assert all("quarter notes a minute or slower" not in hint for hint in hints[1:])


def test_commands_on_a_wheel_that_is_not_measured(pegwright: Command, tmp_path: Path) -> None:
    path = tmp_path / "wheel.toml"
    path.write_text(without("radius_mm"), encoding="utf-8")
    assert "were not checked" in " ".join(pegwright("fit", SONG, "-w", path).out.split())
    assert pegwright("hear", SONG, "-w", path, "-o", tmp_path / "a.wav").code == 0
    assert pegwright("pin", SONG, "-w", path, "--page", tmp_path / "p.html").code == 0
    refused = pegwright("pin", SONG, "-w", path, "-o", tmp_path / "pins")
    assert "does not give radius_mm" in refused.refused(2)
    assert not (tmp_path / "pins").exists()


def test_new_song_sets_and_wheels_get_their_ending(pegwright: Command, tmp_path: Path) -> None:
    (tmp_path / "air.mid").write_bytes(SONG.read_bytes())
    assert pegwright("wheel", "--new", tmp_path / "wheel").code == 0
    made = pegwright("set", "--new", tmp_path / "gala")
    assert made.code == 0
    assert "with the 1 song of its folder" in " ".join(made.out.split())
    assert pegwright("set", tmp_path / "gala.toml").code == 0
    pegwright("set", "--new", tmp_path / "gala").refused(2)
    pegwright("set").refused(2)
