"""The set-up sheet's drawing: nothing of the axes lies over a hole."""

from __future__ import annotations

import numpy as np
import pytest

from drawn import overlapping_texts, stays_on_paper, texts
from pegwright.draw.lettering import ELLIPSIS
from pegwright.draw.paper import A4, PAPERS, Paper
from pegwright.draw.setup_sheet import Section, setup_pages
from pegwright.drawing import Circle, Path, Text
from pegwright.making import Face, Pattern
from pegwright.plate.jig import jigs
from pegwright.plate.pattern import patterns
from pegwright.plate.trial import gauges, strips, with_ladder_tools
from plate_text import changed, demo_values, demo_wheel, read, setting


def part(name: str, face: Face) -> Pattern:
    plate, wheel = read(changed(demo_values(), setting("sheet", drilled_from=str(face))), demo_wheel()), demo_wheel()
    if name == "gauge":
        return gauges(with_ladder_tools(plate), wheel)[0]
    return strips(plate, wheel, 300.0)[0] if name == "strip" else patterns(plate, wheel)[0]


@pytest.mark.parametrize("face", list(Face))
@pytest.mark.parametrize("name", ["gauge", "strip", "plate"])
def test_the_arrows_of_the_axes_lie_over_no_hole_and_no_words(name: str, face: Face) -> None:
    pattern = part(name, face)
    page = setup_pages(pattern, "wheel", [Section("Sheet", ("words",))], A4)[0]
    circles = [item for item in page.items if isinstance(item, Circle)]
    (ring,) = [circle for circle in circles if circle.radius_mm == 2.2]
    holes = np.array([[each.x_mm, each.y_mm, each.radius_mm] for each in circles if each is not ring])
    assert len(holes) == pattern.holes.count
    edge = next(item for item in page.items if isinstance(item, Path) and item.closed)
    left_mm, top_mm = np.array(edge.points).min(axis=0)
    arrows = [item for item in page.items if isinstance(item, Path) and item.pen.width_mm == 0.5]
    assert len(arrows) == 4  # two axes with their heads
    for arrow in arrows:
        for start, end in zip(arrow.points[:-1], arrow.points[1:], strict=True):
            points = np.linspace(start, end, 50)
            assert (np.hypot(*(points[:, None] - holes[None, :, :2]).T).min(axis=1) > holes[:, 2]).all()
            assert ((points[:, 0] < left_mm) | (points[:, 1] < top_mm)).all()
    along, up = (np.array(arrow.points) for arrow in (arrows[0], arrows[2]))
    assert along[:, 1] == pytest.approx(ring.y_mm)
    assert up[:, 0] == pytest.approx(ring.x_mm)
    assert along[1, 0] > along[0, 0]
    assert up[1, 1] < up[0, 1]
    names = {item.text: item for item in page.items if isinstance(item, Text)}
    assert names["X"].x_mm > 10  # inside the margin
    assert names["Y"].y_mm > 28  # below the words of the head


@pytest.mark.parametrize("paper", PAPERS, ids=lambda paper: paper.name)
def test_the_title_of_a_jig_is_whole_on_every_paper(paper: Paper) -> None:
    plate, wheel = read(demo_values(), demo_wheel()), demo_wheel()
    made = jigs(plate, wheel, patterns(plate, wheel))
    assert [jig.title for jig in made] == ["jig for rows on, half and triplet", "jig for rows on and half"]
    for jig in made:
        page = setup_pages(jig, wheel.name, [Section("Sheet", ("words",))], paper)[0]
        (title,) = [text for text in texts(page) if text.text == f"{wheel.name}: {jig.title}"]
        assert title.bold
        assert title.size_mm >= 4.6
        assert not any(ELLIPSIS in text.text for text in texts(page))
        assert not overlapping_texts(page)
        stays_on_paper(page)
