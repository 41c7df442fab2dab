"""Takes a comparison, or one executed program, and a policy; gives findings in the order a lead should read them.

Never executes, compares or stores anything.
"""

from __future__ import annotations

from verifier.findings.engine import FAILED, Judgement, judge, judge_change, judge_one, judge_program
from verifier.findings.loads import Cuts, cuts_of, ra_of
from verifier.findings.mill_words import mill_words
from verifier.findings.model import Box, Finding, Place, Status, Weight
from verifier.findings.notes import changed_notes
from verifier.findings.outside import with_outside
from verifier.findings.phrases import coordinate, millimetres
from verifier.findings.policy import Policy, SignOff, default_policy
from verifier.findings.policy_changes import PolicyChange, policy_changes
from verifier.findings.policy_file import load_policy, parse_policy, policy_schema, policy_text
from verifier.findings.policy_words import policy_words
from verifier.findings.registry import all_rules, revisions, rule
from verifier.findings.rule import RETIRED, ChangeRule, Example, ProgramRule, Rule
from verifier.findings.sizes import (
    SizeJudgement,
    drawing_limit_of,
    judge_angle,
    judge_radius,
    judge_size,
    judge_thread,
    limit_of,
)
from verifier.findings.spells import cutting, main_blocks, sequence_numbers
from verifier.findings.tolerances import CLASSES, general_tolerance
from verifier.findings.view import ChangeView, ProgramView

__all__ = [
    "CLASSES",
    "FAILED",
    "RETIRED",
    "Box",
    "ChangeRule",
    "ChangeView",
    "Cuts",
    "Example",
    "Finding",
    "Judgement",
    "Place",
    "Policy",
    "PolicyChange",
    "ProgramRule",
    "ProgramView",
    "Rule",
    "SignOff",
    "SizeJudgement",
    "Status",
    "Weight",
    "all_rules",
    "changed_notes",
    "coordinate",
    "cuts_of",
    "cutting",
    "default_policy",
    "drawing_limit_of",
    "general_tolerance",
    "judge",
    "judge_angle",
    "judge_change",
    "judge_one",
    "judge_program",
    "judge_radius",
    "judge_size",
    "judge_thread",
    "limit_of",
    "load_policy",
    "main_blocks",
    "mill_words",
    "millimetres",
    "parse_policy",
    "policy_changes",
    "policy_schema",
    "policy_text",
    "policy_words",
    "ra_of",
    "revisions",
    "rule",
    "sequence_numbers",
    "with_outside",
]
