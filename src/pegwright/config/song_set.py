"""The song set file: TOML to `SongSet`. The format is told in full in docs/song-set-file.md."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from pathlib import Path

from pegwright.config.checks import Exact, Number, OneOf, Whole, Words
from pegwright.config.fields import BYTES_MOST, Table, TooManyFaultsError, parse_toml
from pegwright.config.song_checks import Bars, Or, PathText, YesNo
from pegwright.errors import ConfigError, PegwrightError, UsageError
from pegwright.fit.options import HIGHEST_PRIORITY, FitOptions
from pegwright.show.motion import TMU_S, PinFit, pull_tmu, set_tmu
from pegwright.show.plan import Aim
from pegwright.show.time import WorkTimes
from pegwright.units import us_per_quarter

SONGS_MOST = 200
SETS_MOST = 20
TIMES_MOST = 1000
PARTS_MOST = 64
AUTO = "auto"
FIRST, LAST = "first", "last"
SPARES_PERCENT = 5.0
_QUARTERS_PER_WHOLE = 4
_TURN_MOST = 64 * 4096  # steps, the most of any wheel

_SECONDS = Number(0, 86_400, "in seconds")
_PER_PIN = Number(0, 600, "in seconds a pin")
_AUTO = OneOf((AUTO,), "choice")
_REACH = Exact(Fraction(0), Fraction(1, 4), "a share of a whole note such as 1/64")
_START = Exact(Fraction(1), Fraction(_TURN_MOST), "a step of the turn")
_DRUM_KEY = Whole(0, 127, "a General MIDI percussion key")


@dataclass(frozen=True, slots=True)
class SetSong:
    """One song of a show, as its maker wants it.

    Args:
        score: the file.
        bars: first and last bar to take, as played, counted from 1; None takes the whole song.
        offset: `auto` takes out a constant lateness, a number so many of the file's ticks; None leaves onsets.
        options: for the fit; its transposition and start count only where they are not free.
        transpose_free: whether the best transposition is to be found.
        start_free: whether the song may begin on any step at which it loses nothing.
        times: how often it is played through.
        talk_s: seconds of talk and applause after it.
        place: `first` or `last` if it must open or close the show, else None.
    """

    score: Path
    bars: tuple[int, int] | None
    offset: int | str | None
    options: FitOptions
    transpose_free: bool
    start_free: bool
    times: int
    talk_s: float
    place: str | None


@dataclass(frozen=True, slots=True)
class SongSet:
    """The songs of a show, and how it is worked.

    Args:
        title: for headings.
        wheel: the wheel file.
        songs: in the order of the file.
        aim: what the playing order is chosen for.
        plate_sets: sets of plates to use; None takes what the wheel file says.
        spares_percent: spare pins of each type.
        work: how long pinning takes.
        finding_told: whether the file says how long a hole takes to find.
        fixed_plates: places (0-based) whose plates stay where they are.
        carried: for the first sets the pin map that each carries at the beginning; None for empty plates.
    """

    title: str
    wheel: Path
    songs: tuple[SetSong, ...]
    aim: Aim
    plate_sets: int | None
    spares_percent: float
    work: WorkTimes
    finding_told: bool
    fixed_plates: tuple[int, ...]
    carried: tuple[Path | None, ...]


def load_song_set(path: Path) -> SongSet:
    """The song set of a file.

    Raises:
        UsageError: the file cannot be read.
        ConfigError: it has faults; all of them.
    """
    try:
        with path.open("rb") as file:
            data = file.read(BYTES_MOST + 1)
    except (OSError, ValueError) as error:
        told = error.strerror if isinstance(error, OSError) and error.strerror else str(error)
        hint = "name a song set file; docs/song-set-file.md tells how to write one"
        raise UsageError(f"cannot be read: {told}", where=str(path), hint=hint) from error
    return parse_song_set(data, str(path), path.parent)


def parse_song_set(data: bytes, where: str, folder: Path) -> SongSet:
    """The song set of a file's bytes.

    Args:
        data: TOML in UTF-8.
        where: the file's name, for faults.
        folder: what the paths in it start from.

    Raises:
        ConfigError: the file has faults; all of them.
    """
    top, faults = parse_toml(data, where)
    try:
        made = _read(Table(top, "", faults), folder)
    except TooManyFaultsError:
        raise ConfigError(faults.found, where=where) from None
    if faults.found:
        raise ConfigError(faults.found, where=where)
    return made


def _read(top: Table, folder: Path) -> SongSet:
    title = top.value("title", Words(), "show")
    wheel = folder / top.value("wheel", PathText("a wheel file"), "wheel.toml")
    aim = Aim(top.value("order", OneOf(tuple(Aim), "playing order"), Aim.GIVEN, default=Aim.GIVEN))
    sets = Whole(1, SETS_MOST, "sets of plates")
    plate_sets = top.value("plate_sets", sets, 1) if top.has("plate_sets") else None
    spares = top.value("spares_percent", Number(0, 100, "in per cent"), 0.0, default=SPARES_PERCENT)
    work, finding_told = _read_work(top.table("work", needed=False))
    fixed, carried = _read_plates(top.table("plates", needed=False), folder, plate_sets)
    defaults = top.table("song_defaults", needed=False)
    times = defaults.value("times", _TIMES, 1, default=1)
    talk_s = defaults.value("talk_s", _SECONDS, 0.0, default=0.0)
    defaults.close()
    tables = top.tables("song", SONGS_MOST, least=1)
    songs = tuple(_read_song(table, folder, times, talk_s) for table in tables)
    _check_places(tables, songs, aim)
    top.close()
    return SongSet(title, wheel, songs, aim, plate_sets, spares, work, finding_told, fixed, carried)


_TIMES = Whole(1, TIMES_MOST, "times through")


def _read_work(table: Table) -> tuple[WorkTimes, bool]:
    fit = table.value("motion_times", OneOf(tuple(PinFit), "fit of pins"), PinFit.CLOSE, default=PinFit.CLOSE)
    for key in ("pull_s", "set_s"):
        if table.has("motion_times") and table.has(key):
            table.fault(key, "stands beside motion_times", "keep your own measured seconds, or motion_times")
    pull_s = table.value("pull_s", _PER_PIN, 0.0, default=pull_tmu() * TMU_S)
    set_s = table.value("set_s", _PER_PIN, 0.0, default=set_tmu(PinFit(fit)) * TMU_S)
    work = WorkTimes(
        pull_s,
        set_s,
        find_s=table.value("find_s", _PER_PIN, 0.0, default=0.0),
        rest_percent=table.value("rest_percent", Number(0, 500, "in per cent of the work"), 0.0, default=0.0),
        people=table.value("people", Whole(1, 100, "people who pin at the same time"), 1, default=1),
        change_s=table.value("change_s", _SECONDS, 0.0, default=0.0),
    )
    told = table.has("find_s")
    table.close()
    return work, told


def _read_plates(table: Table, folder: Path, plate_sets: int | None) -> tuple[tuple[int, ...], tuple[Path | None, ...]]:
    fixed = table.several("fixed", Whole(1, 64, "a plate"), 1, 64, least=0)
    most = SETS_MOST if plate_sets is None else plate_sets
    texts = table.items("carry", PathText('a pin map, or "" for empty plates', blank=True), "", most)
    table.close()
    return tuple(plate - 1 for plate in fixed), tuple(folder / text if text else None for text in texts)


def _read_song(table: Table, folder: Path, times: int, talk_s: float) -> SetSong:
    score = folder / table.value("score", PathText("a MIDI or MusicXML file"), "song.mid")
    bars = table.value("bars", Bars(), (1, 1)) if table.has("bars") else None
    ticks = Or(_AUTO, Whole(-999_999_999, 999_999_999, "of the file's ticks"))
    offset = table.value("offset", ticks, 0) if table.has("offset") else None
    transpose = table.value("transpose", Or(_AUTO, Whole(-127, 127, "in semitones")), 0, default=0)
    start = table.value("start", Or(_AUTO, _START), AUTO, default=AUTO)
    tempo = Number(1, 1000, "quarter notes a minute")
    song = SetSong(
        score=score,
        bars=bars,
        offset=offset,
        options=FitOptions(
            transpose_semitones=transpose if isinstance(transpose, int) else 0,
            fold_octaves=table.value("fold_octaves", YesNo(), False, default=False),
            start_steps=start - 1 if isinstance(start, Fraction) else Fraction(0),
            us_per_quarter=us_per_quarter(table.value("tempo", tempo, 120.0)) if table.has("tempo") else None,
            reach_quarters=(
                _QUARTERS_PER_WHOLE * table.value("reach", _REACH, Fraction(0)) if table.has("reach") else None
            ),
            part_priorities=_read_priorities(table.table("priorities", needed=False)),
            drum_keys=_read_drums(table.table("drums", needed=False)),
        ),
        transpose_free=transpose == AUTO,
        start_free=start == AUTO,
        times=table.value("times", _TIMES, 1, default=times),
        talk_s=table.value("talk_s", _SECONDS, 0.0, default=talk_s),
        place=table.value("place", OneOf((FIRST, LAST), "place"), FIRST) if table.has("place") else None,
    )
    table.close()
    return song


def _read_priorities(table: Table) -> tuple[tuple[str, int], ...]:
    check = Whole(1, HIGHEST_PRIORITY, "what a part weighs, others weighing 1")
    return tuple((part, table.value(part, check, 1)) for part in table.values)


def _read_drums(table: Table) -> tuple[tuple[int, int], ...]:
    """Percussion keys, which are texts as keys of a table, with the keys to sound instead."""
    found = []
    for text in table.values:
        instead = table.value(text, _DRUM_KEY, 0)
        try:
            found.append((_DRUM_KEY(int(text) if text.isascii() and text.isdigit() else text), instead))
        except PegwrightError as fault:
            table.fault(text, fault.message, fault.hint)
    return tuple(found)


def _check_places(tables: list[Table], songs: tuple[SetSong, ...], aim: Aim) -> None:
    """At most one song opens and one closes the show, and a given order agrees with that."""
    for place, stands in ((FIRST, 0), (LAST, len(songs) - 1)):
        bound = [number for number, song in enumerate(songs) if song.place == place]
        sound = [number for number in bound if tables[number].faults.none_in(tables[number].at("place"))]
        for number in sound[1:]:
            told = f'{tables[sound[0]].path} has place = "{place}" already'
            tables[number].fault("place", told, "keep one of the two")
        if aim == Aim.GIVEN and len(sound) == 1 and sound[0] != stands:
            told = f'"{place}" does not agree with where it stands in the file, where order = "given"'
            tables[sound[0]].fault(
                "place", told, f'move the song, or leave out place, or set order = "{Aim.LEAST_WORK}"'
            )
