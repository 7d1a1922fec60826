"""Edge cases of MIDI files against two general libraries: the same notes, or a difference that the docs explain."""

from __future__ import annotations

import io
import re
import warnings
from dataclasses import dataclass

import pytest

from midi_bytes import END, meta, midi_file, note, off, on, tempo, vlq
from pegwright.read.midi.reader import read_midi
from places import ROOT

Notes = list[tuple[int, int, int]]  # (tick of its beginning, tick of its end, pitch) at 96 ticks a quarter of 0.5 s
HELD = meta(96, 0x2F)  # an end of track a quarter later
SLOW, FAST = 1_000_000, 250_000


@dataclass(frozen=True)
class Case:
    """A file, and how it is read.

    Args:
        data: the file.
        ours: the notes, by hand from the standard or from our rule where that leaves it open.
        symusic, pretty_midi: how these differ; None where they do not.
        refused: by both of them.
        us_per_quarter: (tick, tempo) of every change.
    """

    data: bytes
    ours: Notes
    symusic: Notes | None = None
    pretty_midi: Notes | None = None
    refused: bool = False
    us_per_quarter: tuple[tuple[int, int], ...] = ((0, 500_000),)


ALIKE = {
    "velocity-0-ends-a-note": Case(
        midi_file(on(0, 60) + on(96, 60, 0) + note(0, 48, 62) + END), [(0, 96, 60), (96, 144, 62)]
    ),
    "note-off-without-a-note": Case(midi_file(off(0, 60) + on(0, 60, 0) + note(10, 96, 62) + END), [(10, 106, 62)]),
    "running-status": Case(
        midi_file(on(0, 60) + vlq(96) + bytes([60, 0, 0, 62, 50]) + vlq(96) + bytes([62, 0]) + END),
        [(0, 96, 60), (96, 192, 62)],
    ),
    "running-status-across-a-meta-event": Case(
        midi_file(on(0, 60) + meta(48, 1, b"la") + vlq(48) + bytes([60, 0]) + END), [(0, 96, 60)]
    ),
    "note-off-before-note-on-at-a-tick": Case(
        midi_file(on(0, 60) + off(96, 60) + on(0, 60) + off(96, 60) + END), [(0, 96, 60), (96, 192, 60)]
    ),
    "note-off-after-note-on-at-a-tick": Case(
        midi_file(on(0, 60) + on(96, 60) + off(0, 60) + off(96, 60) + END), [(0, 96, 60), (96, 192, 60)]
    ),
    "two-notes-of-a-pitch-together": Case(
        midi_file(on(0, 60) + on(0, 60) + off(96, 60) + off(0, 60) + END), [(0, 96, 60), (0, 96, 60)]
    ),
    "tempo-change-inside-a-note": Case(
        midi_file(tempo(0, 500_000) + tempo(48, SLOW) + END, note(0, 96) + END),
        [(0, 96, 60)],
        us_per_quarter=((0, 500_000), (48, SLOW)),
    ),
    "tempo-changes-between-notes": Case(
        midi_file(tempo(0, FAST) + tempo(96, SLOW) + tempo(48, FAST) + END, note(0, 96) + note(24, 48, 62) + END),
        [(0, 96, 60), (120, 168, 62)],
        us_per_quarter=((0, FAST), (96, SLOW), (144, FAST)),
    ),
    "format-0-of-two-channels": Case(
        midi_file(note(0, 96) + note(0, 96, 62, 1) + END, form=0), [(0, 96, 60), (96, 192, 62)]
    ),
    "format-0-of-two-tracks": Case(
        midi_file(note(0, 96) + END, note(0, 96, 62) + END, form=0), [(0, 96, 60), (0, 96, 62)]
    ),
    "format-1-of-tracks-with-different-ends": Case(
        midi_file(note(0, 96) + END, note(0, 384, 62) + HELD, meta(1000, 0x2F)), [(0, 96, 60), (0, 384, 62)]
    ),
    "a-pitch-on-two-channels": Case(
        midi_file(on(0, 60) + on(48, 60, channel=1) + off(48, 60) + off(48, 60, 1) + END), [(0, 96, 60), (48, 144, 60)]
    ),
    "note-off-of-another-channel": Case(midi_file(on(0, 60) + off(48, 60, 1) + off(48, 60) + END), [(0, 96, 60)]),
    "a-pitch-on-one-channel-of-two-tracks": Case(
        midi_file(END, on(0, 60) + off(96, 60) + END, on(48, 60) + off(96, 60) + END), [(0, 96, 60), (48, 144, 60)]
    ),
    "lowest-and-highest": Case(midi_file(note(0, 96, 0) + note(0, 96, 127) + END), [(0, 96, 0), (96, 192, 127)]),
    "percussion": Case(midi_file(note(0, 96, 38, 9) + END), [(0, 96, 38)]),
}
APART = {  # by the row of the table in docs/reading-midi.md
    "a note of no length": Case(
        midi_file(on(0, 60) + off(0, 60) + note(96, 96, 62) + END),
        [(0, 0, 60), (96, 192, 62)],
        pretty_midi=[(96, 192, 62)],
    ),
    "a pitch struck again while it sounds": Case(
        midi_file(on(0, 60) + on(24, 60) + off(24, 60) + off(96, 60) + END),
        [(0, 48, 60), (24, 144, 60)],
        pretty_midi=[(0, 48, 60), (24, 48, 60)],
    ),
    "two notes of a pitch begin together and end apart": Case(
        midi_file(on(0, 60) + on(0, 60) + off(96, 60) + off(96, 60) + END),
        [(0, 96, 60), (0, 192, 60)],
        pretty_midi=[(0, 96, 60), (0, 96, 60)],
    ),
    "a note that never ends": Case(
        midi_file(on(0, 60) + note(0, 96, 62) + HELD), [(0, 96, 62), (0, 192, 60)], [(0, 96, 62)], [(0, 96, 62)]
    ),
    "a note that never ends, its pitch struck again later": Case(
        midi_file(on(0, 60) + on(96, 60) + off(96, 60) + END),
        [(0, 96, 60), (96, 192, 60)],
        [(0, 192, 60)],
        [(0, 192, 60), (96, 192, 60)],
    ),
    "a note-off in another track than its note-on": Case(
        midi_file(on(0, 60) + END, off(96, 60) + END), [(0, 0, 60)], [], []
    ),
    "a tempo in a track after the first": Case(
        midi_file(END, note(0, 96) + tempo(0, FAST) + note(0, 96, 62) + END),
        [(0, 96, 60), (96, 192, 62)],
        pretty_midi=[(0, 96, 60), (96, 288, 62)],  # its end at the tempo before, of 0.5 s a quarter, is that late
        us_per_quarter=((0, 500_000), (96, FAST)),
    ),
    "film frames (SMPTE division)": Case(midi_file(note(96, 96) + END, division=0xE828), [(96, 192, 60)], refused=True),
    "format 2": Case(
        midi_file(note(0, 96) + END, note(0, 96, 62) + END, form=2),
        [(0, 96, 60), (384, 480, 62)],
        [(0, 96, 60), (0, 96, 62)],
        [(0, 96, 60), (0, 96, 62)],
    ),
}
CASES = ALIKE | APART
EVERY_CASE = pytest.mark.parametrize("case", CASES.values(), ids=[name.replace(" ", "-") for name in CASES])


def seconds(tick: int, tempi: tuple[tuple[int, int], ...]) -> float:
    """When a tick is, at 96 ticks a quarter."""
    ends = [*(end for end, _ in tempi[1:]), 10**9]
    return sum(us * max(0, min(tick, end) - begin) for (begin, us), end in zip(tempi, ends, strict=True)) / 96e6


@EVERY_CASE
def test_a_case_is_read_by_its_rule(case: Case) -> None:
    score, _ = read_midi(case.data, "case.mid")
    ends = score.onset_ticks + score.duration_ticks
    assert sorted(zip(score.onset_ticks.tolist(), ends.tolist(), score.pitch_midi.tolist(), strict=True)) == case.ours
    if case.data[12] < 0x80:  # in film frames a tick is no part of a quarter
        tempi = score.tempo_map
        assert tuple(zip(tempi.ticks.tolist(), tempi.us_per_quarter.tolist(), strict=True)) == case.us_per_quarter


@EVERY_CASE
def test_symusic_reads_the_same_or_differs_as_stated(case: Case) -> None:
    import symusic

    if case.refused:
        with pytest.raises(RuntimeError, match="not ticks per quarter"):
            symusic.Score.from_midi(case.data)
        return
    theirs = [
        (note.start, note.end, note.pitch)
        for track in symusic.Score.from_midi(case.data).tracks
        for note in track.notes
    ]
    assert sorted(theirs) == (case.ours if case.symusic is None else case.symusic)


@EVERY_CASE
def test_pretty_midi_reads_the_same_times_or_differs_as_stated(case: Case) -> None:
    import pretty_midi

    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # it warns of tempo events outside the first track
        if case.refused:
            with pytest.raises(ValueError, match="end time"):
                pretty_midi.PrettyMIDI(io.BytesIO(case.data))
            return
        instruments = pretty_midi.PrettyMIDI(io.BytesIO(case.data)).instruments
    theirs = sorted((note.start, note.end, note.pitch) for instrument in instruments for note in instrument.notes)
    expected = case.ours if case.pretty_midi is None else case.pretty_midi
    due = [
        (seconds(begin, case.us_per_quarter), seconds(end, case.us_per_quarter), pitch)
        for begin, end, pitch in expected
    ]
    assert theirs == [pytest.approx(row, abs=1e-9) for row in due]


def test_what_differs_is_what_the_docs_explain() -> None:
    text = (ROOT / "docs/reading-midi.md").read_text(encoding="utf-8")
    section = text.partition("## Where other programs read otherwise")[2].partition("\n## ")[0]
    _, _, *rows = [re.split(r" *\| *", line.strip("| ")) for line in section.splitlines() if line.startswith("|")]
    assert [row[0] for row in rows] == list(APART)
    for name, _, *differences in rows:
        case = APART[name]
        expected = [
            "refused" if case.refused else "the same" if theirs is None else None
            for theirs in (case.symusic, case.pretty_midi)
        ]
        assert all(words == say for words, say in zip(differences, expected, strict=True) if say)
        assert not any(
            words in ("refused", "the same") for words, say in zip(differences, expected, strict=True) if not say
        )
    assert all(case.symusic is case.pretty_midi is None for case in ALIKE.values())
