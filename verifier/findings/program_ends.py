"""How a program ends, before and after a change, in words."""

from __future__ import annotations

from verifier.findings.ownership import Share

REPEAT = "M99"
_WORDS = {REPEAT: "M99, which starts the program again", "the text ends": "nothing: the text ends without M30"}


def ends(share: Share) -> tuple[str | None, str | None]:
    """The first end named by the effects of a share, before and after; None where they name none."""
    before = next((str(e.before) for e in share.leads if e.before is not None), None)
    after = next((str(e.after) for e in share.leads if e.after is not None), None)
    return before, after


def shown(end: str | None) -> str:
    """An end in words."""
    return "something else" if end is None else _WORDS.get(end, end)
