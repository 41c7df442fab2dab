"""An edit made at the control while another one waits in the office: who changed what, by release, waiting revision and read-back."""

from __future__ import annotations

from verifier import records
from verifier.desk.companions import OPEN, library
from verifier.desk.reviewing import Place, read
from verifier.records import ReadbackFacts, RevisionFacts, Shop, fold_program_name
from verifier.report import ThreeWay, three_way
from verifier.source import ActRefused


def waiting_beside(shop: Shop, back: ReadbackFacts) -> tuple[RevisionFacts, ...]:
    """The revisions that may still go to that machine and are neither what it should have held nor what came back, newest first.

    None where the read-back is the release: nothing was changed at the machine.
    """
    if back.equal:
        return ()
    of = records.revision(shop, back.revision)
    known = records.revisions(shop, of.program, of.target)
    return tuple(one for one in reversed(known) if one.state in OPEN and one.sha not in (of.sha, back.sha))


def came_back_otherwise(shop: Shop, revision: RevisionFacts, machines: tuple[str, ...]) -> tuple[ReadbackFacts, ...]:
    """The last read-backs at a revision's machines that are neither what should stand there nor the revision itself.

    A release of the revision takes away whatever people changed there and it does not have.
    """
    name = fold_program_name(revision.program)
    return tuple(
        back
        for back in records.drifted(shop)
        if back.machine in machines and fold_program_name(back.program) == name and back.sha != revision.sha
    )


def who_changed_what(shop: Shop, back: ReadbackFacts, edit: RevisionFacts, place: Place) -> ThreeWay:
    """The base is what the machine should have held, the edit a waiting revision, and the third what came back.

    All three are executed as the edit will be: with its setup sheet and the called programs that go with it. SourceRefused where what came back is no
    program; ActRefused `readback_equal` where nothing was changed, `readback_of_another` where the revision is not one of `waiting_beside`.
    """
    if back.equal:
        raise ActRefused("readback_equal", "that read-back is the release: nothing was changed at the machine")
    if edit.id not in {one.id for one in waiting_beside(shop, back)}:
        raise ActRefused("readback_of_another", f"{edit.program} revision {edit.n} does not wait beside that read-back")
    of = records.revision(shop, back.revision)
    base, ours = (read(records.body(shop, one.sha), f"revision {one.n}") for one in (of, edit))
    theirs = read(records.body(shop, back.sha), f"read-back {back.id}")
    called = library(shop, place.program, back.machine, [(one.program, one.sha) for one in place.beside])
    machine, setup, policy = place.machine, place.setup, place.policy
    return three_way(base, ours, theirs, machine=machine, setup=setup, policy=policy, library=called)
