"""The CSV files of all plates in place of a pin map: every command says of them what it says of the map."""

from __future__ import annotations

import csv
import io
import json
import shutil
from collections.abc import Callable
from pathlib import Path
from typing import TypeAlias

import mido
import pytest

from commands import SONGS, WHEEL, Command, Ran, runner
from documents import pages_of
from pdf_shapes import black_middles_mm
from pegwright.plain_file import plain_bytes
from schemas import closed

MINUET, TANGO, PIER = "bathing-machine-minuet.musicxml", "turnstile-tango.mid", "round-the-pier-and-back.mxl"
Pinned: TypeAlias = Callable[..., tuple[Path, Path, tuple[str, ...]]]
SLOW = "30"  # a tempo at which nothing is struck too soon


@pytest.fixture
def run(capsys: pytest.CaptureFixture[str]) -> Command:
    plain = runner(capsys)
    return lambda *arguments: plain(*arguments, "--wheel", WHEEL)


@pytest.fixture
def pinned(run: Command, tmp_path: Path) -> Pinned:
    """Pins a song: the folder, one with its CSV files alone, and the options that these do not have."""

    def pin(song: str, *options: str) -> tuple[Path, Path, tuple[str, ...]]:
        full, alone = tmp_path / f"full-{song}", tmp_path / f"alone-{song}"
        assert run("pin", SONGS / song, "-o", full, "--no-remedies", *options).code == 0
        document = json.loads((full / "pin-map.json").read_bytes())
        alone.mkdir()
        for path in full.glob("plate-*.csv"):
            shutil.copy(path, alone)
        return full, alone, ("--tempo", repr(60_000_000 / document["fit"]["us_per_quarter"]))

    return pin


def strikes(path: Path) -> list[tuple[str, int, float]]:
    found = []
    for track in mido.MidiFile(path).tracks:
        now, name = 0, track.name
        for message in track:
            now += message.time
            if message.type == "note_on" and message.velocity:
                found.append((name, message.note, now))
    return sorted(found)


def tempo_of(path: Path) -> int:
    return int(next(message.tempo for message in mido.MidiFile(path).tracks[0] if message.type == "set_tempo"))


@pytest.mark.parametrize("start", [(), ("--start", "17")], ids=["from-step-1", "from-step-17"])
def test_csv_files_sound_as_their_map(run: Command, pinned: Pinned, tmp_path: Path, start: tuple[str, ...]) -> None:
    full, alone, tempo = pinned(TANGO, *start)
    by_map, by_csv = tmp_path / "map.mid", tmp_path / "csv.mid"
    of_map, of_csv = run("hear", full, "-o", by_map), run("hear", alone, "-o", by_csv, *tempo, *start)
    assert (of_map.code, of_csv.code) == (0, 0)
    assert of_csv.out.partition(": ")[2].splitlines()[:-1] == of_map.out.partition(": ")[2].splitlines()[:-1]
    assert len(strikes(by_map)) > 100
    assert strikes(by_csv) == strikes(by_map)
    assert tempo_of(by_csv) == tempo_of(by_map)


def test_a_tempo_other_than_that_of_the_map_is_heard(run: Command, pinned: Pinned, tmp_path: Path) -> None:
    _, alone, _ = pinned(MINUET)
    assert run("hear", alone, "-o", tmp_path / "slow.mid", "--tempo", SLOW).code == 0
    assert tempo_of(tmp_path / "slow.mid") == 2_000_000


def without_titles(text: str) -> list[str]:
    """The lines of what is printed but the first, which has the title."""
    return text.splitlines()[1:]


def test_csv_files_are_swapped_as_their_map_without_a_tempo(run: Command, pinned: Pinned, tmp_path: Path) -> None:
    (old, old_csv, _), (new, new_csv, _) = pinned(TANGO), pinned(MINUET)
    as_maps = json.loads(run("swap", old, new, "--json").out)
    closed("swap-1.json").validate(as_maps)
    assert as_maps["pull_count"] > 50
    for before, after in ((old_csv, new), (old, new_csv), (old_csv, new_csv)):
        as_tables = json.loads(run("swap", before, after, "--json").out)
        for key in ("pull_count", "set_count", "stay_count", "plates"):
            assert as_tables[key] == as_maps[key]
        assert [as_tables[key]["map_sha256"] for key in ("old", "new")] == [
            as_maps[key]["map_sha256"] for key in ("old", "new")
        ]
    for folder, song in (("by-map", old), ("by-csv", old_csv)):
        assert run("swap", song, SONGS / MINUET, "-o", tmp_path / folder).code == 0
        assert run("pin", SONGS / MINUET, "--from", song, "-o", tmp_path / f"{folder}-pinned").code == 0
    for name in ("swap.csv", "pin-map.json"):
        assert (tmp_path / "by-csv" / name).read_bytes() == (tmp_path / "by-map" / name).read_bytes()
        assert (tmp_path / "by-csv-pinned" / name).read_bytes() == (tmp_path / "by-map-pinned" / name).read_bytes()


def test_the_sheets_of_a_swap_to_csv_files_state_no_tempo(run: Command, pinned: Pinned, tmp_path: Path) -> None:
    (old, _, _), (new, new_csv, _) = pinned(TANGO), pinned(MINUET)
    for folder, wanted, marks in (("by-map", new, 1), ("by-csv", new_csv, 0)):
        assert run("swap", old, wanted, "-o", tmp_path / folder).code == 0
        edition = (
            pages_of(tmp_path / folder / "print-a4.pdf", "Swap sheets")[0].extract_text().partition("Edition: ")[2]
        )
        assert edition.splitlines()[0].count("♩ =") == marks


def test_a_show_begins_from_plates_whose_pins_csv_files_give(
    pinned: Pinned, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """A set says by itself for which wheel it is."""
    full, alone, _ = pinned(TANGO)
    plans = []
    for carried in (full, alone, ""):
        songs = "".join(f"[[song]]\nscore = '{SONGS / song}'\n" for song in (MINUET, TANGO))
        text = f"title = 'Evening'\nwheel = '{WHEEL}'\n[plates]\ncarry = ['{carried}']\n{songs}"
        (tmp_path / "set.toml").write_text(text, encoding="utf-8")
        plans.append(runner(capsys)("set", tmp_path / "set.toml", "--json"))
    assert [plan.code for plan in plans] == [0, 0, 0]
    assert plans[2].out != plans[0].out
    assert plans[0].out.replace("Turnstile Tango", alone.name) == plans[1].out.replace("Turnstile Tango", alone.name)


def test_find_says_of_csv_files_what_it_says_of_the_map(run: Command, pinned: Pinned) -> None:
    full, alone, tempo = pinned(MINUET, "--start", "17")
    timed = (*tempo, "--start", "17")
    for wanted in (("--at", "3.5"), ("--bar", "4"), ("--plate", "3", "--step", "5"), ("--channel", "chime D5")):
        of_map = json.loads(run("find", full, *wanted, "--json").out)["pins"]
        assert of_map
        assert json.loads(run("find", alone, *wanted, *timed, "--json").out)["pins"] == of_map
        assert without_titles(run("find", alone, *wanted, *timed).out) == without_titles(run("find", full, *wanted).out)


def test_find_leaves_times_out_where_the_tempo_is_not_known(run: Command, pinned: Pinned) -> None:
    full, alone, _ = pinned(MINUET)
    wanted = ("--plate", "3", "--step", "5")
    timed, untimed = (json.loads(run("find", folder, *wanted, "--json").out) for folder in (full, alone))
    closed("pins-found-1.json").validate(untimed)
    assert {pin["sound_s"] for pin in untimed["pins"]} == {None}
    assert [pin | {"sound_s": 0} for pin in untimed["pins"]] == [pin | {"sound_s": 0} for pin in timed["pins"]]
    heads = [run("find", folder, *wanted).out.splitlines()[2].split() for folder in (full, alone)]
    assert [head[:3] for head in heads] == [["time", "plate", "channel"], ["plate", "channel", "place"]]


def test_edited_csv_files_become_a_map_that_check_finds_sound(run: Command, pinned: Pinned, tmp_path: Path) -> None:
    full, alone, tempo = pinned(TANGO)
    pin = json.loads((full / "pin-map.json").read_bytes())["plates"][0]["pins"][0]
    line = f"remove plate 1, channel {pin['channel']}, step {pin['step']} {pin['row_name']}"
    for folder, options in ((full, ()), (alone, tempo)):
        assert run("edit", folder, line, "-o", tmp_path / f"new-{folder.name}", *options).code == 0
    by_map, by_csv = (json.loads((tmp_path / f"new-{each.name}/pin-map.json").read_bytes()) for each in (full, alone))
    closed("pin-map-3.json").validate(by_csv)
    for key in ("map_sha256", "plates", "hand_edits", "pin_count", "layout", "wheel"):
        assert by_csv[key] == by_map[key]
    assert by_csv["score"] == {"title": alone.name, "file": alone.name, "sha256": "0" * 64}
    assert by_csv["fit"]["us_per_quarter"] == by_map["fit"]["us_per_quarter"]
    done = run("check", tmp_path / f"new-{alone.name}")
    assert done.code == 0
    assert "No rule is broken" in done.out
    assert run("edit", tmp_path / f"new-{alone.name}", "--undo", "-o", tmp_path / "back.json").code == 0
    back = json.loads((tmp_path / "back.json").read_bytes())
    assert back["map_sha256"] == json.loads((full / "pin-map.json").read_bytes())["map_sha256"]


def test_edits_of_csv_files_are_checked_at_the_tempo_given(run: Command, pinned: Pinned) -> None:
    _, alone, _ = pinned("shrimpers-jig.mid")
    line = "set plate 1, channel 8, step 3 half"
    assert "is struck again after" in run("edit", alone, line, "--tempo", "156").refused(2)
    assert run("edit", alone, line, "--tempo", SLOW).code == 0


@pytest.mark.parametrize("song", [MINUET])
def test_the_sheets_of_csv_files_have_their_pins_where_those_of_the_map_do(
    run: Command, pinned: Pinned, tmp_path: Path, song: str
) -> None:
    full, alone, tempo = pinned(song)
    again = tmp_path / "again"
    assert run("pin", full, "-o", tmp_path / "of-map").code == 0
    assert run("pin", alone, *tempo, "-o", again).code == 0
    sheets = [pages_of(folder / "print-a4.pdf", "Pin sheets") for folder in (tmp_path / "of-map", again)]
    assert len(sheets[0]) == len(sheets[1]) == 6
    for of_map, of_csv in zip(*sheets, strict=True):
        middles = [{(round(x, 2), round(y, 2)) for x, y in black_middles_mm(page)} for page in (of_map, of_csv)]
        lacking = middles[0] - middles[1]
        assert len(middles[0]) > 20
        assert not lacking
    for table in full.glob("plate-*.csv"):
        assert (again / table.name).read_bytes() == table.read_bytes()
    document = json.loads((again / "pin-map.json").read_bytes())
    closed("pin-map-3.json").validate(document)
    assert document["map_sha256"] == json.loads((full / "pin-map.json").read_bytes())["map_sha256"]
    assert run("check", again).code == 0


def test_the_page_of_csv_files_alone_has_every_pin(run: Command, pinned: Pinned, tmp_path: Path) -> None:
    full, alone, tempo = pinned(MINUET)
    notes = []
    for folder, options in ((full, ()), (alone, tempo)):
        page = tmp_path / f"{folder.name}.html"
        assert run("pin", folder, "--page", page, *options).code == 0
        data = page.read_text(encoding="utf-8").partition('<script type="application/json" id="data">')[2]
        notes.append(json.loads(data.partition("</script>")[0])["notes"])
    assert notes[0] == notes[1]


def test_a_plate_is_compared_with_csv_files_that_were_kept(run: Command, pinned: Pinned, tmp_path: Path) -> None:
    _, alone, tempo = pinned(MINUET)
    lines = (alone / "plate-2.csv").read_bytes().splitlines(keepends=True)
    (tmp_path / "plate-2.csv").write_bytes(b"".join([*lines[:1], *lines[2:]]))
    done = run("check", tmp_path / "plate-2.csv", "--of", alone, *tempo)
    assert done.code == 0
    assert "remove plate 2, channel" in done.out


COMMANDS = [
    ("hear", "FOLDER", "--tempo", SLOW),
    ("pin", "FOLDER", "--tempo", SLOW, "-o", "out"),
    ("find", "FOLDER", "--bar", "1"),
    ("edit", "FOLDER", "remove plate 1, channel 1, step 1", "--tempo", SLOW),
    ("swap", "--from", "empty", "FOLDER"),
    ("swap", "FOLDER", "FOLDER"),
    ("pin", SONGS / MINUET, "--from", "FOLDER", "-o", "out"),
    ("check", "FOLDER"),
]


def of(run: Command, command: tuple[str | Path, ...], folder: Path) -> Ran:
    return run(*(folder if each == "FOLDER" else each for each in command))


def test_what_is_wrong_with_csv_files_is_said_in_one_line_by_every_command(
    run: Command, pinned: Pinned, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    _, alone, _ = pinned(MINUET)
    (tmp_path / "empty").mkdir()
    monkeypatch.chdir(tmp_path / "empty")
    table = alone / "plate-4.csv"
    data = table.read_bytes()
    line = data.splitlines(keepends=True)[1]
    faults = (
        (None, "has no CSV file of plate 4"),
        (data + line, "is a second pin in the hole of"),
        (data.replace(line, line.partition(b",")[2]), "plate-4.csv line 2: has 17 cells and the header 18"),
        (b"a,b\r\n1,2\r\n", "has no header line with plate, channel, row, hole and pin_type"),
    )
    for changed, told in faults:
        table.unlink(missing_ok=True)
        if changed is not None:
            table.write_bytes(changed)
        for command in COMMANDS:
            assert told in of(run, command, alone).refused(1)
    assert not list(Path().iterdir())


def test_csv_files_in_folders_of_sets_of_plates_name_the_folder_of_one(run: Command, tmp_path: Path) -> None:
    full = tmp_path / "pier"
    assert run("pin", SONGS / PIER, "-o", full, "--no-remedies").code == 0
    for path in full.rglob("pin-map.json"):
        path.unlink()
    for command in COMMANDS:
        assert "name the folder of one set of plates in it: A or B" in of(run, command, full).refused(1)
    assert run("hear", full / "B", "--tempo", SLOW, "-o", tmp_path / "b.mid").code == 0
    with (full / "B/plate-1.csv").open(encoding="utf-8", newline="") as file:
        assert len(list(csv.reader(file))) > 1
    rows = sum(plain_bytes(path, 10**6).count(b"\r\n") - 1 for path in (full / "B").glob("plate-*.csv"))
    assert len(strikes(tmp_path / "b.mid")) == rows


@pytest.mark.parametrize(
    ("command", "told"),
    [
        (("hear",), "its CSV files do not say the tempo, and there is no map that does (add it in quarter notes a"),
        (("pin", "-o", "out"), "its CSV files do not say the tempo"),
        (("pin", "--page", "page.html"), "its CSV files do not say the tempo"),
        (("find", "--at", "3"), "its CSV files do not say the tempo"),
        (("edit", "remove plate 1, channel 1, step 1"), "its CSV files do not say the tempo"),
        (("edit", "--tempo", SLOW), "there is no edit to make: the folder has no map to compare its CSV files with"),
        (("edit", "--undo", "--tempo", SLOW), "there is no edit to make: the map lists none"),
        (("hear", "--tempo", SLOW, "--bars", "1-2"), "--tempo, --start and --plate-set say what CSV files without a"),
        (("hear", "--tempo", SLOW, "--compare", "beside"), "--compare: needs the score"),
    ],
)
def test_what_csv_files_do_not_say_is_asked_for_in_one_line(
    run: Command, pinned: Pinned, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, command: tuple[str, ...], told: str
) -> None:
    _, alone, _ = pinned(MINUET)
    (tmp_path / "empty").mkdir()
    monkeypatch.chdir(tmp_path / "empty")
    assert told in run(command[0], alone, *command[1:]).refused(2)
    assert not list(Path().iterdir())


def test_a_tempo_is_refused_where_the_map_has_one(run: Command, pinned: Pinned) -> None:
    full, _, tempo = pinned(MINUET)
    for command in (("find", full, "--bar", "1"), ("edit", full, "remove plate 1, channel 1, step 1")):
        for name, value in (tempo, ("--start", "5")):
            assert f"{name}: goes with a folder of CSV files without a map" in run(*command, name, value).refused(2)


def test_csv_files_are_no_score_and_list_no_edits(run: Command, pinned: Pinned, tmp_path: Path) -> None:
    _, alone, _ = pinned(MINUET)
    assert "the folder is that of a pin map, not a score" in run("fit", alone).refused(1)
    told = run("pin", SONGS / MINUET, "--edits", alone, "-o", tmp_path / "out").refused(1)
    assert "is a folder of CSV files, which list no edits" in told


def test_cells_of_notes_that_no_map_can_have_are_taken_as_not_known(
    run: Command, pinned: Pinned, tmp_path: Path
) -> None:
    full, alone, tempo = pinned(MINUET)
    table = alone / "plate-1.csv"
    header, *rows = csv.reader(io.StringIO(table.read_text(encoding="utf-8"), newline=""))
    wrong = {"note": "0", "written_pitch_midi": "128", "channel_pitch_midi": "999", "deviation_ms": "soon"}
    for name, cell in wrong.items():
        rows[0][header.index(name)] = cell
    text = io.StringIO(newline="")
    csv.writer(text).writerows([header, *rows])
    table.write_text(text.getvalue(), encoding="utf-8", newline="")
    assert run("pin", alone, *tempo, "-o", tmp_path / "again").code == 0
    written, known = (json.loads((each / "pin-map.json").read_bytes()) for each in (tmp_path / "again", full))
    assert {name: written["plates"][0]["pins"][0][name] for name in wrong} == dict.fromkeys(wrong)
    assert written["map_sha256"] == known["map_sha256"]


def test_plates_without_pins_are_a_map_of_no_pins(run: Command, pinned: Pinned, tmp_path: Path) -> None:
    _, alone, _ = pinned(MINUET)
    for table in alone.glob("*.csv"):
        table.write_bytes(table.read_bytes().splitlines(keepends=True)[0])
    done = run("hear", alone, "--tempo", SLOW, "-o", tmp_path / "none.mid")
    assert done.code == 0
    assert "Nothing to hear: the map has no pins" in done.out
    assert json.loads(run("swap", "--from", "empty", alone, "--json").out)["set_count"] == 0
