"""What kind of score a file holds, by its content and never by its name."""

from __future__ import annotations

import io
import re
from contextlib import suppress

from pegwright.errors import InputError
from pegwright.formats import NAME_FOLDER, PIN_MAP, PLATE_CSV, TAKEN_AS_IT_IS, Format, is_plate_csv
from pegwright.read.midi.chunks import header_at
from pegwright.units import plural

_CONTAINER = "META-INF/container.xml"
_SCORE_ROOTS = frozenset({"score-partwise", "score-timewise"})
_SCORE_SUFFIXES = (".xml", ".musicxml")
_HEAD_BYTES = 65_536  # a score's first element comes within this
_READABLE = "give MIDI (.mid), MusicXML (.musicxml, .xml, .mxl), ABC (.abc), Humdrum **kern (.krn) or MEI (.mei)"
_ABC_TUNE = re.compile(rb"^X:[ \t]*[0-9].*?^K:", re.MULTILINE | re.DOTALL)  # ABC 2.1, 2.2.1: X: first, K: last
_KERN_SPINE = re.compile(rb"\A(?:!.*\r?\n|[ \t]*\r?\n)*(?:\*\*\S+\t+)*\*\*kern\b")  # Humdrum: comments, then **
_PIN_MAP = re.compile(rb'\{\s*"format"\s*:\s*"pegwright pin map"')
_XML_STARTS = (b"<", b"\xef\xbb\xbf<", b"\xff\xfe<\0", b"\xfe\xff\0<", b"<\0", b"\0<")
_KNOWN = (
    (b"%PDF", "a PDF, which is a picture of the score", "export the score from the program that made it"),
    ((b"\x89PNG", b"\xff\xd8\xff"), "a picture", "export the score from the program that made it"),
    (b"RIFF", "a RIFF file with no MIDI in it, perhaps sound", "sound holds no notes; find the song as MIDI"),
    ((b"ID3", b"OggS", b"fLaC"), "recorded sound", "sound holds no notes; find the song as MIDI"),
    (b"\x1f\x8b", "packed by gzip", "unpack it first"),
)


def sniff(data: bytes, file_name: str = "") -> Format:
    """The format of a file.

    Args:
        data: the file's bytes, or at least its first 64 KiB; a Zip archive whole.
        file_name: for messages.

    Raises:
        InputError: it is not a score; the message says what it seems to be instead.
    """
    if not data:
        raise InputError("the file is empty: 0 bytes", where=file_name, hint="save or download it again")
    if data.startswith((b"PK\x03\x04", b"PK\x05\x06")):
        return _sniff_zip(data, file_name)
    if header_at(data) >= 0:
        return Format.MIDI
    text_start = data[:_HEAD_BYTES].lstrip()
    if text_start.startswith(_XML_STARTS):
        return _sniff_xml(text_start, file_name)
    for magic, what, advice in _KNOWN:
        if data.startswith(magic):
            raise InputError(f"the file is {what}", where=file_name, hint=f"{advice}; {_READABLE}")
    return _sniff_text(text_start, data, file_name)


def _sniff_text(head: bytes, data: bytes, where: str) -> Format:
    if head.startswith((b"\xff\xfe", b"\xfe\xff")):
        head = head[: len(head) // 2 * 2].decode("utf-16", errors="replace").encode()
    head = head.removeprefix(b"\xef\xbb\xbf").replace(b"\r\n", b"\n").replace(b"\r", b"\n")
    if _PIN_MAP.match(head):
        raise InputError(f"the file is {PIN_MAP}", where=where, hint=TAKEN_AS_IT_IS)
    if is_plate_csv(head):
        raise InputError(PLATE_CSV, where=where, hint=NAME_FOLDER)
    if _KERN_SPINE.match(head):
        return Format.KERN
    if head.startswith(b"%abc") or _ABC_TUNE.search(head):
        return Format.ABC
    raise InputError(f"the file is not a score; it begins with {_shown(data)}", where=where, hint=_READABLE)


def _sniff_zip(data: bytes, where: str) -> Format:
    import zipfile  # noqa: PLC0415  # loaded for what is packed

    try:
        with zipfile.ZipFile(io.BytesIO(data)) as archive:
            names = archive.namelist()
    except (zipfile.BadZipFile, OSError, ValueError, NotImplementedError) as fault:
        raise InputError("the Zip archive is damaged or cut short", where=where, hint="download it again") from fault
    listed = {name for name in names if not name.startswith("__MACOSX/")}
    office = "[Content_Types].xml" in listed or data[30:].startswith(b"mimetypeapplication/epub")
    if not office and (_CONTAINER in listed or any(name.lower().endswith(_SCORE_SUFFIXES) for name in listed)):
        return Format.MXL
    held = f"holds {plural(len(names), 'file')}, among them {_shown(min(names).encode())}" if names else "is empty"
    raise InputError(
        f"the file is a Zip archive with no MusicXML score in it; it {held}",
        where=where,
        hint=f"unpack it and {_READABLE}",
    )


def _sniff_xml(head: bytes, where: str) -> Format:
    root = _root_name(head)
    if root in _SCORE_ROOTS:
        return Format.MUSICXML
    if root.rpartition(":")[2] == "mei":
        return Format.MEI
    if root.lower() == "html" or head[:15].lower() == b"<!doctype html>":
        raise InputError(
            "the file is a web page, not a score", where=where, hint="download the score itself, not its page"
        )
    start = f"its first element is {_shown(root.encode())}" if root else f"it begins with {_shown(head)}"
    raise InputError(
        f"the file is XML but not a score: {start}, not score-partwise, score-timewise or mei",
        where=where,
        hint=f"export the score as MusicXML; {_READABLE}",
    )


def _root_name(head: bytes) -> str:
    """Name of the first element, or nothing where XML allows none."""
    from xml.parsers import expat  # noqa: PLC0415  # loaded for what is XML

    names: list[str] = []
    parser = expat.ParserCreate()
    parser.StartElementHandler = lambda name, _: names.append(name)
    with suppress(expat.ExpatError, ValueError, LookupError):  # broken further on: what came before is enough
        parser.Parse(head, False)
    return names[0] if names else ""


def _shown(data: bytes) -> str:
    """The first bytes in quotes, or in hex where they are not text."""
    start = data[:24]
    text = start.decode("latin-1")
    return repr(text) if start.isascii() and all(c.isprintable() or c.isspace() for c in text) else start[:8].hex(" ")
