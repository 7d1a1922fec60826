"""The song set file: TOML to `SongSet`. The format is described in full in docs/song-set-file.md."""

from __future__ import annotations

from pathlib import Path

from pegwright.ask.table import BY_NAME
from pegwright.config.checks import NAME, decimal, one_of, whole
from pegwright.config.fields import Table, read_bytes, toml_table
from pegwright.config.file_kinds import FileKind
from pegwright.config.one_song import FIRST, LAST, SECONDS, TIMES, SetSong, read_song
from pegwright.config.song_checks import check_of, path_text
from pegwright.frozen import frozen
from pegwright.show.motion import TMU_S, PinFit, pull_tmu, set_tmu
from pegwright.show.plan import Aim
from pegwright.show.time import WorkTimes

MAX_SONGS = 200
MAX_SETS = 20
_SPARES = BY_NAME["spares"]
_PER_PIN = decimal(0, 600, "in seconds a pin")


@frozen()
class SongSet:
    """The songs of a show, and how its pins are set.

    Args:
        title: for headings.
        wheel: the wheel file.
        songs: in the order of the file.
        aim: what the playing order minimises, if anything.
        plate_sets: sets of plates to use; None takes what the wheel file says.
        spares_percent: spare pins of each type.
        work: how long pinning takes.
        finding_given: whether the file says how long a hole takes to find.
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
    finding_given: bool
    fixed_plates: tuple[int, ...]
    carried: tuple[Path | None, ...]


def load_song_set(path: Path) -> SongSet:
    """The song set of a file.

    Raises:
        UsageError: the file cannot be read.
        ConfigError: it has faults; all of them.
    """
    data = read_bytes(path, "name a song set file, or write one with `pegwright set --new`")
    return parse_song_set(data, str(path), path.parent)


def parse_song_set(data: bytes, where: str, folder: Path) -> SongSet:
    """The song set of a file's bytes.

    Args:
        data: TOML in UTF-8.
        where: the file's name, for faults.
        folder: paths in it are relative to this.

    Raises:
        ConfigError: the file has faults; all of them.
    """
    with toml_table(data, where, FileKind.SET) as top:
        return _read(top, folder)


def _read(top: Table, folder: Path) -> SongSet:
    title = top.value("title", NAME, "show")
    wheel = folder / top.value("wheel", path_text("a wheel file"), "wheel.toml")
    aim = Aim(top.value("order", one_of(tuple(Aim), "playing order"), Aim.GIVEN, default=Aim.GIVEN))
    sets = whole(1, MAX_SETS, "sets of plates")
    plate_sets = top.value("plate_sets", sets, 1) if top.has("plate_sets") else None
    spares = top.value(_SPARES.key, check_of(_SPARES.kind), 0.0, default=_SPARES.default)
    work, finding_given = _read_work(top.table("work", needed=False))
    fixed, carried = _read_plates(top.table("plates", needed=False), folder, plate_sets)
    defaults = top.table("song_defaults", needed=False)
    times = defaults.value("times", TIMES, 1, default=1)
    talk_s = defaults.value("talk_s", SECONDS, 0.0, default=0.0)
    defaults.close()
    tables = top.tables("song", MAX_SONGS, minimum=1)
    songs = tuple(read_song(table, folder, times, talk_s) for table in tables)
    _check_places(tables, songs, aim)
    top.close()
    return SongSet(title, wheel, songs, aim, plate_sets, spares, work, finding_given, fixed, carried)


def _read_work(table: Table) -> tuple[WorkTimes, bool]:
    fit = table.value("motion_times", one_of(tuple(PinFit), "fit of pins"), PinFit.CLOSE, default=PinFit.CLOSE)
    for key in ("pull_s", "set_s"):
        if table.has("motion_times") and table.has(key):
            table.fault(key, "is given together with motion_times", "keep your own measured seconds, or motion_times")
    work = WorkTimes(
        pull_s=table.value("pull_s", _PER_PIN, 0.0, default=pull_tmu() * TMU_S),
        set_s=table.value("set_s", _PER_PIN, 0.0, default=set_tmu(PinFit(fit)) * TMU_S),
        find_s=table.value("find_s", _PER_PIN, 0.0, default=0.0),
        rest_percent=table.value("rest_percent", decimal(0, 500, "in per cent of the work"), 0.0, default=0.0),
        people=table.value("people", whole(1, 100, "people who pin at the same time"), 1, default=1),
        change_s=table.value("change_s", SECONDS, 0.0, default=0.0),
    )
    finding_given = table.has("find_s")
    table.close()
    return work, finding_given


def _read_plates(table: Table, folder: Path, plate_sets: int | None) -> tuple[tuple[int, ...], tuple[Path | None, ...]]:
    fixed = table.several("fixed", whole(1, 64, "a plate"), 1, 64, minimum=0)
    maximum = MAX_SETS if plate_sets is None else plate_sets
    texts = table.items("carry", path_text('a pin map, or "" for empty plates', blank=True), "", maximum)
    table.close()
    return tuple(plate - 1 for plate in fixed), tuple(folder / text if text else None for text in texts)


def _check_places(tables: list[Table], songs: tuple[SetSong, ...], aim: Aim) -> None:
    """At most one song opens and one closes the show, and a given order agrees with that."""
    for place, stands in ((FIRST, 0), (LAST, len(songs) - 1)):
        bound = [number for number, song in enumerate(songs) if song.place == place]
        sound = [number for number in bound if tables[number].faults.none_in(tables[number].at("place"))]
        for number in sound[1:]:
            message = f'{tables[sound[0]].path} has place = "{place}" already'
            tables[number].fault("place", message, "keep one of the two")
        if aim == Aim.GIVEN and len(sound) == 1 and sound[0] != stands:
            message = f'"{place}" does not agree with its place in the file, where order = "given"'
            hint = f'move the song, or leave out place, or set order = "{Aim.LEAST_WORK}"'
            tables[sound[0]].fault("place", message, hint)
