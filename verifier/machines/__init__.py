"""Takes profile and setup files (TOML).

Gives a frozen Machine and Setup, checked completely, with the digests of their content.
Never reads a program.
"""

from __future__ import annotations

from verifier.machines.checking import parse_table, read_table
from verifier.machines.choices import CHOICES, Choice
from verifier.machines.code_sets import (
    ABSOLUTE,
    FUNCTIONS,
    INCREMENTAL,
    SETS,
    TO_INITIAL,
    TO_R,
    code_name,
    meaning,
    other_sets,
    spoken,
)
from verifier.machines.edge import Name, Positive, Table, number
from verifier.machines.frozen import FrozenMap
from verifier.machines.inserts import CORNERS, TWO_LENGTHS
from verifier.machines.load_model import Grip, Material, Roughness
from verifier.machines.materials import MATERIALS
from verifier.machines.mcodes import CONTROL_MEANINGS
from verifier.machines.mistakes import Mistake, nearest, shown
from verifier.machines.model import (
    GROUPS,
    QUANTITIES,
    Axis,
    CycleParameters,
    Increments,
    Machine,
    MCode,
    Spindle,
    VariableRanges,
    Verification,
)
from verifier.machines.profile import generic_lathe, load_machine, parse_machine
from verifier.machines.reading import content_digest
from verifier.machines.schema import file_schema, machine_schema, setup_schema
from verifier.machines.setup import load_setup, parse_setup
from verifier.machines.setup_model import CameFrom, KeepOut, Limit, Setup, Stock, Tool, Turret, WorkHolding
from verifier.machines.writing import machine_text, setup_text, table_text

__all__ = [
    "ABSOLUTE",
    "CHOICES",
    "CONTROL_MEANINGS",
    "CORNERS",
    "FUNCTIONS",
    "GROUPS",
    "INCREMENTAL",
    "MATERIALS",
    "QUANTITIES",
    "SETS",
    "TO_INITIAL",
    "TO_R",
    "TWO_LENGTHS",
    "Axis",
    "CameFrom",
    "Choice",
    "CycleParameters",
    "FrozenMap",
    "Grip",
    "Increments",
    "KeepOut",
    "Limit",
    "MCode",
    "Machine",
    "Material",
    "Mistake",
    "Name",
    "Positive",
    "Roughness",
    "Setup",
    "Spindle",
    "Stock",
    "Table",
    "Tool",
    "Turret",
    "VariableRanges",
    "Verification",
    "WorkHolding",
    "code_name",
    "content_digest",
    "file_schema",
    "generic_lathe",
    "load_machine",
    "load_setup",
    "machine_schema",
    "machine_text",
    "meaning",
    "nearest",
    "number",
    "other_sets",
    "parse_machine",
    "parse_setup",
    "parse_table",
    "read_table",
    "setup_schema",
    "setup_text",
    "shown",
    "spoken",
    "table_text",
]
