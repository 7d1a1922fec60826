"""From part and pitch to the channels that can sound a note."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable
from fnmatch import fnmatchcase
from functools import lru_cache
from typing import TypeAlias

import numpy as np

from pegwright.ask.options import DEFAULT_PRIORITY, FitOptions
from pegwright.columns import Ints, distinct, looked_up, read_only
from pegwright.errors import UsageError
from pegwright.findings import Finding, Occurrences, Severity
from pegwright.frozen import frozen
from pegwright.score import Score
from pegwright.units import nearest_hint, plural
from pegwright.wheel import Wheel

Choices: TypeAlias = tuple[int, ...]
Row: TypeAlias = tuple[int, int, Choices]  # of a `PitchTable`
Lists: TypeAlias = tuple[tuple[int, ...], ...]  # the pitches or percussion keys of each channel
NO_CHOICE = -1
PITCH_COUNT = 128
PRIORITY_WEIGHT = 128  # above any velocity, so two notes of one priority always outweigh one
SEMITONES_PER_OCTAVE = 12


@frozen(eq=False)
class Arrangement:
    """Which channels can sound each note of a score, and what the note weighs; columns of shape (n,).

    Args:
        choices: for each note the channels that can sound it, in wheel order.
        channel: the first choice, or -1 without any.
        sounding: the pitch after transposition and folding, or the percussion key after replacement.
        octaves: whole octaves it was folded by, downward negative.
        weight: 128 times the priority of its part, plus its velocity.
    """

    choices: tuple[Choices, ...]
    channel: Ints
    sounding: Ints
    octaves: Ints
    weight: Ints


@frozen()
class PitchTable:
    """The sound of each of the 128 MIDI pitches (or percussion keys): three columns of that length."""

    sounding: tuple[int, ...]
    octaves: tuple[int, ...]
    choices: tuple[Choices, ...]


def arrange(score: Score, wheel: Wheel, options: FitOptions) -> Arrangement:
    """Find the channels for every note.

    Args:
        score: the song.
        wheel: its channels' pitches and percussion keys are read here.
        options: transposition, folding, percussion keys, channels of parts and priorities are read here.

    Raises:
        UsageError: a priority or channels are given for a part that the score does not have, or no channel matches
            a pattern.
    """
    key = sound_keys(score)
    keys = distinct(key)
    row_of = key_rows(score, wheel, options)
    sounding, octaves, choices = zip(*map(row_of, keys.tolist()), strict=True) if len(keys) else ((), (), ())
    first = [channels[0] if channels else NO_CHOICE for channels in choices]
    columns = np.array([first, sounding, octaves], dtype=np.int64)
    which = np.searchsorted(keys, key)
    channel, sounded, moved = map(read_only, columns[:, which])
    return Arrangement(
        choices=tuple(choices[place] for place in which.tolist()),
        channel=channel,
        sounding=sounded,
        octaves=moved,
        weight=read_only(PRIORITY_WEIGHT * note_priorities(score, options) + score.velocity),
    )


def sound_keys(score: Score) -> Ints:
    """Shape (n,): a number for each note, equal for those that sound alike: of part, percussion and pitch."""
    return (2 * score.part + score.percussion_notes()) * PITCH_COUNT + score.pitch_midi


def key_rows(score: Score, wheel: Wheel, options: FitOptions) -> Callable[[int], Row]:
    """What a number of `sound_keys` gives: the pitch sounded, the octaves folded by, and the channels.

    Args:
        score: with the parts.
        wheel: with the channels.
        options: see `arrange`, as is what is raised.
    """
    among = part_channels(score, wheel, options)
    tables: dict[tuple[int, Choices], PitchTable] = {}

    def row(key: int) -> Row:
        part, rest = divmod(key, 2 * PITCH_COUNT)
        percussion, pitch = divmod(rest, PITCH_COUNT)
        kind = percussion, among(part)
        if kind not in tables:
            tables[kind] = (percussion_table if percussion else pitched_table)(wheel, options, kind[1])
        table = tables[kind]
        return table.sounding[pitch], table.octaves[pitch], table.choices[pitch]

    return row


def pitched_table(wheel: Wheel, options: FitOptions, among: Choices | None = None) -> PitchTable:
    """Transposition, then folding to the nearest octave that has a channel, the lower one on a tie.

    Args:
        wheel: its channels' pitches are read here.
        options: transposition and folding.
        among: the channels to choose from; None for all.
    """
    pitches = tuple(channel.pitches for channel in wheel.channels)
    return _pitched_table(pitches, options.transpose_semitones, options.fold_octaves, among)


@lru_cache(maxsize=128)  # every turn of a song needs the same transpositions
def _pitched_table(pitches: Lists, transpose_semitones: int, fold_octaves: bool, among: Choices | None) -> PitchTable:
    channels = _listing(pitches, among)
    farthest = (PITCH_COUNT + abs(transpose_semitones)) // SEMITONES_PER_OCTAVE + 1 if fold_octaves else 0
    octaves = sorted(range(-farthest, farthest + 1), key=lambda octave: (abs(octave), octave))
    rows = []
    for written in range(PITCH_COUNT):
        pitch = written + transpose_semitones
        octave = 0
        if farthest and pitch not in channels:
            octave = next((octave for octave in octaves if pitch + SEMITONES_PER_OCTAVE * octave in channels), 0)
        sounding = pitch + SEMITONES_PER_OCTAVE * octave
        rows.append((sounding, octave, channels.get(sounding, ())))
    return PitchTable(*zip(*rows, strict=True))


def percussion_table(wheel: Wheel, options: FitOptions, among: Choices | None = None) -> PitchTable:
    """The keys used instead, then the channels that sound them; percussion is never transposed.

    Args:
        wheel: its channels' percussion keys are read here.
        options: the keys used instead of others.
        among: the channels to choose from; None for all.
    """
    return _percussion_table(tuple(channel.drum_keys for channel in wheel.channels), options.drum_keys, among)


@lru_cache(maxsize=32)
def _percussion_table(
    drum_keys: Lists, replaced_keys: tuple[tuple[int, int], ...], among: Choices | None
) -> PitchTable:
    channels, instead = _listing(drum_keys, among), dict(replaced_keys)
    sounding = tuple(instead.get(key, key) for key in range(PITCH_COUNT))
    return PitchTable(sounding, (0,) * PITCH_COUNT, tuple(channels.get(key, ()) for key in sounding))


def note_priorities(score: Score, options: FitOptions) -> Ints:
    """Shape (n,): the priority of each note's part.

    Raises:
        UsageError: a name is not a part of the score.
    """
    priorities = dict(options.part_priorities)
    _check_parts(score, list(priorities), "a priority was")
    return looked_up(score.part, lambda part: priorities.get(score.parts[part].name, DEFAULT_PRIORITY), np.int64)


def part_channels(score: Score, wheel: Wheel, options: FitOptions) -> Callable[[int], Choices]:
    """Gives for the number of a part the channels that may sound it: a turn may have notes of few of very many parts.

    Args:
        score: with the parts.
        wheel: with the channels.
        options: patterns of channel names by part.

    Raises:
        UsageError: a name is not a part of the score, or no channel matches a pattern.
    """
    patterns = dict(options.part_channels)
    _check_parts(score, list(patterns), "channels were")
    names = [channel.name for channel in wheel.channels]
    every, allowed = tuple(range(len(names))), {}
    for part, pattern in patterns.items():
        allowed[part] = tuple(number for number in every if fnmatchcase(names[number], pattern))
        if not allowed[part]:
            raise UsageError(
                f"no channel of {wheel.name} has a name like {pattern!r}, given for part {part!r}",
                where=score.file,
                hint=nearest_hint(pattern, names, "the wheel has no channels"),
            )
    return lambda part: allowed.get(score.parts[part].name, every)


def _check_parts(score: Score, part_names: list[str], what: str) -> None:
    if not part_names:
        return
    names = [part.name for part in score.parts]
    for name in part_names:
        if name not in names:
            raise UsageError(
                f"the score has no part {name!r}, which {what} given for",
                where=score.file,
                hint=nearest_hint(name, names, "the score has no parts"),
            )


def _listing(lists: Lists, among: Choices | None) -> dict[int, Choices]:
    """From a pitch or key to the channels among those that list it, in wheel order."""
    channels: dict[int, Choices] = {}
    for number in range(len(lists)) if among is None else among:
        for value in dict.fromkeys(lists[number]):
            channels[value] = (*channels.get(value, ()), number)
    return channels


def arrange_findings(score: Score, options: FitOptions, arrangement: Arrangement) -> tuple[Finding, ...]:
    """A finding for each way in which notes of a score sound otherwise than written.

    Args:
        score: the song, or a turn of it.
        options: that it was arranged with.
        arrangement: of its notes.
    """
    if not (options.transpose_semitones or options.drum_keys or options.fold_octaves):
        return ()
    findings = []
    percussion = score.percussion_notes()
    pitched = int(np.count_nonzero(~percussion))
    semitones = options.transpose_semitones
    if semitones and pitched:
        way = "higher" if semitones > 0 else "lower"
        outcome = f"transposed {plural(abs(semitones), 'semitone')} {way}"
        findings.append(_changed("transposed", score.file, "note", outcome, pitched))
    folded = np.flatnonzero(arrangement.octaves)
    kinds = Counter(zip(score.part[folded].tolist(), arrangement.octaves[folded].tolist(), strict=True))
    for (part, octave), count in sorted(kinds.items()):
        way = "higher" if octave > 0 else "lower"
        outcome = f"folded {plural(abs(octave), 'octave')} {way}, to where a channel sounds"
        findings.append(_changed("octave-folded", f"{score.file}:{score.parts[part].name}", "note", outcome, count))
    keys = Counter(score.pitch_midi[percussion].tolist())
    for key, instead in options.drum_keys:
        if keys[key] and instead != key:
            outcome = f"of percussion key {key} sounded by key {instead}"
            findings.append(_changed("percussion-key-replaced", score.file, "stroke", outcome, keys[key]))
    return tuple(findings)


def _changed(code: str, where: str, thing: str, outcome: str, count: int) -> Finding:
    """A finding whose number those of other turns are added to.

    Args:
        code: of the finding.
        where: the song, or one of its parts.
        thing: what is counted, in the singular.
        outcome: what was done with it.
        count: how often in this turn.
    """
    counted = Occurrences(thing, outcome, (), ((where, count),))
    return Finding(code, Severity.CHANGED, where, counted.message, count=count, counted=counted)
