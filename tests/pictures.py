"""Pictures of every sheet and page, to be looked at: `python -m tests.pictures FOLDER`, from the top of a checkout.

Sheets are PDF and drawings SVG as the commands write them, drawings as a whole; of a song also the first plate on every
paper for few and many channels, and every option of its sheets. The report page is taken in both themes and three
windows, as it is opened, with a note chosen, as a whole, and printed from each window. Needs Chromium.
"""

from __future__ import annotations

import shutil
import subprocess
import sys
import tempfile
from collections.abc import Iterator, Sequence
from dataclasses import replace
from pathlib import Path
from typing import Literal

sys.path.insert(0, str(Path(__file__).parent))

import pdfplumber
from playwright.sync_api import Browser

from chromium import WINDOWS, started
from pegwright import bundled_wheel, load_wheel
from pegwright.draw.paper import PAPERS
from places import SONGS
from wheel_text import wheel_text

SONG = SONGS / "the-committee-regrets.musicxml"  # two turns, notes of every outcome, bars drawn as music
OTHER = SONGS / "waltz-of-the-empty-deckchairs.musicxml"
PLATE = SONGS / "merrow-sands-plate.toml"
SHOW = SONGS / "pavilion-evening.toml"
WHEEL = ("-w", SONGS / "merrow-sands.toml")
THEMES: tuple[Literal["light", "dark"], ...] = ("light", "dark")
CHANNELS = (12, 24, 38, 64)
OPTIONS = ("--labels", "--larger", "--seen-from", "inside", "--date", "2026-05-01", "--from", "empty")
DRAWING_DOTS = 1600  # of a picture of a drawing, across
DOTS_PER_INCH = 115  # of a picture of a sheet: an A4 page is 950 by 1350 dots


def pegwright(*arguments: object) -> None:
    """Run a command as a user does; its output is kept only if it fails."""
    command = [sys.executable, "-m", "pegwright", *map(str, arguments)]
    ran = subprocess.run(command, capture_output=True, text=True, check=False)
    if ran.returncode:
        sys.exit(f"{' '.join(command)} failed:\n{ran.stderr}")


def written(folder: Path) -> Iterator[Path]:
    """Everything that people look at, written by the commands into a folder: its files."""
    pegwright("pin", SONG, *WHEEL, "-o", folder / "song", "--remedies")
    pegwright("pin", OTHER, *WHEEL, "-o", folder / "other")
    pegwright("swap", folder / "song" / "A" / "pin-map.json", OTHER, *WHEEL, "-o", folder / "swap")
    pegwright("set", SHOW, "-o", folder / "show")
    for more in (folder / "show" / "songs", folder / "swap" / "report.html"):  # as those of the two songs
        shutil.rmtree(more) if more.is_dir() else more.unlink()
    pegwright("plate", PLATE, "-o", folder / "plate", "--jig")
    pegwright("plate", PLATE, "-o", folder / "gauge", "--gauge")
    pegwright("plate", PLATE, "-o", folder / "strip", "--strip", 500)
    pegwright("stack", PLATE, "-o", folder / "stack-steps.svg")
    pegwright("stack", PLATE, SONG, "-o", folder / "stack-song.svg")
    for more in varied(folder / "sheets"):
        (more / "report.html").unlink()  # as that of the song
    yield from sorted(path for path in folder.rglob("*") if path.suffix in {".pdf", ".svg", ".html"})


def varied(folder: Path) -> Iterator[Path]:
    """The song with the options of its sheets, and its first plate on every paper for every number of channels."""
    folder.mkdir()
    pegwright("pin", SONG, *WHEEL, "-o", folder / "options", *OPTIONS)
    yield folder / "options"
    for channels in CHANNELS:
        wheel = folder / f"{channels}.toml"
        wheel.write_text(wheel_of(channels), encoding="utf-8")
        for paper in PAPERS:
            out = folder / f"{channels}-{paper.name}"
            pegwright("pin", SONG, "-w", wheel, "-o", out, "--paper", paper.name, "--pages", "2-3")
            yield out


def wheel_of(channels: int) -> str:
    """The bundled wheel with fewer channels, its last ones, or with more, their names numbered."""
    wheel = load_wheel(bundled_wheel())
    own = wheel.channels
    rounds = range(1, -(-channels // len(own)))
    more = tuple(replace(each, name=f"{each.name} {number + 1}") for number in rounds for each in own)
    return wheel_text(replace(wheel, channels=(own + more)[:channels] if more else own[-channels:]))


def sheets(path: Path, out: Path, name: str) -> None:
    """A picture of each page of a PDF."""
    with pdfplumber.open(path) as document:
        for number, page in enumerate(document.pages):
            page.to_image(resolution=DOTS_PER_INCH).save(out / f"{name}-{number + 1:02d}.png")


def pages(browser: Browser, path: Path, out: Path, name: str) -> None:
    """The report page in every window and theme, before and after a note is chosen, and printed from each window."""
    for window, (width, height) in WINDOWS.items():
        for theme in THEMES:
            context = browser.new_context(viewport={"width": width, "height": height}, color_scheme=theme)
            page = context.new_page()
            page.goto(path.as_uri())
            page.screenshot(path=out / f"{name}-{window}-{theme}-opened.png")
            page.focus("#unrolled")
            page.keyboard.press("t")
            page.screenshot(path=out / f"{name}-{window}-{theme}-chosen.png")
            page.screenshot(path=out / f"{name}-{window}-{theme}-whole.png", full_page=True)
            if theme == THEMES[0]:
                printed = out / f"{name}-{window}-printed.pdf"
                page.pdf(path=printed, format="A4")
                sheets(printed, out, printed.stem)
                printed.unlink()
            context.close()


def drawing(browser: Browser, path: Path, out: Path, name: str) -> None:
    """A picture of the whole of an SVG, however large it is drawn."""
    page = browser.new_page()
    page.goto(path.as_uri())
    root = "document.documentElement"
    wide, high = page.evaluate(f"[{root}.viewBox.baseVal.width, {root}.viewBox.baseVal.height]")
    dots_high = round(DRAWING_DOTS * high / wide)
    page.set_viewport_size({"width": DRAWING_DOTS, "height": dots_high})
    for length, dots in (("width", DRAWING_DOTS), ("height", dots_high)):
        page.evaluate(f"{root}.setAttribute('{length}', '{dots}')")
    page.screenshot(path=out / f"{name}.png")
    page.close()


def take(files: Sequence[Path], folder: Path, out: Path) -> None:
    """Pictures of files, named by their path in a folder."""
    with started() as browser:
        for path in files:
            name = "-".join(path.relative_to(folder).with_suffix("").parts).replace(" ", "-")
            if path.suffix == ".pdf":
                sheets(path, out, name)
            elif path.suffix == ".svg":
                drawing(browser, path, out, name)
            else:
                pages(browser, path, out, name)


def main() -> None:
    """Write the pictures into the folder that is given."""
    if len(sys.argv) != 2:
        sys.exit(__doc__)
    out = Path(sys.argv[1])
    out.mkdir(parents=True, exist_ok=True)
    with tempfile.TemporaryDirectory() as scratch:
        folder = Path(scratch)
        take(list(written(folder)), folder, out)
    print(f"{len(list(out.glob('*.png')))} pictures in {out}")  # noqa: T201  # a command of its own


if __name__ == "__main__":
    main()
