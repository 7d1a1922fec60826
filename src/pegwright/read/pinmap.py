"""A pin map read back from its JSON file, strictly: a pin in the wrong hole is a wrong note.

`schema/pin-map-3.json` says what the file may hold; those of version 1, and of version 2 for songs of several turns,
are read as well. The rest is checked here.
"""

from __future__ import annotations

import json
import tomllib
from collections.abc import Mapping, Sequence
from dataclasses import replace
from fractions import Fraction
from functools import lru_cache
from pathlib import Path
from typing import TYPE_CHECKING, Any, NoReturn

from pegwright.columns import Ints, frozen_ints, tuples
from pegwright.errors import InputError
from pegwright.findings import Finding
from pegwright.formats import NAME_FOLDER, PLATE_CSV, is_plate_csv, is_song_file, is_song_set, is_wheel_file, song_kind
from pegwright.frozen import frozen
from pegwright.layout import ChannelLayout, RowLayout, TypeLayout, WheelLayout
from pegwright.package_data import data_bytes
from pegwright.placement import PinMap, pin_map_sha256
from pegwright.plain_file import plain_bytes, reason_of
from pegwright.read.map_folder import MAP_NAME, folder_hint, is_tables_alone, maps_in, songs_hint
from pegwright.read.pinmap_wheel import SHOWN, MapWheel, PinNames, compare_wheel, early_steps, quoted, refuse
from pegwright.read.plain_pins import without_plain_pins
from pegwright.song import Mounted, PinnedBar, PinnedTurn, PinNote
from pegwright.units import listed, printed
from pegwright.wheel import Wheel

if TYPE_CHECKING:
    from jsonschema.protocols import Validator

FORMAT = "pegwright pin map"
VERSIONS = (1, 2, 3)
HAND_EDITS = "hand_edits"  # the key under which a map lists the edits that were made to it
_SNIFFED = 200  # bytes within which a JSON file has its first brace
MAX_BYTES = 64 * 2**20  # some 200 000 pins

_EDITED = "the file was changed after it was written: write the map again from the song"
_NAME_ONE = "name a pin map written by pegwright, such as the pin-map.json of a song's folder"
_JSON_TYPES = {list: "a list", str: "a text", bool: "true or false", int: "a number", float: "a number"}


@frozen(eq=False)
class MapFile:
    """What a file of a pin map holds.

    Args:
        data: its bytes.
        score_file: name of the file of its score.
        turn: the pins, with the note of each.
        running: for each turn of the song the letter of its set of plates; empty where the song takes one turn.
        letter: of this set; empty likewise.
        findings: what changed about the wheel since it was written that concerns no pin.
        kept_faults: rules of pins that edits broke on request, in words.
    """

    data: bytes
    score_file: str
    turn: PinnedTurn
    running: tuple[str, ...]
    letter: str
    findings: tuple[Finding, ...]
    kept_faults: tuple[str, ...] = ()

    @property
    def pins(self) -> PinMap:
        """The pins."""
        return self.turn.pins


def read_pin_map(source: Path | str | bytes, where: str = "", wheel: Wheel | None = None) -> PinMap:
    """The pins of a JSON pin map.

    Args:
        source: the file, or its bytes.
        where: its name in errors; the path if empty.
        wheel: when given, every pin is compared with it: number and name of channel, row and pin type, offset of the
            type, the place of the hole, the value of a step, and that the hole is not lost. Its file may have changed
            since the map was written, as long as no pin of the map is concerned; the map is then one of this wheel.

    Raises:
        InputError: it cannot be read, is not a pin map of this version, contradicts itself, or does
            not fit the wheel.

    >>> from pegwright import bundled_songs, bundled_wheel, fit_file, load_wheel, song_files
    >>> wheel = load_wheel(bundled_wheel())
    >>> fitted = fit_file(bundled_songs()[0], wheel)
    >>> read_pin_map(song_files(fitted)["pin-map.json"], wheel=wheel).pin_count == fitted.turns[0].pins.pin_count
    True
    """
    return read_map_file(source, where, wheel).pins


def read_map_file(source: Path | str | bytes, where: str = "", wheel: Wheel | None = None) -> MapFile:
    """All that a JSON pin map holds; see `read_pin_map`.

    Args:
        source: the file, or its bytes.
        where: its name in errors; the path if empty.
        wheel: when given, every pin is compared with it.

    Raises:
        InputError: as there.
    """
    source = Path(source) if isinstance(source, str) else source
    if isinstance(source, Path) and (source / MAP_NAME).is_file():
        source /= MAP_NAME
    where = where or (str(source) if isinstance(source, Path) else "pin map")
    data = source if isinstance(source, bytes) else _bytes(source, where)
    document = map_document(data, where)
    pins, pin_map = _listed_pins(document, where)
    findings: tuple[Finding, ...] = ()
    if wheel is not None:
        findings = compare_wheel(pin_map, map_wheel(document, pins), wheel, where)
        pin_map = replace(pin_map, wheel_name=wheel.name, wheel_sha256=wheel.sha256)
    notes, bars = tuple(_note(pin) for _, pin in pins), tuple(_bar(bar) for bar in document.get("bars", ()))
    mounted = tuple(_mounted(each) for each in document.get("mounted", ()))
    turn = PinnedTurn(pin_map, _start_steps(document), notes=notes, bars=bars, mounted=mounted)
    of_set = document.get("set", {"running_order": "", "letter": ""})
    running = tuple(of_set["running_order"].split())
    kept = tuple(document.get(HAND_EDITS, {}).get("findings", ()))
    return MapFile(data, document["score"]["file"], turn, running, of_set["letter"], findings, kept)


def map_findings(document: dict[str, Any], where: str, wheel: Wheel) -> tuple[Finding, ...]:
    """What changed about the wheel since a map was written that concerns no pin of it.

    Args:
        document: of the JSON file, as `map_document` reads it.
        where: its name in errors.
        wheel: the wheel as it is now.

    Raises:
        InputError: the map contradicts itself, or some of its pins are concerned by what changed.
    """
    pins, pin_map = _listed_pins(document, where)
    return compare_wheel(pin_map, map_wheel(document, pins), wheel, where)


def _listed_pins(document: dict[str, Any], where: str) -> tuple[list[tuple[int, Any]], PinMap]:
    """The pins of a document, each with its plate, in the order of a pin map; and their map, which was checked."""
    pins = [(plate["plate"], pin) for plate in document["plates"] for pin in plate["pins"]]
    pins.sort(key=lambda item: (item[1]["channel"], item[0], _steps(item[1]), item[1]["row"], item[1]["hole"]))
    pin_map = _pin_map(document, pins)
    _check_counts(document, pin_map, where)
    return pins, pin_map


def _start_steps(document: dict[str, Any]) -> Fraction:
    """Where on the turn the song begins."""
    fit = document["fit"]
    return (int(fit["start_plate"]) - 1) * int(document["wheel"]["steps_per_plate"]) + _steps_of(fit["start_step"]) - 1


def _bar(bar: dict[str, Any]) -> PinnedBar:
    return PinnedBar(bar["label"], _steps_of(bar["step"]) - 1, tuple(_steps_of(beat) - 1 for beat in bar["beats"]))


def _mounted(listed: dict[str, Any]) -> Mounted:
    return Mounted(int(listed["plate_set"]) - 1, tuple(int(plate) - 1 for plate in listed["plates"]))


def _note(pin: dict[str, Any]) -> PinNote:
    """The note of a pin; before version 3 the written pitch had the key of the only pitch."""
    midi, name = (
        pin.get(key, pin.get(older))
        for key, older in (("written_pitch_midi", "pitch_midi"), ("written_pitch", "pitch"))
    )
    others = (pin.get(key) for key in ("channel_pitch_midi", "channel_pitch", "deviation_ms"))
    return PinNote(pin["note"], pin["source"], midi, name, *others)


def map_wheel(document: Mapping[str, Any], pins: Sequence[tuple[int, Any]]) -> MapWheel:
    """What a map says of its wheel.

    Args:
        document: of the JSON file, as `map_document` reads it.
        pins: listed in it whose names are compared, each with its plate.
    """
    wheel, layout = document["wheel"], document.get("layout")
    plates, steps = int(wheel["plate_count"]), int(wheel["steps_per_plate"])
    return MapWheel(
        plates,
        steps,
        wheel["sha256"],
        layout_sha256=layout["sha256"] if layout else "",
        layout=_layout(plates, steps, layout) if layout else None,
        advance_steps=early_steps(document["fit"]),
        names=[PinNames(pin["channel_name"], pin["row_name"], pin["pin_type_name"], pin["step"]) for _, pin in pins],
    )


def _layout(plates: int, steps: int, listed: dict[str, Any]) -> WheelLayout:
    rows = [
        RowLayout(row["name"], tuple(map(Fraction, row["phases"].split())), int(row["period_steps"]))
        for row in listed["rows"]
    ]
    channels = [ChannelLayout(channel["name"], tuple(channel["rows"])) for channel in listed["channels"]]
    kinds = [
        TypeLayout(kind["name"], float(kind["offset_mm"]), float(kind["bridge_mm"])) for kind in listed["pin_types"]
    ]
    return WheelLayout(plates, steps, Fraction(listed["step_quarters"]), tuple(rows), tuple(channels), tuple(kinds))


def _document(data: bytes, where: str) -> dict[str, Any]:
    try:
        document = json.loads(data.decode("utf-8-sig"), parse_constant=_no_number)
    except (ValueError, RecursionError) as error:
        if is_plate_csv(data):
            raise InputError(PLATE_CSV, where=where, hint=NAME_FOLDER) from error
        raise InputError(_other_kind(data) or _json_fault(error), where=where, hint=_NAME_ONE) from error
    if not isinstance(document, dict):
        refuse(where, f"is JSON but holds {_JSON_TYPES.get(type(document), 'null')}, not an object", _NAME_ONE)
    return document


def is_pin_map(path: Path) -> bool:
    """Whether a path is a folder of pins, or a file that looks like JSON: its first character is a brace.

    A folder of pins has pin maps, or the CSV files of plates alone.
    """
    if path.is_dir():
        return bool(maps_in(path)) or is_tables_alone(path)
    try:
        return plain_bytes(path, _SNIFFED).removeprefix(b"\xef\xbb\xbf").lstrip().startswith(b"{")
    except (OSError, ValueError):
        return False  # the reader that it is given to says why


def _other_kind(data: bytes) -> str:
    """What a file is that is not JSON, so that a file named by mistake is recognised; empty if that is not known."""
    if song := song_kind(data):
        return f"this is a song ({song}), not a pin map"
    try:
        values = tomllib.loads(data.decode("utf-8-sig"))
    except (ValueError, RecursionError):
        return ""
    if not values:
        return "this file is empty, not a pin map"
    if is_wheel_file(values):
        return "this is a wheel file, not a pin map"
    if is_song_file(values):
        return "this is a song file, not a pin map"
    return "this is a song set, not a pin map" if is_song_set(values) else ""


def _json_fault(error: ValueError | RecursionError) -> str:
    """A fault of a file as JSON, without the words of Python's reader."""
    match error:
        case json.JSONDecodeError():
            return f"is not JSON: it cannot be read from line {error.lineno}, column {error.colno} on"
        case UnicodeDecodeError():
            return f"is not JSON: byte {printed(error.start)} is not text in UTF-8"
        case RecursionError():
            return "is not JSON that can be read: lists are inside one another too deeply"
        case _NoNumberError():
            return f"is not JSON: {error}"
    return "is not JSON that can be read: a number has too many digits"


def _bytes(path: Path, where: str) -> bytes:
    try:
        data = plain_bytes(path, MAX_BYTES + 1)
    except (OSError, ValueError) as error:  # ValueError: a path that no system can hold
        hint = folder_hint(path) or songs_hint(path) or _NAME_ONE
        raise InputError(f"cannot be read: {reason_of(error).lower()}", where=where, hint=hint) from error
    if len(data) > MAX_BYTES:
        refuse(where, f"is larger than {MAX_BYTES // 2**20} MiB, more than a pin map takes", "name a pin map")
    return data


class _NoNumberError(ValueError):
    """A word such as NaN, which Python would read as a number."""


def _no_number(text: str) -> NoReturn:
    raise _NoNumberError(f"{text} is not a number of JSON")


def _check_format(document: dict[str, Any], where: str) -> None:
    if document.get("format") != FORMAT:
        refuse(where, f"format is {quoted(document.get('format'))}, not {quoted(FORMAT)}", "name a pin map")
    version = document.get("version")
    if version not in VERSIONS or isinstance(version, bool):
        known = listed([str(each) for each in VERSIONS])
        refuse(where, f"version is {quoted(version)}; this pegwright reads versions {known}", "use a newer pegwright")


@lru_cache(maxsize=len(VERSIONS))
def _validator(version: int) -> Validator:
    from jsonschema import Draft202012Validator  # noqa: PLC0415  # only when a map is read

    return Draft202012Validator(json.loads(data_bytes(f"schema/pin-map-{version}.json")))


def _check_schema(document: dict[str, Any], where: str) -> None:
    version = int(document["version"])
    error = next(_validator(version).iter_errors(without_plain_pins(document, version)), None)
    if error is not None:
        message = error.message if len(error.message) <= 2 * SHOWN else error.message[: 2 * SHOWN] + "…"
        refuse(where, f"{error.json_path.removeprefix('$.')}: {' '.join(message.split())}", _EDITED)


@lru_cache(maxsize=4096)  # many pins are at one step of their plates
def _steps_of(text: str) -> Fraction:
    """A step as it is printed: `4`, `2.5`, `1 1/3`."""
    return sum((Fraction(part) for part in text.split()), Fraction(0))


def _steps(pin: dict[str, Any]) -> Fraction:
    return _steps_of(pin["step"])


def _pin_map(document: dict[str, Any], pins: list[tuple[int, Any]]) -> PinMap:
    def column(key: str) -> Ints:
        return frozen_ints([int(pin[key]) - 1 for _, pin in pins])  # int(), since JSON lets 3 be written as 3.0

    return PinMap(
        title=document["score"]["title"],
        wheel_name=document["wheel"]["name"],
        channel=column("channel"),
        plate=frozen_ints([int(plate) - 1 for plate, _ in pins]),
        row=column("row"),
        index=column("hole"),
        pin_type=column("pin_type"),
        note=frozen_ints([-1 if pin["note"] is None else int(pin["note"]) - 1 for _, pin in pins]),
        us_per_quarter=int(document["fit"]["us_per_quarter"]),
        score_sha256=document["score"]["sha256"],
        wheel_sha256=document["wheel"]["sha256"],
        plate_set=map_plate_set(document),
    )


def map_plate_set(document: Mapping[str, Any]) -> int | None:
    """The set of plates that a map was fitted to, 0-based; None for every set."""
    number = document["fit"].get("plate_set")
    return None if number is None else int(number) - 1


def _check_counts(document: dict[str, Any], pins: PinMap, where: str) -> None:
    plates = document["plates"]
    numbers = [plate["plate"] for plate in plates]
    if numbers != list(range(1, document["wheel"]["plate_count"] + 1)):
        refuse(where, f"plates are numbered {numbers}, not 1 to {document['wheel']['plate_count']}", _EDITED)
    for stated, counted, what in [
        (document["pin_count"], pins.pin_count, "the map"),
        *((plate["pin_count"], len(plate["pins"]), f"plate {plate['plate']}") for plate in plates),
    ]:
        if stated != counted:
            refuse(where, f"pin_count of {what} is {stated}, but {counted} pins are listed", _EDITED)
    places = set(tuples(pins.channel, pins.plate, pins.row, pins.index))
    if len(places) != pins.pin_count:
        refuse(where, f"{pins.pin_count} pins are in {len(places)} holes", _EDITED)
    found_sha256 = pin_map_sha256(pins)
    if document["map_sha256"] != found_sha256:
        refuse(where, f"map_sha256 is {document['map_sha256']}, but the pins listed have {found_sha256}", _EDITED)


def map_document(source: Path | bytes, where: str) -> dict[str, Any]:
    """What a JSON pin map says, by its schema, though its counts, its hash and its holes may contradict it.

    Args:
        source: the file, or its bytes.
        where: its name in errors.

    Raises:
        InputError: it cannot be read, or is not a pin map of a version that is read.
    """
    document = _document(source if isinstance(source, bytes) else _bytes(source, where), where)
    _check_format(document, where)
    _check_schema(document, where)
    return document
