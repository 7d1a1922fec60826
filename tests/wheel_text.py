"""A whole wheel file, table by table as makers write one, for tests that paste lines into it."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import asdict

from pegwright.units import printed
from pegwright.wheel import Wheel
from toml_text import toml_text

Values = Mapping[str, object]
OPTIONAL = {
    "pitches",
    "drum_keys",
    "hold_mm",
    "fall_mm",
    "fall_start_mm_per_s",
    "reader_mm",
    "advance_steps",
}  # keys of a channel that are left out where it has none


def wheel_text(wheel: Wheel) -> str:
    """Every value written out; reading it gives the wheel again, but for the hash of the file."""
    return "\n".join(f"{head}\n{_lines(values)}" if head else _lines(values) for head, values in _tables(wheel))


def _tables(wheel: Wheel) -> Iterator[tuple[str, Values]]:
    yield "", {"name": wheel.name}
    yield (
        "[wheel]",
        {
            "plates": wheel.plate_count,
            "steps_per_plate": wheel.steps_per_plate,
            "step": str(wheel.step_quarters / 4),
            "plate_sets": wheel.plate_sets,
            "repin_within_song": wheel.repinned_within_song,
            "reach": str(wheel.reach_quarters / 4),
        },
    )
    lengths = asdict(wheel.geometry)
    yield "[geometry]", {key: value for key, value in lengths.items() if key.endswith("_mm")}
    for row in wheel.rows:
        yield "[[row]]", asdict(row) | {"phases": [str(phase) for phase in row.phases]}
    for channel in wheel.channels:
        values = asdict(channel) | {"kind": str(channel.kind), "advance_steps": float(channel.advance_steps)}
        yield "[[channel]]", {key: value for key, value in values.items() if value or key not in OPTIONAL}
    for pin_type in wheel.pin_types:
        yield "[[pin_type]]", asdict(pin_type) | {"collar": str(pin_type.collar)}
    for lost in wheel.lost:
        values = {"row": lost.row, "hole": printed(lost.index), "channel": lost.channel}
        values["plate"] = None if lost.plate is None else printed(lost.plate)
        yield "[[lost]]", {key: value for key, value in values.items() if value is not None}
    for limit in wheel.strike_limits:
        yield "[[limit]]", asdict(limit)


def _lines(values: Values) -> str:
    """One line a key, the keys without quotes."""
    plain = {key: list(value) if isinstance(value, tuple) else value for key, value in values.items()}
    return "".join(key + toml_text({key: value}).removeprefix(f'"{key}"') for key, value in plain.items())
