from __future__ import annotations

import csv
import hashlib
import io
import json
import math
import os
import subprocess
import sys
from dataclasses import replace
from fractions import Fraction
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from pretty_midi import note_number_to_drum_name

from pegwright.draw.calls import calls
from pegwright.grid import across_rim_mm, along_plate_mm
from pegwright.placement import Outcome, PinMap, pin_map_sha256
from pegwright.show.swap import swap
from pegwright.wheel import place_name, step_name
from pegwright.write.csv_text import csv_bytes
from pegwright.write.json_text import json_bytes, rounded
from pegwright.write.pin_map.columns import plate_file
from pegwright.write.pin_map.csv import pin_map_csv
from pegwright.write.pin_map.json import pin_map_json
from pegwright.write.pin_map.rows import HOLE_COLUMNS, hole_cells
from placed import TITLES, Note, Placed, pin_map, pin_maps, placed, small_wheel
from samples import score
from schemas import closed

WHEEL = small_wheel()


def song() -> Placed:
    """Placed on the step, half-way and at a triplet third, moved, left out, percussion, and a pin that holds on."""
    return placed(
        [
            Note(0, 60, (0, 0, 0, 1, 0)),
            Note(3, 62, (0, 0, 1, 1, 1), deviation_ticks=-1),
            Note(4, 62, (0, 1, 2, 3, 0)),
            Note(6, 72, (1, 0, 0, 2, 0), deviation_ticks=1),
            Note(9, 61, Outcome.NO_CHANNEL),
            Note(12, 76, (2, 2, 0, 4, 0), part=1),
        ],
        WHEEL,
        extra_pins=[(1, 0, 0, 3, 0, 3)],
    )


VALID = closed("pin-map-3.json")


def as_json(made: Placed) -> Any:  # noqa: ANN401  # JSON
    return json.loads(pin_map_json(made.song))


def as_csv(made: Placed) -> dict[str, list[dict[str, str]]]:
    written = pin_map_csv(made.song)
    return {name: list(csv.DictReader(io.StringIO(data.decode(), newline=""))) for name, data in written.items()}


def test_json_holds_every_pin_with_its_hole_and_note() -> None:
    document = as_json(song())
    assert [plate["pin_count"] for plate in document["plates"]] == [4, 1, 1]
    assert document["plates"][0]["pins"][1] == {
        "channel": 1,
        "channel_name": "low bar",
        "row": 2,
        "row_name": "half",
        "hole": 2,
        "step": "2.5",
        "along_mm": round(2 * math.pi * 477.5 * 1.5 / 24, 3),
        "across_mm": 0.0,
        "pin_type": 2,
        "pin_type_name": "long peg",
        "note": 2,
        "source": "test.mid:Melody:bar 1 beat 1 1/8",
        "written_pitch_midi": 62,
        "written_pitch": "D4",
        "channel_pitch_midi": 60,  # two semitones lower, as the song is transposed
        "channel_pitch": "C4",
        "deviation_ms": -20.833,  # a 24th of half a second
    }
    triplet = document["plates"][1]["pins"][0]
    assert (triplet["step"], triplet["across_mm"]) == ("4 1/3", 2.0)  # fourth of 2/3, 4/3, 2 2/3, 3 1/3, from 1
    drum = document["plates"][2]["pins"][0]
    assert (drum["written_pitch_midi"], drum["written_pitch"]) == (76, note_number_to_drum_name(76))
    assert (drum["channel_pitch_midi"], drum["channel_pitch"]) == (76, note_number_to_drum_name(76))


def test_json_tells_what_was_fitted_to_what() -> None:
    document = as_json(song())
    assert document["wheel"] == {"name": "Test wheel", "sha256": "0" * 64, "plate_count": 3, "steps_per_plate": 8}
    assert document["score"] == {"title": "Test song", "file": "test.mid", "sha256": "1" * 64}
    assert document["fit"] == {
        "us_per_quarter": 500_000,
        "quarters_per_minute": 120.0,
        "start_plate": 5,
        "start_step": "2",
        "transpose_semitones": -2,
        "fold_octaves": False,
        "reach_quarters": "1/24",
        "part_priorities": [],
        "drum_keys": [],
        "part_channels": [],
        "channel_rule": "prefer",
    }


def test_a_pin_that_only_holds_a_note_on_has_no_deviation() -> None:
    high_bar = [pin for pin in as_json(song())["plates"][0]["pins"] if pin["channel"] == 2]
    assert [pin["note"] for pin in high_bar] == [4, 4]
    assert [pin["deviation_ms"] for pin in high_bar] == [20.833, None]


def test_csv_and_json_say_the_same() -> None:
    made = song()
    document = as_json(made)
    for plate, (name, rows) in zip(document["plates"], as_csv(made).items(), strict=True):
        assert name == f"plate-{plate['plate']}.csv"
        told = [{"plate": plate["plate"], **pin} for pin in plate["pins"]]
        assert rows == [{key: "" if value is None else str(value) for key, value in pin.items()} for pin in told]


def test_csv_lines_follow_channel_then_place_on_the_plate() -> None:
    rows = as_csv(song())["plate-1.csv"]
    places = [(int(row["channel"]), float(row["along_mm"])) for row in rows]
    assert places == sorted(places)
    assert [row["channel"] for row in rows] == ["1", "1", "2", "2"]


def test_a_plate_without_pins_has_a_header_alone() -> None:
    made = placed([Note(0, 60, (0, 0, 0, 1, 0))], WHEEL)
    assert as_csv(made)["plate-2.csv"] == []
    assert as_json(made)["plates"][1] == {"plate": 2, "pin_count": 0, "pins": []}


def test_a_song_without_notes_is_written_too() -> None:
    made = placed([], WHEEL)
    document = as_json(made)
    VALID.validate(document)
    assert document["pin_count"] == 0
    assert document["map_sha256"] == hashlib.sha256(b"pegwright pins 1\n").hexdigest()


@given(pin_maps(WHEEL), st.sampled_from(TITLES))
def test_json_fits_its_schema_and_names_no_other_key(pins: PinMap, title: str) -> None:
    made = song()
    known = replace(pins, note=pins.note.clip(max=made.score.note_count - 1))
    written = pin_map_json(replace(made, score=replace(made.score, title=title), pins=known).song)
    document = json.loads(written)
    VALID.validate(document)
    assert document["score"]["title"] == title.encode("utf-8", "replace").decode()
    assert sum(len(plate["pins"]) for plate in document["plates"]) == pins.pin_count == document["pin_count"]
    assert written.endswith(b"}\n")
    assert b"\r" not in written


@given(pin_maps(WHEEL))
def test_the_hash_can_be_worked_out_from_the_file_by_the_published_rule(pins: PinMap) -> None:
    made = song()
    known = replace(pins, note=pins.note.clip(max=made.score.note_count - 1))
    document = json.loads(pin_map_json(replace(made, pins=known).song))
    listed = sorted(
        (pin["channel"], plate["plate"], pin["row"], pin["hole"], pin["pin_type"])
        for plate in document["plates"]
        for pin in plate["pins"]
    )
    text = "pegwright pins 1\n" + "".join(f"{a} {b} {c} {d} {e}\n" for a, b, c, d, e in listed)
    assert document["map_sha256"] == hashlib.sha256(text.encode()).hexdigest() == pin_map_sha256(pins)


def test_the_hash_is_of_the_pins_alone() -> None:
    pins = [(0, 0, 0, 1, 0, 5), (1, 2, 1, 3, 1, -1)]
    one = pin_map(WHEEL, pins)
    assert pin_map_sha256(one) == pin_map_sha256(pin_map(WHEEL, [(*pin[:5], 7) for pin in pins], title="Other"))
    assert pin_map_sha256(one) != pin_map_sha256(pin_map(WHEEL, [(0, 0, 0, 1, 1, 5), pins[1]]))
    assert pin_map_sha256(one) != pin_map_sha256(pin_map(WHEEL, pins[:1]))
    turned = replace(
        one, **{name: getattr(one, name)[::-1] for name in ("channel", "plate", "row", "index", "pin_type")}
    )
    assert pin_map_sha256(turned) == pin_map_sha256(one)


def test_bytes_are_equal_on_every_run_and_in_another_process() -> None:
    made = song()
    script = (
        "import sys; sys.path[:0] = sys.argv[1:]; from test_pinmap import song, pin_map_json, pin_map_csv; m = song();"
        "sys.stdout.buffer.write(pin_map_json(m.song)"
        " + b''.join(pin_map_csv(m.song).values()))"
    )
    here = Path(__file__).parent
    runs = [
        subprocess.run(
            [sys.executable, "-c", script, str(here), str(here.parent)],
            env={"PYTHONHASHSEED": seed, "LC_ALL": language, "PYTHONPATH": os.pathsep.join(sys.path)},
            capture_output=True,
            check=True,
        ).stdout
        for seed, language in (("1", "C"), ("2", "C.UTF-8"))
    ]
    once = pin_map_json(made.song)
    csvs = pin_map_csv(made.song)
    assert runs[0] == runs[1] == once + b"".join(csvs.values())


@pytest.mark.parametrize(
    "start", ["=1+1", "+1", "-1", "@SUM(A1)", "\t=1", "\r=1", "\n=1", "\0=1", "＝1", "＋1", "－1", "＠SUM(A1)"]
)
def test_no_text_cell_starts_a_formula(start: str) -> None:
    # OWASP ASVS 5.0 requirement 1.2.10 names = + - @ tab and null, OWASP "CSV Injection" the full-width signs;
    # CWE-1236 the apostrophe
    (row,) = list(csv.reader(io.StringIO(csv_bytes(["a"], [[start]]).decode(), newline="")))[1:]
    assert row == ["'" + start]


def test_numbers_stay_numbers_and_other_text_is_untouched() -> None:
    assert csv_bytes(["a", "b", "c", "d"], [[-1.5, -2, "a-b", None]]) == b"a,b,c,d\r\n-1.5,-2,a-b,\r\n"


def test_quoting_is_that_of_rfc_4180() -> None:
    # Source: RFC 4180 section 2: its examples of rules 1 (CRLF), 6 and 7 (quotes)
    assert csv_bytes(["aaa", "b\r\nbb", "ccc"], [["zzz", "yyy", "xxx"]]) == b'aaa,"b\r\nbb",ccc\r\nzzz,yyy,xxx\r\n'
    assert csv_bytes(["aaa", 'b"bb', "ccc"], []) == b'aaa,"b""bb",ccc\r\n'


@given(st.sampled_from(TITLES), st.sampled_from(TITLES))
def test_hostile_names_come_through_csv_as_they_are(channel_name: str, pin_name: str) -> None:
    channels = (replace(WHEEL.channels[0], name=channel_name), *WHEEL.channels[1:])
    kinds = (replace(WHEEL.pin_types[0], name=pin_name), WHEEL.pin_types[1])
    made = placed([Note(0, 60, (0, 0, 0, 1, 0))], replace(WHEEL, channels=channels, pin_types=kinds))
    (row,) = as_csv(made)["plate-1.csv"]
    for cell, name in ((row["channel_name"], channel_name), (row["pin_type_name"], pin_name)):
        plain = name.encode("utf-8", "replace").decode()
        assert cell in (plain, "'" + plain)
        assert not cell.startswith(tuple("=+-@＝＋－＠\t\r\n\0"))


def test_a_song_file_with_a_formula_for_a_name_is_harmless() -> None:
    made = placed([Note(0, 60, (0, 0, 0, 1, 0))], WHEEL)
    hostile = replace(made, score=replace(made.score, file="=cmd|' /C calc'!A0.mid"))
    assert as_csv(hostile)["plate-1.csv"][0]["source"].startswith("'=cmd|")


@given(st.integers(0, 2), st.integers(0, 7))
def test_steps_as_printed_are_places_along_the_plate(row: int, index: int) -> None:
    steps = sum(Fraction(part) for part in step_name(WHEEL.rows[row], index).split()) - 1
    assert float(steps) * WHEEL.step_mm == pytest.approx(along_plate_mm(WHEEL, row, index))


def test_places_across_the_rim_are_those_of_the_grid() -> None:
    for plate in as_json(song())["plates"]:
        for pin in plate["pins"]:
            assert pin["across_mm"] == rounded(across_rim_mm(WHEEL, pin["channel"] - 1, pin["row"] - 1))


def test_plate_files_sort_as_plates_do() -> None:
    assert plate_file(2, 6) == "plate-2.csv"
    assert plate_file(2, 12) == "plate-02.csv"
    names = [plate_file(plate, 120) for plate in range(1, 121)]
    assert names == sorted(names)


def test_numbers_are_written_without_minus_zero_and_never_as_nan() -> None:
    assert str(rounded(-0.0001)) == "0.0"
    with pytest.raises(ValueError, match="not JSON compliant"):
        json_bytes({"length_mm": float("nan")})


def test_a_note_out_of_another_score_still_has_its_own_bar() -> None:
    rows = [(24 * 4 * bar, 60) for bar in range(3)]
    made = placed([Note(t, p, (0, n, 0, 1, 0)) for n, (t, p) in enumerate(rows)], WHEEL, made=score(rows))
    sources = [plate["pins"][0]["source"] for plate in as_json(made)["plates"]]
    assert sources == [f"test.mid:Melody:bar {bar} beat 1" for bar in (1, 2, 3)]


@given(st.integers(0, 2), st.integers(0, 7))
def test_report_csv_and_calls_give_one_place(row: int, index: int) -> None:
    hole = (1, 2, row, index, 0)
    moves = swap(pin_map(WHEEL, []), pin_map(WHEEL, [(*hole, -1)]), WHEEL, fixed=range(3)).set_pins
    ((called,),) = (group.calls for group in calls(WHEEL, moves, 2, types=False))
    cells = dict(zip(HOLE_COLUMNS, hole_cells(WHEEL, 1, row, index, 0), strict=True))
    assert (called.step, called.words) == (cells["step"], cells["row_name"])
    assert place_name(2, WHEEL.rows[row], index) == f"plate 3 step {cells['step']} row {cells['row_name']}"
