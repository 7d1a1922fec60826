"""A song file says the same as its options: the same bytes, in every command that takes a song."""

from __future__ import annotations

import json
import random
import re
import shlex
import shutil
from fractions import Fraction
from pathlib import Path

import pytest

import thorough
from commands import SONGS, WHEEL, Command, runner
from pegwright.bundled import bundled_songs
from pegwright.cli.fit import MAX_TAKEN
from pegwright.read import read_score
from pegwright.remedy.song_remedies import PER_SONG

REGRETS, TANGO, MARCH = "the-committee-regrets.musicxml", "turnstile-tango.mid", "lamplighters-march.mid"


@pytest.fixture
def pegwright(capsys: pytest.CaptureFixture[str], tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Command:
    monkeypatch.chdir(tmp_path)
    shutil.copytree(SONGS, tmp_path / "songs")
    shutil.copy(WHEEL, "wheel.toml")
    return runner(capsys)


def song(name: str) -> Path:
    return Path("songs") / name


def random_options(chance: random.Random, path: Path) -> list[str]:
    """Some options that a song can take, of every kind."""
    score = read_score(path)[0]
    pitched = [part.name for part in score.parts if not part.percussion]
    names, bars = [part.name for part in score.parts], len(score.bar_map.ticks)
    first = chance.randint(1, bars)
    can = [
        ["--bars", f"{first}-{chance.randint(first, bars)}"],
        ["--only", chance.choice(names)],
        ["--skip-silence"],
        ["--turns", str(chance.randint(1, 3))],
        ["--whole-bars"],
        ["--start", chance.choice(["1", "auto", "2.5", str(chance.randint(1, 192))])],
        ["--transpose", chance.choice(["auto --semitones 2", "auto", str(chance.randint(-12, 12))])],
        ["--fold-octaves"],
        ["--ornaments", "1/16"],
        ["--swing", chance.choice(["2:1", "straight", "3:2"])],
        ["--thin", str(chance.randint(1, 4))],
        ["--tempo", chance.choice(["60", "97.3", "120.125"])],
        ["--reach", str(Fraction(1, chance.randint(8, 96)))],
        ["--offset", chance.choice(["auto", "3"])],
        ["--priority", f"{chance.choice(names)}={chance.randint(1, 99)}"],
        ["--drum", f"{chance.randint(35, 50)}={chance.randint(35, 50)}"],
        ["--part-channels", f"{chance.choice(names)}=*"],
        ["--channel-rule", chance.choice(["prefer", "alternate"])],
    ]
    if pitched:
        can.append(["--move-part", f"{chance.choice(pitched)}={chance.choice([-12, 12])}"])
    return [word for words in chance.sample(can, chance.randint(0, 4)) for word in _words(words)]


def _words(words: list[str]) -> list[str]:
    return [words[0], *words[1].split()] if words[0] == "--transpose" else words


def test_random_options_and_the_file_that_keeps_them_give_the_same_report(pegwright: Command) -> None:
    chance, songs, equal = random.Random(14), bundled_songs(), 0  # noqa: S311
    for number in range(thorough.cases(len(songs), 200)):
        path = song(songs[number % len(songs)].name)
        options = random_options(chance, path)
        asked = pegwright("fit", path, *options, "--keep", "kept.toml", "--overwrite", "--json")
        if asked.code:  # such as a part without notes in these bars: nothing is kept of what cannot be fitted
            continue
        kept = pegwright("fit", "kept.toml", "--json")
        assert (kept.code, kept.err) == (0, ""), options
        assert kept.out == asked.out, options
        equal += 1
    assert equal > thorough.cases(len(songs), 200) * 2 // 3


@pytest.mark.parametrize("name", [path.name for path in bundled_songs()][:: thorough.cases(5, 1)])
def test_every_file_that_is_pinned_is_the_same_byte_for_byte(pegwright: Command, name: str) -> None:
    options = random_options(random.Random(name), song(name))  # noqa: S311
    assert pegwright("fit", song(name), *options, "--keep", "kept.toml").code == 0
    assert pegwright("pin", song(name), *options, "-o", "options", "--no-remedies").code == 0
    assert pegwright("pin", "kept.toml", "-o", "file", "--no-remedies").code == 0
    assert files_in(Path("options")) == files_in(Path("file"))


def files_in(folder: Path) -> dict[str, bytes]:
    return {str(path.relative_to(folder)): path.read_bytes() for path in sorted(folder.rglob("*")) if path.is_file()}


def test_every_command_takes_it_where_it_takes_a_song(pegwright: Command) -> None:
    options = ["--transpose", "12", "--thin", "2", "--bars", "1-24"]
    pegwright("fit", song(TANGO), *options, "--keep", "tango.toml")
    for verb, more in (("hear", ["-o"]), ("pin", ["--no-remedies", "-o"])):
        assert pegwright(verb, song(TANGO), *options, *more, *(["a.mid"] if verb == "hear" else ["a"])).code == 0
        assert pegwright(verb, "tango.toml", *more, *(["b.mid"] if verb == "hear" else ["b"])).code == 0
    assert Path("a.mid").read_bytes() == Path("b.mid").read_bytes()
    now = Path("a/pin-map.json")
    assert pegwright("swap", now, "tango.toml").out == pegwright("swap", now, song(TANGO), *options).out
    only = ["--only", "Bass"]
    pegwright("fit", song(TANGO), *only, "--keep", "bass.toml")
    assert pegwright("song", "bass.toml").out == pegwright("song", song(TANGO), *only).out
    assert "Merrow Sands Pavilion" in pegwright("song", "bass.toml").out


def test_a_show_of_song_files_is_the_show_of_the_same_options(pegwright: Command) -> None:
    asked = {MARCH: ["--start", "2"], TANGO: ["--transpose", "12", "--thin", "2"], REGRETS: ["--tempo", "68.1"]}
    tables, kept = [], []
    for name, options in asked.items():
        pegwright("fit", song(name), *options, "--keep", f"{name}.toml")
        keys = [f"{typed[2:]} = {value}" for typed, value in zip(options[::2], options[1::2], strict=True)]
        tables.append("\n".join(["[[song]]", f'score = "songs/{name}"', "times = 2", *keys]))
        kept.append(f'[[song]]\nscore = "{name}.toml"\ntimes = 2')
    for place, songs in (("options.toml", tables), ("files.toml", kept)):
        Path(place).write_text("\n".join(['title = "E"', 'wheel = "wheel.toml"', *songs]), encoding="utf-8")
    shows = [pegwright("set", place, "--json") for place in ("options.toml", "files.toml")]
    assert shows[0].out == shows[1].out
    assert json.loads(shows[1].out)["songs"][1]["count"]["dropped_by_option"]["thin"] > 0
    texts = [pegwright("set", place, "-o", place[:-5]).code for place in ("options.toml", "files.toml")]
    assert texts == [0, 0]
    assert files_in(Path("options")) == files_in(Path("files"))


def test_a_song_of_a_set_is_taken_by_its_name_or_number_with_the_options_of_its_table(pegwright: Command) -> None:
    first, second = '[[song]]\nscore = "songs/{}"\nstart = 1\nthin = 2\n', '[[song]]\nscore = "songs/{}"\n'
    text = f'title = "E"\nwheel = "wheel.toml"\n{first}{second}'
    Path("e.toml").write_text(text.format(TANGO, MARCH), encoding="utf-8")
    asked = pegwright("fit", song(TANGO), "--thin", "2").out
    for name in ("turnstile-tango", TANGO, "1"):
        assert pegwright("fit", "e.toml", "--song", name).out == asked, name
    free = pegwright("fit", song(MARCH), "--start", "auto").out
    assert pegwright("fit", "e.toml", "--song", "2").out == free, "a free start, as in the show"
    Path("e.toml").write_text(text.format(TANGO, TANGO), encoding="utf-8")
    told = pegwright("fit", "e.toml", "--song", "turnstile-tango").refused(2)
    assert "has 2 songs of this name: 'turnstile-tango' (choose one by its number: 1, 2)" in told
    assert "goes with a song set (wheel.toml is none" in pegwright("fit", "wheel.toml", "--song", "x").refused(2)


def test_options_on_the_command_line_take_the_place_of_those_in_the_file(pegwright: Command) -> None:
    Path("t.toml").write_text(
        f'score = "songs/{TANGO}"\nthin = 2\nstart = 5\nmove_parts = {{ Bass = 12, Chimes = -12 }}\n', encoding="utf-8"
    )
    over = ["--thin", "3", "--start", "1", "--move-part", "Bass=-12"]
    assert pegwright("fit", "t.toml", *over).out == pegwright("fit", song(TANGO), *over).out
    asked = "Options --start 5 --move-part Bass=12 --move-part Chimes=-12 --thin 3"
    assert asked in pegwright("fit", "t.toml", "--thin", "3").out
    Path("auto.toml").write_text(f'score = "songs/{TANGO}"\ntranspose = "auto"\nsemitones = 2\n', encoding="utf-8")
    assert (
        pegwright("fit", "auto.toml", "--transpose", "3").out == pegwright("fit", song(TANGO), "--transpose", "3").out
    )
    assert "--transpose auto --semitones 3" in pegwright("fit", "auto.toml", "--semitones", "3").out
    searched = pegwright("fit", "t.toml", "--search", "--no-remedies").out
    assert "Compared 25 transpositions x 192 starts" in searched
    assert pegwright("fit", "t.toml", "--semitones", "3").refused(2).endswith("(add --transpose auto, or leave it out)")


def test_a_remedy_is_printed_as_the_whole_command_and_does_what_it_says(pegwright: Command) -> None:
    text = pegwright("fit", song(REGRETS), "--thin", "4", "-w", "wheel.toml", "--remedies").out
    remedies = re.findall(r"^ +\d\. (.*?)\n +(pegwright fit .*?)(?=\n +\d\. |\n\n)", text, re.MULTILINE | re.DOTALL)
    assert PER_SONG < len(remedies) <= MAX_TAKEN
    for words, command in remedies:
        arguments = shlex.split(command.replace("\\\n", " "))[1:]
        assert arguments[1:4] == [str(song(REGRETS)), "--wheel", "wheel.toml"]
        assert "--thin 4" in " ".join(arguments), "what was asked for stays"
        sounding = re.search(r"(\d+) of 247\s+notes\s+sound", words)
        assert sounding
        assert pegwright(*arguments).out.startswith(f"{sounding[1]} of 247 notes sound"), command


def test_json_and_page_have_the_whole_command_too(pegwright: Command) -> None:
    report = pegwright("fit", song(REGRETS), "--thin", "4", "--remedies", "--json")
    assert pegwright("pin", song(REGRETS), "--thin", "4", "--remedies", "--page", "page.html").code == 0
    document = json.loads(report.out)
    commands = [remedy["command"] for remedy in document["remedies"]["song"]]
    assert len(commands) == PER_SONG
    page = Path("page.html").read_text("utf-8")
    for command in commands:
        assert command.startswith(f"pegwright fit {song(REGRETS)} ")
        assert "--thin 4" in command
        assert command.replace("songs/", "") in page, "without the folder of this machine"


def test_the_best_beyond_a_search_is_a_whole_command(pegwright: Command) -> None:
    text = pegwright("fit", song(TANGO), "--thin", "3", "--move-part", "Bass=-12", "--search").out
    line = re.search(r"with its first\s+choice, (\d+)\s+with\n +(pegwright fit (?:[^\n]*\\\n)*[^\n]*)", text)
    assert line
    arguments = shlex.split(line[2].replace("\\\n", " "))[1:]
    assert arguments[-2:] == ["--thin", "3"]
    assert pegwright(*arguments).out.startswith(f"{line[1]} of 275 notes sound")


def test_a_note_edit_that_no_longer_matches_is_refused_by_every_command_and_nothing_is_written(
    pegwright: Command,
) -> None:
    edit = "drop Bass, bar 2, beat 3, B2"
    pegwright("fit", song(REGRETS), "--note-edit", edit, "--keep", "r.toml")
    assert "1 dropped on request: 1 by --note-edit" in " ".join(pegwright("fit", "r.toml").out.split())
    text = Path("r.toml").read_text("utf-8")
    Path("r.toml").write_text(text.replace("B2", "B3"), encoding="utf-8")
    before = files_in(Path())
    says = "'drop Bass, bar 2, beat 3, B3' names no note (the nearest in bar 2: beat 3, B2; beat 1, G2)"
    for command in (("fit", "r.toml"), ("pin", "r.toml"), ("hear", "r.toml")):
        assert says in pegwright(*command).refused(2)
    Path("e.toml").write_text('title = "E"\nwheel = "wheel.toml"\n[[song]]\nscore = "r.toml"\n', encoding="utf-8")
    assert says in pegwright("set", "e.toml").err
    Path("e.toml").unlink()
    assert files_in(Path()) == before


def test_a_remedy_is_taken_and_written_into_the_song_file(pegwright: Command) -> None:
    assert pegwright("fit", song(REGRETS), "--thin", "4", "--keep", "r").code == 0
    Path("r.toml").write_text("# my own remark\n" + Path("r.toml").read_text("utf-8"), encoding="utf-8")
    text = pegwright("fit", "r.toml", "--remedies").out
    command = re.search(r" 2\. .*?(pegwright fit .*?)\n +3\.", text, re.DOTALL)
    assert command
    by_hand = pegwright(*shlex.split(command[1].replace("\\\n", " "))[1:])
    taken = pegwright("fit", "r.toml", "--take", "2")
    assert taken.out == f"{by_hand.out}\nKept in r.toml: `pegwright pin r.toml` pins the song like this.\n"
    kept = Path("r.toml").read_text("utf-8")
    assert "# my own remark\n" in kept
    assert re.search(r'taken = \[\n    "start 1 step later, .*",\n\]', kept)
    assert pegwright("fit", "r.toml").out == by_hand.out
    told = pegwright("fit", song(REGRETS), "--take", "1").refused(2)
    assert "no song file in which to write the remedy (add --keep the-committee-regrets.toml)" in told
    pegwright("fit", song(MARCH), "--start", "2", "--keep", "m.toml")
    told = pegwright("fit", "m.toml", "--take", "5").refused(2)
    assert "5 is not the number of a remedy: there are 0 remedies" in told


def test_a_score_that_has_changed_is_reported_and_one_that_has_moved_is_refused(pegwright: Command) -> None:
    pegwright("fit", song(REGRETS), "--keep", "r.toml")
    plain = pegwright("fit", "r.toml")
    assert plain.err == ""
    data = song(REGRETS).read_bytes()
    song(REGRETS).write_bytes(data + b"\n")
    changed = pegwright("fit", "r.toml")
    assert (changed.code, changed.out) == (0, plain.out), "the options still hold"
    assert "has changed since r.toml was written: its SHA-256 is " in changed.err
    assert len(changed.err.splitlines()) == 1
    Path("e.toml").write_text('title = "E"\nwheel = "wheel.toml"\n[[song]]\nscore = "r.toml"\n', encoding="utf-8")
    assert "has changed since r.toml was written" in pegwright("set", "e.toml").err
    shutil.move(song(REGRETS), REGRETS)
    assert "its score songs/the-committee-regrets.musicxml is not there" in pegwright("fit", "r.toml").refused(2)
    Path(REGRETS).write_bytes(data)
    told = pegwright("pin", "r.toml").refused(2)
    assert f'the score with this hash is beside it: write score = "{REGRETS}"' in told
    assert not Path("r-pins").exists()


@pytest.mark.parametrize(
    ("command", "says"),
    [
        (("wheel", "s.toml"), "s.toml: this is a song file, not a wheel file (to fit it: pegwright fit s.toml)"),
        (("set", "s.toml"), 'this is a song file, not a song set (a song set names it: score = "s.toml"'),
        (("fit", "s.toml", "-w", "s.toml"), "this is a song file, not a wheel file"),
        (("hear", "s.toml", "--seams", "s.toml"), "this is a song file, not a seam file"),
        (("swap", "s.toml", "s.toml"), "this is a song file, not a pin map"),
        (("fit", "wheel.toml"), "this is a wheel file, not a song (name a song, and this as --wheel wheel.toml)"),
        (("hear", "songs/pavilion-evening.toml"), "this is a song set of 9 songs (choose one with --song NAME: "),
        (
            ("fit", "songs/pavilion-evening.toml", "--song", "turnstile-tanga"),
            "the nearest name is 'turnstile-tango'; its songs are ",
        ),
        (("fit", "bad.toml"), "bad.toml: thinn (line 2): is not a known key (did you mean `thin`?)"),
        (("fit", "none.toml"), "none.toml: no such file"),
        (("fit", "empty.toml"), "empty.toml: score: is missing"),
        (("fit", "s.toml", "--keep", "wheel.toml", "--overwrite"), "wheel.toml: is the wheel file itself"),
        (("fit", "s.toml", "--keep", "s.toml"), "s.toml: the file exists"),
        (("fit", "hash.toml"), 'sha256 (line 2): "abc" is not a SHA-256 (give the SHA-256 of the score as 64 hex'),
    ],
    ids=lambda value: " ".join(value) if isinstance(value, tuple) else "",
)
def test_a_file_in_the_wrong_place_is_refused_with_what_it_is(
    pegwright: Command, command: tuple[str, ...], says: str
) -> None:
    Path("s.toml").write_text(f'score = "songs/{MARCH}"\n', encoding="utf-8")
    Path("bad.toml").write_text(f'score = "songs/{MARCH}"\nthinn = 2\n', encoding="utf-8")
    Path("hash.toml").write_text(f'score = "songs/{MARCH}"\nsha256 = "abc"\n', encoding="utf-8")
    Path("empty.toml").write_text("", encoding="utf-8")
    before = files_in(Path())
    assert says in pegwright(*command).refused(1 if command[1] == "none.toml" or command[0] == "swap" else 2)
    assert files_in(Path()) == before
