"""JSON as bytes that are the same on every run and easy to read."""

from __future__ import annotations

import json
from collections.abc import Iterable, Iterator, Mapping, Sequence

from pegwright.json_value import Json

PIECE_CHARACTERS = 2**16  # about that many are written at a time
_SCALARS = frozenset({str, int, float, bool, type(None)})  # seen at once; to ask whether a value is a sequence is slow
DECIMALS = 3  # of a millimetre or a millisecond: finer than any drill and any ear


def rounded(value: float) -> float:
    """A length or time as it is written: three decimals and never a minus zero."""
    return round(float(value), DECIMALS) + 0.0


def objects(columns: Sequence[str], rows: Iterable[Sequence[Json]]) -> list[Json]:
    """The rows of a table as objects, a key for each column."""
    return [dict(zip(columns, row, strict=True)) for row in rows]


def json_file(name: str, version: int, document: Mapping[str, Json]) -> bytes:
    """A document in one of our formats; arguments are the format's name and version, and what follows them."""
    return json_bytes({"format": name, "version": version, **document})


def json_pieces(name: str, version: int, document: Mapping[str, Json | Iterator[Json]]) -> Iterator[bytes]:
    """The bytes of `json_file` in pieces, for a document too large to be held as a whole.

    Args:
        name: of the format.
        version: of the format.
        document: what follows them; a list of objects can be an iterator, and its objects are made as they are written.
    """
    pieces: list[str] = []
    length = 0
    for text in _lines({"format": name, "version": version, **document}):
        pieces.append(text)
        length += len(text)
        if length > PIECE_CHARACTERS:
            yield _encoded("".join(pieces))
            pieces, length = [], 0
    yield _encoded("".join(pieces))


def _lines(document: Mapping[str, Json | Iterator[Json]]) -> Iterator[str]:
    comma = "{\n"
    for key, value in document.items():
        yield f"{comma}  {json.dumps(key)}: "
        if isinstance(value, Iterator):
            inner_comma = "[\n    "
            for inner in value:
                yield inner_comma + _text(inner, "    ")
                inner_comma = ",\n    "
            yield "[]" if inner_comma.startswith("[") else "\n  ]"
        else:
            yield _text(value, "  ")
        comma = ",\n"
    yield "\n}\n"


def _encoded(text: str) -> bytes:
    return text.encode("utf-8", "replace")


def json_bytes(document: Mapping[str, Json]) -> bytes:
    """A document in UTF-8, its keys in the order given, one line for each innermost object.

    Text that is no Unicode (half of a surrogate pair, out of a broken file name) becomes `?`.

    Source: RFC 8259 (UTF-8, no byte order mark); numbers that are not finite are refused.
    """
    return _encoded(_text(document, "") + "\n")


def _text(value: Json, indent: str) -> str:
    deeper = indent + "  "
    if _is_flat(value):
        return json.dumps(value, ensure_ascii=False, allow_nan=False)
    if isinstance(value, Mapping):
        lines = [f"{deeper}{json.dumps(key)}: {_text(inner, deeper)}" for key, inner in value.items()]
        return "{\n" + ",\n".join(lines) + f"\n{indent}}}"
    assert isinstance(value, Sequence)  # noqa: S101  # narrows for mypy: scalars are flat
    return "[\n" + ",\n".join(deeper + _text(inner, deeper) for inner in value) + f"\n{indent}]"


def _is_flat(value: Json) -> bool:
    if isinstance(value, str) or not isinstance(value, Mapping | Sequence):
        return True
    inner = value.values() if isinstance(value, Mapping) else value
    return all(
        type(item) in _SCALARS or isinstance(item, str) or not isinstance(item, Mapping | Sequence) for item in inner
    )
