"""The report page as a file: self-contained, guarded, and readable in both themes."""

from __future__ import annotations

import json
import re
from html.parser import HTMLParser
from importlib import resources

import pytest

import samples
from commands import SONGS, WHEEL
from pegwright.ask.request import Request
from pegwright.config import load_wheel
from pegwright.song_pipeline.fitting import fit_file
from pegwright.write.page.page import page_html
from placed import page_of, song_of, with_score

HOSTILE = "</script><script>alert(1)</script>\"'&<img src=x onerror=alert(2)>\u2028\u202e\U0001f941"


class Elements(HTMLParser):
    """Tags with their attributes, and the text of each script."""

    def __init__(self, html: str) -> None:
        super().__init__()
        self.tags: list[tuple[str, dict[str, str | None]]] = []
        self.scripts: list[str] = []
        self._in_script = False
        self.feed(html)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append((tag, dict(attrs)))
        if tag == "script":
            self.scripts.append("")
            self._in_script = True

    def handle_endtag(self, tag: str) -> None:
        if tag == "script":
            self._in_script = False

    def handle_data(self, data: str) -> None:
        if self._in_script:
            self.scripts[-1] += data


@pytest.fixture(scope="module")
def page() -> str:
    fitted = fit_file(SONGS / "the-committee-regrets.musicxml", load_wheel(WHEEL), Request(turns=1))
    return page_of(fitted).decode()


def test_the_page_asks_for_nothing_outside_itself(page: str) -> None:
    elements = Elements(page)
    for tag, attributes in elements.tags:
        assert "src" not in attributes, tag
        assert not any(name.startswith("on") for name in attributes), tag
        assert re.fullmatch(r"data:,|#[\w-]+", attributes.get("href") or "data:,"), tag
    assert not re.search(r"url\(|@import|https?://(?!www\.w3\.org/2000/svg)", page)


def test_the_policy_allows_only_what_the_page_holds(page: str) -> None:
    policy = next(tags["content"] for tag, tags in Elements(page).tags if tags.get("http-equiv"))
    assert policy
    assert policy.startswith("default-src 'none';")
    assert "unsafe" not in policy
    assert len(re.findall(r"'sha256-[A-Za-z0-9+/]{43}='", policy)) == 2


def test_data_counts_every_note_once(page: str) -> None:
    data = json.loads(Elements(page).scripts[0])
    notes = data["notes"]
    columns = {name: len(values) for name, values in notes.items() if isinstance(values, list) and name != "parts"}
    assert set(columns.values()) == {247}
    pinned = sum(second is not None for second in notes["pin_s"])
    assert pinned == data["counts"]["all"] == sum(data["counts"]["plates"]) == sum(data["counts"]["channels"])
    for outcome, at, ms, pin_s, score_s in zip(
        notes["outcome"], notes["at"], notes["ms"], notes["pin_s"], notes["score_s"], strict=True
    ):
        if pin_s is not None:
            # Each is told to a microsecond, and moves to a tick, which is no more than 0.01 mm where pins have offsets.
            hundredth_mm_s = 0.01 * data["turn_s"] / load_wheel(WHEEL).geometry.circumference_mm
            assert pin_s == pytest.approx(score_s + ms / 1000, abs=2e-6 + hundredth_mm_s / 2)
            assert at is not None
        assert (outcome == "exact") <= (ms == 0)


def test_hostile_words_stay_words() -> None:
    fitted = fit_file(SONGS / "shrimpers-jig.mid", load_wheel(WHEEL), Request())
    from dataclasses import replace

    score = replace(
        fitted.score, title=HOSTILE, parts=tuple(replace(part, name=HOSTILE) for part in fitted.score.parts)
    )
    page = page_of(with_score(fitted, score)).decode()
    elements = Elements(page)
    assert [tag for tag, _ in elements.tags].count("script") == 2
    assert not any(tag == "img" for tag, _ in elements.tags)
    assert json.loads(elements.scripts[0])["title"] == HOSTILE


def test_same_song_same_bytes(page: str) -> None:
    fitted = fit_file(SONGS / "the-committee-regrets.musicxml", load_wheel(WHEEL), Request(turns=1))
    assert page_of(fitted).decode() == page


def test_not_a_number_never_reaches_the_page() -> None:
    with pytest.raises(ValueError, match="not JSON compliant"):
        page_html({"title": "x", "value": float("nan")})


def luminance(colour: str) -> float:
    """Source: WCAG 2.1, relative luminance, as seen at https://w3c.github.io/wcag/understanding/relative-luminance.html.

    That page is of WCAG 2.2, with 0.04045, and says that it was 0.03928 before; no colour of 8 bits lies between.
    """
    channels = [int(colour[place : place + 2], 16) / 255 for place in (1, 3, 5)]
    linear = [value / 12.92 if value <= 0.03928 else ((value + 0.055) / 1.055) ** 2.4 for value in channels]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def contrast(one: str, other: str) -> float:
    """Source: WCAG 2.1, contrast ratio (from memory)."""
    high, low = sorted([luminance(one), luminance(other)], reverse=True)
    return (high + 0.05) / (low + 0.05)


def test_wcag_formula_gives_its_known_extremes() -> None:
    assert contrast("#000000", "#ffffff") == pytest.approx(21)
    assert contrast("#777777", "#ffffff") == pytest.approx(4.48, abs=0.01)  # the grey just below AA, from memory


@pytest.mark.parametrize("theme", [0, 1], ids=["light", "dark"])
def test_text_and_marks_stand_out_in_both_themes(theme: int) -> None:
    """WCAG 2.1 AA: 4.5 for text (1.4.3), 3 for marks that mean something (1.4.11); from memory."""
    css = (resources.files("pegwright") / "page" / "page.css").read_text(encoding="utf-8")
    root = re.findall(r":root \{(.*?)\}", css, re.DOTALL)[theme]
    colours = dict(re.findall(r"--([a-z]+): (#[0-9a-f]{6})", root))
    for ground in ("card", "lane", "paper"):
        for text in ("ink", "soft"):
            assert contrast(colours[text], colours[ground]) >= 4.5, (text, ground)
        for mark in ("exact", "unheard", "slight", "audible", "out", "shared", "focus", "play"):
            assert contrast(colours[mark], colours[ground]) >= 3, (mark, ground)


def test_an_empty_song_has_a_page() -> None:
    from pegwright.ask.options import FitOptions
    from pegwright.tell.findings import fit_with_findings
    from pegwright.write.page.data import page_data

    score, wheel = samples.score([]), samples.wheel()
    placement, findings = fit_with_findings(score, wheel, FitOptions())
    assert page_html(page_data(song_of(score, wheel, placement, findings)))
