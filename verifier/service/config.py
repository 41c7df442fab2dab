"""The service's one file of settings (TOML), every value checked, every mistake told in one run."""

from __future__ import annotations

import ipaddress
import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Annotated, Any

from pydantic import Field

from verifier.machines import Mistake, Table, read_table, shown
from verifier.records import SessionLimits
from verifier.source import SIZE_LIMIT, MachineError

MIB = 1 << 20
LOOPBACK = ("127.0.0.1", "localhost")
"""Names for this computer; an IPv6 address is no name that a request is checked against."""

_WILDCARDS = ("0.0.0.0", "::", "")
_HOST = re.compile(r"\.?[A-Za-z0-9][A-Za-z0-9.-]{0,252}")

Whole = Annotated[int, Field(ge=0)]


class SessionTable(Table):
    """`[session]`: when people are signed out, in minutes and hours; `action_s`: how long a screen at a machine stays open."""

    idle_minutes: Annotated[int, Field(ge=1, le=60)] = 15
    total_hours: Annotated[int, Field(ge=1, le=24)] = 12
    action_s: Annotated[int, Field(ge=30, le=900)] = 120


class ThrottleTable(Table):
    """`[throttle]`: how many wrong passwords or PINs, for one person and from one address, before a lock of so many minutes."""

    tries: Annotated[int, Field(ge=3, le=100)] = 5
    address_tries: Annotated[int, Field(ge=3, le=1000)] = 20
    lock_minutes: Annotated[int, Field(ge=1, le=1440)] = 15


class FloorTable(Table):
    """`[floor]`: how often ordered files are written, and machines' folders are looked at, in seconds."""

    publish_s: Annotated[int, Field(ge=1, le=300)] = 2
    watch_s: Annotated[int, Field(ge=5, le=3600)] = 60


class ServiceTable(Table):
    """The whole file."""

    shop: str | None = None
    host: str = "127.0.0.1"
    port: Annotated[int, Field(ge=1, le=65535)] = 8470
    workers: Annotated[int, Field(ge=1, le=32)] = 2
    threads: Annotated[int, Field(ge=1, le=64)] = 4
    public_hosts: list[str] = Field(default_factory=list)
    proxy_hops: Annotated[int, Field(ge=0, le=5)] = 0
    secure_cookies: bool | None = None
    open_metrics: bool = False
    upload_mib: Annotated[int, Field(ge=1, le=SIZE_LIMIT // MIB)] = 8
    session: SessionTable = SessionTable()
    throttle: ThrottleTable = ThrottleTable()
    floor: FloorTable = FloorTable()

    @classmethod
    def contradictions(cls, raw: dict[str, Any]) -> Iterator[Mistake]:
        """Names that are none, and a public address without the names that people call it by."""
        names = raw.get("public_hosts", [])
        for k, name in enumerate(names if isinstance(names, list) else []):
            if isinstance(name, str) and not _HOST.fullmatch(name):
                yield Mistake(("public_hosts", k), shown(name), "a host name without scheme, port or path")
        if _nameless(raw.get("host", LOOPBACK[0])) and not names:
            yield Mistake(
                ("public_hosts",), "nothing", "the names by which people call this service, for a public host"
            )


@dataclass(frozen=True, slots=True)
class Config:
    """The settings of a running service. `shop` is an absolute folder, which may not exist yet."""

    shop: Path
    host: str
    port: int
    workers: int
    threads: int
    trusted_hosts: tuple[str, ...]
    proxy_hops: int
    secure: bool
    upload_limit: int
    session: SessionLimits
    action_s: int
    tries: int
    address_tries: int
    lock_s: int
    publish_s: int
    watch_s: int
    open_metrics: bool

    @property
    def cookie(self) -> str:
        """Name of the session cookie; the prefix binds it to this host and to TLS, which loopback does without."""
        return "__Host-verifier" if self.secure else "verifier"

    @property
    def address(self) -> str:
        """Where people open the service, as far as the settings say: over TLS by its public name, else on this computer."""
        public = [name for name in self.trusted_hosts if name not in LOOPBACK and not name.startswith(".")]
        if self.secure and public:
            return f"https://{public[0]}/"
        host = "localhost" if self.host in ("127.0.0.1", "::1") else self.host
        return f"http://{host}:{self.port}/"


def load_config(
    file: Path | None = None, *, shop: Path | None = None, host: str | None = None, port: int | None = None
) -> Config:
    """The settings in a file, with what the command line says in their place. MachineError carries every mistake."""
    label = str(file) if file else "command line"
    table = read_table(file, ServiceTable) if file else ServiceTable()
    given = {name: value for name, value in (("host", host), ("port", port)) if value is not None}
    if given:
        table = _changed(table, given, label)
    folder = shop if shop is not None else _shop_of(table, file)
    if folder is None:
        raise MachineError([f"{label}: shop: got nothing, expected the folder of the shop's records"])
    return _config(table, folder.absolute())


def _changed(table: ServiceTable, given: Mapping[str, object], label: str) -> ServiceTable:
    merged = table.model_copy(update=dict(given))
    mistakes = [*ServiceTable.contradictions({"host": merged.host, "public_hosts": merged.public_hosts})]
    if not 1 <= merged.port <= 65535:
        mistakes.append(Mistake(("port",), str(merged.port), "a number of 1 to 65535"))
    if mistakes:
        raise MachineError([mistake.line(label) for mistake in mistakes])
    return merged


def _shop_of(table: ServiceTable, file: Path | None) -> Path | None:
    """The folder as the file names it: relative to where the file lies."""
    if table.shop is None or file is None:
        return None
    return file.absolute().parent / table.shop


def _nameless(host: object) -> bool:
    """Whether people cannot call the service by the address it listens at: any address, or one of IPv6."""
    if not isinstance(host, str) or is_loopback(host):
        return False
    return host in _WILDCARDS or ":" in host


def is_loopback(host: str) -> bool:
    """Whether only this computer reaches a host."""
    if host == "localhost":
        return True
    try:
        return ipaddress.ip_address(host.strip("[]")).is_loopback
    except ValueError:
        return False


def _config(table: ServiceTable, shop: Path) -> Config:
    own = not _nameless(table.host) and not is_loopback(table.host)
    hosts = dict.fromkeys([*table.public_hosts, *([table.host] if own else []), *LOOPBACK])
    secure = not is_loopback(table.host) if table.secure_cookies is None else table.secure_cookies
    return Config(
        shop=shop,
        host=table.host,
        port=table.port,
        workers=table.workers,
        threads=table.threads,
        trusted_hosts=tuple(hosts),
        proxy_hops=table.proxy_hops,
        secure=secure,
        upload_limit=table.upload_mib * MIB,
        session=SessionLimits(table.session.idle_minutes * 60, table.session.total_hours * 3600),
        action_s=table.session.action_s,
        tries=table.throttle.tries,
        address_tries=table.throttle.address_tries,
        lock_s=table.throttle.lock_minutes * 60,
        publish_s=table.floor.publish_s,
        watch_s=table.floor.watch_s,
        open_metrics=table.open_metrics,
    )
