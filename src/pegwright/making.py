"""What a plate is made by: the sheet, its layers, its fixing holes, tools, machine, and the pattern that is drilled.

Patterns lie on the table of a machine as people stand before it: x runs right, y runs away from them, and the face that
is up is seen. x is along the plate in the order of the music, from its first step; y is 0 in the middle of the first
channel. With the outer face up the first channel is at the top, as on pin sheets, so that the others have y below 0;
drilled from its inner face a sheet is mirrored, and they have y above 0.
"""

from __future__ import annotations

from enum import IntEnum, StrEnum

from pegwright.columns import Floats, Ints
from pegwright.frozen import frozen


class Face(StrEnum):
    """A face of a mounted plate: `outer`, where pins stand, or `inner`."""

    OUTER, INNER = "outer", "inner"


class HoleKind(IntEnum):
    """What a hole is for; `DOWEL` to `MARK` are fixing holes.

    >>> HoleKind.DOWEL.word
    'dowel'
    """

    PIN = 0
    DOWEL = 1  # locates the plate
    BOLT = 2  # holds it, with clearance
    SLOT = 3  # locates it across alone: a chain of holes from end to end
    MARK = 4  # shows which face and which end is which
    TRIAL = 5  # of a gauge or a strip

    @property
    def word(self) -> str:
        """The kind as plate files and every output have it."""
        return self.name.lower()


class DwellUnit(StrEnum):
    """What a controller takes the P word of a dwell for."""

    SECONDS, MILLISECONDS = "s", "ms"


@frozen()
class Tool:
    """A drill.

    Args:
        number: of the tool table, unique in a plate file.
        diameter_mm: of the drill.
        spindle_per_min: revolutions a minute.
        feed_mm_per_min: rate at which it goes down.
        peck_mm: depth after which it is lifted to clear chips; 0 to drill in one.
        dwell_s: how long it stays at the bottom; 0 for not at all.
        slot_drill: whether it cuts across its whole face, so that its holes may overlap; a twist drill does not.
    """

    number: int
    diameter_mm: float
    spindle_per_min: float
    feed_mm_per_min: float
    peck_mm: float = 0.0
    dwell_s: float = 0.0
    slot_drill: bool = False


@frozen()
class Machine:
    """A drilling machine; heights are above the upper face of the sheet, which is z = 0.

    Args:
        travel_x_mm, travel_y_mm: along and across the plate.
        safe_z_mm: at which it moves over clamps and heads.
        retract_z_mm: from which it feeds down, and to which it lifts between pecks; not above `safe_z_mm`.
        through_mm: how far the drill's point goes below the lower face.
        spoilboard_mm: thickness of the board under the sheet that may be drilled into.
        rapid_mm_per_min: rate of moves in the air.
        overshoot_mm: how far before a hole a one-way approach begins.
        canned, exact_path: whether its controller knows canned cycles (G81, G83) and exact path mode (G61).
        dwell_unit: of the P word of a dwell.
    """

    travel_x_mm: float
    travel_y_mm: float
    safe_z_mm: float
    retract_z_mm: float
    through_mm: float
    spoilboard_mm: float
    rapid_mm_per_min: float
    overshoot_mm: float
    canned: bool
    exact_path: bool
    dwell_unit: DwellUnit


@frozen()
class Material:
    """What a sheet is of, as far as it matters here.

    Args:
        name: such as `HDPE`.
        expansion_per_k: linear thermal expansion a kelvin; None where neither the file nor a table gives it.
        max_strain: the maker's greatest strain at the outer face, as a share; None if not given.
        yield_mpa, modulus_mpa: yield strength and elastic modulus; None if not given.
    """

    name: str
    expansion_per_k: float | None = None
    max_strain: float | None = None
    yield_mpa: float | None = None
    modulus_mpa: float | None = None


class Holding(StrEnum):
    """How plates are held along the rim: each on its own dowels, or edge to edge with shims between."""

    DOWELLED, BUTTED = "dowelled", "butted"


@frozen()
class Shim:
    """Shims of one thickness that are owned."""

    thickness_mm: float
    count: int


@frozen()
class Climate:
    """Air around the wheel: in the workshop, in the hall.

    Args:
        name: such as `hall`.
        celsius, humidity_percent: its temperature and relative humidity.
    """

    name: str
    celsius: float
    humidity_percent: float


@frozen()
class Held:
    """How the plates of a set are held along the rim.

    Args:
        how: on dowels or edge to edge.
        datum: 0-based plate that stays where it is.
        clearance_mm: by which a plate on its dowels and bolts can be shifted to either side.
        shims: that are owned, thickest first.
        rim: what the rim under the plates is of; None if not given.
        reference_humidity_percent: relative humidity at which lengths hold.
        climates: in which the growth of plates is looked at.
    """

    how: Holding
    datum: int = 0
    clearance_mm: float = 0.0
    shims: tuple[Shim, ...] = ()
    rim: Material | None = None
    reference_humidity_percent: float = 50.0
    climates: tuple[Climate, ...] = ()


class Source(StrEnum):
    """What makes notes come early or late, as `[tolerances]` names it."""

    HOLE, LENGTH, REGISTER, SEAM, RUN_OUT = "hole", "length", "register", "seam", "run_out"
    K, HEAT, PIN_LEAN, READER, SPEED = "k", "heat", "pin_lean", "reader", "speed"


class Spread(StrEnum):
    """How values are distributed within a half-width."""

    RECTANGULAR, NORMAL, ARCSINE = "rectangular", "normal", "arcsine"


@frozen()
class Tolerance:
    """By how much one thing may be off, either way.

    Args:
        source: what it is.
        half_width: in mm along the rim; of `K` a share of the thickness, of `HEAT` kelvin, of `SPEED` a share.
        spread: how values are distributed within it.
        cycles: how often a turn `RUN_OUT` and `SPEED` go to and fro.
    """

    source: Source
    half_width: float
    spread: Spread
    cycles: int = 1


@frozen()
class Layer:
    """One sheet of a plate, bent by itself.

    Args:
        name: unique in a plate file.
        radius_mm: of its outer face, mounted.
        thickness_mm: of the sheet.
        k: where its neutral line lies, as a share of the thickness from the inner face.
        k_uncertainty: standard uncertainty of `k` where it was measured with a strip; else None.
        gap_mm: to the layer outside it.
        pin_holes: whether it has the holes for pins.
        hole_diameter_mm: of those.
        material: of the sheet.
        scale: length on the flat sheet over that on its outer face as it was measured, for a sheet that no `k`
            explains; None to take it from `k`.
    """

    name: str
    radius_mm: float
    thickness_mm: float
    k: float
    k_uncertainty: float | None
    gap_mm: float
    pin_holes: bool
    hole_diameter_mm: float
    material: Material
    scale: float | None = None

    @property
    def inner_radius_mm(self) -> float:
        """Radius of its inner face, mounted."""
        return self.radius_mm - self.thickness_mm

    @property
    def neutral_radius_mm(self) -> float:
        """Radius of the line whose length the bend leaves alone, R - (1 - k) t."""
        return self.radius_mm - (1 - self.k) * self.thickness_mm


@frozen()
class Fixing:
    """A hole that is not for a pin, on every plate.

    Args:
        kind: `DOWEL` to `MARK`.
        along_mm: along the rim from a plate's first step; of a slot its middle.
        across_mm: from the middle of the first channel, towards the others.
        diameter_mm: of the hole; of a slot its width.
        head_mm: diameter of the head or the countersink on the outer face; 0 for none.
        slot_mm: length of a slot along the plate, end to end; 0 for others.
        layers: names of the layers that have it; empty for all.
    """

    kind: HoleKind
    along_mm: float
    across_mm: float
    diameter_mm: float
    head_mm: float = 0.0
    slot_mm: float = 0.0
    layers: tuple[str, ...] = ()


@frozen()
class Sheet:
    """What all layers of a plate have in common.

    Args:
        left_edge_mm, right_edge_mm: from the middle of the first and of the last channel to the side edge beyond it.
        corner_radius_mm: of the four corners; 0 for square ones.
        face: from which it is drilled: the face that is up.
        machined_c, reference_c: temperatures of the sheet as it is drilled, and at which lengths hold.
        marks: whether numbers and an arrow are engraved.
        hole_wall_mm: minimum of sheet between two holes; None for that of the wheel between a hole and an edge.
    """

    left_edge_mm: float
    right_edge_mm: float
    corner_radius_mm: float
    face: Face
    machined_c: float
    reference_c: float
    marks: bool = True
    hole_wall_mm: float | None = None


@frozen()
class PlateFile:
    """A plate file.

    Args:
        wheel_path: of the wheel file, as a path that can be opened.
        sheet: what all layers have in common.
        layers: from the outermost inwards, at least one.
        fixings: every hole that is not for a pin.
        tools: by rising number; at least one for every diameter.
        machine: that drills.
        held: how plates are held along the rim; None if not given.
        tolerances: of what may be off, in the order of `Source`.
        sha256: hash of the file's bytes, in hex.
    """

    wheel_path: str
    sheet: Sheet
    layers: tuple[Layer, ...]
    fixings: tuple[Fixing, ...]
    tools: tuple[Tool, ...]
    machine: Machine
    held: Held | None = None
    tolerances: tuple[Tolerance, ...] = ()
    sha256: str = ""


@frozen(eq=False)
class PatternHoles:
    """Holes of a pattern, fixing holes first, then by channel, along the plate, row; columns of shape (h,).

    Args:
        kind: a `HoleKind` for each.
        tool: number of the tool that drills it.
        diameter_mm: of the hole as it is to be.
        channel, row, index: as in `Placement`; -1 for fixing holes.
        fixing: index into `PlateFile.fixings`; -1 for pin holes.
        x_mm, y_mm: on the flat sheet at the temperature at which it is drilled, on the table.
        along_mm: along the rim of the mounted plate from its first step.
        across_mm: from the middle of the first channel, towards the others, mounted.
    """

    kind: Ints
    tool: Ints
    diameter_mm: Floats
    channel: Ints
    row: Ints
    index: Ints
    fixing: Ints
    x_mm: Floats
    y_mm: Floats
    along_mm: Floats
    across_mm: Floats

    @property
    def count(self) -> int:
        """Holes in all."""
        return len(self.kind)


@frozen()
class MarkText:
    """A text to be engraved, upright on the table: its point is at half its height.

    Args:
        text: a number or a few words.
        x_mm, y_mm: its point on the table.
        height_mm: of its capital letters and figures.
        anchor: which end of it lies at the point: `start`, `middle` or `end`.
    """

    text: str
    x_mm: float
    y_mm: float
    height_mm: float
    anchor: str = "middle"


@frozen()
class Marks:
    """What is engraved on the face that is up.

    Args:
        lines: strokes, each through points in mm on the table.
        texts: to be turned into strokes.
    """

    lines: tuple[tuple[tuple[float, float], ...], ...]
    texts: tuple[MarkText, ...]


@frozen(eq=False)
class Pattern:
    """What is cut and drilled of one sheet, on the table, flat.

    Args:
        name: for files, in ASCII: `plate`, or where there are several `plates-1-2-5-core`.
        title: for people: `plates 1, 2 and 5, core`.
        layer: of the plate.
        plates: 0-based plates that it serves, rising.
        sets: where sets of plates differ, each that it serves with its plates, 0-based; else empty, for every set.
        face: that is up.
        holes, marks: to be drilled, and to be engraved.
        outline: the sheet's edge, a closed line through points in mm; corners are short chords.
    """

    name: str
    title: str
    layer: Layer
    plates: tuple[int, ...]
    face: Face
    holes: PatternHoles
    outline: tuple[tuple[float, float], ...]
    marks: Marks
    sets: tuple[tuple[int, tuple[int, ...]], ...] = ()
