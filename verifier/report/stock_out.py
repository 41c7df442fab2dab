"""What a program leaves of its stock, written as the stock of the next operation's setup sheet, bound to all that it was worked out from."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

import shapely

from verifier.compare import Side
from verifier.geometry import CRASHES, TurnedPart
from verifier.machines import table_text
from verifier.source import VerifierError

_NEAR = 0.0001
"""How far the written outline may leave the swept one, in mm."""
_GRID = 100_000
_CRUMB = 0.5
"""Half sections below this, in mm2, are swarf and pips, not pieces."""
_MOST_POINTS = 5000


@dataclass(frozen=True, slots=True)
class Origin:
    """The files that a left piece comes from, as paths from the file that will tell of it; `machine`: None for the generic lathe."""

    program: str
    setup: str
    machine: str | None


def stock_left(one: Side, origin: Origin) -> str:
    """The left piece as a setup sheet that holds nothing but its stock. VerifierError where there is no one piece to tell of."""
    part = one.part()
    if part is None or one.setup is None:
        raise VerifierError(
            "no setup sheet names the stock, so that nothing is known to be left", "give one with --setup"
        )
    came_from = {
        "program": origin.program,
        "program_sha256": one.program.source.sha256,
        "setup": origin.setup,
        "setup_digest": one.setup.digest,
        "machine": one.machine.name,
        "machine_digest": one.machine.digest,
        "machine_file": origin.machine,
        "called": tuple(f"O{number} {digest[:12]}" for number, digest in sorted(one.trace.called)),
        "uncertain": tuple(dict.fromkeys(_uncertain(part))),
        "doubts": tuple(dict.fromkeys(_doubts(one, part))),
    }
    name = f"left-by-{one.setup.name}"[:80].rstrip("-")
    stock = {"kind": "contour", "outline": _outline(_piece(part)), "came_from": came_from}
    head = "# The piece as a program leaves it; written by `verifier check --stock-out`, to be named by the next setup sheet.\n"
    return head + table_text({"name": name, "units": "mm", "stock": stock})


def _uncertain(part: TurnedPart) -> list[str]:
    cuts = [f"the operation that left it: {gap.what}: {gap.reason}" for gap in part.gaps if gap.cuts]
    return cuts + [f"the operation that left it: {one.kind}" for one in part.contacts if one.kind in CRASHES]


def _doubts(one: Side, part: TurnedPart) -> list[str]:
    before = one.setup.stock.came_from if one.setup is not None and one.setup.stock is not None else None
    found = list(before.doubts) if before is not None else []
    if part.threads:
        found.append("it has threads: its outline goes along their crests")
    if one.switched:
        found.append("it was worked out with the block skips off")
    return found


def _piece(part: TurnedPart) -> shapely.Polygon:
    """What was cut free, where one piece was; else what is still held."""
    pieces = part.loose or tuple(piece for piece in shapely.get_parts(part.left) if shapely.area(piece) > _CRUMB)
    if len(pieces) != 1:
        said = f"{len(pieces)} pieces" if pieces else "nothing"
        raise VerifierError(
            f"the program leaves {said} of the stock: which one goes on is not known", "write its contour by hand"
        )
    piece = shapely.set_precision(shapely.simplify(pieces[0], _NEAR), 1 / _GRID)
    if not isinstance(piece, shapely.Polygon) or piece.interiors:
        raise VerifierError("the program leaves a piece with a closed cavity: its half section is no single outline")
    return piece


def _outline(piece: shapely.Polygon) -> tuple[tuple[Fraction, Fraction], ...]:
    corners = [
        (Fraction(2 * round(r * _GRID), _GRID), Fraction(round(z * _GRID), _GRID)) for z, r in piece.exterior.coords
    ]
    if len(corners) > _MOST_POINTS:
        raise VerifierError(f"the outline of what is left has {len(corners)} corners, more than {_MOST_POINTS}")
    return tuple(corners[:-1])
