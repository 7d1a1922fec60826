"""Wheels, song sets and files, seams, beats, pin maps and plates at random: legal ones, odd ones and broken ones."""

from __future__ import annotations

import copy
import json
import random
import tomllib
from fractions import Fraction
from functools import cache
from typing import Any

from commands import SONGS, WHEEL
from fuzz.mutate import ODD_NUMBERS, Tree, mutated_bytes, mutated_tree
from places import ROOT
from toml_text import toml_text

Table = dict[str, Any]
MAP = ROOT / "tests" / "data" / "maps" / "minuet-3.json"
STEPS = ("1/16", "1/8", "1/4", "1/12", "1/32", "3/32")
PHASES = ("1/2", "1/3", "2/3", "1/4", "3/4")


def legal_wheel(chance: random.Random) -> Table:
    """A wheel that is mostly legal: few or many plates, rows, channels, pin types and limits."""
    step_mm = chance.choice((6.0, 12.0, 15.625, 40.0))
    plates, steps = chance.choice((1, 2, 3, 6, 16)), chance.choice((4, 6, 8, 16, 32))
    rows: list[Table] = [{"name": "on", "phases": [0]}]
    for number in range(chance.choice((0, 1, 1, 2))):
        period = chance.choice((1, 2))
        phases = sorted(chance.sample(PHASES, chance.choice((1, 1, 2))), key=Fraction)
        rows.append(
            {
                "name": f"row {number}",
                "phases": phases,
                "period_steps": period,
                "lateral_mm": chance.choice((0.0, 3.0, 7.0)),
            }
        )
    wheel: Table = {
        "name": "Fuzz wheel",
        "wheel": {
            "plates": plates,
            "steps_per_plate": steps,
            "step": chance.choice(STEPS),
            "plate_sets": chance.choice((1, 2, 3)),
            "reach": chance.choice(("1/96", "1/64", "1/24", "0")),
        },
        "geometry": {
            "radius_mm": max(40.0, plates * steps * step_mm / 6.2831853),
            "thickness_mm": chance.choice((3.0, 6.0)),
            "hole_diameter_mm": chance.choice((0.5, 1.0, 2.5)),
            "pin_diameter_mm": chance.choice((0.5, 1.5, 3.0, 4.0)),
            "min_wall_mm": chance.choice((0.2, 0.5, 2.0)),
            "pin_clearance_mm": chance.choice((0.0, 0.1, 0.5)),
            "channel_pitch_mm": chance.choice((14.0, 30.0)),
            "lead_edge_mm": chance.choice((0.5, 3.0, 5.0)),
            "trail_edge_mm": chance.choice((0.5, 3.0, 5.3)),
        },
        "row": rows,
        "channel": _channels(chance, [row["name"] for row in rows]),
    }
    wheel["pin_type"] = _pin_types(chance) if chance.random() < 0.6 else [{"name": "peg", "stock": 900}]
    if chance.random() < 0.4:
        names = [channel["name"] for channel in wheel["channel"]]
        limit: Table = {
            "name": "drive",
            "strikes": chance.choice((1, 2, 5)),
            "window_ms": chance.choice((50, 200, 1000)),
        }
        limit["channels"] = chance.sample(names, chance.randint(1, len(names)))
        wheel["limit"] = [limit]
    return _in_new_words(chance, wheel)


def _in_new_words(chance: random.Random, wheel: Table) -> Table:
    """The wheel with, now and then, channels in short, lengths not known or in inches, no seams, a crank's bounds."""
    if chance.random() < 0.2:
        low = chance.randrange(20, 100)
        pitches = chance.choice((f"{low}..{low + chance.randrange(9)}", [low, f"{low + 1}..{low + 3}"]))
        wheel["channels"] = [{"name": chance.choice(("low {pitch}", "{midi}")), "pitches": pitches, "restrike_ms": 90}]
    if chance.random() < 0.15:
        wheel["wheel"]["seam"] = False
        for key in ("min_wall_mm", "lead_edge_mm", "trail_edge_mm"):
            del wheel["geometry"][key]
    if chance.random() < 0.25:
        for key in chance.sample(sorted(wheel["geometry"]), chance.randint(1, len(wheel["geometry"]))):
            del wheel["geometry"][key]
    if chance.random() < 0.2:
        inches = {f"{key.removesuffix('_mm')}_in": value / 25.4 for key, value in wheel["geometry"].items()}
        wheel["geometry"] = inches
    if chance.random() < 0.2:
        wheel["wheel"] |= {"slowest_turn_s": chance.choice((5, 60.0)), "fastest_turn_s": chance.choice((0.5, 5))}
    return wheel


def _channels(chance: random.Random, rows: list[str]) -> list[Table]:
    channels: list[Table] = []
    first = chance.randrange(30, 80)
    for number in range(chance.choice((1, 2, 5, 13, 24))):
        channel: Table = {
            "name": f"bar {number}",
            "restrike_ms": chance.choice((1, 60, 110, 600)),
            "rows": rows if chance.random() < 0.7 else chance.sample(rows, chance.randint(1, len(rows))),
        }
        if chance.random() < 0.15:
            channel["drum_keys"] = [chance.randrange(35, 60)]
        else:
            channel["pitches"] = [min(127, first + (number if chance.random() < 0.8 else 0))]
        if chance.random() < 0.25:
            channel |= {"kind": "hold", "hold_mm": chance.choice((4.0, 10.0, 30.0))}
        channels.append(channel)
    return channels


def _pin_types(chance: random.Random) -> list[Table]:
    types: list[Table] = [{"name": "peg", "stock": 900}]
    for number in range(chance.choice((1, 2, 4))):
        kind: Table = {"name": f"type {number}", "stock": chance.choice((0, 40, 900))}
        if chance.random() < 0.7:
            kind["offset_mm"] = chance.choice((-5.0, -1.2, 0.5, 1.2, 5.0))
            if chance.random() < 0.5:
                kind["collar"] = chance.choice(("moves", "stays"))
        else:
            kind["bridge_mm"] = chance.choice((5.0, 20.0, 60.0))
        types.append(kind)
    return types


def wheel(chance: random.Random) -> bytes:
    """A wheel file, mostly legal; of three, one of them or of the bundled wheel is made wrong."""
    if chance.random() < 2 / 3:
        return toml_text(legal_wheel(chance)).encode()
    return _wrong(chance, _bundled(WHEEL.name) if chance.random() < 0.5 else legal_wheel(chance))


def song_set(chance: random.Random) -> bytes:
    """A song set of the bundled songs and wheel, some of it changed."""
    table = copy.deepcopy(_bundled("pavilion-evening.toml"))
    table["wheel"] = str(WHEEL)
    table["song"] = chance.sample(table["song"], chance.randint(1, 3))
    for song in table["song"]:
        song["score"] = str(SONGS / song["score"])
    table["order"] = chance.choice(("given", "least-work", "least-worst"))
    return _wrong(chance, table) if chance.random() < 0.7 else toml_text(table).encode()


def song_file(chance: random.Random) -> bytes:
    """A song file of a bundled song, some of it changed."""
    known: Table = {
        "bars": "1-8",
        "start": chance.choice((1, "auto", "2.5")),
        "transpose": chance.choice((0, 12, "auto")),
        "tempo": 97.3,
        "thin": 2,
        "only": ["Chimes", "Bass"],
        "priorities": {"Chimes": 5},
        "move_parts": {"Bass": 12},
        "swing": "2:1",
        "note_edits": ["drop Bass, bar 2, beat 3, B2"],
        "taken": ["fold octaves"],
    }
    keys = chance.sample(sorted(known), chance.randint(0, 5))
    table = {"score": str(SONGS / "the-committee-regrets.musicxml"), "wheel": str(WHEEL)}
    table |= {key: known[key] for key in keys}
    return _wrong(chance, table) if chance.random() < 0.8 else toml_text(table).encode()


def plate(chance: random.Random) -> bytes:
    """The CSV file of a plate of `MAP`: as written, as a spreadsheet leaves it, or made wrong."""
    rows = [line.split(",") for line in _plate().decode().splitlines()]
    for _ in range(chance.choice((0, 1, 1, 2, 4))):
        row = chance.randrange(len(rows))
        match chance.randrange(5):
            case 0:
                rows[row][chance.randrange(len(rows[row]))] = chance.choice((*ODD_NUMBERS, "", "x", "1;5", "04. Feb"))
            case 1:
                del rows[row]
            case 2:
                rows.insert(row, list(chance.choice(rows)))
            case 3:
                chance.shuffle(rows[row])
            case 4:
                rows[row] = rows[row][: chance.randrange(max(1, len(rows[row])))] or [""]
        if not rows:
            break
    delimiter, end = chance.choice(((",", "\r\n"), (";", "\n"), ("\t", "\n")))
    text = end.join(delimiter.join(row) for row in rows) + end
    data = text.encode(chance.choice(("utf-8", "utf-8", "utf-8-sig", "utf-16")))
    return mutated_bytes(data, chance) if chance.random() < 0.3 else data


def seams(chance: random.Random) -> bytes:
    """A seam file of the bundled wheel."""
    table: Table = {
        "seam": [
            {"after_plate": plate, "error_mm": round(chance.uniform(-3, 3), 2)}
            for plate in chance.sample(range(1, 7), chance.randint(1, 6))
        ]
    }
    return _wrong(chance, table) if chance.random() < 0.7 else toml_text(table).encode()


def _wrong(chance: random.Random, table: Table) -> bytes:
    changed = table
    for _ in range(chance.choice((1, 1, 2, 3))):
        changed = mutated_tree(changed, chance)
    text = toml_text(changed).encode()
    return mutated_bytes(text, chance) if chance.random() < 0.2 else text


def beats(chance: random.Random) -> bytes:
    """A list of beats, one a line, with odd ones among them."""
    lines, second = (["seconds,quarters"] if chance.random() < 0.3 else []), 0.0
    columns = chance.choice((1, 1, 2))
    for beat in range(chance.choice((0, 1, 2, 40))):
        second += chance.choice((0.5, 0.5, 0.5, 1e-9, 1e6, 0.0))
        cells = [f"{second}", f"{beat}"][:columns]
        if chance.random() < 0.05:
            cells[-1] = chance.choice((*ODD_NUMBERS, "", "1;5", '"'))
        lines.append(",".join(cells))
    text = "\n".join(lines).encode()
    return mutated_bytes(text, chance) if chance.random() < 0.2 else text


def pin_map(chance: random.Random) -> bytes:
    """A pin map of a bundled song, with something changed."""
    tree = _a_map()
    for _ in range(chance.choice((0, 1, 1, 2, 4))):
        tree = mutated_tree(tree, chance)
    text = json.dumps(tree).encode()
    return mutated_bytes(text, chance) if chance.random() < 0.2 else text


@cache
def _bundled(name: str) -> Table:
    return tomllib.loads((SONGS / name).read_text(encoding="utf-8"))


@cache
def _plate() -> bytes:
    from pegwright.config import load_wheel
    from pegwright.read.working_map import read_working_maps
    from pegwright.write.pin_map.edited import edited_map_csv

    on = load_wheel(WHEEL)
    return edited_map_csv(read_working_maps(MAP, on)[0], on)["plate-1.csv"]


@cache
def _a_map() -> Tree:
    from pegwright.ask.request import Request
    from pegwright.config import load_wheel
    from pegwright.song_pipeline.fitting import fit_file
    from pegwright.write.pin_map.json import pin_map_json

    song = fit_file(SONGS / "shrimpers-jig.mid", load_wheel(WHEEL), Request())
    return json.loads(pin_map_json(song, 0))
