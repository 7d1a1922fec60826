"""MusicXML that others wrote, against what others read in it.

Oracles: music21 and verovio, two reference libraries that share no code with this reader; the counts in the
lists of scores; and a MIDI edition of a piece that somebody else typed in with its repeats played out.
"""

from __future__ import annotations

import base64
import io
import warnings
from collections import Counter
from functools import cache
from pathlib import Path

import pytest

from pegwright.musicxml.archive import unpack
from pegwright.musicxml.reader import read_musicxml
from pegwright.score import Score
from places import SCORES
from reading_references import corpus, midi_notes


def numbered(number: str) -> tuple[bytes, str]:
    (path,) = SCORES.glob(f"{number}_*")
    return path.read_bytes(), path.name


def from_corpus(name: str) -> tuple[bytes, str]:
    path = corpus() / name
    return path.read_bytes(), path.name


@cache
def music21_count(path: Path) -> int:
    """Notes struck as music21 reads and expands the score: heads that no tie leads to, chord symbols left out."""
    from music21.chord import ChordBase
    from music21.harmony import Harmony
    from music21.musicxml.xmlToM21 import MusicXMLImporter

    importer = MusicXMLImporter()
    data = path.read_bytes()
    importer.xmlText = unpack(data, path.name) if data.startswith(b"PK") else data
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # music21 warns of things that do not matter to a count
        importer.parseXMLText()
        expanded = importer.stream.expandRepeats()
    count = 0
    for element in expanded.recurse().notes:
        if not isinstance(element, Harmony):
            heads = element.notes if isinstance(element, ChordBase) else [element]
            count += sum(head.tie is None or head.tie.type in ("start", "let-ring") for head in heads)
    return count


def verovio_notes(data: bytes) -> list[tuple[float, int]]:
    """(onset in quarters, pitch) of every note of the MIDI file that verovio makes, repeats expanded, cues left out."""
    import mido
    import verovio

    verovio.enableLog(verovio.LOG_OFF)
    toolkit = verovio.toolkit()
    toolkit.setOptions({"midiNoCue": True})
    if data.startswith(b"PK"):
        assert toolkit.loadZipDataBase64(base64.b64encode(data).decode())
    else:
        assert toolkit.loadData(data.decode())
    return midi_notes(mido.MidiFile(file=io.BytesIO(base64.b64decode(toolkit.renderToMIDI()))))


def our_notes(song: Score) -> list[tuple[float, int]]:
    onsets = (song.onset_ticks / song.resolution).tolist()
    return sorted(zip(onsets, song.pitch_midi.tolist(), strict=True))


def struck_where_others_strike(song: Score, others: list[tuple[float, int]], tolerance: float) -> int:
    """Notes that have a partner of the same pitch within a tolerance in quarters; both lists the same length."""
    assert song.note_count == len(others)
    ours = sorted((pitch, onset) for onset, pitch in our_notes(song))
    theirs = sorted((pitch, onset) for onset, pitch in others)
    return sum(a == b and abs(onset - other) <= tolerance for (a, onset), (b, other) in zip(ours, theirs, strict=True))


# Small pieces of music21's corpus: chorales, exercises, lead sheets with chord symbols, drums, piano, voice and piano.
SMALL = """
    bach/bwv165.6.mxl bach/bwv66.6.mxl bach/bwv248.23-s.mxl bach/bwv125.6.mxl bach/bwv145-a.mxl bach/bwv244.10.mxl
    bach/bwv248.17.mxl bach/bwv93.7.mxl bach/bwv178.7.mxl bach/bwv157.5.mxl bach/bwv244.17.mxl bach/bwv245.5.mxl
    bach/bwv248.9-s.mxl bach/bwv20.7.mxl bach/bwv248.28.mxl bach/bwv146.8.mxl bach/bwv99.6.mxl bach/bwv244.29-a.mxl
    bach/bwv197.7-a.mxl bach/bwv244.40.mxl bach/bwv158.4.mxl bach/bwv112.5.mxl bach/bwv162.6-lpz.mxl bach/bwv135.6.mxl
    demos/chord_realization_exercise.mxl demos/chorale_with_parallels.mxl demos/multiple-verses.xml
    demos/ComprehensiveChordSymbolsTestFile.mxl demos/incorrect_time_signature_pv.mxl demos/two-voices.xml
    demos/voices_with_chords.xml demos/two-parts.xml demos/drum_sample.xml demos/nested_tuplet_finale_test.xml
    demos/nested_tuplet_finale_test2.xml theoryExercises/checker_demo.mxl theoryExercises/TriadExercise.mxl
    leadSheet/berlinAlexandersRagtime.mxl leadSheet/fosterBrownHair.mxl schoenberg/opus19/movement2.mxl
    schoenberg/opus19/movement6.mxl verdi/laDonnaEMobile.mxl corelli/opus3no1/1grave.xml
""".split()  # noqa: SIM905  # a list of file names reads better as text

LARGER = """
    haydn/opus1no1/movement5.mxl mozart/k155/movement3.mxl liliuokalani/aloha_oe.mxl monteverdi/madrigal.3.15.mxl
    monteverdi/madrigal.3.8.mxl
""".split()  # noqa: SIM905  # as above


def test_no_note_is_lost_or_added_against_music21() -> None:
    root = corpus()
    counts = {name: read_musicxml((root / name).read_bytes(), name)[0].note_count for name in SMALL}
    assert counts == {name: music21_count(root / name) for name in SMALL}


@pytest.mark.slow
def test_no_note_is_lost_or_added_against_music21_in_larger_pieces() -> None:
    root = corpus()
    counts = {name: read_musicxml((root / name).read_bytes(), name)[0].note_count for name in LARGER}
    assert counts == {name: music21_count(root / name) for name in LARGER}


def test_cue_notes_are_the_only_difference_where_there_are_some() -> None:
    path = corpus() / "schumann_robert" / "opus48no2.mxl"
    song, findings = read_musicxml(path.read_bytes(), path.name)
    by_code = {finding.code: finding.count for finding in findings}
    # music21 cannot tell a cue from a note, and joins no tie whose end is not marked.
    assert music21_count(path) == song.note_count + by_code["cue-notes"] + by_code["tie-end-unmarked"]


@pytest.mark.parametrize("name", ["mozart/k156/movement2.mxl", "beethoven/opus18no1/movement3.mxl"])
def test_a_repeat_without_a_beginning_goes_back_to_the_repeat_before_where_others_go_to_the_start(name: str) -> None:
    # Two-part forms written |A:|B:|. The reference libraries repeat A with B; that neither dancer nor player does.
    # ABC music standard 2.1, section 4.8, of a repeat without a start: "playback programs should restart the music from
    # the beginning of the tune, or from the latest double bar line or end of repeated section".
    song, _ = read_musicxml((corpus() / name).read_bytes(), name)
    times_round = Counter(label.split(",")[0] for label in song.bar_map.labels)
    assert set(times_round.values()) <= {1, 2}
    assert times_round["1"] == 2


def test_the_same_notes_at_the_same_time_as_verovio() -> None:
    root = corpus()
    for name in SMALL[:12]:
        data = (root / name).read_bytes()
        song, _ = read_musicxml(data, name)
        theirs = verovio_notes(data)
        # verovio's MIDI has 120 ticks a quarter.
        assert struck_where_others_strike(song, theirs, tolerance=1 / 120) == song.note_count, name


def test_grace_notes_are_the_only_difference_to_verovio_where_there_are_some() -> None:
    name = "verdi/laDonnaEMobile.mxl"
    data = (corpus() / name).read_bytes()
    song, findings = read_musicxml(data, name)
    graces = {finding.code: finding.count for finding in findings}["grace-notes"]
    # verovio plays a grace note on the beat and delays its main note and the chord it is in: up to 5 notes each here.
    agreeing = struck_where_others_strike(song, verovio_notes(data), tolerance=1 / 120)
    assert song.note_count - 5 * graces <= agreeing < song.note_count


@pytest.mark.parametrize("number", [f"{number:02}" for number in range(1, 24)])
def test_conformance_files_give_the_notes_that_verovio_plays(number: str) -> None:
    data, name = numbered(number)
    song, _ = read_musicxml(data, name)
    if number in ("12", "13"):  # grace notes: another rule, the same notes
        assert sorted(song.pitch_midi.tolist()) == sorted(pitch for _, pitch in verovio_notes(data))
    elif number == "15":  # ties not ended: verovio joins fewer of them
        assert song.note_count == 2 < len(verovio_notes(data)) == 3
    elif number in ("10", "11"):  # verovio times tuplets by their brackets: wrong for nested, none for unbracketed ones
        assert sorted(song.pitch_midi.tolist()) == sorted(pitch for _, pitch in verovio_notes(data))
        durations = [10, 10, 4, 4, 4, 4, 4, 10, 10] if number == "10" else [96, 96, 64, 64, 64]
        own = [onset for onset, pitch in our_notes(song) if number == "10" or pitch > 64]
        begins = [sum(durations[:count]) / (30 if number == "10" else 96) for count in range(len(durations))]
        assert own == pytest.approx(begins)  # the file's own durations
    else:
        assert struck_where_others_strike(song, verovio_notes(data), tolerance=1 / 120) == song.note_count


def test_note_counts_are_those_of_the_lists_of_scores() -> None:
    # MANIFEST.tsv counts note heads of one playing, ties and cues included, by a reader of its own.
    compared = []
    listed = {name: counts for name, counts in SCORES.note_counts().items() if not name.endswith(".mid")}
    for name, (notes, bars) in listed.items():
        data = (SCORES / name).read_bytes()
        song, findings = read_musicxml(data, name)
        if len(song.bar_map.labels) == bars:
            count = {finding.code: finding.count for finding in findings}
            ends = (unpack(data, "") if data.startswith(b"PK") else data).count(b'<tie type="stop"')
            joined = ends - count.get("tie-not-begun", 0) + count.get("tie-end-unmarked", 0)
            assert song.note_count + joined + count.get("cue-notes", 0) == notes, name
            compared.append(name)
    assert len(compared) >= 20
    assert {name[:2] for name in listed.keys() - set(compared)} <= {"20", "30", "47", "48"}  # they have repeats


def test_one_piece_in_two_containers_is_one_score() -> None:
    names = ("schumann_robert/opus48no2.mxl", "schumann_robert/dichterliebe_no2.xml")
    packed, plain = (read_musicxml(*from_corpus(name))[0] for name in names)
    for column in ("onset_ticks", "duration_ticks", "pitch_midi", "velocity", "part"):
        assert getattr(packed, column).tolist() == getattr(plain, column).tolist(), column
    assert (packed.resolution, packed.parts, packed.bar_map.labels) == (
        plain.resolution,
        plain.parts,
        plain.bar_map.labels,
    )
    assert packed.sha256 != plain.sha256


def test_maple_leaf_rag_is_the_same_rag_in_another_editions_midi_file() -> None:
    # music21's corpus has MusicXML with repeats and endings written, the Mutopia edition's MIDI file plays repeats out.
    import mido

    song, _ = read_musicxml(*from_corpus("joplin/maple_leaf_rag.mxl"))
    (path,) = SCORES.glob("31_*")
    theirs = midi_notes(mido.MidiFile(path))
    assert song.note_count == len(theirs) == 2566
    alike = Counter(our_notes(song)) & Counter(theirs)
    assert alike.total() >= 2554  # editions differ in a few pitches


def test_drums_sound_by_their_midi_keys() -> None:
    # W3C percussion: midi-unpitched 39, 37, 50, 43 and 57 are General MIDI 38 snare, 36 kick, 49 crash,
    # 42 closed hi-hat and 56 cowbell (the names as pretty_midi has them).
    song, findings = read_musicxml(*from_corpus("demos/drum_sample.xml"))
    assert [(part.name, part.percussion) for part in song.parts] == [("Drums", True), ("Cowbell", True)]
    keys = [set(song.pitch_midi[song.part == part].tolist()) for part in (0, 1)]
    assert keys == [{36, 38, 42, 49}, {56}]
    assert findings == ()


def test_nested_tuplets_fall_on_exact_fifteenths() -> None:
    song, findings = read_musicxml(*from_corpus("demos/nested_tuplet_finale_test2.xml"))
    assert song.resolution == 15
    assert findings == ()
