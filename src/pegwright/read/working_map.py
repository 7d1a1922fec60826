"""Pin maps read to be worked on: found in a folder or as a file, with the notes of their pins and their edits."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace
from pathlib import Path
from typing import Any

from pegwright.correct.faults import FILE, MapFault
from pegwright.correct.names import with_letter
from pegwright.correct.values import NOTE_KEYS, Cells, HandPin, Hole, ListedEdit, WorkingMap, ordered
from pegwright.errors import InputError
from pegwright.findings import Finding
from pegwright.read.map_folder import MAP_NAME, maps_in, songs_hint
from pegwright.read.pinmap import HAND_EDITS, map_document, map_findings, map_wheel
from pegwright.read.pinmap_wheel import WHEEL_CHANGED, changes_of_all, early_changes, early_steps
from pegwright.units import plural, printed
from pegwright.wheel import Wheel, step_name

_OLD_KEYS = {"written_pitch_midi": "pitch_midi", "written_pitch": "pitch"}  # of versions 1 and 2


def map_paths(path: Path) -> tuple[Path, ...]:
    """The JSON maps that a path names: the file itself, or those of a folder that `pin` wrote, in the order of turns.

    Raises:
        InputError: a folder has none.
    """
    if not path.is_dir():
        return (path,)
    paths = maps_in(path)
    if not paths:
        hint = songs_hint(path) or "name a folder that `pin` wrote"
        raise InputError(f"there is no {MAP_NAME} in this folder", where=str(path), hint=hint)
    return tuple(paths)


def _check_one_song(maps: Sequence[WorkingMap], path: Path) -> None:
    """Refuse a folder with maps that are not each a set of plates of one song."""
    if len(maps) < 2:
        return
    scores = {each.columns().score_sha256 for each in maps}
    if len({each.letter for each in maps} - {""}) < len(maps) or len(scores) > 1:
        message = f"the {len(maps)} pin maps in its folders are not sets of plates of one song"
        raise InputError(message, where=str(path), hint=songs_hint(path))


def read_working_maps(path: Path, wheel: Wheel) -> tuple[WorkingMap, ...]:
    """The maps of a song, strictly: their pins are in holes that the wheel has, as `read_pin_map` requires.

    Args:
        path: a JSON map, or a folder that `pin` wrote.
        wheel: that they are for.

    Raises:
        InputError: one cannot be read, was changed after it was written, or is for another wheel.
    """
    maps = tuple(read_working_map(each, str(each), wheel) for each in map_paths(path))
    _check_one_song(maps, path)
    return maps


def read_working_map(source: Path | bytes, where: str, wheel: Wheel) -> WorkingMap:
    """One map, strictly.

    Args:
        source: the file, or its bytes.
        where: its name in errors.
        wheel: that it is for.

    Raises:
        InputError: as `read_working_maps`.
    """
    document = map_document(source, where)
    findings = map_findings(document, where, wheel)
    return replace(working_map(document, where, wheel), wheel_findings=findings)


def inspected_maps(path: Path, wheel: Wheel) -> tuple[tuple[WorkingMap, ...], tuple[MapFault, ...]]:
    """The maps of a song as they are, with what contradicts itself or the wheel in their files.

    Args:
        path: a JSON map, or a folder that `pin` wrote.
        wheel: that they are for.

    Raises:
        InputError: one cannot be read, or is not a pin map.
    """
    maps, faults = [], []
    for each in map_paths(path):
        document = map_document(each, str(each))
        working = working_map(document, str(each), wheel)
        words = (
            *_contradictions(document, working),
            *changes_of_all(map_wheel(document, ()), wheel, [pin.pin_type for pin in working.pins]),
            *_other_names(document, wheel),
            *_early(document, working, wheel),
        )
        maps.append(replace(working, wheel_findings=_findings(document, working, wheel)))
        faults += [MapFault(working.letter, FILE, (), f"{each.name}: {fault}") for fault in words]
    _check_one_song(maps, path)
    return tuple(maps), tuple(faults)


def working_map(document: Mapping[str, Any], where: str, wheel: Wheel) -> WorkingMap:
    """The map of a document that its schema allows.

    Args:
        document: of the JSON file.
        where: the file, for messages.
        wheel: by which the pins are put in order.
    """
    hand = document.get(HAND_EDITS) or {}
    kept = {key: value for key, value in document.items() if key not in {"plates", HAND_EDITS}}
    pins = [_pin(plate["plate"], pin) for plate in document["plates"] for pin in plate["pins"]]
    return WorkingMap(
        where=where,
        letter=document.get("set", {}).get("letter", ""),
        document=kept,
        pins=ordered(pins, wheel),
        us_per_quarter=int(document["fit"]["us_per_quarter"]),
        edits=tuple(ListedEdit(each["edit"], _cells(each.get("note") or {})) for each in hand.get("edits", ())),
        parent_sha256=hand.get("parent_sha256", ""),
        fitted_sha256=hand.get("fitted_sha256", ""),
        findings=tuple(hand.get("findings", ())),
    )


def _pin(plate: int, pin: Mapping[str, Any]) -> HandPin:
    channel, row, number = pin["channel"], pin["row"], pin["hole"]
    hole = Hole(int(channel) - 1, int(plate) - 1, int(row) - 1, int(number) - 1)
    return HandPin(hole, int(pin["pin_type"]) - 1, _cells(pin))


def _cells(pin: Mapping[str, Any]) -> Cells:
    if "written_pitch" in pin:
        return tuple([pin.get(key) for key in NOTE_KEYS])
    return tuple([pin.get(_OLD_KEYS.get(key, key)) for key in NOTE_KEYS])


def _findings(document: dict[str, Any], working: WorkingMap, wheel: Wheel) -> tuple[Finding, ...]:
    """What changed about the wheel that is not a fault; none of a map that has faults of its file."""
    try:
        findings = map_findings(document, working.where, wheel)
    except InputError:  # its faults are listed one by one
        return ()
    return tuple(finding for finding in findings if finding.code == WHEEL_CHANGED)


def _contradictions(document: Mapping[str, Any], working: WorkingMap) -> Iterator[str]:
    """What in a file does not fit together, as after a change by hand."""
    plates = document["plates"]
    count = document["wheel"]["plate_count"]
    numbers = [plate["plate"] for plate in plates]
    if numbers != list(range(1, count + 1)):
        yield f"plates are numbered {numbers}, not 1 to {count}"
    stated = [(document["pin_count"], len(working.pins), "the map")]
    stated += [(plate["pin_count"], len(plate["pins"]), f"plate {plate['plate']}") for plate in plates]
    for number, counted, what in stated:
        if number != counted:
            yield f"pin_count of {what} is {number}, but {plural(counted, 'pin is', 'pins are')} listed"
    if document["map_sha256"] != working.sha256:
        yield f"map_sha256 is {document['map_sha256'][:12]}…, but the pins listed have {working.sha256[:12]}…"


def _other_names(document: Mapping[str, Any], wheel: Wheel) -> Iterator[str]:
    """Numbers that mean another channel, row, pin type or step on the wheel than in a file."""
    names: dict[tuple[str, int], dict[str, None]] = {}
    steps: dict[tuple[int, int], dict[str, None]] = {}
    for plate in document["plates"]:
        for pin in plate["pins"]:
            for what in ("channel", "row", "pin_type"):
                names.setdefault((what, int(pin[what]) - 1), {})[pin[f"{what}_name"]] = None
            steps.setdefault((int(pin["row"]) - 1, int(pin["hole"]) - 1), {})[pin["step"]] = None
    of_wheel = {
        "channel": [channel.name for channel in wheel.channels],
        "row": [row.name for row in wheel.rows],
        "pin_type": [kind.name for kind in wheel.pin_types],
    }
    for (what, number), seen in sorted(names.items()):
        there = of_wheel[what]
        for name in seen:
            if number < len(there) and name != there[number]:
                thing = what.replace("_", " ")
                yield f"{thing} {printed(number)} is {name!r} in the map and {there[number]!r} on the wheel"
    for (row, number), seen in sorted(steps.items()):
        for step in seen:
            if row < len(wheel.rows) and step != (right := step_name(wheel.rows[row], number)):
                hole = f"row {wheel.rows[row].name}, hole {printed(number)}"
                yield f"{hole} is step {step} in the map and {right} on the wheel"


def _early(document: Mapping[str, Any], working: WorkingMap, wheel: Wheel) -> Iterator[str]:
    """Channels that the map sets early by other steps than the wheel does."""
    channels = [pin.hole.channel for pin in working.pins if pin.hole.channel < len(wheel.channels)]
    yield from early_changes(channels, early_steps(document["fit"]), wheel)


def named(working: WorkingMap) -> str:
    """A map in a message: its file, with the letter of its set."""
    return with_letter(working.letter, working.where)
