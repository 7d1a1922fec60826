"""The heading of a sheet: what is too long gets smaller before anything of it is left out."""

from __future__ import annotations

import pytest

from pegwright.draw.furniture import LEAST_TITLE_MM, SMALL_MM, TITLE_MM, heading
from pegwright.draw.lettering import ELLIPSIS
from pegwright.draw.paper import LETTER
from pegwright.drawing import Text

# Of part 2 of plate 2 of the bundled wheel with 64 channels, beside a code of 19 mm
FACTS = "turn 1, bars 1 to 12 · steps 1–32, channels 33–64 only · song starts at plate 1, step 1 · scale 1:3"
COUNT = "12 of the 42 pins on this plate (28 plain, 7 early, 7 late) · 209 in all"


def of(title: str, facts: str, upright: bool = False) -> list[Text]:
    width = LETTER.short_mm if upright else LETTER.long_mm
    return [
        item
        for item in heading(width, title, "Plate 2 of 6, part 2 of 2", facts, COUNT, 19.0, upright)
        if isinstance(item, Text)
    ]


@pytest.mark.parametrize("upright", [False, True])
def test_the_facts_of_a_cut_plate_on_letter_paper_end_with_its_scale(upright: bool) -> None:
    facts = next(text for text in of("The Committee Regrets (A)", FACTS, upright) if text.text.startswith("turn"))
    assert facts.text == FACTS
    assert SMALL_MM <= facts.size_mm <= 3.4


def test_a_title_is_shortened_only_where_the_smallest_letters_do_not_do() -> None:
    short, longer, longest = (of("A song and its name " * times, "")[0] for times in (1, 3, 9))
    assert short.size_mm == TITLE_MM
    assert LEAST_TITLE_MM <= longer.size_mm < TITLE_MM
    assert ELLIPSIS not in longer.text
    assert longest.size_mm == LEAST_TITLE_MM
    assert longest.text.endswith(ELLIPSIS)
