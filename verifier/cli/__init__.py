"""Takes a command line; gives text or JSON and an exit code. Never computes anything itself."""

from __future__ import annotations

from verifier.cli.main import main

__all__ = ["main"]
