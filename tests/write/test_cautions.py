"""Cautions: on every text, sheet and page that goes to the wheel, in the same words, and short enough to be read."""

from __future__ import annotations

import json
import re
from pathlib import Path

import pytest

from commands import SONGS, WHEEL, Command, runner
from documents import page_texts
from pegwright.cautions import CHANGE, SHEET, TOUCH
from places import ROOT

COMMITTEE = SONGS / "the-committee-regrets.musicxml"
WARNED_OF = ("heavy", "pinch", "out of balance", "opposite plates in turn", "lock", "spring out", "eye protection")
DEFERRED_TO = ("Local rules", "licensed")


@pytest.fixture
def pegwright(capsys: pytest.CaptureFixture[str]) -> Command:
    return runner(capsys)


def flat(text: str) -> str:
    return " ".join(text.split())


def every_page_has_them(path: Path) -> None:
    """Sheets and lists have the short words; cover and counts, which are read in peace, all of them."""
    texts = [flat(text) for text in page_texts(path.read_bytes())]
    whole = [text for text in texts if SHEET not in text]
    assert len(whole) < len(texts) / 2
    assert all(words in text for text in whole for words in TOUCH)
    assert len(whole) >= 2


def test_they_name_every_danger_and_are_short() -> None:
    words = " ".join(TOUCH)
    for danger in (*WARNED_OF, *DEFERRED_TO):
        assert danger in words
    for danger in ("lock", "heavy and pinch", "turn by itself", "spring out", "your eyes"):
        assert danger in SHEET
    for work in ("drill", "file", "retune", "eye protection", *DEFERRED_TO[1:]):
        assert work in CHANGE
    assert len(words.split()) < 90
    assert len(SHEET) < 130


def test_what_is_written_for_a_song_has_them(pegwright: Command, tmp_path: Path) -> None:
    assert pegwright("pin", COMMITTEE, "-w", WHEEL, "-o", tmp_path / "pins").code in {0, 3}
    files = tmp_path / "pins"
    text = flat((files / "report.txt").read_text(encoding="utf-8"))
    assert all(words in text for words in TOUCH)
    page = (files / "report.html").read_text(encoding="utf-8")
    data = json.loads(re.findall(r'<script type="application/json" id="data">(.*?)</script>', page)[0])
    assert data["cautions"] == {"touch": list(TOUCH), "change": CHANGE}
    every_page_has_them(files / "print-a4.pdf")


def test_what_is_written_for_a_show_has_them(pegwright: Command, tmp_path: Path) -> None:
    assert pegwright("set", SONGS / "pavilion-evening.toml", "-o", tmp_path / "show").code == 0
    show = tmp_path / "show"
    text = flat((show / "plan.txt").read_text(encoding="utf-8"))
    assert all(text.count(words) == 1 + 9 for words in TOUCH), "with the plan and with each call list"
    every_page_has_them(show / "print-a4.pdf")


def test_remedies_that_change_the_wheel_have_theirs(pegwright: Command) -> None:
    printed = flat(pegwright("fit", COMMITTEE, "-w", WHEEL, "--remedies").out)
    assert printed.index("The wheel: as few changes") < printed.index(CHANGE) < printed.index("At the end of the wheel")
    assert CHANGE not in flat(pegwright("fit", SONGS / "shrimpers-jig.mid", "-w", WHEEL, "--remedies").out)


def test_the_docs_give_them_once_and_lead_to_them() -> None:
    sheets = flat((ROOT / "docs" / "pin-sheets.md").read_text(encoding="utf-8"))
    assert all(words in sheets for words in (*TOUCH, CHANGE))
    for name in ("README.md", "docs/swap-sheets.md", "docs/show.md", "docs/report-page.md"):
        assert "pin-sheets.md#cautions" in (ROOT / name).read_text(encoding="utf-8"), name
