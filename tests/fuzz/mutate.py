"""Bytes, text and values made wrong in small ways, by a random generator with a seed."""

from __future__ import annotations

import random
import re
from collections.abc import Mapping, Sequence
from typing import Any, TypeAlias

ODD_BYTES = (0x00, 0x01, 0x7F, 0x80, 0xF0, 0xF7, 0xFF)
ODD_NUMBERS = (
    "0", "-1", "1e9", "1e300", "nan", "inf", "99999999999999999999", "0.0000001", "1/0", "-0", "2147483648", "65536"
)  # fmt: skip
ODD_VALUES: tuple[Any, ...] = (
    0, -1, 1, 2**31, 2**63, 0.1, 1e300, -1e-300, float("nan"), float("inf"), True, "", "1/3", "x" * 400, "\x1b[31m",
    "../up", [], [0], {}, [[1]], "1/0", "=1+1", "ä\u202e",
)  # fmt: skip

Tree: TypeAlias = Any  # tables, lists and values

_NUMBER = re.compile(rb"-?\d+(?:\.\d+)?")
_TAG = re.compile(rb"<[^>]*>")


def mutated_bytes(data: bytes, chance: random.Random) -> bytes:
    """One to six bytes changed, taken out, put in or doubled; now and then the end cut off."""
    changed = bytearray(data)
    for _ in range(chance.randint(1, 6)):
        if not changed:
            break
        place = chance.randrange(len(changed))
        match chance.randrange(6):
            case 0:
                changed[place] = chance.choice(ODD_BYTES)
            case 1:
                changed[place] ^= 1 << chance.randrange(8)
            case 2:
                del changed[place : place + chance.randint(1, 8)]
            case 3:
                changed[place:place] = bytes(chance.choice(ODD_BYTES) for _ in range(chance.randint(1, 4)))
            case 4:
                changed[place:place] = changed[place : place + chance.randint(1, 40)]
            case _:
                if chance.random() < 0.3:
                    del changed[place:]
                else:
                    changed[place] = chance.randrange(256)
    return bytes(changed)


def mutated_markup(data: bytes, chance: random.Random) -> bytes:
    """Numbers, tags and whole stretches of markup changed, moved or taken out."""
    for _ in range(chance.randint(1, 4)):
        match chance.randrange(5):
            case 0 | 1:
                data = _replaced(_NUMBER, data, chance, chance.choice(ODD_NUMBERS).encode())
            case 2:
                data = _replaced(_TAG, data, chance, b"")
            case 3:
                tags = _TAG.findall(data)
                data = _replaced(_TAG, data, chance, chance.choice(tags) if tags else b"")
            case _:
                first, past = sorted(chance.randrange(len(data) + 1) for _ in range(2))
                past = min(past, first + 400)
                place = chance.randrange(len(data) + 1)
                data = data[:place] + data[first:past] + data[place:]
    return data


def _replaced(pattern: re.Pattern[bytes], data: bytes, chance: random.Random, other: bytes) -> bytes:
    places = list(pattern.finditer(data))
    if not places:
        return data
    place = chance.choice(places)
    return data[: place.start()] + other + data[place.end() :]


def mutated_tree(tree: Tree, chance: random.Random) -> Tree:
    """A tree of tables, lists and values with one thing changed, taken out, doubled or put in."""
    tree = _copy(tree)
    nodes = list(_containers(tree))
    node = chance.choice(nodes)
    if isinstance(node, dict):
        _change_table(node, chance)
    elif node:
        _change_list(node, chance)
    return tree


def _change_table(table: dict[str, Any], chance: random.Random) -> None:
    keys = list(table)
    match chance.randrange(4) if keys else 3:
        case 0:
            del table[chance.choice(keys)]
        case 3:
            table[chance.choice(("pitches", "rows", "odd", "name", "plates", ""))] = chance.choice(ODD_VALUES)
        case _:
            key = chance.choice(keys)
            table[key] = odd_for(table[key], chance)


def _change_list(items: list[Any], chance: random.Random) -> None:
    place = chance.randrange(len(items))
    match chance.randrange(4):
        case 0:
            del items[place]
        case 1:
            items.insert(place, _copy(items[place]))
        case _:
            items[place] = odd_for(items[place], chance)


def odd_for(value: Tree, chance: random.Random) -> Tree:
    """Another value of the same kind that is near a bound, or one of another kind."""
    if isinstance(value, int | float) and not isinstance(value, bool) and chance.random() < 0.6:
        return chance.choice((value * 2, value / 3, -value, value + 1, 0))
    return chance.choice(ODD_VALUES)


def _copy(tree: Tree) -> Tree:
    if isinstance(tree, Mapping):
        return {key: _copy(value) for key, value in tree.items()}
    if isinstance(tree, Sequence) and not isinstance(tree, str):
        return [_copy(value) for value in tree]
    return tree


def _containers(tree: Tree) -> Sequence[Tree]:
    inner: list[Any] = [tree] if isinstance(tree, dict | list) else []
    for value in tree.values() if isinstance(tree, dict) else tree if isinstance(tree, list) else ():
        inner += _containers(value)
    return inner
