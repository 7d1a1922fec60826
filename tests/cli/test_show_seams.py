"""A seam file beside the plates that a show has on the rim: `hear` of the maps that `set` wrote."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from commands import SONGS, WHEEL, Command, runner
from schemas import closed


@pytest.fixture
def pegwright(capsys: pytest.CaptureFixture[str]) -> Command:
    return runner(capsys)


def seam_file(folder: Path, plate_set: int, plates: list[int]) -> Path:
    path = folder / "seams.toml"
    path.write_text(
        f"set = {plate_set}\norder = {plates}\n[[seam]]\nafter_plate = 1\nerror_mm = 0.1\n", encoding="utf-8"
    )
    return path


def test_maps_of_a_show_say_where_it_has_other_plates_than_were_measured(pegwright: Command, tmp_path: Path) -> None:
    songs = ["turnstile-tango.mid", "round-the-pier-and-back.mxl", "shrimpers-jig.mid", "lamplighters-march.mid"]
    text = f'title = "Evening"\nwheel = "{WHEEL}"\n' + "".join(f'[[song]]\nscore = "{SONGS / it}"\n' for it in songs)
    (tmp_path / "set.toml").write_text(text, encoding="utf-8")
    assert pegwright("set", tmp_path / "set.toml", "-o", tmp_path / "evening").code == 0
    plan = json.loads((tmp_path / "evening" / "data" / "plan.json").read_text(encoding="utf-8"))
    moved = next(each for each in plan["pinnings"] if each["plates"] != [1, 2, 3, 4, 5, 6] and not each["letter"])
    folder = tmp_path / "evening" / moved["song_folder"]
    by_map: dict[Path, list[dict[str, object]]] = {}
    for each in plan["pinnings"]:
        path = tmp_path / "evening" / each["song_folder"] / "pin-map.json"
        value = {"plate_set": each["plate_set"], "plates": each["plates"]}
        by_map.setdefault(path, []).extend([value] if value not in by_map.get(path, []) else [])
    assert any(path.parent.name == "B" for path in by_map)
    for path, values in by_map.items():
        document = json.loads(path.read_text(encoding="utf-8"))
        closed("pin-map-3.json").validate(document)
        assert document["mounted"] == values

    def heard(plate_set: int, plates: list[int]) -> str:
        seams = seam_file(tmp_path, plate_set, plates)
        out = tmp_path / "heard.mid"
        ran = pegwright("hear", folder, "--wheel", WHEEL, "-o", out, "--overwrite", "--seams", seams)
        assert ran.code == 0, ran
        return " ".join(ran.out.split())

    has = f"set {moved['plate_set']} with plates {', '.join(map(str, moved['plates'][:-1]))} and {moved['plates'][-1]}"
    for plate_set, plates in [(moved["plate_set"], [1, 2, 3, 4, 5, 6]), (3 - moved["plate_set"], moved["plates"])]:
        said = heard(plate_set, plates)
        assert f"For this song the show has {has}: what is heard here does not hold for those plates." in said
    said = heard(moved["plate_set"], moved["plates"])
    assert "as the show has them for this song" in said
    assert "does not hold" not in said


@pytest.mark.parametrize(("plate_set", "differs"), [("1", True), ("2", False)])
def test_a_song_for_another_set_than_was_measured_is_said_to_have_other_seams(
    pegwright: Command, tmp_path: Path, plate_set: str, differs: bool
) -> None:
    seams = seam_file(tmp_path, 2, [1, 2, 3, 4, 5, 6])
    song, out = SONGS / "shrimpers-jig.mid", tmp_path / "x.mid"
    ran = pegwright("hear", song, "--wheel", WHEEL, "-o", out, "--seams", seams, "--plate-set", plate_set)
    said = "The song is for set 1: what is heard here does not hold for those plates."
    assert (said in " ".join(ran.out.split())) == differs
