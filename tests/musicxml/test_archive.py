"""MusicXML archives and XML from anywhere: read in memory, or refused in one line."""

from __future__ import annotations

import io
import stat
import zipfile

import pytest

from musicxml_text import note, one_bar
from pegwright.errors import InputError
from pegwright.formats import MAX_FILE_BYTES
from pegwright.musicxml import archive
from pegwright.musicxml.archive import parse_xml, xml_tree
from pegwright.musicxml.reader import read_musicxml, read_written

TUNE = one_bar(note("C4"))
CONTAINER = (
    '<?xml version="1.0"?><container><rootfiles><rootfile full-path="{}"/>'
    '<rootfile full-path="other.pdf" media-type="application/pdf"/></rootfiles></container>'
)


def zipped(members: dict[str, bytes], compression: int = zipfile.ZIP_DEFLATED) -> bytes:
    buffer = io.BytesIO()
    with zipfile.ZipFile(buffer, "w", compression) as made:
        for name, content in members.items():
            made.writestr(name, content)
    return buffer.getvalue()


def mxl(name: str = "tune.xml", content: bytes = TUNE, **more: bytes) -> bytes:
    return zipped({"META-INF/container.xml": CONTAINER.format(name).encode(), name: content, **more})


def refusal(data: bytes, file: str = "tune.mxl") -> str:
    with pytest.raises(InputError) as caught:
        read_musicxml(data, file)
    text = str(caught.value)
    assert text.startswith(file)
    assert "\n" not in text
    assert caught.value.hint
    return text


# Archives


@pytest.mark.parametrize("compression", [zipfile.ZIP_STORED, zipfile.ZIP_DEFLATED])
def test_the_score_is_the_first_rootfile_of_the_container(compression: int) -> None:
    # W3C MusicXML 4.0, compressed .mxl files: META-INF/container.xml, first rootfile.
    members = {
        "mimetype": b"application/vnd.recordare.musicxml",
        "META-INF/container.xml": CONTAINER.format("a b/score.musicxml").encode(),
        "decoy.xml": b"<no/>",
        "a b/score.musicxml": TUNE,
    }
    assert xml_tree(zipped(members, compression), "x.mxl").tag == "score-partwise"


def test_a_container_may_use_prefixed_names() -> None:
    container = b'<c:container xmlns:c="urn:c"><c:rootfiles><c:rootfile full-path="t.xml"/></c:rootfiles></c:container>'
    assert xml_tree(zipped({"META-INF/container.xml": container, "t.xml": TUNE}), "x.mxl").tag == "score-partwise"


def test_without_a_container_the_only_score_is_taken() -> None:
    archive_bytes = zipped({"cover.png": b"", "__MACOSX/._tune.xml": b"x", "Tune.MusicXML": TUNE})
    assert xml_tree(archive_bytes, "x.mxl").tag == "score-partwise"


@pytest.mark.parametrize("members", [{}, {"a.txt": b""}, {"a.xml": TUNE, "b.xml": TUNE}])
def test_without_a_container_none_or_several_scores_are_refused(members: dict[str, bytes]) -> None:
    assert "instead of 1" in refusal(zipped(members))


def test_a_container_that_names_nothing_or_a_missing_file_is_refused() -> None:
    assert "names no score" in refusal(zipped({"META-INF/container.xml": b"<container/>"}))
    missing = zipped({"META-INF/container.xml": CONTAINER.format("gone.xml").encode(), "t.xml": TUNE})
    assert "'gone.xml'" in refusal(missing)


@pytest.mark.parametrize("name", ["../up.xml", "/etc/passwd", "a/../../b.xml", "a\\b.xml"])
def test_paths_that_lead_outside_are_refused(name: str) -> None:
    assert "points outside" in refusal(mxl(name))


def test_symbolic_links_are_refused() -> None:
    buffer = io.BytesIO()
    with zipfile.ZipFile(buffer, "w") as made:
        link = zipfile.ZipInfo("tune.xml")
        link.external_attr = (stat.S_IFLNK | 0o777) << 16
        made.writestr(link, "/etc/passwd")
    assert "points outside" in refusal(buffer.getvalue())


def test_an_archive_inside_the_archive_is_refused() -> None:
    assert "itself an archive" in refusal(mxl(content=zipped({"tune.xml": TUNE})))


def test_a_member_that_unpacks_out_of_all_proportion_is_refused() -> None:
    assert "500 times" in refusal(mxl(content=b" " * 20_000_000))


def test_a_member_larger_than_the_limit_is_never_unpacked_whole(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(archive, "MAX_FILE_BYTES", 1000)
    assert "1,001 or more" in refusal(mxl(content=b"<a/>" * 1000))


def test_a_header_that_claims_a_small_size_cannot_smuggle_a_large_one() -> None:
    data = bytearray(zipped({"tune.xml": b" " * 20_000_000}))
    size = (20_000_000).to_bytes(4, "little")
    while (at := data.find(size)) >= 0:
        data[at : at + 4] = (100).to_bytes(4, "little")
    refusal(bytes(data))


def test_too_many_members_are_refused() -> None:
    assert "1,001 files" in refusal(zipped({f"{number}.txt": b"" for number in range(1001)}))


def test_encrypted_and_oddly_packed_members_are_refused() -> None:
    data = bytearray(zipped({"tune.xml": TUNE}))
    for header, flags in (b"PK\x03\x04", 6), (b"PK\x01\x02", 8):
        data[data.find(header) + flags] |= 1
    assert "encrypted" in refusal(bytes(data))
    assert "packed by a method" in refusal(zipped({"tune.xml": TUNE}, zipfile.ZIP_BZIP2))


@pytest.mark.parametrize("cut", [2, 30, 200, -30, -1])
def test_a_broken_archive_is_told(cut: int) -> None:
    assert "archive is broken" in refusal(mxl()[:cut])


# XML


def test_broken_xml_is_told_with_line_and_column() -> None:
    assert "mismatched tag at line 2, column 6" in refusal(b"<a>\n<b></a>", "t.xml")
    assert "no element found at line 1, column 1" in refusal(b"", "t.xml")
    assert "not well-formed" in refusal(b"MThd\x00\x00\x00\x06", "t.xml")


def test_an_empty_line_first_does_no_harm_and_is_counted() -> None:
    assert parse_xml(b'\n\r\n<?xml version="1.0"?><a/>', "t.xml").tag == "a"
    assert "line 3, column 6" in refusal(b"\n<a>\n<b></a>", "t.xml")


def test_the_usual_doctype_is_accepted_and_nothing_is_fetched() -> None:
    doctype = b'<!DOCTYPE score-partwise SYSTEM "http://192.0.2.1/partwise.dtd">'
    assert parse_xml(doctype + b"<score-partwise>&nbsp;</score-partwise>", "t.xml").tag == "score-partwise"


LAUGHS = "".join(f'<!ENTITY l{n} "{f"&l{n - 1};" * 10}">' for n in range(1, 10))


@pytest.mark.parametrize(
    "subset",
    [
        f'<!ENTITY l0 "ha">{LAUGHS}',
        '<!ENTITY x SYSTEM "file:///etc/passwd">',
        '<!ENTITY % x SYSTEM "http://192.0.2.1/x.dtd"> %x;',
        f'<!ATTLIST note long CDATA "{"x" * 1000}">',
    ],
)
def test_declarations_that_expand_or_fetch_are_refused(subset: str) -> None:
    data = f"<!DOCTYPE score-partwise [{subset}]><score-partwise>&l9;&x;</score-partwise>".encode()
    assert "declares entities or attributes" in refusal(data, "t.xml")


def test_encodings_and_byte_order_marks() -> None:
    body = "<score-partwise><movement-title>Grüße ♪</movement-title></score-partwise>"
    for head, encoding in (("", "utf-8-sig"), ('<?xml version="1.0" encoding="UTF-16"?>', "utf-16"), ("", "utf-8")):
        assert parse_xml((head + body).encode(encoding), "t.xml").findtext("movement-title") == "Grüße ♪"
    latin = '<?xml version="1.0" encoding="windows-1252"?><a>Grüße</a>'.encode("cp1252")
    assert parse_xml(latin, "t.xml").text == "Grüße"
    assert "encoding" in refusal(b'<?xml version="1.0" encoding="klingon"?><a/>', "t.xml")


def test_nesting_very_deep_does_no_harm() -> None:
    depth = 300_000
    assert "<a>" in refusal(b"<a>" * depth + b"</a>" * depth, "t.xml")


def test_files_beyond_the_limits_are_refused() -> None:
    assert f"limits are {MAX_FILE_BYTES:,}" in refusal(b" " * (MAX_FILE_BYTES + 1), "t.xml")
    assert "2,000,000" in refusal(b"<a/>" * 2_000_001, "t.xml")


@pytest.mark.parametrize(
    ("data", "seen"),
    [
        (b"<html><body/></html>", "<html>"),
        (b"<opus/>", "<opus>"),
        (b"<container/>", "<container>"),
        ("<ж\u2028/>".encode(), "not readable as XML"),
    ],
)
def test_other_xml_is_told_by_its_root(data: bytes, seen: str) -> None:
    assert seen in refusal(data, "t.xml")


@pytest.mark.parametrize("body", ["", "<part-list/>", '<part id="P1"/>'])
def test_a_score_without_bars_is_refused(body: str) -> None:
    assert "no part with a bar" in refusal(f"<score-partwise>{body}</score-partwise>".encode(), "t.xml")


def test_a_timewise_score_reads_as_the_same_partwise_one() -> None:
    # W3C MusicXML 4.0, score-timewise: measures of parts instead of parts of measures.
    def note_of(pitch: str) -> str:
        return note(pitch, 4)

    divisions = "<attributes><divisions>1</divisions></attributes>"
    listed = '<part-list><score-part id="A"><part-name>A</part-name></score-part></part-list>'
    timewise = (
        f'<score-timewise>{listed}<measure number="1"><part id="A">{divisions}{note_of("C4")}</part>'
        f'<part id="B">{divisions}{note_of("E3")}</part></measure>'
        f'<measure number="2"><part id="B">{note_of("F3")}</part></measure>'
        f'<measure number="3"><part id="A">{note_of("D4")}</part></measure></score-timewise>'
    )
    partwise = (
        f'<score-partwise>{listed}<part id="A"><measure number="1">{divisions}{note_of("C4")}</measure>'
        f'<measure number="2"/><measure number="3">{note_of("D4")}</measure></part>'
        f'<part id="B"><measure number="1">{divisions}{note_of("E3")}</measure>'
        f'<measure number="2">{note_of("F3")}</measure><measure number="3"/></part></score-partwise>'
    )
    songs = [read_musicxml(text.encode(), "t.xml")[0] for text in (timewise, partwise)]
    for column in ("onset_ticks", "duration_ticks", "pitch_midi", "part"):
        assert getattr(songs[0], column).tolist() == getattr(songs[1], column).tolist()
    assert songs[0].onset_ticks.tolist() == [0, 0, 4, 8]
    assert [part.name for part in songs[0].parts] == ["A", "Part 2"]
    assert songs[0].bar_map.labels == songs[1].bar_map.labels


def test_a_timewise_score_has_only_the_bars_that_it_names() -> None:
    count = 40
    body = "".join(
        f'<measure number="m{number}"><part id="P{number}">{note("C4", 4)}</part></measure>' for number in range(count)
    )
    data = f'<score-timewise version="4.0"><part-list/>{body}<measure number="end"/></score-timewise>'.encode()
    music = read_written(data, "t.xml")
    # The first part has every bar, so that each has its number; the others have one.
    assert [len(bars) for _, bars in music.parts] == [count + 1, *[1] * (count - 1)]
    assert music.labels == (*(f"m{number}" for number in range(count)), "end")
    song, _ = read_musicxml(data, "t.xml")
    assert song.onset_ticks.tolist() == [4 * number for number in range(count)]
    assert song.part.tolist() == list(range(count))
