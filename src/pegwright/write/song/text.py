"""What a song is made of, as a page of plain text."""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction
from pathlib import PurePath

from pegwright.edit.by_hand import judgement_words
from pegwright.findings import Finding
from pegwright.score import Score, bars_name
from pegwright.song_facts import PartFacts, SongFacts, SoundCount, Stretch
from pegwright.tell.report import note_name
from pegwright.units import figures, fraction_text, listed, plural, ratio_text, seconds_text
from pegwright.write.places import place_words
from pegwright.write.tables import (
    HANG,
    KEPT,
    LINE_CELLS,
    Line,
    TextTable,
    channel_line,
    names_line,
    one_line,
    paragraphs,
)

LISTED = 8  # metres, stretches of swing, findings
NAME_CELLS = 24
TITLE_CELLS = 60
_LABEL_CELLS = 11


def song_text(song: SongFacts, width: int = LINE_CELLS) -> str:
    """The facts of a song: what it is, its parts, on which channels they would sound, and what has no sound.

    Args:
        song: see there.
        width: cells of a line.
    """
    return paragraphs(
        [
            [one_line(_title(song.score), LINE_CELLS)],
            [f"{label:{_LABEL_CELLS}}{HANG}{text}" for label, text in _facts(song)],
            _parts(song),
            *_on_wheel(song),
            _findings(song.findings, song.score),
        ],
        width,
    )


def _title(score: Score) -> str:
    file = score.file
    return file if PurePath(file).stem == score.title else f"{one_line(score.title, TITLE_CELLS)} ({file})"


def _facts(song: SongFacts) -> list[tuple[str, str]]:
    score = song.score
    rows = [
        (
            "Notes",
            f"{plural(score.note_count, 'note')} in {plural(sum(part.note_count > 0 for part in song.parts), 'part')}",
        ),
        ("Length", _length(song)),
        ("Metre", _metres(song.metres) + ("" if score.bar_map.stated else ", as the file gives none")),
        ("Tempo", _tempo(song)),
    ]
    rows += [("Origin", _origin(song))] if score.note_count else []
    if song.late_ticks:
        way = "late" if song.late_ticks > 0 else "early"
        ticks = plural(abs(song.late_ticks), "tick")
        rows.append(("Delay", f"every onset is {ticks} {way}; --offset auto takes that out"))
    if song.silent_bars:
        those = "it" if song.silent_bars == 1 else "them"
        silence = f"{plural(song.silent_bars, 'bar')} before the first note; --skip-silence leaves {those} out"
        rows.append(("Silence", silence))
    if song.ornaments:
        kinds = listed([plural(count, kind) for kind, count in song.ornaments.items()])
        rows.append(("Ornaments", f"{kinds}; struck once, unless --ornaments 1/32 plays them out"))
    if song.swings:
        ratios = ((mark, mark.value) for mark in song.swings)
        marks = [
            f"{ratio_text(ratio)} in {_bars(mark, score)}" for mark, ratio in ratios if isinstance(ratio, Fraction)
        ]
        rows.append(("Swing", f"marked {_few(marks)}; played so, unless --swing 1:1 plays it even"))
    return rows


def _length(song: SongFacts) -> str:
    score = song.score
    quarters = fraction_text(Fraction(score.length_ticks, score.resolution))
    words = f"{plural(len(score.bar_map.ticks), 'bar')}, {quarters} quarter notes, {seconds_text(song.seconds)}"
    if song.turns is None or song.wheel is None:
        return words
    turns = "exactly one turn" if song.turns == 1 else f"{figures(float(song.turns))} turns"
    return f"{words}; {turns} of {one_line(song.wheel.name, NAME_CELLS)}"


def _metres(metres: Sequence[Stretch]) -> str:
    names = [f"{stretch.value[0]}/{stretch.value[1]}" for stretch in metres if isinstance(stretch.value, tuple)]
    if len(names) == 1:
        return names[0]
    counts = [plural(stretch.last - stretch.first + 1, "bar") for stretch in metres]
    return _few([f"{name} ({count})" for name, count in zip(names, counts, strict=True)])


def _tempo(song: SongFacts) -> str:
    tempi = song.tempi
    if len(tempi) == 1:
        stated = "" if song.score.tempo_map.stated else ", as the file gives none"
        return f"{tempi[0]:.4g} quarter notes a minute{stated}"
    changes = plural(len(tempi) - 1, "change")
    span = f"{min(tempi):.4g} to {max(tempi):.4g} quarter notes a minute in {changes}"
    return f"{span}; {song.prevailing:.4g} holds longest"


def _origin(song: SongFacts) -> str:
    words = judgement_words(song.judgement)
    if song.judgement.by_hand:
        return f"played by hand, or not to the file's own beat: {words}; try `pegwright fit --performed`"
    return f"too little to say whether played by hand: {words}" if song.judgement.unclear else f"written: {words}"


def _bars(stretch: Stretch, score: Score) -> str:
    labels = score.bar_map.labels
    return bars_name(labels[stretch.first], labels[stretch.last])


def _few(words: Sequence[str]) -> str:
    if len(words) <= LISTED:
        return ", ".join(words)
    return f"{', '.join(words[:LISTED])} and {len(words) - LISTED:,} more"


def _parts(song: SongFacts) -> list[Line]:
    if not song.parts:
        return []
    rows = [_part_row(part, song) for part in song.parts]
    header = tuple(rows[0])
    return [TextTable(header, [tuple(row.values()) for row in rows], left=(0, 2, 3), below=((4, 5),))]


def _part_row(facts: PartFacts, song: SongFacts) -> dict[str, str]:
    row = {
        "Part": _name(facts),
        "Notes": f"{facts.note_count:,}",
        "Lowest": _sound(song, facts.lowest),
        "Highest": _sound(song, facts.highest),
    }
    if song.wheel:
        silent = sum(sound.count for sound in facts.silent)
        row |= {"Channels": f"{len(facts.channels):,}", "Without a channel": f"{silent:,}" if silent else "none"}
    return row


def _sound(song: SongFacts, sound: SoundCount | None) -> str:
    return one_line(note_name(song.score, sound.note), NAME_CELLS) if sound else ""


def _times(sound: SoundCount) -> str:
    return plural(sound.count, "note").replace(" ", KEPT)


def _on_wheel(song: SongFacts) -> list[list[Line]]:
    """Which channels would sound each part, and what of it has none."""
    if not song.wheel:
        return []
    name, names = one_line(song.wheel.name, NAME_CELLS), [channel.name for channel in song.wheel.channels]
    sounding: list[Line] = [f"Channels of {name} that would sound each part, as written:"]
    silent: list[Line] = []
    for facts in song.parts:
        if facts.channels:
            shown = [channel_line(names[channel], channel, NAME_CELLS) for channel in facts.channels]
            sounding.append(f"  {_name(facts)}: {names_line([name.replace(' ', KEPT) for name in shown])}")
        if facts.silent:
            sounds = ", ".join(f"{_sound(song, sound)}{KEPT}({_times(sound)})" for sound in facts.silent)
            silent.append(f"  {_name(facts)}: {sounds}")
    blocks = [sounding] if len(sounding) > 1 else []
    return [*blocks, [f"{name} has no sound for:", *silent]] if silent else blocks


def _findings(findings: Sequence[Finding], score: Score) -> list[Line]:
    if not findings:
        return []
    lines: list[Line] = ["Noticed in reading:"]
    for finding in findings[:LISTED]:
        hint = f" ({finding.hint})" if finding.hint else ""
        words = f"{place_words(finding.where, score)}: {finding.message}{hint}".removeprefix(": ")
        lines.append(f"  {one_line(words, 8 * LINE_CELLS)}")
    return [*lines, f"  and {len(findings) - LISTED:,} more"] if len(findings) > LISTED else lines


def _name(facts: PartFacts) -> str:
    return one_line(f'"{facts.part.name}"', NAME_CELLS)
