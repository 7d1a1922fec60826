"""Every note of a score knows the element of its file that it was read from."""

from __future__ import annotations

from pathlib import Path
from xml.etree.ElementTree import Element

import pytest

import musicxml_text as xml
from commands import SONGS
from pegwright.musicxml.reader import read_musicxml, read_written
from pegwright.read import read_score, written_music
from pegwright.score import Score, WrittenMusic
from places import SCORES

STEPS = {"C": 0, "D": 2, "E": 4, "F": 5, "G": 7, "A": 9, "B": 11}
FILES = [*SONGS.glob("*.musicxml"), *SONGS.glob("*.mxl"), *SCORES.glob("*.xml"), *SCORES.glob("*.mxl")]


def elements(music: WrittenMusic) -> list[tuple[Element, str, str, int]]:
    """Every note element, with part, bar label and the part's transposition where it stands."""
    found = []
    for name, bars in music.parts:
        semitones = 0
        for bar, element in bars.items():
            label = music.labels[bar]
            for child in element:
                if child.find("transpose") is not None and child.tag == "attributes":
                    octaves = int(child.findtext("transpose/octave-change", "0"))
                    semitones = int(child.findtext("transpose/chromatic", "0")) + 12 * octaves
                if child.tag == "note":
                    found.append((child, name, label, semitones))
    return found


def check(score: Score, music: WrittenMusic) -> None:
    known = elements(music)
    assert len(score.written) == score.note_count
    for note, number in enumerate(score.written.tolist()):
        element, part, label, semitones = known[number]
        source = score.source(note)
        assert source.part.removesuffix(", unpitched") == part
        if element.find("grace") is None:  # those sound before their place, perhaps in the bar before
            assert source.bar.partition(",")[0] == label
        step = element.findtext("pitch/step")
        if step is not None:
            alter = float(element.findtext("pitch/alter", "0"))
            octave = int(element.findtext("pitch/octave", "0"))
            assert int(score.pitch_midi[note]) == 12 * (octave + 1) + STEPS[step] + alter + semitones


@pytest.mark.parametrize("path", FILES, ids=lambda path: path.name)
def test_pitch_bar_and_part_of_a_note_are_those_of_its_element(path: Path) -> None:
    score, _ = read_score(path)
    check(score, written_music(path.read_bytes(), path.name))


def test_times_round_share_an_element_and_parts_count_on() -> None:
    one = xml.bars_of_quarters(["C4", "D4"], {2: xml.repeat("backward")})
    two = [xml.bar(xml.rest(4)), xml.bar(xml.note("E3", 4))]
    score, _ = read_musicxml(xml.score(one, two), "song.musicxml")
    assert score.written.tolist() == [0, 1, 3, 0, 1, 3]


def test_timewise_files_count_part_after_part() -> None:
    data = xml.score([xml.bar(xml.note("C4"), number=1), xml.bar(xml.note("D4"), number=2)], [xml.bar(xml.note("E3"))])
    timewise = (
        '<score-timewise><part-list><score-part id="P1"><part-name>Part P1</part-name></score-part>'
        '<score-part id="P2"><part-name>Part P2</part-name></score-part></part-list>'
        f'<measure number="1"><part id="P1">{xml.note("C4")}</part><part id="P2">{xml.note("E3")}</part></measure>'
        f'<measure number="2"><part id="P1">{xml.note("D4")}</part></measure></score-timewise>'
    ).encode()
    for text in (data, timewise):
        score, _ = read_musicxml(text, "song.musicxml")
        check(score, read_written(text, "song.musicxml"))
        assert score.written.tolist() == [0, 2, 1]


def test_midi_has_none() -> None:
    score, _ = read_score(SONGS / "shrimpers-jig.mid")
    assert score.written.tolist() == []
