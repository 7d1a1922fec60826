"""Text on terminals of any width: nothing is wider, no word is cut, nothing is lost, and files stay as they are."""

from __future__ import annotations

import fcntl
import os
import pty
import shlex
import struct
import subprocess
import sys
import termios
from collections.abc import Iterator
from pathlib import Path

import click
import mido
import pytest
from hypothesis import given
from hypothesis import strategies as st
from rich.cells import cell_len

import terminal_texts
from commands import SONGS, WHEEL, Command, runner
from pegwright.ask.table import Topic
from pegwright.cli.main import COMMANDS
from pegwright.cli.terminal import WIDEST_CELLS, text_width
from pegwright.write.tables import LINE_CELLS, TextTable, UncutLine, command_lines, fitted_lines, one_line, wrapped

MARCH = SONGS / "lamplighters-march.mid"
# On the first beat of each bar, as in its score.
BASS_OF_MARCH = ["C3", "F3", "E3", "D3", "C3", "F3", "G2", "C3", "F3", "C3", "D3", "C3"]
# Names of columns that are not printed over cells in a line under their row, and a verdict that repeats numbers.
UNNAMED = {"Verdict", "File", "Because"}
TEXTS = st.text(st.sampled_from("abcde 港🎵é/-,"), max_size=200)


@pytest.fixture
def pegwright(capsys: pytest.CaptureFixture[str]) -> Command:
    return runner(capsys)


@pytest.fixture(scope="module")
def in_folder() -> Iterator[None]:
    with terminal_texts.folder():
        yield


def words_of(text: str) -> set[str]:
    return {word.rstrip(",:") for word in text.split() if not set(word) <= set("─\\")}


@pytest.mark.usefixtures("in_folder")
@pytest.mark.parametrize("columns", terminal_texts.COLUMNS)
@pytest.mark.parametrize("name", terminal_texts.CASES)
def test_text_is_the_golden_one(name: str, columns: int) -> None:
    assert terminal_texts.printed(name, columns) == terminal_texts.golden_file(name, columns).read_text("utf-8")


@pytest.mark.parametrize("columns", terminal_texts.COLUMNS)
@pytest.mark.parametrize("name", terminal_texts.CASES)
def test_no_line_is_longer_than_the_terminal_and_no_word_cut_or_lost(name: str, columns: int) -> None:
    text, widest = (terminal_texts.golden_file(name, each).read_text("utf-8") for each in (columns, 160))
    assert max(map(cell_len, text.splitlines())) <= min(columns, LINE_CELLS)
    assert "…" not in text
    assert words_of(text) <= words_of(widest)
    assert words_of(widest) - words_of(text) <= UNNAMED


@pytest.mark.parametrize(
    ("columns", "cells"),
    [("40", 60), ("60", 60), ("72", 72), ("100", 100), ("160", 100), ("wide", 100), ("", 100), ("0", 100)],
)
def test_columns_come_first(columns: str, cells: int, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("COLUMNS", columns)
    assert text_width() == cells


@pytest.mark.parametrize(("columns", "cells"), [(0, 100), (40, 60), (80, 80), (200, 100)])
def test_the_terminal_is_asked_for_its_width(columns: int, cells: int, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(sys.stdout, "fileno", lambda: 1)
    monkeypatch.setattr(os, "get_terminal_size", lambda _: os.terminal_size((columns, 24)))
    assert text_width() == cells


def test_a_pipe_keeps_the_width_of_files() -> None:
    assert text_width() == WIDEST_CELLS == LINE_CELLS


def test_an_error_is_wrapped_at_words_on_a_terminal_alone(tmp_path: Path) -> None:
    """In a real terminal of 60 columns, and in a pipe, where it stays one line."""
    command = [sys.executable, "-m", "pegwright", "wheel", "the-wheel-of-the-pavilion-that-is-not-there.toml"]
    ours, theirs = pty.openpty()
    fcntl.ioctl(theirs, termios.TIOCSWINSZ, struct.pack("HHHH", 24, 60, 0, 0))
    environment = {name: value for name, value in os.environ.items() if name != "COLUMNS"}
    assert subprocess.run(command, stderr=theirs, cwd=tmp_path, env=environment, check=False).returncode == 2
    os.close(theirs)
    shown = os.read(ours, 10_000).decode().replace("\r", "")
    os.close(ours)
    piped = subprocess.run(
        command, stderr=subprocess.PIPE, cwd=tmp_path, env=environment, text=True, check=False
    ).stderr
    assert len(shown.splitlines()) > 2
    assert all(len(line) <= 60 for line in shown.splitlines())
    assert all(line.startswith("    ") for line in shown.splitlines()[1:])
    assert shown.split() == piped.split()
    assert piped.count("\n") == 1


def test_files_are_the_same_whatever_the_terminal(
    pegwright: Command, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    for columns in ("60", "100"):
        monkeypatch.setenv("COLUMNS", columns)
        assert pegwright("pin", MARCH, "-w", WHEEL, "-o", tmp_path / columns, "--no-remedies").code == 0
    files = {path.name: path.read_bytes() for path in (tmp_path / "60").iterdir()}
    assert files == {path.name: path.read_bytes() for path in (tmp_path / "100").iterdir()}
    assert max(map(len, files["report.txt"].decode().splitlines())) > 60


def test_pin_ends_with_what_to_print(pegwright: Command, tmp_path: Path) -> None:
    ran = pegwright("pin", MARCH, "-w", WHEEL, "-o", tmp_path / "out", "--paper", "a3", "--no-remedies")
    last = " ".join(ran.out.split("\n\n")[-1].split())
    assert last.startswith(f"Next: print {tmp_path / 'out' / 'print-a3.pdf'} at 100 %, not fitted to the page")
    assert (tmp_path / "out" / "print-a3.pdf").is_file()


def test_pin_of_a_song_without_pins_ends_with_that(pegwright: Command, tmp_path: Path) -> None:
    track = mido.MidiTrack([mido.Message("note_on", note=20), mido.Message("note_off", note=20, time=480)])
    mido.MidiFile(ticks_per_beat=480, tracks=[track]).save(tmp_path / "low.mid")
    ran = pegwright("pin", tmp_path / "low.mid", "-w", WHEEL, "-o", tmp_path / "out", "--no-remedies")
    assert ran.code == 0
    assert ran.out.splitlines()[-1] == "Nothing is to be set: no note of this song has a pin."
    assert "Next: print" not in ran.out


def test_a_new_song_set_is_reported_within_the_terminal(
    pegwright: Command, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("COLUMNS", "80")
    monkeypatch.chdir(tmp_path)
    for name in ("one", "two", "three", "four"):
        (tmp_path / f"{name}.mid").write_bytes(b"")
    out = pegwright("set", "--new").out
    assert max(map(len, out.splitlines())) <= 80
    assert out.splitlines()[-1] == "  pegwright set evening.toml"


@pytest.mark.parametrize("columns", [60, 80, 160])
@pytest.mark.parametrize("name", [None, *COMMANDS])
def test_help_fits_the_terminal(
    name: str | None, columns: int, pegwright: Command, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("COLUMNS", str(columns))
    text = pegwright(*([name] if name else []), "--help").out
    assert max(map(len, text.splitlines())) <= min(columns, LINE_CELLS)
    assert not [line for line in text.splitlines() if line.endswith("-") or "\b" in line]
    assert "QPM" not in text


@pytest.mark.parametrize("columns", [60, 80])
def test_what_an_example_does_stands_below_it_where_both_are_too_wide(
    columns: int, pegwright: Command, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("COLUMNS", str(columns))
    assert "\n        only these pages of that document\n" in pegwright("set", "--help").out


@pytest.mark.parametrize("name", ["find", "check", "edit"])
def test_commands_on_maps_speak_of_no_song_file_and_no_kind_of_number(name: str, pegwright: Command) -> None:
    text = pegwright(name, "--help").out
    assert "song file" not in text
    assert "RANGE" not in text


@pytest.mark.parametrize("name", ["fit", "pin", "hear", "swap"])
def test_options_are_in_groups(name: str, pegwright: Command) -> None:
    text = pegwright(name, "--help").out
    topics = [topic for topic in Topic if name != "swap" or topic is not Topic.PLAYED]  # it belongs to the song
    heads = [f"{topic.capitalize()} options:\n" for topic in topics]
    places = [text.index(head) for head in heads]
    assert places == sorted(places)
    listed = (("--bars", Topic.SONG), ("--performed", Topic.PLAYED), ("--start", Topic.PLACING))
    for option, topic in (each for each in listed if each[1] in topics):
        section = text[text.index(f"{topic.capitalize()} options:") :].split("\n\n")[0]
        assert f"  {option}" in section
    assert text.count("  --tempo ") == 1


def test_options_in_groups_are_still_completed() -> None:
    environment = {**os.environ, "_PEGWRIGHT_COMPLETE": "bash_complete", "COMP_CWORD": "2"}
    environment["COMP_WORDS"] = "pegwright fit --part"
    done = subprocess.run(
        [sys.executable, "-m", "pegwright"], env=environment, capture_output=True, text=True, check=True, timeout=60
    )
    assert done.stdout.split() == ["plain,--part-channels"]


def test_every_command_has_help_that_fits() -> None:
    from pegwright.cli.grouped import GroupedCommand
    from pegwright.cli.main import pegwright as group

    context = click.Context(group)
    for name in COMMANDS:
        assert isinstance(group.resolve_command(context, [name])[1], GroupedCommand), name


@given(TEXTS, st.integers(10, 100))
def test_wrapped_lines_fit_and_hold_every_word(text: str, width: int) -> None:
    lines = wrapped(text, width, "  ", "    ")
    assert max(map(cell_len, lines)) <= width
    assert "".join("".join(line.split()) for line in lines) == "".join(text.split())


def test_a_word_wider_than_a_line_is_broken_after_a_slash_or_stays_whole() -> None:
    path = "scores/of/the/evening/waltz.mid"
    assert wrapped(path, 24) == ["scores/of/the/evening/", "waltz.mid"]
    assert wrapped("waltz" * 3, 10) == ["waltzwaltz", "waltz"]
    assert fitted_lines(UncutLine(f"Written to {path}"), 24) == ["Written to", f"    {path}"]


def test_a_command_is_broken_as_shells_allow_it() -> None:
    lines = command_lines("pegwright set 'an evening.toml' -o evening --overwrite", 40)
    assert lines == ["  pegwright set 'an evening.toml' \\", "    -o evening --overwrite"]
    assert command_lines("pegwright demo", 60) == ["  pegwright demo"]


def test_a_number_keeps_its_unit() -> None:
    assert wrapped("it is printed at 100 % of its size", 20) == ["it is printed at", "100 % of its size"]


def test_names_are_cut_after_a_word() -> None:
    assert one_line("Waltz of the Empty Deckchairs", 26) == "Waltz of the Empty…"


@given(st.lists(st.tuples(TEXTS, st.integers(0, 10**6), TEXTS), max_size=5), st.integers(40, 100))
def test_tables_of_any_names_fit_and_lose_nothing(rows: list[tuple[str, int, str]], width: int) -> None:
    cells = [(one_line(name, 60), f"{number:,}", one_line(more, 60)) for name, number, more in rows]
    text = TextTable(("Name", "Pins set", "File"), cells, (0, 2), below=((1,),), over=True).lines(width)
    assert max(map(cell_len, text)) <= width
    shown = sorted("".join("".join(text).split()))
    for mark in {mark for row in cells for cell in row for mark in cell if mark not in " ,"}:
        assert shown.count(mark) >= sum(cell.count(mark) for row in cells for cell in row)


def test_of_many_options_whole_ones_are_listed_and_the_others_counted(
    pegwright: Command, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("COLUMNS", "80")
    edits = [f"raise Bass, bar {bar + 1}, beat 1, {pitch} by 2 octaves" for bar, pitch in enumerate(BASS_OF_MARCH)]
    options = [word for edit in edits for word in ("--note-edit", edit)]
    text = pegwright("fit", MARCH, "-w", WHEEL, *options).out
    told = " ".join(text[text.index("Options ") :].split("\n\n")[0].split())
    shown = shlex.split(told)[2:-3:2]
    assert 0 < len(shown) < len(edits)
    assert shown == edits[: len(shown)]
    assert told.endswith(f" and {len(edits) - len(shown)} more")


@pytest.mark.parametrize("columns", [60, 66, 72, 80])
def test_options_that_a_report_lists_stay_with_their_values(
    columns: int, pegwright: Command, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("COLUMNS", str(columns))
    options = ("--reach", "1/64", "--transpose", "-3", "--swing", "straight", "--start", "12", "--priority", "Bass=2")
    text = pegwright("fit", MARCH, "-w", WHEEL, *options).out
    lines = text[text.index("Options") :].split("\n\n")[0].splitlines()
    assert len(lines) > 1
    assert not [line for line in lines if line.split()[-1].startswith("--")]


@pytest.mark.parametrize("cells", range(18, 60))
def test_an_option_in_a_sentence_stays_with_its_value(cells: int) -> None:
    sentence = "swing marks (play them with --swing 2:1, or --swing straight), or give --transpose -3 or --only PART"
    lines = wrapped(sentence, cells)
    assert " ".join(lines) == sentence
    assert not [line for line in lines if line.split()[-1].startswith("--")]


def test_part_names_stand_in_quotes_within_the_sentences_of_a_report(pegwright: Command) -> None:
    text = " ".join(pegwright("fit", SONGS / "the-committee-regrets.musicxml", "-w", WHEEL, "--remedies").out.split())
    for words in (
        "59.5 ms before 'Chimes' bar 6 beat 1.25;",
        "4 strikes at once with 'Percussion' bar 12 beat 1;",
        "'Chimes II' bar 5 beat 1: G5 is one strike of channel chime G5 with 'Chimes' bar 5 beat 1",
        "'Chimes' bar 6 beat 1 1/8: D6 needs plate 3",
        "still unheard (",
    ):
        assert words in text
    assert ":bar" not in text
