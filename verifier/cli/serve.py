"""`verifier serve`: the service on one shop, until it is told to end."""

from __future__ import annotations

from pathlib import Path

import click

from verifier import service
from verifier.cli.desks import new_id, now_us
from verifier.cli.options import ending_well
from verifier.service import load_config, prepare_shop, serve

_FILE = click.Path(path_type=Path)


@click.command("serve")
@click.option(
    "--shop", type=_FILE, envvar="VERIFIER_SHOP", show_envvar=True, help="Folder of the shop's records; made if absent."
)
@click.option("--config", "file", type=_FILE, help="Settings of the service (TOML).")
@click.option("--host", help="Address to listen at (default: 127.0.0.1, this computer only).")
@click.option("--port", type=int, help="Port to listen at (default: 8470).")
@click.option("--threads-only", is_flag=True, help="One process with threads, as on systems that cannot fork.")
@click.option(
    "--code-for", metavar="LOGIN", help="Print a one-time code for an administrator who can no longer sign in."
)
@ending_well
def serve_command(
    shop: Path | None, file: Path | None, host: str | None, port: int | None, threads_only: bool, code_for: str | None
) -> None:
    """Serve the shop's pages and API until the process is told to end.

    Where nobody can sign in yet, a one-time code is printed: with it the first administrator sets a password.
    """
    config = load_config(file, shop=shop, host=host, port=port)
    steps, code = prepare_shop(config, now_us)
    if steps:
        click.echo(f"the records were brought up to date ({steps} step{'' if steps == 1 else 's'})", err=True)
    where = config.address
    click.echo(f"serving the shop in {config.shop} at {where} (port {config.port} of {config.host})", err=True)
    if code is not None:
        click.echo(f"nobody can sign in yet. Open {where}first and enter this one-time code: {code}", err=True)
    if code_for is not None:
        given = service.code_for(config, now_us, code_for)
        click.echo(f"open {where}welcome, and enter the login {code_for} and this one-time code: {given}", err=True)
    if config.secure:
        click.echo(
            "cookies are sent over TLS only: put a server that ends TLS in front, or people cannot sign in", err=True
        )
    serve(config, clock=now_us, new_id=new_id, first_code=code, threads_only=threads_only)
