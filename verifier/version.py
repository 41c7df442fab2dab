"""The version of the tool; it is bound into every report and sign-off."""

from __future__ import annotations

__version__ = "0.1.0"
VERSION = __version__
