"""The server process: several workers where the system can fork, one process with threads elsewhere; both end cleanly."""

from __future__ import annotations

import signal
import sys
from collections.abc import Callable
from types import FrameType
from typing import Any

from flask import Flask

from verifier.desk import server_key
from verifier.records import Clock, find_person, give_code, migrate_shop, open_shop, shop_exists
from verifier.service.app import create_app
from verifier.service.config import Config
from verifier.service.context import Service
from verifier.service.entering import CODE_LASTS_S, code_hash, new_code
from verifier.service.first import first_needed
from verifier.service.logs import log_to
from verifier.service.publishing import Publisher
from verifier.source import VerifierError


def prepare_shop(config: Config, clock: Clock) -> tuple[int, str | None]:
    """Bring the records up to date; gives the steps taken and, where nobody can sign in yet, the first code."""
    config.shop.mkdir(parents=True, exist_ok=True)
    key = server_key(config.shop)
    steps = migrate_shop(config.shop) if shop_exists(config.shop) else 0
    running = Service(config, clock, lambda: "", key)
    needed = first_needed(running)
    if shop_exists(config.shop):
        running.shop().close_thread()
    return steps, new_code() if needed else None


def code_for(config: Config, clock: Clock, login: str) -> str:
    """A one-time code for an administrator who can no longer sign in; whoever may start the server may give it.

    It is an act of that administrator in the ledger. Raises ActRefused for anybody else: administrators give them theirs.
    """
    with open_shop(config.shop, clock) as shop:
        person, code = find_person(shop, login), new_code()
        key = server_key(config.shop)
        give_code(shop, person.id, person.id, code_hash(Service(config, clock, lambda: "", key), code), CODE_LASTS_S)
    return code


def worker_app(
    config: Config, clock: Clock, new_id: Callable[[], str], first_code: str | None
) -> tuple[Flask, Publisher]:
    """The application of one process with its publisher, which is not started yet."""
    publisher = Publisher(
        lambda: open_shop(config.shop, clock), new_id, publish_s=config.publish_s, watch_s=config.watch_s
    )
    app = create_app(config, clock=clock, new_id=new_id, first_code=first_code, publish=publisher.publish)
    return app, publisher


def serve(
    config: Config, *, clock: Clock, new_id: Callable[[], str], first_code: str | None, threads_only: bool
) -> None:
    """Serve until the process is told to end. Raises VerifierError where the server is not installed."""
    log_to()
    if threads_only or sys.platform == "win32":
        _serve_threads(config, clock, new_id, first_code)
    else:
        _serve_workers(config, clock, new_id, first_code)


def _serve_threads(config: Config, clock: Clock, new_id: Callable[[], str], first_code: str | None) -> None:
    try:
        from waitress.server import create_server  # type: ignore[import-untyped, unused-ignore]
    except ImportError as error:
        raise VerifierError("waitress is not installed", "install the package with its dependencies") from error
    app, publisher = worker_app(config, clock, new_id, first_code)
    publisher.start()
    server = create_server(
        app,
        host=config.host,
        port=config.port,
        threads=config.threads,
        ident=None,
        max_request_body_size=config.upload_limit + (1 << 20),
        clear_untrusted_proxy_headers=not config.proxy_hops,
    )

    def end(_: int, __: FrameType | None) -> None:
        raise SystemExit(0)

    signal.signal(signal.SIGTERM, end)
    try:
        server.run()
    finally:
        server.close()
        publisher.stop()


def _serve_workers(config: Config, clock: Clock, new_id: Callable[[], str], first_code: str | None) -> None:
    try:
        from gunicorn.app.base import BaseApplication  # type: ignore[import-untyped, unused-ignore]
    except ImportError as error:
        raise VerifierError("gunicorn is not installed", "install the package with its dependencies") from error
    publishers: list[Publisher] = []

    def ended(_: object, __: object) -> None:
        for publisher in publishers:
            publisher.stop()

    class Workers(BaseApplication):  # type: ignore[misc, unused-ignore]  # the library has no types
        def load_config(self) -> None:
            for name, value in settings(config).items():
                if name in self.cfg.settings:  # a setting that only newer versions know is left out on older ones
                    self.cfg.set(name, value)
            self.cfg.set("worker_exit", ended)

        def load(self) -> Flask:
            """Called in each worker after it was forked: nothing opened before is shared."""
            log_to()
            app, publisher = worker_app(config, clock, new_id, first_code)
            publishers.append(publisher)
            publisher.start()
            return app

    Workers().run()


def settings(config: Config) -> dict[str, Any]:
    """The settings of the worker server."""
    host = f"[{config.host}]" if ":" in config.host and not config.host.startswith("[") else config.host
    return {
        "bind": f"{host}:{config.port}",
        "workers": config.workers,
        "threads": config.threads,
        "worker_class": "gthread",
        "preload_app": False,
        "timeout": 120,
        "graceful_timeout": 20,
        "keepalive": 5,
        "limit_request_line": 4094,
        "limit_request_fields": 60,
        "forwarded_allow_ips": "",
        "accesslog": None,
        "loglevel": "warning",
        "proc_name": "verifier",
        "control_socket_disable": True,
    }
