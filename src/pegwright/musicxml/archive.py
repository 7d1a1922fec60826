"""MusicXML bytes, plain or zipped, to an element tree, safely: nothing is unpacked to disk or fetched."""

from __future__ import annotations

import io
import stat
import zipfile
import zlib
from xml.etree.ElementTree import Element, TreeBuilder
from xml.parsers import expat

from pegwright.errors import InputError
from pegwright.formats import MAX_FILE_BYTES
from pegwright.units import plural

ZIP_MAGIC = b"PK"
MAX_TAGS = 2_000_000  # opening and closing, some 30 MB of score; at most about 0.7 GB of memory
MAX_MEMBERS = 1000
MAX_RATIO = 500  # real scores pack 10 to 60 times smaller; the method's own limit is about 1030
FREE_BYTES = 2**20  # a member this small is harmless at any ratio

_CONTAINER = "META-INF/container.xml"
_ENCRYPTED = 0x1
_METHODS = (zipfile.ZIP_STORED, zipfile.ZIP_DEFLATED)
_EXPORT_AGAIN = "export the score again from the program that made it"
_SAVE_LESS = "save only the parts and movements you need"
_UNPACK = "unpack it and give the .musicxml file itself"


def xml_tree(data: bytes, file: str) -> Element:
    """The root element of a MusicXML file, plain or compressed, by its first bytes.

    Args:
        data: the whole file.
        file: its name, for messages.

    Returns:
        The root, whatever its tag. Names keep their prefix (`xlink:href`); no DTD is fetched.

    Raises:
        InputError: the archive or the XML is broken, too large, or built to harm the reader.

    Source: MusicXML 4.0, "Compressed .mxl files": a ZIP archive whose META-INF/container.xml names
        the score in its first rootfile.
    """
    return parse_xml(unpack(data, file) if data.startswith(ZIP_MAGIC) else data, file)


def parse_xml(data: bytes, file: str) -> Element:
    """Parse XML, and refuse every declaration that could expand or fetch anything.

    Raises:
        InputError: broken XML, with line and column; a declaration of entities or attributes; too large.
    """
    if len(data) > MAX_FILE_BYTES or data.count(b"<") > MAX_TAGS:
        held = f"{plural(len(data), 'byte')} and {plural(data.count(b'<'), 'tag')}"
        raise _refused(f"the score holds {held}; the limits are {MAX_FILE_BYTES:,} and {MAX_TAGS:,}", file, _SAVE_LESS)
    content = data.lstrip(b" \t\r\n")  # some programs leave an empty line first, where XML allows none
    skipped_lines = data[: len(data) - len(content)].count(b"\n")
    builder = TreeBuilder()
    parser = _parser(builder, skipped_lines, file)
    try:
        parser.Parse(content, True)
    except expat.ExpatError as fault:
        reason, line = expat.ErrorString(fault.code), fault.lineno + skipped_lines
        message = f"not readable as XML: {reason} at line {line}, column {fault.offset + 1}"
        raise _refused(message, file) from fault
    except (ValueError, LookupError) as fault:  # an encoding Python does not know
        message = "not readable as XML: it names a text encoding unknown here"
        raise _refused(message, file, "save it as UTF-8") from fault
    root: Element = builder.close()
    return root


def _parser(builder: TreeBuilder, skipped_lines: int, file: str) -> expat.XMLParserType:
    """A parser that builds a tree and refuses every declaration that could expand or fetch anything."""
    parser = expat.ParserCreate()
    parser.buffer_text = True
    parser.StartElementHandler = builder.start
    parser.EndElementHandler = builder.end
    parser.CharacterDataHandler = builder.data

    def refuse(*_: object) -> None:
        line = parser.CurrentLineNumber + skipped_lines
        raise _refused(f"line {line} declares entities or attributes of its own, which a score never needs", file)

    # A doctype line alone is usual and harmless; what it could declare inside its brackets is not.
    parser.EntityDeclHandler = refuse
    parser.AttlistDeclHandler = refuse
    return parser


def unpack(data: bytes, file: str) -> bytes:
    """The score inside a .mxl archive.

    Raises:
        InputError: it is not an archive, is encrypted or too large, or does not hold a single score.
    """
    try:
        with zipfile.ZipFile(io.BytesIO(data)) as archive:
            return _score_bytes(archive, file)
    except (zipfile.BadZipFile, zlib.error, EOFError, OSError, ValueError, NotImplementedError) as fault:
        raise _refused("looks like a compressed score (.mxl) but the archive is broken", file) from fault


def _score_bytes(archive: zipfile.ZipFile, file: str) -> bytes:
    members = archive.infolist()
    if len(members) > MAX_MEMBERS:
        raise _refused(f"the archive holds {len(members):,} files; the limit is {MAX_MEMBERS:,}", file, _UNPACK)
    by_name = {member.filename: member for member in members}
    if _CONTAINER in by_name:
        name = _rootfile(_member_bytes(archive, by_name[_CONTAINER], file), file)
        if name not in by_name:
            raise _refused(f"{_CONTAINER} names the score {_shown(name)}, which the archive does not hold", file)
    else:
        name = _only_score(list(by_name), file)
    content = _member_bytes(archive, by_name[name], file)
    if content.startswith(ZIP_MAGIC):
        raise _refused(f"the archive's score {_shown(name)} is itself an archive", file)
    return content


def _rootfile(container: bytes, file: str) -> str:
    """The path of the score, from the container's first rootfile."""
    for element in parse_xml(container, f"{file}:{_CONTAINER}").iter():
        if element.tag.rpartition(":")[2] == "rootfile":
            return element.get("full-path", "")
    raise _refused(f"{_CONTAINER} names no score", file)


def _only_score(names: list[str], file: str) -> str:
    """Without a container: the one .xml or .musicxml file outside the archive's own folders."""
    scores = [
        name
        for name in names
        if name.lower().endswith((".xml", ".musicxml")) and not name.startswith(("META-INF/", "__MACOSX/"))
    ]
    if len(scores) != 1:
        message = f"the archive has no {_CONTAINER} and {plural(len(scores), 'score')} in it instead of 1"
        raise _refused(message, file, _UNPACK)
    return scores[0]


def _member_bytes(archive: zipfile.ZipFile, member: zipfile.ZipInfo, file: str) -> bytes:
    """One member, read in memory, never more of it than the limit, regardless of its header."""
    name = _shown(member.filename)
    if member.flag_bits & _ENCRYPTED:
        raise _refused(f"{name} in the archive is encrypted", file, "save the score without a password")
    if member.compress_type not in _METHODS:
        raise _refused(f"{name} is packed by a method that .mxl does not use", file)
    if stat.S_ISLNK(member.external_attr >> 16) or _leads_outside(member.filename):
        raise _refused(f"{name} in the archive points outside it", file)
    with archive.open(member) as stream:
        content = stream.read(MAX_FILE_BYTES + 1)
    if len(content) > MAX_FILE_BYTES or len(content) > max(FREE_BYTES, MAX_RATIO * member.compress_size):
        sizes = f"from {plural(member.compress_size, 'byte')} to {len(content):,} or more"
        limits = f"{MAX_FILE_BYTES:,} and {MAX_RATIO} times"
        raise _refused(f"{name} unpacks {sizes}; the limits are {limits}", file, _SAVE_LESS)
    return content


def _refused(message: str, file: str, hint: str = _EXPORT_AGAIN) -> InputError:
    return InputError(message, where=file, hint=hint)


def _leads_outside(name: str) -> bool:
    return name.startswith("/") or "\\" in name or ".." in name.split("/")


def _shown(name: str) -> str:
    """A name out of a file, quoted and cut so that it stays on one line of a message."""
    return repr(name[:80])
