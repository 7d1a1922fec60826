"""The stages of a show in order: from a song set to swaps that people can carry out.

Beside `pipeline.py`, which does one song; knows no terminal.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from itertools import pairwise
from pathlib import Path

import numpy as np

from pegwright.columns import Ints, frozen_ints
from pegwright.config.one_song import FIRST, LAST, UNSAID
from pegwright.config.song_set import SongSet
from pegwright.errors import InputError, UsageError
from pegwright.findings import Finding, Severity
from pegwright.pipeline import Fitted
from pegwright.placement import PinMap
from pegwright.read.pinmap import read_pin_map
from pegwright.show.count import needs_of
from pegwright.show.made import Played, Savings, Show, swapped
from pegwright.show.plan import Aim, Plan, plan_show
from pegwright.show.problem import Problem, ShowSong
from pegwright.show.remedy import remedies
from pegwright.show.swap import exchangeable, plate_table
from pegwright.show.told import late_findings, song_findings, stock_findings, work_findings
from pegwright.show.turns import turns_of
from pegwright.show.work import Works
from pegwright.show_pipeline.songs import MOST_STARTS, ReadySong, fit_at, ready_song
from pegwright.units import fraction_text, plural, printed
from pegwright.wheel import Wheel
from pegwright.write.asked import typed

EMPTY_TITLE = "empty plates"


@dataclass(frozen=True, slots=True, eq=False)
class PlannedShow:
    """A show and the fits behind it.

    Args:
        show: see there.
        fitted: for each of `Show.pinned` the fit of its pins; a pinning that comes twice at one start has one fit.
    """

    show: Show
    fitted: tuple[Fitted, ...]


def plan_song_set(song_set: SongSet, wheel: Wheel, say: Callable[[str], None] = lambda _: None) -> PlannedShow:
    """Plan a show.

    Songs that cannot be read or fitted are left out of the plan and told in `Show.skipped`.

    Args:
        song_set: the songs and how they are worked.
        wheel: what they are pinned for.
        say: is told what is being done.

    Raises:
        InputError: no song of the set can be planned, or a pin map that a set carries cannot be read.
        UsageError: a plate or set does not exist, or a carried map is for another wheel.
    """
    allowed = exchangeable(wheel, song_set.fixed_plates)
    carried = _carried(song_set, wheel)
    songs, skipped = _ready_songs(song_set, wheel, allowed, say)
    say("Planning the show")
    problem = _problem(songs, song_set, carried, wheel, allowed)
    plan = plan_show(problem, song_set.aim)
    given = plan if plan.aim == Aim.GIVEN else plan_show(problem, Aim.GIVEN)
    savings = Savings(_plain_work(problem, songs, allowed), given.during, plan.during)
    return _made(song_set, wheel, songs, skipped, problem, plan, savings, carried, say)


def _carried(song_set: SongSet, wheel: Wheel) -> tuple[PinMap, ...]:
    """What each set carries at the beginning."""
    count = song_set.plate_sets or wheel.plate_sets
    if len(song_set.carried) > count:
        told = f"{plural(len(song_set.carried), 'pin map')} for {plural(count, 'set')} of plates"
        raise UsageError(told, where="plates.carry", hint="give one for each set, or raise plate_sets")
    paths = [*song_set.carried, *[None] * (count - len(song_set.carried))]
    return tuple(empty_map(wheel) if path is None else carried_map(path, wheel) for path in paths)


def carried_map(path: Path, wheel: Wheel) -> PinMap:
    """A pin map that plates carry, checked against the wheel.

    Raises:
        InputError: it cannot be read, or its pins stand where the wheel has no holes.
        UsageError: it was made for another wheel file.
    """
    pins = read_pin_map(path, wheel=wheel)
    if pins.wheel_sha256 != wheel.sha256:
        raise UsageError(
            f"was made for a wheel file with hash {pins.wheel_sha256[:12]}, not {wheel.sha256[:12]} ({wheel.name})",
            where=str(path),
            hint="make the map again with this wheel file",
        )
    return pins


def empty_map(wheel: Wheel) -> PinMap:
    """The map of plates without pins."""
    none = frozen_ints([])
    return PinMap(EMPTY_TITLE, wheel.name, none, none, none, none, none, none, 500_000, "0" * 64, wheel.sha256)


def _ready_songs(
    song_set: SongSet, wheel: Wheel, allowed: Ints, say: Callable[[str], None]
) -> tuple[list[ReadySong], tuple[tuple[str, str], ...]]:
    ready, skipped = [], []
    for entry in song_set.songs:
        say(f"Fitting {entry.score.name}")
        try:
            ready.append(ready_song(entry, wheel, allowed))
        except (InputError, UsageError) as error:
            skipped.append((entry.score.name, str(error)))
    if not ready:
        raise InputError(
            f"none of its {plural(len(skipped), 'song')} can be planned, the first for this: {skipped[0][1]}",
            where=song_set.title,
        )
    return ready, tuple(skipped)


def _problem(
    songs: Sequence[ReadySong], song_set: SongSet, carried: Sequence[PinMap], wheel: Wheel, allowed: Ints
) -> Problem:
    tables = [pinning.tables for song in songs for pinning in song.pinnings]
    numbers = iter(range(len(tables)))
    placed = [song.entry.place for song in songs]
    show_songs = [
        ShowSong(
            turns_of(song.running, song.entry.times, len(carried)),
            song.time,
            tuple(next(numbers) for _ in song.pinnings),
        )
        for song in songs
    ]
    carried_tables = [plate_table(pins, wheel)[None].astype(np.uint8) for pins in carried]
    works = Works([*tables, *carried_tables], allowed)
    return Problem(
        tuple(show_songs),
        works,
        tuple(range(len(tables), len(tables) + len(carried))),
        song_set.work,
        first=placed.index(FIRST) if FIRST in placed else None,
        last=placed.index(LAST) if LAST in placed and (len(songs) > 1 or FIRST not in placed) else None,
    )


def _plain_work(problem: Problem, songs: Sequence[ReadySong], allowed: Ints) -> int:
    """Work in the order given, each song from its first start, every plate in its place."""
    works = Works([pinning.plain for song in songs for pinning in song.pinnings], allowed)
    chains = problem.chains(range(len(songs)))
    return sum(int(works.in_place(old, new)[0, 0]) for chain in chains for old, new in pairwise(chain.pinnings))


def _made(
    song_set: SongSet,
    wheel: Wheel,
    songs: Sequence[ReadySong],
    skipped: tuple[tuple[str, str], ...],
    problem: Problem,
    plan: Plan,
    savings: Savings,
    carried: tuple[PinMap, ...],
    say: Callable[[str], None],
) -> PlannedShow:
    """The plan in full: every pinning fitted for good, every swap worked out and carried out once."""
    fits = _Fits(wheel, songs)
    keys = [(plan.order[it.place], it.use, start) for it, start in zip(plan.table.carried, plan.starts, strict=True)]
    which = [problem.songs[song].turns.uses[use].pinning for song, use, _ in keys]
    fitted = []
    for (song, _, start), pinning in zip(keys, which, strict=True):
        say(f"Fitting {songs[song].title} for good")
        fitted.append(fits.at(song, pinning, start))
    done = swapped(
        plan,
        [each.pins for each in fitted],
        [songs[song].letter_of(pinning) for (song, _, _), pinning in zip(keys, which, strict=True)],
        [fits.start(song, pinning, start) for (song, _, start), pinning in zip(keys, which, strict=True)],
        carried,
        wheel,
        song_set.fixed_plates,
    )
    played = tuple(
        _played(place, songs[song], problem.songs[song], plan, fits, song) for place, song in enumerate(plan.order)
    )
    helped = remedies(problem, plan, [song.title for song in songs])
    calmer = [
        fits.start(song, pinning, start)
        for (song, _, _), pinning, start in zip(
            keys, which, helped.calmer.starts if helped.calmer else [], strict=False
        )
    ]
    needs = needs_of(done.most_at_once.tolist(), wheel, song_set.spares_percent)
    findings = (
        *late_findings(done.pinned, played, helped, calmer),
        *song_findings(played, problem.plate_sets, song_set.work, plan.table),
        *stock_findings(needs),
        *work_findings(song_set.finding_told),
        *_start_findings(songs),
        *_asked_findings(songs),
    )
    show = Show(
        title=song_set.title,
        wheel=wheel,
        songs=played,
        pinned=done.pinned,
        carried=carried,
        plan=plan,
        work=song_set.work,
        savings=savings,
        skipped=skipped,
        findings=findings,
        most_at_once=done.most_at_once,
        needs=needs,
        spares_percent=song_set.spares_percent,
        wear=done.wear,
    )
    return PlannedShow(show, tuple(fitted))


class _Fits:
    """The final fits of a show, each made once."""

    def __init__(self, wheel: Wheel, songs: Sequence[ReadySong]) -> None:
        self._wheel = wheel
        self._songs = songs
        self._made: dict[tuple[int, int, int], Fitted] = {}

    def start(self, song: int, pinning: int, start: int) -> Fraction:
        """Where on the turn a pinning begins, in steps, by the number of its start."""
        return self._songs[song].pinnings[pinning].starts[start]

    def at(self, song: int, pinning: int, start: int) -> Fitted:
        """The fit of a pinning at one of its starts."""
        key = (song, pinning, start)
        if key not in self._made:
            ready = self._songs[song]
            self._made[key] = fit_at(ready, ready.pinnings[pinning], self.start(*key), self._wheel)
        return self._made[key]

    def left_out(self, song: int, starts: dict[int, int]) -> int:
        """Notes without a pin in one pass; `starts` tells the start of each pinning."""
        running = self._songs[song].running
        return sum(self.at(song, pinning, starts[pinning]).placement.left_out_count for pinning in running)


def _played(place: int, ready: ReadySong, song: ShowSong, plan: Plan, fits: _Fits, number: int) -> Played:
    mine = [index for index, it in enumerate(plan.table.carried) if it.place == place]
    starts = {song.turns.uses[plan.table.carried[index].use].pinning: plan.starts[index] for index in mine}
    return Played(
        number=number,
        title=ready.title,
        file=ready.entry.score.name,
        times=ready.entry.times,
        running=ready.running,
        pinned=tuple(mine),
        swaps_within=song.turns.swaps_within,
        changes_within=song.turns.changes_within,
        start_s=plan.table.song_start_s[place],
        end_s=plan.table.song_end_s[place],
        talk_s=ready.entry.talk_s,
        notes=ready.edited.score.note_count,
        left_out=fits.left_out(number, starts),
        dropped=ready.edited.dropped,
        us_per_quarter=ready.us_per_quarter,
        transpose_semitones=ready.options.transpose_semitones,
    )


def _start_findings(songs: Sequence[ReadySong]) -> Iterator[Finding]:
    apart = max(song.thinned_steps for song in songs)
    if apart > 1:
        message = f"starts were tried {apart} steps apart, for the plates cannot all change places"
        yield Finding("starts-thinned", Severity.NOTE, "", message, f"at most {MOST_STARTS} starts of a song are tried")
    for song in songs:
        if song.entry.request.start_free and all(len(pinning.starts) == 1 for pinning in song.pinnings):
            start = fraction_text(printed(song.pinnings[0].starts[0]))
            message = f"only from step {start} does {song.title} lose as little as it can"
            yield Finding("one-start", Severity.NOTE, song.entry.score.name, message)


def _asked_findings(songs: Sequence[ReadySong]) -> Iterator[Finding]:
    """What the song set asks of songs beside the free start that all have."""
    for song in songs:
        asked = song.edited.request
        options = typed(replace(asked, search=None) if asked.search == UNSAID.search else asked)
        if options:
            yield Finding("asked", Severity.NOTE, song.entry.score.name, f"{song.title} is fitted with {options}")
