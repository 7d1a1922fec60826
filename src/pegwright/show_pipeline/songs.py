"""The songs of a show read, cut into turns, and pinned at every start at which they lose nothing."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace
from fractions import Fraction

import numpy as np

from pegwright.ask.options import FitOptions
from pegwright.ask.request import Request
from pegwright.columns import Ints
from pegwright.config.one_song import SetSong
from pegwright.edit.turns import length_turns
from pegwright.fit.pins import pins_of
from pegwright.fit.placing import place_song
from pegwright.frozen import frozen
from pegwright.placement import PinMap
from pegwright.running import running_order
from pegwright.score import Score
from pegwright.search.best import find_best
from pegwright.search.fits import SongFits
from pegwright.show.swap import plate_table
from pegwright.show.time import SongTime
from pegwright.show.work import PinTypes
from pegwright.song import EditedSong, FittedSong
from pegwright.song_pipeline.editing import edit_song
from pegwright.song_pipeline.fitting import check_start, fitted_song, song_fits, wheel_for
from pegwright.wheel import Wheel

MAX_STARTS = 192  # of one song, in a show of up to 12 songs
STARTS_OF_MANY = 64  # of one song, in a show of however many songs
_ALL_STARTS = 12 * MAX_STARTS


@frozen(eq=False)
class ReadySong:
    """One song of the set, read, with all that the plan may choose for it.

    Args:
        entry: what the set says of it.
        edited: the whole of it, as it is to be fitted.
        fits: of its turns, with all options but the choice.
        transpose_semitones: as it is fitted.
        starts: in steps from 0, one for the whole song; at each of them all turns together lose no more than at the
            best.
        pinnings: the pins of each different one at those starts, as `Works` takes them.
        plain: the same at the first start that may be requested, shape (1, plates, holes).
        running: which pinning each turn has.
        time: how long it takes.
        equal_starts: how many different starts are as good, `starts` or more.
        first_start: the first that may be requested, that of `plain`.
    """

    entry: SetSong
    edited: EditedSong
    fits: SongFits
    transpose_semitones: int
    starts: tuple[Fraction, ...]
    pinnings: tuple[PinTypes, ...]
    plain: tuple[PinTypes, ...]
    running: tuple[int, ...]
    time: SongTime
    equal_starts: int
    first_start: Fraction

    def lost_at(self, start_steps: Fraction) -> tuple[int, int]:
        """Notes left out at a start, and notes moved from their places."""
        placements = [fit.placement for fit in self.fits.at(self.transpose_semitones, start_steps)]
        moved = sum(int(np.count_nonzero(placement.deviation_ms)) for placement in placements)
        return sum(placement.left_out_count for placement in placements), moved

    @property
    def title(self) -> str:
        """Of the score."""
        return self.edited.score.title


def max_starts(songs: int) -> int:
    """The maximum number of starts that are tried of one song, by the number of songs of the show.

    Work grows with the square of the starts of all songs; more starts are thinned out.
    """
    return min(MAX_STARTS, max(STARTS_OF_MANY, _ALL_STARTS // songs))


def ready_song(entry: SetSong, wheel: Wheel, allowed: Ints, most_starts: int = MAX_STARTS) -> ReadySong:
    """Read a song, cut it into turns and pin it at every start at which it loses no more than at its best.

    Args:
        entry: what the set says of it.
        wheel: the wheel.
        allowed: which plates may change places, as `exchangeable` gives them.
        most_starts: the maximum number of starts to try.

    Raises:
        InputError: the file cannot be read as music.
        UsageError: what the set says of it cannot be met.
    """
    request = entry.request
    wheel = wheel_for(request, wheel)
    check_start(request, wheel, f"{entry.score.name}: start")
    edited = edit_song(entry.score, wheel, request)
    fits = song_fits(edited, wheel)
    options, best_starts = _chosen(edited.request, fits)
    different = _different(best_starts, wheel, allowed)
    starts = different[:: math.ceil(len(different) / most_starts)]
    first = Fraction(0) if request.start_free else options.start_steps
    tables = [_tables(turn, wheel, options, [first, *starts]) for turn in fits.turns]
    running = running_order([table[1:].tobytes() for table in tables])
    firsts = [running.index(pinning) for pinning in range(max(running) + 1)]
    us_per_quarter = fits.at(options.transpose_semitones, starts[0])[0].placement.us_per_quarter
    turn_s = float(wheel.turn_quarters) * us_per_quarter / 1e6
    last = min(Fraction(1), max(Fraction(0), length_turns(edited.score, wheel) - (len(fits.turns) - 1)))
    return ReadySong(
        entry,
        edited,
        fits,
        options.transpose_semitones,
        starts,
        tuple(tables[turn][1:] for turn in firsts),
        tuple(tables[turn][:1] for turn in firsts),
        running,
        SongTime(turn_s, float(last) * turn_s, entry.talk_s),
        len(different),
        first,
    )


def fit_at(song: ReadySong, start_steps: Fraction) -> FittedSong:
    """The fit of a song at one of its starts."""
    request = song.edited.request
    options = replace(request.options, transpose_semitones=song.transpose_semitones, start_steps=start_steps)
    edited = replace(song.edited, request=replace(request, options=options, search=None))
    return fitted_song(edited, song.fits, options, running=song.running)


def _chosen(request: Request, fits: SongFits) -> tuple[FitOptions, list[Fraction]]:
    """The options with the transposition that places the maximum over all turns, and all starts that are as good."""
    if request.search is None:
        return fits.options, [fits.options.start_steps]
    best = find_best(fits, request.search).ranked[0]
    return best.options, [Fraction(step) for step in best.equal_starts]


def _different(best_starts: Sequence[Fraction], wheel: Wheel, allowed: Ints) -> tuple[Fraction, ...]:
    """The starts that are different from each other.

    Where all plates can change places, starts a whole number of plates apart give the same plates in other places.
    """
    period = wheel.steps_per_plate if allowed.all() else wheel.turn_steps
    different: dict[Fraction, Fraction] = {}
    for start in best_starts:
        different.setdefault(start % period, start)
    return tuple(different.values())


def pin_types(pins: PinMap, wheel: Wheel) -> PinTypes:
    """The pins of a map as one start of a pinning, shape (plates, holes), as `Works` takes them."""
    return plate_table(pins, wheel).astype(np.uint8)


def _tables(turn: Score, wheel: Wheel, options: FitOptions, starts: Sequence[Fraction]) -> PinTypes:
    """The pins of a turn at every start."""
    placements = (place_song(turn, wheel, replace(options, start_steps=start)) for start in starts)
    return np.stack([pin_types(pins_of(turn, wheel, placement), wheel) for placement in placements])
