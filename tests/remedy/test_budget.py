"""Remedies within a counted amount of work: the same on every machine, and what is left undone is said."""

from __future__ import annotations

import json
import shlex
from dataclasses import replace
from pathlib import Path

import pytest

import samples
from commands import SONGS, WHEEL, runner
from pegwright.ask.options import FitOptions
from pegwright.config import load_wheel
from pegwright.fit.placing import place_song
from pegwright.remedy.budget import FULL_WORK, PAGE_WORK, SEARCH_SHARE, Budget, WorkOf
from pegwright.remedy.changes import ChangeKind
from pegwright.remedy.song_remedies import Remedies, find_remedies
from pegwright.remedy.starts import best_start, nearest_starts
from pegwright.score import Score
from pegwright.song_pipeline.fitting import fit_file, remedies_for
from pegwright.wheel import LostHole, StrikeLimit, Wheel
from pegwright.write.report.remedies import NOT_ALL_TRIED, remedies_json, remedies_text
from places import BUNDLED_SCORES

TROUBLED = SONGS / "the-committee-regrets.musicxml"


def long_turn(plates: int) -> Wheel:
    """Plates of 64 steps of which one has lost a hole, so that no two starts are alike."""
    geometry = replace(samples.GEOMETRY, radius_mm=plates * 64 * 15.625 / 6.283185307)
    channels = [samples.channel(f"bar {pitch}", [pitch]) for pitch in range(60, 66)]
    return samples.wheel(
        channels, plate_count=plates, steps_per_plate=64, geometry=geometry, lost=(LostHole("on", 0, 0),)
    )


def song() -> Score:
    return samples.score([(0, 60), (24, 61), (51, 72), (75, 59)])


def with_work(work: int, wheel: Wheel) -> tuple[Remedies, Budget]:
    budget = Budget(work)
    placements = [place_song(song(), wheel, FitOptions())]
    return find_remedies([song()], wheel, FitOptions(), placements, budget), budget


@pytest.mark.parametrize("work", [0, 1_000, 10_000, PAGE_WORK])
def test_no_more_work_is_done_than_there_is(work: int) -> None:
    remedies, budget = with_work(work, long_turn(4))
    assert budget.spent <= work
    assert not remedies.complete
    assert remedies.tried * WorkOf([song()], long_turn(4), FitOptions(), 500_000).fit <= work


def test_more_work_tries_more_and_is_never_worse() -> None:
    tried = [with_work(work, long_turn(2))[0] for work in (5_000, 20_000, 100_000, FULL_WORK)]
    counts = [remedies.tried for remedies in tried]
    assert counts == sorted(counts)
    assert counts[0] < counts[-1]
    best = [min([remedies.now, *(remedy.shortfall for remedy in remedies.song)]) for remedies in tried]
    assert best == sorted(best, reverse=True)


def test_a_small_amount_of_work_is_spent_on_every_kind_of_change() -> None:
    wheel = long_turn(4)
    few, _ = with_work(60 * WorkOf([song()], wheel, FitOptions(), 500_000).fit, wheel)
    kinds = {item.change.kind for items in few.notes.values() for item in items}
    assert ChangeKind.FOLD in kinds, "255 other starts come before it where one kind is tried after another"
    assert kinds - {ChangeKind.START}


def test_the_work_of_a_fit_grows_with_notes_that_limits_join() -> None:
    wheel = samples.wheel()
    limited = replace(wheel, strike_limits=(StrikeLimit("drive", ("bar 60", "bar 62"), 2, 600.0),))
    score = samples.score([(24 * beat, 60 + beat % 3) for beat in range(24)])  # half a second apart
    free, joined = (WorkOf([score], on, FitOptions(), 500_000).fit for on in (wheel, limited))
    assert joined - free == 7, "of the 16 notes on the two bars, pairs half a second apart: 60 after 62, and no other"


def test_a_search_for_a_start_is_given_as_many_starts_as_there_is_work_for() -> None:
    wheel, options = long_turn(4), FitOptions()
    work = WorkOf([song()], wheel, options, 500_000)
    assert len(nearest_starts(wheel, options)) == 255
    assert [abs((start + 128) % 256 - 128) for start in nearest_starts(wheel, options)][:5] == [1, 1, 2, 2, 3]
    small = Budget(SEARCH_SHARE * work.search(20))
    assert best_start([song()], wheel, options, small, work) is not None
    assert not small.complete
    assert small.spent <= work.search(20)
    ample = Budget(10**9)
    assert best_start([song()], wheel, options, ample, work) is not None
    assert ample.complete
    assert best_start([song()], wheel, options, Budget(10), work) is None


def test_a_report_page_of_a_troubled_song_says_that_not_all_was_tried() -> None:
    fitted = fit_file(TROUBLED, load_wheel(WHEEL))
    page, wheel = remedies_for(fitted)
    full, _ = remedies_for(fitted, FULL_WORK)
    assert page.tried < full.tried
    assert not page.complete
    assert NOT_ALL_TRIED in " ".join(remedies_text(fitted.score, page, wheel).split())
    assert remedies_json(fitted.score, page, wheel)["complete"] is False
    again, _ = remedies_for(fitted)
    assert remedies_text(fitted.score, again, wheel) == remedies_text(fitted.score, page, wheel)


def test_nothing_tried_is_not_nothing_needed() -> None:
    fitted = fit_file(TROUBLED, load_wheel(WHEEL))
    nothing, wheel = remedies_for(fitted, 0)
    assert (nothing.tried, nothing.complete, wheel) == (0, False, None)
    text = remedies_text(fitted.score, nothing, wheel)
    assert "Nothing needs a remedy" not in text
    assert NOT_ALL_TRIED in " ".join(text.split())


def test_pin_tries_more_when_asked_and_nothing_when_told(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    run = runner(capsys)
    tried = {}
    for option in ("--no-remedies", "", "--remedies"):
        folder = tmp_path / f"pins{option}"
        run("pin", TROUBLED, "--wheel", WHEEL, "-o", folder, *filter(None, [option]))
        page = (folder / "report.html").read_text(encoding="utf-8")
        start = page.index('"remedies":')
        data, _ = json.JSONDecoder().raw_decode(page[start + len('"remedies":') :].lstrip())
        tried[option] = 0 if data is None else data["fits_tried"]
        assert (data is None) == (option == "--no-remedies")
    assert 0 == tried["--no-remedies"] < tried[""] < tried["--remedies"]


def test_pin_leaves_remedies_out_of_its_page_when_told(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    page = tmp_path / "page.html"
    runner(capsys)("pin", TROUBLED, "--wheel", WHEEL, "--page", page, "--no-remedies")
    assert '"remedies":null' in page.read_text(encoding="utf-8").replace(": ", ":")


LONG = [f"{name}.mid" for name in ("31_mutopia_maple-leaf-rag", "32_mutopia_solace", "33_mutopia_pineapple-rag")]


@pytest.mark.parametrize(
    "song",
    [TROUBLED, SONGS / "low-water-slowly.mid", *(BUNDLED_SCORES / name for name in LONG)],
    ids=lambda song: song.name,
)
def test_a_search_names_what_it_does_not_vary_where_that_sounds_more(
    song: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    run = runner(capsys)
    searched = run("fit", song, "--wheel", WHEEL, "--search").out
    (line,) = [" ".join(block.split()) for block in searched.split("\n\n") if block.startswith("A search varies")]
    counts, command = line.split(" with pegwright fit ", 1)
    typed = shlex.split(command.replace(" \\ ", " "))
    assert typed[:3] == [str(song), "--wheel", str(WHEEL)], "the whole command, to be copied"
    now, _, then = (int(word) for word in counts.replace(",", "").split() if word.isdigit())
    assert then > now
    for options, sounding in ((("--search",), now), (typed[3:], then)):
        report = json.loads(run("fit", song, "--wheel", WHEEL, "--json", *options).out)
        assert report["count"]["sounding"] == sounding, options


def test_a_search_that_leaves_nothing_to_gain_says_nothing_more(capsys: pytest.CaptureFixture[str]) -> None:
    run = runner(capsys)
    assert "A search varies" not in run("fit", SONGS / "lamplighters-march.mid", "--wheel", WHEEL, "--search").out
    assert "A search varies" not in run("fit", TROUBLED, "--wheel", WHEEL, "--search", "--no-remedies").out
