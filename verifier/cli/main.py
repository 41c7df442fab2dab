"""The command line: one group, one module per command. It makes the same calls as the service."""

from __future__ import annotations

import click

from verifier.cli.accepting import ACCEPTING
from verifier.cli.acts import ACTS
from verifier.cli.compare import check_command, compare_command
from verifier.cli.demo import demo_command
from verifier.cli.ending import EndingGroup, speak_any_encoding
from verifier.cli.looking import LOOKS
from verifier.cli.picture import picture_command
from verifier.cli.serve import serve_command
from verifier.cli.shop import ledger_group, shop_group
from verifier.cli.show import machine_group, policy_group, rules_command, setup_group
from verifier.version import VERSION


@click.group(cls=EndingGroup, context_settings={"help_option_names": ["-h", "--help"]})
@click.version_option(VERSION, prog_name="verifier")
def main() -> None:
    """Verify revisions of CNC programs: what will the machine now do differently, and who said yes.

    It is an aid. It replaces neither the control's manual, a dry run, the prove-out, guards, nor a qualified person's judgement.
    """
    speak_any_encoding()


for _command in (
    compare_command,
    check_command,
    picture_command,
    demo_command,
    serve_command,
    *ACTS,
    *ACCEPTING,
    *LOOKS,
    shop_group,
    ledger_group,
    machine_group,
    setup_group,
    policy_group,
    rules_command,
):
    main.add_command(_command)
