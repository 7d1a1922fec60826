"""The table of all options of a song.

From it come the options of the command line (`cli/options.py`), the keys of a song set (`config/one_song.py`), the
request that they make (`convert.py`), and the request as it is typed and as JSON (`text.py`).
"""

from __future__ import annotations

from collections.abc import Callable
from enum import StrEnum
from fractions import Fraction
from typing import Any, TypeAlias

from pegwright.ask import kinds
from pegwright.ask.options import MAX_REACH_QUARTERS, ChannelRule
from pegwright.ask.request import AUTO, MAX_BEAT, METRES, SEMITONES, SUBDIVISIONS, Played
from pegwright.frozen import frozen
from pegwright.units import printed, quarters_per_minute, us_per_quarter

Value: TypeAlias = Any  # of the type that belongs to the option's kind


class Topic(StrEnum):
    """What an option is about."""

    SONG = "song"  # what is taken of the music, and how it is changed
    PLAYED = "played input"
    PLACING = "placing"
    OUTPUT = "output"


@frozen()
class Storage:
    """The conversions from a written value to that of a request, and back."""

    stored: Callable[[Value], Value] = lambda value: value
    written: Callable[[Value], Value] = lambda value: value


AS_WRITTEN = Storage()
AS_QUARTERS = Storage(lambda whole_notes: whole_notes * 4, lambda quarters: quarters / 4)
FROM_0 = Storage(lambda step: step - 1, printed)  # users count from 1
AS_MICROSECONDS = Storage(us_per_quarter, quarters_per_minute)
AS_RULE = Storage(ChannelRule, str)
AS_PLAYED = Storage(lambda _: Played(), lambda _: True)
TO_TAKE_OUT = Storage(written=lambda ticks: ticks or None)


@frozen()
class Option:
    """One option of a song.

    Args:
        typed: on the command line.
        group: what it is about.
        target: the field of a request that holds it, or of the request's `options` or `search`.
        kind: of its value.
        help: what it does.
        storage: the conversions to that field's value and back.
        default: the value where it is not given; None leaves the field unchanged.
        in_set: the same in a song set, where that differs.
        set_key: its key in a song set; empty for the name typed.
        metavar: stands for the value in `--help`.
        goes_with: the option that this one requires: given, or `auto` where it can be.
        json: its name among the edits in JSON, or none.
        json_if_asked: whether JSON has it only where it was asked.
    """

    typed: str
    group: Topic
    target: str
    kind: kinds.OptionKind
    help: str
    storage: Storage = AS_WRITTEN
    default: Value = None
    in_set: Value = None
    set_key: str = ""
    metavar: str | None = None
    goes_with: str = ""
    json: str = ""
    json_if_asked: bool = False

    @property
    def name(self) -> str:
        """As a parameter."""
        return self.typed.removeprefix("--").replace("-", "_")

    @property
    def key(self) -> str:
        """In a song set."""
        return self.set_key or self.name


def opens(value: Value) -> bool:
    """Whether this value of an option allows those that require it."""
    return value is True or value == AUTO


SONG, PLAYED, PLACING, OUTPUT = Topic
MAX_TURN_STEPS = 64 * 4096  # steps of any wheel
TEMPO = kinds.Number(1.0, 1000.0, "quarter notes a minute")
OUTSIDE, INSIDE = "outside", "inside"
PAPERS = ("a4", "a3", "letter", "legal", "tabloid")
_REACH = kinds.Exact(Fraction(0), AS_QUARTERS.written(MAX_REACH_QUARTERS), "a share of a whole note such as 1/64")
_CHANNELS = kinds.TextLine('a pattern of channel names in quotes, such as "string*"')
_RULE = kinds.WordChoice(tuple(rule.value for rule in ChannelRule), "channel rule")

# In the order of --help; laid out by hand, one option after another.
# fmt: off
OPTIONS = (
    Option("--bars", SONG, "bars", kinds.BarRange(), json="bars", help="Take only these bars, as played: 5-16."),
    Option("--only", SONG, "only", kinds.NamePatterns(), metavar="PART", json="only", json_if_asked=True,
           help="Take only parts of this name or pattern: Melody, 'String*'; can be given again."),
    Option("--without", SONG, "without", kinds.NamePatterns(), metavar="PART", json="without", json_if_asked=True,
           help="Leave out parts of this name or pattern; can be given again."),
    Option("--skip-silence", SONG, "skip_silence", kinds.Flag(), json="skip_silence", json_if_asked=True,
           help="Leave out the bars of silence before the first note."),
    Option("--turns", SONG, "turns", kinds.Whole(1, 1000, "turns of the song to take"),
           metavar="N", json="turns", json_if_asked=True,
           help="Take no more than the first N turns of the song; notes after them are left out."),
    Option("--whole-bars", SONG, "whole_bars", kinds.Flag(), json="whole_bars", json_if_asked=True,
           help="Cut a song of several turns at whole bars, as many as a turn holds."),
    Option("--start", PLACING, "options.start_steps",
           kinds.OrAuto(kinds.TurnStep(MAX_TURN_STEPS), searched="every_steps"), storage=FROM_0,
           default=Fraction(1), in_set=AUTO, metavar="STEP|auto",
           help="Step of the turn where the song begins; auto finds the best."),
    Option("--transpose", SONG, "options.transpose_semitones", kinds.OrAuto(kinds.MOVE, searched="semitones"),
           default=0, metavar="SEMITONES|auto", help="Move every pitch up, or down if negative; auto finds the best."),
    Option("--semitones", SONG, "search.semitones", kinds.Whole(1, 127, "in semitones"), goes_with="transpose",
           default=SEMITONES, metavar="SEMITONES", help="How far either way --transpose auto looks."),
    Option("--every", PLACING, "search.every_steps", kinds.Whole(1, MAX_TURN_STEPS, "in steps"),
           goes_with="start", default=1, metavar="STEPS",
           help="--start auto tries the first step and every STEPS after it: 4 for the beats of sixteenths."),
    Option("--performed", PLAYED, "played", kinds.Flag(), storage=AS_PLAYED,
           help="The song was played by hand: put every note on the hole that was meant."),
    Option("--beats", PLAYED, "played", kinds.Beats(), goes_with="performed", default=Played(), json="performed",
           metavar="follow|keep|find|TEMPO|FILE.csv|part:NAME",
           help="With --performed: trust the file's tempo at its beginning, throughout, or not at all; or begin at "
           "this many quarter notes a minute; or take the beats from a CSV file of seconds, or from a part in which "
           "they were tapped (quarters, in 6/8 dotted ones)."),
    Option("--subdivisions", PLAYED, "subdivisions", kinds.WordChoice(tuple(SUBDIVISIONS), "subdivision"),
           goes_with="performed", metavar="NAME", json="subdivisions", json_if_asked=True,
           help="With --performed: what quarters are divided into, so that no other holes are taken: eighths, "
           "sixteenths, 32nds, triplets or sixteenths+triplets; else found out."),
    Option("--metre", PLAYED, "metre", kinds.WordChoice(METRES, "metre"), goes_with="performed",
           json="metre", json_if_asked=True,
           help="With --performed: the metre in which bars are counted; else the file's own, or 4/4."),
    Option("--first-note", PLAYED, "first_note", kinds.Exact(Fraction(1), Fraction(MAX_BEAT), "a beat of a bar"),
           goes_with="performed", metavar="BEAT", json="first_note", json_if_asked=True,
           help="With --performed: the beat of the bar on which the song begins, 4 for a pickup of one beat in 4/4; "
           "all notes are moved by as much."),
    Option("--beat-shift", PLAYED, "beat_shifts", kinds.BeatShifts(), goes_with="performed", set_key="beat_shifts",
           metavar="BAR=QUARTERS", json="beat_shifts", json_if_asked=True,
           help="With --performed: from a bar on, all notes lie this number of quarters later, or earlier: "
           "13=-1/4, or 13:2.5=-1/4 from its beat 2.5 on; 13=0 says that it is right there. Can be given again, in "
           "bars as counted after those before."),
    Option("--move-part", SONG, "part_semitones", kinds.NamedValues(kinds.MOVE, json=("part", "semitones")),
           set_key="move_parts", metavar="PART=SEMITONES", json="part_semitones",
           help="Transpose one part: Bass=-12; can be given again."),
    Option("--note-edit", SONG, "note_edits", kinds.NoteEdits(), set_key="note_edits", metavar="EDIT",
           json="note_edits", json_if_asked=True,
           help="Edit a note of the score: 'drop Melody, bar 12, beat 2.5, C5'; move, raise, lower, sound or repeat "
           "it; can be given again."),
    Option("--fold-octaves", SONG, "options.fold_octaves", kinds.Flag(),
           help="Move a pitch without a channel to the nearest octave that has one."),
    Option("--ornaments", SONG, "ornaments", kinds.GRAIN,
           storage=AS_QUARTERS, metavar="NOTE", json="ornaments_quarters",
           help="Play trills, mordents, turns and tremolos in notes of this value: 1/32."),
    Option("--swing", SONG, "swing", kinds.SWING, metavar="RATIO|straight", json="swing",
           help="Play pairs of eighths long and short: 2:1 puts them on triplet holes; straight plays triplets that "
           "are written long and short as even eighths. Else as the score marks."),
    Option("--thin", SONG, "most_at_once", kinds.Whole(1, 1000, "notes that begin together"),
           metavar="NOTES", json="most_at_once",
           help="Maximum of notes that begin together: doublings go first, then inner notes, ornaments, the lightest."),
    Option("--tempo", SONG, "options.us_per_quarter", TEMPO, storage=AS_MICROSECONDS,
           metavar="QUARTERS_A_MINUTE", help="Quarter notes a minute at which the wheel turns; else the score's own."),
    Option("--reach", PLACING, "options.reach_quarters", _REACH, storage=AS_QUARTERS, metavar="NOTE",
           help="How far a note may be moved, as a note value: 1/64."),
    Option("--offset", PLAYED, "offset", kinds.Ticks(999_999_999), storage=TO_TAKE_OUT, json="offset_ticks",
           metavar="auto|TICKS", help="Take out a constant delay of the file: auto, or a number of ticks."),
    Option("--priority", PLACING, "options.part_priorities", kinds.NamedValues(kinds.PRIORITY), set_key="priorities",
           metavar="PART=N", help="Weight of a part, 1 to 99, others having 1; can be given again."),
    Option("--drum", PLACING, "options.drum_keys", kinds.NamedValues(kinds.DRUM_KEY, key=kinds.DRUM_KEY),
           set_key="drums", metavar="KEY=KEY", help="Sound one drum key as another: 38=40; can be given again."),
    Option("--part-channels", PLACING, "options.part_channels", kinds.NamedValues(_CHANNELS), metavar="PART=CHANNELS",
           help="Let only channels of these names sound a part: Bass=string*; can be given again."),
    Option("--plate-set", PLACING, "plate_set", kinds.Whole(1, 100, "a set of plates"), storage=FROM_0, metavar="N",
           help="Use the holes of this set of plates, where some sets have lost more; else those that all have."),
    Option("--channel-rule", PLACING, "options.channel_rule", _RULE, storage=AS_RULE, default=ChannelRule.PREFER,
           help="Of channels that share a pitch take the first, or the one longest at rest."),
)
OUTPUT_OPTIONS = (
    Option("--paper", OUTPUT, "", kinds.WordChoice(PAPERS, "paper", any_case=True), default=PAPERS[0],
           help="For the pin sheets."),
    Option("--larger", OUTPUT, "", kinds.Flag(),
           help="Print sheets with no letter below 9 points, on more pages where that takes them."),
    Option("--seen-from", OUTPUT, "", kinds.WordChoice((OUTSIDE, INSIDE), "face of the plate", any_case=True),
           default=OUTSIDE, help="Draw plates as seen from outside the wheel, or mirrored as seen from inside."),
    Option("--date", OUTPUT, "", kinds.TextLine("a date"), metavar="DATE",
           help="Print this date on the sheets: 2026-05-01, or today."),
    Option("--labels", OUTPUT, "", kinds.Flag(),
           help="Also print a strip of channel labels at true scale, to cut out."),
    Option("--spares", OUTPUT, "", kinds.Number(0, 100, "in per cent"),
           set_key="spares_percent", default=5.0, metavar="PERCENT", help="Spare pins to count, of each type."),
    Option("--overwrite", OUTPUT, "", kinds.Flag(), help="Replace what an earlier run wrote to the folder."),
)
# fmt: on

BY_NAME = {option.name: option for option in (*OPTIONS, *OUTPUT_OPTIONS)}
