from __future__ import annotations

import datetime
from pathlib import Path

import pypdf
import pytest

from documents import outline_of, pages_of
from pegwright.ask.request import Request
from pegwright.bundled import bundled_songs, bundled_wheel
from pegwright.cli.sheet_options import style_from
from pegwright.config import load_wheel
from pegwright.draw.paper import A4
from pegwright.draw.sheet_style import PLAIN, SheetStyle
from pegwright.errors import UsageError
from pegwright.song_pipeline.files import song_files
from pegwright.song_pipeline.fitting import fit_file
from pegwright.write.pdf import pdf_bytes
from song_sheets import song_sheets

LABELS = SheetStyle(labels=True)
GIVEN = {"larger": False, "seen_from": "outside", "date": None, "labels": False}
(JIG,) = (path for path in bundled_songs() if path.stem == "shrimpers-jig")


def words_of(pdf: bytes, folder: Path) -> str:
    (folder / "sheets.pdf").write_bytes(pdf)
    return pypdf.PdfReader(folder / "sheets.pdf").pages[0].extract_text()


def test_options_make_the_style_of_the_sheets() -> None:
    assert style_from(GIVEN) == PLAIN
    every = {"larger": True, "seen_from": "inside", "date": " 2026-05-01", "labels": True}
    assert style_from(every) == SheetStyle(larger=True, inside=True, date="2026-05-01", labels=True)
    assert datetime.date.fromisoformat(style_from({**GIVEN, "date": "Today"}).date)


@pytest.mark.parametrize("text", ["1.5.2026", "2026-13-01", "", "tomorrow"])
def test_what_is_not_a_date_is_refused_with_the_form_of_one(text: str) -> None:
    with pytest.raises(UsageError, match=r"--date: .*is not a date .*2026-05-01, or today"):
        style_from({**GIVEN, "date": text})


def test_two_cuts_of_one_song_and_their_edition_are_told_apart_on_paper(tmp_path: Path) -> None:
    wheel = load_wheel(bundled_wheel())
    pages = []
    for bars in ((1, 8), (9, 16)):
        song = fit_file(JIG, wheel, Request(bars=bars))
        words = words_of(pdf_bytes(song_sheets(song, 0, A4), "t"), tmp_path)
        assert f"turn 1 of 1, bars {bars[0]} to {bars[1]}" in words
        assert "Edition: map" in words
        assert "2026" not in words, "no date unless it is asked for"
        dated = words_of(pdf_bytes(song_sheets(song, 0, A4, SheetStyle(date="2026-05-01")), "t"), tmp_path)
        assert "♩ = 156 · 2026-05-01 · wheel" in dated
        pages.append(words)
    assert pages[0] != pages[1]


def test_labels_are_written_where_they_are_asked_for() -> None:
    song = fit_file(JIG, load_wheel(bundled_wheel()))
    without, with_labels = (song_files(song, False, style=style)["print-a4.pdf"] for style in (PLAIN, LABELS))
    assert "Channel labels" not in {words for _, words, _ in outline_of(without)}
    (strip,) = pages_of(with_labels, "Channel labels")
    assert "true scale" in strip.extract_text()
