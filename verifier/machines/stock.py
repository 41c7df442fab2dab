"""The raw piece of a setup sheet as a value; what an earlier operation left is read from the file beside the sheet that says so.

Nothing is executed here: the outline was written by a command, with the digests of program, setup sheet and machine. A file that is another
one now, or not there, makes a doubt that the report tells as unchecked.
"""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from fractions import Fraction
from pathlib import Path

from verifier.machines.mistakes import Mistake, shown
from verifier.machines.model import Machine
from verifier.machines.profile import generic_lathe, load_machine
from verifier.machines.setup_model import CameFrom, Setup, Stock
from verifier.machines.stock_file import CameFromTable, StockTable
from verifier.source import MachineError

OnTheWay = tuple[Path, ...]
Points = tuple[tuple[Fraction, Fraction], ...]
Found = tuple[Stock | None, list[Mistake], list[str]]

_NO_FILES = "the outline itself: a sheet that is handed in alone has no files beside it (`verifier setup show FILE` writes it whole)"


@dataclass(frozen=True, slots=True)
class Beside:
    """Where a sheet lies, the sheets that are being read for which it is read, and how another one is read."""

    path: Path
    on_the_way: OnTheWay
    load: Callable[[Path, Machine | None, OnTheWay], Setup]

    def read(self, path: Path) -> Setup | None:
        """Another sheet; None where it is one of those that are being read."""
        way = (*self.on_the_way, self.path.resolve())
        return None if path.resolve() in way else self.load(path, None, way)


def raw_piece(given: StockTable, scale: Fraction, beside: Beside | None) -> Found:
    """The stock in mm, or the mistakes at its keys, and those of the file that it names as whole lines.

    `beside` is None for a sheet without files beside it.
    """
    if given.kind == "earlier-operation":
        return _earlier(given, scale, beside)
    if given.outline is not None:
        stock = _contour(points_in_mm(given.outline, scale))
        if given.came_from is not None:
            stock = replace(stock, came_from=_came_from(given.came_from, beside))
        return stock, [], []
    assert given.diameter is not None and given.length is not None and given.face_z is not None
    inner = None if given.inner is None else given.inner * scale
    return Stock(given.kind, given.diameter * scale, inner, given.length * scale, given.face_z * scale), [], []


def points_in_mm(given: list[list[Fraction]], scale: Fraction) -> Points:
    """Points of a file in mm."""
    return tuple((x * scale, z * scale) for x, z in given)


def box_around(outline: Points) -> tuple[Fraction, Fraction, Fraction, Fraction]:
    """Least and greatest Z, least and greatest diameter."""
    across, along = zip(*outline, strict=True)
    return min(along), max(along), min(across), max(across)


def _contour(outline: Points) -> Stock:
    z_from, z_to, _, across = box_around(outline)
    return Stock("contour", across, None, z_to - z_from, z_to, outline)


def _earlier(given: StockTable, scale: Fraction, beside: Beside | None) -> Found:
    assert given.file is not None
    where = ("stock", "file")
    if beside is None:
        return None, [Mistake(where, shown(given.file), _NO_FILES)], []
    path = beside.path.parent / given.file
    if Path(given.file).is_absolute():
        return None, [Mistake(where, shown(given.file), "a path from this sheet, so that both can be moved")], []
    if not _is_there(path):
        wanted = "a file beside this sheet, as `verifier check --stock-out` writes it"
        return None, [Mistake(where, f"{shown(given.file)}, which is not there", wanted)], []
    try:
        left = beside.read(path)
    except MachineError as error:
        return (
            None,
            [Mistake(where, f"{shown(given.file)}, which has mistakes", "a file without them")],
            list(error.mistakes),
        )
    if left is None:
        return None, [Mistake(where, shown(given.file), "a file that does not rest on this sheet itself")], []
    if left.stock is None:
        return None, [Mistake(where, shown(given.file), "a file with a stock")], []
    face = None if given.face_z is None else given.face_z * scale
    return _placed(left.stock, face, turned_round=given.turned_round), [], []


def _is_there(path: Path) -> bool:
    try:
        return path.is_file()
    except ValueError:
        return False  # no name that a file can have


def _placed(left: Stock, face: Fraction | None, *, turned_round: bool) -> Stock:
    """The piece with its front face at a Z (None: where it was left); turned round, its back end comes to the front."""
    outline = left.outline or _corners(left)
    low, high, _, _ = box_around(outline)
    if turned_round:
        assert face is not None
        outline = tuple((x, face + low - z) for x, z in outline)
    elif face is not None:
        outline = tuple((x, z + face - high) for x, z in outline)
    return replace(_contour(outline), came_from=left.came_from)


def _corners(stock: Stock) -> Points:
    inner, back = stock.inner or Fraction(0), stock.face_z - stock.length
    return ((inner, stock.face_z), (stock.diameter, stock.face_z), (stock.diameter, back), (inner, back))


# -- is it still what it came from? -------------------------------------------------------------------------------------


def _came_from(given: CameFromTable, beside: Beside | None) -> CameFrom:
    doubts = [*given.doubts, *(_alone(given) if beside is None else _other_now(given, beside))]
    told = given.model_dump(exclude={"called", "uncertain", "doubts"})
    return CameFrom(
        **told,
        called=tuple(given.called),
        uncertain=tuple(given.uncertain),
        doubts=tuple(dict.fromkeys(doubts)),
    )


def _alone(given: CameFromTable) -> Iterator[str]:
    yield f"whether {given.program} and {given.setup} are still what it came from: the sheet was handed in alone"


def _other_now(given: CameFromTable, beside: Beside) -> Iterator[str]:
    """In words whatever is not there any more, or is another file than the contour was worked out from."""
    folder = beside.path.parent
    try:
        digest = hashlib.sha256((folder / given.program).read_bytes()).hexdigest()
    except (OSError, ValueError):
        yield f"the program that it came from, {given.program}, is not there: whether it is still the same is not known"
    else:
        if digest != given.program_sha256:
            yield f"it came from another revision of {given.program} than the one that is there now"
    yield from _other_setup(given, beside, folder / given.setup)
    yield from _other_machine(given, folder)
    if given.called:
        yield f"whether the called programs {', '.join(given.called)} are still the same is not looked at"


def _other_setup(given: CameFromTable, beside: Beside, path: Path) -> Iterator[str]:
    try:
        before = beside.read(path)
    except MachineError:
        yield f"the setup sheet that it came from, {given.setup}, cannot be read: whether it is still the same is not known"
        return
    if before is None:
        where, wanted = ("stock", "came_from", "setup"), "a setup sheet that does not rest on this file itself"
        raise MachineError([Mistake(where, shown(given.setup), wanted).line(str(beside.path))])
    if before.digest != given.setup_digest:
        yield f"it came from another version of the setup sheet {given.setup} than the one that is there now"
    elif before.stock is not None and before.stock.came_from is not None:
        yield from (f"of the operation before that: {doubt}" for doubt in before.stock.came_from.doubts)


def _other_machine(given: CameFromTable, folder: Path) -> Iterator[str]:
    try:
        machine = generic_lathe() if given.machine_file is None else load_machine(folder / given.machine_file)
    except MachineError:
        yield f"the profile of {given.machine} that it came from cannot be read: whether it is still the same is not known"
        return
    if machine.digest != given.machine_digest:
        yield f"it came from another profile of {given.machine} than the one that is there now"
