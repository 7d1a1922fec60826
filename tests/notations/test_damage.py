"""Whatever a file in another notation holds, reading it ends in a score or in one line, the same each time."""

from __future__ import annotations

import random
import subprocess
import sys
from pathlib import Path
from xml.etree.ElementTree import tostring

import pytest

from notated import ABC, BY_FORM, KERN, MEI, THOROUGH, counts, read
from pegwright.errors import InputError
from pegwright.formats import Format
from pegwright.musicxml.archive import parse_xml
from pegwright.notations import convert as conversion
from pegwright.notations import to_musicxml
from pegwright.notations.convert import convert
from pegwright.read import read_score, written_music
from pegwright.read.detect import sniff
from places import ROOT

ROUNDS = 1000 if THOROUGH else 60
INSERTS = (
    b"999999999", b"-", b"0", b"|:", b":|", b"\t", b"\n", b"[", b'"', b"{", b"*^", b"*v", b"*-", b"%", b"&", b"(3",
    b"<", b">", b"\0", b"\xff", b"=", b"/", b".", b"Z", b"]", b"#", b"q",
)  # fmt: skip
WORDS = ("", "0", "-1", "x", "999", "#a", "1/0", "g", "breve", "\u266d", "3+", "perc")


def damaged(data: bytes, chance: random.Random) -> bytes:
    out = bytearray(data)
    for _ in range(chance.randint(1, 6)):
        first = chance.randrange(len(out))
        last = min(len(out), first + chance.randint(1, 12))
        kind = chance.randrange(6)
        if kind == 0:
            out[first] = chance.randrange(256)
        elif kind == 1:
            del out[first:last]
        elif kind == 2:
            out[first:first] = out[first:last] * chance.choice([1, 2, 50])
        elif kind == 3:
            out[first:first] = chance.choice(INSERTS)
        elif kind == 4 and chance.random() < 0.3:
            del out[first:]
        else:
            start = chance.randrange(len(out))
            out[first:last] = out[start : start + last - first]
        out = out or bytearray(b"X")
    return bytes(out)


def damaged_xml(text: str, chance: random.Random) -> bytes:
    """Other values in attributes, elements left out, doubled or renamed; still well-formed."""
    root = parse_xml(text.encode(), "song.txt")
    elements = list(root.iter())[1:]
    parents = {child: parent for parent in root.iter() for child in parent}
    for _ in range(chance.randint(1, 8)):
        element = chance.choice(elements)
        kind = chance.randrange(5)
        if kind <= 1 and element.attrib:
            element.set(chance.choice(sorted(element.attrib)), chance.choice(WORDS))
        elif kind == 2:
            element.tag = chance.choice(elements).tag
        elif kind == 3 and element in list(parents[element]):
            parents[element].remove(element)
        else:
            parents[element].append(element)
            if sum(1 for _ in root.iter()) > 400:
                break
    return tostring(root)


def score_or_line(data: bytes, form: Format) -> bool:
    """Whether it can be read; if not it is told in one line."""
    line = ""
    try:
        score, _ = read(data, form)
    except InputError as fault:
        line = str(fault)
    if line:
        assert line.startswith("song.txt")
        assert "\n" not in line
        return False
    assert len(score.onset_ticks) == score.note_count
    assert (score.onset_ticks >= 0).all()
    return True


@pytest.mark.usefixtures("in_process")
@pytest.mark.parametrize("form", [Format.ABC, Format.KERN, Format.MEI])
def test_a_damaged_file_gives_a_score_or_one_line(form: Format) -> None:
    readable = 0
    for seed in range(ROUNDS):
        readable += score_or_line(damaged(BY_FORM[form].encode(), random.Random(seed)), form)  # noqa: S311
    assert 0 < readable < ROUNDS


@pytest.mark.usefixtures("in_process")
def test_mei_with_unexpected_elements_and_values_gives_a_score_or_one_line() -> None:
    readable = 0
    for seed in range(ROUNDS):
        readable += score_or_line(damaged_xml(MEI, random.Random(seed)), Format.MEI)  # noqa: S311
    assert 0 < readable < ROUNDS


@pytest.mark.parametrize("length", ["10000", "399999", "9" * 5000])
def test_abc_with_a_note_that_never_ends_is_refused_at_once(length: str) -> None:
    pytest.importorskip("music21")
    with pytest.raises(InputError, match="at most 9,999 are read"):
        read(f"X:1\nT:Opus 123456789\nM:6/8\nL:1/8\nK:G\n|:G2A B2c|z{length} d|\n", Format.ABC)


def test_xml_that_declares_entities_is_refused() -> None:
    pytest.importorskip("music21")
    for declared in ('<!ENTITY a SYSTEM "file:///etc/passwd">', '<!ENTITY a "aaaaaaaaaa"><!ENTITY b "&a;&a;&a;">'):
        text = MEI.replace("?>", f"?><!DOCTYPE mei [{declared}]>", 1).replace("Lock Gates", "&a;")
        with pytest.raises(InputError, match="declares entities"):
            read(text, Format.MEI)


def test_xml_nested_beyond_reason_is_refused() -> None:
    pytest.importorskip("music21")
    text = MEI.replace("<section>", "<section>" * 5000).replace("</section>", "</section>" * 5000)
    with pytest.raises(InputError, match="nested more than 100 deep"):
        read(text, Format.MEI)


def test_files_and_songs_beyond_the_limits_are_refused(monkeypatch: pytest.MonkeyPatch) -> None:
    pytest.importorskip("music21")
    monkeypatch.setattr(to_musicxml, "MAX_BOOK_BYTES", 1000)
    with pytest.raises(InputError, match=r"1,001 bytes of ABC; at most 1,000 are read \(cut the song into shorter"):
        read(ABC.encode().ljust(1001), Format.ABC)
    monkeypatch.setattr(to_musicxml, "MAX_SONG_CHARACTERS", 100)
    with pytest.raises(InputError, match="characters as played of Humdrum"):
        read(KERN, Format.KERN)
    monkeypatch.setattr(to_musicxml, "MAX_MEI_BYTES", 100)
    with pytest.raises(InputError, match="bytes of MEI; at most 100"):
        read(MEI, Format.MEI)


def test_sections_played_without_end_are_refused() -> None:
    pytest.importorskip("music21")
    text = "**kern\n*>[" + ",".join(["A"] * 20_000) + "]\n*>A\n" + "4c\n4d\n=\n" * 20 + "*-\n"
    with pytest.raises(InputError, match="sections as played hold more than"):
        read(text, Format.KERN)


def test_a_file_over_which_the_library_takes_too_long_is_refused(monkeypatch: pytest.MonkeyPatch) -> None:
    pytest.importorskip("music21")
    monkeypatch.setattr(conversion, "LIMIT_S", 0.01)
    with pytest.raises(InputError, match=r"music21 takes longer than 0.01 s"):
        read(ABC, Format.ABC)


def test_a_breakdown_of_the_library_is_one_line(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    pytest.importorskip("music21")
    broken = tmp_path / "converter.py"
    broken.write_text("import os, sys\nsys.stdin.read()\nprint('half an ans')\nos._exit(11)\n")
    monkeypatch.setattr(conversion, "_PROGRAM", broken)
    with pytest.raises(InputError, match="music21 breaks down over this MEI"):
        read(MEI, Format.MEI)


def test_words_of_the_library_come_in_one_short_line() -> None:
    pytest.importorskip("music21")
    with pytest.raises(InputError) as caught:
        convert("X:1\nM:4/4\nK:C\n" + "[" * 5000 + "C|\n", Format.ABC, "song.abc")
    assert str(caught.value).startswith("song.abc: music21 cannot read this ABC: ")
    assert len(str(caught.value)) < 400


@pytest.mark.parametrize("form", [Format.ABC, Format.KERN, Format.MEI])
def test_two_runs_in_processes_of_their_own_give_the_same(form: Format, tmp_path: Path) -> None:
    pytest.importorskip("music21")
    path = tmp_path / "song"
    path.write_text(BY_FORM[form])
    (first, found), (second, found_again) = read_score(path), read_score(path)
    for name in ("onset_ticks", "duration_ticks", "pitch_midi", "velocity", "part", "written"):
        assert getattr(first, name).tolist() == getattr(second, name).tolist()
    assert counts(found) == counts(found_again)
    assert (first.parts, first.bar_map.labels, first.sha256) == (second.parts, second.bar_map.labels, second.sha256)
    music = written_music(path.read_bytes(), path.name)
    assert sum(bar.findall("note") != [] for _, bars in music.parts for bar in bars.values())
    assert music.labels[0] == "1"
    bars = [[tostring(bar) for bar in bars.values()] for _, bars in music.parts]
    again = written_music(path.read_bytes(), path.name)
    assert bars == [[tostring(bar) for bar in bars.values()] for _, bars in again.parts]


@pytest.mark.parametrize(
    ("data", "form"),
    [
        (ABC.encode(), Format.ABC),
        (b"%abc-2.1\n% a book\nM:6/8\n\nX: 1\nK:C\nCDE|\n", Format.ABC),
        (ABC.encode("utf-16"), Format.ABC),
        (b"\xef\xbb\xbf" + ABC.replace("\n", "\r\n").encode(), Format.ABC),
        (KERN.encode(), Format.KERN),
        (b"!! a comment\n!!!OTL: x\n\n**text\t**kern\n", Format.KERN),
        (MEI.encode(), Format.MEI),
        (MEI.replace("UTF-8", "UTF-16").encode("utf-16"), Format.MEI),
        (b'<m:mei xmlns:m="http://www.music-encoding.org/ns/mei"/>', Format.MEI),
    ],
)
def test_the_notation_is_known_by_content(data: bytes, form: Format) -> None:
    assert sniff(data, "song.mid") is form


@pytest.mark.parametrize(
    "data", [b"X: no tune\n", b"X:1\nbut no key\n", b"** bold **\n", b"**text\n*-\n", b"K:C\nX:1\n"]
)
def test_other_texts_are_no_songs(data: bytes) -> None:
    with pytest.raises(InputError, match="not a score; it begins with"):
        sniff(data)


WITHOUT = "import sys; sys.modules['music21'] = None; from pegwright.cli.main import main; sys.exit(main(sys.argv[1:]))"


def pegwright(*arguments: str, program: tuple[str, ...] = ("-m", "pegwright")) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, *program, *arguments], capture_output=True, encoding="utf-8", check=False, timeout=120
    )


@pytest.mark.parametrize(("form", "name"), [(Format.ABC, "ABC"), (Format.KERN, "Humdrum **kern"), (Format.MEI, "MEI")])
def test_without_the_library_one_line_tells_what_to_install(form: Format, name: str, tmp_path: Path) -> None:
    song = tmp_path / "song.txt"
    song.write_text(BY_FORM[form])
    wheel = str(ROOT / "songs" / "merrow-sands.toml")
    done = pegwright("fit", str(song), "--wheel", wheel, program=("-c", WITHOUT))
    assert done.returncode == 1
    assert done.stdout == ""
    assert done.stderr.count("\n") == 1
    assert f"song.txt: {name} is read by means of the library music21, which is not installed" in done.stderr
    assert "pip install 'pegwright[other-scores]'" in done.stderr


def test_the_command_line_fits_a_tune(tmp_path: Path) -> None:
    pytest.importorskip("music21")
    song = tmp_path / "whistle.abc"
    song.write_text(ABC)
    done = pegwright("fit", str(song), "--wheel", str(ROOT / "songs" / "merrow-sands.toml"))
    assert done.returncode in (0, 3), done.stderr
    assert "Second Whistle" in done.stdout
    assert "1 ornament ignored" in done.stdout
