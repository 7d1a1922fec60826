from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

import rs274
from machine_controller import INTERPRETER, SKIPPED, machine_moves
from pegwright import bundled_wheel, load_wheel
from pegwright.cautions import MAKE
from pegwright.making import DwellUnit, Face, Pattern, PlateFile
from pegwright.plate.order import DrillOrder
from pegwright.plate.path import tool_paths
from pegwright.write.gcode import Form, comment_lines, forms, program_text
from plates import MACHINE, TOOLS, pattern_of, plate_file, with_holes

HOSTILE = 'Zoë\'s "wheel" (MSG, go); %\n$H ! ~ ? [x] #1 ' + "\N{CJK UNIFIED IDEOGRAPH-97F3}" * 3


@pytest.fixture(scope="module")
def demo() -> Pattern:
    return pattern_of(load_wheel(bundled_wheel()))


def programs(pattern: Pattern, plate: PlateFile, form: Form, order: DrillOrder = DrillOrder.ONE_WAY) -> Iterator[str]:
    paths = tool_paths(pattern, plate.tools, plate.machine, order)
    for number, path in enumerate(paths, 1):
        yield program_text(pattern, plate, path, form, f"{number} of {len(paths)}")


def bottoms(run: rs274.Run) -> list[tuple[float, float, float]]:
    """The lowest point of every hole that a program drills, in order."""
    lowest: dict[tuple[float, float], float] = {}
    for move in run.moves:
        if move.feed is not None:
            place = move.end[:2]
            lowest[place] = min(lowest.get(place, np.inf), move.end[2])
    return [(*place, depth) for place, depth in lowest.items()]


def test_the_interpreter_of_the_tests_does_what_the_standard_gives() -> None:
    """Source: LinuxCNC's g-code reference, the examples of G81 and G83, checked with its standalone interpreter."""
    run = rs274.interpret("G21 F100\nG90 G98 G81 X4 Y5 Z1.5 R2.8\nM2", at=(1.0, 2.0, 3.0))
    assert [(move.feed is None, move.end) for move in run.moves] == [
        (True, (4, 5, 3)),
        (True, (4, 5, 2.8)),
        (False, (4, 5, 1.5)),
        (True, (4, 5, 3)),
    ]
    run = rs274.interpret("G21 F100\nG91 G98 G81 X4 Y5 Z-0.6 R1.8 L3\nM2", at=(1.0, 2.0, 3.0))
    assert np.allclose(bottoms(run), [(5, 7, 4.2), (9, 12, 4.2), (13, 17, 4.2)])
    run = rs274.interpret("G21 F100\nG90 G98 G83 X4 Y5 Z-12 R2 Q5\nM2", at=(4.0, 5.0, 2.0))
    assert [move.end[2] for move in run.moves if move.feed] == [-3, -8, -12]
    assert [move.end[2] for move in run.moves if not move.feed] == pytest.approx([2, -2.746, 2, -7.746, 2])


@pytest.mark.parametrize(
    "line",
    ["G0 G1 X1 F1", "(a (b) c)", "(open", "X1", "G81 X1 F9", "G1 X1", "M3", "G83 X1 Z-1 R1 F9", "G99.9", "G0 X1 X2"],
)
def test_the_interpreter_of_the_tests_refuses(line: str) -> None:
    with pytest.raises(rs274.ProgramError):
        rs274.interpret(f"{line}\nM2")


@pytest.mark.skipif(INTERPRETER is None, reason=SKIPPED)
def test_the_machine_interpreter_does_what_the_standard_gives(tmp_path: Path) -> None:
    text = "G21 F100\nG0 X1 Y2 Z3\nG90 G98 G81 X4 Y5 Z1.5 R2.8\nM2\n"
    assert machine_moves(text, tmp_path)[-4:] == [
        ("traverse", 4, 5, 3),
        ("traverse", 4, 5, 2.8),
        ("feed", 4, 5, 1.5),
        ("traverse", 4, 5, 3),
    ]


@pytest.mark.parametrize("order", list(DrillOrder))
def test_both_forms_drill_the_same_holes_to_the_same_depth(demo: Pattern, order: DrillOrder) -> None:
    plate = plate_file(demo)
    canned, plain = ([bottoms(rs274.interpret(text)) for text in programs(demo, plate, form, order)] for form in Form)
    assert canned == plain
    centres = np.array([hole for program in plain for hole in program])
    pattern = np.column_stack([demo.holes.x_mm, demo.holes.y_mm, np.full(demo.holes.count, -7.5)])
    assert (
        np.abs(
            np.sort(centres.view("f8,f8,f8"), axis=0).view("f8") - np.sort(pattern.view("f8,f8,f8"), axis=0).view("f8")
        ).max()
        < 0.001
    )


def test_both_forms_make_the_same_moves_pecks_included(demo: Pattern) -> None:
    plate = plate_file(demo)
    canned, plain = (
        [(move.feed, move.end) for text in programs(demo, plate, form) for move in rs274.interpret(text).moves]
        for form in Form
    )
    assert len(canned) == len(plain)
    assert [feed for feed, _ in canned] == [feed for feed, _ in plain]
    assert np.allclose([end for _, end in canned], [end for _, end in plain])


@pytest.mark.skipif(INTERPRETER is None, reason=SKIPPED)
@pytest.mark.parametrize("form", list(Form))
def test_the_machine_interpreter_makes_the_same_moves(demo: Pattern, form: Form, tmp_path: Path) -> None:
    for text in programs(demo, plate_file(demo), form):
        ours = [("traverse" if move.feed is None else "feed", *move.end) for move in rs274.interpret(text).moves]
        theirs = machine_moves(text, tmp_path)
        kept = [move for place, move in enumerate(theirs) if not place or move[1:] != theirs[place - 1][1:]]
        assert [move[0] for move in ours] == [move[0] for move in kept]
        assert np.abs(np.array([move[1:] for move in ours]) - np.array([move[1:] for move in kept])).max() < 1e-4


@pytest.mark.parametrize("form", list(Form))
def test_header_modes_and_end(demo: Pattern, form: Form) -> None:
    plate = plate_file(demo)
    first, *_, last = programs(demo, plate, form)
    words = " ".join(line.strip("()").removeprefix("- ") for line in first.splitlines() if line.startswith("("))
    for part in (
        "1 of 3: 2 holes for fixings and marks",
        "plates 1 to 6",
        "HDPE, 6 mm thick",
        "Face up: outer",
        "X0 is step 1",
    ):
        assert part in words
    assert "Tool 2: drill of 6 mm, 3000 a minute, feed 200 mm a minute, pecks of 3 mm" in words
    assert "Depth: Z-7.500, through the sheet into a board of 12 mm" in words
    for caution in MAKE:
        assert caution.replace(";", ",") in words
    code = [line for line in last.splitlines() if not line.startswith("(")]
    assert code[:4] == ["G21 G90 G94 G17 G40 G49 G80 G61", "G0 Z20", "S6000", "M3"]
    assert code[-2:] == ["M5", "M30"]
    assert not any("T" in line or "M6" in line for line in code)
    assert "G61" not in next(programs(demo, plate_file(demo, replace(MACHINE, exact_path=False)), form))


def test_every_line_is_ascii_of_at_most_70_characters(demo: Pattern) -> None:
    hostile = replace(
        demo, title=HOSTILE, layer=replace(demo.layer, material=replace(demo.layer.material, name=HOSTILE))
    )
    for form in Form:
        for text in programs(hostile, plate_file(hostile), form):
            lines = text.split("\n")
            assert all(line.isascii() and len(line) <= 70 for line in lines)
            rs274.interpret(text)
            remarks = [line for line in lines if line.startswith("(")]
            assert not set("".join(line[1:-1] for line in remarks)) & set('();%$!~?[]#"')
            assert not any(line.lower().startswith(("(msg", "(debug", "(print", "(log", "(probe")) for line in remarks)


def test_a_long_name_becomes_lines_that_begin_with_a_hyphen() -> None:
    assert comment_lines("Pattern: " + "MSG, " * 20) == [
        "(Pattern: MSG, MSG, MSG, MSG, MSG, MSG, MSG, MSG, MSG, MSG, MSG, MSG,)",
        "(- MSG, MSG, MSG, MSG, MSG, MSG, MSG, MSG,)",
    ]


def test_a_dwell_is_in_the_unit_of_the_controller(demo: Pattern) -> None:
    pattern = with_holes(demo, [10.0], [-14.0])
    plate = replace(plate_file(pattern), tools=(replace(TOOLS[0], dwell_s=0.25),))
    milliseconds = replace(plate, machine=replace(MACHINE, dwell_unit=DwellUnit.MILLISECONDS))
    assert "G98 G82 X10 Y-14 Z-7.5 R2 P0.25 F300" in next(programs(pattern, plate, Form.CANNED))
    assert "G98 G82 X10 Y-14 Z-7.5 R2 P250 F300" in next(programs(pattern, milliseconds, Form.CANNED))
    assert "\nG4 P0.25\n" in next(programs(pattern, plate, Form.PLAIN))
    assert "\nG4 P250\n" in next(programs(pattern, milliseconds, Form.PLAIN))


def test_a_slot_drill_is_called_so(demo: Pattern) -> None:
    pattern = with_holes(demo, [10.0], [-14.0])
    for slot_drill, words in ((True, "slot drill of"), (False, "drill of")):
        plate = replace(plate_file(pattern), tools=(replace(TOOLS[0], slot_drill=slot_drill),))
        assert f"(Tool {TOOLS[0].number}: {words} {TOOLS[0].diameter_mm:g} mm" in next(
            programs(pattern, plate, Form.PLAIN)
        )


def test_a_dwell_that_the_cycle_with_pecks_lacks_is_reported(demo: Pattern) -> None:
    pattern = with_holes(demo, [10.0], [-14.0])
    plate = replace(plate_file(pattern), tools=(replace(TOOLS[0], dwell_s=0.25, peck_mm=2.0),))
    canned, plain = (" ".join(next(programs(pattern, plate, form)).replace(")\n(- ", " ").split()) for form in Form)
    assert "its dwell of 0.25 s is in the plain form alone, since G83 has none" in canned
    assert "pecks of 2 mm, dwell of 0.25 s" in plain
    assert "G4 P0.25" in plain


def test_a_controller_without_cycles_gets_plain_moves_alone() -> None:
    assert forms(MACHINE) == (Form.CANNED, Form.PLAIN)
    assert forms(replace(MACHINE, canned=False)) == (Form.PLAIN,)


def test_a_sheet_drilled_from_its_inner_face_is_the_mirror_image(demo: Pattern) -> None:
    inner = pattern_of(load_wheel(bundled_wheel()), Face.INNER)
    here, there = (
        {hole for text in programs(pattern, plate_file(pattern), Form.PLAIN) for hole in bottoms(rs274.interpret(text))}
        for pattern in (demo, inner)
    )
    assert there == {(x, -y if y else y, z) for x, y, z in here}
    assert "(Face up: inner, as this plate is mounted)" in next(programs(inner, plate_file(inner), Form.PLAIN))
