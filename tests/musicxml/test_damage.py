"""Damaged and hostile MusicXML by the hundred: a score that holds together, or one line saying what is wrong."""

from __future__ import annotations

import io
import re
import zipfile

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from musicxml_text import (
    attributes,
    backup,
    bar,
    drum,
    ending,
    forward,
    note,
    repeat,
    rest,
    score,
    sound,
    tie,
    tuplet,
    words,
)
from pegwright.errors import InputError
from pegwright.formats import MAX_NOTES, MAX_QUARTERS
from pegwright.musicxml.reader import read_musicxml
from places import SCORES

# A little of everything the reader knows.
RICH = score(
    [
        bar(
            attributes("<divisions>6</divisions><time><beats>3+1</beats><beat-type>4</beat-type></time>"),
            sound('tempo="96" dynamics="70" segno="a"'), note("G4", 6), number=0,
        ),
        bar(
            repeat("forward"), note("C4", 4, tuplet("quarter", 3, 2)), note("D4", 4, tuplet("quarter", 3, 2)),
            note("E4", 4, tuplet("quarter", 3, 2)), note("E4", 12, tie("start")), backup(24),
            note("C3", 24, tie("start")),
        ),
        bar(
            ending("1", "start"), note("E4", 12, tie("stop")), note("F#4", before="<grace/>"), note("G4", 6),
            note("B4", 6, before="<chord/>"), note("A4", 6, before="<cue/>"),
            ending("1", "stop", repeats=True), number=2,
        ),
        bar(ending("2", "start"), note("C4", 12), forward(12), words("D.S. al Fine"), ending("2", "stop"), number=3),
    ],
    [
        bar(attributes("<divisions>2</divisions><transpose><chromatic>-2</chromatic></transpose>"), rest(2), number=0),
        bar(drum(4, "F4", "I9"), drum(4, "C5")),
        bar(rest(8, ' measure="yes"'), number=2),
        bar("<direction><direction-type><metronome><beat-unit>half</beat-unit><per-minute>40</per-minute></metronome>"
            "</direction-type></direction>", note("Bb2", 8), number=3),
    ],
    head="<work><work-title>Everything &amp; more</work-title></work>",
)  # fmt: skip


def zipped(data: bytes) -> bytes:
    buffer = io.BytesIO()
    with zipfile.ZipFile(buffer, "w", zipfile.ZIP_DEFLATED) as made:
        made.writestr(
            "META-INF/container.xml", '<container><rootfiles><rootfile full-path="s.xml"/></rootfiles></container>'
        )
        made.writestr("s.xml", data)
    return buffer.getvalue()


def holds_together(data: bytes, file: str = "song.xml") -> bool:
    """Whether it was read; either way everything about the answer is checked."""
    try:
        song, findings = read_musicxml(data, file)
    except InputError as error:
        text = str(error)
        assert "\n" not in text
        assert len(text) < 400
        assert text.isprintable()
        return False
    count = song.note_count
    for column in (song.onset_ticks, song.duration_ticks, song.pitch_midi, song.velocity, song.part):
        assert column.shape == (count,)
        assert column.dtype == np.int64
        assert not column.flags.writeable
    order = np.lexsort((song.pitch_midi, song.part, song.onset_ticks))
    assert np.array_equal(order, np.arange(count))
    assert count <= MAX_NOTES
    assert song.length_ticks <= MAX_QUARTERS * song.resolution
    if count:
        assert song.onset_ticks.min() >= 0
        assert song.duration_ticks.min() >= 0
        assert 0 <= song.pitch_midi.min() <= song.pitch_midi.max() <= 127
        assert 1 <= song.velocity.min() <= song.velocity.max() <= 127
        assert 0 <= song.part.min() <= song.part.max() < len(song.parts)
        assert all(str(song.source(place)).isprintable() for place in (0, count - 1))
    names = [part.name for part in song.parts]
    assert all(names)
    assert len(set(names)) == len(names)
    assert song.title
    bars, tempi = song.bar_map, song.tempo_map
    assert bars.ticks[0] == tempi.ticks[0] == 0
    assert np.all(np.diff(np.append(bars.ticks, bars.end_ticks)) > 0)
    assert np.all(np.diff(tempi.ticks) > 0)
    assert len(bars.labels) == len(bars.ticks) == len(bars.beats) == len(bars.beat_types) > 0
    assert bars.beats.min() > 0
    assert bars.beat_types.min() > 0
    assert tempi.us_per_quarter.min() > 0
    assert len(song.sha256) == 64
    for finding in findings:
        assert finding.count > 0
        assert (finding.message + finding.where + finding.hint).isprintable()
    return True


def damaged(data: bytes, random: np.random.Generator) -> bytes:
    """The bytes cut short, with a piece taken out, a piece doubled, or some bytes changed."""
    begin, end = sorted(random.integers(0, len(data), 2).tolist())
    kind = random.integers(4)
    if kind == 0:
        return data[:end]
    if kind == 1:
        return data[:begin] + data[min(begin + 200, end) :]
    if kind == 2:
        return data[:end] + data[max(end - 300, begin) :]
    flipped = bytearray(data)
    for place in random.integers(0, len(data), random.integers(1, 6)).tolist():
        flipped[place] ^= int(random.integers(1, 256))
    return bytes(flipped)


def test_a_little_of_everything_reads() -> None:
    assert holds_together(RICH)
    assert holds_together(zipped(RICH), "song.mxl")


@pytest.mark.parametrize("pack", [bytes, zipped])
def test_bytes_cut_lost_doubled_or_flipped(pack: type[bytes]) -> None:
    random = np.random.default_rng(20)
    data = pack(RICH)
    read = [holds_together(damaged(data, random)) for _ in range(400)]
    assert not all(read)


def test_elements_lost_doubled_and_swapped_inside_well_formed_xml() -> None:
    random = np.random.default_rng(21)
    whole = rb"<(note|barline|backup|forward|attributes|direction|measure)\b.*?</\1>|<(?:tie|sound) [^>]*/>"
    elements = [found[0] for found in re.finditer(whole, RICH)]
    read = 0
    for _ in range(400):
        data = RICH
        for _ in range(int(random.integers(1, 4))):
            old, new = (elements[place] for place in random.integers(0, len(elements), 2))
            replacement = (b"", old + old, new, old.replace(b"yes", b"no"))[int(random.integers(4))]
            data = data.replace(old, replacement, 1)
        read += holds_together(data)
    assert read > 200


NASTY = (
    "",
    "0",
    "-1",
    "1e9",
    "nan",
    "inf",
    "9" * 400,
    "0.0000001",
    "1/3",
    "٣",
    "1,2",
    "x" * 9000,
    "\u202e",
    "&#10;",
    "+5",
    ".",
    "007",
)


@pytest.mark.parametrize("nasty", NASTY)
def test_nasty_numbers_and_texts_everywhere(nasty: str) -> None:
    text = RICH.decode()
    for place in re.finditer(r"(?<=>)[^<>]+(?=</)|(?<==\")[^\"<>]+(?=\")", text[text.index("<score-partwise") :]):
        begin, end = (at + text.index("<score-partwise") for at in place.span())
        holds_together((text[:begin] + nasty + text[end:]).encode())


@given(st.lists(st.sampled_from([
    note("C4", 1), note("C4", 3, tie("start")), note("C4", 2, tie("stop")), note("E4", 1, before="<chord/>"),
    note("D4", before="<grace/>"), note("D4", before="<grace/><chord/>"), note("G4", 2, before="<cue/>"), rest(2),
    backup(1), backup(5), forward(2), drum(1), attributes("<divisions>3</divisions>"), repeat("forward"),
    repeat("backward"), ending("1", "start"), ending("2", "start"), ending("1", "stop"), sound('tempo="200"'),
    note("F4", 1, tuplet("eighth", 3, 2)), "</measure><measure>", "</measure><measure number='X1' implicit='yes'>",
]), max_size=40))  # fmt: skip
def test_any_sequence_of_elements(content: list[str]) -> None:
    assert holds_together(score([bar(*content), bar(note("C4", 4))]))


def test_a_score_that_grows_beyond_the_limits_when_played_is_refused() -> None:
    many = score([bar(note("C4"), *[note("C4", before="<chord/>")] * 59, repeat("backward", ' times="9999"'))])
    with pytest.raises(InputError, match=r"599,940 notes as played; at most 500,000 are read"):
        read_musicxml(many, "song.xml")
    long = score([bar(note("C4", 99_999), repeat("backward", ' times="9"'))])
    with pytest.raises(InputError, match="899,991 quarter notes long as played"):
        read_musicxml(long, "song.xml")
    for duration in ("100001", "-4", "1e3", "four"):
        with pytest.raises(InputError, match=r"bar 7: the duration '.*' is not a number from 0 to 100,000 quarters"):
            read_musicxml(score([bar(note("C4", duration), number=7)]), "song.xml")
    with pytest.raises(InputError, match="divisions '0' is not a number above 0"):
        read_musicxml(score([bar(attributes("<divisions>0</divisions>"))]), "song.xml")
    with pytest.raises(InputError, match="the bar is longer than"):
        read_musicxml(score([bar(note("C4", 60_000), note("C4", 60_000))]), "song.xml")


def test_times_built_to_be_ever_finer_end_soon() -> None:
    primes = [
        number for number in range(3, 3000, 2) if all(number % factor for factor in range(3, 55, 2) if factor < number)
    ]
    finer = [attributes(f"<divisions>{prime}</divisions>") + note("C4", 1) for prime in primes]
    with pytest.raises(InputError, match="bar 1: times are divided finer than"):
        read_musicxml(score([bar(*finer)]), "song.xml")
    assert holds_together(score([bar(one) for one in finer]))
    tuplets = [note("C4", 1, tuplet("quarter", prime, prime - 1)) for prime in primes]
    with pytest.raises(InputError, match="bar 1: times are divided finer than"):
        read_musicxml(score([bar(*tuplets)]), "song.xml")
    tiny = bar(attributes("<divisions>999999999</divisions>"), note("C4", 1))
    assert holds_together(score([tiny, bar(attributes("<divisions>999999998</divisions>"), note("C4", 1))]))


def test_real_files_damaged() -> None:
    random = np.random.default_rng(22)
    files = [path for path in SCORES.glob("*") if path.suffix in (".xml", ".mxl") and path.stat().st_size < 9000]
    assert len(files) > 20
    for path in files:
        data = path.read_bytes()
        for _ in range(40):
            holds_together(damaged(data, random), path.name)
