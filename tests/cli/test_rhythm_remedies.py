"""Another rhythm as users see it: listed by number, taken like any other remedy, in text, JSON and on the page."""

from __future__ import annotations

import json
import re
import shlex
import shutil
from pathlib import Path

import pytest

from commands import SONGS, WHEEL, Command, runner
from pegwright.cli.fit import MAX_TAKEN
from pegwright.remedy.song_remedies import PER_SONG
from pegwright.song_pipeline.rhythms import PER_RHYTHMS
from pegwright.write.report.rhythms import MAX_TYPED
from schemas import closed

REGRETS, MARCH = "the-committee-regrets.musicxml", "lamplighters-march.mid"
HEAD = "Another rhythm, of all that the holes of a bar allow the one that changes least for the ear:"


@pytest.fixture
def pegwright(capsys: pytest.CaptureFixture[str], tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Command:
    monkeypatch.chdir(tmp_path)
    for name in (REGRETS, MARCH):
        shutil.copy(SONGS / name, name)
    shutil.copy(WHEEL, "wheel.toml")
    return runner(capsys)


def rhythms_in(text: str) -> list[tuple[str, str, str]]:
    """Number, words and command of each rhythm that is printed."""
    block = text.split(HEAD)[1].split("\n\n", 1)[0]
    found = re.findall(r"^ +(\d+)\. (.*?)\n +(pegwright fit .*?)(?=\n +\d+\. |\Z)", block, re.MULTILINE | re.DOTALL)
    return [(number, " ".join(words.split()), command.replace("\\\n", " ")) for number, words, command in found]


def test_a_rhythm_says_what_changes_for_the_ear_and_its_command_does_it(pegwright: Command) -> None:
    ((number, words, command),) = rhythms_in(pegwright("fit", MARCH, "--remedies").out)
    assert number == "2", "after the remedies for the song"
    assert words == (
        "In bar 8 move beat 4.75 to 4 5/8 and beat 4 7/8 to 4.75: all 204 notes sound; the time from onset to onset "
        "changes by up to 67 ms (audible), in all 11.5 times what goes unheard"
    )
    assert shlex.split(command) == [
        *("pegwright", "fit", MARCH),
        *("--note-edit", "move Percussion, bar 8, beat 4.75, 38 to beat 4 5/8"),
        *("--note-edit", "move Percussion, bar 8, beat 4 7/8, 38 to beat 4.75"),
    ]
    out = pegwright(*shlex.split(command)[1:]).out
    assert out.startswith("All 204 notes sound")


def test_the_notes_that_a_rhythm_helps_name_it(pegwright: Command) -> None:
    text = pegwright("fit", MARCH, "--remedies").out
    assert "or another rhythm, 2 above" in text.split("Note by note")[1]


def test_a_rhythm_is_taken_by_its_number_and_the_song_file_gives_it_again(pegwright: Command) -> None:
    pegwright("fit", MARCH, "--keep", "m.toml")
    taken = pegwright("fit", "m.toml", "--take", "2")
    assert taken.out.startswith("All 204 notes sound")
    kept = Path("m.toml").read_text("utf-8")
    assert '"in bar 8 move beat 4.75 to 4 5/8 and beat 4 7/8 to 4.75"' in kept.split("taken =")[1]
    assert "move Percussion, bar 8, beat 4.75, 38 to beat 4 5/8" in kept
    assert pegwright("fit", "m.toml").out + "\nKept in m.toml: `pegwright pin m.toml` pins the song like this.\n" == (
        taken.out
    )
    assert "nother rhythm" not in pegwright("fit", "m.toml", "--remedies").out, "it is taken already"


def test_many_note_edits_are_taken_by_number(pegwright: Command) -> None:
    data = json.loads(pegwright("fit", REGRETS, "--remedies", "--json").out)
    closed("fit-report-3.json").validate(data)
    rhythms = {str(each["number"]): each for each in data["remedies"]["rhythms"]}
    printed = rhythms_in(pegwright("fit", REGRETS, "--remedies").out)
    assert [number for number, _, _ in printed] == list(rhythms) == ["6", "7", "8"]
    for number, words, command in printed:
        of = rhythms[number]
        assert of["command"].count("--note-edit") > MAX_TYPED
        assert command == f"pegwright fit {REGRETS} --take {number} --keep the-committee-regrets-{number}.toml"
        sounding = re.search(r"(\d+) of 247 notes sound", words)
        assert sounding
        assert int(sounding[1]) == of["sounding"] == 247 - of["not_sounding"]
        done = pegwright(*shlex.split(of["command"])[1:]).out
        assert done.startswith(f"{sounding[1]} of 247 notes sound")
        assert pegwright(*shlex.split(command)[1:]).out.startswith(f"{sounding[1]} of 247 notes sound")


def test_the_page_lists_rhythms_where_remedies_were_asked_for(pegwright: Command) -> None:
    pegwright("pin", MARCH, "--page", "plain.html")
    assert "in bar 8 move beat" not in Path("plain.html").read_text("utf-8")
    pegwright("pin", MARCH, "--remedies", "--page", "full.html")
    assert "in bar 8 move beat 4.75 to 4 5/8" in Path("full.html").read_text("utf-8")
    pegwright("pin", REGRETS, "--remedies", "--page", "many.html")
    short = f"pegwright fit {Path(REGRETS).name} --take 6 --keep the-committee-regrets-6.toml"
    assert short in Path("many.html").read_text("utf-8")


def test_as_many_numbers_can_be_taken_as_are_listed_at_most() -> None:
    assert MAX_TAKEN == PER_SONG + PER_RHYTHMS
