"""The order of bars and the onset of every note, held to verovio over a sample of music21's corpus.

Oracle: verovio, which shares no code with this reader, on scores that others wrote. The sample is drawn anew from the
seed for every version of the corpus. `tests/benchmarks/bench_reading.py` compares all of them, with music21 besides;
docs/reading-musicxml.md has what it found, and the reason of every kind of difference.
"""

from __future__ import annotations

import random
from pathlib import Path

import pytest

import thorough
from reading_references import alike_in_bars, corpus, explicit_text, numbered_text, our_reading, verovio_reading
from tied_text import tied_text

SEED = 12
LARGEST_BYTES = {".mxl": 12_000, ".xml": 120_000}
# Where verovio goes astray, or knows no words for a da capo: see the table in docs/reading-musicxml.md.
EXPLAINED = (
    "demos/drum_sample.xml",  # it leaves out the notes of a second instrument
    "demos/nested_tuplet",  # it times nested tuplets by their brackets
    "mozart/k156/movement3",  # it does not play a minuet's da capo
    "mozart/k80/movement3",
    "mozart/k80/movement4",
    "haydn/opus1no1",  # the same, and it leaves a bar out of its list, or times tuplets by rules of its own
    "trecento/PMFC_06-Jacopo",  # it times some notes by their values, not by their durations
    "trecento/PMFC_06_10",
    "trecento/PMFC_06_8",
    "trecento/PMFC_24_17",
    "trecento/PMFC_13_04",  # it sounds accidentals over the staff, which the pitches leave out
    "trecento/PMFC_13_07",
)
# Repeats without a beginning, and first endings of which only the end is marked or that have no second.
IMPLICIT = (
    "joplin/maple_leaf_rag.mxl",
    "mozart/k156/movement2.mxl",
    "mozart/k458/movement2.mxl",
    "schumann_clara/polonaise_op1n1.mxl",
    "schumann_clara/polonaise_op1n2.mxl",
    "trecento/PMFC_06_Piero_6a-Quando_laire_comenca.xml",
)
TORN = (
    "haydn/opus74no1/movement4.mxl",
    "monteverdi/madrigal.4.2.mxl",
    "trecento/PMFC_01-Rex quem metrorum.xml",
    "trecento/PMFC_06-Jacopo-03b-Di_Novo.xml",
    "trecento/PMFC_06_8-In Verde Prato.xml",
)
SMALL = ("luca/gloria.xml",)


def candidates() -> list[str]:
    root = corpus()
    names = (
        str(path.relative_to(root))
        for path in root.rglob("*")
        if path.suffix in LARGEST_BYTES and path.stat().st_size <= LARGEST_BYTES[path.suffix]
    )
    return sorted(name for name in names if not name.startswith(EXPLAINED) and name not in IMPLICIT)


def test_bars_come_in_the_same_order_and_notes_at_the_same_place_as_in_verovio() -> None:
    root: Path = corpus()
    names = candidates()
    assert len(names) >= 400
    differing: dict[str, tuple[int, ...]] = {}
    for name in random.Random(SEED).sample(names, thorough.cases(20, 200)):  # noqa: S311  # a sample, not a secret
        text = numbered_text((root / name).read_bytes(), plain=True)
        ours, theirs = our_reading(text), verovio_reading(text)
        if ours.bars != theirs.bars:  # it lets a repeat without a beginning begin elsewhere than the standards say
            theirs = verovio_reading(explicit_text(text))
        codes = {finding.code: finding.count for finding in ours.findings}
        notes = len(ours.notes) + codes.get("tie-end-unmarked", 0)  # verovio strikes those again
        mended = codes.get("tie-not-begun", 0) + codes.get("torn-ties", 0)  # and leaves those out
        if ours.bars != theirs.bars or abs(notes - len(theirs.notes)) > mended:
            differing[name] = len(ours.bars), len(theirs.bars), notes, len(theirs.notes)
        elif alike_in_bars(ours, theirs) < len(ours.notes) - mended:
            differing[name] = len(ours.notes), alike_in_bars(ours, theirs)
    assert differing == {}


@pytest.mark.parametrize("name", IMPLICIT)
def test_repeats_are_played_as_in_verovio_where_their_beginnings_and_endings_are_written_out(name: str) -> None:
    text = numbered_text((corpus() / name).read_bytes(), plain=True)
    explicit = explicit_text(text)
    ours, theirs = our_reading(text), verovio_reading(explicit)
    assert verovio_reading(text).bars != ours.bars  # else there is nothing to write out
    assert our_reading(explicit).bars == ours.bars == theirs.bars
    assert alike_in_bars(ours, theirs) == len(ours.notes)


@pytest.mark.parametrize("name", TORN)
def test_ties_are_joined_as_in_verovio_where_both_their_marks_are_written_out(name: str) -> None:
    """Ends not marked, ends of ties that never began, ties marked for the ear alone or cut off from their bar's end."""
    text = numbered_text((corpus() / name).read_bytes(), plain=True)
    tied = tied_text(text)
    ours, theirs = our_reading(text), verovio_reading(tied)
    assert len(verovio_reading(text).notes) != len(ours.notes)  # else there is nothing to write out
    assert our_reading(tied).notes == ours.notes
    assert len(theirs.notes) == len(ours.notes)


@pytest.mark.parametrize("name", SMALL)
def test_a_note_drawn_small_sounds_as_any_other(name: str) -> None:
    """MusicXML 4.0: the size of `type` is its picture; a cue note has an element `cue`."""
    data = (corpus() / name).read_bytes()
    assert b'size="cue"' in numbered_text(data)
    ours, theirs = our_reading(numbered_text(data)), verovio_reading(numbered_text(data, plain=True))
    assert len(theirs.notes) == len(ours.notes)


@pytest.mark.parametrize(
    ("name", "notes"),
    [
        ("schumann_clara/polonaise_op1n3.mxl", 1827),  # da capo al fine, the fine at a final barline
        ("joplin/maple_leaf_rag.mxl", 2566),  # as many as the Mutopia edition's MIDI file
    ],
)
def test_known_counts(name: str, notes: int) -> None:
    assert len(our_reading(numbered_text((corpus() / name).read_bytes())).notes) == notes
