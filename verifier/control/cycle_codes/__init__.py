"""One module for each family of canned cycles: from the words of a block to strokes. Every module here joins the registry when it is loaded."""

from __future__ import annotations

from importlib import import_module
from pkgutil import iter_modules

for _found in sorted(module.name for module in iter_modules(__path__)):
    import_module(f"{__name__}.{_found}")
