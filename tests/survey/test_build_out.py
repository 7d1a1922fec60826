"""The build-out of a survey: its figures against single fits, its table and chart, and going on where it was."""

from __future__ import annotations

import json
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import pytest

import drawn
from commands import WHEEL, Command, runner
from midi_bytes import tracks_of_notes
from pegwright.cli.survey import survey as command
from pegwright.config import load_wheel
from pegwright.draw.build_out import build_out_chart
from pegwright.read import read_score
from pegwright.remedy.additions import Addition, addition_from, addition_words, with_additions
from pegwright.survey.build_out import best_so_far
from pegwright.survey.run import run_survey, survey_files
from pegwright.verdict.build_out import BuildOut
from pegwright.verdict.coverage import MAX_COUNT, Covered
from pegwright.verdict.judge import judge
from pegwright.verdict.tally import BuiltOut, Survey
from pegwright.wheel import StrikeLimit
from pegwright.write.survey.build_out import chart_of
from pegwright.write.survey.text import survey_text

QUARTER = 96
SEMITONES = 1
SONGS = {  # pitches on quarters; near them the bundled wheel has no 65, 66, 68, 70, 73, 75 and 80
    "fits.mid": [72, 74, 76],
    "one.mid": [72, 73, 76],
    "three.mid": [72, 66, 75, 73, 76, 67],
    "two.mid": [72, 75, 73, 76, 79, 67],
}


def songs(folder: Path) -> Path:
    folder.mkdir()
    for name, pitches in SONGS.items():
        notes = [(QUARTER * number, 48, pitch, 80, 0) for number, pitch in enumerate(pitches)]
        (folder / name).write_bytes(tracks_of_notes([notes], running=True, zero_offs=False))
    return folder


def surveyed(
    folder: Path, out: Path, workers: int = 1, progress: Callable[[str, int, int], None] = lambda _, _count, _of: None
) -> Survey:
    wheel = load_wheel(WHEEL)
    return run_survey(folder, wheel, SEMITONES, out, workers=workers, limit_s=120.0, additions=4, progress=progress)


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return songs(tmp_path_factory.mktemp("build-out") / "songs")


@pytest.fixture(scope="module")
def survey(folder: Path) -> Survey:
    return surveyed(folder, folder.parent / "out")


def test_the_figures_are_those_of_every_piece_fitted_to_the_wheel_with_the_set(folder: Path, survey: Survey) -> None:
    table = json.loads(survey_files(survey)["survey.json"])["build_out"]
    verdicts = {name: judge(read_score(folder / name)[0], load_wheel(WHEEL), SEMITONES) for name in SONGS}
    assert table["pieces_now"] == sum(verdict.fits for verdict in verdicts.values())
    assert table["sounding_now"] == sum(verdict.at_best.count.sounding for verdict in verdicts.values())
    assert len(table["sets"]) > 1
    before = table["pieces_now"], table["sounding_now"]
    for number, each in enumerate(table["sets"], 1):
        assert len(each["things"]) <= number
        changed = with_additions(load_wheel(WHEEL), map(addition_from, each["things"]))
        with_set = [judge(read_score(folder / name)[0], changed, SEMITONES) for name in SONGS]
        assert each["pieces"] == sum(verdict.fits for verdict in with_set)
        assert each["sounding"] == sum(verdict.at_best.count.sounding for verdict in with_set)
        assert each["model"]["exact"]
        assert (each["pieces"], each["sounding"]) > before
        before = each["pieces"], each["sounding"]
    assert before == (len(SONGS), table["notes"]), "in the end everything sounds"


def test_one_process_or_two_and_a_survey_taken_up_again_give_the_same_bytes(
    folder: Path, survey: Survey, tmp_path: Path
) -> None:
    def stop(phase: str, done: int, of: int) -> None:
        stages.append((phase, done, of))
        if len(stages) == 8:
            raise KeyboardInterrupt

    stages: list[tuple[str, int, int]] = []
    with pytest.raises(KeyboardInterrupt):
        surveyed(folder, tmp_path / "out", workers=2, progress=stop)
    assert survey_files(surveyed(folder, tmp_path / "out", workers=2)) == survey_files(survey)
    again: list[tuple[str, int, int]] = []
    surveyed(folder, tmp_path / "out", progress=lambda phase, done, of: again.append((phase, done, of)))
    phases = ["Judging", "Finding what is lacking", "Fitting with additions"]
    assert again == list(zip(phases, (4, 0, 0), (4, 0, 0), strict=True)), "nothing is computed twice"


def test_the_table_says_what_to_build_next_and_of_what_exact_is_said(survey: Survey) -> None:
    text = survey_text(survey)
    lines = text[text.index("Build-out: from ") :].split("\n\n")[0]
    plain = " ".join(lines.split())
    assert "the set that lets most pieces in, then makes most notes sound" in plain
    assert "those of a new fit of every piece to the wheel with the set added" in plain
    assert "exact: in the coverage model no other set of as many does better" in plain
    assert survey.build_out
    rows = [line.split() for line in lines.splitlines() if line.strip()[:1].isdigit()]
    assert [row[0] for row in rows] == [str(number) for number in range(len(survey.build_out.sets) + 1)]
    assert [row[1] for row in rows[1:]] == [str(built.pieces) for built in survey.build_out.sets]
    assert all(row[5:7] == ["exact", "+"] for row in rows[1:])
    for width in (60, 80, 160):
        assert max(map(len, survey_text(survey, width).splitlines())) <= width


def test_the_chart_has_a_mark_for_every_addition_of_every_set(survey: Survey) -> None:
    assert survey.build_out
    chart = chart_of(survey.build_out, survey.wheel, len(SONGS))
    page = build_out_chart(chart)
    words = [text.text for text in drawn.texts(page)]
    for name, numbers in chart.rows:
        assert name in words
        assert numbers == tuple(
            len(built.chosen.additions)
            for built in survey.build_out.sets
            if name
            in [word.removeprefix("a channel for ") for word in addition_words_of(survey, built.chosen.additions)]
        )
    assert f"pieces that fit, of {len(SONGS)}" in words
    assert "build-out.svg" in survey_files(survey)


def addition_words_of(survey: Survey, additions: tuple[Addition, ...]) -> list[str]:
    return [addition_words(each, survey.wheel) for each in additions]


@pytest.fixture
def run(capsys: pytest.CaptureFixture[str]) -> Command:
    return runner(capsys)


def test_the_command_builds_out_on_request_only(run: Command, folder: Path, tmp_path: Path) -> None:
    base = ("survey", folder, "-w", WHEEL, "--semitones", "0", "--workers", "1", "-o", tmp_path / "out")
    plain = run(*base)
    assert "Build-out" not in plain.out
    assert not (tmp_path / "out" / "build-out.svg").exists()
    built = run(*base, "--build-out", "2")
    assert "Build-out: from" in built.out
    assert (tmp_path / "out" / "build-out.svg").read_text("utf-8").startswith("<svg")
    assert "--build-out" in run(*base, "--build-out", "21").refused(2)
    kind = next(option.type for option in command.params if option.name == "additions")
    assert (kind.min, kind.max) == (1, MAX_COUNT)


def test_the_figures_are_of_the_fit_where_the_model_promises_more(tmp_path: Path) -> None:
    """A new bell uses the drive of its neighbour, whose strike is left out for it: of that the model knows nothing."""
    (tmp_path / "songs").mkdir()
    notes = [(0, 48, 72, 60, 0), (0, 48, 73, 100, 0)]
    (tmp_path / "songs" / "chord.mid").write_bytes(tracks_of_notes([notes], running=True, zero_offs=False))
    pavilion = load_wheel(WHEEL)
    neighbour = next(channel.name for channel in pavilion.channels if channel.pitches == (72,))
    on = replace(pavilion, strike_limits=(StrikeLimit("drive", (neighbour,), 1, 400.0),))
    survey = run_survey(tmp_path / "songs", on, 0, tmp_path / "out", workers=1, limit_s=120.0, additions=1)
    assert survey.build_out
    (built,) = survey.build_out.sets
    assert built.chosen.additions == (), "a channel for 73 is no better than nothing"
    assert (built.pieces, built.sounding) == (survey.build_out.pieces, survey.build_out.sounding) == (0, 1)
    text = " ".join(survey_text(survey).split())
    assert "no set of 1 found that is better than the wheel as it is" in text


def test_a_set_that_a_new_fit_finds_no_better_is_not_the_best_of_its_size(survey: Survey) -> None:
    """By hand: 3 lets in fewer pieces than 2, 4 as many and fewer notes; 5 is better than 2."""
    assert survey.build_out
    names = [addition_from(f"pitch {pitch}") for pitch in (65, 66, 68, 70, 73)]

    def built(count: int, pieces: int, sounding: int) -> BuiltOut:
        return BuiltOut(BuildOut(tuple(names[:count]), Covered(pieces, sounding), 0, 0), pieces, sounding)

    tried = [built(1, 3, 10), built(2, 5, 12), built(3, 4, 14), built(4, 5, 11), built(5, 5, 13)]
    kept = best_so_far(built(0, 2, 9), tried)
    assert [len(each.chosen.additions) for each in kept] == [1, 2, 2, 2, 5]
    table = replace(survey.build_out, sets=kept)
    text = survey_text(replace(survey, build_out=table), 160)
    rows = [line.split() for line in text[text.index("Build-out: from ") :].splitlines() if line.strip()[:1].isdigit()]
    assert [row[:3] for row in rows[1:]] == [
        ["1", "3", "10"],
        ["2", "5", "12"],
        ["3", "5", "12"],
        ["4", "5", "12"],
        ["5", "5", "13"],
    ]
    for number in (3, 4):
        assert " ".join(rows[number][4:]).endswith(f"no set of {number} found that is better than the 2 above")
    assert [row[1] for row in chart_of(table, survey.wheel, 9).rows] == [
        (1, 2, 3, 4, 5),
        (2, 3, 4, 5),
        (5,),
        (5,),
        (5,),
    ]
