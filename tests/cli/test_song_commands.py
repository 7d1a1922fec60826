"""`fit`, `pin`, `demo` and `completion`, as a user meets them."""

from __future__ import annotations

import csv
import json
import os
import re
import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest

from commands import SONGS, WHEEL, Command, runner
from documents import pages_of
from midi_bytes import END, midi_file, note
from pegwright.ask.table import PAPERS
from pegwright.bundled import bundled_songs
from pegwright.cli.completion import SHELLS
from pegwright.draw.paper import PAPERS as KNOWN_PAPERS

MARCH = SONGS / "lamplighters-march.mid"
REGRETS = SONGS / "the-committee-regrets.musicxml"
SHUFFLE = SONGS / "salt-water-shuffle.musicxml"
TANGO = SONGS / "turnstile-tango.mid"


@pytest.fixture
def pegwright(capsys: pytest.CaptureFixture[str]) -> Command:
    return runner(capsys)


def test_a_song_that_fits_says_so_first(pegwright: Command) -> None:
    ran = pegwright("fit", TANGO, "--wheel", WHEEL, "--strict")
    assert ran.code == 0
    assert ran.out.startswith("All 275 notes sound.")


def test_the_reach_that_is_advised_can_be_typed_as_it_is_read(pegwright: Command) -> None:
    advised = re.findall(r"--reach [0-9/]+", " ".join(pegwright("fit", MARCH, "--wheel", WHEEL).out.split()))
    assert advised == ["--reach 11/384"]
    assert pegwright("fit", MARCH, "--wheel", WHEEL, *advised[0].split()).out.startswith("All 204 notes sound.")


def test_strict_leaves_with_3_when_a_note_is_left_out_and_0_otherwise(pegwright: Command) -> None:
    assert pegwright("fit", MARCH, "--wheel", WHEEL).code == 0
    ran = pegwright("fit", MARCH, "--wheel", WHEEL, "--strict")
    assert ran.code == 3
    assert "lost at a seam" in ran.out


def test_json_is_json_and_counts_every_note(pegwright: Command) -> None:
    ran = pegwright("fit", REGRETS, "--wheel", WHEEL, "--json")
    report = json.loads(ran.out)
    count = report["count"]
    assert count["read"] == count["sounding"] + count["left_out"]
    assert count["left_out"] == len(report["left_out"]) == sum(count["left_out_by_reason"].values())
    assert count["shared_pin"] == len(report["shared"]) == 1


def test_the_starting_step_counts_from_1(pegwright: Command) -> None:
    first = json.loads(pegwright("fit", MARCH, "--wheel", WHEEL, "--json").out)
    same = json.loads(pegwright("fit", MARCH, "--wheel", WHEEL, "--json", "--start", "1").out)
    later = json.loads(pegwright("fit", MARCH, "--wheel", WHEEL, "--json", "--start", "2").out)
    assert first == same
    assert later["count"]["left_out"] == 0


def test_parts_are_kept_to_channels_and_the_rule_is_one_of_those_there_are(pegwright: Command) -> None:
    asked = ("--part-channels", "Bass=bass [GA]2", "--channel-rule", "alternate", "--json")
    report = json.loads(pegwright("fit", TANGO, "--wheel", WHEEL, *asked).out)
    assert report["fit"]["part_channels"] == [{"part": "Bass", "channels": "bass [GA]2"}]
    assert report["fit"]["channel_rule"] == "alternate"
    lost = {(note["part"], note["pitch_midi"] in {43, 45}) for note in report["left_out"]}
    assert lost == {("Bass", False)}


def test_a_score_that_marks_swing_is_swung_unless_told_otherwise(pegwright: Command, tmp_path: Path) -> None:
    song = tmp_path / "swing.musicxml"
    text = (SONGS / "salt-water-shuffle.musicxml").read_text(encoding="utf-8")
    mark = "<sound><swing><first>2</first><second>1</second></swing></sound>"
    song.write_text(re.sub(r"(<measure[^>]*>)", rf"\1{mark}", text, count=1), encoding="utf-8")
    told = {name: pegwright("fit", song, "--wheel", WHEEL, *more).out for name, more in SWINGS.items()}
    assert "swung as the score marks (--swing 1:1 plays them even)" in " ".join(told["as marked"].split())
    assert "swung 2:1" in told["the same"]
    assert "swung" not in told["even"].replace("swung 1:1", "")


SWINGS = {"as marked": (), "the same": ("--swing", "2:1"), "even": ("--swing", "1:1")}


def test_an_offset_is_advised_until_it_is_taken_out(pegwright: Command, tmp_path: Path) -> None:
    song = tmp_path / "late.mid"
    song.write_bytes(midi_file(note(16, 40, 67) + note(440, 40, 67) * 12 + END, division=480))
    printed = {
        asked: " ".join(pegwright("fit", song, "--wheel", WHEEL, *asked.split()).out.split())
        for asked in ("", "--offset auto", "--offset AUTO", "--offset 16", "--offset 5")
    }
    advised = {asked for asked, text in printed.items() if "--offset auto takes it out" in text}
    assert advised == {"", "--offset 5"}
    assert "16 of the file's ticks earlier" in printed["--offset auto"]
    assert printed["--offset AUTO"] == printed["--offset auto"]


def test_words_of_options_are_taken_in_any_case_and_the_help_shows_what_can_be_typed(pegwright: Command) -> None:
    both = [
        pegwright("fit", SHUFFLE, "--wheel", WHEEL, *f"--start {auto} --transpose {auto} --swing {straight}".split())
        for auto, straight in (("auto", "straight"), ("Auto", "STRAIGHT"))
    ]
    assert both[0].code == 0, both[0]
    assert both[0].out == both[1].out
    printed = pegwright("fit", "--help").out
    assert "--offset auto|TICKS" in printed
    assert "AUTO" not in printed


@pytest.mark.parametrize("command", ["pin", "hear"])
def test_nothing_is_printed_into_the_line_of_the_moving_mark(
    command: str, pegwright: Command, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    moving: list[str] = []
    into: list[str] = []

    @contextmanager
    def working(message: str) -> Iterator[None]:
        moving.append(message)
        yield
        moving.remove(message)

    def echo(*words: object, **_: object) -> None:
        into.extend(f"{words} while {message}" for message in moving)

    monkeypatch.setattr(f"pegwright.cli.{command}.working", working)
    for name in ("say", "say_wrapped"):
        monkeypatch.setattr(f"pegwright.cli.{command}.{name}", echo, raising=False)
    nothing = tmp_path / "nothing.mid"
    nothing.write_bytes(midi_file(END))
    for song in (TANGO, nothing):
        assert pegwright(command, song, "--wheel", WHEEL, "-o", tmp_path / f"out-{song.stem}{OUT[command]}").code == 0
    assert into == []


OUT = {"pin": "-pins", "hear": ".mid"}


def test_swing_puts_eighths_on_triplet_holes(pegwright: Command, tmp_path: Path) -> None:
    ran = pegwright("pin", TANGO, "--wheel", WHEEL, "--swing", "2:1", "-o", tmp_path / "swung")
    assert ran.code == 0, ran
    assert "pairs of eighths swung 2:1" in ran.out
    pins = json.loads((tmp_path / "swung" / "pin-map.json").read_text(encoding="utf-8"))
    rows = {pin["row_name"] for plate in pins["plates"] for pin in plate["pins"]}
    assert "triplet" in rows


def test_bars_choose_a_turn_of_a_longer_song(pegwright: Command) -> None:
    song = SONGS / "round-the-pier-and-back.mxl"
    halves = [pegwright("fit", song, "--wheel", WHEEL, "--bars", bars, "--json").out for bars in ("1-12", "13-24")]
    whole = json.loads(pegwright("fit", song, "--wheel", WHEEL, "--json").out)
    counts = [json.loads(half)["count"] for half in halves]
    assert [count["left_out"] for count in counts] == [0, 0]
    assert {count["read"] for count in counts} == {whole["count"]["read"]} == {382}
    assert [count["dropped_by_option"] for count in counts] == [{"bars": 219}, {"bars": 163}]


def test_the_count_of_a_longer_song_has_its_name_and_sets(pegwright: Command, tmp_path: Path) -> None:
    song, out = SONGS / "round-the-pier-and-back.mxl", tmp_path / "pins"
    ran = pegwright("pin", song, "--wheel", WHEEL, "-o", out, "--no-remedies")
    name = "Round the Pier and Back, sets of plates A and B"
    assert name in ran.out.splitlines()
    assert "2 songs" not in ran.out
    page = pages_of(out / "print-a4.pdf", "Pin count")[0].extract_text()
    assert name in " ".join(page.split())


def test_load_is_told(pegwright: Command) -> None:
    ran = pegwright("fit", MARCH, "--wheel", WHEEL, "--load")
    assert ran.code == 0, ran
    lines = [line.split() for line in ran.out.splitlines()]
    (everything,) = [line for line in lines if line[:2] == ["All", "channels"]]
    assert everything[2:5] == ["203", "50", "ms"]
    assert any(line[:2] == ["drum", "drive"] and line[-2:] == ["3", "1"] for line in lines)
    assert max(map(len, ran.out.splitlines())) <= 100
    (of_set,) = json.loads(pegwright("fit", MARCH, "--wheel", WHEEL, "--load", "--json").out)["load"]
    assert [(load["strikes"], load["most"]) for load in of_set["loads"]] == [(203, 5), (69, 2)]
    assert "load" not in json.loads(pegwright("fit", MARCH, "--wheel", WHEEL, "--json").out)


def test_load_of_a_longer_song_is_told_for_every_set_of_plates(pegwright: Command) -> None:
    song = SONGS / "round-the-pier-and-back.mxl"
    told = pegwright("fit", song, "--wheel", WHEEL, "--load", "--load-window", "500").out
    assert "Set A, turn 1\n" in told
    assert "Set B, turn 2\n" in told
    sets = json.loads(pegwright("fit", song, "--wheel", WHEEL, "--load", "--load-window", "500", "--json").out)["load"]
    halves = [
        json.loads(
            pegwright("fit", song, "--wheel", WHEEL, "--load", "--bars", bars, "--load-window", "500", "--json").out
        )
        for bars in ("1-12", "13-24")
    ]
    for of_set, half in zip(sets, halves, strict=True):
        assert of_set["loads"] == half["load"][0]["loads"]
        assert of_set["loads"][0]["strikes"] == half["count"]["own_pin"]


@pytest.mark.parametrize(
    ("asked", "told"),
    [
        (("--load-window", "50"), "--load-window: goes with --load"),
        (("--load", "--load-window", "0"), "--load-window"),
        (("--load", "--load-window", "nan"), "is not a number"),
        (("--load", "--load-window", "60000"), "a window of 60000 ms is longer than a turn, which lasts 25714 ms"),
    ],
)
def test_a_load_that_cannot_be_told_is_refused(pegwright: Command, asked: tuple[str, ...], told: str) -> None:
    assert told in pegwright("fit", MARCH, "--wheel", WHEEL, *asked).refused(2)


def test_pin_writes_the_whole_folder_and_every_count_agrees(pegwright: Command, tmp_path: Path) -> None:
    out = tmp_path / "march"
    ran = pegwright("pin", MARCH, "--wheel", WHEEL, "-o", out)
    assert ran.code == 0, ran
    names = {path.name for path in out.iterdir()}
    assert names == {
        *(f"plate-{number}.csv" for number in range(1, 7)),
        "print-a4.pdf", "report.html", "report.txt", "report.json", "pin-map.json", "pin-count.json",
        "pegwright.sha256",
    }  # fmt: skip
    report = json.loads((out / "report.json").read_text(encoding="utf-8"))
    rows = sum(len(list(csv.DictReader(path.read_text("utf-8").splitlines()))) for path in out.glob("plate-*.csv"))
    pins = json.loads((out / "pin-map.json").read_text(encoding="utf-8"))
    assert rows == report["count"]["own_pin"] == sum(len(plate["pins"]) for plate in pins["plates"])
    (count,) = pages_of(out / "print-a4.pdf", "Pin count")
    assert f"{rows} pins and" in count.extract_text()
    listed = " ".join(ran.out.partition(f"{out}:")[2].partition("\n\n")[0].split()).split(", ")
    assert sorted(name.partition("/")[0] for name in listed) == sorted(path.name for path in out.iterdir())


def test_pin_never_overwrites_unasked_and_leaves_the_rest_alone(pegwright: Command, tmp_path: Path) -> None:
    out = tmp_path / "march"
    out.mkdir()
    (out / "mine.txt").write_text("keep", encoding="utf-8")
    (out / "report.txt").write_text("old", encoding="utf-8")
    ran = pegwright("pin", MARCH, "--wheel", WHEEL, "-o", out)
    assert ran.code == 2
    assert "--overwrite" in ran.err
    assert (out / "report.txt").read_text(encoding="utf-8") == "old"
    ran = pegwright("pin", MARCH, "--wheel", WHEEL, "-o", out, "--overwrite")
    assert ran.code == 0
    assert (out / "mine.txt").read_text(encoding="utf-8") == "keep"
    assert (out / "report.txt").read_text(encoding="utf-8") != "old"
    assert "mine.txt" in ran.out


def test_strict_pin_writes_nothing_when_a_note_is_left_out(pegwright: Command, tmp_path: Path) -> None:
    ran = pegwright("pin", MARCH, "--wheel", WHEEL, "-o", tmp_path / "march", "--strict")
    assert ran.code == 3
    assert ran.err == "--strict: 1 note left out; nothing was written.\n"
    assert list(tmp_path.iterdir()) == []


def test_strict_allows_notes_dropped_on_request_and_says_how_many(pegwright: Command, tmp_path: Path) -> None:
    """Two bars of the tango in single notes: 23 notes begin in these bars, at 8 different moments."""
    asked = ("--wheel", WHEEL, "--bars", "1-2", "--thin", "1", "--strict")
    ran = pegwright("fit", TANGO, *asked)
    head = " ".join(ran.out.split("\n\n")[0].split())
    assert (ran.code, head) == (
        0,
        "8 of 275 notes sound; none left out; 267 dropped on request: 252 by --bars, 15 by --thin.",
    )
    assert ran.err == "--strict: no note left out; 267 notes dropped on request, which --strict allows.\n"
    assert "Dropped on request, --thin: 15 notes\n" in ran.out
    assert pegwright("pin", TANGO, *asked, "-o", tmp_path / "two-bars").code == 0


def test_same_input_gives_the_same_bytes_in_two_processes(tmp_path: Path) -> None:
    made = []
    for number in range(2):
        out = tmp_path / f"run{number}"
        command = [sys.executable, "-m", "pegwright", "pin", str(REGRETS), "--wheel", str(WHEEL), "-o", str(out)]
        environment = {**os.environ, "PYTHONHASHSEED": str(number)}
        subprocess.run(command, check=True, capture_output=True, env=environment)
        made.append({str(path.relative_to(out)): path.read_bytes() for path in out.rglob("*") if path.is_file()})
    assert made[0] == made[1]


def test_demo_sums_up_every_bundled_song(pegwright: Command, tmp_path: Path) -> None:
    ran = pegwright("demo", "--json")
    songs = json.loads(ran.out)["songs"]
    assert [song["file"] for song in songs] == [path.name for path in bundled_songs()]
    for song in songs:
        count = song["count"]
        assert count["own_pin"] == song["exact"] + song["moved"]
        assert count["read"] == count["sounding"] + count["left_out"]
    ran = pegwright("demo", "-o", tmp_path / "all")
    assert ran.code == 0
    assert sorted(path.name for path in (tmp_path / "all").iterdir()) == [path.stem for path in bundled_songs()]
    totals = next(line for line in ran.out.splitlines() if line.startswith("All songs")).split()
    notes, sound, moved, left_out = (int(count.replace(",", "")) for count in totals[2:])
    assert notes == sound + left_out == sum(song["count"]["read"] for song in songs)
    assert moved == sum(song["moved"] for song in songs)
    assert max(map(len, ran.out.splitlines())) <= 100 + len(str(tmp_path))


@pytest.mark.parametrize("shell", SHELLS)
def test_completion_prints_a_script_for_the_shell(pegwright: Command, shell: str) -> None:
    ran = pegwright("completion", shell)
    assert ran.code == 0
    assert "_PEGWRIGHT_COMPLETE" in ran.out


def test_completion_offers_commands() -> None:
    environment = {
        **os.environ,
        "_PEGWRIGHT_COMPLETE": "bash_complete",
        "COMP_WORDS": "pegwright de",
        "COMP_CWORD": "1",
    }
    done = subprocess.run(
        [sys.executable, "-m", "pegwright"], env=environment, capture_output=True, text=True, check=False
    )
    assert "demo" in done.stdout


def test_papers_on_offer_are_those_that_are_drawn() -> None:
    assert tuple(paper.name for paper in KNOWN_PAPERS) == PAPERS


@pytest.mark.parametrize("command", ["fit", "pin", "wheel", "demo", "completion"])
def test_help_has_examples_that_name_the_command(pegwright: Command, command: str) -> None:
    ran = pegwright(command, "--help")
    assert ran.code == 0
    assert re.search(rf"Examples:\n +pegwright {command}", ran.out)
    assert max(map(len, ran.out.splitlines())) <= 100


BAD_OPTIONS = [
    (("--bars", "9-5"), "upwards"),
    (("--bars", "0-5"), "bar 1"),
    (("--bars", "a"), "range of bars"),
    (("--bars", "40-41"), "12"),
    (("--start", "0.5.5"), "not a number"),
    (("--start", "1/0"), "not a number"),
    (("--start", "0"), "1"),
    (("--start", "9999999"), "192"),
    (("--start", "1.3333"), "whole"),
    (("--tempo", "0"), "1"),
    (("--tempo", "nan"), "not a number"),
    (("--tempo", "inf"), "1000"),
    (("--reach", "-1/64"), "reach"),
    (("--reach", "99"), "reach"),
    (("--transpose", "999"), "127"),
    (("--priority", "Chimes"), "NAME=NUMBER"),
    (("--priority", "Chimez=2"), "Chimes"),
    (("--part-channels", "Chimes"), "PART=CHANNELS"),
    (("--part-channels", "Chimez=chime*"), "Chimes"),
    (("--part-channels", "Chimes=chimes*"), "chime"),
    (("--channel-rule", "random"), "prefer"),
    (("--priority", "Chimes=1000"), "99"),
    (("--drum", "38=x"), "whole number"),
    (("--drum", "38=999"), "127"),
    (("--swing", "0:1"), "of whole numbers from 1 on that together are at most 100, nor 'straight'"),
    (("--swing", "2:0"), "ratio"),
    (("--swing", "2"), "ratio"),
    (("--thin", "0"), "1"),
    (("--move-part", "Bass=x"), "whole number"),
    (("--move-part", "Bas=12"), "Bass"),
    (("--move-part", "Percussion=12"), "percussion"),
    (("--offset", "later"), "auto"),
    (("--wheel", "nowhere.toml"), "nowhere.toml"),
    (("--nonsense",), "--nonsense"),
    (("--bars", "1-1000000"), "the song plays 12 bars, 1 to 12"),
    (("--start", "-1"), "--start"),
    (("--transpose", "1_0"), "not a whole number from -127 to 127"),
    (("--transpose", "１"), "not a whole number from -127 to 127"),
    (("--semitones", "5"), "--semitones: goes with --transpose auto"),
    (("--every", "4"), "--every: goes with --start auto"),
    (("--start", "auto", "--every", "0"), "0 is outside 1 to 262144"),
    (("--search", "--start", "5"), "--start: --search finds the best, and 5 was given"),
    (("--search", "--transpose", "-2"), "--transpose: --search finds the best"),
    (("--thin", "nan"), "'nan' is not a whole number from 1 to 1000"),
    (("--thin", "1001"), "1001 is outside 1 to 1000"),
    (("--tempo", ""), "'' is not a number from 1 to 1000"),
    (("--tempo", "1e-320"), "1e-320 is outside 1 to 1000"),
    (("--reach", "1/3"), "1/3 is outside 0 to 1/4"),
    (("--ornaments", "1/7"), "1/7 is outside 1/128 to 1/8"),
    (("--ornaments", "3/32"), "with 1 above the line"),
    (("--swing", "-2:1"), "ratio such as 2:1"),
    (("--swing", "99:2"), "whole numbers from 1 on that together are at most 100, nor 'straight'"),
    (("--offset", "1.5"), "whole number of ticks"),
    (("--offset", "100000"), "at most"),
    (("--priority", "Bass=0"), "--priority: 0 is outside 1 to 99"),
    (("--priority", "Bass=1", "--priority", "Bass=2"), "given twice"),
    (("--drum", "-1=38"), "--drum: -1 is outside 0 to 127"),
    (("--drum", "38=40", "--drum", "38=42"), "given twice"),
    (("--move-part", "Bass=128"), "--move-part: 128 is outside -127 to 127"),
    (("--move-part", "Bass=1", "--move-part", "Bass=2"), "moved twice"),
    (("--move-part", "Bass=-60"), "reaches pitch"),
    (("--move-part", " =1"), "NAME=NUMBER"),
    (("--part-channels", "Bass=["), "lamplighters-march.mid: no channel"),
    (("--part-channels", "Bass=*", "--part-channels", "Bass=b*"), "given twice"),
    (("--performed", "--beats", "folow"), "give keep, follow, find, a tempo such as 92, part:NAME, FILE.csv"),
    (("--performed", "--beats", "part:"), "not a way to know the beat"),
    (("--wheel", " "), "the name is blank"),
]
BAD_PAGES = [
    (("--page", str(WHEEL)), "is the wheel file itself"),
    (("--page", str(SONGS / "README.md")), "the file exists"),
    (("--page", str(SONGS)), "is a folder, not a file"),
    (("--page", "a.html", "-o", "pins"), "-o: goes with a folder, and --page writes none"),
]


@pytest.mark.parametrize(("options", "said"), BAD_PAGES, ids=[" ".join(options) for options, _ in BAD_PAGES])
def test_a_page_that_cannot_be_written_is_refused(pegwright: Command, options: tuple[str, ...], said: str) -> None:
    assert said in pegwright("pin", MARCH, "--wheel", WHEEL, *options).refused(2)


@pytest.mark.parametrize(("options", "said"), BAD_OPTIONS, ids=[" ".join(options) for options, _ in BAD_OPTIONS])
def test_a_bad_option_is_one_line_that_says_what_and_leaves_with_2(
    pegwright: Command, options: tuple[str, ...], said: str
) -> None:
    assert said in pegwright("fit", MARCH, "--wheel", WHEEL, *options).refused(2)


BAD_SONGS = {
    "empty.mid": b"",
    "text.mid": b"Dear committee, please find enclosed.\n",
    "cut.mid": MARCH.read_bytes()[:18],
    "noise.mid": b"MThd" + bytes(range(256)),
    "claims.mid": b"MThd\x00\x00\x00\x06\x00\x01\xff\xff\x00\x60MTrk\xff\xff\xff\xff",
    "broken.musicxml": REGRETS.read_bytes()[:3000],
    "other.xml": b"<?xml version='1.0'?><recipe/>",
    "laughs.xml": b"<?xml version='1.0'?><!DOCTYPE score-partwise [<!ENTITY a 'aa'><!ENTITY b '&a;&a;'>]>"
    b"<score-partwise>&b;</score-partwise>",
    "notes.mxl": b"PK\x03\x04 not really a zip",
    "pages.pdf": b"%PDF-1.7\n",
}


@pytest.mark.parametrize("name", BAD_SONGS)
def test_a_song_that_cannot_be_read_is_one_line_and_leaves_with_1(
    pegwright: Command, tmp_path: Path, name: str
) -> None:
    song = tmp_path / name
    song.write_bytes(BAD_SONGS[name])
    for command in (("fit", song), ("pin", song, "-o", tmp_path / "out")):
        said = pegwright(*command, "--wheel", WHEEL).refused(1)
        assert name in said
    assert [path.name for path in tmp_path.iterdir()] == [name]


def test_a_missing_song_and_a_folder_are_told(pegwright: Command, tmp_path: Path) -> None:
    assert "no such file" in pegwright("fit", tmp_path / "gone.mid", "--wheel", WHEEL).refused(1)
    assert "folder" in pegwright("fit", tmp_path, "--wheel", WHEEL).refused(1)


def test_an_output_that_would_be_refused_is_refused_before_any_work(pegwright: Command, tmp_path: Path) -> None:
    (tmp_path / "full").mkdir()
    (tmp_path / "full" / "mine.txt").write_text("keep", encoding="utf-8")
    assert pegwright("pin", TANGO, "--wheel", WHEEL, "-o", tmp_path / "now").code == 0
    pins = tmp_path / "now" / "pin-map.json"
    for command in (("pin", TANGO), ("swap", pins, TANGO)):
        said = pegwright(*command, "--wheel", WHEEL, "-o", tmp_path / "full").refused(2)
        assert "the folder exists and is not empty (mine.txt)" in said
        assert "does not exist" in pegwright(*command, "--wheel", WHEEL, "-o", tmp_path / "a" / "b").refused(2)
    assert "is blank" in pegwright("survey", "", "--wheel", WHEEL).refused(2)


def test_an_output_that_cannot_be_written_leaves_nothing(pegwright: Command, tmp_path: Path) -> None:
    (tmp_path / "file").write_text("in the way", encoding="utf-8")
    for out in (tmp_path / "file", tmp_path / "file" / "below", tmp_path / "gone" / "below"):
        ran = pegwright("pin", TANGO, "--wheel", WHEEL, "-o", out)
        assert ran.code == 2
        assert len(ran.err.splitlines()) == 1
    assert [path.name for path in tmp_path.iterdir()] == ["file"]


def test_without_a_wheel_file_the_way_to_one_is_told(
    pegwright: Command, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    assert "pegwright wheel --new" in pegwright("fit", MARCH).refused(2)
