"""A pin map read back from its JSON file, strictly: a pin in the wrong hole is a wrong note.

`schema/pin-map-3.json` says what the file may hold; those of version 1, and of version 2 for songs of several turns,
are read as well. The rest is checked here.
"""

from __future__ import annotations

import json
import tomllib
from collections.abc import Iterator
from fractions import Fraction
from functools import lru_cache
from pathlib import Path
from typing import TYPE_CHECKING, Any, NoReturn

from pegwright.columns import Ints, frozen_ints, tuples
from pegwright.errors import InputError
from pegwright.formats import is_song_set, is_wheel_file, song_kind
from pegwright.grid import Loss, hole_grid
from pegwright.package_data import data_bytes
from pegwright.placement import PinMap, pin_map_sha256
from pegwright.plain_file import plain_bytes
from pegwright.units import listed, printed
from pegwright.wheel import Wheel, place_name, step_name

if TYPE_CHECKING:
    from jsonschema.protocols import Validator

FORMAT = "pegwright pin map"
_MAP_NAME = "pin-map.json"
VERSIONS = (1, 2, 3)
MAX_BYTES = 64 * 2**20  # some 200 000 pins

_REFIT = "write the map again from the song with this wheel file"
_EDITED = "the file was changed after it was written: write the map again from the song"
_NAME_ONE = "name a pin map written by pegwright, such as the pin-map.json of a song's folder"
_JSON_TYPES = {list: "a list", str: "a text", bool: "true or false", int: "a number", float: "a number"}
_SHOWN = 80  # characters of a value that a message repeats


def read_pin_map(source: Path | str | bytes, where: str = "", wheel: Wheel | None = None) -> PinMap:
    """The pins of a JSON pin map.

    Args:
        source: the file, or its bytes.
        where: its name in errors; the path if empty.
        wheel: when given, every pin is compared with it: number and name of channel, row and pin
            type, the place of the hole, and that no seam takes it. Its file may have changed since
            the map was written (compare `wheel_sha256`), as long as all these are the same.

    Raises:
        InputError: it cannot be read, is not a pin map of this version, contradicts itself, or does
            not fit the wheel.

    >>> from pegwright import bundled_songs, bundled_wheel, fit_file, load_wheel, song_files
    >>> wheel = load_wheel(bundled_wheel())
    >>> fitted = fit_file(bundled_songs()[0], wheel)
    >>> read_pin_map(song_files(fitted)["pin-map.json"], wheel=wheel).pin_count == fitted.turns[0].pins.pin_count
    True
    """
    source = Path(source) if isinstance(source, str) else source
    where = where or (str(source) if isinstance(source, Path) else "pin map")
    document = _document(source, where)
    _check_format(document, where)
    _check_schema(document, where)
    pins = [(plate["plate"], pin) for plate in document["plates"] for pin in plate["pins"]]
    pins.sort(key=lambda item: (item[1]["channel"], item[0], _steps(item[1]), item[1]["row"], item[1]["hole"]))
    pin_map = _pin_map(document, pins)
    _check_counts(document, pin_map, where)
    if wheel is not None:
        check_holes(pin_map, wheel, where)
        _check_names(pins, pin_map, wheel, where)
    return pin_map


def check_holes(pins: PinMap, wheel: Wheel, where: str) -> None:
    """Check that every pin is in a hole that the wheel has.

    Args:
        pins: to check.
        wheel: whose holes they are in.
        where: the file, for errors.

    Raises:
        InputError: some are not; the message gives the first and the number of the others.
    """
    bounds = (
        ("channel", pins.channel, len(wheel.channels)),
        ("plate", pins.plate, wheel.plate_count),
        ("row", pins.row, len(wheel.rows)),
        ("pin type", pins.pin_type, len(wheel.pin_types)),
    )
    for what, column, bound in bounds:
        if pins.pin_count and int(column.max()) >= bound:
            _refuse(where, f"{what} {printed(int(column.max()))} of {bound} on wheel {_quoted(wheel.name)}", _REFIT)
    if faults := list(_hole_faults(pins, wheel)):
        more = f", and {len(faults) - 1} more like it" if len(faults) > 1 else ""
        _refuse(where, f"{faults[0]}{more}", _REFIT)


def _hole_faults(pins: PinMap, wheel: Wheel) -> Iterator[str]:
    lines = hole_grid(wheel).lines
    losses = {line: dict(zip(tuples(line.plate, line.row, line.index), line.loss, strict=True)) for line in set(lines)}
    for channel, plate, row, index in tuples(pins.channel, pins.plate, pins.row, pins.index):
        loss = losses[lines[channel]].get((plate, row, index))
        if loss == Loss.NONE:
            continue
        which = (
            f"channel {_quoted(wheel.channels[channel].name)}, {place_name(plate, wheel.rows[row], index)}: "
            f"hole {printed(index)} of the row"
        )
        yield f"{which} does not exist on this wheel" if loss is None else f"{which} is lost at a seam on this wheel"


def _check_names(listed: list[tuple[int, Any]], pins: PinMap, wheel: Wheel, where: str) -> None:
    columns = tuples(pins.channel, pins.plate, pins.row, pins.index, pins.pin_type)
    for (_, pin), (channel, plate, row_number, index, pin_type) in zip(listed, columns, strict=True):
        row = wheel.rows[row_number]
        hole = f"plate {printed(plate)} row {row.name}, hole {printed(index)} of the row"
        pairs = (
            (f"channel {printed(channel)}", pin["channel_name"], wheel.channels[channel].name),
            (f"row {printed(row_number)}", pin["row_name"], row.name),
            (f"pin type {printed(pin_type)}", pin["pin_type_name"], wheel.pin_types[pin_type].name),
            (hole, f"step {pin['step']}", f"step {step_name(row, index)}"),
        )
        for what, in_map, on_wheel in pairs:
            if in_map != on_wheel:
                _refuse(where, f"{what} is {_quoted(in_map)} in the map and {_quoted(on_wheel)} on the wheel", _REFIT)


def _document(source: Path | bytes, where: str) -> dict[str, Any]:
    try:
        data = source if isinstance(source, bytes) else _bytes(source, where)
    except OSError as error:
        hint = (isinstance(source, Path) and folder_hint(source)) or _NAME_ONE
        raise InputError(f"cannot be read: {(error.strerror or str(error)).lower()}", where=where, hint=hint) from error
    try:
        document = json.loads(data.decode("utf-8-sig"), parse_constant=_no_number)
    except (ValueError, RecursionError) as error:
        raise InputError(_other_kind(data) or _json_fault(error), where=where, hint=_NAME_ONE) from error
    if not isinstance(document, dict):
        _refuse(where, f"is JSON but holds {_JSON_TYPES.get(type(document), 'null')}, not an object", _NAME_ONE)
    return document


def folder_hint(path: Path) -> str:
    """Which pin map to name in place of a folder that has some, in itself or in one for each set of plates."""
    maps = [path / _MAP_NAME] if (path / _MAP_NAME).is_file() else sorted(path.glob(f"*/{_MAP_NAME}"))
    return f"name its pin map: {' or '.join(map(str, maps))}" if maps else ""


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
    data = plain_bytes(path, MAX_BYTES + 1)
    if len(data) > MAX_BYTES:
        _refuse(where, f"is larger than {MAX_BYTES // 2**20} MiB, more than a pin map takes", "name a pin map")
    return data


class _NoNumberError(ValueError):
    """A word such as NaN, which Python would read as a number."""


def _no_number(text: str) -> NoReturn:
    raise _NoNumberError(f"{text} is not a number of JSON")


def _check_format(document: dict[str, Any], where: str) -> None:
    if document.get("format") != FORMAT:
        _refuse(where, f"format is {_quoted(document.get('format'))}, not {_quoted(FORMAT)}", "name a pin map")
    version = document.get("version")
    if version not in VERSIONS or isinstance(version, bool):
        known = listed([str(each) for each in VERSIONS])
        _refuse(where, f"version is {_quoted(version)}; this pegwright reads versions {known}", "use a newer pegwright")


@lru_cache(maxsize=len(VERSIONS))
def _validator(version: int) -> Validator:
    from jsonschema import Draft202012Validator  # noqa: PLC0415  # only when a map is read

    return Draft202012Validator(json.loads(data_bytes(f"schema/pin-map-{version}.json")))


def _check_schema(document: dict[str, Any], where: str) -> None:
    error = next(_validator(int(document["version"])).iter_errors(document), None)
    if error is not None:
        message = error.message if len(error.message) <= 2 * _SHOWN else error.message[: 2 * _SHOWN] + "…"
        _refuse(where, f"{error.json_path.removeprefix('$.')}: {' '.join(message.split())}", _EDITED)


def _steps(pin: dict[str, Any]) -> Fraction:
    return sum((Fraction(part) for part in pin["step"].split()), Fraction(0))


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
    )


def _check_counts(document: dict[str, Any], pins: PinMap, where: str) -> None:
    plates = document["plates"]
    numbers = [plate["plate"] for plate in plates]
    if numbers != list(range(1, document["wheel"]["plate_count"] + 1)):
        _refuse(where, f"plates are numbered {numbers}, not 1 to {document['wheel']['plate_count']}", _EDITED)
    for stated, counted, what in [
        (document["pin_count"], pins.pin_count, "the map"),
        *((plate["pin_count"], len(plate["pins"]), f"plate {plate['plate']}") for plate in plates),
    ]:
        if stated != counted:
            _refuse(where, f"pin_count of {what} is {stated}, but {counted} pins are listed", _EDITED)
    places = set(tuples(pins.channel, pins.plate, pins.row, pins.index))
    if len(places) != pins.pin_count:
        _refuse(where, f"{pins.pin_count} pins are in {len(places)} holes", _EDITED)
    found_sha256 = pin_map_sha256(pins)
    if document["map_sha256"] != found_sha256:
        _refuse(where, f"map_sha256 is {document['map_sha256']}, but the pins listed have {found_sha256}", _EDITED)


def _quoted(value: object) -> str:
    text = repr(value)
    return text if len(text) <= _SHOWN else text[:_SHOWN] + "…"


def _refuse(where: str, message: str, hint: str) -> NoReturn:
    raise InputError(message, where=where, hint=hint)
