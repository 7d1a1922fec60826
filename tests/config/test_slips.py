"""Slips of those who write a wheel file for the first time: one line, with what to write."""

from __future__ import annotations

from pathlib import Path

import pytest

from pegwright.config import load_wheel, parse_wheel
from pegwright.config.song_set import parse_song_set
from pegwright.errors import ConfigError, UsageError
from places import ROOT

STARTER = (ROOT / "src" / "pegwright" / "starter" / "wheel.toml").read_text(encoding="utf-8")
SET = 'title = "Evening"\nwheel = "wheel.toml"\n[[song]]\nscore = "a.mid"\n'

SLIPS = [
    # what is in the file, what is written for it, what is reported
    ("radius_mm = 160 ", "radius_mm = 160,5 ", "line 20: 160,5 has a decimal comma (write radius_mm = 160.5)"),
    ("radius_mm = 160 ", "radius_mm = 160 mm ", "line 20: 160 mm is more than a number (write radius_mm = 160)"),
    ("radius_mm = 160 ", 'radius_mm = "160,5" ', '"160,5" is not a number but a text (write it without quotes: 160.5)'),
    ("radius_mm = 160 ", "radius_mm: 160 ", "line 20: there is no = between key and value (write radius_mm = 160)"),
    ('"Practice wheel"', "\u201cPractice wheel\u201d", '(write it with straight ones: name = "Practice wheel")'),
    ('"C bar"', "C bar", 'line 58: C bar has no quotes (write name = "C bar")'),
    ('"C bar"', '"C bar', 'line 58: the quote before C bar is not closed (write name = "C bar")'),
    ("[72]", '[C5, "E5", Bb4]', 'line 59: C5 has no quotes (write pitches = ["C5", "E5", "Bb4"])'),
    ('"1/16"', "1/16", 'line 14: 1/16 has no quotes (write step = "1/16")'),
    ("= true", "= True", "line 16: True is not a value that TOML knows (write repin_within_song = true)"),
    ("radius_mm = 160 ", "radius_mm = 160; ", "line 20: ; follows the value (write radius_mm = 160)"),
    (
        "radius_mm = 160 ",
        "radius_mm = 160, circumference_mm = 9 ",
        "line 20: two keys stand in one line (write circumference_mm = 9 on a line of its own)",
    ),
    ("[72]", "[72, 060]", "line 59: 060 begins with 0 (write pitches = [72, 60])"),
    ("[72]", "[72, 60", "the list of line 59 is not closed (write pitches = [72, 60])"),
    ("[geometry]", "[wheel]", "a second [wheel], the first is in line 11 (put its keys under the first one)"),
]


def reported(text: str | bytes, name: str = "wheel.toml") -> str:
    with pytest.raises(ConfigError) as caught:
        parse_wheel(text if isinstance(text, bytes) else text.encode(), name)
    message = str(caught.value)
    assert "\n" not in message
    return message


def reported_of_set(text: str | bytes, name: str = "evening.toml") -> str:
    with pytest.raises(ConfigError) as caught:
        parse_song_set(text if isinstance(text, bytes) else text.encode(), name, Path())
    return str(caught.value)


@pytest.mark.parametrize(("right", "wrong", "told"), SLIPS)
def test_a_slip_is_one_line_that_says_what_to_write(right: str, wrong: str, told: str) -> None:
    assert right in STARTER
    assert told in reported(STARTER.replace(right, wrong, 1))


def test_channel_in_single_brackets_twice() -> None:
    told = reported(STARTER.replace("[[channel]]", "[channel]"))
    assert "line 61: a second [channel], the first is in line 57 (head each of them with [[channel]]" in told


@pytest.mark.parametrize("path", [r"C:\Users\me\song.mid", r"songs\new.mid"])
def test_a_windows_path_in_double_quotes(path: str) -> None:
    assert "single quotes" in (told := reported_of_set(SET.replace("a.mid", path))) or f"write score = '{path}'" in told
    assert "\n" not in told


@pytest.mark.parametrize("data", [b"MThd\0\0\0\6", b"<?xml?>\n<score-partwise>", b"PK\3\4", b"X:1\nK:C\n"])
def test_a_song_in_place_of_a_wheel_or_a_set_is_named(data: bytes) -> None:
    assert "this is a song (" in (told := reported(data, "tune.mid"))
    assert "pegwright fit tune.mid" in told
    assert "this is a song (" in (told := reported_of_set(data, "tune.mid"))
    assert 'score = "tune.mid"' in told


def test_a_wheel_and_a_set_in_place_of_each_other_are_named() -> None:
    assert "this is a song set, not a wheel file (to plan it: pegwright set wheel.toml)" in reported(SET)
    assert "this is a wheel file, not a song set" in reported_of_set(STARTER)


@pytest.mark.parametrize(
    ("right", "wrong"),
    [("restrike_ms = 120", "restrike = 120"), ("[channel_defaults]", "[channel_default]"), ("plates = 4", "plats = 4")],
)
def test_a_misspelt_key_is_one_fault_whatever_follows(right: str, wrong: str) -> None:
    told = reported(STARTER.replace(right, wrong, 1))
    assert f"did you mean `{right.strip('[]').partition(' ')[0]}`?" in told


def test_a_list_without_brackets_is_not_shortened_to_its_first_text() -> None:
    assert "lists need commas" in (said := reported(STARTER.replace("[72]", '"C5", "E5"', 1)))
    assert 'write pitches = "C5"' not in said


def test_a_name_that_would_be_too_long_with_its_ending_is_not_there(tmp_path: Path) -> None:
    with pytest.raises(UsageError, match="pegwright wheel --new"):
        load_wheel(tmp_path / ("n" * 252))


def test_a_name_without_its_ending_is_named_with_it(tmp_path: Path) -> None:
    (tmp_path / "pier.toml").write_text(STARTER, encoding="utf-8")
    with pytest.raises(UsageError, match=r"pier\.toml\)$"):
        load_wheel(tmp_path / "pier")
    with pytest.raises(UsageError, match="pegwright wheel --new"):
        load_wheel(tmp_path / "prom")
