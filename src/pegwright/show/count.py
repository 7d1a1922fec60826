"""The pin count: what a song, or several that stand in plates at once, need of each pin type."""

from __future__ import annotations

import math
from collections.abc import Sequence
from fractions import Fraction

import numpy as np

from pegwright.columns import Ints, frozen_ints
from pegwright.errors import UsageError
from pegwright.frozen import frozen
from pegwright.placement import PinMap
from pegwright.wheel import Wheel

MAX_SPARES_PERCENT = 100.0


@frozen()
class Need:
    """What is needed of one pin type.

    Args:
        name: of the pin type.
        pins: that stand in the plates.
        spares: in addition, rounded up to a whole pin.
        stock: how many the maker owns.
    """

    name: str
    pins: int
    spares: int
    stock: int

    @property
    def needed(self) -> int:
        """Pins and spares."""
        return self.pins + self.spares

    @property
    def to_buy(self) -> int:
        """What the stock lacks."""
        return max(0, self.needed - self.stock)


@frozen(eq=False)
class PinCount:
    """Pins by song, plate, channel and type; every sum is taken from the one column of counts.

    Args:
        wheel_name: for headings.
        songs: titles of the songs whose plates are pinned at once.
        channels: names of the wheel's channels.
        spares_percent: spares requested, of each type.
        pins: shape (songs, plates, channels, types).
        needs: one for each pin type, in wheel order.
    """

    wheel_name: str
    songs: tuple[str, ...]
    channels: tuple[str, ...]
    spares_percent: float
    pins: Ints
    needs: tuple[Need, ...]

    @property
    def by_song(self) -> Ints:
        """Shape (songs, types)."""
        return frozen_ints(self.pins.sum(axis=(1, 2)))

    @property
    def by_plate(self) -> Ints:
        """Shape (plates, types)."""
        return frozen_ints(self.pins.sum(axis=(0, 2)))

    @property
    def by_channel(self) -> Ints:
        """Shape (channels, types)."""
        return frozen_ints(self.pins.sum(axis=(0, 1)))

    @property
    def total(self) -> int:
        """Pins in all plates, without spares."""
        return int(self.pins.sum())

    @property
    def to_buy(self) -> int:
        """Pins that the stock lacks, of all types."""
        return sum(need.to_buy for need in self.needs)


def pin_count(maps: Sequence[PinMap], wheel: Wheel, spares_percent: float = 0.0) -> PinCount:
    """Count the pins of songs whose plates are pinned at once.

    Args:
        maps: one for each set of plates, all made for `wheel`.
        wheel: for names and stock.
        spares_percent: spares of each type, 0 to 100; taken as the decimal number that it is printed as,
            so that 10 per cent of 110 pins is 11.

    Raises:
        UsageError: the spares are out of their bounds.
    """
    shape = (wheel.plate_count, len(wheel.channels), len(wheel.pin_types))
    pins = np.zeros((len(maps), *shape), dtype=np.int64)
    for song, pin_map in enumerate(maps):
        places = np.ravel_multi_index((pin_map.plate, pin_map.channel, pin_map.pin_type), shape)
        pins[song] = np.bincount(places, minlength=pins[song].size).reshape(shape)
    return PinCount(
        wheel.name,
        tuple(pin_map.title for pin_map in maps),
        tuple(channel.name for channel in wheel.channels),
        float(spares_percent),
        frozen_ints(pins),
        needs_of(pins.sum(axis=(0, 1, 2)).tolist(), wheel, spares_percent),
    )


def needs_of(used: Sequence[int], wheel: Wheel, spares_percent: float) -> tuple[Need, ...]:
    """What is needed of each pin type.

    Args:
        used: pins of each type that stand in plates at once.
        wheel: for names and stock.
        spares_percent: as in `pin_count`.

    Raises:
        UsageError: the spares are out of their bounds.
    """
    if not 0 <= spares_percent <= MAX_SPARES_PERCENT:
        raise UsageError(
            f"{spares_percent:g} is not between 0 and {MAX_SPARES_PERCENT:g} per cent",
            where="spares",
            hint="give the spares as a share of each pin type, such as 5",
        )
    share = Fraction(str(spares_percent)) / 100
    return tuple(
        Need(pin_type.name, pins, math.ceil(pins * share), pin_type.stock)
        for pin_type, pins in zip(wheel.pin_types, used, strict=True)
    )
