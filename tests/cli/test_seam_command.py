"""`pegwright seam` as a maker runs it."""

from __future__ import annotations

import json
import tomllib
from pathlib import Path

import pytest

from commands import Command, runner
from midi_bytes import END, midi_file, note
from pegwright.config.seam_file import load_seams
from places import SONGS
from plate_text import Change, changed, demo_values, demo_wheel
from schemas import closed
from toml_text import toml_text

DEMO = SONGS / "merrow-sands-plate.toml"
MEASURED = SONGS / "merrow-sands-measured.toml"
BUTTED = {"how": "butted", "shim": [{"thickness_mm": 0.1, "count": 20}, {"thickness_mm": 0.05, "count": 20}]}


@pytest.fixture
def pegwright(capsys: pytest.CaptureFixture[str]) -> Command:
    return runner(capsys)


def flat(text: str) -> str:
    return " ".join(text.split())


def plate_file(folder: Path, held: object) -> Path:
    """The plate file of the demo wheel with another [held]; none if None."""
    values = {**demo_values(), "wheel": str(SONGS / "merrow-sands.toml"), "held": held}
    del values["tolerances"]  # some are for plates that are held as those of the demo wheel are
    path = folder / "plate.toml"
    path.write_text(toml_text({key: value for key, value in values.items() if value is not None}), encoding="utf-8")
    return path


def gaps_file(folder: Path, *gaps_mm: float, **top: object) -> Path:
    gaps = [{"after_plate": number, "gap_mm": gap} for number, gap in enumerate(gaps_mm, start=1)]
    path = folder / "gaps.toml"
    path.write_text(toml_text({**top, "gap": gaps}), encoding="utf-8")
    return path


def measured_file(folder: Path, *changes: Change) -> Path:
    values = changed(tomllib.loads(MEASURED.read_text(encoding="utf-8")), *changes)
    path = folder / "measured.toml"
    path.write_text(toml_text(values), encoding="utf-8")
    return path


def rows(text: str, head: str) -> list[list[str]]:
    """The cells of the table whose header begins so."""
    lines = text.splitlines()
    start = next(n for n, line in enumerate(lines) if line.startswith(head))
    return [line.split() for line in lines[start + 1 : start + 7]]


def test_dowelled_plates_are_shifted_within_their_clearance(pegwright: Command) -> None:
    done = pegwright("seam", DEMO, MEASURED)
    assert (done.code, done.err) == (0, "")
    shifts = [float(row[1]) for row in rows(done.out, "Place  ")]
    assert shifts[0] == 0  # the datum plate
    assert 0 < max(map(abs, shifts)) <= 0.15
    # By hand: the six arcs of the file brought to the rim, x 477.5 / 485.5, less 31 steps of 15.6262 mm.
    arcs_mm = [arc * 477.5 / 485.5 - 484.411 for arc in (492.61, 492.38, 492.55, 492.74, 492.29, 492.45)]
    errors = [float(row[4]) for row in rows(done.out, "Seam  ")]
    assert sum(errors) == pytest.approx(-sum(arcs_mm), abs=0.03)
    assert max(map(abs, errors)) == pytest.approx(-sum(arcs_mm) / 6, abs=0.01)


def test_butted_plates_are_packed_to_the_gap_of_the_wheel(pegwright: Command, tmp_path: Path) -> None:
    done = pegwright("seam", plate_file(tmp_path, BUTTED), gaps_file(tmp_path, 0.5, 0.1, 0.4, 0.6, 0.0, 0.2))
    assert done.code == 0
    assert [row[3] for row in rows(done.out, "Seam  ")] == ["0.30"] * 6
    assert flat(done.out).count("0.10 + 0.10 + 0.10") == 5
    assert "left open: it closes the turn" in done.out
    assert "In all at 120 quarter notes a minute: exact" in done.out


@pytest.mark.parametrize(
    ("gap_mm", "word"),
    [(0.3, "exact"), (0.5, "unheard"), (1.1, "slight"), (1.8, "audible")],
)
def test_the_verdict_is_by_the_interval_error_and_the_step(
    pegwright: Command, tmp_path: Path, gap_mm: float, word: str
) -> None:
    # A step of 125 ms at 120: unheard up to 6 ms, slight up to 10 ms (Friberg and Sundberg 1995 and 1992).
    held = {"how": "dowelled", "clearance_mm": 0}
    done = pegwright(
        "seam", plate_file(tmp_path, held), gaps_file(tmp_path, gap_mm, 0.3, 0.3, 0.3, 0.3, 0.6 - gap_mm + 1.8)
    )
    row = rows(done.out, "Seam  ")[0]
    assert float(row[5]) == pytest.approx((gap_mm - 0.3) * 8, abs=0.06)
    assert row[6] == word


def test_each_tempo_has_its_own_times(pegwright: Command) -> None:
    done = pegwright("seam", DEMO, MEASURED, "--tempo", "63", "--tempo", "138")
    assert "ms at 63" in done.out
    assert "ms at 138" in done.out
    assert "In all at 138 quarter notes a minute: unheard" in done.out


def test_plates_that_are_too_long_are_trimmed(pegwright: Command, tmp_path: Path) -> None:
    longer = measured_file(tmp_path, lambda values: values["plate"][1].update(lead_mm=6.1))
    text = flat(pegwright("seam", DEMO, longer).out)
    assert "Plates run into each other, by more than their clearance lets them be shifted" in text
    assert "trim mm 1 to 2" in text
    longest = measured_file(tmp_path, lambda values: [each.update(lead_mm=5.6) for each in values["plate"]])
    text = flat(pegwright("seam", plate_file(tmp_path, BUTTED), longest).out)
    assert "mm longer than the rim: they do not close the turn" in text


def test_the_seam_file_is_what_hear_reads(pegwright: Command, tmp_path: Path) -> None:
    turned = measured_file(tmp_path, lambda values: values.update(order=[2, 1, 3, 4, 5, 6], set=2))
    done = pegwright("seam", DEMO, turned, "-o", tmp_path / "seams")
    assert done.code == 0
    seams = load_seams(tmp_path / "seams.toml", demo_wheel())
    assert list(seams.errors_mm) == [float(row[4]) for row in rows(done.out, "Seam  ")]
    assert (seams.set_number, seams.order) == (2, (2, 1, 3, 4, 5, 6))
    song = SONGS / "turnstile-tango.mid"
    heard = pegwright("hear", song, "--wheel", SONGS / "merrow-sands.toml", "--seams", tmp_path / "seams.toml",
                      "-o", tmp_path / "x.mid")  # fmt: skip
    assert "The seams are those of set 2 with plates 2, 1, 3, 4, 5 and 6 at places 1 to 6" in flat(heard.out)
    assert pegwright("seam", DEMO, turned, "-o", tmp_path / "seams.toml").refused(2)


def bad(folder: Path, held: object, measured: Path) -> tuple[str | Path, ...]:
    return ("seam", plate_file(folder, held), measured)


def test_what_cannot_be_planned_is_refused_in_one_line(
    pegwright: Command, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    even = gaps_file(tmp_path, *[0.3] * 6)
    few = {"how": "butted", "shim": [{"thickness_mm": 0.1, "count": 2}]}
    refused = pegwright(*bad(tmp_path, few, even)).refused(2)
    assert "shims too few: those of [held] are 0.20 mm in all, 1.05 mm less than the seams need" in refused
    assert "does not say how plates are held" in pegwright(*bad(tmp_path, None, even)).refused(2)
    wide = gaps_file(tmp_path, *[600.0] * 6)
    refused = pegwright("seam", DEMO, wide).refused(2)
    assert "gaps add up to 3600.00 mm, more than the turn, 3000.22 mm" in refused
    arc = measured_file(tmp_path, lambda values: values["plate"][2].update(arc_mm=500.0))
    monkeypatch.chdir(tmp_path)  # a line of error is cut, and a long path would take the room
    refused = pegwright("seam", DEMO, arc.name).refused(2)
    assert "plate[3].arc_mm" in refused
    assert "491.76 mm on the rim is what no k explains: 481.37 mm flat, with k = -0.68, outside 0 to 1" in refused
    assert "tempo" in pegwright("seam", DEMO, MEASURED, "--tempo", "0").refused(2)
    assert "tempo" in pegwright("seam", DEMO, MEASURED, "--tempo", "nan").refused(2)
    missing = measured_file(tmp_path, lambda values: values["plate"].pop(3))
    assert "plate 4 is missing (add a [[plate]] for every plate" in pegwright("seam", DEMO, missing).refused(2)


@pytest.mark.parametrize(
    ("held", "fault"),
    [
        ({"how": "glued", "clearance_mm": 0}, "held.how"),
        ({"how": "dowelled"}, "held.clearance_mm"),
        ({"how": "dowelled", "clearance_mm": 0.1, "datum_plate": 7}, "7 is above the maximum, 6"),
        ({"how": "butted", "clearance_mm": 0.1}, "is for dowelled plates, and these are butted"),
        ({"how": "dowelled", "clearance_mm": 0.1, "shim": [{"thickness_mm": 1, "count": 1}]}, "is for butted plates"),
        ({"how": "butted", "shim": [{"thickness_mm": 0.1, "count": 1}] * 2}, "is a duplicate to the hundredth"),
        ({"how": "butted", "shim": [{"thickness_mm": 0, "count": 1}]}, "0 is below the minimum, 0.01"),
    ],
)
def test_faults_of_held_are_refused(pegwright: Command, tmp_path: Path, held: object, fault: str) -> None:
    assert fault in pegwright(*bad(tmp_path, held, MEASURED)).refused(2)


def test_lengths_measured_farther_out_are_brought_to_the_rim(pegwright: Command, tmp_path: Path) -> None:
    at_rim = measured_file(
        tmp_path,
        lambda values: [
            plate.update({key: plate[key] * 477.5 / 485.5 for key in ("arc_mm", "lead_mm", "trail_mm")})
            for plate in values["plate"]
        ],
        lambda values: values.pop("radius_mm"),
    )
    assert pegwright("seam", DEMO, at_rim).out == pegwright("seam", DEMO, MEASURED).out


def test_heat_and_damp_say_whether_a_gap_closes(pegwright: Command, tmp_path: Path) -> None:
    held = {
        "how": "dowelled",
        "clearance_mm": 0.15,
        "rim_material": "plywood",
        "climate": [
            {"name": "workshop", "celsius": 20},
            {"name": "hall", "celsius": 23},
            {"name": "tent", "celsius": 40, "humidity_percent": 80},
        ],
    }
    done = pegwright("seam", plate_file(tmp_path, held), MEASURED)
    text = flat(done.out)
    assert "workshop, 20 °C, 50 % RH +0.00 +0.00 +0.00 +0.0 stays" in text
    # By hand, on 499.737 mm: 3 K by (100 - 6.1), (180 - 5.3), (200 - 4.5) e-6; the narrowest gap is 0.31 mm.
    assert "hall, 23 °C, 50 % RH +0.14 +0.26 +0.29 +2.1 stays" in text
    # 20 K likewise, less 0.0006 for the damp that the plywood rim takes up.
    assert "tent, 40 °C, 80 % RH +0.64 +1.45 +1.65 +11.6 closes" in text
    assert "A plate fixed in its middle moves at both ends by half. The narrowest gap, 1 to 2, is 0.31 mm" in text
    no_rim = {key: value for key, value in held.items() if key != "rim_material"}
    assert "held.rim_material" in pegwright("seam", plate_file(tmp_path, no_rim), MEASURED).refused(2)


def test_a_song_gives_its_tempo_and_the_time_between_the_notes_at_a_seam(pegwright: Command) -> None:
    song = SONGS / "turnstile-tango.mid"
    done = pegwright("seam", DEMO, MEASURED, song)
    assert done.code == 0
    assert "ms at 104" in done.out
    assert "the time between the notes on both sides in turnstile-tango.mid" in flat(done.out)
    assert "ms at 63" in pegwright("seam", DEMO, MEASURED, song, "--tempo", "63").out


def test_what_is_heard_depends_on_how_near_the_notes_at_a_seam_are(pegwright: Command, tmp_path: Path) -> None:
    # By hand: 1.4 mm is 11.2 ms at 120. Notes a sixteenth apart: audible from 10 ms; 4 s, as 1 s: unheard to 25 ms.
    gaps = gaps_file(tmp_path, 1.7, 0.3, 0.3, 0.3, 0.3, 0.3)
    plate = plate_file(tmp_path, {"how": "dowelled", "clearance_mm": 0})
    words = []
    for first in (31 * 24, 0):  # of 96 ticks a quarter; plate 2 begins after 32 sixteenths
        song = tmp_path / "song.mid"
        song.write_bytes(midi_file(note(first, 12, 72) + note(32 * 24 - first - 12, 12, 76) + END))
        words.append(rows(pegwright("seam", plate, gaps, song).out, "Seam  ")[0][5:7])
    assert words == [["+11.2", "audible"], ["+11.2", "unheard"]]


def test_json_has_its_schema_and_the_figures_of_the_text(pegwright: Command, tmp_path: Path) -> None:
    done = pegwright("seam", DEMO, MEASURED, "--tempo", "63", "--tempo", "138")
    document = json.loads(pegwright("seam", DEMO, MEASURED, "--tempo", "63", "--tempo", "138", "--json").out)
    closed("seams-1.json").validate(document)
    text = rows(done.out, "Seam  ")
    assert [f"{seam['error_mm']:+.2f}" for seam in document["seams"]] == [row[4] for row in text]
    assert [seam["times"][0]["verdict"] for seam in document["seams"]] == [row[6] for row in text]
    assert [each["quarters_per_minute"] for each in document["seams"][0]["times"]] == [63, 138]
    assert [f"{plate['shift_mm']:+.2f}" for plate in document["plates"]] == [
        row[1].replace("0.00", "+0.00").replace("++", "+") for row in rows(done.out, "Place  ")
    ]
    climate = {"name": "hall", "celsius": 28}
    held = {**BUTTED, "rim_material": "steel", "climate": [climate]}
    packed = json.loads(
        pegwright("seam", plate_file(tmp_path, held), gaps_file(tmp_path, 0.5, 0.1, 0.4, 0.6, 0.0, 0.2), "--json").out
    )
    closed("seams-1.json").validate(packed)
    assert [len(seam["shims_mm"]) for seam in packed["seams"]].count(3) == 5
    assert [seam["closes"] for seam in packed["seams"]].count(True) == 1
    assert packed["growths"][0]["usual_mm"] == pytest.approx((180e-6 - 11.4e-6) * 499.737 * 8, abs=0.02)
    longest = measured_file(tmp_path, lambda values: [each.update(lead_mm=5.6) for each in values["plate"]])
    refused = json.loads(pegwright("seam", plate_file(tmp_path, BUTTED), longest, "--json").out)
    closed("seams-1.json").validate(refused)
    assert (refused["closed"], refused["plates"]) == (False, [])
    assert refused["over_mm"] > 0


def test_json_goes_to_stdout_alone(pegwright: Command, tmp_path: Path) -> None:
    done = pegwright("seam", DEMO, MEASURED, "--json", "-o", tmp_path / "seams.toml")
    json.loads(done.out)
    assert "Written" in done.err


def test_what_cutting_an_edge_back_costs(pegwright: Command, tmp_path: Path) -> None:
    song = SONGS / "shrimpers-jig.mid"
    little = flat(pegwright("seam", DEMO, MEASURED, "--cut", "0.5").out)
    assert "Cutting an edge back by 0.50 mm: leading edge loses no hole trailing edge loses no hole" in little
    # The first hole is 5.0 mm from its edge and needs 1.25 + 3.0 mm: from 0.75 mm on it is lost.
    assert "hole 1 of row on" not in flat(pegwright("seam", DEMO, MEASURED, "--cut", "0.74").out)
    much = flat(pegwright("seam", DEMO, MEASURED, song, "--cut", "0.76").out)
    assert "leading edge every plate that is cut loses hole 1 of row on (step 1); 13 pins of shrimpers-jig.mid" in much
    pins = tmp_path / "pins"
    pegwright("pin", song, "--wheel", SONGS / "merrow-sands.toml", "-o", pins, "--no-remedies")
    plates = json.loads((pins / "pin-map.json").read_text(encoding="utf-8"))["plates"]
    stands = [pin for plate in plates for pin in plate["pins"] if (pin["row_name"], pin["hole"]) == ("on", 1)]
    assert len(stands) == 13
    shims = {**BUTTED, "shim": [{"thickness_mm": 0.3, "count": 1}, {"thickness_mm": 0.1, "count": 20}]}
    even = gaps_file(tmp_path, *[0.3] * 6)
    packed = plate_file(tmp_path, shims)
    assert "filled by 0.30 mm + 0.10 mm + 0.10 mm" in flat(pegwright("seam", packed, even, "--cut", "0.5").out)
    assert "; 1.50 mm are left" in flat(pegwright("seam", packed, even, "--cut", "2.0").out)
    document = json.loads(pegwright("seam", packed, even, "--cut", "2", "--json").out)
    closed("seams-1.json").validate(document)
    assert [hole["hole"] for hole in document["cut"]["leading"]] == [1]
    assert document["cut"]["left_mm"] == 1.5
    for wrong in ("nan", "0", "-1", "51", "x"):
        assert "no length in mm" in pegwright("seam", DEMO, MEASURED, "--cut", wrong).refused(2)
