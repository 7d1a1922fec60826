"""Maps checked without their score: the fit's verifier, the check of maps and a third checker find the same faults."""

from __future__ import annotations

import json
import random
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

import strategies
import thorough
from broken_held import HELD, Held
from broken_placements import CASES, Case
from map_oracle import Fault, Oracle, Pin
from pegwright.bundled import bundled_songs
from pegwright.check.held import verify_held
from pegwright.check.pin_map import PinRule, pin_faults
from pegwright.check.verify import verify
from pegwright.columns import Ints, frozen_ints
from pegwright.config import load_wheel
from pegwright.correct.faults import map_faults
from pegwright.errors import UsageError
from pegwright.fit.pins import pins_of
from pegwright.placement import PinMap, Placement, pin_map_sha256
from pegwright.read.working_map import inspected_maps
from pegwright.score import Score
from pegwright.song_pipeline.fitting import fit_file
from pegwright.tell.findings import fit_with_findings
from pegwright.wheel import Kind, PinType, Wheel
from thorough import cases
from working import MARCH, PIER, WHEEL_FILE, demo_wheel, document, fitted

SENTENCES = {
    "shares its hole with another pin": PinRule.SHARED,
    "is struck again before the channel's re-strike is over": PinRule.RESTRIKE,
    "has a pin that touches another": PinRule.TOUCH,
    "has a pin that reaches over an edge of its plate": PinRule.EDGE,
    "is one of more than {} strikes within the window of limit {}": PinRule.LIMIT,
    "is in a hole that the row does not have": PinRule.HOLE,
    "is in a row that the channel does not have": PinRule.HOLE,
    "is in a lost hole": PinRule.LOST,
}


def begins(placement: Placement, pins: PinMap) -> Ints:
    """Which pins begin their notes, from the placement: those in the note's own hole, tripping as it was placed."""
    note = pins.note
    own = (placement.plate[note] == pins.plate) & (placement.row[note] == pins.row)
    return frozen_ints(own & (placement.index[note] == pins.index))


def unordered(on: Wheel, placement: Placement) -> PinMap:
    """The pins of a placement, which may be in holes that are not, in the order of the notes."""
    note = np.flatnonzero(placement.outcome == 0)
    names = ("channel", "plate", "row", "index", "pin_type")
    columns: dict[str, Any] = {name: frozen_ints(getattr(placement, name)[note]) for name in names}
    return PinMap(
        title="Test song",
        wheel_name=on.name,
        note=frozen_ints(note),
        us_per_quarter=placement.us_per_quarter,
        score_sha256=placement.score_sha256,
        wheel_sha256=on.sha256,
        **columns,
    )


def faults(on: Wheel, placement: Placement, pins: PinMap) -> set[PinRule]:
    return {fault.rule for fault in pin_faults(on, pins, begins(placement, pins))}


def test_every_map_of_the_bundled_songs_is_sound() -> None:
    for song in bundled_songs():
        fit = fit_file(song, demo_wheel())
        for turn in fit.pinnings:
            assert pin_faults(demo_wheel(), turn.pins, begins(turn.placement, turn.pins)) == ()


@settings(max_examples=thorough.cases(60, 300))
@given(strategies.scores(), strategies.wheels(), strategies.options())
def test_a_map_that_a_fit_makes_has_no_fault_on_any_wheel(song: Score, on: Wheel, options: Any) -> None:  # noqa: ANN401
    try:
        placement, _ = fit_with_findings(song, on, options)
    except UsageError:
        return
    assert verify(song, on, placement) == ()
    pins = pins_of(song, on, placement)
    assert pin_faults(on, pins, begins(placement, pins)) == ()
    assert pin_faults(on, pins, frozen_ints([-1] * pins.pin_count)) == ()


@st.composite
def holding(draw: st.DrawFn) -> Wheel:
    on = draw(strategies.wheels())
    channels = [
        replace(one, kind=Kind.HOLD, hold_mm=draw(st.sampled_from([1.0, 4.0, 7.5])), restrike_ms=60.0)
        if draw(st.booleans())
        else one
        for one in on.channels
    ]
    bridges = draw(st.sampled_from([(), (PinType("bridge", 5, bridge_mm=7.0),)]))
    return replace(on, channels=tuple(channels), pin_types=(*bridges, *on.pin_types))


@settings(max_examples=thorough.cases(50, 200))
@given(strategies.scores(), holding(), strategies.options(), st.integers(1, 40))
def test_nor_has_one_with_held_notes(song: Score, on: Wheel, options: Any, length: int) -> None:  # noqa: ANN401
    song = replace(song, duration_ticks=frozen_ints(song.duration_ticks * length))
    try:
        placement, _ = fit_with_findings(song, on, options)
    except UsageError:
        return
    pins = pins_of(song, on, placement)
    assert (*verify(song, on, placement), *verify_held(on, placement, pins)) == ()
    assert pin_faults(on, pins, begins(placement, pins)) == ()


@pytest.mark.parametrize(
    ("sentence", "build"),
    [pytest.param(text, build, id=f"{text}: {what}") for text, what, build in CASES if text in SENTENCES],
)
def test_what_the_verifier_finds_in_pins_is_found_without_the_score(sentence: str, build: Callable[[], Case]) -> None:
    _, on, placement = build()
    assert faults(on, placement, unordered(on, placement)) == {SENTENCES[sentence]}


@pytest.mark.parametrize(
    "build",
    [pytest.param(build, id=f"{text}: {what}") for text, what, build in HELD if not text.startswith("notes {}")],
)
def test_what_it_finds_in_held_notes_is_found_without_the_score(build: Callable[[], Held]) -> None:
    on, placement, pins = build()
    assert verify_held(on, placement, pins)
    assert faults(on, placement, pins) & {
        PinRule.HELD,
        PinRule.RESTRIKE,
        PinRule.TOUCH,
        PinRule.EDGE,
        PinRule.SHARED,
        PinRule.HOLE,
        PinRule.LOST,
    }


def test_every_rule_of_pins_has_a_case() -> None:
    assert {text for text, _, _ in CASES} >= set(SENTENCES)


def test_a_moved_note_breaks_the_same_rules_for_all_three_checkers() -> None:
    """One pin of a song at a time is moved at random; notes break a rule just where their pins do."""
    fit, oracle = fitted(MARCH), Oracle(WHEEL_FILE.read_text(encoding="utf-8"))
    chance = random.Random(5)  # noqa: S311  # a seeded sample
    turn, on = fit.turns[0], demo_wheel()
    seen: set[str] = set()
    for _ in range(cases(40, 400)):
        placement = _moved(turn.placement, on, chance)
        pins = unordered(on, placement)
        by_verifier = {
            rule
            for line in verify(turn.score, on, placement)
            for sentence, rule in SENTENCES.items()
            if all(part in line for part in sentence.split("{}"))
        }
        by_check = faults(on, placement, pins)
        by_oracle = {rule.split()[0] for rule, _ in oracle.faults(numbered(pins), pins.us_per_quarter)}
        if by_verifier & {PinRule.HOLE, PinRule.LOST}:  # the verifier stops there
            assert by_verifier <= by_check
        elif PinRule.SHARED in by_verifier:  # of two pins in one hole it says too that they touch
            assert PinRule.SHARED in by_check <= by_verifier
        else:
            assert by_check == by_verifier
        assert by_oracle == set(by_check)
        seen |= by_oracle
    assert len(seen) > 2


def _moved(placement: Placement, on: Wheel, chance: random.Random) -> Placement:
    notes = np.flatnonzero(placement.outcome == 0).tolist()
    note, other = chance.sample(notes, 2)
    row = chance.randrange(len(on.rows))
    columns = {name: getattr(placement, name).copy() for name in ("plate", "row", "index", "pin_type")}
    columns["row"][note] = row
    columns["plate"][note] = placement.plate[other]
    near = int(on.rows[int(placement.row[other])].position_steps(int(placement.index[other])))
    holes = [
        index
        for index in range(on.rows[row].hole_count(on.steps_per_plate))
        if abs(on.rows[row].position_steps(index) - near) <= 1
    ]
    columns["index"][note] = chance.choice(holes)
    columns["pin_type"][note] = chance.randrange(3)
    changed: dict[str, Any] = {name: frozen_ints(column) for name, column in columns.items()}
    changed["channel"] = placement.channel.copy()
    changed["channel"][note] = placement.channel[other]
    return replace(placement, **changed)


def numbered(pins: PinMap) -> list[Pin]:
    columns = (pins.channel, pins.plate, pins.row, pins.index, pins.pin_type)
    return [(a + 1, b + 1, c + 1, d + 1, e + 1) for a, b, c, d, e in zip(*(x.tolist() for x in columns), strict=True)]


# --- planted faults ---

Doc = dict[str, Any]
PLANTED = ("touch", "restrike", "limit drum drive", "lost", "shared", "number", "stock late", "hole")
DRUMS = (20, 21, 22, 23, 24)
LOW_STOCK = WHEEL_FILE.read_text(encoding="utf-8").replace("stock = 60\noffset_mm = 1.2", "stock = 3\noffset_mm = 1.2")


def pins_in(doc: Doc) -> list[tuple[int, Doc]]:
    return [(plate["plate"], pin) for plate in doc["plates"] for pin in plate["pins"]]


def put_pin(doc: Doc, like: Doc, plate: int, **values: Any) -> None:  # noqa: ANN401  # JSON
    doc["plates"][plate - 1]["pins"].append({**like, "note": None, "deviation_ms": None, **values})


def plant(doc: Doc, what: str, chance: random.Random) -> None:
    """Make a map break a rule."""
    plate, pin = chance.choice([(plate, pin) for plate, pin in pins_in(doc) if pin["channel"] < 20 and pin["row"] == 1])
    match what:
        case "touch":  # the half-way hole and the triplet hole beside it, far from others
            step = chance.randrange(1, 30, 2)
            put_pin(doc, pin, plate, row=2, hole=step, step=f"{step}.5")
            put_pin(doc, pin, plate, row=3, hole=step, step=f"{step} 2/3")
        case "restrike":
            put_pin(doc, pin, plate, row=2, hole=min(pin["hole"], 31), step=f"{min(pin['hole'], 31)}.5")
        case "limit drum drive":
            step = chance.randrange(1, 33)
            taken = {
                each["channel"]
                for where, each in pins_in(doc)
                if where == plate and each["row"] == 1 and each["hole"] == step
            }
            for channel in DRUMS:
                if channel not in taken:
                    put_pin(doc, pin, plate, channel=channel, hole=step, step=str(step))
        case "lost":
            put_pin(doc, pin, plate, row=2, hole=32, step="32.5")
        case "shared":
            put_pin(doc, pin, plate, pin_type=chance.choice([1, 2, 3]))
        case "number":
            key, value = chance.choice([("pin_type", 4), ("channel", 25), ("row", 4), ("pin_type", 999)])
            put_pin(doc, pin, plate, **{key: value})
        case "stock late":
            for _, each in chance.sample(pins_in(doc), 4):
                each["pin_type"] = 3
        case "hole":
            put_pin(doc, pin, plate, channel=chance.choice(DRUMS), row=3, hole=chance.randrange(1, 33))


def as_faults(doc: Doc, on: Wheel, path: Path) -> set[Fault]:
    """What the check of a map finds, in the form of the third checker."""
    path.write_text(json.dumps(doc), encoding="utf-8")
    maps, _ = inspected_maps(path, on)
    together: dict[str, set[Pin]] = {}
    broken: set[Fault] = set()
    for fault in map_faults(maps, on):
        pins = {tuple(number + 1 for number in (*pin.hole, pin.pin_type)) for pin in fault.pins}
        if fault.rule == "limit":
            limit = next(limit.name for limit in on.strike_limits if limit.name in fault.words)
            together.setdefault(f"limit {limit}", set()).update(pins)  # type: ignore[arg-type]  # five numbers
        elif fault.rule == "stock":
            broken.add((f"stock {fault.words.split(':')[0].removeprefix('pin type ')}", frozenset()))
        else:
            broken.add((str(fault.rule), frozenset(pins)))  # type: ignore[arg-type]  # as above
    return broken | {(rule, frozenset(pins)) for rule, pins in together.items()}


def listed(doc: Doc) -> list[Pin]:
    return [(pin["channel"], plate, pin["row"], pin["hole"], pin["pin_type"]) for plate, pin in pins_in(doc)]


@pytest.fixture(scope="module")
def low_stock(tmp_path_factory: pytest.TempPathFactory) -> Wheel:
    path = tmp_path_factory.mktemp("wheel") / "low.toml"
    path.write_text(LOW_STOCK, encoding="utf-8")
    return load_wheel(path)


def test_every_planted_fault_is_found_and_the_third_checker_agrees(low_stock: Wheel, tmp_path: Path) -> None:
    oracle = Oracle(LOW_STOCK)
    chance = random.Random(14)  # noqa: S311  # a seeded sample
    songs = [(MARCH, 0), (PIER, 0), (PIER, 1)]
    for number in range(cases(64, 1000)):
        what = PLANTED[number % len(PLANTED)]
        doc = document(*songs[number // len(PLANTED) % len(songs)])
        plant(doc, what, chance)
        seen = as_faults(doc, low_stock, tmp_path / "map.json")
        assert what in {rule for rule, _ in seen}, (what, number)
        assert seen == oracle.faults(listed(doc), doc["fit"]["us_per_quarter"]), (what, number)


def test_the_third_checker_finds_nothing_in_sound_maps() -> None:
    oracle = Oracle(WHEEL_FILE.read_text(encoding="utf-8"))
    for song, pinning in ((MARCH, 0), (PIER, 0), (PIER, 1)):
        doc = document(song, pinning)
        assert oracle.faults(listed(doc), doc["fit"]["us_per_quarter"]) == set()


@pytest.mark.parametrize("change", ["hash", "count", "name", "step"])
def test_a_file_that_contradicts_itself_is_a_fault_of_the_file(change: str, tmp_path: Path) -> None:
    doc = document(MARCH)
    first = next(pin for _, pin in pins_in(doc))
    match change:
        case "hash":
            doc["map_sha256"] = "0" * 64
        case "count":
            doc["pin_count"] += 1
        case "name":
            first["channel_name"] = "kazoo"
        case "step":
            first["step"] = "9.25"
    path = tmp_path / "map.json"
    path.write_text(json.dumps(doc), encoding="utf-8")
    _, of_file = inspected_maps(path, demo_wheel())
    assert [fault.rule for fault in of_file] == ["file"]
    words = {
        "hash": "map_sha256 is 0000",
        "count": "pin_count of the map",
        "name": "'kazoo' in the map",
        "step": "9.25",
    }
    assert words[change] in of_file[0].words


def test_the_hash_of_a_working_map_is_that_of_its_pins() -> None:
    from working import maps_of

    for working, turn in zip(maps_of(PIER), fitted(PIER).pinnings, strict=True):
        assert working.sha256 == pin_map_sha256(turn.pins)


def test_a_fault_names_plate_channel_step_and_row(tmp_path: Path) -> None:
    doc = document(PIER, 1)
    plate, pin = next((plate, pin) for plate, pin in pins_in(doc) if pin["row"] == 1 and pin["hole"] < 31)
    put_pin(doc, pin, plate, row=2, row_name="half", hole=pin["hole"], step=f"{pin['hole']}.5")
    path = tmp_path / "map.json"
    path.write_text(json.dumps(doc), encoding="utf-8")
    maps, _ = inspected_maps(path, demo_wheel())
    line = map_faults(maps, demo_wheel())[0].line
    head = f"plate {plate}, channel {pin['channel']} ({pin['channel_name']}), step {pin['hole']}"
    assert line.startswith("B: ")
    assert f"{head} on, plain" in line
    assert f"{head}.5 half, plain" in line
    assert "72.1 ms where 110 ms are needed" in line
