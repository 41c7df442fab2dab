"""A machine profile as it was understood: the travel of its slides in machine coordinates, where it references, and where it changes tools."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from fractions import Fraction

from verifier.machines import Axis, Machine
from verifier.report.picture import paper
from verifier.report.picture.paper import Window, element, fitted, line, page, rectangle, text
from verifier.report.picture.plan import EDGE, WIDTH
from verifier.report.picture.scene import Point
from verifier.report.picture.sheet import drawing, lines_of

_UNKNOWN = 100.0
"""How far the room is drawn past a known place where a travel has no known end, in mm."""
_MM_PER_M = 1000


def picture_of_machine(machine: Machine) -> str:
    """The profile as SVG. What it does not say is told in words, never drawn."""
    parts, low = _room(machine)
    said, low = lines_of(_facts(machine), EDGE, low + 10)
    return drawing(parts + said, low + 10, f"Machine {machine.name}: {machine.title}", ". ".join(_facts(machine)))


def _room(machine: Machine) -> tuple[str, float]:
    z, x = machine.axes.get("Z"), machine.axes.get("X")
    if z is None or x is None:
        return text((EDGE, 62), "not drawn: there is no X and Z"), 76
    marks = list(_marks(machine))
    if not marks and None in (x.minimum, x.maximum, z.minimum, z.maximum):
        return text(
            (EDGE, 62), "not drawn: the profile gives neither the whole travel nor a place", fill=paper.ZONE
        ), 76
    low, high = zip(*(_ends(axis, [place[k] for place, _, _ in marks]) for k, axis in enumerate((z, x))), strict=True)
    # X is shown as the control shows it; a diameter's slide goes half as far, so that the drawing keeps its shape.
    factor = 0.5 if x.diameter else 1.0
    pad = 0.08 * max(high[0] - low[0], (high[1] - low[1]) * factor)
    window = fitted(
        (low[0] - pad, low[1] * factor - pad),
        (high[0] + pad, high[1] * factor + pad),
        EDGE + 24,
        66,
        WIDTH - 2 * EDGE - 24,
        320,
    )
    a, b = window.at((low[0], high[1] * factor)), window.at((high[0], low[1] * factor))
    parts = rectangle(
        window.left, window.top, window.width, window.height, fill="#ffffff", stroke=paper.FAINT, stroke_width=0.6
    )
    parts += rectangle(a[0], a[1], b[0] - a[0], b[1] - a[1], fill=paper.STOCK)
    parts += "".join(_sides((z, x), a, b)) + "".join(_scales(window, factor, x))
    for axis, at in ((z, (a[0], (a[1] + b[1]) / 2)), (x, ((a[0] + b[0]) / 2, b[1]))):
        if None in (axis.minimum, axis.maximum):
            parts += text(
                (at[0] + 8, at[1] - 8),
                f"dotted: where the travel of {axis.letter} ends is not given",
                size=10,
                halo=True,
            )
    for place, name, shape in marks:
        parts += _mark(window.at((place[0], place[1] * factor)), name, shape, window)
    return parts, window.top + window.height + 46


def _ends(axis: Axis, places: list[float]) -> tuple[float, float]:
    known = [float(end) for end in (axis.minimum, axis.maximum) if end is not None] + places
    low, high = min(known, default=0.0), max(known, default=0.0)
    low = float(axis.minimum) if axis.minimum is not None else low - _UNKNOWN
    high = float(axis.maximum) if axis.maximum is not None else high + _UNKNOWN
    return low, high


def _sides(axes: tuple[Axis, Axis], a: Point, b: Point) -> Iterator[str]:
    """The four ends of travel: solid where known, broken off where the profile does not say."""
    (z, x), (left, top), (right, bottom) = axes, a, b
    for end, start, stop in (
        (z.minimum, (left, top), (left, bottom)),
        (z.maximum, (right, top), (right, bottom)),
        (x.minimum, (left, bottom), (right, bottom)),
        (x.maximum, (left, top), (right, top)),
    ):
        look = {"stroke_width": 2} if end is not None else {"stroke_width": 1.2, "stroke_dasharray": "2 6"}
        yield line(start, stop, stroke=paper.INK, **look)


def _scales(window: Window, factor: float, x: Axis) -> Iterator[str]:
    bottom = window.top + window.height
    for z in paper.ticks(window.low[0], window.high[0], max(2, int(window.width // 90))):
        at, _ = window.at((z, 0))
        yield line((at, bottom), (at, bottom + 4), stroke=paper.INK, stroke_width=0.7)
        yield text((at, bottom + 15), paper.plain(z), size=10, anchor="middle")
    for value in paper.ticks(window.low[1] / factor, window.high[1] / factor, max(2, int(window.height // 40))):
        _, at = window.at((0, value * factor))
        yield line((window.left - 4, at), (window.left, at), stroke=paper.INK, stroke_width=0.7)
        yield text((window.left - 7, at + 3.5), paper.plain(value), size=10, anchor="end")
    right = window.left + window.width
    yield text((right, bottom + 28), "Z, machine position in mm", size=10, anchor="end", fill=paper.ZONE)
    what = "X, machine position in mm" + (" (diameter)" if x.diameter else "")
    yield text((window.left - 50, window.top - 10), what, size=10, fill=paper.ZONE)


def _marks(machine: Machine) -> Iterator[tuple[Point, str, str]]:
    for places, name, shape in (
        (machine.reference, "reference point", "ring"),
        (machine.tool_change_position, "tool change position", "square"),
    ):
        at = _place(places)
        if at is not None:
            yield at, name, shape


def _place(places: Mapping[str, Fraction | None]) -> Point | None:
    z, x = places.get("Z"), places.get("X")
    return None if z is None or x is None else (float(z), float(x))


def _mark(at: Point, name: str, shape: str, window: Window) -> str:
    """A place with its name: the reference point's above it, the tool change position's below, so that the two may coincide."""
    x, y = at
    look = {"fill": paper.PAPER, "stroke": paper.INK, "stroke_width": 2}
    if shape == "ring":
        sign = element("circle", cx=page(x), cy=page(y), r=7, **look)
        sign += element("circle", cx=page(x), cy=page(y), r=2, fill=paper.INK)
    else:
        sign = rectangle(x - 6, y - 6, 12, 12, **look)
        sign += line((x - 6, y - 6), (x + 6, y + 6), stroke=paper.INK, stroke_width=1.4)
    anchor = "end" if x > window.left + window.width / 2 else "start"
    return sign + text((x, y - 13 if shape == "ring" else y + 22), name, anchor=anchor, halo=True)


def _facts(machine: Machine) -> Iterator[str]:
    turret = f", {machine.turret} turret" if machine.kind == "lathe" else ""
    yield f"{machine.kind.capitalize()}, code set {machine.code_set}{turret}"
    for axis in machine.axes.values():
        travel = f"{_or(axis.minimum)} to {_or(axis.maximum)} mm" + (" of diameter" if axis.diameter else "")
        if axis.minimum is None and axis.maximum is None:
            travel = "not given"
        pace = (
            f"rapid {_plain(axis.rapid / _MM_PER_M)} m/min, acceleration {_plain(axis.acceleration / _MM_PER_M)} m/s²"
        )
        yield f"{axis.letter}: travel {travel}, {pace}"
    for places, name in (
        (machine.reference, "Reference point"),
        (machine.tool_change_position, "Tool change position"),
    ):
        said = ", ".join(f"{letter} {_or(place)}" for letter, place in places.items())
        yield f"{name}: {said or 'not given'}"
    spindle = machine.spindle
    power = f", {_plain(spindle.power_kw)} kW" if spindle.power_kw is not None else ", power not given"
    stop = f", {_plain(spindle.stop_seconds)} s to stop" if spindle.stop_seconds is not None else ""
    yield f"Spindle: {_plain(spindle.max_rpm)} rev/min at most{power}, {_plain(spindle.start_seconds)} s to start{stop}"
    limit = spindle.work_holding_limit_rpm
    yield "Work-holding: " + (f"{_plain(limit)} rev/min at most" if limit is not None else "no speed limit given")
    open_ = sum(1 for name in machine.choices if not machine.is_verified(name))
    yield f"Choices: {len(machine.choices)}, of which {open_} were not verified at the machine"


def _or(value: Fraction | None) -> str:
    return "not given" if value is None else _plain(value)


def _plain(value: Fraction) -> str:
    return paper.plain(float(value))
