"""Bars drawn as music: the right notes are marked, whatever the file, and nothing else comes along.

Oracles: music21 and verovio's own reading of pitches, two reference libraries that share no code with our reader.
"""

from __future__ import annotations

import json
import re
import subprocess
import sys
import warnings
from fractions import Fraction
from functools import cache
from pathlib import Path
from typing import Any
from xml.etree import ElementTree

import pytest

import musicxml_text as xml
import samples
from commands import SONGS, WHEEL
from engraved import DEAF, chosen, fitted, key, pictures
from pegwright.ask.request import Request
from pegwright.config import load_wheel
from pegwright.musicxml.archive import unpack
from pegwright.musicxml.reader import read_written
from pegwright.remedy.song_remedies import Remedies, Shortfall
from pegwright.song import FittedSong
from pegwright.song_pipeline.files import song_files
from pegwright.song_pipeline.fitting import fit_file, remedies_for
from pegwright.write.notation import engrave as engraving
from pegwright.write.notation.document import music_documents
from pegwright.write.notation.markup import pictures_html
from pegwright.write.notation.pictures import INSTALL
from pegwright.write.notation.redraw import SHAPES, SPACE
from placed import page_of
from places import ROOT, SCORES

COMMITTEE = SONGS / "the-committee-regrets.musicxml"
FILES = [COMMITTEE, SONGS / "round-the-pier-and-back.mxl", *SCORES.glob("*.xml"), *SCORES.glob("4[5679]*.mxl")]
BLANK = '<svg viewBox="0 0 9 9" xmlns="http://www.w3.org/2000/svg"><svg viewBox="0 0 9 9"/></svg>'
HOSTILE = "</svg><script>alert(1)</script>\"'&amp;&lt;img src=x onerror=alert(2)&gt;\u202e\U0001f941"

NO_REMEDIES = (Remedies(Shortfall(0, 0, 0, 0), (), {}, 0), None)


def tree(text: str | bytes) -> ElementTree.Element:
    return ElementTree.fromstring(text)  # noqa: S314  # written by the code under test


def music(path: Path) -> bytes:
    data = path.read_bytes()
    return unpack(data, path.name) if data.startswith(b"PK") else data


@cache
def music21_stream(data: bytes) -> Any:  # noqa: ANN401  # music21 has no types
    pytest.importorskip("music21")
    from music21.musicxml.xmlToM21 import MusicXMLImporter

    importer = MusicXMLImporter()
    importer.xmlText = data
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # of things that do not matter to pitch and place
        importer.parseXMLText()
    return importer.stream


def music21_notes(data: bytes) -> dict[tuple[str, str, Fraction], set[int]]:
    """Part, bar number and quarters into the bar -> pitches, as written."""
    found: dict[tuple[str, str, Fraction], set[int]] = {}
    for part in music21_stream(data).parts:
        for bar in part.getElementsByClass("Measure"):
            for element in bar.recurse().notes:
                pitches = {pitch.midi for pitch in element.pitches}
                place = Fraction(element.getOffsetInHierarchy(bar)).limit_denominator(1000)
                found.setdefault((part.partName, f"{bar.number}", place), set()).update(pitches)
    return found


def test_marked_notes_stand_where_music21_reads_them_in_the_song() -> None:
    """Part, bar, beat and pitch of every pitched mark."""
    data = music(COMMITTEE)
    known = music21_notes(data)
    fit = fitted(data)
    checked = 0
    for each in chosen(data).pictures:
        for mark in each.marks:
            note = mark.notes[0]
            source = fit.score.source(note)
            if not fit.score.percussion_notes()[note]:
                assert int(fit.score.pitch_midi[note]) in known[source.part, source.bar, source.beat - 1]
                checked += 1
    assert checked > 100


def test_the_labels_given_to_the_engraver_stand_at_these_notes_in_music21() -> None:
    """Over every marked note stands its number, and music21 finds the note's pitch under it."""
    data = music(COMMITTEE)
    fit, found = fitted(data), chosen(data)
    note_of = {f"M{mark.number}": mark.notes[0] for each in found.pictures for mark in each.marks}
    checked = 0
    for document in music_documents(read_written(data, "song.musicxml"), found.pictures):
        known = music21_notes(document)
        for part in music21_stream(document).parts:
            for bar in part.getElementsByClass("Measure"):
                for label in bar.recurse().getElementsByClass("TextExpression"):
                    note = note_of.pop(label.content)
                    source = fit.score.source(note)
                    assert (part.partName, f"{bar.number}") == (source.part, source.bar)
                    place = Fraction(label.getOffsetInHierarchy(bar)).limit_denominator(1000)
                    assert abs(place - (source.beat - 1)) < Fraction(1, 100)
                    if not fit.score.percussion_notes()[note]:
                        near = [
                            pitches
                            for (name, number, at), pitches in known.items()
                            if (name, number) == (source.part, source.bar) and abs(at - place) < Fraction(1, 100)
                        ]
                        assert int(fit.score.pitch_midi[note]) in set().union(*near)
                        checked += 1
    assert note_of == {}
    assert checked > 100


@pytest.mark.parametrize("path", FILES, ids=lambda path: path.name)
def test_the_marked_notes_sound_in_verovio_as_they_do_here(path: Path) -> None:
    verovio = pytest.importorskip("verovio")
    verovio.enableLog(verovio.LOG_OFF)
    data = music(path)
    fit, found = fitted(data), chosen(data)
    parts = read_written(data, path.name)
    toolkit = verovio.toolkit()
    for each, document in zip(found.pictures, music_documents(parts, found.pictures), strict=True):
        assert toolkit.loadData(document.decode())
        toolkit.renderToMIDI()
        for mark in each.marks:
            note = mark.notes[0]
            heard = toolkit.getMIDIValuesForElement(f"mark-{mark.number}")
            if heard and not fit.score.percussion_notes()[note]:
                assert heard["pitch"] == int(fit.score.pitch_midi[note]), (path.name, mark)


@pytest.mark.parametrize("path", FILES, ids=lambda path: path.name)
def test_every_marked_note_is_found_in_its_picture(path: Path) -> None:
    found = pictures(music(path))
    assert found.pictures
    assert not [line for line in key(found) if "not in the picture" in line]
    html = pictures_html(found)
    for each in found.pictures:
        for line in each.key:
            group = f'<g class="mark {line.level}" data-mark="{line.number}">'
            assert html.count(group) >= 2, "one for the note, one for the shape and number over it"


def test_the_ring_is_at_the_height_that_music21_gives_the_note() -> None:
    """In the treble clef the lowest line is E4, diatonic number 31; from there half a space a step."""
    names = ["C4", "E4", "G#4", "B4", "Bb5", "A5", "F5", "D4"]
    data = xml.score(
        [
            xml.bar(
                xml.attributes(xml.QUARTER + "<time><beats>8</beats><beat-type>4</beat-type></time>"),
                *[xml.note(name) for name in names],
            )
        ]
    )
    pytest.importorskip("music21")
    from music21.pitch import Pitch

    (page,) = pictures(data).pictures[0].pages
    lines = {float(y) for y in re.findall(r'<path d="M[0-9.]+ ([0-9.]+) L[0-9.]+ \1" stroke-width="13"/>', page.body)}
    assert len(lines) == 5
    rings = re.findall(r'data-mark="(\d+)">(?:(?!<text).)*?<ellipse class="ring" cx="[\d.]+" cy="([\d.]+)"', page.body)
    assert len(rings) == len(names)
    for number, height in rings:
        steps = (max(lines) - float(height)) / (SPACE / 2)
        diatonic = Pitch(names[int(number) - 1].replace("b", "-")).diatonicNoteNum
        assert steps == pytest.approx(diatonic - 31, abs=0.2), names[int(number) - 1]


def test_same_song_same_bytes() -> None:
    data = music(COMMITTEE)
    assert pictures_html(pictures(data)) == pictures_html(pictures(data))


def test_a_compressed_song_has_its_pictures_in_its_folder_and_page() -> None:
    from pegwright.draw.paper import paper_named

    fit = fit_file(SONGS / "round-the-pier-and-back.mxl", load_wheel(WHEEL), Request(turns=1))
    files = song_files(fit, remedies_for(fit), paper_named("a4"), 0)
    assert b'class="picture"' in files["report.html"]
    assert "score-bars.svg" not in files, "the page has them"


def test_a_song_that_fits_and_a_midi_song_have_none() -> None:
    from pegwright.draw.paper import paper_named

    wheel = load_wheel(WHEEL)
    for name in ("bathing-machine-minuet.musicxml", "lamplighters-march.mid"):
        files = song_files(fit_file(SONGS / name, wheel, Request()), NO_REMEDIES, paper_named("a4"), 0)
        assert b'class="picture"' not in files["report.html"]
        assert b"notation]" not in files["report.html"], "no hint where there is nothing to draw"


@pytest.fixture
def lost(tmp_path: Path) -> FittedSong:
    """A song of a file of its own with one note left out, small enough to have its remedies tried quickly."""
    path = tmp_path / "song.musicxml"
    path.write_bytes(xml.one_bar(xml.note("C4"), xml.note("C9"), xml.rest(2)))
    return fit_file(path, samples.wheel(), Request())


def test_without_the_library_the_page_says_what_to_install(lost: FittedSong, monkeypatch: pytest.MonkeyPatch) -> None:
    assert 'class="picture"' in page_of(lost).decode()
    monkeypatch.setitem(sys.modules, "verovio", None)
    page = page_of(lost).decode()
    assert "To see the bars in trouble as music, install what draws it: pip install 'pegwright[notation]'" in page
    assert 'class="picture"' not in page
    assert "1 of 2 notes sounds" in page


def test_the_extra_that_the_hint_names_brings_the_library() -> None:
    import tomllib

    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    assert f"pip install '{project['name']}[notation]'" == INSTALL
    assert [need.partition(">")[0] for need in project["optional-dependencies"]["notation"]] == ["verovio"]


def test_the_library_is_never_loaded_into_this_program(lost: FittedSong) -> None:
    assert 'class="picture"' in page_of(lost).decode()
    loaded = run([sys.executable, "-c", "import sys, pegwright.song_pipeline.files; print('verovio' in sys.modules)"])
    assert loaded.stdout == b"False\n"


def run(command: list[str]) -> subprocess.CompletedProcess[bytes]:
    return subprocess.run(command, check=True, capture_output=True)


def test_a_song_that_is_gone_or_changed_after_it_was_read_keeps_its_pictures(lost: FittedSong) -> None:
    Path(lost.edited.path).unlink()
    assert 'class="picture"' in page_of(lost).decode()


@pytest.mark.parametrize(
    ("program", "said"),
    [
        ("import os; os.abort()", "could not read them"),
        ("raise MemoryError", "could not read them"),
        ("print('not JSON')", "could not read them"),
        ("while True: pass", "took longer than 0.5 s over them"),
        (f"print({json.dumps([[BLANK]])!r})", "gave no drawing of them"),
        ("""print('[["<svg>"]]')""", "gave no drawing of them"),
        ("""print('[["<svg/>"]]')""", "gave no drawing of them"),
    ],
    ids=["crash", "exception", "nonsense", "endless", "blank", "cut short", "empty"],
)
def test_whatever_befalls_the_engraver_the_page_is_made(
    lost: FittedSong,
    program: str,
    said: str,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    capfd: pytest.CaptureFixture[str],
) -> None:
    path = tmp_path / "engraver.py"
    path.write_text(program, encoding="utf-8")
    monkeypatch.setattr(engraving, "_PROGRAM", path)
    monkeypatch.setattr(engraving, "LIMIT_S", 0.5)
    page = page_of(lost).decode()
    assert f"The bars in trouble are not shown as music: the notation library {said}" in page
    assert capfd.readouterr() == ("", "")


def test_a_file_in_the_users_folder_is_not_taken_for_the_library(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (tmp_path / "verovio.py").write_text("raise SystemExit(3)", encoding="utf-8")
    (tmp_path / "json.py").write_text("raise SystemExit(3)", encoding="utf-8")
    monkeypatch.chdir(tmp_path)
    assert pictures(xml.one_bar(xml.note("C4", 4))).pictures


def test_nothing_goes_to_the_engraver_but_music() -> None:
    link = '<link xlink:href="http://example.com/x" xmlns:xlink="http://www.w3.org/1999/xlink"/>'
    image = '<image source="http://example.com/x.png" type="image/png"/>'
    data = xml.one_bar(
        link,
        f"<direction><direction-type>{image}</direction-type></direction>",
        xml.words("http://example.com/words"),
        xml.note(
            "C4",
            4,
            "<lyric><text>la</text><extend/></lyric><play><other-play type='x'>http://example.com</other-play></play>",
            attributes=' id="mark-9" color="url(http://example.com/)" print-object="no"',
        ),
        head='<credit><credit-image source="http://example.com/x.png" type="image/png"/></credit>',
    )
    (document,) = music_documents(read_written(data, "song.musicxml"), chosen(data).pictures)
    assert b"example.com" not in document
    root = tree(document)
    assert {name for element in root.iter() for name in element.attrib} <= {"version", "id", "number", "placement"}
    assert [note.get("id") for note in root.iter("note")] == ["mark-1"]
    assert root.findtext(".//lyric/text") == "la"


ODD_NOTES = [
    "<staff>999</staff>",
    "<staff>-1</staff>",
    "<dot/>" * 200,
    "<type>none</type>",
    "<time-modification><actual-notes>0</actual-notes><normal-notes>0</normal-notes></time-modification>",
    '<beam number="9">end</beam>' * 50,
    '<notations><tuplet type="stop"/></notations>',
    '<notations><tied type="stop"/></notations>',
    '<notations><ornaments><tremolo type="single">99</tremolo></ornaments></notations>',
    f"<lyric><text>{'x' * 100_000}</text></lyric>",
    f"<lyric><text>{HOSTILE.replace('</', '&lt;/').replace('<', '&lt;')}</text></lyric>",
    "<lyric><text>M1</text></lyric>",
    "<voice>99999999999999999999</voice>",
    "<notations>" * 3000 + "</notations>" * 3000,
]
ODD_ATTRIBUTES = [
    "<staves>999999999</staves>",
    "<staves>-5</staves>",
    "<staff-details><staff-lines>999</staff-lines></staff-details>",
    "<key><fifths>-999</fifths></key>",
    "<clef><sign>&lt;script&gt;</sign><line>999</line></clef>",
    '<clef number="99"><sign>F</sign></clef>',
    "<type>note</type><beats>3</beats><direction/>",
    "<time><beats>4</beats></time>",
    "<time><beats>4</beats><beat-type/></time>",
    "<time><beats>4</beats><beat-type>0</beat-type></time>",
    "<time><beats>0</beats><beat-type>4</beat-type></time>",
    "<time><beats>x</beats><beat-type>4</beat-type></time>",
    "<divisions>0.5</divisions>",
    '<time symbol="x"><beats>999</beats><beat-type>128</beat-type></time>',
]


@pytest.mark.parametrize("extra", ODD_NOTES, ids=range(len(ODD_NOTES)))
def test_odd_notes_are_drawn_and_marked(extra: str) -> None:
    drawn = pictures(xml.one_bar(xml.note("C4", 1, extra), xml.note("D4"), xml.note("E4", 2)))
    assert len(key(drawn)) == 3
    harmless(drawn.pictures[0].pages[0].body)


@pytest.mark.parametrize("extra", ODD_ATTRIBUTES, ids=range(len(ODD_ATTRIBUTES)))
def test_odd_attributes_do_not_stop_the_drawing(extra: str) -> None:
    drawn = pictures(xml.score([xml.bar(xml.attributes(xml.QUARTER + extra), *[xml.note("C4")] * 4)]))
    assert len(key(drawn)) == 4
    harmless(drawn.pictures[0].pages[0].body)


def harmless(body: str) -> None:
    """Only shapes and texts, with no attribute that leads out of the page or runs anything."""
    root = tree(f"<svg>{body}</svg>")
    allowed = {"svg", "g", "path", "use", "polygon", "polyline", "rect", "ellipse", "text", "tspan"}
    assert {element.tag for element in root.iter()} <= allowed
    for element in root.iter():
        assert not [name for name in element.attrib if name.startswith(("on", "style", "id", "{"))]
        assert re.fullmatch(r"#glyph-[0-9A-F]+", element.get("href", "#glyph-0"))
        assert not [value for value in element.attrib.values() if "url(" in value or "javascript" in value]


def test_hostile_words_stay_words_in_the_picture_and_its_key() -> None:
    part_list = (
        f'<score-part id="P1"><part-name>{HOSTILE.replace("</", "&lt;/").replace("<", "&lt;")}</part-name></score-part>'
    )
    drawn = pictures(xml.score([xml.bar(xml.note("C4", 4), number="&lt;b&gt;")], part_list=part_list))
    html = pictures_html(drawn)
    assert "<script" not in html
    assert "<b>" not in html
    assert "<img" not in html


def test_clefs_keys_and_metres_of_earlier_bars_are_in_force_in_a_picture() -> None:
    """A bass clef, three sharps and 3/4 set in bars that are not drawn; a new key in the bar that is."""
    three = "<time><beats>3</beats><beat-type>4</beat-type></time>"
    data = xml.score(
        [
            xml.bar(
                xml.attributes(xml.QUARTER + "<key><fifths>3</fifths></key>" + xml.FOUR_FOUR), xml.rest(4), number=1
            ),
            xml.bar(xml.attributes(three + "<clef><sign>F</sign><line>4</line></clef>"), xml.rest(3), number=2),
            xml.bar(xml.rest(3), number=3),
            xml.bar(xml.attributes("<key><fifths>-1</fifths></key>"), xml.note("C3", 3), number=4),
        ]
    )
    (document,) = music_documents(read_written(data, "song.musicxml"), chosen(data).pictures)
    bars = tree(document).findall("part/measure")
    assert [bar.get("number") for bar in bars] == ["4"]
    (opening,) = bars[0].findall("attributes")
    assert [child.tag for child in opening] == ["divisions", "key", "time", "clef"]
    assert opening.findtext("key/fifths") == "-1"
    assert opening.findtext("time/beats") == "3"
    assert opening.findtext("clef/sign") == "F"


def test_of_many_parts_only_those_with_marks_are_drawn() -> None:
    silent = [xml.bar(xml.rest(4))]
    data = xml.score(*[silent] * 3, [xml.bar(xml.note("C4", 4))], silent)
    (document,) = music_documents(read_written(data, "song.musicxml"), chosen(data).pictures)
    assert [part.text for part in tree(document).iter("part-name")] == ["Part P4"]
    data = xml.score(*[silent] * 3, [xml.bar(xml.note("C4", 4))])
    (document,) = music_documents(read_written(data, "song.musicxml"), chosen(data).pictures)
    assert len(tree(document).findall("part")) == 4


def test_a_transposing_part_is_shown_as_written_and_that_is_said() -> None:
    transpose = "<transpose><chromatic>-2</chromatic></transpose>"
    drawn = pictures(xml.score([xml.bar(xml.attributes(xml.QUARTER + transpose), xml.note("C4", 4))]))
    assert key(drawn) == ["1 Bb3, bar 1 beat 1, Part P1: left out: no channel for this pitch"]
    assert drawn.remarks == (
        "Parts for transposing instruments stand as written; the names of their notes are as they sound",
    )


def test_shapes_are_those_of_the_page() -> None:
    from importlib import resources

    script = (resources.files("pegwright") / "page" / "wheel.js").read_text(encoding="utf-8")
    for level, path in SHAPES.items():
        assert f'{level}: "{path}"' in script


def test_a_deaf_wheel_leaves_every_note_out() -> None:
    assert fitted(music(COMMITTEE), DEAF).placed_count == 0
