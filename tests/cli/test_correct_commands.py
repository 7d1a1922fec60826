"""Maps found in, corrected and checked from the command line."""

from __future__ import annotations

import json
import random
import shutil
from pathlib import Path

import pytest

from commands import SONGS, WHEEL, Command, runner
from pegwright.read.pinmap import read_pin_map
from schemas import closed
from thorough import cases

JIG, PIER = SONGS / "shrimpers-jig.mid", SONGS / "round-the-pier-and-back.mxl"


@pytest.fixture
def run(capsys: pytest.CaptureFixture[str]) -> Command:
    plain = runner(capsys)
    return lambda *arguments: plain(*arguments, "--wheel", WHEEL)


@pytest.fixture(scope="module")
def written(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The folders that `pin` writes for a song of one turn and one of two."""
    from pegwright.config import load_wheel
    from pegwright.song_pipeline.files import song_files
    from pegwright.song_pipeline.fitting import fit_file
    from pegwright.write.folder import write_folder

    folder = tmp_path_factory.mktemp("maps")
    for name, song in (("jig", JIG), ("pier", PIER)):
        files = song_files(fit_file(song, load_wheel(WHEEL)), remedies=False)
        maps = {file: data for file, data in files.items() if file.endswith(("map.json", ".csv"))}
        write_folder(folder / name, {file: data for file, data in maps.items() if "count" not in file})
    return folder


@pytest.fixture
def jig(written: Path, tmp_path: Path) -> Path:
    return Path(shutil.copytree(written / "jig", tmp_path / "jig"))


@pytest.fixture
def pier(written: Path, tmp_path: Path) -> Path:
    return Path(shutil.copytree(written / "pier", tmp_path / "pier"))


def test_a_sound_map_is_said_to_be_sound(run: Command, jig: Path, pier: Path) -> None:
    for path, words in ((jig, "The Shrimpers' Jig: 205 pins."), (pier, "Round the Pier and Back: 382 pins on 2 sets")):
        done = run("check", path)
        assert done.code == 0
        assert done.out.startswith(words)
        assert "No rule is broken" in done.out
    assert run("check", jig / "pin-map.json").code == 0
    assert json.loads(run("check", pier, "--json").out)["faults"] == []


def test_a_pin_taken_out_in_a_spreadsheet_is_found_checked_and_made_an_edit(run: Command, jig: Path) -> None:
    table = jig / "plate-1.csv"
    lines = table.read_bytes().split(b"\r\n")
    table.write_bytes(b"\r\n".join([*lines[:2], *lines[3:]]))
    edit = "remove plate 1, channel 5 (chime D5), step 1 on, plain"
    for path in (jig, table):
        done = run("check", path)
        assert done.code == 0
        assert edit in done.out
    new = jig.parent / "new"
    done = run("edit", jig, "-o", new)
    assert done.code == 0
    assert "205 pins before, 204 after" in done.out
    assert (new / "plate-1.csv").read_bytes() == table.read_bytes()
    document = json.loads((new / "pin-map.json").read_bytes())
    closed("pin-map-3.json").validate(document)
    assert document["hand_edits"]["edits"][0]["edit"] == edit
    assert document["hand_edits"]["notes_removed"] == 1
    assert read_pin_map(new / "pin-map.json").pin_count == 204
    back = jig.parent / "back.json"
    assert run("edit", new, "--undo", "-o", back).code == 0
    assert back.read_bytes() == (jig / "pin-map.json").read_bytes()


def test_a_folder_of_csv_files_alone_is_checked_at_a_tempo(run: Command, jig: Path) -> None:
    (jig / "pin-map.json").unlink()
    untimed = run("check", jig)
    assert untimed.code == 0
    assert "No tempo is known" in untimed.out
    fast = run("check", jig, "--tempo", "600")
    assert fast.code == 3
    assert "is struck again after" in fast.out
    (jig / "plate-4.csv").unlink()
    assert "has no CSV file of plate 4" in run("check", jig).refused(1)


def test_an_edit_that_breaks_a_rule_needs_force_and_is_then_reported_by_check(run: Command, jig: Path) -> None:
    line, new = "set plate 1, channel 8, step 3 half", jig.parent / "new.json"
    refusal = run("edit", jig, line, "-o", new).refused(2)
    assert "chime F#5 is struck again after 48.1 ms where 110 ms are needed" in refusal
    assert not new.exists()
    assert run("edit", jig, line, "-o", new, "--force").code == 0
    document = json.loads(new.read_bytes())
    closed("pin-map-3.json").validate(document)
    assert "is struck again after 48.1 ms" in document["hand_edits"]["findings"][0]
    done = run("check", new)
    assert done.code == 3
    assert "1 fault:" in done.out
    fault = json.loads(run("check", new, "--json").out)["faults"][0]
    assert (fault["rule"], [pin["step"] for pin in fault["pins"]]) == ("restrike", ["3", "3.5"])


def test_several_faults_are_counted_before_the_first_of_them(run: Command, jig: Path) -> None:
    """A long line is cut in its middle, and the number is not to be lost."""
    lines = ("set plate 1, channel 8, step 3 half", "set plate 1, channel 5, step 1 half")
    told = run("edit", jig, *lines).refused(2)
    assert "the edits lead to 2 faults, the first of them: chime " in told
    assert " … " in told
    forced = run("edit", jig, *lines, "--force", "-o", jig.parent / "forced")
    assert "2 faults kept in the map:" in forced.out
    printed = run("pin", jig.parent / "forced", "-o", jig.parent / "forced-pins").out
    told_again = printed[printed.index("2 faults kept in the map:") :].split("\n\n")[0]
    assert told_again in forced.out
    assert "kept in the map" not in run("pin", jig, "-o", jig.parent / "plain-pins").out


def test_edits_are_made_again_from_the_folder_of_their_map(run: Command, jig: Path, pier: Path) -> None:
    for song, folder, lines in (
        (JIG, jig, ("remove plate 1, channel 5, step 1",)),
        (PIER, pier, ("B: remove plate 1, channel 6, step 1", "A: remove plate 1, channel 5, step 5")),
    ):
        edited, again = jig.parent / f"{folder.name}-2", jig.parent / f"{folder.name}-3"
        assert run("edit", folder, *lines, "-o", edited).code == 0
        assert run("pin", song, "--no-remedies", "--edits", edited, "-o", again).code == 0
        maps = sorted(path.relative_to(edited) for path in edited.rglob("pin-map.json"))
        assert len(maps) == len(lines)
        assert [path for path in maps if (edited / path).read_bytes() != (again / path).read_bytes()] == []
    assert "is a map to which no edits were made" in run("pin", JIG, "--edits", jig, "-o", "no").refused(1)


def test_edits_of_a_set_of_plates_and_of_a_file(run: Command, pier: Path) -> None:
    lines = pier.parent / "lines.txt"
    lines.write_text("# after the rehearsal\nB: remove plate 1, channel 6, step 1\n\n", encoding="utf-8")
    new = pier.parent / "new"
    assert run("edit", pier, lines, "A: remove plate 1, channel 5, step 5", "-o", new).code == 0
    counts = [json.loads((new / letter / "pin-map.json").read_bytes())["pin_count"] for letter in "AB"]
    assert counts == [162, 218]
    said = run("edit", pier, "remove plate 1, channel 5, step 5").refused(2)
    assert "does not say for which set of plates (begin it with A: or B:)" in said
    one = run("edit", pier, lines, "-o", pier.parent / "one.json").refused(2)
    assert "a song of 2 sets of plates takes as many maps" in one


def test_pin_makes_the_edits_again_and_says_which_no_longer_apply(run: Command, jig: Path) -> None:
    lines = jig.parent / "lines.txt"
    wrong = "remove plate 1, channel 5, step 2\n"
    lines.write_text(f"remove plate 1, channel 5, step 1\n{wrong}", encoding="utf-8")
    folder = jig.parent / "again"
    done = run("pin", JIG, "--no-remedies", "--edits", lines, "-o", folder)
    assert done.code == 0
    text = " ".join(done.out.split())
    assert "204 of 205 notes sound; none left out; 1 dropped on request: 1 by --edits." in text
    assert "after the fit: remove plate 1, channel 5 (chime D5), step 1 on, plain" in text
    assert "not made: remove plate 1, channel 5 (chime D5), step 2 on: there is no pin in plate 1" in text
    assert "Sounding: 204 notes, 204 exact" in text
    assert read_pin_map(folder / "pin-map.json").pin_count == 204
    report = json.loads((folder / "report.json").read_bytes())
    assert report["count"]["dropped_by_option"] == {"edits": 1}
    by_hand = jig.parent / "by-hand"
    assert run("edit", jig, "remove plate 1, channel 5, step 1", "-o", by_hand).code == 0
    assert (by_hand / "pin-map.json").read_bytes() == (folder / "pin-map.json").read_bytes()


def test_pins_are_found_by_bar_time_hole_and_channel(run: Command, jig: Path, pier: Path) -> None:
    for options in (("--bar", "2", "--beat", "4"), ("--at", "1.75"), ("--plate", "1", "--step", "19")):
        out = run("find", jig, *options).out
        assert "The Shrimpers' Jig: 3 pins here." in out
        assert "6 chime E5" in out
        assert "step 19 on" in out
        assert "Chimes:bar 2 beat 4" in out
        assert "before" in out
        assert "after" in out
    assert "205 pins." not in run("find", jig, "--channel", "chime g4").out
    rows = json.loads(run("find", pier, "--set", "b", "--channel", "wood block", "--json").out)["pins"]
    assert {row["set"] for row in rows} == {"B"}
    assert {row["channel_name"] for row in rows} == {"wood block"}


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (("edit", "MAP"), "there is no edit to make: the CSV files in the folder say what the map says"),
        (("edit", "MAP/pin-map.json"), "there is no edit to make: none were given"),
        (("edit", "MAP", "--undo"), "there is no edit to make: the map lists none"),
        (("edit", "MAP", "--undo", "remove plate 1, channel 5, step 1"), "--undo goes without edits"),
        (("edit", "MAP", "remove plate 1, channel chime F6, step 3"), "the nearest name is 'chime F5'"),
        (
            ("edit", "MAP", "remove plate 1, channel 5, step 2"),
            "there is no pin in plate 1, channel 5 (chime D5), step 2",
        ),
        (("edit", "MAP", "set plate 1, channel 5, step 1"), "there is a pin (plain) in plate 1, channel 5 (chime D5)"),
        (("edit", "MAP", "set plate 1, channel 5, step 32 half", "--force"), "the wheel has no hole at plate 1"),
        (("edit", "MAP", "remove plate 1, channel 5, step 1, late"), "the pin there is plain, not late"),
        (("edit", "MAP", "B: remove plate 1, channel 5, step 1"), "there is no set of plates B"),
        (("edit", "MAP", "missing.txt"), "missing.txt: cannot be read"),
        (("edit", "MAP", "my missing.txt"), "my missing.txt: cannot be read"),
        (
            ("edit", "MAP", "remov plate 3, channel 7, step 12.5"),
            "is not an edit (did you mean remove? an edit is such",
        ),
        (("edit", "MAP", "B: mvoe plate 3, channel 7, step 1"), "is not an edit (did you mean move? an edit is such"),
        (
            ("edit", "MAP", "set plate 1 channel 5 step 2"),
            "has no channel and step (commas stand between them; an edit is such as 'remove plate 3, channel 7, step",
        ),
        (("edit", "MAP", "take plate 3 out"), "edit 1 'take plate 3 out': is not an edit (an edit is such as"),
        (("edit", "MAP", "remove plate 1, channel 5, step 1", "-o", "MAP"), "is the map itself"),
        (("edit", "missing", "remove plate 1, channel 5, step 1"), "missing: cannot be read"),
        (("check", "MAP", "--tempo", "100"), "--tempo: goes with a folder of CSV files without a map"),
        (("check", "MAP", "--of", "MAP"), "--of: goes with the CSV file of a plate"),
        (("check", "missing"), "missing: cannot be read"),
        (("check", "MAP/no.csv"), "no.csv: cannot be read"),
        (("find", "MAP"), "nothing to look for"),
        (("find", "MAP", "--bar", "3", "--at", "2"), "are three ways to name a moment"),
        (("find", "MAP", "--beat", "3"), "--beat: goes with --bar"),
        (("find", "MAP", "--step", "3"), "--step: goes with --plate"),
        (("find", "MAP", "--plate", "7"), "there is no plate 7 among 6"),
        (("find", "MAP", "--plate", "1", "--step", "33"), "a plate has steps 1 to 32"),
        (("find", "MAP", "--channel", "kazoo"), "there is no channel 'kazoo'"),
        (("find", "MAP", "--bar", "17"), "--bar: there is no bar '17' among bars 1 to 16"),
        (("find", "MAP", "--bar", "coda"), "--bar: there is no bar 'coda' among bars 1 to 16"),
        (("find", "MAP", "--at", "99"), "--at: 99 is outside 0 to 18.462, the seconds of a turn"),
        (("find", "MAP", "--bar", "1", "--set", "C"), "there is no set of plates 'C'"),
        (("find", "MAP", "--bar", "1", "--beat", "x"), "'x' is not such as 3, 2.5 or 4 2/3"),
    ],
)
def test_what_cannot_be_done_is_one_line(
    arguments: tuple[str, ...], words: str, run: Command, jig: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(jig.parent)
    before = sorted(jig.parent.rglob("*"))
    done = run(*(argument.replace("MAP", "jig") for argument in arguments))
    assert words in done.refused(done.code)
    assert done.code in {1, 2}
    assert sorted(jig.parent.rglob("*")) == before


def test_a_map_of_another_wheel_is_refused_or_its_faults_are_listed(run: Command, jig: Path) -> None:
    path = jig / "pin-map.json"
    path.write_bytes(
        path.read_bytes().replace(b'"chime D5", "row"', b'"kazoo", "row"').replace(b'chime D5"', b'kazoo"')
    )
    done = run("check", path)
    assert done.code == 3
    assert "channel 5 is 'kazoo' in the map and 'chime D5' on the wheel" in " ".join(done.out.split())
    assert "kazoo" in run("edit", path, "remove plate 1, channel 5, step 1").refused(1)


def test_csv_files_that_are_not_as_the_map_is_are_said_to_be_ignored(run: Command, jig: Path, pier: Path) -> None:
    swap, new = ("swap", "--from", "empty", jig), jig.parent / "new"
    commands: tuple[tuple[str | Path, ...], ...] = (
        ("find", jig, "--bar", "1"),
        ("hear", jig, "-o", jig.parent / "a.mid", "--overwrite"),
        swap,
    )
    commands += (("swap", jig, jig / "pin-map.json"), ("pin", jig, "-o", new, "--overwrite"))
    commands += (("pin", JIG, "--no-remedies", "--from", jig, "-o", new, "--overwrite"),)
    for command in commands:
        assert "plate-" not in run(*command).err
    table = jig / "plate-3.csv"
    data = table.read_bytes()
    table.write_bytes(data.replace(b",", b";").replace(b"\r\n", b"\n"))  # saved by a spreadsheet, not changed
    assert run(*commands[0]).err == ""
    lines = data.split(b"\r\n")
    for changed in (b"\r\n".join([*lines[:2], *lines[3:]]), b"no header"):
        table.write_bytes(changed)
        notice = f"pegwright: plate-3.csv differs from the map: `pegwright edit {jig} -o NEW` makes it so\n"
        assert all(run(*command).err.count(notice) == 1 for command in commands)
    assert run("find", jig / "pin-map.json", "--bar", "1").err == ""
    table.write_bytes(data)
    (pier / "B/plate-2.csv").unlink()
    (pier / "B/plate-4.csv").unlink()
    missing = f"B/plate-2.csv and B/plate-4.csv are missing: `pegwright pin {pier} -o NEW` writes them again"
    assert missing in run("find", pier, "--bar", "1").err


def test_a_missing_csv_file_is_a_fault_of_the_folder(run: Command, jig: Path, pier: Path) -> None:
    (jig / "plate-4.csv").unlink()
    (pier / "B/plate-2.csv").unlink()
    for path, letter, words in ((jig, None, "plate-4.csv"), (pier, "B", "plate-2.csv")):
        done = run("check", path)
        assert done.code == 3
        assert "1 fault:" in done.out
        (fault,) = json.loads(run("check", path, "--json").out)["faults"]
        message = f"{words} is missing beside pin-map.json"
        assert (fault["set"], fault["rule"], fault["message"]) == (letter, "file", message)
    for table in jig.glob("plate-*.csv"):
        table.unlink()
    assert run("check", jig).code == 0  # a map that was taken elsewhere by itself


def test_a_misspelt_edit_is_a_fault_of_the_command_and_a_file_with_spaces_is_one(run: Command, jig: Path) -> None:
    assert run("edit", jig, "remov plate 3, channel 7, step 12 on").code == 2
    lines = jig.parent / "after the rehearsal"
    lines.write_text("remove plate 1, channel 5, step 1\n", encoding="utf-8")
    assert run("edit", jig, lines).code == 0


def test_a_folder_without_csv_files_is_said_to_have_none(run: Command, jig: Path, pier: Path) -> None:
    bare, other = jig.parent / "bare", jig.parent / "other"
    bare.mkdir()
    assert f"{bare}: this folder holds no CSV files of plates" in run("edit", jig, bare).refused(1)
    shutil.copy(jig / "pin-map.json", bare)
    assert f"{bare}: this folder holds no CSV files of plates" in run("edit", jig, bare).refused(1)
    assert "no edit to make: the folder holds no CSV files of plates" in run("edit", bare).refused(2)
    shutil.copytree(pier, other)
    lines = (other / "B/plate-1.csv").read_bytes().split(b"\r\n")
    (other / "B/plate-1.csv").write_bytes(b"\r\n".join([*lines[:1], *lines[2:]]))
    assert "B: remove plate 1, " in run("edit", pier, other).out


def test_a_bar_is_one_of_the_song_or_of_the_set_of_plates_that_is_named(run: Command, pier: Path) -> None:
    assert run("find", pier, "--bar", "24").code == 0
    refusal = run("find", pier, "--bar", "12", "--set", "B").refused(2)
    assert "there is no bar '12' among bars 13 to 24" in refusal
    assert "among bars 1 to 24" in run("find", pier, "--bar", "99").refused(2)


@pytest.mark.parametrize(("delimiter", "encoding"), [(",", "utf-8"), (";", "utf-8-sig"), ("\t", "utf-16")])
def test_a_plates_csv_is_known_where_a_map_or_a_song_is_expected(
    run: Command, jig: Path, delimiter: str, encoding: str
) -> None:
    table = jig / "plate-3.csv"
    table.write_bytes(table.read_bytes().decode().replace(",", delimiter).encode(encoding))
    commands: tuple[tuple[str | Path, ...], ...] = (("find", table, "--bar", "1"), ("hear", table), ("pin", table))
    commands += (("swap", jig, table), ("swap", table, jig), ("fit", table), ("pin", JIG, "--from", table))
    for command in commands:
        assert f"{table}: this is a plate's CSV (name its folder)" in run(*command).refused(1)


def changed_wheel(folder: Path, old: str, new: str) -> Path:
    """The demo wheel with something replaced in its file."""
    text, path = WHEEL.read_text(encoding="utf-8"), folder / "changed.toml"
    assert text.count(old) == 1
    path.write_text(text.replace(old, new), encoding="utf-8")
    return path


def test_check_reports_what_every_other_command_refuses(capsys: pytest.CaptureFixture[str], jig: Path) -> None:
    plain = runner(capsys)
    for old, new, fault in (
        ('step = "1/16"', 'step = "1/32"', "the value of a step is '1/16' in the map and '1/32' on the wheel"),
        ("plates = 6", "plates = 7", "the number of plates is 6 in the map and 7 on the wheel"),
    ):
        wheel = changed_wheel(jig.parent, old, new)
        for refused in (("hear", jig, "-o", jig.parent / "a.wav"), ("find", jig, "--bar", "1")):
            assert fault in plain(*refused, "--wheel", wheel).refused(1)
        done = plain("check", jig, "--wheel", wheel)
        assert done.code == 3
        assert fault in " ".join(done.out.split())
        faults = json.loads(plain("check", jig, "--wheel", wheel, "--json").out)["faults"]
        assert ("file", f"pin-map.json: {fault}") in {(each["rule"], each["message"]) for each in faults}


def test_changes_of_the_wheel_that_concern_no_pin_are_a_finding(capsys: pytest.CaptureFixture[str], jig: Path) -> None:
    plain = runner(capsys)
    wheel = jig.parent / "changed.toml"
    text = WHEEL.read_text(encoding="utf-8")
    wheel.write_text(f'{text}\n[[channel]]\nname = "kazoo"\npitches = [36]\n', encoding="utf-8")
    words = (
        "the wheel file was changed after this map was written: channel 'kazoo' was added; no pin of it is concerned"
    )
    for command in (("check", jig), ("find", jig, "--bar", "1")):
        done = plain(*command, "--wheel", wheel)
        assert done.code == 0
        assert words in " ".join(done.out.split())
    findings = json.loads(plain("check", jig, "--wheel", wheel, "--json").out)["findings"]
    assert [(each["code"], each["message"]) for each in findings] == [("wheel-changed", words)]
    assert words not in " ".join(plain("check", jig, "--wheel", WHEEL).out.split())


def test_damaged_maps_give_one_line_or_faults_and_never_a_traceback(run: Command, jig: Path) -> None:
    chance, path = random.Random(3), jig / "pin-map.json"  # noqa: S311  # a seeded sample
    data = path.read_bytes()
    codes = set()
    for _ in range(cases(20, 300)):
        damaged = bytearray(data)
        for _ in range(chance.randrange(1, 4)):
            place = chance.randrange(len(damaged))
            if chance.random() < 0.5:
                damaged[place] = chance.choice(b'0123456789"{},:x')
            else:
                del damaged[place : place + chance.randrange(1, 200)]
        path.write_bytes(damaged)
        for command in (
            ("check", path),
            ("find", path, "--bar", "2"),
            ("edit", path, "remove plate 1, channel 5, step 1"),
        ):
            done = run(*command)
            codes.add(done.code)
            assert done.code in {0, 1, 2, 3}, done
            if done.code in {1, 2}:
                done.refused(done.code)
    assert 1 in codes


def test_json_of_find_and_check_is_as_their_schemas_have_it(
    run: Command, capsys: pytest.CaptureFixture[str], jig: Path, pier: Path
) -> None:
    for options in (("--bar", "2"), ("--at", "1.7"), ("--plate", "1", "--step", "2"), ("--set", "B", "--channel", "6")):
        document = json.loads(run("find", pier, *options, "--json").out)
        assert document["pins"]
        closed("pins-found-1.json").validate(document)
    by_hand, line = jig.parent / "by-hand.json", "set plate 1, channel 8, step 3 half"
    assert run("edit", jig, line, "-o", by_hand, "--force").code == 0
    found = json.loads(run("find", by_hand, "--plate", "1", "--step", "3.5", "--json").out)
    assert [pin["note"] for pin in found["pins"] if pin["when"] == "here"] == [None]
    closed("pins-found-1.json").validate(found)
    table = jig / "plate-1.csv"
    lines = table.read_bytes().split(b"\r\n")
    table.write_bytes(b"\r\n".join([*lines[:2], *lines[3:]]))
    unknown = jig.parent / "unknown.json"
    unknown.write_bytes((jig / "pin-map.json").read_bytes().replace(b'"channel": 23,', b'"channel": 99,'))
    scarce = changed_wheel(jig.parent, 'name = "plain"\nstock = 640', 'name = "plain"\nstock = 64')
    rules: set[str] = set()
    for path, wheel in ((pier, WHEEL), (jig, WHEEL), (by_hand, WHEEL), (unknown, WHEEL), (pier, scarce)):
        document = json.loads(runner(capsys)("check", path, "--json", "--wheel", wheel).out)
        closed("pin-check-1.json").validate(document)
        assert bool(document["edits"]) == (path == jig)
        rules |= {fault["rule"] for fault in document["faults"]}
    assert rules >= {"restrike", "number", "file", "stock"}
