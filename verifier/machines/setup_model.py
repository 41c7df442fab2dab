"""What stands on the machine for one job: stock, work-holding, offsets, tools and drawing limits, as frozen values.

Lengths are millimetres as exact Fractions. X values (work offsets, limits, keep-out zones) are diameters where the
axis is.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from fractions import Fraction

from verifier.machines.load_model import Grip, Material, Roughness


@dataclass(frozen=True, slots=True)
class CameFrom:
    """What the contour of a stock was worked out from: program, setup sheet and machine by name and digest, called programs.

    `uncertain` says why the contour itself may be another, `doubts` what about it is not checked (a file that is another one now).
    """

    program: str
    program_sha256: str
    setup: str
    setup_digest: str
    machine: str
    machine_digest: str
    machine_file: str | None = None
    called: tuple[str, ...] = ()
    uncertain: tuple[str, ...] = ()
    doubts: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Stock:
    """The raw piece: "bar", "tube" or "contour", outer and inner diameter, length, and Z of its front face in work coordinates.

    A contour (a casting, a forging, what an earlier operation left) is its half section, `outline`: (diameter, Z) points, closed by
    itself; `diameter`, `length` and `face_z` are then those of the box around it. `came_from` tells which operation left it.
    """

    kind: str
    diameter: Fraction
    inner: Fraction | None
    length: Fraction
    face_z: Fraction
    outline: tuple[tuple[Fraction, Fraction], ...] = ()
    came_from: CameFrom | None = None


@dataclass(frozen=True, slots=True)
class KeepOut:
    """A zone that nothing may enter, in work coordinates: a ring between two diameters and two Z positions.

    `kind` says what stands there ("jaws", "soft-jaws", "tailstock", "steady", "other"). `outline` is its true half section where the sheet
    has one, as (diameter, Z) points; the ring is then the box around it.
    """

    name: str
    z_from: Fraction
    z_to: Fraction
    diameter_from: Fraction
    diameter_to: Fraction
    kind: str | None = None
    outline: tuple[tuple[Fraction, Fraction], ...] = ()


@dataclass(frozen=True, slots=True)
class WorkHolding:
    """What holds the piece: its kind, the speed limit marked on it, which way it grips, a note, and zones to keep out
    of.
    """

    kind: str
    max_rpm: Fraction | None
    grips: str | None
    note: str
    keep_out: tuple[KeepOut, ...]
    grip: Grip | None = None


@dataclass(frozen=True, slots=True)
class Tool:
    """The tool at one station; what the sheet does not say is None and is never invented.

    `orientation` is the number of the nose direction, 1 to 9; `point_angle` is the full angle of a drill point in
    degrees; `hand` is "right" or "left"; `mounted` is "upright" or "upside-down". `feed_minimum` is the least feed
    per revolution at which its swarf breaks; `feed_maximum` the greatest feed per revolution, `depth_maximum` the greatest depth of
    cut (both mm) and `force_maximum` the greatest cutting force (N) that it may bear. `offsets` are the numbers of offsets measured on it
    besides the one of its own number (both corners of a blade); tools of one `group` are alike, and each may stand in for the other.
    `holder` is the holder's outline as
    (X radius, Z) points relative to the programmed point.

    `insert` is the designation of an indexable insert by ISO 1832, `shape` its letter, `edge_length` that of its cutting edge,
    `insert_width` how far the long edges of a parallelogram or a rectangle lie apart (the long edge is the main one),
    `approach_angle` the angle in degrees between its main cutting edge and a feed along Z. A blade plunges along X, or along Z for
    grooves in a face (`plunges`), reaches `blade_depth` deep and may be moved sideways while cutting `side_clearance` deep. A drill cuts
    as deep as its `flute_length`. A threading tool has the full angle `profile_angle` in degrees. The shank of a boring bar is a cylinder
    of `shank_diameter` whose axis lies `shank_axis` from the tip, clear of its holder for `reach`.

    `from_turret_axis` is how far the programmed point lies from the axis about which the turret turns, along X; `from_turret_face` how far
    it stands out of the turret's face, toward the spindle; `holder_width` how wide the tool is across both.
    """

    station: int
    kind: str
    nose_radius: Fraction | None = None
    orientation: int | None = None
    blade_width: Fraction | None = None
    diameter: Fraction | None = None
    point_angle: Fraction | None = None
    hand: str | None = None
    mounted: str | None = None
    max_rpm: Fraction | None = None
    feed_minimum: Fraction | None = None
    offsets: tuple[int, ...] = ()
    group: str | None = None
    holder: tuple[tuple[Fraction, Fraction], ...] = ()
    note: str = ""
    insert: str | None = None
    shape: str | None = None
    edge_length: Fraction | None = None
    approach_angle: Fraction | None = None
    plunges: str | None = None
    blade_depth: Fraction | None = None
    side_clearance: Fraction | None = None
    flute_length: Fraction | None = None
    profile_angle: Fraction | None = None
    shank_diameter: Fraction | None = None
    shank_axis: Fraction | None = None
    reach: Fraction | None = None
    feed_maximum: Fraction | None = None
    depth_maximum: Fraction | None = None
    force_maximum: Fraction | None = None
    from_turret_axis: Fraction | None = None
    from_turret_face: Fraction | None = None
    holder_width: Fraction | None = None
    insert_width: Fraction | None = None


@dataclass(frozen=True, slots=True)
class Turret:
    """A turret whose axis is along Z: how many stations it has, evenly, and the ring that its tools sweep when it indexes.

    `swing_radius` is that of the largest circle about its axis that any tool draws, `swing_length` how far any stands out of its face.
    """

    stations: int
    swing_radius: Fraction | None = None
    swing_length: Fraction | None = None


@dataclass(frozen=True, slots=True)
class Limit:
    """A drawing limit: nominal size and its upper and lower deviation, signed, all in mm.

    `axis` is "X" for a diameter, "Z" for a place along Z, "L" for a length or a width, "R" for a radius or a chamfer.
    """

    axis: str
    nominal: Fraction
    upper: Fraction
    lower: Fraction
    note: str = ""


@dataclass(frozen=True, slots=True)
class Setup:
    """A setup sheet. `work_offsets` gives machine positions by code ("G54") and axis; `tools` are by station;
    `digest` is of the content.
    """

    name: str
    stock: Stock | None
    work_holding: WorkHolding | None
    work_offsets: Mapping[str, Mapping[str, Fraction]]
    variables: Mapping[int, Fraction]
    tools: Mapping[int, Tool]
    limits: tuple[Limit, ...]
    digest: str
    other_channel: int | None = None
    """The number of the program that the machine's other channel runs with this job."""
    material: Material | None = None
    roughness: tuple[Roughness, ...] = ()
    """The greatest roughness that the drawing allows, by surface, by sequence, and for the rest."""
    turret: Turret | None = None
