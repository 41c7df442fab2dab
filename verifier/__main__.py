"""`python -m verifier` is the same as the command `verifier`."""

from __future__ import annotations

from verifier.cli import main

if __name__ == "__main__":
    main()
