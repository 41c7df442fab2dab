"""The tables of a setup sheet about load and surface, and what they become."""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction
from typing import Annotated, Any, Literal

from pydantic import Field

from verifier.machines.edge import Positive, Quantity, Share, Table, Text, number
from verifier.machines.load_model import Grip, Material, Roughness
from verifier.machines.materials import MATERIALS
from verifier.machines.mistakes import NOTHING, Mistake, not_one_of, shown

_LEAST_KC, _MOST_KC = 50, 20_000
_MM_PER_M = 1000
_UM_PER_UIN = Fraction(254, 10_000)


class MaterialTable(Table):
    """The material by its designation, or by Kienzle's two values; N/mm2 whatever the file's units are."""

    designation: Text | None = None
    kc11: Positive | None = None
    mc: Share | None = None

    @classmethod
    def contradictions(cls, raw: dict[str, Any]) -> Iterator[Mistake]:
        """One of the two values alone, a value in another unit, a designation that is not in the table and has no values."""
        given = [key for key in ("kc11", "mc") if key in raw]
        if len(given) == 1:
            (lacks,) = {"kc11", "mc"} - {*given}
            yield Mistake((lacks,), NOTHING, f"a value beside {given[0]}")
        kc11 = number(raw, "kc11")
        if kc11 is not None and not _LEAST_KC <= kc11 <= _MOST_KC:
            yield Mistake(("kc11",), shown(raw["kc11"]), f"a force in N/mm2, {_LEAST_KC} to {_MOST_KC}")
        if not given and "designation" not in raw:
            yield Mistake(("designation",), NOTHING, "a designation, or kc11 and mc")
        elif not given and isinstance(raw["designation"], str) and raw["designation"] not in MATERIALS:
            found = not_one_of(("designation",), raw["designation"], tuple(MATERIALS))
            yield Mistake(found.path, found.got, f"{found.expected}; or kc11 and mc beside it", found.near)


class RoughnessTable(Table):
    """The greatest Ra of the drawing: of one surface, of what one sequence leaves, or of everything else."""

    ra_um: Positive | None = None
    ra_uin: Positive | None = None
    axis: Literal["X", "Z"] | None = None
    nominal: Quantity | None = None
    sequence: Annotated[int, Field(ge=1, le=99_999)] | None = None
    note: Text | None = None

    @classmethod
    def contradictions(cls, raw: dict[str, Any]) -> Iterator[Mistake]:
        """No value or two; half a surface; a surface and a sequence."""
        if "ra_um" not in raw and "ra_uin" not in raw:
            yield Mistake(("ra_um",), NOTHING, "Ra in micrometres (or ra_uin, in microinches)")
        elif "ra_um" in raw and "ra_uin" in raw:
            yield Mistake(("ra_uin",), shown(raw["ra_uin"]), "nothing beside ra_um")
        for one, other in (("axis", "nominal"), ("nominal", "axis")):
            if one in raw and other not in raw:
                yield Mistake((other,), NOTHING, f"a value beside {one}")
        if "sequence" in raw and "axis" in raw:
            yield Mistake(("sequence",), shown(raw["sequence"]), "nothing beside a surface")
        nominal = number(raw, "nominal")
        if raw.get("axis") == "X" and nominal is not None and nominal <= 0:
            yield Mistake(("nominal",), shown(raw["nominal"]), "a diameter above 0 for axis X")


class JawsTable(Table):
    """Jaws of one kind: how many, the mass of each in kg, and the radius of its centre of mass in the file's units."""

    count: Annotated[int, Field(ge=1, le=24)]
    mass: Positive
    radius: Positive


class GripTable(Table):
    """The grip of the jaws in N (all together), and their moment in kg m, or the jaws themselves."""

    at_rest: Positive
    needed: Positive | None = None
    jaw_moment: Positive | None = None
    jaws: Annotated[list[JawsTable], Field(min_length=1)] | None = None

    @classmethod
    def contradictions(cls, raw: dict[str, Any]) -> Iterator[Mistake]:
        """No moment or two; more needed than there is."""
        if "jaw_moment" not in raw and "jaws" not in raw:
            yield Mistake(("jaw_moment",), NOTHING, "the moment of the jaws, or a list of jaws")
        elif "jaw_moment" in raw and "jaws" in raw:
            yield Mistake(("jaw_moment",), shown(raw["jaw_moment"]), "nothing beside jaws, which say it")
        needed, at_rest = number(raw, "needed"), number(raw, "at_rest")
        if needed is not None and at_rest is not None and needed >= at_rest:
            yield Mistake(("needed",), shown(raw["needed"]), f"less than at_rest, {shown(raw['at_rest'])}")


def material_of(given: MaterialTable) -> Material:
    """The material with its two values."""
    if given.kc11 is not None and given.mc is not None:
        return Material(given.designation or "", given.kc11, given.mc)
    assert given.designation is not None
    return Material(given.designation, *MATERIALS[given.designation])


def roughness_of(given: RoughnessTable, scale: Fraction) -> Roughness:
    """A drawing's roughness; `scale` is the file's unit of length in mm."""
    ra = given.ra_um if given.ra_um is not None else (given.ra_uin or Fraction(0)) * _UM_PER_UIN
    nominal = None if given.nominal is None else given.nominal * scale
    return Roughness(ra, given.axis, nominal, given.sequence, given.note or "")


def grip_of(given: GripTable, scale: Fraction) -> Grip:
    """The grip; `scale` is the file's unit of length in mm."""
    moment = given.jaw_moment
    if moment is None:
        moment = sum((j.count * j.mass * j.radius * scale / _MM_PER_M for j in given.jaws or []), Fraction(0))
    return Grip(given.at_rest, given.needed, moment)
