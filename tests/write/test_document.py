"""What is printed as one document: order, contents, page numbers, parts of it, and scale."""

from __future__ import annotations

import json
import re
from io import BytesIO
from pathlib import Path
from typing import Any

import pypdf
import pytest

from commands import SONGS, WHEEL, Command, runner
from documents import outline_of, page_texts, pages_of
from pdf_shapes import MM, measured, pins_missing
from pegwright.draw.cover import ContentsLine, Cover, cover_count, cover_pages
from pegwright.draw.paper import A4, PAPERS, Paper
from pegwright.drawing import Text
from pegwright.song import FittedSong
from pegwright.song_pipeline.files import song_files
from pegwright.song_pipeline.fitting import fit_file

MARCH, MINUET = SONGS / "lamplighters-march.mid", SONGS / "bathing-machine-minuet.musicxml"


@pytest.fixture
def pegwright(capsys: pytest.CaptureFixture[str]) -> Command:
    return runner(capsys)


@pytest.fixture(scope="module")
def evening(tmp_path_factory: pytest.TempPathFactory) -> Path:
    from pegwright.cli.main import main

    folder = tmp_path_factory.mktemp("show") / "evening"
    with pytest.raises(SystemExit) as left:
        main(["set", str(SONGS / "pavilion-evening.toml"), "-o", str(folder)])
    assert left.value.code == 0
    return folder


def contents_of(pages: list[Any]) -> list[tuple[str, int, int]]:
    """The lines of the contents as they are read on paper: words, first and last page."""
    lines = [line for page in pages for line in page.extract_text().partition("Contents")[2].splitlines()[1:]]
    found = [re.fullmatch(r"(.*?) ([0-9]+)(?:–([0-9]+))?", line) for line in lines]
    return [
        (match[1], int(match[2]), int(match[3] or match[2]))
        for match in found
        if match and not match[1].endswith("page")
    ]


def test_an_evening_of_nine_songs_is_at_most_40_files_of_less_than_4_megabytes(evening: Path) -> None:
    files = [path for path in evening.rglob("*") if path.is_file()]
    assert len(files) <= 40
    files.remove(evening / "pegwright.sha256")
    assert sum(path.stat().st_size for path in files) < 4_000_000
    assert {path.relative_to(evening).parts[0] for path in files} == {"print-a4.pdf", "plan.txt", "songs", "data"}
    assert len([path for path in files if path.suffix == ".pdf"]) == 1 + 9
    assert {path.suffix for path in files if path.is_relative_to(evening / "data")} == {".json"}
    recorded = (evening / "pegwright.sha256").read_text(encoding="utf-8").splitlines()
    assert sorted(line.split("  ", 1)[1] for line in recorded) == sorted(
        path.relative_to(evening).as_posix() for path in files
    )


def test_an_evening_is_printed_in_the_order_of_the_work(evening: Path) -> None:
    data = (evening / "print-a4.pdf").read_bytes()
    outline = outline_of(data)
    top = [words for level, words, _ in outline if level == 0]
    assert top[:3] == ["An Evening at the Pavilion", "Show overview", "1 The Pier Master's Hornpipe"]
    assert top[-2:] == ["9 Lullaby for a Lighthouse", "Pin count"]
    for song in top[2:-1]:
        place = outline.index(next(entry for entry in outline if entry[1] == song))
        inside = [entry for entry in outline[place + 1 :] if entry[0] <= 1]
        assert [words for _, words, _ in inside[:2]] == ["Swap sheets", "Call list"]
        assert inside[0][2] < inside[1][2]


def test_contents_outline_and_paper_have_the_same_page_numbers(evening: Path) -> None:
    data = (evening / "print-a4.pdf").read_bytes()
    pages, outline = pages_of(data), outline_of(data)
    for number, text in enumerate(page_texts(data), start=1):
        assert re.search(rf"\bpage {number}$", text, re.MULTILINE), number
    contents = contents_of(pages[: outline[1][2]])
    sections = [(words, page + 1) for level, words, page in outline if level <= 1 and "page " not in words]
    sections = [entry for entry in sections if "place " not in entry[0]][1:]
    assert [first for _, first, _ in contents] == [first for _, first in sections]
    for (line, _, _), (words, _) in zip(contents, sections, strict=True):
        assert line.startswith(words[:20])
    assert contents[-1][2] == len(pages)
    assert pypdf.PdfReader(BytesIO(data)).page_labels == [str(number) for number in range(1, len(pages) + 1)]


def test_a_song_is_printed_with_sheets_call_list_from_empty_plates_and_count(
    pegwright: Command, tmp_path: Path
) -> None:
    assert pegwright("pin", MARCH, "-w", WHEEL, "-o", tmp_path / "a", "--no-remedies").code == 0
    data = (tmp_path / "a/print-a4.pdf").read_bytes()
    assert len(list((tmp_path / "a").glob("*.pdf"))) == 1
    top = [words for level, words, _ in outline_of(data) if level == 0]
    assert top == ["Lamplighters' March", "Pin sheets", "Call list", "Pin count"]
    assert len(pages_of(data, "Pin sheets")) == 6
    calls = pages_of(data, "Call list")
    assert all("empty plates → Lamplighters' March" in page.extract_text() for page in calls)
    rects = [rect for page in calls for rect in page.rects if 3 * MM < rect["width"] < 4 * MM]
    boxes = sum(abs(rect["width"] - rect["height"]) < 0.1 for rect in rects)
    assert boxes == 203, "a box to tick for every pin"
    assert pegwright("pin", MARCH, "-w", WHEEL, "-o", tmp_path / "b", "--no-remedies").code == 0
    assert (tmp_path / "b/print-a4.pdf").read_bytes() == data


def test_sheets_in_the_document_are_true_to_scale(pegwright: Command, tmp_path: Path) -> None:
    """From the line of step 1, in the sheet's own 100 mm, at the printed scale; places are those of the pin map."""
    assert pegwright("pin", MINUET, "-w", WHEEL, "-o", tmp_path / "a", "--no-remedies").code == 0
    document = json.loads((tmp_path / "a/pin-map.json").read_bytes())
    checked = 0
    for plate, page in zip(document["plates"], pages_of(tmp_path / "a/print-a4.pdf", "Pin sheets"), strict=True):
        sheet = measured(page, 32)
        assert (sheet.across, sheet.down) == pytest.approx((72 / 25.4, 72 / 25.4), rel=1e-5)
        assert pins_missing(page, sheet, plate, away_mm=0.05) == []
        checked += len(plate["pins"])
    assert checked == 161


def numbers_on(path: Path) -> list[str]:
    return [re.findall(r"\bpage [0-9]+$", text, re.MULTILINE)[-1] for text in page_texts(path.read_bytes())]


@pytest.mark.parametrize(
    ("asked", "numbers"),
    [
        (("--pages", "3-5"), [3, 4, 5]),
        (("--pages", "9, 1,2-3"), [1, 2, 3, 9]),
        (("--sheets",), [2, 3, 4, 5, 6, 7]),
        (("--sheets", "--pages", "6-9"), [6, 7]),
    ],
)
def test_a_part_is_printed_with_the_numbers_it_has_in_the_whole(
    pegwright: Command, tmp_path: Path, asked: tuple[str, ...], numbers: list[int]
) -> None:
    assert pegwright("pin", MARCH, "-w", WHEEL, "-o", tmp_path / "a", "--no-remedies", *asked).code == 0
    path = tmp_path / "a/print-a4.pdf"
    assert numbers_on(path) == [f"page {number}" for number in numbers]
    assert pypdf.PdfReader(path).page_labels == [str(number) for number in numbers]
    assert all(0 <= page < len(numbers) for _, _, page in outline_of(path.read_bytes()))


@pytest.mark.parametrize(
    ("asked", "said"),
    [
        (("--pages", "7-99"), "--pages: page 99 is asked for, and the document has 14 (name pages from 1 to 14)"),
        (("--pages", "0"), "'0' names no pages"),
        (("--pages", "5-3"), "'5-3' names no pages"),
        (("--pages", ""), "names no pages"),
        (("--sheets", "--pages", "1"), "none of these pages is a sheet"),
    ],
)
def test_pages_that_there_are_not_are_refused_and_nothing_is_written(
    pegwright: Command, tmp_path: Path, asked: tuple[str, ...], said: str
) -> None:
    ran = pegwright("pin", MARCH, "-w", WHEEL, "-o", tmp_path / "a", "--no-remedies", *asked)
    assert ran.code == 2
    assert said in ran.err
    assert not (tmp_path / "a").exists()


def test_a_place_at_which_nothing_is_done_is_named_in_the_contents(pegwright: Command, tmp_path: Path) -> None:
    song = SONGS / "low-water-slowly.mid"
    assert pegwright("pin", song, "-w", WHEEL, "-o", tmp_path / "a", "--no-remedies").code == 0
    path = tmp_path / "a/print-a4.pdf"
    calls = pages_of(path, "Set of plates B", "Call list")
    there = {int(re.findall(r"Place ([0-9]) of 6", page.extract_text())[0]) for page in calls}
    others = sorted({1, 2, 3, 4, 5, 6} - there)
    assert others
    words = " ".join(pages_of(path)[0].extract_text().split())
    assert f"nothing to do at places {', '.join(map(str, others[:-1]))} and {others[-1]}" in words


def test_plates_without_pins_have_no_sheet_and_are_named_in_the_contents(pegwright: Command, tmp_path: Path) -> None:
    out = tmp_path / "a"
    assert pegwright("pin", MARCH, "-w", WHEEL, "-o", out, "--no-remedies", "--bars", "1-8").code == 0
    plates = json.loads((out / "pin-map.json").read_bytes())["plates"]
    bare = [plate["plate"] for plate in plates if not plate["pins"]]
    assert 1 < len(bare) < 6
    sheets = pages_of(out / "print-a4.pdf", "Pin sheets")
    named = [int(re.findall(r"Plate ([0-9]) of 6", page.extract_text())[0]) for page in sheets]
    assert sorted(named + bare) == [1, 2, 3, 4, 5, 6]
    words = " ".join(pages_of(out / "print-a4.pdf")[0].extract_text().split())
    assert f"none on plates {', '.join(map(str, bare[:-1]))} and {bare[-1]}" in words


@pytest.mark.parametrize("paper", PAPERS, ids=lambda paper: paper.name)
@pytest.mark.parametrize("count", [1, 30, 200])
def test_contents_of_any_length_lie_within_the_paper(paper: Paper, count: int) -> None:
    cover = Cover("A title as long as titles of songs and shows go " * 3, "Pin sheets", ("A fact. " * 30,) * 5)
    lines = [
        ContentsLine(number % 2, "A very long name of a song " * 4, "facts", number, number) for number in range(count)
    ]
    pages = cover_pages(cover, lines, paper)
    assert len(pages) == cover_count(cover, count, paper)
    words = [item for page in pages for item in page.items if isinstance(item, Text)]
    assert all(0 < text.y_mm < paper.long_mm - 5 and text.size_mm * 72 / 25.4 >= 9 for text in words)
    numbers = [int(text.text) for text in words if text.text.isdigit()]
    assert numbers == list(range(count))


def test_one_contents_page_serves_an_evening_of_nine_songs(evening: Path) -> None:
    assert outline_of((evening / "print-a4.pdf").read_bytes())[1][2] == 1


@pytest.fixture(scope="module")
def fitted() -> FittedSong:
    from pegwright.config import load_wheel

    return fit_file(MARCH, load_wheel(WHEEL))


def test_what_holds_the_plates_is_not_drawn_twice(fitted: FittedSong, monkeypatch: pytest.MonkeyPatch) -> None:
    """Sheets of all plates, lists and count are drawn once each, into one file."""
    from pegwright.song_pipeline import printed

    drawn: list[str] = []
    for name in ("pin_sheets", "call_pages", "song_count_pages", "swap_sheets"):
        inner = getattr(printed, name)

        def counted(*arguments: Any, name: str = name, inner: Any = inner) -> Any:  # noqa: ANN401  # any function
            drawn.append(name)
            return inner(*arguments)

        monkeypatch.setattr(printed, name, counted)
    files = song_files(fitted, remedies=False, paper=A4)
    assert sorted(drawn) == ["call_pages", "pin_sheets", "song_count_pages"]
    assert [name for name in files if name.endswith(".pdf")] == ["print-a4.pdf"]


def test_the_maps_of_a_show_are_heard_and_printed_from_their_folder(
    evening: Path, pegwright: Command, tmp_path: Path
) -> None:
    song = next((evening / "data").glob("01-*"))
    assert pegwright("hear", song, "-w", WHEEL, "-o", tmp_path / "a.wav").code == 0
    assert pegwright("pin", song, "-w", WHEEL, "-o", tmp_path / "pins").code == 0
    assert len(list((tmp_path / "pins").glob("plate-*.csv"))) == 6
    assert pegwright("check", song, "-w", WHEEL).code == 0


def test_the_cover_names_what_is_in_the_document(pegwright: Command, tmp_path: Path) -> None:
    pegwright("pin", str(MINUET), "-w", str(WHEEL), "-o", str(tmp_path / "old"))
    swapped = ("--from", str(tmp_path / "old"), "--labels")
    pegwright("pin", str(MARCH), "-w", str(WHEEL), "-o", str(tmp_path / "new"), *swapped)
    for folder, subject in (
        ("old", "Pin sheets, call list and pin count"),
        ("new", "Pin sheets, swap sheets, call list, pin count and channel labels"),
    ):
        data = (tmp_path / folder / "print-a4.pdf").read_bytes()
        assert subject in page_texts(data)[0]
        inside = {words for _, words, _ in outline_of(data)}
        assert {"Pin sheets", "Call list", "Pin count"} <= inside
        assert (folder == "new") == ("Swap sheets" in inside) == ("Channel labels" in inside)
