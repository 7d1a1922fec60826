from __future__ import annotations

import unicodedata
from io import BytesIO

import pytest
from hypothesis import given
from hypothesis import strategies as st

from font_widths import COMMON_CODES, PLACE, common_font, document, widths
from pegwright.draw.lettering import ELLIPSIS, MISSING, fitted, fitting_mm, shown, text_span_mm, width_mm
from pegwright.drawing import Anchor, Text
from pegwright.package_data import common_font_bytes, font_bytes, font_widths

ANY_TEXT = st.text(st.characters(codec=None, exclude_categories=()), max_size=40)


@pytest.mark.parametrize("bold", [False, True])
def test_widths_are_those_of_a_general_pdf_library(bold: bool) -> None:
    # Outside check: reportlab's own reading of the same font.
    from reportlab.pdfbase.ttfonts import TTFont

    font = TTFont("reference", BytesIO(font_bytes(bold)))
    for text in ("Plate 3 of 6", "♩ = 96", "żółć ÀÉÎ", "ключ", "1:2.4", "…□"):
        assert width_mm(text, 10.0, bold) == pytest.approx(font.stringWidth(text, 10.0), abs=0.02)


@given(ANY_TEXT)
def test_any_text_becomes_one_line_that_the_font_has(text: str) -> None:
    line = shown(text)
    assert shown(line) == line
    assert not any(unicodedata.category(character)[0] == "C" for character in line)
    assert width_mm(text, 3.0) == width_mm(line, 3.0) >= 0


def test_what_the_font_lacks_is_a_box_and_nothing_else_changes() -> None:
    assert shown("Ab 日本 x") == f"Ab {MISSING}{MISSING} x"
    assert shown("a\0b\x1b[31m\udcff") == f"a{MISSING}b{MISSING}[31m{MISSING}"
    assert shown("a\nb\tc") == "a b c"


def test_characters_that_turn_the_reading_direction_go() -> None:
    assert shown("\u202egnol\u200b") == "gnol"


@given(ANY_TEXT, st.floats(0.0, 60.0))
def test_fitted_text_fits_and_is_whole_where_it_can_be(text: str, room: float) -> None:
    line = fitted(text, 3.0, room)
    assert width_mm(line, 3.0) <= room + 1e-9
    if width_mm(text, 3.0) <= room:
        assert line == shown(text)
    elif line:
        assert line.endswith(ELLIPSIS)


def test_a_shortened_text_is_as_long_as_its_room_allows() -> None:
    text = "The Lamplighter's March"
    room = width_mm("The Lamp" + ELLIPSIS, 3.0)
    assert fitted(text, 3.0, room + 0.01) == "The Lamp" + ELLIPSIS
    assert fitted(text, 3.0, 0.5) == ""


def test_a_text_spans_from_its_anchor() -> None:
    width = width_mm("plate", 4.0)
    spans = {anchor: text_span_mm(Text(0, 0, "plate", 4.0, anchor)) for anchor in Anchor}
    assert spans == {
        Anchor.START: (0.0, width),
        Anchor.MIDDLE: (-width / 2, pytest.approx(width / 2)),
        Anchor.END: (-width, pytest.approx(0.0)),
    }


def test_the_file_of_widths_is_what_the_fonts_say() -> None:
    # Outside check: fontTools reads both fonts whole.
    assert PLACE.read_text(encoding="utf-8") == document()
    for bold in (False, True):
        units, advances = widths(bold)
        assert font_widths(bold) == {chr(code): advance / units for code, advance in advances.items()}


@pytest.mark.parametrize("bold", [False, True])
def test_the_cut_font_draws_its_characters_as_the_whole_one(bold: bool) -> None:
    # Outside check: fontTools reads the outlines of both.
    from fontTools.pens.recordingPen import DecomposingRecordingPen
    from fontTools.ttLib import TTFont

    def outlines(font: TTFont) -> dict[int, tuple[float, list[object]]]:
        glyphs, drawn = font.getGlyphSet(), {}
        for code, name in font.getBestCmap().items():
            if code in COMMON_CODES:
                pen = DecomposingRecordingPen(glyphs)
                glyphs[name].draw(pen)
                drawn[code] = (glyphs[name].width, pen.value)
        return drawn

    cut = TTFont(BytesIO(common_font_bytes(bold)))
    assert outlines(cut) == outlines(TTFont(BytesIO(font_bytes(bold))))
    assert len(cut.getBestCmap()) > 1000
    assert common_font(bold) == common_font_bytes(bold)


@given(st.text("abcW …", max_size=60), st.floats(0, 300), st.booleans())
def test_a_line_gets_smaller_only_as_far_as_it_must_and_may(text: str, room_mm: float, bold: bool) -> None:
    size_mm = fitting_mm(text, 6.4, room_mm, bold, 4.6)
    assert 4.6 <= size_mm <= 6.4
    if size_mm > 4.6:
        assert width_mm(text, size_mm, bold) <= room_mm + 1e-9
    if size_mm < 6.4:
        assert width_mm(text, size_mm + 0.02, bold) > room_mm
    assert fitting_mm(text, 6.4, room_mm, bold, 99.0) == 6.4
