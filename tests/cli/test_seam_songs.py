"""`seam --cut` for the songs of a show, and for the trimming that a plan of seams asks for."""

from __future__ import annotations

import json
import tomllib
from pathlib import Path

import pytest

from commands import SONGS, Command, runner
from schemas import closed
from toml_text import toml_text

DEMO = SONGS / "merrow-sands-plate.toml"
MEASURED = SONGS / "merrow-sands-measured.toml"


@pytest.fixture
def pegwright(capsys: pytest.CaptureFixture[str]) -> Command:
    return runner(capsys)


@pytest.fixture
def song_set(tmp_path: Path) -> Path:
    songs = ("turnstile-tango.mid", "shrimpers-jig.mid", "lamplighters-march.mid")
    tables = "".join(f'[[song]]\nscore = "{SONGS / name}"\nstart = 1\n' for name in songs)
    path = tmp_path / "evening.toml"
    path.write_text(f'title = "Evening"\nwheel = "{SONGS / "merrow-sands.toml"}"\n{tables}', encoding="utf-8")
    return path


def flat(text: str) -> str:
    return " ".join(text.split())


def measured_file(folder: Path, place: int, plate_set: int, order: list[int]) -> Path:
    """The demo plates, with a plate whose leading edge is too long."""
    values = tomllib.loads(MEASURED.read_text(encoding="utf-8"))
    values |= {"set": plate_set, "order": order}
    values["plate"][place - 1]["lead_mm"] = 6.4
    path = folder / "measured.toml"
    path.write_text(toml_text(values), encoding="utf-8")
    return path


def pins_of(
    plan: dict[str, object], folder: Path, plate: int | None = None, hole: tuple[int, int] = (1, 1)
) -> dict[str, int]:
    """For each title the pins in a hole, by row and number, of a plate or of all plates of set 1, by a show's files."""
    pins: dict[str, int] = {}
    for each in plan["pinnings"]:  # type: ignore[attr-defined]  # a list
        document = json.loads((folder / each["song_folder"] / "pin-map.json").read_text(encoding="utf-8"))
        for place, stands in zip(document["plates"], each["plates"], strict=True):
            if each["plate_set"] == 1 and plate in (None, stands):
                here = sum((pin["row"], pin["hole"]) == hole for pin in place["pins"])
                pins[each["title"]] = pins.get(each["title"], 0) + here
    return {title: count for title, count in pins.items() if count}


def test_cutting_and_trimming_list_the_songs_of_a_show_whose_pins_they_take(
    pegwright: Command, tmp_path: Path, song_set: Path
) -> None:
    assert pegwright("set", song_set, "-o", tmp_path / "show").code in (0, 3)
    plan = json.loads((tmp_path / "show" / "data" / "plan.json").read_text(encoding="utf-8"))
    measured = measured_file(tmp_path, 2, 1, [1, 2, 3, 4, 5, 6])
    document = json.loads(pegwright("seam", DEMO, measured, song_set, "--cut", "0.76", "--json").out)
    closed("seams-1.json").validate(document)
    (hole,) = document["cut"]["leading"]
    wanted = pins_of(plan, tmp_path / "show")
    assert len(wanted) == 2, "the plan has two of its songs on set 1"
    assert {each["song"]: each["pins"] for each in hole["songs"]} == wanted
    assert hole["pins"] == sum(wanted.values())
    said = flat(pegwright("seam", DEMO, measured, song_set, "--cut", "0.76").out)
    listed = ", ".join(f"{title} {count}" for title, count in wanted.items())
    assert f"{hole['pins']} pins of evening.toml in all plates stand there: {listed}" in said
    of_set = [each for each in plan["pinnings"] if each["plate_set"] == 1]
    tempos = sorted(song["quarters_per_minute"] for song in plan["songs"] if song["title"] in
                    {each["title"] for each in of_set})  # fmt: skip
    judged = [each["quarters_per_minute"] for each in document["seams"][0]["times"]]
    assert judged == pytest.approx([tempos[0], tempos[-1]])


@pytest.mark.parametrize("order", [[1, 2, 3, 4, 5, 6], [2, 1, 3, 4, 5, 6]])
def test_trimming_counts_what_stands_in_the_plate_that_is_cut(
    pegwright: Command, tmp_path: Path, song_set: Path, order: list[int]
) -> None:
    """A hole needs 1.25 + 3.0 mm to an edge. The last triplet stands 5.1 mm from its own: 0.87 mm can go."""
    assert pegwright("set", song_set, "-o", tmp_path / "show").code in (0, 3)
    plan = json.loads((tmp_path / "show" / "data" / "plan.json").read_text(encoding="utf-8"))
    measured = measured_file(tmp_path, 2, 1, order)
    document = json.loads(pegwright("seam", DEMO, measured, song_set, "--cut", "trims", "--json").out)
    closed("seams-1.json").validate(document)
    assert document["cut"] is None
    trim_of = {seam["after_place"]: seam["trim_mm"] for seam in document["seams"] if seam["trim_mm"]}
    assert {trim["after_place"]: trim["trim_mm"] for trim in document["trims"]} == trim_of
    for trim in document["trims"]:
        assert trim["before_plate"] == order[trim["after_place"] - 1]
        assert trim["after_plate"] == order[trim["after_place"] % 6]
        lead_mm = 6.4 if trim["after_place"] == 1 else 5.2
        assert bool(trim["leading"]) == (lead_mm * 477.5 / 485.5 - trim["trim_mm"] < 4.25)
        for plate, edge in ((trim["before_plate"], "trailing"), (trim["after_plate"], "leading")):
            for hole in trim[edge]:
                wanted = pins_of(plan, tmp_path / "show", plate, (hole["row"], hole["hole"]))
                assert {each["song"]: each["pins"] for each in hole["songs"]} == wanted
    said = flat(pegwright("seam", DEMO, measured, song_set, "--cut", "trims").out)
    first = document["trims"][0]
    assert (
        f"seam 1 to 2, {first['trim_mm']:.2f} mm plate {order[0]}, trailing edge: it loses hole 32 of row triplet"
        in said
    )
    assert f"plate {order[1]}, leading edge: no hole is lost" in said


def test_trimming_begins_at_the_edges_that_were_measured(pegwright: Command, tmp_path: Path) -> None:
    """Plate 1 is 1.5 mm too long behind: its last triplet, 6.6 mm from there, can lose 1.2 mm."""
    values = tomllib.loads(MEASURED.read_text(encoding="utf-8"))
    values["plate"][0]["trail_mm"] = 12.0
    path = tmp_path / "measured.toml"
    path.write_text(toml_text(values), encoding="utf-8")
    document = json.loads(pegwright("seam", DEMO, path, "--cut", "trims", "--json").out)
    trim = next(each for each in document["trims"] if each["after_place"] == 1)
    assert trim["trim_mm"] > 0.9, "more than an edge as the wheel file has it can lose"
    assert trim["trailing"] == []


def test_without_trimming_there_is_nothing_to_count(pegwright: Command) -> None:
    assert "No seam has to be trimmed." in pegwright("seam", DEMO, MEASURED, "--cut", "trims").out
    document = json.loads(pegwright("seam", DEMO, MEASURED, "--cut", "trims", "--json").out)
    assert document["trims"] == []
    assert "trims" not in json.loads(pegwright("seam", DEMO, MEASURED, "--json").out)


def test_a_show_that_does_not_use_the_measured_set_is_refused(pegwright: Command, tmp_path: Path) -> None:
    one = tmp_path / "one.toml"
    one.write_text(f'title = "One"\nwheel = "w.toml"\n[[song]]\nscore = "{SONGS / "shrimpers-jig.mid"}"\n', "utf-8")
    measured = measured_file(tmp_path, 2, 2, [1, 2, 3, 4, 5, 6])
    assert "the plan puts no song on set 2" in pegwright("seam", DEMO, measured, one, "--cut", "trims").refused(2)
