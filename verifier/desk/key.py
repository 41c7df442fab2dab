"""The server key: 256 random bits in a file beside a shop's records, never in them, so that the records alone open nothing."""

from __future__ import annotations

import hmac
import os
import re
import secrets
import sys
from hashlib import sha256
from pathlib import Path

from verifier.source import StoreError

FILE = "server.key"
_FORM = re.compile(r"[0-9a-f]{64}")


class ServerKey:
    """Keys texts for one purpose each; what is keyed for one purpose never counts for another."""

    def __init__(self, key: bytes) -> None:
        self._key = key
        #: Names the key without telling it, so that another key is noticed and not taken for a wrong secret.
        self.name = sha256(b"key name\0" + key).hexdigest()[:8]

    def keyed(self, purpose: str, text: str) -> str:
        """HMAC-SHA256 of a text for a purpose, in hexadecimal."""
        message = f"{purpose}\0{text}".encode("utf-8", "surrogatepass")
        return hmac.new(self._key, message, sha256).hexdigest()


def server_key(folder: Path) -> ServerKey:
    """The key of the shop in a folder, made when it has none. Raises StoreError where others could read it."""
    path = Path(folder) / FILE
    try:
        if not path.exists():
            _make(path)
        if sys.platform != "win32" and path.stat().st_mode & 0o077:
            raise StoreError(f"{path} can be read by others than its owner", "chmod 600 it, and set all PINs anew")
        text = path.read_text(encoding="ascii").strip()
    except (OSError, UnicodeDecodeError) as error:
        raise StoreError(f"the server key {path} cannot be used: {error}") from error
    if not _FORM.fullmatch(text):
        raise StoreError(
            f"{path} does not hold a server key", "put the right one back, or set all PINs anew without it"
        )
    return ServerKey(bytes.fromhex(text))


def kept_key(folder: Path) -> ServerKey | None:
    """The key that lies in a folder, or None where there is none: unlike `server_key`, this makes none."""
    return server_key(folder) if (Path(folder) / FILE).exists() else None


def _make(path: Path) -> None:
    """Make a key file whole or not at all; of several processes at once the first one's key stays."""
    draft = path.with_name(f".{path.name}.{secrets.token_hex(8)}")
    descriptor = os.open(draft, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
    try:
        with os.fdopen(descriptor, "w", encoding="ascii") as handle:
            handle.write(secrets.token_hex(32) + "\n")
            handle.flush()
            os.fsync(handle.fileno())
        try:
            os.link(draft, path)
        except FileExistsError:
            return
    finally:
        os.unlink(draft)
