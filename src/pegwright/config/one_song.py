"""One song of a song set: all that `pegwright fit` can be told of a song, by the same words, and its place in it."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from pathlib import Path

from pegwright.config.checks import Exact, Number, OneOf, Whole, Words
from pegwright.config.fields import Table
from pegwright.config.song_checks import Bars, Beats, NoteValue, Or, PathText, Ratio, YesNo
from pegwright.errors import PegwrightError
from pegwright.fit.best import SearchRange
from pegwright.fit.options import DEFAULT_PRIORITY, HIGHEST_PRIORITY, ChannelRule, FitOptions
from pegwright.request import AUTO, SEMITONES, Played, Request, search_of
from pegwright.units import us_per_quarter

TIMES = Whole(1, 1000, "times through")
SECONDS = Number(0, 86_400, "in seconds")
FIRST, LAST = "first", "last"
_QUARTERS_PER_WHOLE = 4
TURN_MOST = 64 * 4096  # steps, the most of any wheel
_AUTO = OneOf((AUTO,), "choice")
REACH = Exact(Fraction(0), Fraction(1, 4), "a share of a whole note such as 1/64")
_START = Exact(Fraction(1), Fraction(TURN_MOST), "a step of the turn")
_TICKS = Whole(-999_999_999, 999_999_999, "of the file's ticks")
TEMPO = Number(1, 1000, "quarter notes a minute")
MOVES = Whole(-127, 127, "in semitones")
DRUM_KEY = Whole(0, 127, "a General MIDI percussion key")
PRIORITY = Whole(DEFAULT_PRIORITY, HIGHEST_PRIORITY, "what a part weighs, others weighing 1")
_CHANNELS = Words('a pattern of channel names in quotes, such as "string*"')
NOTES_MOST = 1000
UNSAID = Request(search=SearchRange(every_steps=1))  # of a song of which only the file is named


@dataclass(frozen=True, slots=True)
class SetSong:
    """One song of a show, as its maker wants it.

    Args:
        score: the file.
        request: how it is to be fitted; where its start is free, it may begin on any step at which it loses nothing.
        times: how often it is played through.
        talk_s: seconds of talk and applause after it.
        place: `first` or `last` if it must open or close the show, else None.
    """

    score: Path
    request: Request = UNSAID
    times: int = 1
    talk_s: float = 0.0
    place: str | None = None


def read_song(table: Table, folder: Path, times: int, talk_s: float) -> SetSong:
    """The song of a table; faults are noted in the table.

    Args:
        table: one of the tables headed `[[song]]`.
        folder: what the paths in it start from.
        times: how often it is played if it does not say.
        talk_s: seconds of talk after it if it does not say.
    """
    song = SetSong(
        score=folder / table.value("score", PathText("a MIDI or MusicXML file"), "song.mid"),
        request=_read_request(table, folder),
        times=table.value("times", TIMES, 1, default=times),
        talk_s=table.value("talk_s", SECONDS, 0.0, default=talk_s),
        place=table.value("place", OneOf((FIRST, LAST), "place"), FIRST) if table.has("place") else None,
    )
    table.close()
    return song


def _read_request(table: Table, folder: Path) -> Request:
    """What can be asked of a song, in the order of `pegwright fit --help`."""
    bars = table.value("bars", Bars(), (1, 1)) if table.has("bars") else None
    start = table.value("start", Or(_AUTO, _START), AUTO, default=AUTO)
    transpose = table.value("transpose", Or(_AUTO, MOVES), 0, default=0)
    semitones = _searched(table, "semitones", Whole(1, 127, "in semitones"), SEMITONES, "transpose", transpose == AUTO)
    every = _searched(table, "every", Whole(1, TURN_MOST, "in steps"), 1, "start", start == AUTO)
    played = _read_played(table, folder)
    moves = table.table("move_parts", needed=False)
    fold_octaves = table.value("fold_octaves", YesNo(), False, default=False)
    ornaments = table.value("ornaments", NoteValue(), Fraction(1, 32)) if table.has("ornaments") else None
    swing = table.value("swing", Ratio(), Fraction(1)) if table.has("swing") else None
    thin = table.value("thin", Whole(1, NOTES_MOST, "notes that begin at once"), 1) if table.has("thin") else None
    tempo = us_per_quarter(table.value("tempo", TEMPO, 120.0)) if table.has("tempo") else None
    reach = _QUARTERS_PER_WHOLE * table.value("reach", REACH, Fraction(0)) if table.has("reach") else None
    offset = table.value("offset", Or(_AUTO, _TICKS), 0) if table.has("offset") else None
    priorities, channels = (table.table(key, needed=False) for key in ("priorities", "part_channels"))
    return Request(
        bars=bars,
        offset=offset,
        played=played,
        part_semitones=tuple((part, moves.value(part, MOVES, 0)) for part in moves.values),
        swing=swing,
        most_at_once=thin,
        options=FitOptions(
            transpose_semitones=transpose if isinstance(transpose, int) else 0,
            fold_octaves=fold_octaves,
            start_steps=start - 1 if isinstance(start, Fraction) else Fraction(0),  # people count steps from 1
            us_per_quarter=tempo,
            reach_quarters=reach,
            part_priorities=tuple((part, priorities.value(part, PRIORITY, 1)) for part in priorities.values),
            drum_keys=_read_drums(table.table("drums", needed=False)),
            part_channels=tuple((part, channels.value(part, _CHANNELS, "*")) for part in channels.values),
            channel_rule=_read_rule(table),
        ),
        search=search_of(semitones, every),
        ornaments=None if ornaments is None else _QUARTERS_PER_WHOLE * ornaments,
    )


def _searched(table: Table, key: str, check: Whole, default: int, searched: str, free: bool) -> int:
    """How far or how finely is searched for another key's value; 0 where that one is given."""
    value = table.value(key, check, default, default=default)
    if table.has(key) and not free and table.faults.none_in(table.at(searched)):
        table.fault(key, f'goes with {searched} = "{AUTO}"', "take it out, or leave the choice open")
    return value if free else 0


def _read_played(table: Table, folder: Path) -> Played | None:
    performed = table.value("performed", YesNo(), True, default=False)
    played = table.value("beats", Beats(folder), Played(), default=Played())
    if table.has("beats") and not performed:
        table.fault("beats", "goes with performed = true", "add that, or take it out")
    return played if performed else None


def _read_rule(table: Table) -> ChannelRule:
    rule = OneOf(tuple(ChannelRule), "channel rule")
    return ChannelRule(table.value("channel_rule", rule, ChannelRule.PREFER, default=ChannelRule.PREFER))


def _read_drums(table: Table) -> tuple[tuple[int, int], ...]:
    """Percussion keys, which are texts as keys of a table, with the keys to sound instead."""
    found: dict[int, int] = {}
    for text in table.values:
        instead = table.value(text, DRUM_KEY, 0)
        try:
            key = DRUM_KEY(int(text) if text.isascii() and text.isdigit() else text)
        except PegwrightError as fault:
            table.fault(text, fault.message, fault.hint)
            continue
        if key in found:
            table.fault(text, f"percussion key {key} is given twice", "keep one of the two")
        found[key] = instead
    return tuple(found.items())
