"""The report page in a real browser, from a file address, as a maker opens it."""

from __future__ import annotations

import shutil
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from commands import SONGS, WHEEL
from pegwright.config import load_wheel
from pegwright.pipeline import Fitted, fit_file, report_page
from pegwright.request import Request

CHROMIUM = shutil.which("chromium") or shutil.which("chromium-browser") or shutil.which("google-chrome")
if CHROMIUM is None:
    pytest.skip("no Chromium on this machine", allow_module_level=True)

from playwright.sync_api import Browser, Page, sync_playwright  # noqa: E402  # needs a browser to be of use

pytestmark = pytest.mark.browser
ARGUMENTS = [
    "--no-sandbox",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
    "--no-first-run",
    "--autoplay-policy=no-user-gesture-required",
]


@pytest.fixture(scope="module")
def browser() -> Iterator[Browser]:
    with sync_playwright() as playwright:
        started = playwright.chromium.launch(executable_path=CHROMIUM, args=ARGUMENTS)
        yield started
        started.close()


@pytest.fixture(scope="module")
def fitted() -> Fitted:
    return fit_file(SONGS / "the-committee-regrets.musicxml", load_wheel(WHEEL), Request())


@pytest.fixture(scope="module")
def file(fitted: Fitted, tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("page") / "report.html"
    path.write_bytes(report_page(fitted))
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


def test_opens_with_the_verdict_and_every_trouble_listed(page: Page, fitted: Fitted) -> None:
    assert page.title() == "The Committee Regrets: on the wheel"
    assert page.inner_text("#verdict").startswith(f"{fitted.placement.placed_count} of 247 notes in")
    listed = page.locator("#troubles button").count()
    assert page.inner_text("#trouble-count") == f"({listed})"
    assert page.locator("#troubles button", has_text="left out").count() + 1 == fitted.placement.left_out_count


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
        const pitch = (strip.clientWidth - 112) / steps;
        const lane = Math.max(13, Math.min(24, 460 / d.wheel.channels.length));
        return [108 + d.notes.at[note] * pitch, 26 + lane * (d.notes.channel[note] + 0.5)]; }"""
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


@pytest.mark.parametrize("mode", ["pins", "score"])
def test_what_is_heard_is_when_the_data_says(page: Page, mode: str) -> None:
    strikes: list[dict[str, float]] = page.evaluate(f"pegwrightPage.strikes('{mode}')")
    left: list[float] = page.evaluate(f"pegwrightPage.render('{mode}', 6).then((channels) => Array.from(channels[0]))")
    grown, at_s = growth(np.array(left))
    due = sorted({strike["at"] for strike in strikes if 0.05 < strike["at"] < 5.9})
    alone = [at for before, at in zip([-1.0, *due], due, strict=False) if at - before > 0.06]
    assert len(alone) > 10
    away = []
    for at in alone:
        near = np.flatnonzero(np.abs(at_s - at) < 0.03)
        away.append(at_s[near[np.argmax(grown[near])]] - at)
    assert np.mean(np.abs(away) < 0.003) > 0.9, np.round(away, 4)
    quiet = [place for place, at in enumerate(at_s) if min(abs(at - strike) for strike in due) > 0.1]
    struck = [grown[np.argmin(np.abs(at_s - at))] for at in alone]
    assert np.median(struck) > 4 * np.percentile(grown[quiet], 90), "between strikes nothing is struck"


def test_pins_and_score_are_heard_left_and_right(page: Page) -> None:
    strikes: list[dict[str, float]] = page.evaluate("pegwrightPage.strikes('both')")
    assert {strike["side"] for strike in strikes} == {-0.8, 0.8}
    pins: list[dict[str, float]] = page.evaluate("pegwrightPage.strikes('pins')")
    assert len([strike for strike in strikes if strike["side"] < 0]) == len(pins)


@pytest.mark.parametrize(
    ("width", "scheme"), [(1280, "light"), (1280, "dark"), (390, "light")], ids=["light", "dark", "phone"]
)
def test_nothing_overflows_the_window(browser: Browser, file: Path, width: int, scheme: str) -> None:
    context = browser.new_context(color_scheme=scheme, viewport={"width": width, "height": 800})  # type: ignore[arg-type]
    page = context.new_page()
    page.goto(file.as_uri())
    assert page.evaluate("document.documentElement.scrollWidth") <= width
    context.close()


def test_a_hostile_title_is_only_words(browser: Browser, fitted: Fitted, tmp_path: Path) -> None:
    from dataclasses import replace

    hostile = "</title></script><img src=x onerror='document.title=1'><b>bold</b>\u202egnitfel\U0001f941"
    path = tmp_path / "hostile.html"
    path.write_bytes(report_page(replace(fitted, score=replace(fitted.score, title=hostile))))
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
