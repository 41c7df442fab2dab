"""The JSON contract of the report (`change-report/1`), written down by hand: what every field must be. Independent of the code that makes it."""

from __future__ import annotations

import re
from collections.abc import Callable
from typing import Any

Check = Callable[[Any, str], None]

WEIGHTS = ("critical", "major", "minor")
STATUSES = ("change", "new", "still there", "gone")
VERDICTS = ("same behaviour", "changed behaviour", "undetermined")
LEVELS = ("same", "changed", "undetermined", "not computed")
BLOCKS = ("same", "wording", "changed", "added", "removed", "moved")
FEATURES = (
    "diameter", "face", "shoulder", "taper", "chamfer", "radius", "groove", "hole", "spot hole", "thread", "profile",
)  # fmt: skip
WORDING = ("spelling", "block number", "note", "layout", "line ends", "no effect")


def text(value: Any, where: str) -> None:
    assert isinstance(value, str) and value.strip(), f"{where}: {value!r} is no text"


def any_text(value: Any, where: str) -> None:
    assert isinstance(value, str), f"{where}: {value!r} is no string"


def flag(value: Any, where: str) -> None:
    assert isinstance(value, bool), f"{where}: {value!r} is neither true nor false"


def count(least: int = 0) -> Check:
    def check(value: Any, where: str) -> None:
        assert isinstance(value, int) and not isinstance(value, bool) and value >= least, f"{where}: {value!r}"

    return check


def one_of(*allowed: str) -> Check:
    def check(value: Any, where: str) -> None:
        assert value in allowed, f"{where}: {value!r} is not one of {allowed}"

    return check


def matching(pattern: str) -> Check:
    def check(value: Any, where: str) -> None:
        assert isinstance(value, str) and re.fullmatch(pattern, value), f"{where}: {value!r}"

    return check


def maybe(inner: Check) -> Check:
    def check(value: Any, where: str) -> None:
        if value is not None:
            inner(value, where)

    return check


def many(inner: Check) -> Check:
    def check(value: Any, where: str) -> None:
        assert isinstance(value, list), f"{where}: {value!r} is no list"
        for k, part in enumerate(value):
            inner(part, f"{where}[{k}]")

    return check


def record(**fields: Check) -> Check:
    """An object with exactly these fields."""

    def check(value: Any, where: str) -> None:
        assert isinstance(value, dict), f"{where}: {value!r} is no object"
        assert set(value) == set(fields), f"{where}: {sorted(set(value) ^ set(fields))} missing or not in the contract"
        for name, inner in fields.items():
            inner(value[name], f"{where}.{name}")

    return check


def null(value: Any, where: str) -> None:
    assert value is None, f"{where}: {value!r} is not null"


DIGEST = matching(r"[0-9a-f]{64}")
SECONDS = matching(r"[0-9]+\.[0-9]{2}")
RULE = matching(r"[a-z][a-z0-9]*(-[a-z0-9]+)+")
MM = matching(r"-?[0-9]+\.[0-9]{3}")
CHECK_CODE = matching(r"[2-9A-HJKMNP-Z]{8}")
PLACE = record(
    side=one_of("old", "new"), block=count(), line=count(1), column=count(1), sequence=maybe(count()), label=any_text
)
NAMED = record(name=text, digest=DIGEST)
PROGRAM = record(
    name=any_text,
    sha256=DIGEST,
    check_code=CHECK_CODE,
    blocks=count(),
    called=many(record(number=count(), sha256=DIGEST)),
)


def rules(value: Any, where: str) -> None:
    assert isinstance(value, dict) and set(value) == {"digest", "revisions"}, where
    DIGEST(value["digest"], f"{where}.digest")
    assert value["revisions"], where
    for name, revision in value["revisions"].items():
        RULE(name, where)
        count(1)(revision, f"{where}.{name}")


FINDING = record(
    rule=RULE, revision=count(1), weight=one_of(*WEIGHTS), status=one_of(*STATUSES), title=text, why=text, watch=text,
    before=maybe(text), after=maybe(text), causes=many(PLACE), effects=many(PLACE), extent=any_text, position=any_text, outside=many(count()),
)  # fmt: skip

CARD = record(
    findings=many(count()), places=many(PLACE), old=many(text), new=many(text),
    words=many(record(old=maybe(text), new=maybe(text))), count=count(), touched=many(text), outside=many(count()),
    features=many(count()), around=maybe(record(z_from=MM, z_to=MM, x_from=MM, x_to=MM)),
)  # fmt: skip

FEATURE = record(
    feature=count(), kind=one_of(*FEATURES), where=one_of("outside", "inside", "front", "back", ""), dimension=any_text,
    before=maybe(text), after=maybe(text), difference=maybe(text), place=text, limit=any_text, judgement=any_text,
    weight=maybe(one_of(*WEIGHTS)),
)  # fmt: skip

PART = record(
    certain=record(before=maybe(flag), after=flag),
    removed_mm3=record(before=maybe(matching("[0-9]+")), after=matching("[0-9]+")),
    features=many(FEATURE),
    measure=many(record(name=text, sizes=text, place=text, limit=any_text, sequences=many(text), why=text)),
)

AMOUNT = record(
    name=one_of(
        *("power", "torque", "force", "depth of cut", "infeed of a pass", "swarf section", "section of a pass"),
        *("swarf thickness", "cutting speed", "spindle speed", "roughness Rt", "roughness Ra"),
    ),
    before=maybe(matching(r"[0-9.]+ (kW|N m|N|mm2?|in|m/min|ft/min|rev/min|µm|µin)")),
    after=maybe(matching(r"[0-9.]+ (kW|N m|N|mm2?|in|m/min|ft/min|rev/min|µm|µin)")),
    place=maybe(PLACE),
)

LOAD = record(
    material=maybe(text),
    spindle=maybe(text),
    sequences=many(record(label=text, tool=count(1), amounts=many(AMOUNT))),
    assumptions=many(text),
)

TOTAL = record(
    proven=PROGRAM,
    verdict=one_of(*VERDICTS),
    sign_off=record(required=flag, reasons=many(text)),
    findings=many(FINDING),
    digest=DIGEST,
)

ACCEPTED = record(
    number=count(1), by=text, at=matching(r"[0-9]{4}-[0-9]{2}-[0-9]{2}T[0-9]{2}:[0-9]{2}:[0-9]{2}Z"), reason=text
)
STANDING = record(finding=count(), key=maybe(DIGEST), words=many(text), told=any_text, accepted=maybe(ACCEPTED))


def _none(value: Any, where: str) -> None:
    assert value == [], f"{where}: {value!r} is not empty"


_COMMON: dict[str, Check] = {
    "schema": one_of("change-report/1"),
    "sign_off": record(required=flag, reasons=many(text)),
    "findings": many(FINDING),
    "cards": many(CARD),
    "touched": many(record(kind=text, old=maybe(text), new=maybe(text), place=PLACE)),
    "wording": many(
        record(old=maybe(PLACE), new=maybe(PLACE), kind=one_of(*WORDING), before=maybe(text), after=maybe(text))
    ),
    "unchecked": many(record(what=text, reason=text, place=maybe(PLACE), count=count(1))),
    "blocks": many(record(old=maybe(count()), new=maybe(count()), kind=one_of(*BLOCKS))),
    "part": maybe(PART),
    "load": maybe(LOAD),
    "new": PROGRAM,
    "machine": NAMED,
    "setup": maybe(NAMED),
    "policy": NAMED,
    "rules": rules,
    "prove_out": many(
        record(
            start=text,
            restart=PLACE,
            alone=flag,
            why=many(text),
            slow=many(text),
            distance=text,
            reads=many(text),
            measure=many(text),
        )
    ),
    "outside": many(record(what=one_of("profile", "setup sheet"), key=text, before=maybe(text), after=maybe(text))),
    "total": maybe(TOTAL),
    "challenge": many(record(place=text, word=text)),
    "tool_version": text,
    "caution": text,
    "digest": DIGEST,
}


SAVED = matching(r"-?[0-9]+\.[0-9]{2}")
SHARES = many(
    record(
        name=one_of("cutting", "air", "standing", "feed", "rapid", "other"),
        before_s=maybe(SECONDS),
        after_s=maybe(SECONDS),
    )
)


def _time(before: Check, saved: Check) -> Check:
    row = record(label=text, before_s=maybe(SECONDS), after_s=maybe(SECONDS), saved_s=maybe(SAVED), shares=SHARES)
    return record(
        before_s=before, after_s=SECONDS, saved_s=saved, shares=SHARES, sequences=many(row), assumptions=many(text)
    )


COMPARED = record(
    **_COMMON,
    standing=many(STANDING),
    verdict=one_of(*VERDICTS),
    position=text,
    levels=record(wording=one_of(*LEVELS), words=one_of(*LEVELS), behaviour=one_of(*LEVELS), part=one_of(*LEVELS)),
    old=PROGRAM,
    old_machine=maybe(NAMED),
    old_setup=maybe(NAMED),
    alike=matching(r"[01]\.[0-9]{3}"),
    time=_time(SECONDS, SAVED),
)

CHECKED = record(
    **_COMMON,
    standing=_none,
    verdict=null,
    position=any_text,
    levels=record(),
    old=null,
    old_machine=null,
    old_setup=null,
    alike=null,
    time=_time(null, null),
)

REFUSED = record(
    schema=one_of("error/1"),
    problems=many(
        record(
            code=matching(r"[a-z][a-z0-9-]*"),
            line=count(1),
            column=count(1),
            message=text,
            text=any_text,
            expected=any_text,
            hint=any_text,
        )
    ),
)
