"""Names of files and folders made from any text, such as a song's title."""

from __future__ import annotations

import unicodedata
from collections.abc import Iterable, Mapping

from pegwright.errors import InternalError

MAX_NAME_BYTES = 120  # leaves room for a suffix within the 255 that most file systems allow
_HYPHENATED = frozenset('<>:"/\\|?*')
_DROPPED = frozenset("$'&!()%`;")  # a shell or a batch file reads more into these than a mark
_DEVICES = frozenset(
    ["con", "prn", "aux", "nul", "conin$", "conout$", "clock$"]
    + [f"{port}{digit}" for port in ("com", "lpt") for digit in "0123456789¹²³"]
)


def safe_name(text: str, ending: str = "") -> str:
    """A file name made from any text, such as a song's title: safe on every common system and in a shell.

    Letters of every script stay; marks that some system reserves, controls and spaces become hyphens, marks that a
    shell would act on are dropped; names of devices get an underscore. The text is cut so that the name has at most
    120 bytes of UTF-8; the ending, by which names with one long text differ, is never cut. Two texts can give one
    name.

    Args:
        text: any text.
        ending: a few letters or digits; a hyphen comes before it.

    Returns:
        a name that is never empty and has neither a leading dot nor a leading hyphen.

    Source: Microsoft, "Naming Files, Paths, and Namespaces" (reserved marks and names, no ending
        in a dot or space); Unicode Annex 15, form NFC; IEEE 1003.1 "Shell Command Language", 2.2 (marks that a
        shell acts on).
    """
    last = f"-{ending}" if ending else ""
    room = MAX_NAME_BYTES - len(last.encode())
    plain = unicodedata.normalize("NFC", text[: 4 * MAX_NAME_BYTES])
    spaced = "".join("-" if _is_unsafe(mark) else mark for mark in plain if mark not in _DROPPED)
    joined = "-".join(part for part in unicodedata.normalize("NFC", spaced).split("-") if part)
    name = joined.encode()[:room].decode(errors="ignore").strip("-. ") or "untitled"
    return f"{'_' if name.partition('.')[0].casefold() in _DEVICES else ''}{name}{last}"


def joined_files(*groups: Mapping[str, bytes]) -> dict[str, bytes]:
    """Groups of files as one: file name -> contents.

    Raises:
        InternalError: two files have one name, or names that are one where capitals do not count.
    """
    files = {name: data for group in groups for name, data in group.items()}
    check_distinct(name for group in groups for name in group)
    return files


def check_distinct(names: Iterable[str]) -> None:
    """Refuse to write two files under one name, or under names that are one where capitals do not count.

    Raises:
        InternalError: there are two.
    """
    seen: dict[str, str] = {}
    for name in names:
        key = unicodedata.normalize("NFC", name).casefold()
        if key in seen:
            message = f"two files would be written as {name}, so that the second replaced the first"
            raise InternalError(message, hint="nothing was written; please report this with the songs")
        seen[key] = name


def _is_unsafe(mark: str) -> bool:
    return mark in _HYPHENATED or unicodedata.category(mark)[0] in "CZ"  # controls, formats, surrogates; spaces
