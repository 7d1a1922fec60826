"""Names of percussion keys, against an independent table."""

from __future__ import annotations

from pegwright.percussion import drum_key_name


def test_names_are_those_of_general_midi() -> None:
    """Against the General MIDI percussion map as pretty_midi has it (it writes Hi Hat without a hyphen)."""
    from pretty_midi import note_number_to_drum_name

    for key in range(35, 82):
        assert drum_key_name(key).replace("-Hat", " Hat") == note_number_to_drum_name(key)


def test_keys_outside_the_standard_have_no_name() -> None:
    assert [drum_key_name(key) for key in (0, 34, 82, 127)] == ["key 0", "key 34", "key 82", "key 127"]
