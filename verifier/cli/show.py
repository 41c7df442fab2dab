"""`verifier machine show`, `verifier setup show`, `verifier policy show`, `verifier rules [ID]`."""

from __future__ import annotations

import json
from pathlib import Path

import click

from verifier.cli.ending import write
from verifier.cli.options import ending_well, machine_from, policy_from
from verifier.findings import (
    ChangeRule,
    Rule,
    all_rules,
    policy_changes,
    policy_schema,
    policy_text,
    policy_words,
    rule,
)
from verifier.machines import load_setup, machine_schema, machine_text, setup_schema, setup_text
from verifier.report import picture_of_machine, picture_of_setup
from verifier.source import VerifierError

_FILE = click.Path(path_type=Path)
_SCHEMA = click.option("--schema", is_flag=True, help="Print the JSON Schema of such a file instead.")


@click.group("machine")
def machine_group() -> None:
    """Machine profiles."""


_PICTURE = click.option("--picture", type=_FILE, help="Draw what was understood (SVG) into this file instead.")


@machine_group.command("show")
@click.argument("file", type=_FILE, required=False)
@_SCHEMA
@_PICTURE
@ending_well
def machine_show(file: Path | None, schema: bool, picture: Path | None) -> None:
    """Show the profile in FILE as it was understood, nothing left to defaults (without FILE: the generic lathe)."""
    if schema:
        click.echo(json.dumps(machine_schema(), indent=2))
    elif picture is not None:
        write(picture_of_machine(machine_from(file)), picture, (file,))
    else:
        click.echo(machine_text(machine_from(file)))


@click.group("setup")
def setup_group() -> None:
    """Setup sheets."""


@setup_group.command("show")
@click.argument("file", type=_FILE, required=False)
@click.option("--machine", type=_FILE, help="Machine profile that the sheet is for.")
@_SCHEMA
@_PICTURE
@ending_well
def setup_show(file: Path | None, machine: Path | None, schema: bool, picture: Path | None) -> None:
    """Show the setup sheet in FILE as it was understood."""
    if schema:
        click.echo(json.dumps(setup_schema(), indent=2))
        return
    if file is None:
        raise VerifierError("no setup sheet was given", "verifier setup show FILE")
    setup = load_setup(file, machine_from(machine) if machine else None)
    if picture is not None:
        write(picture_of_setup(setup), picture, (file, machine))
    else:
        click.echo(setup_text(setup))


@click.group("policy")
def policy_group() -> None:
    """Shop policies."""


@policy_group.command("show")
@click.argument("file", type=_FILE, required=False)
@click.option("--against", type=_FILE, help="Another policy: name every loosening and tightening from it to FILE.")
@click.option("--toml", is_flag=True, help="Print it as the file that loads back to it, nothing left to defaults.")
@_SCHEMA
@ending_well
def policy_show(file: Path | None, against: Path | None, toml: bool, schema: bool) -> None:
    """Say in words what the policy in FILE asks (without FILE: the built-in one), or how it differs from another."""
    if schema:
        click.echo(json.dumps(policy_schema(), indent=2))
    elif against is not None:
        changes = policy_changes(policy_from(against), policy_from(file))
        click.echo("\n".join(change.line for change in changes) or "the two policies ask for the same")
    else:
        click.echo(policy_text(policy_from(file)) if toml else policy_words(policy_from(file)))


@click.command("rules")
@click.argument("name", metavar="[ID]", required=False)
@ending_well
def rules_command(name: str | None) -> None:
    """List the rules, or tell all about the rule ID: why it matters, what to watch, an example."""
    if name is None:
        for entry in all_rules():
            kind = "change" if isinstance(entry, ChangeRule) else "hazard"
            click.echo(f"{entry.id:38} {entry.weight:9} {kind:7} {entry.title}")
        return
    found = rule(name)
    if found is None:
        raise VerifierError(f"there is no rule {name}", "`verifier rules` lists all of them")
    click.echo(rule_page(found))


def rule_page(found: Rule) -> str:
    """Everything a rule says of itself."""
    lines = [
        f"{found.id}  (revision {found.revision}, {found.weight})",
        "",
        found.title,
        "",
        found.why(),
        "",
        f"At the machine: {found.watch}",
    ]
    if isinstance(found, ChangeRule) and found.mirror != found.id:
        lines.append(f"The other way round: {found.mirror}")
    for example in found.examples:
        lines += ["", f"Example: {example.title} ({'a finding' if example.fires else 'no finding'})"]
        if example.old is not None:
            lines += ["  before:", *(f"    {line}" for line in example.old.strip().splitlines()), "  after:"]
        lines += [f"    {line}" for line in example.new.strip().splitlines()]
    return "\n".join(lines)
