"""The stages of a show in order: from a song set to swaps that people can carry out.

`song_pipeline` does the same for one song. This room knows no terminal.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import replace
from fractions import Fraction
from itertools import count, islice, pairwise

from pegwright.ask.text import typed
from pegwright.columns import Ints
from pegwright.config.one_song import FIRST, LAST, UNSAID
from pegwright.config.song_set import SongSet
from pegwright.errors import InputError, UsageError
from pegwright.findings import Finding, Severity
from pegwright.fit.placing import place_song
from pegwright.frozen import frozen
from pegwright.placement import PinMap
from pegwright.read.pinmap import MapFile
from pegwright.show.count import Need, needs_of
from pegwright.show.findings import late_findings, song_findings, stock_findings, work_findings
from pegwright.show.plan import Aim, Plan, plan_show
from pegwright.show.problem import Problem, ShowSong
from pegwright.show.remedy import remedies
from pegwright.show.show import Pinned, PlayedSong, Savings, Show, show_swaps
from pegwright.show.swap import empty_map, exchangeable
from pegwright.show.turns import turns_of
from pegwright.show.work import Works
from pegwright.show_pipeline.songs import ReadySong, fit_at, max_starts, pin_types, ready_song
from pegwright.song import FittedSong
from pegwright.song_pipeline.table_maps import map_file
from pegwright.tell.wheel import SET_HOLES_CODE, set_holes, turn_finding, unchecked
from pegwright.units import fraction_text, plural, printed
from pegwright.wheel import Wheel


@frozen(eq=False)
class PlannedShow:
    """A show and the fits behind it.

    Args:
        show: the show.
        fitted: for each of `Show.pinned` the fit of its song, which is made once, and the number of its pinning.
    """

    show: Show
    fitted: tuple[tuple[FittedSong, int], ...]


def plan_song_set(song_set: SongSet, wheel: Wheel, say: Callable[[str], None] = lambda _: None) -> PlannedShow:
    """Plan a show.

    Songs that cannot be read or fitted are left out of the plan and listed in `Show.skipped`.

    Args:
        song_set: the songs and how they are worked.
        wheel: what they are pinned for.
        say: called with a message for each step of the work.

    Raises:
        InputError: no song of the set can be planned, or a pin map that a set carries cannot be read or is for
            another wheel.
        UsageError: a plate or set does not exist.
    """
    allowed = exchangeable(wheel, song_set.fixed_plates)
    maps = _carried(song_set, wheel)
    carried = tuple(file.pins if file else empty_map(wheel) for file in maps)
    songs, skipped = _ready_songs(song_set, wheel, allowed, say)
    say("Planning the show")
    problem = _problem(songs, song_set, carried, wheel, allowed)
    plan = plan_show(problem, song_set.aim)
    given = plan if plan.aim == Aim.GIVEN else plan_show(problem, Aim.GIVEN)
    savings = _savings(problem, songs, allowed, given, plan)
    planned = _planned(song_set, wheel, songs, skipped, problem, plan, savings, carried, say)
    changed = tuple(finding for file in maps if file for finding in file.findings)
    return replace(planned, show=replace(planned.show, findings=(*planned.show.findings, *changed)))


def _carried(song_set: SongSet, wheel: Wheel) -> tuple[MapFile | None, ...]:
    """The pin map that each set carries at the beginning; None for empty plates."""
    count = song_set.plate_sets or wheel.plate_sets
    if len(song_set.carried) > count:
        message = f"{plural(len(song_set.carried), 'pin map')} for {plural(count, 'set')} of plates"
        raise UsageError(message, where="plates.carry", hint="give one for each set, or raise plate_sets")
    paths = [*song_set.carried, *[None] * (count - len(song_set.carried))]
    maps = tuple(None if path is None else map_file(path, wheel) for path in paths)
    for number, (path, file) in enumerate(zip(paths, maps, strict=True)):
        if file and file.pins.plate_set not in (None, number):
            message = (
                f"its pins are for set {printed(file.pins.plate_set)} of plates, and set {printed(number)} carries it"
            )
            raise UsageError(message, where=str(path), hint="put it at the place of its set in plates.carry")
    return maps


def _ready_songs(
    song_set: SongSet, wheel: Wheel, allowed: Ints, say: Callable[[str], None]
) -> tuple[list[ReadySong], tuple[tuple[str, str], ...]]:
    ready, skipped = [], []
    for entry in song_set.songs:
        if entry.request.plate_set is not None:
            hint = "take plate_set out, or pin the song by itself with `pegwright pin --plate-set`"
            raise UsageError("plate_set: in a show the plan chooses the sets", where=entry.score.name, hint=hint)
        say(f"Fitting {entry.score.name}")
        try:
            ready.append(ready_song(entry, wheel, allowed, max_starts(len(song_set.songs))))
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
    tables = [pinning for song in songs for pinning in song.pinnings]
    carried_tables = [pin_types(pins, wheel)[None] for pins in carried]
    numbers, sets = count(), len(carried)
    show_songs = [
        ShowSong(turns_of(song.running, song.entry.times, sets), song.time, tuple(islice(numbers, len(song.pinnings))))
        for song in songs
    ]
    placed = {song.entry.place: number for number, song in enumerate(songs)}
    return Problem(
        tuple(show_songs),
        Works([*tables, *carried_tables], allowed),
        tuple(islice(numbers, sets)),
        song_set.work,
        placed.get(FIRST),
        placed.get(LAST),
        equal_starts=tuple(song.equal_starts for song in songs),
    )


def _with_sets(
    songs: Sequence[ReadySong], song_set: SongSet, carried: Sequence[PinMap], wheel: Wheel
) -> Callable[[int], Problem]:
    """The same show with more sets of plates, the further ones empty at first."""
    allowed = exchangeable(wheel, song_set.fixed_plates)

    def with_sets(count: int) -> Problem:
        more = [empty_map(wheel)] * (count - len(carried))
        return _problem(songs, song_set, [*carried, *more], wheel, allowed)

    return with_sets


def _savings(problem: Problem, songs: Sequence[ReadySong], allowed: Ints, given: Plan, plan: Plan) -> Savings:
    """The plan against the songs as listed, and what those lose from the first step."""
    chains = problem.chains(range(len(songs)))
    pairs = [pair for chain in chains for pair in pairwise(chain.pinnings)]
    listed = sum(int(problem.works.in_place(old, new)[0, 0]) for old, new in pairs)
    lost = [song.lost_at(song.first_start) for song in songs]
    least = [song.lost_at(song.starts[0]) for song in songs]
    silent, moved = (sum(column) for column in zip(*lost, strict=True))
    least_silent, least_moved = (sum(column) for column in zip(*least, strict=True))
    plain = _plain_work(problem, songs, allowed)
    return Savings(plain, listed, given.during, plan.during, silent - least_silent, moved - least_moved)


def _plain_work(problem: Problem, songs: Sequence[ReadySong], allowed: Ints) -> int:
    """Work in the order given, each song from its first start, every plate in its place."""
    works = Works([pinning for song in songs for pinning in song.plain], allowed)
    chains = problem.chains(range(len(songs)))
    return sum(int(works.in_place(old, new)[0, 0]) for chain in chains for old, new in pairwise(chain.pinnings))


def _planned(
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
    """The plan in full: every song fitted at its start, every swap computed and carried out once."""
    stints = plan.table.carried
    pinned_songs = [plan.order[stint.place] for stint in stints]
    fitted = {}
    for song, start in dict(zip(pinned_songs, plan.starts, strict=True)).items():
        say(f"Fitting {songs[song].title} at its start")
        fitted[song] = fit_at(songs[song], songs[song].starts[start])
    pairs = [
        (fitted[song], problem.songs[song].turns.uses[stint.use].pinning)
        for song, stint in zip(pinned_songs, stints, strict=True)
    ]
    swaps = show_swaps(
        plan,
        [song.pinnings[pinning].pins for song, pinning in pairs],
        [song.letter(pinning) for song, pinning in pairs],
        [song.options.start_steps for song, _ in pairs],
        carried,
        wheel,
        song_set.fixed_plates,
    )
    played = [_played(place, problem, plan, songs, fitted) for place in range(len(plan.order))]
    needs = needs_of(swaps.max_at_once.tolist(), wheel, song_set.spares_percent)
    show = Show(
        title=song_set.title,
        wheel=wheel,
        songs=tuple(played),
        pinned=swaps.pinned,
        carried=carried,
        plan=plan,
        work=song_set.work,
        savings=savings,
        skipped=skipped,
        findings=tuple(_findings(song_set, songs, problem, plan, swaps.pinned, played, needs, carried, wheel))
        + tuple(_apart_findings(fitted.values()))
        + tuple(_set_findings(swaps.pinned, pairs)),
        max_at_once=swaps.max_at_once,
        needs=needs,
        spares_percent=song_set.spares_percent,
        wear=swaps.wear,
    )
    return PlannedShow(show, tuple(pairs))


def _played(
    place: int, problem: Problem, plan: Plan, songs: Sequence[ReadySong], fitted: Mapping[int, FittedSong]
) -> PlayedSong:
    number = plan.order[place]
    entry, song, turns = songs[number].entry, fitted[number], problem.songs[number].turns
    return PlayedSong(
        number=number,
        title=song.score.title,
        file=entry.score.name,
        times=entry.times,
        running=song.running,
        pinned=tuple(index for index, stint in enumerate(plan.table.carried) if stint.place == place),
        swaps_within=turns.swaps_within,
        changes_within=turns.changes_within,
        start_s=plan.table.song_start_s[place],
        end_s=plan.table.song_end_s[place],
        talk_s=entry.talk_s,
        count=song.count,
        us_per_quarter=song.turns[0].placement.us_per_quarter,
        transpose_semitones=song.options.transpose_semitones,
    )


def _findings(
    song_set: SongSet,
    songs: Sequence[ReadySong],
    problem: Problem,
    plan: Plan,
    pinned: Sequence[Pinned],
    played: Sequence[PlayedSong],
    needs: Sequence[Need],
    carried: Sequence[PinMap],
    wheel: Wheel,
) -> Iterator[Finding]:
    """All findings of a show, sets that are not ready in time first, with the remedies that help."""
    with_sets = _with_sets(songs, song_set, carried, wheel)
    helps = remedies(problem, plan, [song.title for song in songs], with_sets)
    calmer: list[Fraction] = []
    if helps.calmer:
        pairs = zip(plan.table.carried, helps.calmer.starts, strict=True)
        calmer = [songs[plan.order[stint.place]].starts[start] for stint, start in pairs]
    yield from late_findings(pinned, played, helps, calmer)
    yield from song_findings(played, problem.plate_sets, song_set.work, plan.table)
    yield from stock_findings(needs)
    yield from work_findings(song_set.finding_given)
    yield from _start_findings(songs)
    yield from _option_findings(songs)
    yield from _wheel(wheel, played)


def _wheel(wheel: Wheel, played: Sequence[PlayedSong]) -> Iterator[Finding]:
    """What was not checked for want of lengths, and songs at which the wheel would turn too fast or too slowly."""
    yield from unchecked(wheel)
    yield from set_holes(wheel)
    for song in played:
        yield from turn_finding(wheel, song.us_per_quarter, song.file)


def _start_findings(songs: Sequence[ReadySong]) -> Iterator[Finding]:
    for song in songs:
        if len(song.starts) < song.equal_starts:
            message = f"of {song.equal_starts:,} equally good starts of {song.title} {len(song.starts)} were tried"
            hint = f"in a show of {plural(len(songs), 'song')} at most {max_starts(len(songs))} of a song are"
            yield Finding("starts-thinned", Severity.NOTE, song.entry.score.name, message, hint)
        if song.entry.request.start_free and len(song.starts) == 1:
            start = fraction_text(printed(song.starts[0]))
            message = f"only from step {start} does {song.title} lose as little as it can"
            yield Finding("one-start", Severity.NOTE, song.entry.score.name, message)


def _apart_findings(songs: Iterable[FittedSong]) -> Iterator[Finding]:
    """Songs in which notes meant together do not sound so."""
    for song in songs:
        apart, channels = song.apart, song.wheel.channels
        lines = "; ".join(apart.words())
        if lines and apart.pairs:
            worst = apart.pairs[0]
            names = f"{channels[worst.later].name} after {channels[worst.first].name}"
            lines += f", {names} at {worst.where.in_words}"
        if lines:
            message = f"{song.score.title}, {lines}"
            yield Finding("apart", Severity.NOTE, song.score.file, message)


def _set_findings(pinned: Sequence[Pinned], pairs: Sequence[tuple[FittedSong, int]]) -> Iterator[Finding]:
    """Songs that would sound more notes with the holes of the set that the plan puts them on."""
    more: dict[tuple[str, str, int], int] = {}
    for one, (song, pinning) in zip(pinned, pairs, strict=True):
        if song.wheel.sets_differ:
            turn, own = song.pinnings[pinning], song.wheel.of_set(one.plate_set)
            placed = place_song(turn.score, own, song.options).sounding_count
            key = song.score.file, song.score.title, one.plate_set
            more[key] = more.get(key, 0) + placed - turn.placement.sounding_count
    for (file, title, number), notes in more.items():
        if notes > 0:
            message = f"{title} could sound {plural(notes, 'more note')} in holes that set {printed(number)} alone has"
            hint = f"`pegwright pin --plate-set {printed(number)}` uses them, for pins that stay on that set"
            yield Finding(SET_HOLES_CODE, Severity.NOTE, file, message, hint)


def _option_findings(songs: Sequence[ReadySong]) -> Iterator[Finding]:
    """The options of songs in the song set, except the free start that is the default."""
    for song in songs:
        request = song.edited.request
        options = typed(replace(request, search=None) if request.search == UNSAID.search else request)
        if options:
            yield Finding("asked", Severity.NOTE, song.entry.score.name, f"{song.title} is fitted with {options}")
