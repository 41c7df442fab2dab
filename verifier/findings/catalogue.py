"""The page that lists the rules, made from the rules: `python -m verifier.findings.catalogue > verifier/findings/RULES.md`."""

from __future__ import annotations

from verifier.findings.registry import all_rules
from verifier.findings.rule import ChangeRule, Example, ProgramRule, Rule

_HEAD = """# Rules

Made from the rules themselves by `python -m verifier.findings.catalogue`; do not edit. Weights are those of the built-in policy.
"""


def catalogue() -> str:
    """Every rule on one page: first a table, then what each says of itself."""
    rules = all_rules()
    table = ["| rule | weight | about | |", "| --- | --- | --- | --- |"]
    table += [f"| [{r.id}](#{r.id}) | {r.weight} | {_about(r)} | {r.title} |" for r in rules]
    return "\n".join([_HEAD, *table, "", *(_page(r) for r in rules)])


def _about(rule: Rule) -> str:
    return "a change" if isinstance(rule, ChangeRule) else "one program"


def _page(rule: Rule) -> str:
    lines = [f"## {rule.id}", "", f"*Revision {rule.revision}, {rule.weight}.* {rule.title}", "", rule.why(), ""]
    lines += [f"**At the machine.** {rule.watch}", ""]
    if isinstance(rule, ProgramRule) and rule.house:
        lines += [f'Only where the policy asks for this habit (`house = ["{rule.house}"]`).', ""]
    if isinstance(rule, ChangeRule) and rule.mirror != rule.id:
        lines += [f"The other way round: [{rule.mirror}](#{rule.mirror}).", ""]
    for example in rule.examples:
        lines += _example(example)
    return "\n".join(lines)


def _example(example: Example) -> list[str]:
    told = "a finding" if example.fires else "no finding"
    lines = [f"Example, {told}: {example.title}", ""]
    if example.old is not None:
        lines += ["```", *example.old.strip().splitlines(), "```", "", "becomes", ""]
    return [*lines, "```", *example.new.strip().splitlines(), "```", ""]


if __name__ == "__main__":
    print(catalogue())
