"""The page on file formats says what the schemas say, and the files do what the page says."""

from __future__ import annotations

import hashlib
import json
import re
from typing import Any

import pytest

from pegwright.write.pin_map.json import pin_map_json
from pegwright.write.pin_map.rows import PIN_COLUMNS
from pegwright.write.swap.data import COLUMNS as SWAP_COLUMNS
from placed import Note, placed, small_wheel
from places import ROOT
from schemas import schema

PAGE = (ROOT / "docs" / "file-formats.md").read_text(encoding="utf-8")
NAMES = (
    "pin-map-3.json",
    "fit-report-3.json",
    "pin-count-1.json",
    "swap-1.json",
    "show-plan-2.json",
    "plate-1.json",
    "seams-1.json",
    "stack-1.json",
    "pin-check-1.json",
    "pins-found-1.json",
)
OLDER = (
    "pin-map-1.json",
    "pin-map-2.json",
    "fit-report-1.json",
    "fit-report-2.json",
    "show-plan-1.json",
    "show-count-1.json",
)  # described by their schemas alone
TYPES = {"string": "text", "integer": "whole number", "number": "number", "boolean": "true or false", "null": "null"}
REFERENCES = {"sha256": "64 hex digits", "number": "whole number from 1", "count": "whole number", "step": "step"}


def kind(node: dict[str, Any]) -> str:
    """What a value may be, in the words of the page."""
    if "$ref" in node:
        name = str(node["$ref"]).rpartition("/")[2]
        return REFERENCES.get(name, name.replace("_", " "))
    if "oneOf" in node:
        return " or ".join(map(kind, node["oneOf"]))
    if "const" in node or "enum" in node:
        return ", ".join(f"`{value}`" for value in node.get("enum", [json.dumps(node.get("const"))]))
    if node["type"] == "array":
        return f"list of {kind(node['items'])}"
    types = node["type"] if isinstance(node["type"], list) else [node["type"]]
    return " or ".join(TYPES.get(str(name), str(name)) for name in types)


def rows() -> list[str]:
    """Every line that the tables of keys must have."""
    made = []
    for name in NAMES:
        described = schema(name)
        for part in (described, *(node for node in described["$defs"].values() if "properties" in node)):
            made += [f"| `{key}` | {kind(node)} | {node['description']} |" for key, node in part["properties"].items()]
    return made


def test_every_key_is_described_as_in_its_schema() -> None:
    expected = rows()
    assert len(expected) > 80
    assert [row for row in expected if row not in PAGE.splitlines()] == []


@pytest.mark.parametrize("name", [*NAMES, *OLDER])
def test_every_schema_is_named_and_linked(name: str) -> None:
    assert f"(../src/pegwright/schema/{name})" in PAGE


@pytest.mark.parametrize("columns", [PIN_COLUMNS, SWAP_COLUMNS])
def test_columns_of_csv_files_are_listed_in_their_order(columns: list[str]) -> None:
    assert ", ".join(f"`{column}`" for column in columns) in " ".join(PAGE.split())


def test_the_hash_on_the_page_is_that_of_its_example() -> None:
    text, stated = re.findall(r"```text\n(pegwright pins 1\n.*?)```.*?`([0-9a-f]{64})`", PAGE, re.DOTALL)[0]
    assert hashlib.sha256(text.encode()).hexdigest() == stated
    on = small_wheel()
    made = placed(
        [Note(0, 60, (0, 0, 0, 1, 0)), Note(3, 60, (0, 0, 1, 1, 1)), Note(12, 76, (2, 2, 0, 4, 0), part=1)], on
    )
    assert json.loads(pin_map_json(made.song))["map_sha256"] == stated


if __name__ == "__main__":
    print("\n".join(rows()))  # noqa: T201  # to paste into the page after a schema was changed
