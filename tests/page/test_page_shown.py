"""The report page as it is seen and printed: every pin on paper, the note, rows, steps, doubts, options, turns."""

from __future__ import annotations

import re
import subprocess
from collections import Counter
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from chromium import ARGUMENTS, CHROMIUM, WINDOWS
from commands import SONGS, WHEEL
from pegwright.ask.request import PLAIN, Played, Request
from pegwright.cautions import CHANGE, TOUCH
from pegwright.columns import frozen_floats
from pegwright.config import load_wheel
from pegwright.song import FittedSong
from pegwright.song_pipeline.fitting import fit_file, fit_score
from pegwright.write.page.data import page_data
from pegwright.write.page.page import page_html
from placed import page_of, with_score
from samples import channel, score, wheel

if CHROMIUM is None:
    pytest.skip("no Chromium on this machine", allow_module_level=True)

from playwright.sync_api import Browser, FloatRect, Page  # needs a browser to be of use

pytestmark = pytest.mark.browser
COMMITTEE = SONGS / "the-committee-regrets.musicxml"  # two turns, notes of every outcome
JIG = SONGS / "shrimpers-jig.mid"  # every note fits


@pytest.fixture(scope="module")
def fitted() -> FittedSong:
    return fit_file(COMMITTEE, load_wheel(WHEEL))


@pytest.fixture(scope="module")
def file(fitted: FittedSong, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Without bars drawn as music, whose shapes could be taken for pins."""
    path = tmp_path_factory.mktemp("page") / "report.html"
    path.write_bytes(page_html(page_data(fitted)))
    return path


@pytest.fixture
def page(browser: Browser) -> Iterator[Page]:
    opened = browser.new_page(viewport={"width": 1280, "height": 900})
    faults: list[str] = []
    opened.on("pageerror", lambda error: faults.append(str(error)))
    yield opened
    opened.close()
    assert faults == []


def shown(page: Page, data: bytes, folder: Path) -> Page:
    (folder / "shown.html").write_bytes(data)
    page.goto((folder / "shown.html").as_uri())
    return page


# On paper


def marks_on_paper(pdf: Path) -> Counter[str]:
    """Filled shapes of the size of a pin, and crosses, on the pages of a PDF; none may reach over an edge."""
    import pdfplumber

    seen: Counter[str] = Counter()
    with pdfplumber.open(pdf) as document:
        for page in document.pages:
            pins = [curve for curve in page.curves if curve["fill"] and 3 < curve["width"] < 5 and curve["height"] > 3]
            strokes = [line for line in page.lines if 3 < line["width"] < 5 and 3 < line["height"] < 5]
            assert all(0 < shape["x0"] < shape["x1"] < page.width for shape in pins)
            assert all(0 < shape["top"] < shape["bottom"] < page.height for shape in pins)
            seen += Counter(pins=len(pins), strokes=len(strokes))
            seen["pages"] += 1
    return seen


def expected_on_paper(fitted: FittedSong) -> tuple[int, int]:
    """The pins of every set of plates, and two strokes for each note left out on a channel."""
    pins = sum(turn.pins.pin_count for turn in fitted.pinnings)
    out = sum(
        int(np.count_nonzero(~turn.placement.sounding & (turn.placement.channel >= 0))) for turn in fitted.pinnings
    )
    return pins, 2 * out


@pytest.mark.parametrize("window", WINDOWS)
def test_every_pin_is_on_paper_whatever_the_window_is(
    browser: Browser, file: Path, fitted: FittedSong, tmp_path: Path, window: str
) -> None:
    width, height = WINDOWS[window]
    page = browser.new_page(viewport={"width": width, "height": height})
    page.goto(file.as_uri())
    for _ in range(4):
        page.click("#zoom-in")
    page.locator("#filters label", has_text="exact").locator("input").uncheck()
    page.pdf(path=tmp_path / "printed.pdf", format="A4")
    pins, strokes = expected_on_paper(fitted)
    assert pins == 229
    seen = marks_on_paper(tmp_path / "printed.pdf")
    assert (seen["pins"], seen["strokes"]) == (pins, strokes)
    assert page.locator("#paper svg").count() == 0, "after printing the screen is as it was"
    page.close()


def test_a_browser_without_a_window_prints_every_pin(file: Path, fitted: FittedSong, tmp_path: Path) -> None:
    """As the command line of the browser prints, which tells the page of no event of ours."""
    pdf = tmp_path / "printed.pdf"
    command = [str(CHROMIUM), "--headless", *ARGUMENTS, f"--user-data-dir={tmp_path}/profile", "--window-size=1280,900"]
    subprocess.run([*command, f"--print-to-pdf={pdf}", file.as_uri()], check=True, capture_output=True, timeout=120)
    assert marks_on_paper(pdf)["pins"] == expected_on_paper(fitted)[0]


def test_a_plate_of_very_many_steps_is_printed_in_parts(page: Page, tmp_path: Path) -> None:
    long = wheel([channel("bell", [60])], plate_count=2, steps_per_plate=300)
    song = fit_score(score([(tick * 6, 60) for tick in range(0, 600, 7)]), long)
    shown(page, page_html(page_data(song)), tmp_path)
    page.evaluate("dispatchEvent(new Event('beforeprint'))")
    assert page.locator("#paper svg").count() == 6
    assert page.locator("#paper path.exact").count() == song.turns[0].pins.pin_count == 86


# The note


def apart(one: FloatRect, other: FloatRect) -> bool:
    return (
        one["y"] + one["height"] <= other["y"]
        or other["y"] + other["height"] <= one["y"]
        or one["x"] + one["width"] <= other["x"]
        or other["x"] + other["width"] <= one["x"]
    )


@pytest.mark.parametrize("window", WINDOWS)
def test_the_note_is_seen_whole_and_never_under_the_play_bar(
    browser: Browser, fitted: FittedSong, tmp_path: Path, window: str
) -> None:
    width, height = WINDOWS[window]
    page = browser.new_page(viewport={"width": width, "height": height})
    shown(page, page_of(fitted), tmp_path)

    def boxes() -> tuple[FloatRect, FloatRect]:
        note, bar = page.locator(".detail").bounding_box(), page.locator("footer").bounding_box()
        assert note
        assert bar
        assert apart(note, bar), (note, bar)
        return note, bar

    boxes()
    for _ in range(6):
        page.focus("#unrolled")
        page.keyboard.press("t")
        note, _ = boxes()
        assert note["y"] >= 0
        assert note["y"] + note["height"] <= height, "the whole of it is in the window"
        assert note["height"] > 100
        wheel_box = page.locator("#strip").bounding_box()
        assert wheel_box
        assert apart(note, wheel_box)
        assert width < 1000 or note["x"] > wheel_box["x"] + wheel_box["width"], "beside the wheel where there is room"
    page.evaluate("scrollTo(0, document.body.scrollHeight)")
    boxes()
    page.close()


# Rows and steps


def test_every_row_of_holes_has_a_line_of_its_own(page: Page, tmp_path: Path) -> None:
    song = fit_file(COMMITTEE, load_wheel(WHEEL), Request(turns=1))
    shown(page, page_of(song), tmp_path)
    assert page.inner_text("#rows") == "Rows of holes in a lane, from its top: on, half, triplet."
    page.emulate_media(media="print")
    assert page.locator("#filters label").first.is_visible(), "the legend of the marks"
    assert page.inner_text("#filters legend") == "", "nothing can be chosen on paper"
    page.evaluate("dispatchEvent(new Event('beforeprint'))")
    middles: list[float] = page.evaluate(
        """[...document.querySelectorAll('#paper path')].filter((path) => path.matches('.exact, .unheard, .slight'))
        .map((path) => path.getBBox()).map((box) => box.y + box.height / 2)"""
    )
    page.emulate_media(media="screen")
    pins = song.turns[0].pins
    lane = 13.5  # of the drawing: three rows of 3.5 and 3 between lanes
    lines = {(middle - 38) % lane // 2.5 for middle in middles}
    assert len(lines) == len(set(pins.row.tolist())) == 3
    # On the screen a pin's tone is found on its row's line: 18 px of lane, of which 12 are for three rows
    tones: list[bool] = page.evaluate(
        """() => { const d = JSON.parse(document.getElementById('data').textContent);
        const pen = document.getElementById('unrolled').getContext('2d'), rows = d.wheel.rows.length;
        const pitch = (document.getElementById('strip').clientWidth - 112) / (d.wheel.plates * d.wheel.steps_per_plate);
        const lane = Math.max(4.5 * rows + 3, Math.min(24, 460 / d.wheel.channels.length));
        const exact = [...d.notes.at.keys()].filter((note) => d.notes.outcome[note] === 'exact');
        return exact.map((note) => {
          const middle = 38 + lane * (d.notes.channel[note] + 0.5);
          const y = middle + (d.notes.row[note] - (rows - 1) / 2) * (lane - 6) / rows;
          return pen.getImageData(Math.round(108 + d.notes.at[note] * pitch), Math.round(y), 1, 1).data[0] < 80;
        }); }"""
    )
    assert len(tones) == 184
    assert np.mean(tones) > 0.95, "but for the few that a seam's line or a neighbour covers"


def test_the_axis_has_plates_bars_and_steps(page: Page, tmp_path: Path) -> None:
    shown(page, page_of(fit_file(JIG, load_wheel(WHEEL))), tmp_path)
    texts: list[str] = page.evaluate(
        """() => { const words = [], pen = CanvasRenderingContext2D.prototype, fill = pen.fillText;
        pen.fillText = function (text, ...place) { words.push(String(text)); return fill.call(this, text, ...place); };
        pegwrightPage.frameMs(1); return words; }"""
    )
    assert {"plate 1", "plate 6", "bar", "step"} <= set(texts)
    assert Counter(texts)["17"] >= 6, "step 17 of each of six plates"
    page.evaluate("dispatchEvent(new Event('beforeprint'))")
    printed = page.locator("#paper text").all_text_contents()
    assert Counter(printed)["29"] == 6
    assert Counter(printed)["step"] == 2, "in both bands"


# Doubts, options, turns


def test_doubtful_notes_are_shown_counted_and_listed(page: Page, tmp_path: Path) -> None:
    song = fit_file(JIG, load_wheel(WHEEL))
    confidence = np.ones(song.score.note_count)
    confidence[[3, 8]] = 0.899, 0.42
    doubted = with_score(song, replace(song.score, confidence=frozen_floats(confidence)))
    shown(page, page_of(doubted), tmp_path)
    assert page.locator("#filters label", has_text="doubtful 2").count() == 1
    assert page.inner_text("#trouble-count") == "(2)"
    words = page.locator("#troubles .why").all_inner_texts()
    assert "in doubt whether this is its hole (confidence 42 %)" in words
    assert "in doubt whether this is its hole (confidence 89 %)" in words
    page.locator("#troubles button").last.click()
    assert "confidence 42 %" in page.inner_text("#detail")
    page.evaluate("dispatchEvent(new Event('beforeprint'))")
    assert page.locator("#paper .doubt").count() == 2
    page.locator("#filters label", has_text="doubtful").locator("input").uncheck()
    assert page.inner_text("#trouble-count") == "(0)"


def test_as_many_notes_are_doubtful_as_are_reported_so(tmp_path: Path) -> None:
    """A song whose onsets are shaken is put on the grid; report and page count the notes in doubt alike."""
    import mido

    shaken, chance = mido.MidiFile(JIG), np.random.default_rng(3)
    for track in shaken.tracks:
        for message in track:
            if message.time > 20:
                message.time += int(chance.normal(0, 14))
    shaken.save(tmp_path / "shaken.mid")
    song = fit_file(tmp_path / "shaken.mid", load_wheel(WHEEL), Request(played=Played()))
    reported = [finding.count for finding in song.findings if finding.code == "low-confidence"]
    assert reported
    assert reported[0] > 0
    data: Any = page_data(song)
    turns = data.get("turns", [data])
    assert sum(len(turn["doubtful"]) for turn in turns) == reported[0]
    assert len(song.score.doubtful) == reported[0]


def test_the_options_are_shown(page: Page, tmp_path: Path) -> None:
    shown(page, page_of(fit_file(JIG, load_wheel(WHEEL))), tmp_path)
    assert page.inner_text("#options") == "Options: none, the song as it is written"
    request = replace(PLAIN, bars=(1, 4), turns=1)
    shown(page, page_of(fit_file(JIG, load_wheel(WHEEL), request)), tmp_path)
    assert page.inner_text("#options") == "Options: --bars 1-4 --turns 1"


def test_turns_with_equal_pins_have_notes_of_their_own(page: Page, tmp_path: Path) -> None:
    """Twice the same pins, but in the second turn a note has no channel and another is late."""
    small = wheel([channel("low", [60]), channel("high", [72])], plate_count=1, steps_per_plate=16)
    turn = 96
    notes = [(0, 60), (24, 72), (48, 60), (turn, 60), (turn + 24, 72), (turn + 49, 60), (turn + 72, 65)]
    song = fit_score(score(notes), small)
    assert song.running_text == "A A"
    shown(page, page_of(song), tmp_path)
    assert page.locator("#sets a").all_inner_texts() == ["A: turn 1, bar 1", "A: turn 2, bar 2"]
    assert page.inner_text("#trouble-count") == "(0)"
    assert page.locator("#filters label", has_text="exact 3").count() == 1
    with page.expect_navigation():
        page.locator("#sets a").nth(1).click()
    page.wait_for_selector('#sets a[aria-current="page"]:has-text("turn 2")')
    assert page.inner_text("#trouble-turn") == "in turn 2"
    assert page.inner_text("#counts-set") == "", "of the only set"
    assert page.inner_text("#filters legend") == "Show"
    page.emulate_media(media="print")
    assert page.inner_text("#filters legend") == "In turn 2", "the counts beside it are those of one turn"
    page.emulate_media(media="screen")
    assert page.inner_text("#trouble-count") == "(2)"
    assert [re.sub(r"\s+", " ", words) for words in page.locator("#troubles button").all_inner_texts()] == [
        "F4, bar 2 beat 4, Melody left out: no channel for this pitch",
        "C4, bar 2 beat 3 1/24, Melody 20.8 ms early, slight",
    ]
    assert page.locator("#filters label", has_text="exact 2").count() == 1
    page.locator("#troubles button").first.click()
    assert "F4 has no channel" in page.inner_text("#detail"), "what is reported of it"
    strikes: list[dict[str, float]] = page.evaluate("pegwrightPage.strikes('score')")
    assert len(strikes) == 7
    assert page.locator("#counts th", has_text="All").locator("xpath=../td").inner_text() == "3"
    page.evaluate("dispatchEvent(new Event('beforeprint'))")
    assert page.locator("#paper h3").all_inner_texts() == ["A: turn 2, bar 2, 3 pins"]


def test_turns_of_equal_notes_are_in_the_file_once() -> None:
    small = wheel([channel("low", [60])], plate_count=1, steps_per_plate=16)
    song = fit_score(score([(96 * turn + tick, 60) for turn in range(40) for tick in (0, 24, 48)]), small)
    data: Any = page_data(song)
    assert (len(data["turns"]), len(data["fits"]), len(data["sets"])) == (40, 1, 1)
    assert data["turns"][39]["notes"]["where"][2] == "bar 40 beat 3"


# Cautions


def test_the_page_warns_of_plates_pins_and_tools(page: Page, fitted: FittedSong, tmp_path: Path) -> None:
    shown(page, page_of(fitted), tmp_path)
    assert page.locator("#cautions li").all_inner_texts() == list(TOUCH)
    assert page.inner_text("#helps .caution") == CHANGE


OPTIONS_CUT = """() => {
  const cut = [], walker = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
  let seen = 0;
  while (walker.nextNode()) {
    const text = walker.currentNode;
    if (text.parentElement.closest("script")) continue;
    for (const option of text.data.matchAll(/--[a-z][a-z-]*/g)) {
      const range = document.createRange();
      range.setStart(text, option.index);
      range.setEnd(text, option.index + option[0].length);
      const boxes = [...range.getClientRects()].filter((box) => box.width > 0);
      if (boxes.length) seen += 1;
      if (new Set(boxes.map((box) => Math.round(box.top))).size > 1) cut.push(option[0]);
    }
  }
  return [seen, cut];
}"""


def test_no_option_is_cut_in_two_at_the_end_of_a_line(page: Page, fitted: FittedSong, tmp_path: Path) -> None:
    shown(page, page_of(fitted), tmp_path)
    assert page.inner_text("#help-list p:last-child").endswith("Pin the song with --remedies for the rest.")
    trouble = page.locator("#troubles button", has_text="left out").first
    trouble.click()
    for width in range(320, 1400, 24):
        page.set_viewport_size({"width": width, "height": 900})
        seen, cut = page.evaluate(OPTIONS_CUT)
        assert seen > 3
        assert cut == [], width


def test_words_between_backticks_are_shown_as_code(page: Page, fitted: FittedSong, tmp_path: Path) -> None:
    place = "At the end of the wheel file"
    whole = page_of(fitted).decode()
    assert whole.count(f'"where":"{place}"') == 1
    shown(page, whole.replace(f'"where":"{place}"', '"where":"In place of `pitches`"').encode(), tmp_path)
    assert page.locator("#help-list p", has_text="In place of pitches:").locator("code").inner_text() == "pitches"


@pytest.mark.parametrize("window", WINDOWS)
def test_no_option_in_the_verdict_is_broken_at_a_hyphen(browser: Browser, window: str, tmp_path: Path) -> None:
    fitted = fit_file(COMMITTEE, load_wheel(WHEEL), Request(bars=(2, 9), without=("Bass",), most_at_once=2))
    width, height = WINDOWS[window]
    page = browser.new_page(viewport={"width": width, "height": height})
    shown(page, page_html(page_data(fitted)), tmp_path)
    options = page.locator("#verdict .option")
    assert options.all_text_contents() == ["--without", "--bars", "--thin"]
    for narrower in range(width, width // 2, -20):
        page.set_viewport_size({"width": narrower, "height": height})
        assert options.evaluate_all("each => each.map(one => one.getClientRects().length)") == [1, 1, 1]
    page.close()
