from __future__ import annotations

import math

import pytest

from pegwright.draw.paper import A3, A4, LEGAL, LETTER, PAPERS, TABLOID, paper_named
from pegwright.errors import UsageError


def test_a_sizes_follow_iso_216() -> None:
    # Source: ISO 216: A0 is one square metre with sides as 1 to the square root of 2, each size
    # half of the one before, rounded to a millimetre.
    side = math.sqrt(1 / math.sqrt(2)) * 1000
    for paper, number in ((A4, 4), (A3, 3)):
        short = side / math.sqrt(2) ** number
        assert paper.short_mm == pytest.approx(short, abs=0.6)
        assert paper.long_mm == pytest.approx(short * math.sqrt(2), abs=0.6)
    assert A3.short_mm == A4.long_mm


def test_letter_is_eight_and_a_half_by_eleven_inches() -> None:
    assert (LETTER.short_mm, LETTER.long_mm) == pytest.approx((8.5 * 25.4, 11 * 25.4))


def test_legal_and_tabloid_are_as_long_as_printers_have_them() -> None:
    # Legal: common practice, no source. Tabloid: ANSI/ASME Y14.1, size B, 11 by 17 inches (from memory).
    assert (LEGAL.short_mm, LEGAL.long_mm) == pytest.approx((8.5 * 25.4, 14 * 25.4))
    assert (TABLOID.short_mm, TABLOID.long_mm) == pytest.approx((11 * 25.4, 17 * 25.4))


def test_a_paper_is_found_by_its_name_in_any_case() -> None:
    assert [paper_named(f" {paper.name.upper()}") for paper in PAPERS] == list(PAPERS)


def test_an_unknown_paper_is_told_with_those_there_are() -> None:
    with pytest.raises(UsageError, match=r"'b5'.*a4, a3, letter"):
        paper_named("b5")
