"""Acts on machines, their profile, their folder, the group of equal machines they belong to; and the shop's policy."""

from __future__ import annotations

import os.path
from collections.abc import Sequence
from hashlib import sha256

from verifier.records.act import Act, acting
from verifier.records.facts import MachineFacts
from verifier.records.lookup import find_machine, machine_facts
from verifier.records.names import check_extension, check_place_name, check_text
from verifier.records.reviews import policy_sha
from verifier.records.shop import Shop
from verifier.source import ActRefused


def add_machine(
    shop: Shop,
    by: int,
    name: str,
    *,
    profile: bytes,
    folder: str,
    group: str | None = None,
    extension: str = ".NC",
    takeover: bool = False,
) -> MachineFacts:
    """Add a machine; for an administrator.

    `profile` is the machine profile's file; `folder` where its floor copies go, relative to the shop's folder or
    absolute; `takeover` True for a machine that runs from its folder, so that a new file waits for the operator.
    """
    check_place_name("machine", name)
    check_extension(extension)
    if group is not None:
        check_place_name("group", group)
    with acting(shop, by, ("administrator",)) as act:
        _check_free(act, name, group)
        values = {"name": name, "folded": name.upper(), "machine_group": group, "extension": extension}
        values |= {"folded_group": group.upper() if group else None}
        sha = _keep_profile(act, profile)
        numbers = {"takeover": int(takeover), "created_us": act.now}
        machine = act.insert("machine", **values, **numbers, folder=_free_folder(act, folder), profile_sha=sha)
        act.record("machine added", name, group=group, folder=folder, profile=sha)
        return machine_facts(act.database.rows("SELECT * FROM machine WHERE id=?", machine)[0])


def _check_free(act: Act, name: str, group: str | None) -> None:
    for word in (name, group):
        if word is None:
            continue
        if act.database.value("SELECT 1 FROM machine WHERE folded=?", word.upper()):
            raise ActRefused("name_taken", f"{word} is a machine already")
    if act.database.value("SELECT 1 FROM machine WHERE folded_group=?", name.upper()) or (
        group is not None and group.upper() == name.upper()
    ):
        raise ActRefused("name_taken", f"{name} is the name of a group")


def _free_folder(act: Act, folder: str) -> str:
    """Normalise a folder's path; machines never share one, nor does one lie where another keeps its manifest."""
    if not folder.strip() or "\0" in folder or folder != folder.strip():
        raise ActRefused("bad_folder", "a machine needs a folder of its own")
    clean = os.path.normpath(folder)
    if clean in (".", "..") or clean.startswith(".." + os.sep):
        raise ActRefused("bad_folder", f"{folder} is not inside the shop's folder", "give an absolute path instead")
    taken = {str(row["folder"]).casefold() for row in act.database.rows("SELECT folder FROM machine")}
    if any(clean.casefold() in (one, one + ".manifest") or clean.casefold() + ".manifest" == one for one in taken):
        raise ActRefused("bad_folder", f"{clean} belongs to another machine")
    return clean


def _keep_profile(act: Act, profile: bytes) -> str:
    if not profile:
        raise ActRefused("bad_profile", "the machine profile is empty")
    return act.keep(profile)


def change_profile(shop: Shop, by: int, machine: str, profile: bytes, reason: str) -> MachineFacts:
    """Give a machine another profile; for an administrator. Sign-offs that rest on the old one no longer count."""
    why = check_text("reason", reason)
    with acting(shop, by, ("administrator",)) as act:
        facts = find_machine(act.database, machine)
        sha = sha256(profile).hexdigest()
        if sha != facts.profile_sha:
            act.update("machine", facts.id, profile_sha=_keep_profile(act, profile))
            act.record("machine changed", facts.name, before=facts.profile_sha, profile=sha, reason=why)
        return find_machine(act.database, machine)


def change_folder(shop: Shop, by: int, machine: str, folder: str, reason: str) -> MachineFacts:
    """Move a machine's folder; for an administrator. The files themselves are not moved: the watch will name them."""
    why = check_text("reason", reason)
    with acting(shop, by, ("administrator",)) as act:
        facts = find_machine(act.database, machine)
        act.update("machine", facts.id, folder=_free_folder(act, folder))
        act.record("machine changed", facts.name, before=facts.folder, folder=folder, reason=why)
        return find_machine(act.database, machine)


def machines(shop: Shop) -> tuple[MachineFacts, ...]:
    """Every machine of the shop, by id."""
    return tuple(machine_facts(row) for row in shop.database.rows("SELECT * FROM machine ORDER BY id"))


def machine(shop: Shop, name: str) -> MachineFacts:
    """Give one machine by name; ActRefused `unknown_machine`."""
    return find_machine(shop.database, name)


def profile_bytes(shop: Shop, name: str) -> bytes:
    """The bytes of a machine's profile as they were handed in."""
    sha = find_machine(shop.database, name).profile_sha
    return bytes(shop.database.value("SELECT bytes FROM body WHERE sha=?", sha))


def set_policy(shop: Shop, lead: int, policy: bytes, reason: str, *, loosened: Sequence[str] = ()) -> str:
    """Put another policy in force; a lead's act, in the ledger with what it loosens. Gives its digest. Sign-offs under
    another are void.
    """
    why = check_text("reason", reason)
    if not policy:
        raise ActRefused("bad_policy", "the policy is empty")
    with acting(shop, lead, ("lead",)) as act:
        before, sha = policy_sha(act.database), act.keep(policy)
        act.insert("policy", sha=sha, lead=lead, full_name=act.full_name, reason=why, at_us=act.now)
        act.record("policy set", "policy", before=before, sha=sha, reason=why, loosened=list(loosened))
        return sha


def policy_bytes(shop: Shop) -> bytes | None:
    """The policy in force as it was handed in, or None before the first was set."""
    sha = policy_sha(shop.database)
    return None if sha is None else bytes(shop.database.value("SELECT bytes FROM body WHERE sha=?", sha))
