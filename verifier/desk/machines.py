"""What is checked of a machine before the records take it: its folder can be made, and it is equal to its group."""

from __future__ import annotations

import os
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

from verifier.machines import Machine
from verifier.source import ActRefused, StoreError


def check_folder(place: Path) -> None:
    """Refuse a folder that is a file, or that cannot be made where it is to lie. Raises StoreError; makes nothing."""
    try:
        above = next(path for path in (place, *place.parents) if path.exists())
        usable = above.is_dir() and os.access(above, os.W_OK | os.X_OK)
    except (OSError, ValueError) as error:
        raise StoreError(f"the folder {place} cannot be used: {error}") from error
    if not usable:
        why = "cannot be written" if above.is_dir() else "is a file"
        raise StoreError(f"the folder {place} cannot be made: {above} {why}", "choose another folder")


def check_equal(profiles: Sequence[Machine], group: str | None) -> None:
    """Refuse machines of one group that would not run a program alike; names and titles may differ.

    One report is made for all of them, so that every difference between them would go unseen. ActRefused `bad_profile`.
    """
    first, *others = [replace(one, name="", title="", digest="") for one in profiles]
    for one, plain in zip(profiles[1:], others, strict=True):
        if plain != first:
            raise ActRefused(
                "bad_profile",
                f"the machines of {group} are not equal: the profiles {profiles[0].name} and {one.name} differ",
                "give them one profile, or leave one out of the group",
            )
