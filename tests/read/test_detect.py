"""A file is known by its content; whatever is no score is refused with what it is."""

from __future__ import annotations

import io
import zipfile
from hashlib import sha256
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from midi_bytes import END, midi_file, note
from ordinary_user import open_folder, ordinary_user, shut
from pegwright.errors import InputError
from pegwright.formats import MAX_FILE_BYTES, Format
from pegwright.read import read_score
from pegwright.read.detect import sniff
from places import SCORES

__all__ = ["open_folder"]

MIDI = midi_file(note(0, 48) + END)
DOCTYPE = '<!DOCTYPE score-partwise SYSTEM "partwise.dtd">'
XML = f"""<?xml version="1.0" encoding="UTF-8"?>
<!-- <html> in a comment means nothing -->
{DOCTYPE}
<score-partwise version="4.0">
  <part-list><score-part id="P1"><part-name>Bells</part-name></score-part></part-list>
  <part id="P1"><measure number="1">
    <attributes><divisions>1</divisions><time><beats>4</beats><beat-type>4</beat-type></time></attributes>
    <note><pitch><step>C</step><octave>4</octave></pitch><duration>4</duration><type>whole</type></note>
  </measure></part>
</score-partwise>
"""
CONTAINER = '<container><rootfiles><rootfile full-path="song.xml"/></rootfiles></container>'


def zip_of(**files: str) -> bytes:
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w") as archive:
        for name, text in files.items():
            archive.writestr(zipfile.ZipInfo(name), text)  # of a fixed date: the bytes are part of test names
    return out.getvalue()


MXL = zip_of(**{"META-INF/container.xml": CONTAINER, "song.xml": XML})


@pytest.mark.parametrize(
    ("data", "form"),
    [
        (MIDI, Format.MIDI),
        (b"RIFF\x30\0\0\0RMIDdata\x20\0\0\0" + MIDI, Format.MIDI),
        (bytes(128) + MIDI, Format.MIDI),
        (XML.encode(), Format.MUSICXML),
        (b"\xef\xbb\xbf" + XML.encode(), Format.MUSICXML),
        (XML.replace("UTF-8", "UTF-16").encode("utf-16"), Format.MUSICXML),
        (b"\xfe\xff" + XML.replace("UTF-8", "UTF-16").encode("utf-16-be"), Format.MUSICXML),
        (XML.replace("UTF-8", "ISO-8859-1").encode("latin-1"), Format.MUSICXML),
        (b"\n " + XML.partition("?>")[2].encode(), Format.MUSICXML),
        (XML.replace("partwise", "timewise").encode(), Format.MUSICXML),
        (MXL, Format.MXL),
        (zip_of(**{"song.musicxml": XML}), Format.MXL),
    ],
)
def test_scores_are_known_by_content(data: bytes, form: Format) -> None:
    assert sniff(data) is form


@pytest.mark.parametrize(
    ("data", "told"),
    [
        (b"", "the file is empty: 0 bytes"),
        (b"This is a text about MThd chunks.", "not a score; it begins with 'This is a text about MTh"),
        (b"\0\1\2\3\4\5\6\7\x08", "it begins with 00 01 02 03 04 05 06 07"),
        (b"%PDF-1.7 ...", "the file is a PDF"),
        (b"\x89PNG\r\n", "the file is a picture"),
        (b"RIFF\0\0\0\0WAVEfmt ", "a RIFF file with no MIDI in it"),
        (b"ID3\x04", "recorded sound"),
        (b"\x1f\x8b\x08", "packed by gzip"),
        (b"<!DOCTYPE html>\n<html><body>Not found<br></body></html>", "a web page"),
        (b"<?xml version='1.0'?><html xmlns='x'><head/></html>", "a web page"),
        (b"<?xml version='1.0'?><svg/>", "its first element is 'svg', not score-partwise"),
        (b"<<<<", "XML but not a score: it begins with '<<<<'"),
        (b"<?xml version='1.0' encoding='no-such'?><score-partwise/>", "XML but not a score"),
        (MXL[:100], "Zip archive is damaged"),
        (b"PK\x03\x04", "Zip archive is damaged"),
        (zip_of(**{"song.mid": "x", "b.txt": "y"}), "no MusicXML score in it; it holds 2 files, among them 'b.txt'"),
        (zip_of(**{"[Content_Types].xml": "x", "word/document.xml": "y"}), "no MusicXML score in it"),
        (zip_of(mimetype="application/epub+zip", **{"META-INF/container.xml": CONTAINER}), "no MusicXML score in it"),
        (zip_of(), "the file is a Zip archive with no MusicXML score in it; it is empty"),
    ],
)
def test_what_is_no_score_is_told(data: bytes, told: str) -> None:
    with pytest.raises(InputError) as caught:
        sniff(data, "song.mid")
    line = str(caught.value)
    assert line.startswith("song.mid: ")
    assert told in line
    assert "\n" not in line
    assert caught.value.hint


@given(st.binary(max_size=300))
def test_any_bytes_are_known_or_refused(data: bytes) -> None:
    for head in (b"", b"<", b"PK\x03\x04", b"MThd"):
        try:
            form = sniff(head + data)
        except InputError:
            continue
        assert form in Format


def test_every_real_score_is_known() -> None:
    suffixes = {".mid": Format.MIDI, ".xml": Format.MUSICXML, ".mxl": Format.MXL}
    paths = [path for path in SCORES.glob("*") if path.suffix in suffixes]
    assert len(paths) >= 43
    assert all(sniff(path.read_bytes()) is suffixes[path.suffix] for path in paths)


@pytest.mark.parametrize(("data", "note_count"), [(MIDI, 1), (XML.encode(), 1), (MXL, 1)], ids=["midi", "xml", "mxl"])
def test_the_name_of_a_file_does_not_matter(tmp_path: Path, data: bytes, note_count: int) -> None:
    path = tmp_path / "A waltz.txt"
    path.write_bytes(data)
    score, _ = read_score(path)
    assert (score.note_count, score.title, score.file) == (note_count, "A waltz", "A waltz.txt")
    assert score.sha256 == sha256(data).hexdigest()


def test_what_cannot_be_opened_is_told(tmp_path: Path) -> None:
    for path, told in (
        (tmp_path / "none.mid", "no such file"),
        (tmp_path, "this is a folder, not a score"),
        (tmp_path / ("x" * 300), "cannot be read: File name too long"),
        (Path("a\0b"), "cannot be read: "),
    ):
        with pytest.raises(InputError, match=told) as caught:
            read_score(path)
        assert caught.value.where == str(path)
        assert caught.value.hint


def test_a_file_that_may_not_be_read_is_told(open_folder: Path) -> None:
    path = open_folder / "song.mid"
    path.write_bytes(MIDI)
    with ordinary_user():
        assert read_score(path)
    shut(path)
    with ordinary_user(), pytest.raises(InputError, match="Permission denied"):
        read_score(path)


def test_a_file_larger_than_the_limit_is_told(tmp_path: Path) -> None:
    path = tmp_path / "song.mid"
    with path.open("wb") as file:
        file.truncate(MAX_FILE_BYTES + 1)
    with pytest.raises(InputError, match="larger than 67,108,864 bytes"):
        read_score(path)
