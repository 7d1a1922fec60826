"""`leads`, and what other commands say of leads, as a user meets it."""

from __future__ import annotations

import json
from pathlib import Path

import mido
import pytest

from commands import SONGS, WHEEL, Command, runner

HORNPIPE = SONGS / "pier-masters-hornpipe.mid"
AIR = SONGS / "the-sands-at-evening.musicxml"
TEXT = WHEEL.read_text(encoding="utf-8")


@pytest.fixture
def pegwright(capsys: pytest.CaptureFixture[str]) -> Command:
    return runner(capsys)


def flat(text: str) -> str:
    return " ".join(text.split())


def changed(folder: Path, *replacements: tuple[str, str]) -> Path:
    """A wheel file in a folder: the demo wheel with some texts replaced."""
    text = TEXT
    for old, new in replacements:
        assert old in text, old
        text = text.replace(old, new, 1)
    path = folder / "wheel.toml"
    path.write_text(text, encoding="utf-8")
    return path


def test_leads_of_the_demo_wheel_and_what_is_left_at_other_tempos(pegwright: Command) -> None:
    done = pegwright("leads", WHEEL, "--tempo", "112", "--tempos", "63,92,138")
    # 42 (1 - 112 / v) ms at v = 63, 92 and 138; 4.9 mm are 42 ms at 116.68 mm/s.
    (drum,) = (line.split() for line in done.out.splitlines() if "bass drum" in line)
    assert drum == ["20", "bass", "drum", "42.00", "+42.0", "-4.90", "-32.67", "-9.13", "+7.91"]
    assert "As the wheel file is, channels sound up to 36.0 ms apart at 112." in done.out
    assert "With the leads taken away: none at 112; up to 28.0 ms at 63, 7.8 ms at 92 and 6.8 ms at 138." in done.out


def test_json_has_the_same_in_numbers(pegwright: Command) -> None:
    told = json.loads(pegwright("leads", WHEEL, "--tempo", "112", "--tempos", "63", "--json").out)
    assert told["channels"][19]["name"] == "bass drum"
    assert told["channels"][19]["reader_mm"] == pytest.approx(-4.900, abs=0.001)
    assert told["left_apart_ms"] == [pytest.approx(28.0)]


def test_the_fit_says_that_leads_are_36_ms_apart_and_the_cure_cures_it(pegwright: Command, tmp_path: Path) -> None:
    assert "All 215 notes sound. leads: up to 36 ms apart" in flat(pegwright("fit", HORNPIPE, "--wheel", WHEEL).out)
    told = json.loads(pegwright("leads", WHEEL, "--tempo", "116", "--json").out)
    readers = [(f'name = "{one["name"]}"\n', f"reader_mm = {one['reader_mm']}\n") for one in told["channels"]]
    cured = changed(tmp_path, *((name, name + reader) for name, reader in readers))
    done = flat(pegwright("fit", HORNPIPE, "--wheel", cured).out)
    assert "All 215 notes sound." in done
    assert "apart" not in done
    again = pegwright("leads", cured, "--tempo", "116").out
    assert "channels sound up to 0.0 ms apart at 116." in again
    # At another tempo what was taken away is wrong again: 36 ms x (1 - 116/63) = 30.3 ms.
    assert "leads: up to 30.3 ms apart" in pegwright("fit", HORNPIPE, "--wheel", cured, "--tempo", "63").out


def test_a_lead_of_half_a_second_is_no_longer_called_exact_without_a_word(pegwright: Command, tmp_path: Path) -> None:
    late = changed(tmp_path, ("lead_ms = 42", "lead_ms = 500"))
    done = flat(pegwright("fit", HORNPIPE, "--wheel", late).out)
    assert "All 215 notes sound. leads: up to 494 ms apart" in done
    assert "494.0 ms bass drum after bass G2 9 times +494.0 0 'Bass' bar 1 beat 1" in done
    assert "leads: up to 494 ms apart" in pegwright("pin", HORNPIPE, "--wheel", late, "-o", tmp_path / "out").out
    pair = json.loads((tmp_path / "out" / "report.json").read_bytes())["leads"]["pairs"][0]
    assert (pair["first_channel_name"], pair["later_channel_name"]) == ("bass G2", "bass drum")
    assert (pair["apart_ms"], pair["by_leads_ms"], pair["by_placement_ms"]) == (494.0, 494.0, 0.0)


def test_a_song_whose_leads_part_nothing_says_nothing(pegwright: Command) -> None:
    done = pegwright("fit", AIR, "--wheel", WHEEL)
    assert "apart" not in done.out


def test_what_the_placement_parts_is_said_likewise(pegwright: Command) -> None:
    regrets = ("fit", SONGS / "the-committee-regrets.musicxml", "--wheel", WHEEL, "--reach", "11/384")
    done = flat(pegwright(*regrets).out)
    # A triangle is set half a step of 119.0 ms early, with a pin of 1.2 mm x 7.62 ms/mm late: 59.5 - 9.1 = 50.4 ms.
    assert "leads: up to 36 ms apart placement: up to 50.4 ms apart" in done
    told = json.loads(pegwright(*regrets, "--json").out)["leads"]
    assert told["placement_apart_ms"] == pytest.approx(50.4, abs=0.05)
    assert all(
        pair["apart_ms"] == pytest.approx(pair["by_leads_ms"] + pair["by_placement_ms"]) for pair in told["pairs"]
    )


def test_a_show_names_the_songs_that_leads_part(pegwright: Command) -> None:
    done = flat(pegwright("set", SONGS / "pavilion-evening.toml").out)
    assert "Turnstile Tango, leads: up to 36 ms apart, bass drum after bass G2 at 'Bass' bar 7 beat 1" in done
    assert "The Sands at Evening, leads" not in done


def test_pins_set_early_are_pinned_heard_and_told(pegwright: Command, tmp_path: Path) -> None:
    early = changed(tmp_path, ("lead_ms = 42", "lead_ms = 135\nadvance_steps = 1"))
    out = tmp_path / "out"
    done = pegwright("pin", HORNPIPE, "--wheel", early, "-o", out)
    assert "All 215 notes sound." in done.out
    document = json.loads((out / "pin-map.json").read_bytes())
    assert document["fit"]["advance_steps"] == [{"channel_name": "bass drum", "steps": 1.0}]
    last = document["plates"][5]["pins"]
    assert ("bass drum", "32") in {(pin["channel_name"], pin["step"]) for pin in last}, "the pin of bar 1 beat 1"
    assert "No rule is broken" in pegwright("check", out, "--wheel", early).out
    # A step at 116 lasts 15000 / 116 = 129.3 ms: the drum is 5.7 ms late, and the first note sounds at 6 ms or so.
    found = flat(pegwright("find", out, "--wheel", early, "--bar", "1", "--beat", "1").out)
    assert "0.006 s 6 20 bass drum step 32 on" in found
    assert "Leads of 5.7 to 30 ms are heard" in pegwright("hear", out, "--wheel", early, "-o", tmp_path / "a.mid").out
    first = next(message for message in mido.MidiFile(tmp_path / "a.mid") if message.type == "note_on")
    assert first.time < 0.05
    words = "advance_steps of channel 'bass drum' is 1 in the map and 0 on the wheel: its pins stand 1 step too early"
    assert words in flat(pegwright("hear", out, "--wheel", WHEEL, "-o", tmp_path / "b.mid").out)
    assert words in flat(pegwright("check", out, "--wheel", WHEEL).out)


def test_a_fall_gives_the_lead(pegwright: Command, tmp_path: Path) -> None:
    # Free fall, g = 9.80665 m/s^2 (3rd CGPM 1901): 300 mm last 247.35 ms, two steps at 120 less 2.6 ms.
    fallen = changed(tmp_path, ("lead_ms = 42", "fall_mm = 300"))
    done = pegwright("leads", fallen).out
    (drum,) = (line.split() for line in done.splitlines() if "bass drum" in line)
    assert drum[3:] == ["247.35*", "+247.4", "-30.92", "2,", "+0.33"]
    assert "computed from the fall" in done


@pytest.mark.parametrize(
    ("instead", "words"),
    [
        ("advance_steps = 0.25", "0.25 is neither whole nor a half step more"),
        ("advance_steps = -1", "-1 is below the minimum, 0"),
        ("advance_steps = 96", "96 is not below half a turn, 96 steps"),
        ("reader_mm = 1501", "1,501.0 mm is not below half the rim, 1,500.1 mm"),
        ("reader_mm = nan", "nan is not a finite number"),
        ("lead_ms = 4\nfall_mm = 30", "is given together with lead_ms"),
        ("fall_start_mm_per_s = 30", "is for a fall, and no fall_mm is given"),
        ("fall_mm = 0", "0 is not above 0"),
    ],
)
def test_faults_are_one_line_each(pegwright: Command, tmp_path: Path, instead: str, words: str) -> None:
    refused = pegwright("leads", changed(tmp_path, ("lead_ms = 42", instead))).refused(2)
    assert words in flat(refused)
    assert "\n" not in refused.strip()


@pytest.mark.parametrize(
    "options", [("--tempo", "0"), ("--tempo", "nan"), ("--tempos", "63,0"), ("--tempos", "63,,92"), ("--tempos", "x")]
)
def test_tempos_that_are_none_are_refused(pegwright: Command, options: tuple[str, str]) -> None:
    assert options[0] in pegwright("leads", WHEEL, *options).refused(2)


def test_without_a_wheel_file_it_says_what_to_do(
    pegwright: Command, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    assert "pegwright wheel --new" in pegwright("leads").refused(2)


def test_a_chord_that_the_placement_moves_apart_is_reported_once(pegwright: Command) -> None:
    fit = ("fit", SONGS / "low-water-slowly.mid", "--wheel", WHEEL, "--reach", "1/8")
    text = flat(pegwright(*fit).out)
    assert "tambourine after bass drum 1 time -12.0 +52.4 'Percussion' bar 12 beat 1" in text
    assert "notes meant together on different channels" not in text
    findings = json.loads(pegwright(*fit, "--json").out)["findings"]
    assert [each["code"] for each in findings if each["code"] == "flam-risk"] == ["flam-risk"]
