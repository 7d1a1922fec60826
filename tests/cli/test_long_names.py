"""A wheel of 38 channels whose long names begin alike, on a terminal of 80 columns: it stays clear which is meant."""

from __future__ import annotations

import re
import tomllib
from pathlib import Path

import pytest

from commands import SONGS, WHEEL, Command, runner
from pegwright.write.report.leads import LISTED
from toml_text import toml_text

REGRETS, TANGO = SONGS / "the-committee-regrets.musicxml", SONGS / "turnstile-tango.mid"
PITCHES = [*range(55, 77), 77, 78, 79, 81, 82, 83, 84, 86, 43, 45, 48]
DRUMS = [36, 38, 42, 76, 54]


@pytest.fixture
def run(capsys: pytest.CaptureFixture[str], tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Command:
    """Commands at 80 columns in a folder with such a wheel."""
    monkeypatch.setenv("COLUMNS", "80")
    monkeypatch.chdir(tmp_path)
    names = [f"vibraphone bar of the upper bank, {number}" for number in range(1, len(PITCHES) + 1)]
    channels = [{"name": name, "pitches": [pitch]} for name, pitch in zip(names, PITCHES, strict=True)]
    channels += [{"name": f"drum on the left-hand stand, {key}", "drum_keys": [key]} for key in DRUMS]
    assert len(channels) == 38
    wheel = tomllib.loads(WHEEL.read_text(encoding="utf-8"))
    wheel["channel"] = [each | {"restrike_ms": 110, "lead_ms": 5 * (n % 5)} for n, each in enumerate(channels)]
    wheel["pin_type"] = [{"name": "plain steel peg", "stock": 900}]
    del wheel["limit"]
    Path("wheel.toml").write_text(toml_text(wheel), encoding="utf-8")
    return runner(capsys)


def flat(text: str) -> str:
    return " ".join(text.split())


def test_channels_of_a_part_can_be_told_apart(run: Command) -> None:
    text = flat(run("song", TANGO).out).partition("as written: ")[2]
    chimes = re.findall(r"\d+ vibraphone bar of the…", text.partition('"Bass"')[0])
    assert len(chimes) == len(set(chimes)) == 11
    assert len(set(re.findall(r"\d+ drum on the left-hand…", text))) == 4


def test_pairs_that_sound_apart_can_be_told_apart(run: Command) -> None:
    text = run("fit", REGRETS).out
    pairs = flat(text.partition("Meant together")[2].partition("and ")[0])
    named = re.findall(r"\d+ (?:vibraphone|drum on)", pairs)
    assert len(named) == 2 * pairs.count(" after ") == 2 * LISTED


def test_found_pins_take_few_lines(run: Command) -> None:
    assert run("pin", REGRETS, "--no-remedies", "-o", "pins").code == 0
    lines = run("find", "pins", "--bar", "3", "--set", "A").out.splitlines()
    assert max(map(len, lines)) <= 80
    rows = [line for line in lines if re.search(r"\d\.\d{3} s", line)]
    assert rows
    assert all(re.search(r"  \d+ (vibraphone bar|drum on)", line) for line in rows)
    assert len(lines) <= 3 * len(rows) + 4, "not a line for every word of a name"


def test_a_list_of_channels_in_a_hint_is_not_cut_in_the_middle(run: Command) -> None:
    with Path("wheel.toml").open("a", encoding="utf-8") as file:
        file.write('\n[[limit]]\nname = "drive"\nstrikes = 3\nwindow_ms = 60\n')  # and no channels
    refused = run("wheel", "wheel.toml").refused(2)
    assert 'each item a channel of this wheel: "vibraphone bar of the upper bank, 1", ' in refused
    assert refused.endswith('"vibraphone bar of the upper bank, 2", ...)')


def test_an_error_lists_as_many_names_as_fit_and_a_place_of_load_tells_them_apart(run: Command) -> None:
    refused = run("fit", TANGO, "--part-channels", "Chimes=kazoo*").refused(2)
    names = "the names are 'vibraphone bar of the upper bank, 1', 'vibraphone bar of the upper bank, 2' and 36 more"
    assert names in refused
    assert "…" not in refused
    text = flat(run("fit", TANGO, "--load").out).partition("Worst places")[2]
    place = re.search(r"vibraphone bar of the upper bank, \d+; .*?; drum on the left-hand stand, \d+", text)
    assert place, "names with commas are parted by semicolons"
