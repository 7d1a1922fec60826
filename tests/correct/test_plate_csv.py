"""The CSV of a plate as spreadsheets leave it."""

from __future__ import annotations

import csv
import io
import random
from collections.abc import Callable
from pathlib import Path

import pytest

from pegwright.bundled import bundled_songs
from pegwright.correct.names import edit_words
from pegwright.errors import InputError, PegwrightError
from pegwright.placement import pin_map_sha256
from pegwright.song_pipeline.corrected import csv_edits
from pegwright.song_pipeline.table_maps import TableFacts, map_of_tables
from pegwright.write.pin_map.csv import pin_map_csv
from thorough import cases
from working import JIG, demo_wheel, fitted, maps_of

WHEEL = demo_wheel()
Rows = list[list[str]]


def original(plate: int = 1) -> Rows:
    return list(csv.reader(io.StringIO(pin_map_csv(fitted(JIG))[f"plate-{plate}.csv"].decode(), newline="")))


def written(rows: Rows, delimiter: str = ",") -> bytes:
    text = io.StringIO(newline="")
    csv.writer(text, delimiter=delimiter).writerows(rows)
    return text.getvalue().encode()


def edits(folder: Path, data: bytes, name: str = "plate-1.csv") -> list[str]:
    (folder / name).write_bytes(data)
    return [edit_words(WHEEL, edit) for edit, _ in csv_edits([folder / name], maps_of(JIG), WHEEL)]


def decimal_commas(rows: Rows) -> Rows:
    numbers = [rows[0].index(name) for name in ("step", "along_mm", "across_mm", "deviation_ms")]
    return [[cell.replace(".", ",") if place in numbers else cell for place, cell in enumerate(row)] for row in rows]


@pytest.mark.parametrize(
    "data",
    [
        written(original()),
        written(original(), ";"),
        written(original(), "\t"),
        written(decimal_commas(original()), ";"),
        b"sep=;\r\n" + written(original(), ";"),
        b"\xef\xbb\xbf" + written(original()),
        written(original(), "\t").decode().encode("utf-16"),
        written(original()).replace(b"\r\n", b"\r"),
        written([original()[0], *reversed(original()[1:])]),
        written([*original(), [""] * 18, [""] * 18]),
        written([[cell for place, cell in enumerate(row) if place not in {7, 8}] for row in original()]),
        written([[*row, "a remark"] for row in original()]),
    ],
    ids=["as written", "semicolons", "tabs", "decimal commas", "sep line", "mark", "utf-16", "cr", "lines moved",
         "empty lines", "lengths left out", "a column more"],
)  # fmt: skip
def test_what_a_spreadsheet_saved_unchanged_is_no_edit(data: bytes, tmp_path: Path) -> None:
    assert edits(tmp_path, data) == []


def changed(change: Callable[[Rows], object]) -> bytes:
    rows = original()
    change(rows)
    return written(rows)


def put(line: int, /, **cells: str) -> Callable[[Rows], object]:
    def change(rows: Rows) -> None:
        for name, cell in cells.items():
            rows[line][rows[0].index(name)] = cell

    return change


def add_step_3(rows: Rows) -> None:
    rows.append([*rows[2][:5], "3", "3", *rows[2][7:11], *[""] * 7])


D5 = "plate 1, channel 5 (chime D5)"
MOVE = f"move {D5}, step 1 on, plain to"


# The first pins of plate 1: chime C5 step 17, chime D5 steps 1 and 25, chime E5 steps 15, 19 and 23.
@pytest.mark.parametrize(
    ("change", "expected"),
    [
        (lambda rows: rows.pop(2), f"remove {D5}, step 1 on, plain"),
        (put(2, step="2"), f"{MOVE} {D5}, step 2 on, plain"),
        (put(2, hole="2"), f"{MOVE} {D5}, step 2 on, plain"),
        (put(2, hole="", step="2 1/3", row="3", row_name="triplet"), f"{MOVE} {D5}, step 2 1/3 triplet, plain"),
        (put(2, hole="", step="2.33", row="", row_name="triplet"), f"{MOVE} {D5}, step 2 1/3 triplet, plain"),
        (put(2, pin_type_name="late"), f"{MOVE} {D5}, step 1 on, late"),
        (put(2, channel_name="chime G4"), f"{MOVE} plate 1, channel 1 (chime G4), step 1 on, plain"),
        (put(2, channel="1.0"), f"{MOVE} plate 1, channel 1 (chime G4), step 1 on, plain"),
        (add_step_3, f"set {D5}, step 3 on, plain"),
    ],
)  # fmt: skip
def test_a_changed_line_is_an_edit(change: Callable[[Rows], object], expected: str, tmp_path: Path) -> None:
    assert edits(tmp_path, changed(change)) == [expected]


def test_a_step_with_a_decimal_comma_is_read(tmp_path: Path) -> None:
    rows = original()
    put(2, hole="", step="2,33", row="", row_name="triplet")(rows)
    assert edits(tmp_path, written(rows, ";")) == [f"{MOVE} {D5}, step 2 1/3 triplet, plain"]


def test_pins_that_change_places_can_be_made_one_after_another(tmp_path: Path) -> None:
    from pegwright.correct.apply import edit_maps

    def swap(rows: Rows) -> None:
        note = rows[0].index("note")
        rows[4][note], rows[5][note] = rows[5][note], rows[4][note]
        rows[4][rows[0].index("pin_type_name")] = rows[5][rows[0].index("pin_type_name")] = "late"
        for row in (rows[4], rows[5]):
            row[rows[0].index("pin_type")] = "3"

    (tmp_path / "plate-1.csv").write_bytes(changed(swap))
    made = csv_edits([tmp_path / "plate-1.csv"], maps_of(JIG), WHEEL)
    after = edit_maps(maps_of(JIG), made, WHEEL).maps[0]
    late = [pin for pin in after.pins if pin.pin_type == 2]
    assert [(pin.hole.channel, pin.hole.number) for pin in late] == [(5, 14), (5, 18)]
    assert len(after.pins) == len(maps_of(JIG)[0].pins)


@pytest.mark.parametrize(
    ("data", "words"),
    [
        (b"", "is empty"),
        (b"\r\n", "is empty"),
        (b"a,b\r\n1,2\r\n", "has no header line with plate, channel"),
        (written(original())[:-30], "cells and the header 18"),
        (written(decimal_commas(original())).replace(b'"', b""), "cells and the header 18"),
        (written(original()[1:]), "has no header line"),
        (written([*original(), original()[3]]), "is a second pin in the hole of"),
        (changed(put(1, plate="2")), "line 2: is of plate 2, in the file of plate 1"),
        (changed(put(1, plate="7")), "there is no plate '7' among 6"),
        (changed(put(1, channel="25")), "there is no channel 25 among 24"),
        (changed(put(1, channel_name="chime X")), "no channel 'chime X' (the nearest name is"),
        (changed(put(1, channel="x")), "channel is 'x', not a whole number"),
        (changed(put(1, channel="", channel_name="")), "has no channel"),
        (changed(put(1, step="17.3")), "row on has no hole at step 17.3 (its nearest holes are at steps 17 and 18)"),
        (changed(put(1, step="29.3")), "row on has no hole at step 29.3 (its nearest holes are at steps 29 and 30)"),
        (changed(put(1, step="40")), "row on has no hole at step 40 (its nearest holes are at steps 31 and 32)"),
        (changed(put(1, step="04. Feb")), "step is '04. Feb', not such as"),
        (changed(put(1, hole="99")), "row on has no hole 99 among 32"),
        (changed(put(1, hole="", step="")), "has neither hole nor step"),
        (changed(put(1, pin_type_name="steel")), "no pin type 'steel'"),
        (changed(put(1, hole="3", step="4")), "hole and step do not go together"),
        (written(original()).replace(b"chime", b'"chime"x', 1), "is not CSV"),
        (b"\xff\xfe\x00", "is not text in UTF-16"),
        (b"plate\xe9", "byte 6 is not text in UTF-8"),
        (written([[*original()[0][:-1], "note"], *original()[1:]]), "has two columns note"),
    ],
)
def test_what_is_not_clear_is_refused_in_one_line(data: bytes, words: str, tmp_path: Path) -> None:
    with pytest.raises(InputError) as refused:
        edits(tmp_path, data)
    assert words in str(refused.value)
    assert "\n" not in str(refused.value)
    assert "plate-1.csv" in str(refused.value)


def test_damaged_files_are_read_or_refused_and_nothing_else(tmp_path: Path) -> None:
    chance = random.Random(7)  # noqa: S311  # a seeded sample
    data = written(original())
    outcomes = {"read": 0, "refused": 0}
    for _ in range(cases(100, 300)):
        damaged = bytearray(data)
        for _ in range(chance.randrange(1, 4)):
            place = chance.randrange(len(damaged))
            match chance.randrange(4):
                case 0:
                    damaged[place] = chance.randrange(256)
                case 1:
                    del damaged[place : place + chance.randrange(1, 60)]
                case 2:
                    damaged[place:place] = damaged[max(0, place - 40) : place]
                case 3:
                    damaged[place:place] = chance.choice([b",", b";", b'"', b"\r\n", b"1", b"x"])
        refusal = ""
        try:
            edits(tmp_path, bytes(damaged))
        except PegwrightError as error:
            refusal = str(error)
        assert "\n" not in refusal
        outcomes["refused" if refusal else "read"] += 1
    assert min(outcomes.values()) > 10


@pytest.mark.parametrize("name", [path.name for path in bundled_songs()])
def test_the_csv_files_of_all_plates_alone_make_the_map_again(name: str, tmp_path: Path) -> None:
    song = fitted(name)
    for pinning, working in enumerate(maps_of(name)):
        folder = tmp_path / str(pinning)
        folder.mkdir()
        for table, data in pin_map_csv(song, pinning).items():
            (folder / table).write_bytes(data)
        alone = map_of_tables(folder, WHEEL, TableFacts(working.us_per_quarter))
        assert (alone.sha256, alone.pins) == (working.sha256, working.pins)
        assert alone.sha256 == pin_map_sha256(song.pinnings[pinning].pins)
