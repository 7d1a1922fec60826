"""Wheel files that are wrong: each fault is told with its key path, value, bound and remedy."""

from __future__ import annotations

import re
from collections.abc import Callable
from pathlib import Path

import pytest

from pegwright.config import parse_wheel
from pegwright.errors import ConfigError

SOUND = Path(__file__).with_name("sound_wheel.toml").read_text(encoding="utf-8")
STAYING = SOUND.replace("offset_mm", 'collar = "stays"\noffset_mm')


def faults_of(text: str | bytes) -> list[tuple[str, str, str]]:
    """Key path, message and hint of every fault."""
    with pytest.raises(ConfigError) as caught:
        parse_wheel(text if isinstance(text, bytes) else text.encode(), "wheel.toml")
    assert caught.value.exit_code == 2
    return [(re.sub(r" \(line \d+\)$", "", fault.where), fault.message, fault.hint) for fault in caught.value.faults]


def swap(old: str, new: str) -> Callable[[], str]:
    """The sound wheel with the first `old` made `new`."""

    def text() -> str:
        assert old in SOUND
        return SOUND.replace(old, new, 1)

    return text


SINGLE_FAULTS = [
    # what is changed, key path, part of the message, part of the remedy
    (swap("plates = 6", "plates = 65"), "wheel.plates", "65 is above the maximum, 64", "from 1 to 64"),
    (swap("plates = 6", "plates = 0"), "wheel.plates", "0 is below the minimum, 1", "from 1 to 64"),
    (swap("plates = 6", "plates = 6.0"), "wheel.plates", "6.0 is not a whole number", "from 1 to 64"),
    (swap("plates = 6", "plates = true"), "wheel.plates", "true is not a whole number", "from 1 to 64"),
    (swap("plates = 6", "plates = 0x" + "f" * 9000), "wheel.plates", "more than 30 digits", "from 1 to 64"),
    (swap("plates = 6\n", ""), "wheel.plates", "is missing", "from 1 to 64"),
    (swap("plates = 6", "plats = 6\nplates = 6"), "wheel.plats", "not a known key", "did you mean `plates`?"),
    (swap("plates = 6", "xyz = 6\nplates = 6"), "wheel.xyz", "not a known key", "steps_per_plate"),
    (swap('step = "1/16"', "step = 0.0625"), "wheel.step", "0.0625 is not exact", '"1/16"'),
    (swap('step = "1/16"', "step = 0"), "wheel.step", "0 is not above 0", "1/16"),
    (swap('step = "1/16"', 'step = "1/961"'), "wheel.step", "denominator above 960", "1/16"),
    (swap('step = "1/16"', 'step = "sixteenth"'), "wheel.step", '"sixteenth" is not a fraction', "1/16"),
    (swap('reach = "1/64"', 'reach = "-1/64"'), "wheel.reach", "below the minimum, 0", "0 to 1/4"),
    (swap('reach = "1/64"', "reach = inf"), "wheel.reach", "inf is not a fraction", "0 to 1/4"),
    (swap('name = "Merrow Sands Pavilion"\n', ""), "name", "is missing", "a text in quotes"),
    (swap('name = "Merrow Sands Pavilion"', 'name = "  "'), "name", "is blank", "a text in quotes"),
    (swap('name = "Merrow Sands Pavilion"', 'name = "a\\u001b[2J"'), "name", '"a?[2J" has', "on one line"),
    (swap('name = "Merrow Sands Pavilion"', f'name = "{"x" * 61}"'), "name", "61 characters", "1 to 60"),
    (swap("radius_mm = 477.5", "radius_mm = nan"), "geometry.radius_mm", "nan is not a finite", "in mm"),
    (swap("radius_mm = 477.5", "radius_mm = -inf"), "geometry.radius_mm", "-inf is not a finite", "in mm"),
    (swap("radius_mm = 477.5", "radius_mm = 1e999"), "geometry.radius_mm", "inf is not a finite", "in mm"),
    (
        swap("radius_mm = 477.5", 'radius_mm = "477.5"'),
        "geometry.radius_mm",
        '"477.5" is not a number',
        "quotes: 477.5",
    ),
    (swap("radius_mm = 477.5", "radius_mm = 2026-01-01"), "geometry.radius_mm", "2026-01-01 is not", "in mm"),
    (swap("thickness_mm = 6.0", "thickness_mm = 600"), "geometry.thickness_mm", "radius, 477.5 mm", "sheet"),
    (swap("min_wall_mm = 3.0", "min_wall_mm = -1"), "geometry.min_wall_mm", "-1 is below the minimum, 0", "in mm"),
    (swap("trail_edge_mm = 5.3", "trail_edge_mm = 4"), "geometry.trail_edge_mm", "plates would overlap", "gap"),
    (swap("trail_edge_mm = 5.3", "trail_edge_mm = 499"), "geometry.trail_edge_mm", "cannot hold one hole", "radius"),
    (swap('name = "half"', 'name = "on"'), "row[2].name", '"on" is already the name of row[1]', "own name"),
    (swap('phases = ["1/2"]', 'phases = ["1/2", "2/4"]'), "row[2].phases[2]", "duplicate of phases[1]", "take one"),
    (swap('phases = ["1/2"]', "phases = [0.333]"), "row[2].phases[1]", "0.333 is not exact", '"1/3"'),
    (swap('phases = ["1/2"]', 'phases = ["3/2"]'), "row[2].phases[1]", "3/2 is not below the period, 1", "= 2"),
    (swap('phases = ["1/2"]', 'phases = ["1/0"]'), "row[2].phases[1]", '"1/0" is not a fraction', "in steps"),
    (swap('phases = ["1/2"]', 'phases = ["1/2", "1/4"]'), "row[2].phases[2]", "below the one before, 1/2", "rising"),
    (swap('phases = ["1/2"]', "phases = []"), "row[2].phases", "is empty", "in steps"),
    (swap('phases = ["1/2"]', 'phases = "1/2"'), "row[2].phases", "is not a list", "in [...]"),
    (swap('phases = ["1/2"]\n', ""), "row[2].phases", "is missing", "in [...]"),
    (swap("period_steps = 2", "period_steps = 3"), "row[3].period_steps", "3 steps do not divide the 32", "divisor"),
    (swap('["on", "half", "triplet"]', '["on", "halb"]'), "channel_defaults.rows[2]", '"halb"', 'mean "half"'),
    (swap("restrike_ms = 110", "restrike_ms = -1"), "channel_defaults.restrike_ms", "-1 is below", "0 to 60000"),
    (swap('kind = "strike"', 'kind = "blow"'), "channel_defaults.kind", '"blow" is not a kind', '"hold"'),
    (swap("[67]", "[128]"), "channel[1].pitches[1]", "128 is outside C-1 to G9", "0 to 127"),
    (swap("[67]", '["H4"]'), "channel[1].pitches[1]", '"H4" is not the name of a pitch', "C4"),
    (swap("[67]", '["G#9"]'), "channel[1].pitches[1]", '"G#9" is outside', "0 to 127"),
    (swap("[67]", '["G4", 67]'), "channel[1].pitches[2]", "67 is a duplicate of pitches[1]", "take one out"),
    (swap("[67]", "67"), "channel[1].pitches", "67 is not a list", "in [...]"),
    (swap("[36, 35]", "[36, 128]"), "channel[20].drum_keys[2]", "128 is above the maximum, 127", "35 to 81"),
    (swap("[36, 35]", "[-1]"), "channel[20].drum_keys[1]", "-1 is below the minimum, 0", "35 to 81"),
    (swap('"chime A4"', '"chime G4"'), "channel[2].name", "is already the name of channel[1]", "own name"),
    (swap('"early"', '"plain"'), "pin_type[2].name", "is already the name of pin_type[1]", "own name"),
    (swap("stock = 640", "stock = -1"), "pin_type[1].stock", "-1 is below the minimum, 0", "pins owned"),
    (swap("offset_mm = -1.3", "offset_mm = -16"), "pin_type[2].offset_mm", "a step, 15.626 mm", "next hole"),
    (swap("offset_mm = -1.3", 'collar = "slides"'), "pin_type[2].collar", '"slides" is not a kind of collar', "stays"),
    (
        swap("offset_mm = -1.3", 'bridge_mm = 9\ncollar = "stays"'),
        "pin_type[2].collar",
        "is for pins that are no bridge",
        "leave it out",
    ),
    (swap('"snare", "wood block"', '"snair"'), "limit[1].channels[2]", '"snair" is not a channel', 'mean "snare"'),
    (swap("strikes = 3", "strikes = 0"), "limit[1].strikes", "0 is below the minimum, 1", "from 1"),
    (swap("window_ms = 50", "window_ms = 0"), "limit[1].window_ms", "0 is not above 0", "in ms"),
]


@pytest.mark.parametrize(("text", "path", "message", "hint"), SINGLE_FAULTS)
def test_one_fault_is_told_alone(text: Callable[[], str], path: str, message: str, hint: str) -> None:
    ((where, told, remedy),) = faults_of(text())
    assert where == path
    assert message in told
    assert hint in remedy


LOST = [
    ('row = "on"\nhole = 33', "lost[1].hole", "33 is above the maximum, 32"),
    ('row = "triplet"\nhole = 0', "lost[1].hole", "0 is below the minimum, 1"),
    ('row = "on"\nhole = 1\nplate = 7', "lost[1].plate", "7 is above the maximum, 6"),
    ('row = "no"\nhole = 1', "lost[1].row", '"no" is not a row of this wheel'),
    ('row = "triplet"\nhole = 1\nchannel = "snare"', "lost[1].row", 'channel "snare" has no row "triplet"'),
    ('row = "on"\nhole = 1\nchannel = "snar"', "lost[1].channel", '"snar" is not a channel'),
    ('row = "on"\nhole = 1\n[[lost]]\nrow = "on"\nhole = 1', "lost[2].hole", "is a duplicate of lost[1]"),
]


@pytest.mark.parametrize(("table", "path", "message"), LOST)
def test_a_loss_must_be_of_a_hole_that_could_be(table: str, path: str, message: str) -> None:
    ((where, told, _),) = faults_of(f"{SOUND}\n[[lost]]\n{table}\n")
    assert where == path
    assert message in told


def test_all_faults_come_at_once_with_their_lines() -> None:
    text = SOUND.replace("plates = 6", "plates = 65").replace("[67]", '["H4"]').replace('"tambourine"\nd', '"tam"\nd')
    with pytest.raises(ConfigError) as caught:
        parse_wheel(text.encode(), "wheel.toml")
    lines = text.splitlines()
    told = str(caught.value).splitlines()
    assert told[0] == "wheel.toml: 3 faults"
    assert len(told) == 4
    for fault, part in zip(caught.value.faults, ("plates = 65", '["H4"]', "channels = ["), strict=True):
        match = re.search(r"\(line (\d+)\)$", fault.where)
        assert match
        assert part in lines[int(match[1]) - 1]


def test_faults_come_in_the_order_of_their_lines() -> None:
    """Keys of the channels are checked before those at the top of the file, and the limits after both."""
    wrong = [
        ("min_wall_mm = 3.0", "min_wall_mm = -3.0"),
        ("pitches = [69]", "pitchs = [69]"),
        ("pitches = [72]", "pitches = [720]"),
        ('name = "Merrow Sands Pavilion"', 'nme = "Merrow Sands Pavilion"'),
    ]
    text = SOUND.replace("[[pin_type]]", "[[pin_typ]]")
    for right, spoilt in wrong:
        assert right in text
        text = text.replace(right, spoilt, 1)
    with pytest.raises(ConfigError) as caught:
        parse_wheel(text.encode(), "wheel.toml")
    lines = [re.search(r"\(line (\d+)\)$", fault.where) for fault in caught.value.faults]
    numbers = [int(line[1]) if line else None for line in lines]
    with_line = [number for number in numbers if number is not None]
    assert len(with_line) >= len(wrong)
    assert numbers == [*sorted(with_line), *[None] * (len(numbers) - len(with_line))]


def test_a_single_fault_is_one_line() -> None:
    with pytest.raises(ConfigError) as caught:
        parse_wheel(SOUND.replace("plates = 6", "plates = 65").encode(), "wheel.toml")
    assert str(caught.value) == (
        "wheel.toml: wheel.plates (line 6): 65 is above the maximum, 64 (give a whole number from 1 to 64)"
    )


def test_a_wheel_without_any_parts_tells_each_missing_one() -> None:
    assert {where for where, _, _ in faults_of("")} >= {"name", "wheel", "row", "channel", "pin_type"}


def test_a_wheel_that_plays_nothing_is_refused() -> None:
    silent = re.sub(r"(?m)^(pitches|drum_keys) = .*\n", "", SOUND)
    assert [where for where, _, _ in faults_of(silent)] == ["channel"]


def test_a_wheel_whose_seams_take_every_hole_is_refused() -> None:
    # Plates of 30.95 mm: the hole nearest the middle stands 15.42 mm from its cut edge and would need 15.45 mm.
    text = SOUND.replace("steps_per_plate = 32", "steps_per_plate = 2").replace(
        "radius_mm = 477.5", "radius_mm = 29.84"
    )
    ((where, told, _),) = faults_of(text.replace("min_wall_mm = 3.0", "min_wall_mm = 14.2"))
    assert where == "geometry"
    assert told == "every hole of every channel that sounds is lost"


def test_a_wheel_too_large_to_work_with_is_refused() -> None:
    text = SOUND.replace("plates = 6", "plates = 64").replace("steps_per_plate = 32", "steps_per_plate = 4096")
    text = text.replace("radius_mm = 477.5", "radius_mm = 99000")
    ((where, told, _), *_) = faults_of(text)
    assert where == "wheel"
    assert "above the maximum, 2,000,000" in told


def test_phases_must_meet_at_a_resolution_that_can_be_counted() -> None:
    text = SOUND.replace('phases = ["1/2"]', 'phases = ["1/953", "500/947"]').replace(
        "radius_mm = 477.5", "radius_mm = 4775"
    )
    told = faults_of(text)
    assert any(where == "row" and "units a quarter note" in message for where, message, _ in told)


class TestPinsThatTouch:
    """Distances by hand: a step is 2 x pi x 477.5 / 192 = 15.626 mm; its pins need 4.5 mm."""

    def test_in_one_row(self) -> None:
        ((where, told, _),) = faults_of(SOUND.replace('phases = ["1/2"]', 'phases = ["1/4", "1/2"]'))
        assert where == "row[2].phases"
        assert "are 3.907 mm apart; pins of 4 mm with 0.5 mm clearance need 4.5 mm" in told
        assert re.match(r'hole (\d+) of row "half" and hole (\d+) of row "half"', told)

    def test_across_a_seam(self) -> None:
        text = SOUND.replace("phases = [0]", 'phases = [0, "255/8"]\nperiod_steps = 32')
        text = text.replace("lead_edge_mm = 5.0", "lead_edge_mm = 1").replace(
            "trail_edge_mm = 5.3", "trail_edge_mm = 1"
        )
        text = text.replace("hole_diameter_mm = 2.5", "hole_diameter_mm = 0.5").replace(
            "min_wall_mm = 3.0", "min_wall_mm = 0"
        )
        ((where, told, _),) = faults_of(text)
        assert where == "row[1].phases"
        assert "1.953 mm apart" in told  # an eighth of a step
        assert set(re.findall(r"hole (\d+)", told)) == {"1", "2"}

    def test_not_where_the_seam_takes_one_of_the_two(self) -> None:
        text = SOUND.replace("phases = [0]", 'phases = [0, "255/8"]\nperiod_steps = 32')
        parse_wheel(text.encode(), "wheel.toml")

    def test_not_where_one_of_the_two_is_declared_lost(self) -> None:
        text = SOUND.replace("phases = [0]", 'phases = [0, "1/8"]\nperiod_steps = 32')
        ((where, told, _),) = faults_of(text)
        assert where == "row[1].phases"
        assert "1.953 mm apart" in told
        parse_wheel(f'{text}\n[[lost]]\nrow = "on"\nhole = 2\n'.encode(), "wheel.toml")
        assert faults_of(f'{text}\n[[lost]]\nrow = "on"\nhole = 2\nplate = 1\n')  # the other plates still have it

    def test_on_neighbouring_channels(self) -> None:
        ((where, told, _),) = faults_of(SOUND.replace("channel_pitch_mm = 14.0", "channel_pitch_mm = 4.4"))
        assert where == "geometry.channel_pitch_mm"
        # A half-way hole and the next channel's triplet hole: hypot(15.626 / 6, 4.4 - 3) = 2.957 mm.
        ((_, of_holes, _),) = faults_of(STAYING.replace("channel_pitch_mm = 14.0", "channel_pitch_mm = 4.4"))
        holes = 'hole 1 of row "triplet" on "chime G4" and hole 1 of row "half" on "chime A4"'
        assert of_holes.startswith(f"{holes} are 2.957 mm")
        # Early and late pins bring the two collars 2.6 mm nearer along the rim.
        assert told.startswith(f"{holes} can hold collars 1.400 mm apart")

    def test_collars_off_their_holes_need_room_on_the_next_channel(self) -> None:
        text = SOUND.replace("channel_pitch_mm = 14.0", "channel_pitch_mm = 7.2")
        parse_wheel(STAYING.replace("channel_pitch_mm = 14.0", "channel_pitch_mm = 7.2").encode(), "wheel.toml")
        ((where, _, _),) = faults_of(text)
        assert where == "geometry.channel_pitch_mm"

    def test_on_neighbouring_channels_at_the_same_place(self) -> None:
        text = SOUND.replace("channel_pitch_mm = 14.0", "channel_pitch_mm = 4.4").replace(
            "lateral_mm = 3.0", "lateral_mm = 0"
        )
        ((where, told, _),) = faults_of(text)
        assert where == "geometry.channel_pitch_mm"
        assert told.startswith(
            'hole 1 of row "on" on "chime G4" and hole 1 of row "on" on "chime A4" can hold collars 4.400 mm apart'
        )

    def test_beyond_the_next_channel_where_rows_lie_far_aside(self) -> None:
        text = SOUND.replace("lateral_mm = 3.0", "lateral_mm = 28")
        ((where, told, _),) = faults_of(text)
        assert where == "geometry.channel_pitch_mm"
        assert "can hold collars 0.004 mm apart" in told  # a sixth of a step, 2.604 mm along the rim, less 2.6 mm
        assert re.search(r'"triplet" on "chime G4" and hole \d+ of row "half" on "chime B4"', told)

    def test_an_exact_fit_is_a_fit(self) -> None:
        parse_wheel(SOUND.replace("channel_pitch_mm = 14.0", "channel_pitch_mm = 7.5").encode(), "wheel.toml")

    def test_holes_that_run_into_each_other(self) -> None:
        text = SOUND.replace("lateral_mm = 3.0", "lateral_mm = 0")
        parse_wheel(text.encode(), "wheel.toml")  # 2.604 mm apart, 2.5 mm wide
        ((where, told, _),) = faults_of(text.replace("hole_diameter_mm = 2.5", "hole_diameter_mm = 2.7"))
        assert where == "row[3].lateral_mm"
        assert told.startswith('hole 1 of row "half" and hole 1 of row "triplet" are 2.604 mm apart; holes of 2.7 mm')


NOT_TOML = [
    (b"plates = ", "not valid TOML: Invalid value (at end of document)"),
    (b"[wheel]\nplates = 6\nplates = 7\n", "line 3: a second plates in one table, the first is in line 2"),
    (b"name = Merrow", "line 1: Merrow has no quotes"),
    (b'name = "Merrow\xff"', "byte 15 (line 1) is not UTF-8"),
    ("name = 'x'".encode("utf-16"), "byte 1 (line 1) is not UTF-8"),
    (b"\x00", "not valid TOML"),
    (b"a = " + b"[" * 9_000, "too deep or too long"),
    (b"a = " + b"9" * 5000, "too deep or too long"),
    (b"a." * 4_000 + b"a = 1", "name is missing"),
    (b"a." * 200_000 + b"a = 1", "line 1 has more than 10,000 characters"),
    (b"#\n" * 250_001, "larger than 500,000 bytes"),
    (b"MThd\x00\x00\x00\x06", "this is a song (MIDI), not a wheel file"),
]


@pytest.mark.parametrize(("data", "message"), NOT_TOML, ids=range(len(NOT_TOML)))
def test_what_is_no_toml_says_where(data: bytes, message: str) -> None:
    told = faults_of(data)
    assert any(message in f"{where} {text}" for where, text, _ in told)


def test_a_flood_of_faults_stops_at_a_hundred() -> None:
    told = faults_of(SOUND + "\n[extra]\n" + SOUND.replace("[[", "[[x") + "".join(f"x{n} = 1\n" for n in range(5000)))
    assert len(told) <= 101
    told = faults_of("".join(f"x{n} = 1\n" for n in range(5000)) + SOUND)
    assert len(told) == 101
    assert told[-1][1] == "more than 100 faults"


@pytest.mark.parametrize(
    ("text", "told"),
    [
        (re.sub(r"(?ms)^\[wheel\]$.*?(?=^\[)", "", SOUND), ("wheel", "is missing")),
        (
            re.sub(r"(?ms)^\[wheel\]$.*?(?=^\[)", "", SOUND).replace("name =", "wheel = 3\nname =", 1),
            ("wheel", "3 is not a table"),
        ),
        (SOUND.replace("\n[wheel]\n", "\n[whel]\n"), ("whel", "is not a known key")),
    ],
    ids=["missing", "a number", "misspelt"],
)
def test_a_table_that_is_not_there_is_one_fault_and_its_keys_are_in_the_hint(text: str, told: tuple[str, str]) -> None:
    ((where, message, hint),) = faults_of(text)
    assert (where, message) == told
    assert hint.endswith("with plates, steps_per_plate and step" if where == "wheel" else "did you mean `wheel`?")
