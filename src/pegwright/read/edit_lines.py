"""Lines of edits from a file: one of plain lines, or a map that lists the edits that were made to it."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import Any

from pegwright.errors import InputError
from pegwright.read.bounded import bounded_bytes
from pegwright.read.map_folder import is_tables_alone
from pegwright.read.pinmap import HAND_EDITS, map_document
from pegwright.read.working_map import map_paths
from pegwright.units import printed

MAX_BYTES = 64 * 2**20


def read_edit_lines(path: Path) -> list[tuple[str, str]]:
    """The edits of a file or of the maps in a folder, each with its place; in a file of lines `#` begins a remark.

    Raises:
        InputError: it cannot be read, is not text, or is a map without edits; a folder has no map.
    """
    if is_tables_alone(path):
        hint = "give a map that `edit` wrote, or a file of edits"
        raise InputError("is a folder of CSV files, which list no edits", where=str(path), hint=hint)
    if path.is_dir():
        listed = [edit for each in map_paths(path) for edit in _of_map(map_document(each, str(each)), each)]
        return _refuse_none(listed, path)
    hint = "give an edit such as 'remove plate 3, channel 7, step 12 on', or a file of such lines"
    data = bounded_bytes(path, MAX_BYTES, hint, "give a file of edits")
    if data.removeprefix(b"\xef\xbb\xbf").lstrip().startswith(b"{"):
        return _refuse_none(_of_map(map_document(data, str(path)), path), path)
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        raise InputError(f"byte {printed(error.start)} is not text in UTF-8", where=str(path)) from error
    lines = ["" if line.lstrip().startswith("#") else line.strip() for line in text.splitlines()]
    return [(line, f"{path} line {printed(number)}") for number, line in enumerate(lines) if line]


def _of_map(document: Mapping[str, Any], path: Path) -> list[tuple[str, str]]:
    """The edits that a map lists, each with its set of plates."""
    edits = (document.get(HAND_EDITS) or {}).get("edits", [])
    letter = document.get("set", {}).get("letter", "")
    head = f"{letter}: " if letter else ""
    return [(f"{head}{each['edit']}", f"{path} edit {printed(number)}") for number, each in enumerate(edits)]


def _refuse_none(edits: list[tuple[str, str]], path: Path) -> list[tuple[str, str]]:
    if not edits:
        raise InputError("is a map to which no edits were made", where=str(path), hint="give one that `edit` wrote")
    return edits
