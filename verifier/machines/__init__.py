"""Takes profile and setup files (TOML).

Gives a frozen Machine and Setup, checked completely, with the digests of their content.
Never reads a program.
"""

from __future__ import annotations

from verifier.machines.choices import CHOICES, Choice
from verifier.machines.frozen import FrozenMap
from verifier.machines.mcodes import CONTROL_MEANINGS
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
from verifier.machines.profile import generic_lathe, load_machine
from verifier.machines.schema import file_schema, machine_schema, setup_schema
from verifier.machines.setup import load_setup
from verifier.machines.setup_model import KeepOut, Limit, Setup, Stock, Tool, WorkHolding

__all__ = [
    "CHOICES",
    "CONTROL_MEANINGS",
    "GROUPS",
    "QUANTITIES",
    "Axis",
    "Choice",
    "CycleParameters",
    "FrozenMap",
    "Increments",
    "KeepOut",
    "Limit",
    "MCode",
    "Machine",
    "Setup",
    "Spindle",
    "Stock",
    "Tool",
    "VariableRanges",
    "Verification",
    "WorkHolding",
    "file_schema",
    "generic_lathe",
    "load_machine",
    "load_setup",
    "machine_schema",
    "setup_schema",
]
