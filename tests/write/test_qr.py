"""The code on the sheets, read back by an independent decoder."""

from __future__ import annotations

import shutil
import subprocess
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pegwright.draw.bounds import bounds_mm
from pegwright.draw.paper import A4, PAPERS, Paper
from pegwright.draw.pin_sheet import pin_sheets
from pegwright.draw.plate_page import SheetNotes
from pegwright.draw.swap_sheet import swap_sheets
from pegwright.drawing import Page, Use
from pegwright.placement import pin_map_sha256
from pegwright.write.pdf import pdf_bytes
from pegwright.write.qr import MAP_SCHEME, map_qr, qr_matrix
from placed import pin_map
from swaps import BELLS, made_swap, two_maps

QUIET = 4
PLAIN = "0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ $%*+-./:"


def texts_in(image: Any) -> list[str]:  # noqa: ANN401  # an array or a picture
    import zxingcpp

    return [code.text for code in zxingcpp.read_barcodes(image)]


def picture(matrix: tuple[tuple[bool, ...], ...], pixels: int = 4) -> np.ndarray:
    """The code in black on white with its quiet zone."""
    light = np.pad(~np.array(matrix), QUIET, constant_values=True)
    return np.kron(light, np.ones((pixels, pixels))).astype(np.uint8) * 255


@settings(max_examples=40)
@given(st.text(PLAIN, min_size=1, max_size=120))
def test_a_code_reads_as_its_text(text: str) -> None:
    assert texts_in(picture(qr_matrix(text))) == [text]


def test_a_map_is_named_by_its_hash_in_33_modules() -> None:
    pins = pin_map(BELLS, [(0, 0, 0, 1, 0, -1)])
    matrix = map_qr(pins)
    assert {len(matrix), *map(len, matrix)} == {33}  # version 4, Source: ISO/IEC 18004 (from memory): 17 + 4 x version
    assert texts_in(picture(matrix)) == [f"PEGWRIGHT:MAP:{pin_map_sha256(pins).upper()}"]
    assert MAP_SCHEME == "PEGWRIGHT:MAP:"


def test_a_code_with_a_spot_of_four_millimetres_on_it_is_still_read() -> None:
    pins = pin_map(BELLS, [(0, 0, 0, 1, 0, -1)])
    image = picture(map_qr(pins), pixels=4)
    middle = image.shape[0] // 2
    image[middle : middle + 8 * 4, middle : middle + 8 * 4] = 255  # 8 modules of 0.515 mm
    assert texts_in(image) == [f"PEGWRIGHT:MAP:{pin_map_sha256(pins).upper()}"]


def sheets(paper: Paper) -> list[tuple[Page, str]]:
    old, new = two_maps(BELLS, 60)
    notes = SheetNotes("A", qr=map_qr(new))
    name = MAP_SCHEME + pin_map_sha256(new).upper()
    return [
        (pin_sheets(BELLS, new, [], paper, notes)[0], name),
        (swap_sheets(BELLS, made_swap(BELLS, 60), old, new, [], paper, notes)[1], name),
    ]


@pytest.mark.parametrize("paper", PAPERS, ids=lambda paper: paper.name)
def test_the_code_is_read_from_the_printed_page(paper: Paper, tmp_path: Path) -> None:
    if shutil.which("pdftoppm") is None:
        pytest.skip("pdftoppm (poppler) is not installed, so no page can be rendered")
    from PIL import Image

    made = sheets(paper)
    (tmp_path / "sheets.pdf").write_bytes(pdf_bytes([page for page, _ in made], "t"))
    subprocess.run(["pdftoppm", "-r", "150", "-gray", tmp_path / "sheets.pdf", tmp_path / "page"], check=True)
    images = sorted(tmp_path.glob("page*.pgm"))
    for image, (_, expected) in zip(images, made, strict=True):
        with Image.open(image) as rendered:
            assert texts_in(np.array(rendered)) == [expected]


def test_the_code_is_fifteen_millimetres_or_more_on_paper() -> None:
    page, _ = sheets(A4)[0]
    (code,) = [item.symbol for item in page.items if isinstance(item, Use) and item.symbol.name == "code"]
    left, top, right, bottom = bounds_mm(code.shapes)
    assert right - left == bottom - top == pytest.approx(17.0)
    boxes = [bounds_mm([shape]) for shape in code.shapes]
    assert {round(box[2] - box[0], 6) for box in boxes} == {round(17 / 33, 6)}
