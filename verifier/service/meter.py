"""What a worker counts for itself, and the text in which figures are told (text exposition format, version 0.0.4)."""

from __future__ import annotations

import threading
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field


@dataclass(frozen=True, slots=True)
class Family:
    """One figure: its name, kind (`counter` or `gauge`), what it means, and its values by labels."""

    name: str
    kind: str
    words: str
    values: tuple[tuple[Mapping[str, str], float], ...]


@dataclass
class Meter:
    """Counts of one worker process; `acts` is taken from the ledger and grows with it."""

    requests: dict[tuple[str, str], int] = field(default_factory=dict)
    refused: dict[str, int] = field(default_factory=dict)
    _acts: dict[str, int] = field(default_factory=dict)
    _seq: int = 0
    _lock: threading.Lock = field(default_factory=threading.Lock)

    def count(self, method: str, status: int) -> None:
        """Count a request by its outcome."""
        key = (method if method in ("GET", "HEAD", "POST") else "other", f"{status // 100}xx")
        with self._lock:
            self.requests[key] = self.requests.get(key, 0) + 1

    def refuse(self, code: str) -> None:
        """Count a refusal by its code."""
        with self._lock:
            self.refused[code] = self.refused.get(code, 0) + 1

    def copied(self) -> tuple[dict[tuple[str, str], int], dict[str, int]]:
        """Requests and refusals as they stand now."""
        with self._lock:
            return dict(self.requests), dict(self.refused)

    @property
    def seq(self) -> int:
        """The last entry of the ledger that was counted."""
        return self._seq

    def add_acts(self, since: int, last: int, counted: Mapping[str, int]) -> dict[str, int]:
        """Add acts counted after entry `since`, unless another request did so meanwhile; gives all of them."""
        with self._lock:
            if since == self._seq:
                self._seq = last
                for act, n in counted.items():
                    self._acts[act] = self._acts.get(act, 0) + n
            return dict(self._acts)


def text(families: Iterable[Family]) -> str:
    """The families as lines: help, type, then one line a value."""
    lines: list[str] = []
    for one in families:
        words = one.words.replace("\\", "\\\\").replace("\n", "\\n")
        lines += [f"# HELP {one.name} {words}", f"# TYPE {one.name} {one.kind}"]
        lines += [f"{one.name}{_labels(labels)} {_number(value)}" for labels, value in one.values]
    return "\n".join(lines) + "\n"


def _labels(labels: Mapping[str, str]) -> str:
    if not labels:
        return ""
    return "{" + ",".join(f'{name}="{_escaped(value)}"' for name, value in labels.items()) + "}"


def _escaped(value: str) -> str:
    return value.replace("\\", "\\\\").replace('"', '\\"').replace("\n", "\\n")


def _number(value: float) -> str:
    return str(int(value)) if value == int(value) else f"{value:.3f}"
