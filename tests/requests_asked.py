"""Random requests for hypothesis: what a maker can ask of a song, of every option."""

from __future__ import annotations

from fractions import Fraction
from functools import partial
from pathlib import Path
from typing import Any

from hypothesis import strategies as st

from pegwright.ask.beat_shifts import BeatShift
from pegwright.ask.note_edits import NoteEdit, note_edit_of
from pegwright.ask.options import ChannelRule, FitOptions, SearchRange
from pegwright.ask.request import METRES, SUBDIVISIONS, Beat, Played, Request


def note_edits(names: st.SearchStrategy[str]) -> st.SearchStrategy[NoteEdit]:
    """Edits of notes with any name of a part."""
    ends = st.sampled_from(["to beat 3", "to bar 3, beat 1 1/3", "to pickup bar, beat 1.25"])
    places = st.builds(lambda name, end: f"move {name}, bar 5, 2nd time, beat 2 1/3, Bb4 {end}", names, ends)
    return places.map(note_edit_of)


def beat_shifts() -> st.SearchStrategy[BeatShift]:
    """Places from which on the beat is read otherwise."""
    beats, quarters = st.fractions(1, 13, max_denominator=24), st.fractions(-16, 16, max_denominator=24)
    return st.builds(BeatShift, st.integers(1, 999), beats, quarters)


@st.composite
def asked(draw: st.DrawFn) -> Request:
    """What a maker can ask, of every option; an offset of 0 asks nothing and is not typed."""
    names = st.text(st.characters(codec="utf-8", exclude_categories=["C", "Z"]), min_size=1, max_size=20)
    parts = partial(st.dictionaries, names, max_size=3)
    reaches = st.fractions(0, 1, max_denominator=128)
    first, start_free, farthest = draw(st.integers(1, 99)), draw(st.booleans()), draw(st.sampled_from([0, 1, 12, 127]))
    beats = st.builds(Played, st.sampled_from(Beat)) | st.builds(
        Played, st.just(Beat.KEEP), st.just(Path("my taps.csv")) | st.none()
    )
    tapped = st.builds(Played, st.just(Beat.KEEP), st.none(), names)
    options = FitOptions(
        transpose_semitones=0 if farthest else draw(st.integers(-127, 127)),
        fold_octaves=draw(st.booleans()),
        start_steps=Fraction(0) if start_free else draw(st.fractions(0, 999, max_denominator=960)),
        us_per_quarter=draw(st.none() | st.integers(60_000, 60_000_000)),
        reach_quarters=draw(st.none() | reaches),
        part_priorities=tuple(draw(parts(st.integers(1, 99))).items()),
        drum_keys=tuple(draw(st.dictionaries(st.integers(0, 127), st.integers(0, 127), max_size=3)).items()),
        part_channels=tuple(draw(parts(names.filter(lambda text: "=" not in text))).items()),
        channel_rule=draw(st.sampled_from(ChannelRule)),
    )
    hand = draw(st.none() | beats | tapped)
    known: dict[str, Any] = {
        "subdivisions": draw(st.none() | st.sampled_from(list(SUBDIVISIONS))),
        "metre": draw(st.none() | st.sampled_from(METRES)),
        "first_note": draw(st.none() | st.fractions(1, 13, max_denominator=24)),
        "beat_shifts": tuple(draw(st.lists(beat_shifts(), max_size=2))),
    }
    return Request(
        bars=draw(st.none() | st.builds(lambda bars: (first, first + bars), st.integers(0, 20))),
        offset=draw(st.none() | st.just("auto") | st.integers(-999, 999).filter(bool)),
        played=hand,
        part_semitones=tuple(draw(parts(st.integers(-127, 127))).items()),
        swing=draw(st.none() | st.just("straight") | st.builds(Fraction, st.integers(1, 50), st.integers(1, 50))),
        most_at_once=draw(st.none() | st.integers(1, 1000)),
        options=options,
        search=SearchRange(farthest, draw(st.sampled_from([1, 4, 12, 99])) if start_free else 0)
        if farthest or start_free
        else None,
        ornaments=draw(st.none() | st.builds(Fraction, st.just(4), st.integers(8, 128))),
        turns=draw(st.none() | st.integers(1, 1000)),
        whole_bars=draw(st.booleans()),
        only=tuple(draw(st.lists(names, max_size=3))),
        without=tuple(draw(st.lists(names, max_size=3))),
        skip_silence=draw(st.booleans()),
        note_edits=tuple(draw(st.lists(note_edits(names), max_size=2))),
        **(known if hand else {}),
    )
