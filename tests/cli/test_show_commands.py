"""`set` and `swap`, as a user meets them; what they write is carried out again from the files alone."""

from __future__ import annotations

import json
import re
from pathlib import Path
from typing import Any

import pytest

from commands import SONGS, WHEEL, Command, runner
from documents import outline_of
from pegwright.bundled import bundled_song_set
from pegwright.cli.set import ORDERS
from pegwright.config import load_wheel
from pegwright.config.song_set import load_song_set
from pegwright.show.plan import Aim
from pegwright.show_pipeline.plan import plan_song_set
from pegwright.show_pipeline.printed import overview_rows
from pegwright.show_pipeline.songs import max_starts
from schemas import closed
from thorough import cases

EVENING = bundled_song_set()
WORK = "[work]\npull_s = 1\nset_s = 2\nfind_s = 0.5\npeople = 2\n"


@pytest.fixture
def pegwright(capsys: pytest.CaptureFixture[str]) -> Command:
    return runner(capsys)


def song(name: str, more: str = "start = 1") -> str:
    return f'[[song]]\nscore = "{SONGS / name}"\n{more}\n'


def set_file(folder: Path, *songs: str, top: str = "", work: str = WORK) -> Path:
    path = folder / "set.toml"
    path.write_text(f'title = "Evening"\nwheel = "{WHEEL}"\n{top}{work}' + "".join(songs), encoding="utf-8")
    return path


TANGO, JIG, WALTZ, AIR = (
    song(name)
    for name in (
        "turnstile-tango.mid",
        "shrimpers-jig.mid",
        "waltz-of-the-empty-deckchairs.musicxml",
        "the-sands-at-evening.musicxml",
    )
)
ROUND = song("round-the-pier-and-back.mxl", "start = 1\ntimes = 2")
MARCH = song("lamplighters-march.mid")


def holes(pins: list[dict[str, Any]]) -> dict[tuple[int, int, int], int]:
    return {(pin["channel"], pin["row"], pin["hole"]): pin["pin_type"] for pin in pins}


def carried_out(folder: Path) -> list[str]:
    """Do every swap of a written show from empty plates; the song folders in the order in which they were checked."""
    plan = json.loads((folder / "data/plan.json").read_text("utf-8"))
    count = plan["wheel"]["plate_count"]
    sets = [[{} for _ in range(count)] for _ in range(plan["plate_sets"])]  # type: list[list[dict[Any, int]]]
    checked = []
    for pinning in plan["pinnings"]:
        swap = json.loads((folder / f"{pinning['swap_files']}.json").read_text("utf-8"))
        here = pinning["plate_set"] - 1
        sets[here] = [dict(sets[here][plate["came_from"] - 1]) for plate in swap["plates"]]
        for plate, standing in zip(swap["plates"], sets[here], strict=True):
            for hole, kind in holes(plate["pull"]).items():
                assert standing.pop(hole) == kind
            for hole, kind in holes(plate["set"]).items():
                assert hole not in standing
                standing[hole] = kind
        pins = json.loads((folder / pinning["song_folder"] / "pin-map.json").read_text("utf-8"))
        assert pins["map_sha256"] == pinning["map_sha256"] == swap["new"]["map_sha256"]
        assert [holes(plate["pins"]) for plate in pins["plates"]] == sets[here]
        checked.append(pinning["song_folder"])
    return checked


def test_what_is_written_can_be_carried_out_from_empty_plates(pegwright: Command, tmp_path: Path) -> None:
    """The round takes two sets; every song finds its pins, from the swaps on disk alone."""
    path = set_file(tmp_path, TANGO, ROUND, JIG, top='order = "least-work"\n')
    ran = pegwright("set", path, "-o", tmp_path / "show")
    assert ran.code == 0, ran
    assert len(carried_out(tmp_path / "show")) == 4
    plan = json.loads((tmp_path / "show/data/plan.json").read_text("utf-8"))
    closed("show-plan-2.json").validate(plan)
    assert {song["running"] for song in plan["songs"]} == {"A", "A B"}
    names = {path.name for path in (tmp_path / "show").iterdir()}
    assert names == {"print-a4.pdf", "plan.txt", "songs", "data", "pegwright.sha256"}


def test_the_text_of_a_show_has_its_plan_the_report_of_every_song_and_every_call_list(
    pegwright: Command, tmp_path: Path
) -> None:
    ran = pegwright("set", set_file(tmp_path, TANGO, ROUND), "-o", tmp_path / "show")
    text = (tmp_path / "show/plan.txt").read_text("utf-8")
    plan, _, rest = text.partition("\n\nSong 1: ")
    assert plan in ran.out
    reports, *calls = re.split(r"\nCall list [0-9]+\n=+\n", rest)
    assert re.findall("^Song +(.*?) [(]", reports, re.MULTILINE) == ["Turnstile Tango", "Round the Pier and Back"]
    after = "pins before, ([0-9,]+) after|Set ([0-9,]+) pins on empty plates"
    counts = [["".join(each) for each in re.findall(after, words)] for words in calls]
    assert counts == [["275"], ["163"], ["219"]]


def test_counts_of_a_show_agree_with_its_plan(pegwright: Command, tmp_path: Path) -> None:
    path = set_file(tmp_path, TANGO, JIG, WALTZ, top="spares_percent = 10\n")
    assert pegwright("set", path, "-o", tmp_path / "show").code == 0
    plan = json.loads((tmp_path / "show/data/plan.json").read_text("utf-8"))
    pins = [pinning["pin_count"] for pinning in plan["pinnings"]]
    assert pins == [275, 205, 142]
    needs, moves, wear = (plan[table] for table in ("pin_types", "pinnings", "plates"))
    assert int(needs[0]["most_at_once"]) == max(275 + 205, 205 + 142)
    assert int(needs[0]["spares"]) == 48
    for column, of_wear in (("pull", "pulled"), ("set", "set")):
        assert sum(int(row[column]) for row in moves) == sum(int(row[of_wear]) for row in wear)
    for row, before in ((moves[0], 0), (moves[1], 0), (moves[2], 275)):
        assert int(row["stay"]) + int(row["pull"]) == before
        assert int(row["stay"]) + int(row["set"]) == int(row["pin_count"])


def test_the_plan_is_the_same_on_every_run(pegwright: Command, tmp_path: Path) -> None:
    path = set_file(tmp_path, TANGO, JIG, WALTZ, AIR, top='order = "least-work"\n')
    assert pegwright("set", path, "--json").out == pegwright("set", path, "--json").out


def test_an_order_can_be_tried_without_touching_the_file(pegwright: Command, tmp_path: Path) -> None:
    assert list(ORDERS) == [aim.value for aim in Aim]
    path = set_file(tmp_path, TANGO, JIG, WALTZ, AIR)
    plans = {order: json.loads(pegwright("set", path, "--order", order, "--json").out) for order in ORDERS}
    assert plans["least-work"]["moved"]["planned"] <= plans["given"]["moved"]["planned"]
    assert [it["number"] for it in plans["given"]["songs"]] == [1, 2, 3, 4]
    assert all(plan["order"] == order and plan["proved"] for order, plan in plans.items())


def test_what_is_saved_is_told_against_the_plain_way(pegwright: Command, tmp_path: Path) -> None:
    """The plain work is that of two pin maps, plate by plate in place: pins of either that the other has not."""
    path = set_file(tmp_path, TANGO, song("shrimpers-jig.mid", ""), song("the-sands-at-evening.musicxml", ""))
    maps = []
    for name in ("turnstile-tango.mid", "the-sands-at-evening.musicxml"):
        assert pegwright("pin", SONGS / name, "-w", WHEEL, "-o", tmp_path / name).code == 0
        pins = json.loads((tmp_path / name / "pin-map.json").read_text("utf-8"))
        maps.append({(plate["plate"], *hole) for plate in pins["plates"] for hole in holes(plate["pins"]).items()})
    plan = json.loads(pegwright("set", path, "--json").out)
    assert plan["moved"]["plain"] == len(maps[0] ^ maps[1])
    assert plan["moved"]["planned"] <= plan["moved"]["plain"]
    out = pegwright("set", path).out
    assert f"{plan['moved']['planned']:,} pins moved during the show" in out
    assert f"{plan['moved']['plain'] - plan['moved']['planned']:,}" in out


def test_a_song_that_is_missing_or_no_song_is_told_and_the_others_are_planned(
    pegwright: Command, tmp_path: Path
) -> None:
    (tmp_path / "junk.mid").write_bytes(b"MThd and no more")
    junk = f'[[song]]\nscore = "{tmp_path / "junk.mid"}"\n'
    late = song("turnstile-tango.mid", 'bars = "500-600"')
    path = set_file(tmp_path, TANGO, song("no-such-song.mid"), junk, late, JIG)
    ran = pegwright("set", path, "-o", tmp_path / "show")
    assert ran.code == 1
    assert len(ran.err.splitlines()) == 3
    for words in ("no-such-song.mid", "junk.mid", "bars 500 to 600 cannot be chosen"):
        assert words in ran.err
        assert words in ran.out
    assert len(carried_out(tmp_path / "show")) == 2


def test_a_set_without_any_song_that_can_be_planned_is_refused(pegwright: Command, tmp_path: Path) -> None:
    told = pegwright("set", set_file(tmp_path, song("no-such-song.mid")), "-o", tmp_path / "show").refused(1)
    assert "none of its 1 song can be planned" in told
    assert not (tmp_path / "show").exists()


def test_notes_left_out_are_told_and_strict_stops(pegwright: Command, tmp_path: Path) -> None:
    path = set_file(tmp_path, MARCH, JIG)
    ran = pegwright("set", path)
    assert ran.code == 0
    assert "Lamplighters' March: 203 of 204 notes sound; 1 left out: 1 lost at a seam" in ran.out
    ran = pegwright("set", path, "--strict", "-o", tmp_path / "show")
    assert ran.code == 3
    assert not (tmp_path / "show").exists()


def test_with_its_start_free_the_march_loses_nothing(pegwright: Command, tmp_path: Path) -> None:
    path = set_file(tmp_path, song("lamplighters-march.mid", ""), JIG)
    assert pegwright("set", path, "--strict").code == 0


def test_more_pins_than_are_owned_are_told(pegwright: Command, tmp_path: Path) -> None:
    """Two sets with 379 and 353 pins and 5 % spares: 732 + 37 of the 640 plain ones."""
    path = set_file(tmp_path, song("donkey-ride-polka.mxl"), song("penny-rocket-galop.musicxml"))
    out = " ".join(pegwright("set", path).out.split())
    assert (
        "769 pins of type 'plain' are needed at once, spares included, and 640 are owned (buy or make 129 more" in out
    )


def test_a_song_with_more_pinnings_than_sets_is_told(pegwright: Command, tmp_path: Path) -> None:
    path = set_file(tmp_path, TANGO, ROUND, top="plate_sets = 1\n")
    out = " ".join(pegwright("set", path).out.split())
    assert "Round the Pier and Back (A B) needs 2 sets of plates and 1 is owned" in out
    assert "there is no time at all" in out


def test_what_was_written_ends_with_what_to_print(pegwright: Command, tmp_path: Path) -> None:
    show, to_jig = tmp_path / "show", tmp_path / "jig"
    ran = pegwright("set", set_file(tmp_path, TANGO, JIG), "-o", show, "--paper", "a3")
    last = " ".join(ran.out.split("\n\n")[-1].split())
    assert last.startswith(f"Next: print {show / 'print-a3.pdf'} at 100 %")
    assert "stop and lock the wheel" in last
    assert (show / "print-a3.pdf").is_file()
    assert len(list((show / "songs").glob("*-a3.pdf"))) == 2
    now = next(show.glob("data/01*")) / "pin-map.json"
    ran = pegwright("swap", now, SONGS / "shrimpers-jig.mid", "-w", WHEEL, "-o", to_jig)
    last = " ".join(ran.out.split("\n\n")[-1].split())
    assert last.startswith(f"Next: print {to_jig / 'print-a4.pdf'} at 100 %")
    assert (to_jig / "print-a4.pdf").is_file()
    as_json = pegwright("swap", now, now, "-w", WHEEL, "-o", tmp_path / "none", "--json")
    json.loads(as_json.out)
    assert "Next: print" in as_json.err


def test_sets_can_carry_something_at_the_beginning(pegwright: Command, tmp_path: Path) -> None:
    assert pegwright("pin", SONGS / "turnstile-tango.mid", "-w", WHEEL, "-o", tmp_path / "now").code == 0
    carry = '[plates]\ncarry = ["now/pin-map.json", ""]\nfixed = [1, 2, 3, 4, 5, 6]\n'
    plan = json.loads(pegwright("set", set_file(tmp_path, TANGO, JIG, top=carry), "--json").out)
    assert [(it["pull"], it["set"], it["stay"]) for it in plan["pinnings"]] == [(0, 0, 275), (0, 205, 0)]
    assert plan["pinnings"][0]["plates"] == [1, 2, 3, 4, 5, 6]
    (tmp_path / "now/plate-1.csv").write_text("changed", encoding="utf-8")
    folder = set_file(tmp_path, TANGO, JIG, top=carry.replace("/pin-map.json", ""))
    assert "plate-1.csv differs from the map" in pegwright("set", folder, "--json").err


def changed_wheel(folder: Path, old: str, new: str) -> Path:
    """The wheel with one line changed."""
    text = WHEEL.read_text("utf-8")
    assert old in text
    path = folder / "changed.toml"
    path.write_text(text.replace(old, new, 1), encoding="utf-8")
    return path


def test_plates_are_still_known_after_pins_were_bought(pegwright: Command, tmp_path: Path) -> None:
    assert pegwright("pin", SONGS / "turnstile-tango.mid", "-w", WHEEL, "-o", tmp_path / "now").code == 0
    bought = changed_wheel(tmp_path, "stock = 640", "stock = 650")
    carry = '[plates]\ncarry = ["now/pin-map.json", ""]\n'
    text = set_file(tmp_path, TANGO, JIG, top=carry).read_text("utf-8").replace(str(WHEEL), str(bought))
    (tmp_path / "bought.toml").write_text(text, encoding="utf-8")
    plan = json.loads(pegwright("set", tmp_path / "bought.toml", "--json").out)
    assert [(it["pull"], it["set"], it["stay"]) for it in plan["pinnings"]] == [(0, 0, 275), (0, 205, 0)]
    pins = tmp_path / "now/pin-map.json"
    ran = pegwright("swap", pins, pins, "-w", bought)
    assert ran.code == 0
    assert "Pull 0, set 0, 275 stay" in ran.out
    assert "was changed" not in ran.out


def test_a_map_of_a_wheel_changed_where_no_pin_is_goes_on_with_a_remark(pegwright: Command, tmp_path: Path) -> None:
    assert pegwright("pin", SONGS / "turnstile-tango.mid", "-w", WHEEL, "-o", tmp_path / "now").code == 0
    more = changed_wheel(tmp_path, "[[pin_type]]", '[[channel]]\nname = "gong"\npitches = [40]\n\n[[pin_type]]')
    pins = tmp_path / "now/pin-map.json"
    ran = pegwright("swap", pins, pins, "-w", more)
    assert ran.code == 0
    told = " ".join(ran.out.split())
    assert "the wheel file was changed after this map was written: channel 'gong' was added; no pin of it is" in told


def test_a_map_of_another_wheel_is_refused_with_what_is_other(pegwright: Command, tmp_path: Path) -> None:
    other = changed_wheel(tmp_path, 'step = "1/16"', 'step = "1/8"')
    assert pegwright("pin", SONGS / "turnstile-tango.mid", "-w", WHEEL, "-o", tmp_path / "now").code == 0
    pins = tmp_path / "now/pin-map.json"
    told = pegwright("swap", pins, pins, "-w", other).refused(1)
    assert "the value of a step is '1/16' in the map and '1/8' on the wheel; this concerns 275 of 275" in told
    carry = '[plates]\ncarry = ["now/pin-map.json"]\n'
    text = set_file(tmp_path, JIG, top=carry).read_text("utf-8").replace(str(WHEEL), str(other))
    (tmp_path / "other-set.toml").write_text(text, encoding="utf-8")
    assert "the value of a step is" in pegwright("set", tmp_path / "other-set.toml").refused(1)


@pytest.mark.parametrize(
    ("top", "told"),
    [
        ('[plates]\ncarry = ["", "", ""]\n', "3 pin maps for 2 sets of plates"),
        ("[plates]\nfixed = [7]\n", "there is no plate 7 among 6"),
        ('[plates]\ncarry = ["set.toml"]\n', "this is a song set, not a pin map"),
        ('[plates]\ncarry = ["none.json"]\n', "cannot be read"),
    ],
)
def test_plates_that_do_not_exist_are_refused(pegwright: Command, tmp_path: Path, top: str, told: str) -> None:
    ran = pegwright("set", set_file(tmp_path, JIG, top=top), "-o", tmp_path / "show")
    assert ran.code in (1, 2)
    assert told in ran.err
    assert len(ran.err.splitlines()) == 1
    assert not (tmp_path / "show").exists()


def test_a_wheel_that_is_missing_and_a_faulty_set_are_told(pegwright: Command, tmp_path: Path) -> None:
    path = tmp_path / "set.toml"
    path.write_text('title = "E"\nwheel = "none.toml"\n' + JIG, encoding="utf-8")
    assert "none.toml: cannot be read" in pegwright("set", path).refused(2)
    path.write_text('title = "E"\nwheel = "none.toml"\nordre = 1\n', encoding="utf-8")
    ran = pegwright("set", path)
    assert (ran.code, len(ran.err.splitlines())) == (2, 3)


def test_a_start_off_the_turn_is_told(pegwright: Command, tmp_path: Path) -> None:
    ran = pegwright("set", set_file(tmp_path, JIG, song("turnstile-tango.mid", "start = 500")))
    assert ran.code == 1
    assert "step 500 is not on the turn" in ran.err


def test_nothing_is_overwritten_unless_told(pegwright: Command, tmp_path: Path) -> None:
    path = set_file(tmp_path, AIR)
    assert pegwright("set", path, "-o", tmp_path / "show").code == 0
    (tmp_path / "show/songs/99-old.txt").write_text("old", encoding="utf-8")
    assert "is not empty" in pegwright("set", path, "-o", tmp_path / "show").err
    ran = pegwright("set", path, "-o", tmp_path / "show", "--overwrite")
    assert "Left as they were in" in ran.out
    assert "songs/99-old.txt" in ran.out


def test_a_swap_between_two_maps_and_back_moves_as_many_pins(pegwright: Command, tmp_path: Path) -> None:
    for name in ("turnstile-tango.mid", "shrimpers-jig.mid"):
        assert pegwright("pin", SONGS / name, "-w", WHEEL, "-o", tmp_path / name).code == 0
    one, other = (tmp_path / name / "pin-map.json" for name in ("turnstile-tango.mid", "shrimpers-jig.mid"))
    there, back = (
        json.loads(pegwright("swap", *maps, "-w", WHEEL, "--json").out) for maps in ((one, other), (other, one))
    )
    closed("swap-1.json").validate(there)
    assert (there["pull_count"], there["set_count"]) == (back["set_count"], back["pull_count"])
    kept = json.loads(
        pegwright(
            "swap", one, other, "-w", WHEEL, "--json", *(word for n in range(1, 7) for word in ("--fixed", n))
        ).out
    )
    assert kept["moved_plates"] == 0
    assert kept["pull_count"] >= there["pull_count"]
    text = pegwright("swap", one, other, "-w", WHEEL).out
    assert "Stop the wheel and lock it before you touch a plate" in text


def test_a_swap_to_a_song_begins_where_it_saves_most(pegwright: Command, tmp_path: Path) -> None:
    assert pegwright("pin", SONGS / "turnstile-tango.mid", "-w", WHEEL, "-o", tmp_path / "now").code == 0
    now, jig = tmp_path / "now/pin-map.json", SONGS / "shrimpers-jig.mid"
    ran = pegwright("swap", now, jig, "-w", WHEEL, "-o", tmp_path / "jig")
    assert ran.code == 0, ran
    made = json.loads((tmp_path / "jig/swap.json").read_text("utf-8"))
    for start in ("1", "9", "30"):
        other = json.loads(pegwright("swap", now, jig, "-w", WHEEL, "--start", start, "--json").out)
        assert made["pull_count"] + made["set_count"] <= other["pull_count"] + other["set_count"]
    again = json.loads(pegwright("swap", now, tmp_path / "jig/pin-map.json", "-w", WHEEL, "--json").out)
    assert again == made
    names = {path.name for path in (tmp_path / "jig").iterdir()}
    assert {"print-a4.pdf", "swap.json", "swap.csv", "pin-map.json", "report.html"} <= names
    sections = [words for level, words, _ in outline_of((tmp_path / "jig/print-a4.pdf").read_bytes()) if not level]
    assert sections == ["The Shrimpers' Jig", "Pin sheets", "Swap sheets", "Call list", "Pin count"]


def test_a_swap_to_a_song_of_two_turns_asks_for_bars(pegwright: Command, tmp_path: Path) -> None:
    assert pegwright("pin", SONGS / "turnstile-tango.mid", "-w", WHEEL, "-o", tmp_path / "now").code == 0
    now, long = tmp_path / "now/pin-map.json", SONGS / "round-the-pier-and-back.mxl"
    assert "choose the bars of one turn with --bars" in pegwright("swap", now, long, "-w", WHEEL).refused(2)
    ran = pegwright("swap", now, long, "-w", WHEEL, "--bars", "13-24", "--start", "1", "--json")
    assert json.loads(ran.out)["new"]["pin_count"] == 219


def test_files_that_are_no_maps_are_refused(pegwright: Command, tmp_path: Path) -> None:
    song = SONGS / "turnstile-tango.mid"
    assert "none.json: cannot be read" in pegwright("swap", tmp_path / "none.json", song, "-w", WHEEL).refused(1)
    assert "this is a wheel file, not a pin map" in pegwright("swap", WHEEL, song, "-w", WHEEL).refused(1)
    assert "this is a song (MIDI), not a pin map" in pegwright("swap", song, song, "-w", WHEEL).refused(1)


def test_for_a_folder_with_sets_of_plates_in_place_of_a_map_their_maps_are_named(
    pegwright: Command, tmp_path: Path
) -> None:
    now, folder = tmp_path / "now.json", tmp_path / "pins"
    (folder / "A").mkdir(parents=True)
    assert pegwright("pin", SONGS / "turnstile-tango.mid", "-w", WHEEL, "-o", tmp_path / "made").code == 0
    for copy in (now, folder / "A/pin-map.json"):
        copy.write_bytes((tmp_path / "made/pin-map.json").read_bytes())
    for old, new in [(folder, now), (now, folder)]:
        told = pegwright("swap", old, new, "-w", WHEEL).refused(1)
        assert f"cannot be read: is a directory (name its pin map: {folder}/A/pin-map.json)" in told


def test_the_evening_is_planned_with_one_late_set_and_remedies_that_work(pegwright: Command) -> None:
    plan = json.loads(pegwright("set", EVENING, "--json").out)
    assert len(plan["songs"]) >= 8
    assert plan["proved"]
    assert plan["moved"]["planned"] < plan["moved"]["given"] < plan["moved"]["plain"]
    assert sum(it["waits_s"] > 0 for it in plan["pinnings"]) == 1
    told = [it for it in plan["findings"] if it["code"] == "late"]
    assert "6 people instead of 5" in told[0]["hint"]
    calmer = json.loads(pegwright("set", EVENING, "--json", "--order", "least-worst").out)
    assert calmer["on_time"]
    helps = f'order = "least-worst" has every set ready in time and moves {calmer["moved"]["planned"]:,} pins'
    assert any(helps in it["message"] for it in plan["findings"])


def test_where_a_plate_is_fixed_every_start_is_tried(
    pegwright: Command, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The turn of the demo wheel has 192 steps, at 186 of which the air loses nothing."""
    path = set_file(
        tmp_path, TANGO, song("the-sands-at-evening.musicxml", ""), top="plate_sets = 1\nplates.fixed = [1]\n"
    )
    plan = json.loads(pegwright("set", path, "--json").out)
    assert plan["proved"]
    assert plan["starts_tried"] == plan["starts_equal"] == 187
    monkeypatch.setattr("pegwright.show_pipeline.plan.max_starts", lambda songs: 24 * songs)
    thinned = json.loads(pegwright("set", path, "--json").out)
    assert (thinned["starts_tried"], thinned["starts_equal"], thinned["proved"]) == (48, 187, False)
    assert thinned["moved"]["planned"] >= plan["moved"]["planned"]
    assert "starts-thinned" in {it["code"] for it in thinned["findings"]}
    out = " ".join(pegwright("set", path).out.split())
    assert "Of 187 equally good starts of its songs 48 were tried. With these, in this order no starts can move" in out
    assert "proved" not in out


@pytest.mark.skipif(cases(0, 1) == 0, reason="takes ten seconds")
def test_the_evening_with_a_fixed_plate_is_as_good_as_with_none(pegwright: Command, tmp_path: Path) -> None:
    text = EVENING.read_text("utf-8").replace("[work]", "[plates]\nfixed = [1]\n\n[work]")
    text = text.replace('score = "', f'score = "{SONGS}/').replace('wheel = "merrow', f'wheel = "{WHEEL.parent}/merrow')
    (tmp_path / "fixed.toml").write_text(text, encoding="utf-8")
    plan = json.loads(pegwright("set", tmp_path / "fixed.toml", "--json").out)
    free = json.loads(pegwright("set", EVENING, "--json").out)
    assert plan["proved"]
    assert plan["moved"]["planned"] == free["moved"]["planned"] == 1783


@pytest.mark.parametrize(("songs", "starts"), [(1, 192), (12, 192), (13, 177), (36, 64), (100, 64)])
def test_how_many_starts_are_tried_depends_on_the_number_of_songs(songs: int, starts: int) -> None:
    assert max_starts(songs) == starts


def test_the_overview_calls_late_what_the_plan_calls_late() -> None:
    evening = load_song_set(EVENING)
    show = plan_song_set(evening, load_wheel(evening.wheel)).show
    rows = overview_rows(show)
    late = [it.late_s > 0 for it in show.pinned]
    assert any(late)
    assert [row.late_s > 0 for row in rows] == late
    assert [row.available_s for row in rows] == [it.available_s for it in show.pinned]


def test_where_the_plan_puts_plates_elsewhere_than_they_were_measured(pegwright: Command, tmp_path: Path) -> None:
    show = json.loads(pegwright("set", EVENING, "--json").out)
    path = tmp_path / "seams.toml"
    path.write_text("set = 2\n[[seam]]\nafter_plate = 1\nerror_mm = 0.1\n", encoding="utf-8")
    told = pegwright("set", EVENING, "--seams", path).out
    assert "measured with plates 1, 2, 3, 4, 5 and 6 of set 2 at places 1 to 6, do not hold" in " ".join(told.split())
    elsewhere = [
        each["plates"] for each in show["pinnings"] if each["plate_set"] == 2 and each["plates"] != [1, 2, 3, 4, 5, 6]
    ]
    assert elsewhere
    assert told.count(": plates ") == len(elsewhere)
    as_json = pegwright("set", EVENING, "--seams", path, "--json")
    assert json.loads(as_json.out) == show
    assert "Measure those seams too." in as_json.err
    one = set_file(tmp_path, TANGO)
    path.write_text("[[seam]]\nafter_plate = 1\nerror_mm = 0.1\n", encoding="utf-8")
    assert "hold for the whole show" in " ".join(pegwright("set", one, "--seams", path).out.split())
    path.write_text("set = 9\n[[seam]]\nafter_plate = 1\nerror_mm = 0.1\n", encoding="utf-8")
    assert "9 is above the maximum, 2" in pegwright("set", EVENING, "--seams", path).refused(2)
