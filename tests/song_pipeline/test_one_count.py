"""One count: text, JSON, page, sheets, pin map, pin count and survey give the same numbers of a song's notes."""

from __future__ import annotations

import csv
import io
import json
import re
from collections import Counter
from dataclasses import dataclass, field, replace
from fractions import Fraction
from typing import Any

import numpy as np
import pytest
from hypothesis import Phase, given, settings
from hypothesis import strategies as st

import strategies
from commands import SONGS, WHEEL
from drawn import texts
from pegwright.ask.options import SearchRange
from pegwright.ask.request import Beat, Played, Request
from pegwright.columns import frozen_ints
from pegwright.config import load_wheel
from pegwright.draw.furniture import MARGIN_MM, SMALL_MM
from pegwright.draw.paper import A4, LETTER
from pegwright.drawing import Page
from pegwright.placement import Outcome
from pegwright.score import NO_ORNAMENT, Ornament, OrnamentKind, Score
from pegwright.show.count import pin_count
from pegwright.song import FittedSong
from pegwright.song_pipeline.fitting import fit_file, fit_score
from pegwright.verdict.judge import judge
from pegwright.verdict.values import SurveyRow
from pegwright.wheel import Wheel
from pegwright.write.count.data import count_json
from pegwright.write.count.text import count_text
from pegwright.write.page.data import page_data
from pegwright.write.pin_map.json import pin_map_json
from pegwright.write.report.json import report_json
from pegwright.write.report.summary import summary_json
from pegwright.write.report.text import report_text
from pegwright.write.survey.csv import HEADER, survey_csv
from samples import channel, score, wheel
from short_bars import in_short_bars
from song_sheets import song_sheets
from thorough import cases

CODES = {reason.words: reason.name.lower() for reason in Outcome if reason != Outcome.PLACED}
SAMPLE = settings(max_examples=cases(25, 300), derandomize=True, phases=[Phase.generate])
TRILLS = (Ornament(OrnamentKind.TRILL, upper_semitones=2), Ornament(OrnamentKind.TREMOLO))


@dataclass(frozen=True)
class Numbers:
    """What a text or a file says of a song's notes; reasons by name, options by name."""

    read: int
    sounding: int
    shared: int
    left_out: dict[str, int] = field(default_factory=dict)
    dropped: dict[str, int] = field(default_factory=dict)

    def __post_init__(self) -> None:
        assert self.read == self.sounding + sum(self.left_out.values()) + sum(self.dropped.values())


def counted(song: FittedSong) -> Numbers:
    """From the pins and the outcome of every note, one by one."""
    sounding, shared, left_out = 0, 0, Counter[str]()
    for turn in song.turns:
        pinned, placement = set(turn.pins.note.tolist()), turn.placement
        for note, (outcome, head) in enumerate(zip(placement.outcome.tolist(), placement.unison.tolist(), strict=True)):
            if note in pinned or head in pinned:
                sounding += 1
                shared += note not in pinned
            else:
                left_out[Outcome(outcome).name.lower()] += 1
    dropped = {option: notes for option, notes in song.edited.dropped.items() if notes}
    return Numbers(song.edited.notes_read, sounding, shared, dict(left_out), dropped)


def of_words(words: str) -> Numbers:
    """From the sentence, with every total that it gives compared with its parts."""
    text = " ".join(words.split())
    if text.lower().startswith("the song has no notes"):
        return Numbers(0, 0, 0)
    head = re.match(
        r"(?:[Aa]ll )?(?:([0-9,]+) of )?([0-9,]+|[Tt]he only) notes? sounds?(?: \(([0-9,]+) shares? a pin\))?", text
    )
    assert head, text
    read = 1 if head[2].lower() == "the only" else number(head[2])
    parts: dict[str, dict[str, int]] = {"left out": {}, "dropped on request": {}}
    for total, what, listed in re.findall(r"; ([0-9,]+) (left out|dropped on request): ([^;.]+)", text):
        parts[what] = {name: number(count) for count, name in re.findall(r"([0-9][0-9,]*) ([^,]+)", listed)}
        assert sum(parts[what].values()) == number(total)
    left_out = {CODES[name]: count for name, count in parts["left out"].items()}
    dropped = {name.removeprefix("by --"): count for name, count in parts["dropped on request"].items()}
    sounding = number(head[1]) if head[1] else read
    assert ("none left out" in text) == (bool(dropped) and not left_out)
    return Numbers(read, sounding, number(head[3] or "0"), left_out, dropped)


def number(text: str) -> int:
    return int(text.replace(",", ""))


def of_json(count: dict[str, Any]) -> Numbers:
    assert count["sounding"] == count["own_pin"] + count["shared_pin"]
    assert count["left_out"] == sum(count["left_out_by_reason"].values())
    assert count["dropped"] == sum(count["dropped_by_option"].values())
    left_out = {reason.replace("-", "_"): notes for reason, notes in count["left_out_by_reason"].items()}
    return Numbers(count["read"], count["sounding"], count["shared_pin"], left_out, count["dropped_by_option"])


def of_page(data: dict[str, Any]) -> Numbers:
    """From what the page draws, note by note: every turn with the notes of its set of plates."""
    turns = data.get("turns", [data])
    notes = [data["fits"][turn["fit"]]["notes"] if "fit" in turn else turn["notes"] for turn in turns]
    outcomes = Counter(outcome for each in notes for outcome in each["outcome"])
    left_out = Counter(
        CODES[reason]
        for each in notes
        for reason, outcome in zip(each["reason"], each["outcome"], strict=True)
        if outcome == "out"
    )
    sounding = outcomes.total() - outcomes["out"]
    dropped = data["count"]["dropped_by_option"]
    return Numbers(data["count"]["read"], sounding, outcomes["shared"], dict(left_out), dropped)


def of_sheet(page: Page) -> Numbers:
    lines = [text for text in texts(page) if (text.x_mm, text.size_mm) == (MARGIN_MM, SMALL_MM)]
    words = " ".join(line.text for line in sorted(lines, key=lambda line: line.y_mm))
    found = re.search("Whole song: (.*?); see the report.", words)
    assert found, words
    assert not found[1][0].isupper(), words
    return of_words(found[1])


def of_survey(row: dict[str, str], before: str) -> Numbers:
    left_out = {reason: int(row[before + reason]) for reason in CODES.values() if int(row[before + reason])}
    assert int(row[f"{before}left_out"]) == sum(left_out.values())
    assert int(row[f"{before}sounding"]) == int(row[f"{before}placed"]) + int(row[f"{before}shared"])
    assert int(row["dropped"]) == 0
    return Numbers(int(row["notes"]), int(row[f"{before}sounding"]), int(row[f"{before}shared"]), left_out)


def everywhere(song: FittedSong) -> dict[str, Numbers]:
    """The numbers of everything that is printed and written of a song."""
    report, page = json.loads(report_json(song)), page_data(song)
    pins = pin_count([turn.pins for turn in song.pinnings], song.wheel, 0)
    said = {
        "report.txt": of_words(report_text(song).split("\n\n")[0]),
        "report.json": of_json(report["count"]),
        "report.json, notes": replace(
            of_json(report["count"]),
            shared=len(report["shared"]),
            left_out=dict(Counter(note["reason"].replace("-", "_") for note in report["left_out"])),
        ),
        "summary": of_json(json.loads(summary_json(song.wheel, [song]))["songs"][0]["count"]),
        "page": of_json(page["count"]),  # type: ignore[arg-type]  # JSON
        "page, verdict": of_words(str(page["verdict"])),
        "pin-count.json": of_json(json.loads(count_json(pins, song.count))["count"]),
        "pin-count.txt": of_words(count_text(pins, song.count).partition("spares of each type, rounded up")[2]),
    }
    if len(song.pinnings) == len(song.turns):  # turns with equal pins are drawn once, with the notes of the first
        said["page, notes"] = of_page(page)
    for pinning in range(len(song.pinnings)):
        said[f"pin-map.json {pinning}"] = of_json(json.loads(pin_map_json(song, pinning))["count"])
        for paper in (A4, LETTER):
            sheets = song_sheets(song, pinning, paper)
            said |= {f"{paper.name} sheet {pinning} {number}": of_sheet(page) for number, page in enumerate(sheets)}
    return said


@st.composite
def requests(draw: st.DrawFn, song: Score) -> Request:
    """Bars, thinning, ornaments, turns, transposition, folding, in any mixture."""
    bars = len(song.bar_map.ticks)
    first = draw(st.integers(1, bars))
    return Request(
        bars=draw(st.sampled_from([None, (first, draw(st.integers(first, bars)))])),
        most_at_once=draw(st.sampled_from([None, 1, 2, 3])),
        ornaments=draw(st.sampled_from([None, Fraction(1, 8), Fraction(1, 16)])),
        turns=draw(st.sampled_from([None, None, 1, 2])),
        options=replace(draw(strategies.options()), start_steps=draw(st.sampled_from([Fraction(0), Fraction(7, 2)]))),
    )


@st.composite
def cases_of(draw: st.DrawFn) -> tuple[Score, Wheel, Request]:
    song, on = in_short_bars(draw(strategies.scores())), draw(strategies.wheels())
    if draw(st.booleans()) and song.note_count:
        signs = st.lists(st.sampled_from([NO_ORNAMENT, 0, 1]), min_size=song.note_count, max_size=song.note_count)
        song = replace(song, ornament=frozen_ints(draw(signs)), ornaments=TRILLS)
    return song, on, draw(requests(song))


@SAMPLE
@given(cases_of())
def test_everything_that_is_printed_gives_the_same_count(case: tuple[Score, Wheel, Request]) -> None:
    song, on, request = case
    fitted = fit_score(song, on, request)
    expected = counted(fitted)
    wrong = {where: numbers for where, numbers in everywhere(fitted).items() if numbers != expected}
    assert wrong == {}, expected


@SAMPLE
@given(strategies.scores(), strategies.wheels())
def test_a_survey_gives_the_count_that_the_fit_gives(song: Score, on: Wheel) -> None:
    song = in_short_bars(song)
    cells = csv.reader(io.StringIO(survey_csv([SurveyRow("song", judge(song, on, 1))]).decode(), newline=""))
    names, values = list(cells)
    assert tuple(names) == HEADER
    row = dict(zip(names, values, strict=True))
    best = fit_score(song, on, Request(search=SearchRange(semitones=1, every_steps=1)))
    assert of_survey(row, "as_is_") == counted(fit_score(song, on))
    assert of_survey(row, "") == counted(best)


def test_notes_outside_the_bars_and_those_that_thinning_drops_are_dropped_on_request() -> None:
    """Two bars of which one is taken, in chords of four notes that are thinned to three."""
    on = wheel([channel(f"bar {pitch}", [pitch]) for pitch in (60, 64, 67, 72)])
    made = score([(tick, pitch) for tick in (0, 24, 96, 120) for pitch in (60, 64, 67, 72)])
    fitted = fit_score(made, on, Request(bars=(1, 1), most_at_once=3))
    assert counted(fitted) == Numbers(16, 6, 0, {}, {"bars": 8, "thin": 2})
    assert all(numbers == counted(fitted) for numbers in everywhere(fitted).values())


@pytest.mark.parametrize("grain", [Fraction(1, 8), Fraction(1, 4)])
def test_notes_that_an_ornament_adds_are_read(grain: Fraction) -> None:
    """A trill of a half note takes its main and upper note by turns, and ends on the main note."""
    plain = score([(0, 60), (48, 62)])
    trill = replace(
        plain,
        duration_ticks=frozen_ints([48, 24]),
        ornament=frozen_ints([0, NO_ORNAMENT]),
        ornaments=TRILLS,
    )
    strikes = int(2 / grain) - (int(2 / grain) + 1) % 2
    fitted = fit_score(trill, wheel(), Request(ornaments=grain))
    assert fitted.count.read == strikes + 1
    assert np.sum([turn.placement.note_count for turn in fitted.turns]) == strikes + 1
    assert fit_score(trill, wheel()).count.read == 2


def test_a_part_of_taps_is_dropped_on_request() -> None:
    taps = [(24 * beat, 40, 80, 1) for beat in range(9)]
    played = score([*((24 * beat, 60 + beat, 80, 0) for beat in range(8)), *taps])
    request = Request(played=Played(Beat.KEEP, tapped_part=played.parts[1].name))
    fitted = fit_score(played, wheel(), request)
    assert (fitted.count.read, fitted.count.dropped_by_option) == (17, {"beats": 9})
    assert {of_words(report_text(fitted).split("\n\n")[0]).read, fitted.count.sounding + fitted.count.left_out} == {
        17,
        8,
    }


@pytest.mark.parametrize("name", ["low-water-slowly.mid", "the-committee-regrets.musicxml"])
def test_the_bundled_songs_in_trouble_are_counted_alike_everywhere(name: str) -> None:
    fitted = fit_file(SONGS / name, load_wheel(WHEEL), Request(most_at_once=2))
    expected = counted(fitted)
    assert expected.dropped["thin"] > 0
    assert {where for where, numbers in everywhere(fitted).items() if numbers != expected} == set()
