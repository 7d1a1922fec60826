"""The report page in a real browser, from a file address, as a maker opens it."""

from __future__ import annotations

import math
import tomllib
from collections.abc import Iterator
from itertools import pairwise
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from chromium import CHROMIUM
from commands import SONGS, WHEEL
from pegwright.ask.request import Request
from pegwright.cli.hear import COMPARE_WORDS
from pegwright.config import load_wheel
from pegwright.findings import Finding, Severity
from pegwright.song import FittedSong
from pegwright.song_pipeline.fitting import fit_file, set_loads
from pegwright.write.notation.pictures import ScorePictures
from pegwright.write.page.data import page_data
from pegwright.write.page.page import page_html
from placed import page_of, with_score

if CHROMIUM is None:
    pytest.skip("no Chromium on this machine", allow_module_level=True)

from playwright.sync_api import Browser, Page  # needs a browser to be of use

pytestmark = pytest.mark.browser
SONG = SONGS / "the-committee-regrets.musicxml"
QUARTERS_PER_MINUTE = 126  # as the file has it, <sound tempo="126" />


@pytest.fixture(scope="module")
def fitted() -> FittedSong:
    return fit_file(SONG, load_wheel(WHEEL), Request(turns=1))


@pytest.fixture(scope="module")
def file(fitted: FittedSong, tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("page") / "report.html"
    path.write_bytes(page_of(fitted))
    return path


@pytest.fixture
def page(browser: Browser, file: Path) -> Iterator[Page]:
    """The page opened; afterwards nothing may have gone wrong or been asked for."""
    opened = browser.new_page(viewport={"width": 1280, "height": 900})
    troubles: list[str] = []
    opened.on("console", lambda message: troubles.append(message.text))
    opened.on("pageerror", lambda error: troubles.append(str(error)))
    opened.on("request", lambda request: troubles.append(request.url) if request.url != file.as_uri() else None)
    opened.goto(file.as_uri())
    yield opened
    opened.close()
    assert troubles == []


def test_opens_with_the_verdict_and_every_trouble_listed(page: Page, fitted: FittedSong) -> None:
    assert page.title() == "The Committee Regrets: on the wheel"
    assert page.inner_text("#verdict").startswith(f"{fitted.sounding_count} of 247 notes sound (1 shares a pin)")
    listed = page.locator("#troubles button").count()
    assert page.inner_text("#trouble-count") == f"({listed})"
    assert page.locator("#troubles button", has_text="left out").count() == fitted.turns[0].placement.left_out_count


def test_the_keyboard_leads_to_a_trouble_and_its_remedy(page: Page) -> None:
    page.focus("#unrolled")
    page.keyboard.press("t")
    detail = page.inner_text("#detail")
    assert "left out" in detail
    assert "no channel for this pitch" in detail
    assert "What helps" in detail
    assert "notes sound" in detail
    first = page.locator("#troubles button[aria-current=true]")
    assert first.count() == 1
    page.keyboard.press("t")
    assert page.inner_text("#detail") != detail
    page.keyboard.press("Shift+T")
    assert page.inner_text("#detail") == detail


def test_all_that_helps_stands_beside_its_name(page: Page) -> None:
    """Several answers to one name stand below each other, in the column of answers."""
    helps = page.locator("#detail dd")
    for trouble in page.locator("#troubles button").all():
        trouble.click()
        if helps.count() > page.locator("#detail dt").count():
            break
    else:
        pytest.fail("no note has two things that help")
    assert len({round(box["x"]) for box in (each.bounding_box() for each in helps.all()) if box}) == 1


def test_the_list_and_the_wheel_are_linked_both_ways(page: Page) -> None:
    page.locator("#troubles button", has_text="lost at a seam").first.click()
    assert "seam" in page.inner_text("#detail")
    page.focus("#unrolled")
    page.keyboard.press("Home")
    page.keyboard.press("ArrowRight")
    assert "bar 1" in page.inner_text("#detail")
    box = page.locator("#unrolled").bounding_box()
    assert box
    place: list[float] = page.evaluate(
        """() => { const d = JSON.parse(document.getElementById('data').textContent);
        const note = d.notes.outcome.indexOf('audible');
        const strip = document.getElementById('strip'), steps = d.wheel.plates * d.wheel.steps_per_plate;
        const pitch = (strip.clientWidth - 112) / steps, rows = d.wheel.rows.length;
        const lane = Math.max(4.5 * rows + 3, Math.min(24, 460 / d.wheel.channels.length));
        const line = d.wheel.lines_of_rows[d.notes.row[note]] - (rows - 1) / 2;
        const middle = 38 + lane * (d.notes.channel[note] + 0.5);
        return [108 + d.notes.at[note] * pitch, middle + line * (lane - 6) / rows]; }"""
    )
    page.mouse.click(box["x"] + place[0], box["y"] + place[1])
    assert "moved, audible" in page.inner_text("#detail")
    assert "audible" in page.inner_text("#troubles button[aria-current=true]")


def test_filters_leave_out_what_is_unticked(page: Page) -> None:
    before = page.locator("#troubles button").count()
    page.locator("#filters label", has_text="left out").locator("input").uncheck()
    after = page.locator("#troubles button").count()
    assert 0 < after < before
    assert page.locator("#troubles button", has_text="left out").count() == 0


def test_the_play_line_and_the_wheel_move_with_the_sound(page: Page) -> None:
    at = "getComputedStyle(document.getElementById('play-line')).transform"
    turned = "document.getElementById('face').style.transform"
    page.click("#play")
    page.wait_for_timeout(400)
    first = page.evaluate(f"[{at}, {turned}]")
    page.wait_for_timeout(400)
    second = page.evaluate(f"[{at}, {turned}]")
    assert first[0] != second[0]
    assert first[1] != second[1]
    page.click("#play")
    clock = page.inner_text("#clock")
    page.wait_for_timeout(300)
    assert page.inner_text("#clock") == clock
    assert page.get_attribute("#play", "aria-pressed") == "false"


def growth(samples: np.ndarray[Any, Any], rate: int = 44100) -> tuple[np.ndarray[Any, Any], np.ndarray[Any, Any]]:
    """Independent of the page: how the spectrum above 1 kHz grows, and the time each growth is of, in seconds."""
    size, hop, apart = 256, 32, 8
    starts = np.arange(0, len(samples) - size, hop)
    frames = samples[starts[:, None] + np.arange(size)] * np.hanning(size)
    loud = np.log1p(200 * np.abs(np.fft.rfft(frames, axis=1))[:, int(1000 * size / rate) :])
    # Growth over 8 frames is greatest when the later frame is the first to lie wholly in the note.
    return np.maximum(loud[apart:] - loud[:-apart], 0).sum(axis=1), starts[apart:] / rate


def due_of_pins(fitted: FittedSong) -> list[float]:
    """When the pins trip, in seconds, from the pin map and the wheel file alone: place along the rim by its length."""
    file = tomllib.loads(WHEEL.read_text(encoding="utf-8"))
    steps_per_plate, steps = (
        file["wheel"]["steps_per_plate"],
        file["wheel"]["plates"] * file["wheel"]["steps_per_plate"],
    )
    offsets_mm = [kind.get("offset_mm", 0.0) for kind in file["pin_type"]]
    rim_mm = 2 * math.pi * file["geometry"]["radius_mm"]
    turn_s = steps / 4 * 60 / QUARTERS_PER_MINUTE  # a step is a sixteenth note
    within = {"on": lambda i: i, "half": lambda i: i + 1 / 2, "triplet": lambda i: i // 2 * 2 + (2 / 3, 4 / 3)[i % 2]}
    rows = [within[row["name"]] for row in file["row"]]
    pins = fitted.turns[0].pins
    columns = (pins.plate.tolist(), pins.row.tolist(), pins.index.tolist(), pins.pin_type.tolist())
    return sorted(
        turn_s * ((plate * steps_per_plate + rows[row](index)) / steps + offsets_mm[kind] / rim_mm)
        for plate, row, index, kind in zip(*columns, strict=True)
    )


def due_of_score() -> list[float]:
    """When the notes of the score begin, in seconds, as music21 reads them."""
    from music21 import converter

    stream = converter.parse(SONG)
    return sorted(
        float(note.getOffsetInHierarchy(stream)) * 60 / QUARTERS_PER_MINUTE for note in stream.recurse().notes
    )


def away_s(samples: list[float], due: list[float]) -> tuple[list[float], float]:
    """How late each strike that stands alone is heard, and how much stronger strikes are than what is between them."""
    grown, at_s = growth(np.array(samples))
    due = sorted({round(at, 6) for at in due})
    alone = [at for before, at in pairwise([-1.0, *due]) if at - before > 0.06]
    assert len(alone) > 4
    away = []
    for at in alone:
        near = np.flatnonzero(np.abs(at_s - at) < 0.03)
        away.append(float(at_s[near[np.argmax(grown[near])]] - at))
    quiet = [place for place, at in enumerate(at_s) if min(abs(at - strike) for strike in due) > 0.1]
    struck = [grown[np.argmin(np.abs(at_s - at))] for at in alone]
    return away, float(np.median(struck) / np.percentile(grown[quiet], 90)) if quiet else math.inf


@pytest.mark.parametrize("mode", ["pins", "score"])
def test_what_is_heard_is_when_pins_and_notes_are_due(page: Page, fitted: FittedSong, mode: str) -> None:
    due = due_of_pins(fitted) if mode == "pins" else due_of_score()
    left: list[float] = page.evaluate(f"pegwrightPage.render('{mode}', 6).then((channels) => Array.from(channels[0]))")
    away, stronger = away_s(left, [at for at in due if 0.05 < at < 5.9])
    assert np.mean(np.abs(away) < 0.003) > 0.9, np.round(away, 4)
    assert stronger > 4, "between strikes nothing is struck"
    played = np.array(page.evaluate(f"pegwrightPage.strikes('{mode}').map((strike) => strike.at)"))
    apart_s = np.abs(played[:, None] - np.array(due)[None, :])
    assert max(apart_s.min(axis=0).max(), apart_s.min(axis=1).max()) < 1e-4


# A loudspeaker that keeps what it is given, with a clock that the test moves on.
LOUDSPEAKER = """() => {
  const clock = globalThis.clock = { now: 0, made: [] };
  globalThis.AudioContext = class extends OfflineAudioContext {
    constructor() { super(2, 44100 * 5, 44100); clock.made.push(this); clock.now = 0; }
    get currentTime() { return clock.now; }
    close() {}
  };
  globalThis.setInterval = (tick) => { clock.tick = tick; return 0; };
  clock.run = (seconds) => { for (let i = 0; i < seconds * 50; i++) { clock.now += 0.02; clock.tick(); } };
  clock.heard = (number) => clock.made[number].startRendering().then((heard) => Array.from(heard.getChannelData(0)));
}"""
BEGINS_S = 0.1  # play begins that long after the button


def test_the_tempo_control_scales_the_times_and_goes_on_from_where_it_was(page: Page, fitted: FittedSong) -> None:
    due = due_of_pins(fitted)
    page.evaluate(LOUDSPEAKER)
    assert page.inner_text("#tempo-out") == f"♩ = {QUARTERS_PER_MINUTE}"
    page.fill("#tempo", "150")
    assert page.inner_text("#tempo-out") == f"♩ = {QUARTERS_PER_MINUTE * 3 // 2}"
    page.click("#play")
    page.evaluate("clock.run(4)")
    page.fill("#tempo", "50")
    assert page.inner_text("#tempo-out") == f"♩ = {QUARTERS_PER_MINUTE // 2}"
    page.evaluate("clock.run(4)")
    page.click("#play")
    changed_s = 1.5 * (4 - BEGINS_S)
    assert page.inner_text("#clock").startswith(f"{changed_s + 0.5 * (4 - BEGINS_S):.1f} s of")
    for number, (rate, begin_s) in enumerate([(1.5, 0.0), (0.5, changed_s)]):
        expected = [BEGINS_S + (at - begin_s) / rate for at in due if at >= begin_s]
        away, _ = away_s(page.evaluate(f"clock.heard({number})"), [at for at in expected if 0.15 < at < 3.9])
        late_s = float(np.median(away))
        assert 0 <= late_s < 0.01, "a limiter looks some milliseconds ahead"
        assert np.mean(np.abs(np.array(away) - late_s) < 0.003) > 0.85, np.round(away, 4)


def test_score_and_pins_are_heard_left_and_right_as_by_hear(page: Page) -> None:
    assert page.locator('#modes label:has(input[value="both"])').inner_text().strip() == "both: score left, pins right"
    assert "score is on the left, the pins are on the right" in COMPARE_WORDS["beside"]
    strikes: list[dict[str, float]] = page.evaluate("pegwrightPage.strikes('both')")
    assert {strike["side"] for strike in strikes} == {-0.8, 0.8}
    pins: list[dict[str, float]] = page.evaluate("pegwrightPage.strikes('pins')")
    assert len([strike for strike in strikes if strike["side"] > 0]) == len(pins)
    left, right = (
        page.evaluate(f"pegwrightPage.render('both', 6).then((channels) => Array.from(channels[{side}]))")
        for side in (0, 1)
    )
    score, played = (
        np.array(page.evaluate(f"pegwrightPage.render('{mode}', 6).then((channels) => Array.from(channels[0]))"))
        for mode in ("score", "pins")
    )
    for ear, its, other in [(left, score, played), (right, played, score)]:
        alike, unlike = (float(np.corrcoef(ear, each)[0, 1]) for each in (its, other))
        assert alike > 0.95 > unlike


def test_bars_in_trouble_are_seen_as_music_and_told_in_words(page: Page) -> None:
    pictures = page.locator("#music .picture")
    assert pictures.count() == 3
    for picture in pictures.all():
        image = picture.locator("svg[role=img]").first
        box = image.bounding_box()
        assert box
        assert box["width"] > 200
        assert box["height"] > 80
        numbers = picture.locator(".key b").all_inner_texts()
        assert sorted(set(numbers), key=int) == list(dict.fromkeys(numbers))
        words = image.get_attribute("aria-label") or ""
        assert words.startswith(picture.locator("h3").inner_text())
        for number in numbers:
            assert f" {number} " in words
            assert picture.locator(f'svg .mark[data-mark="{number}"] .ring').count() == 1
    assert page.get_by_role("img", name="Bars 2 to 4").count() == 1
    painted = page.evaluate(
        """() => [...document.querySelectorAll('#music use')].every((use) => use.getBBox().width > 0)"""
    )
    assert painted, "every glyph that is used is there"
    assert page.inner_text("#music-told") == "9 notes further past the end of the turn are not shown as music."


def test_the_list_and_the_music_are_linked_both_ways(page: Page) -> None:
    trouble = page.locator("#troubles button", has_text="lost at a seam").first
    seam = trouble.inner_text().rpartition(" · mark ")[2]
    trouble.click()
    link = page.locator("#detail a")
    assert link.inner_text() == f"mark {seam} in bars 2 to 4"
    assert page.locator("#music svg .mark.current").count() == 2, "the ring, and the shape over it"
    assert page.locator("#music .key .current b").all_inner_texts() == [seam]
    link.click()
    assert page.locator("#picture-0").evaluate("(figure) => Math.abs(figure.getBoundingClientRect().top) < 60")
    line = page.locator("#music .key button", has_text="B2, bar 2 beat 3, Bass")
    page.locator(f'#music svg .mark[data-mark="{line.get_attribute("data-mark")}"] .ring').dispatch_event("click")
    assert page.inner_text("#troubles button[aria-current=true]").startswith("B2, bar 2 beat 3, Bass")
    assert "current" in (line.get_attribute("class") or "")
    moved = page.locator("#music .key button", has_text="audible").first
    moved.click()
    assert "audible" in page.inner_text("#troubles button[aria-current=true]")
    assert page.locator("#music .key .current b").all_inner_texts() == [moved.get_attribute("data-mark")]
    ring = "getComputedStyle(document.querySelector('#music .mark.current .ring')).strokeWidth"
    assert page.evaluate(ring) == "90px"
    page.emulate_media(media="print")
    assert page.evaluate(ring) != "90px", "on paper it is as the others"
    page.emulate_media(media="screen")
    page.focus("#unrolled")
    page.keyboard.press("Home")
    assert page.locator("#music .current").count() == 0


def test_on_a_phone_the_music_scrolls_in_its_own_box(browser: Browser, file: Path) -> None:
    page = browser.new_page(viewport={"width": 390, "height": 800})
    page.goto(file.as_uri())
    staves = page.locator("#picture-0 .staves")
    assert staves.evaluate("(box) => box.scrollWidth > box.clientWidth && box.clientWidth <= innerWidth")
    staves.focus()
    page.keyboard.press("ArrowRight")
    for _ in range(100):  # the page's policy lets no test wait within it, and the browser scrolls when it sees fit
        if staves.evaluate("(box) => box.scrollLeft"):
            break
        page.wait_for_timeout(50)
    assert staves.evaluate("(box) => box.scrollLeft") > 0
    page.close()


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_music_and_marks_take_the_tones_of_the_theme(browser: Browser, file: Path, scheme: str) -> None:
    context = browser.new_context(color_scheme=scheme)  # type: ignore[arg-type]  # a name from a fixed list
    page = context.new_page()
    page.goto(file.as_uri())
    tone = """([place, name]) => {
      const probe = document.body.appendChild(document.createElement('i'));
      probe.style.setProperty('color', `var(--${name})`);
      return [getComputedStyle(document.querySelector(place)).fill, getComputedStyle(probe).color];
    }"""
    for place, name in (("#music use", "ink"), *((f"#music .mark.{each} use", each) for each in ("out", "audible"))):
        drawn, asked = page.evaluate(tone, [place, name])
        assert drawn == asked
    context.close()


def test_a_song_without_trouble_has_no_music_section(browser: Browser, tmp_path: Path) -> None:
    path = tmp_path / "report.html"
    path.write_bytes(page_of(fit_file(SONGS / "shrimpers-jig.mid", load_wheel(WHEEL), Request())))
    page = browser.new_page()
    page.goto(path.as_uri())
    assert not page.locator("#music").is_visible()
    page.close()


def test_what_is_told_instead_of_music_is_seen(browser: Browser, fitted: FittedSong, tmp_path: Path) -> None:
    data = page_data(fitted)
    path = tmp_path / "report.html"
    path.write_bytes(page_html(data, ScorePictures(remarks=("Install <what> draws it",))))
    page = browser.new_page()
    page.goto(path.as_uri())
    assert page.inner_text("#music-told") == "Install <what> draws it."
    assert page.locator("#music").is_visible()
    page.close()


@pytest.mark.parametrize(
    ("width", "scheme"), [(1280, "light"), (1280, "dark"), (390, "light")], ids=["light", "dark", "phone"]
)
def test_nothing_overflows_the_window(browser: Browser, file: Path, width: int, scheme: str) -> None:
    context = browser.new_context(color_scheme=scheme, viewport={"width": width, "height": 800})  # type: ignore[arg-type]
    page = context.new_page()
    page.goto(file.as_uri())
    assert page.evaluate("document.documentElement.scrollWidth") <= width
    context.close()


@pytest.mark.parametrize("width", [1280, 390])
def test_names_without_end_break_and_widen_nothing(
    browser: Browser, fitted: FittedSong, tmp_path: Path, width: int
) -> None:
    from dataclasses import replace

    parts = tuple(replace(part, name="L" * 400) for part in fitted.score.parts)
    findings = (*fitted.findings, Finding("one-tempo", Severity.NOTE, "W" * 400, "M" * 400, "H" * 400))
    score = replace(fitted.score, title="T" * 400, parts=parts)
    path = tmp_path / "long.html"
    path.write_bytes(page_of(with_score(fitted, score, findings)))
    page = browser.new_page(viewport={"width": width, "height": 800})
    page.goto(path.as_uri())
    page.focus("#unrolled")
    page.keyboard.press("t")
    assert page.evaluate("document.documentElement.scrollWidth") <= width
    troubles = page.locator("#troubles")
    assert troubles.evaluate("list => list.scrollWidth <= list.clientWidth")
    page.close()


def test_a_hostile_title_is_only_words(browser: Browser, fitted: FittedSong, tmp_path: Path) -> None:
    from dataclasses import replace

    hostile = "</title></script><img src=x onerror='document.title=1'><b>bold</b>\u202egnitfel\U0001f941"
    path = tmp_path / "hostile.html"
    path.write_bytes(page_of(with_score(fitted, replace(fitted.score, title=hostile))))
    page = browser.new_page()
    errors: list[str] = []
    page.on("console", lambda message: errors.append(message.text))
    page.on("pageerror", lambda error: errors.append(str(error)))
    page.goto(path.as_uri())
    assert page.text_content("#title") == hostile
    assert page.locator("#title *").count() == 0
    assert page.locator("img").count() == 0
    assert errors == []
    page.close()


def test_a_song_of_several_turns_shows_one_set_at_a_time_and_plays_all(browser: Browser, tmp_path: Path) -> None:
    """The Committee takes two turns; its marks, remedies and troubles lead to the set that they are in."""
    fitted = fit_file(SONGS / "the-committee-regrets.musicxml", load_wheel(WHEEL), Request())
    path = tmp_path / "report.html"
    path.write_bytes(page_of(fitted))
    page = browser.new_page(viewport={"width": 1280, "height": 900})
    faults: list[str] = []
    page.on("pageerror", lambda error: faults.append(str(error)))
    page.goto(path.as_uri())
    assert page.locator("#sets a").all_inner_texts() == ["A: turn 1, bars 1 to 12", "B: turn 2, bars 13 to 14"]
    assert page.inner_text("#verdict").startswith(f"{fitted.sounding_count} of 247 notes sound (1 shares a pin)")
    strikes: list[dict[str, float]] = page.evaluate("pegwrightPage.strikes('pins')")
    assert len(strikes) == sum(turn.pins.pin_count for turn in fitted.turns)
    turn_s = fitted.report.turn_s
    second = [strike for strike in strikes if strike["turn"] == 1]
    assert len(second) == fitted.turns[1].pins.pin_count
    assert min(strike["at"] for strike in second) == pytest.approx(turn_s, abs=0.05)
    assert page.inner_text("#clock") == f"0.0 s of {2 * turn_s:.1f} s, turn 1 on A"
    with page.expect_navigation():
        page.locator("#sets a").nth(1).click()
    page.wait_for_selector('#sets a[aria-current="page"]:has-text("B")')
    assert page.inner_text("#clock") == f"{turn_s:.1f} s of {2 * turn_s:.1f} s, turn 2 on B"
    assert page.inner_text("#counts-heading") == "Pins of set B"
    listed = page.locator("#troubles button").all_inner_texts()
    assert len(listed) == fitted.turns[1].placement.left_out_count == 3
    page.locator("#troubles button").first.click()
    assert "bar 13" in page.inner_text("#detail")
    assert "mark 24" in page.inner_text("#detail"), "its mark is found by its number in the song"
    with page.expect_navigation():
        page.locator("#music button", has_text="left out: no channel").first.click()
    page.wait_for_selector('#sets a[aria-current="page"]:has-text("A")')
    page.close()
    assert faults == []


def test_the_load_round_the_wheel_is_that_of_the_fit(page: Page, fitted: FittedSong) -> None:
    """Strikes in the window that begins with each, against `fit --load`, which counts in whole ticks."""
    (of_set,) = set_loads(fitted)
    everything = of_set.loads[0]
    counted = "loadRound(JSON.parse(document.getElementById('data').textContent)).map(({ count }) => count)"
    assert sorted(page.evaluate(counted)) == sorted(everything.strikes.tolist())
    words = page.inner_text("#load")
    assert f"within {everything.window_ms:.0f} ms" in words
    assert f"{everything.maximum} at most." in words
