"""The count of a song's notes as data, the same in every JSON file that has one."""

from __future__ import annotations

from pegwright.json_value import Json
from pegwright.note_count import NoteCount
from pegwright.tell.findings import reason_code


def note_count_json(count: NoteCount) -> dict[str, Json]:
    """The count: `read` = `sounding` + `left_out` + `dropped`, `sounding` = `own_pin` + `shared_pin`."""
    return {
        "read": count.read,
        "sounding": count.sounding,
        "own_pin": count.own_pin,
        "shared_pin": count.shared_pin,
        "left_out": count.left_out,
        "left_out_by_reason": {reason_code(reason): notes for reason, notes in count.left_out_by_reason.items()},
        "dropped": count.dropped,
        "dropped_by_option": dict(count.dropped_by_option),
    }
