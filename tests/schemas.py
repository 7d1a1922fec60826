"""The published schemas, closed: a key that they do not name is a fault of the writer or of the schema."""

from __future__ import annotations

import json
from importlib.resources import files
from typing import Any

from jsonschema import Draft202012Validator


def schema(name: str) -> dict[str, Any]:
    """A schema as published."""
    text = files("pegwright").joinpath("schema", name).read_text(encoding="utf-8")
    return json.loads(text)  # type: ignore[no-any-return]  # JSON


def closed(name: str) -> Draft202012Validator:
    """A validator that refuses keys beyond the published ones."""
    Draft202012Validator.check_schema(schema(name))
    return Draft202012Validator(_close(schema(name)))


def _close(node: Any) -> Any:  # noqa: ANN401  # JSON
    if isinstance(node, dict):
        made = {key: _close(value) for key, value in node.items()}
        return made | {"additionalProperties": False} if isinstance(node.get("properties"), dict) else made
    return [_close(item) for item in node] if isinstance(node, list) else node
