"""The service with one mistake planted in it: its source is changed on the way in, and nothing of it is left afterwards."""

from __future__ import annotations

import importlib
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from types import ModuleType

from argon2 import PasswordHasher
from flask import Flask
from hands import SETTINGS, Hands, furnish
from service_shop import START, HandClock, Ids, Site, copied

from verifier.records import Shop

LAYERS = ("verifier.desk", "verifier.service")
"""What is imported anew for every mistake: these folders, in the order in which they build on each other."""

KEPT = ("verifier.service.api_models", "verifier.service.config", "verifier.desk.common", "verifier.desk.key")
"""Modules of them that are large, hold no rule, and import none of the others."""

CHEAP = PasswordHasher(time_cost=1, memory_cost=8, parallelism=1)
"""Hashes that cost nothing: what they prove is the same."""


def source_of(module: str) -> str:
    """The text of a module as it lies on disk."""
    spec = importlib.util.find_spec(module)
    assert spec is not None and spec.origin
    return Path(spec.origin).read_text(encoding="utf-8")


@contextmanager
def planted(module: str, right: str, wrong: str) -> Iterator[ModuleType]:
    """The service as it is with one place of one module changed; gives the service's package."""
    text = source_of(module)
    assert text.count(right) == 1, f"the place to be changed is there {text.count(right)} times in {module}: {right}"
    ours = {name: sys.modules[name] for name in list(sys.modules) if name.startswith(LAYERS) and name not in KEPT}
    parents = {name: dict(vars(sys.modules[name])) for name in ("verifier",)}
    for name in ours:
        del sys.modules[name]
    finder = _Changed(module, text.replace(right, wrong))
    sys.meta_path.insert(0, finder)
    try:
        importlib.import_module("verifier.desk.secrets")._HASHER = CHEAP
        yield importlib.import_module("verifier.service")
        assert finder.used, f"{module} was not imported"
    finally:
        sys.meta_path.remove(finder)
        for name in [name for name in sys.modules if name.startswith(LAYERS) and name not in KEPT]:
            del sys.modules[name]
        sys.modules.update(ours)
        for name, kept in parents.items():
            vars(sys.modules[name]).update(kept)


class _Changed:
    """Gives the changed text where that module is asked for."""

    def __init__(self, module: str, text: str) -> None:
        self.module, self.text, self.used = module, text, False

    def find_spec(self, name: str, path: object = None, target: object = None) -> object:
        if name != self.module:
            return None
        sys.meta_path.remove(self)  # type: ignore[arg-type]
        try:
            spec = importlib.util.find_spec(name)
        finally:
            sys.meta_path.insert(0, self)  # type: ignore[arg-type]
        assert spec is not None
        self.origin, self.packages = spec.origin, spec.submodule_search_locations
        return importlib.util.spec_from_loader(name, self, origin=spec.origin, is_package=self.packages is not None)

    def create_module(self, spec: object) -> None:
        return None

    def exec_module(self, module: ModuleType) -> None:
        self.used = True
        module.__file__ = self.origin
        if self.packages is not None:
            module.__path__ = self.packages
        exec(compile(self.text, str(self.origin), "exec"), vars(module))


@contextmanager
def hands_at(service: ModuleType, made: Path, folder: Path) -> Iterator[Hands]:
    """People at the application of that service, inside this process."""
    copied(made, folder)
    furnish(folder, HandClock())
    file = folder.parent / f"{folder.name}.toml"
    file.write_text(SETTINGS, encoding="utf-8")
    clock, ids = HandClock(START + 10_000_000), Ids(1000)
    config = service.load_config(file, shop=folder)
    app: Flask = service.create_app(config, clock=clock, new_id=ids)
    site = Site(folder, config, app, Shop(folder, clock), clock, ids)
    try:
        yield Hands(folder, site.shop, site=site)
    finally:
        site.shop.close_thread()
