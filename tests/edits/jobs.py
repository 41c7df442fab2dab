"""Harmless rewrites of generated jobs: the same job said in two forms, so that what differs is known to be the form alone.

The jobs and their two ways of being written are those of the promises (`tests/properties/`); loops are made here, turn by turn.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from decimal import Decimal
from random import Random

from tests.properties.render import Form, text
from tests.properties.strategies import job_of


@dataclass(frozen=True, slots=True)
class Said:
    """A job said in two forms: sequences of these kinds, in these units."""

    kinds: tuple[str, ...]
    form: Form
    units: tuple[str, ...] = ("mm", "inch")


_FORMS = {
    "one-block cycle for two blocks": Said(("rough", "pecked", "thread", "drill"), Form(one_block=True)),
    "cycle written out": Said(("turn", "face", "pecked", "drill"), Form(cycles_out=True)),
    "subprogram in line": Said(("pattern",), Form(calls="inline")),
    "repeats one by one": Said(("pattern",), Form(calls="unrolled")),
    "inches as millimetres": Said(("turn", "finish", "groove", "face", "rough"), Form(units="mm"), ("inch",)),
    "arcs by centre or radius": Said(("finish", "rough"), Form(arc_by_centre=0.8)),
    "increments in a whole job": Said(("turn", "finish", "groove", "pattern"), Form(incremental=0.7)),
    "feed moves split in a whole job": Said(("turn", "finish", "face", "groove"), Form(split=0.8)),
    "codes in force repeated": Said((), Form(repeat_codes=0.5, repeat_motion=0.5, repeat_feed=0.5)),
}


def _of_job(said: Said) -> Callable[[Random], tuple[str, str]]:
    def make(chance: Random) -> tuple[str, str]:
        job = job_of(chance.randrange(2**32), chance.choice(said.units), kinds=said.kinds)
        number = chance.randrange(2**16)
        return text(job, seed=number).decode(), text(job, said.form, seed=number + 1).decode()

    return make


_HEAD = """O{number} (RINGS)
N1 G00 G21 G40 G97 G99
T0303
G50 S1500
G96 S120 M03
G00 X{clear} Z5. M08
"""
_TAIL = """G00 X{away} Z60.
M09
M05
G97
M30
"""


def _loop(chance: Random) -> tuple[str, str]:
    """Grooves or passes in a loop of any of the usual kinds, and one by one."""
    count, bar = chance.randrange(2, 7), chance.randrange(30, 90)
    first, step = Decimal(chance.randrange(-200, -50)) / 10, Decimal(chance.randrange(20, 60)) / 10
    depth, dwell = chance.randrange(bar - 12, bar - 2), chance.randrange(1, 9) * 100
    head, tail = (
        _HEAD.format(number=chance.randrange(3000, 3999), clear=f"{bar + 4}.", away=f"{bar + 40}."),
        _TAIL.format(away=f"{bar + 40}."),
    )
    cut = f"G01 X{depth}. F0.06\nG04 P{dwell}\nG00 X{bar + 4}.\n"
    turns = "".join(f"G00 Z{first - step * k}\n{cut}" for k in range(count))
    shape = chance.randrange(3)
    if shape == 0:
        loop = f"#1=0\nWHILE[#1LT{count}]DO1\nG00 Z[{first}-{step}*#1]\n{cut}#1=#1+1\nEND1\n"
    elif shape == 1:
        last = first - step * (count - 1)
        loop = f"#2={first}\nN50 G00 Z#2\n{cut}#2=#2-{step}\nIF[#2GE{last}]GOTO50\n"
    else:
        loop = f"#3={count}\n#4={first}+{step}\nWHILE[#3GT0]DO2\n#4=#4-{step}\n#3=#3-1\nG00 Z#4\n{cut}END2\n"
    return head + loop + tail, head + turns + tail


GENERATED: dict[str, Callable[[Random], tuple[str, str]]] = {name: _of_job(said) for name, said in _FORMS.items()}
GENERATED["loop unrolled"] = _loop
EACH = 80


def generated(seed: int, each: int = EACH) -> Iterator[tuple[str, str, str, str]]:
    """Kind, name, and the two texts, every other time the other way round."""
    for kind, make in GENERATED.items():
        for number in range(each):
            one, other = make(Random(f"{seed} {kind} {number}"))
            if one != other:
                yield (kind, f"job {number}", *((other, one) if number % 2 else (one, other)))
