"""The published JSON Schema of a report's JSON form: `verifier compare --schema > verifier/report/change-report-1.schema.json`.

Strict: what it does not name is not in a report. A field is added here and in the JSON form together; a field that goes, or means something
else, makes another version.
"""

from __future__ import annotations

from typing import Any

from verifier.report.change_report import SCHEMA

Schema = dict[str, Any]

FILE = "change-report-1.schema.json"
"""The name of the file beside this module."""


def _object(**fields: Schema) -> Schema:
    """An object with exactly these fields."""
    return {"type": "object", "properties": fields, "required": list(fields), "additionalProperties": False}


def _list(of: Schema) -> Schema:
    return {"type": "array", "items": of}


def _one_of(*values: str) -> Schema:
    return {"enum": list(values)}


def _or_null(inner: Schema) -> Schema:
    return {"anyOf": [inner, {"type": "null"}]}


def _text(told: str = "") -> Schema:
    return {"type": "string", "minLength": 1, **({"description": told} if told else {})}


def _any_text(told: str) -> Schema:
    return {"type": "string", "description": told}


def _form(pattern: str, told: str) -> Schema:
    return {"type": "string", "pattern": f"^{pattern}$", "description": told}


def _count(least: int = 0, told: str = "") -> Schema:
    return {"type": "integer", "minimum": least, **({"description": told} if told else {})}


def _ref(name: str) -> Schema:
    return {"$ref": f"#/$defs/{name}"}


_NULL: Schema = {"type": "null"}
_AROUND = ("z_from", "z_to", "x_from", "x_to")
_PLACES = _list(_ref("place"))
_LEVEL = _one_of("same", "changed", "undetermined", "not computed")

_DEFS: dict[str, Schema] = {
    "digest": _form("[0-9a-f]{64}", "SHA-256 in hexadecimal"),
    "seconds": _form("[0-9]+[.][0-9]{2}", "Seconds, as a decimal"),
    "rule": _form("[a-z][a-z0-9]*(-[a-z0-9]+)+", "The id of a rule"),
    "place": _object(
        side=_one_of("old", "new"),
        block=_count(0, "from 0 over the lines that hold words"),
        line=_count(1, "from 1 in the file"),
        column=_count(1, "from 1 in the line, in characters"),
        sequence=_or_null(_count(0, "from 0")),
        label=_any_text("how the sequence is called, empty where it has no name"),
    ),
    "named": _object(name=_text(), digest=_ref("digest")),
    "program": _object(
        name=_any_text("as given; takes no part in the report's digest"),
        sha256=_ref("digest"),
        check_code=_form("[2-9A-HJKMNP-Z]{8}", "of the canonical words, for people to compare"),
        blocks=_count(),
        called=_list(_object(number=_count(), sha256=_ref("digest"))),
    ),
    "finding": _object(
        rule=_ref("rule"),
        revision=_count(1, "of the rule: it rises whenever its verdicts can change"),
        weight=_one_of("critical", "major", "minor"),
        status=_one_of("change", "new", "still there", "gone"),
        title=_text("what was found, with its numbers"),
        why=_text("why it matters"),
        watch=_text("what to look for at the machine"),
        before=_or_null(_text("with its unit")),
        after=_or_null(_text("with its unit")),
        causes=_PLACES,
        effects=_PLACES,
        extent=_any_text("how far it reaches, in words"),
        position=_any_text("the switch position it needs, empty for block skips off"),
        outside=_list(_count(0, "index into outside: the keys of profile and setup sheet that made it")),
    ),
    "standing": _object(
        finding=_count(0, "index into findings: a hazard that stood before"),
        key=_or_null(_ref("digest")),
        words=_list(_text("a block that it points at")),
        told=_any_text("why it is told in full whatever was accepted"),
        accepted=_or_null(
            _object(
                number=_count(1, "of the acceptance in the shop's records"),
                by=_text("who accepted it"),
                at=_form("[0-9]{4}-[0-9]{2}-[0-9]{2}T[0-9]{2}:[0-9]{2}:[0-9]{2}Z", "when, UTC"),
                reason=_text(),
            )
        ),
    ),
    "card": _object(
        findings=_list(_count(0, "index into findings")),
        places=_PLACES,
        old=_list(_text()),
        new=_list(_text()),
        words=_list(_object(old=_or_null(_text()), new=_or_null(_text()))),
        count=_count(0, "in how many places the same edit was made"),
        touched=_list(_text()),
        outside=_list(_count(0, "index into outside, where no edit is behind it")),
        features=_list(_count(0, "index into part.features: what it moves on the finished part")),
        around=_or_null(
            _object(**{name: _form("-?[0-9]+[.][0-9]{3}", "mm; X as a diameter") for name in _AROUND}),
        ),
    ),
    "touched": _object(kind=_text(), old=_or_null(_text()), new=_or_null(_text()), place=_ref("place")),
    "wording": _object(
        old=_or_null(_ref("place")),
        new=_or_null(_ref("place")),
        kind=_one_of("spelling", "block number", "note", "layout", "line ends", "no effect"),
        before=_or_null(_text("the block, of a change without effect")),
        after=_or_null(_text("the block, of a change without effect")),
    ),
    "outside": _object(
        what=_one_of("profile", "setup sheet"),
        key=_text("as the file has it, dotted"),
        before=_or_null(_text()),
        after=_or_null(_text()),
    ),
    "total": _object(
        proven=_ref("program"),
        verdict=_one_of("same behaviour", "changed behaviour", "undetermined"),
        sign_off=_object(required={"type": "boolean"}, reasons=_list(_text())),
        findings=_list(_ref("finding")),
        digest=_ref("digest"),
    ),
    "prove_out": _object(
        start=_text("where to start, in words"),
        restart=_ref("place"),
        alone={"type": "boolean", "description": "whether the sequence can be started there alone"},
        why=_list(_text()),
        slow=_list(_text("where to use single block and low rapid")),
        distance=_any_text("what to check before the first cut"),
        reads=_list(_text("what the control shows there")),
        measure=_list(_text("on the first part")),
    ),
    "unchecked": _object(what=_text(), reason=_text(), place=_or_null(_ref("place")), count=_count(1)),
    "block": _object(
        old=_or_null(_count()),
        new=_or_null(_count()),
        kind=_one_of("same", "wording", "changed", "added", "removed", "moved"),
    ),
    "share": _object(
        name=_one_of("cutting", "air", "standing", "feed", "rapid", "other"),
        before_s=_or_null(_ref("seconds")),
        after_s=_or_null(_ref("seconds")),
    ),
    "saved": _form(r"-?[0-9]+\.[0-9]{2}", "seconds that the change saves; below zero: that it costs"),
    "sequence": _object(
        label=_text(),
        before_s=_or_null(_ref("seconds")),
        after_s=_or_null(_ref("seconds")),
        saved_s=_or_null(_ref("saved")),
        shares=_list(_ref("share")),
    ),
    "problem": _object(
        code=_form("[a-z][a-z0-9-]*", "which kind of problem"),
        line=_count(1),
        column=_count(1),
        message=_text(),
        text=_any_text("the offending text"),
        expected=_any_text("what was expected there"),
        hint=_any_text("what to do"),
    ),
}


def _time(compared: bool) -> Schema:
    return _object(
        before_s=_ref("seconds") if compared else _NULL,
        after_s=_ref("seconds"),
        saved_s=_ref("saved") if compared else _NULL,
        shares=_list(_ref("share")),
        sequences=_list(_ref("sequence")),
        assumptions=_list(_text()),
    )


def _part(compared: bool) -> Schema:
    """The finished part; without a base nothing of what was before, and nothing judged."""
    before = _or_null({"type": "boolean"}) if compared else _NULL
    size = _or_null(_text("with its unit"))
    feature = _object(
        feature=_count(0, "counts the features: sizes of one have one number"),
        kind=_one_of(
            *("diameter", "face", "shoulder", "taper", "chamfer", "radius"),
            *("groove", "hole", "spot hole", "thread", "profile"),
        ),
        where=_one_of("outside", "inside", "front", "back", ""),
        dimension=_any_text("which size; empty for the feature as a whole"),
        before=size,
        after=size,
        difference=size,
        place=_text(),
        limit=_any_text("what the change was held against"),
        judgement=_any_text("how it stands to that"),
        weight=_or_null(_one_of("critical", "major", "minor")),
    )
    measure = _object(
        name=_text(),
        sizes=_text("as they should be now"),
        place=_text(),
        limit=_any_text("what they are held against"),
        sequences=_list(_text("label of a sequence that leaves it")),
        why=_text(),
    )
    volume = _form("[0-9]+", "cubic millimetres")
    return _object(
        certain=_object(before=before, after={"type": "boolean"}),
        removed_mm3=_object(before=_or_null(volume) if compared else _NULL, after=volume),
        features=_list(feature),
        measure=_list(measure) if compared else {"type": "array", "maxItems": 0},
    )


def _load(compared: bool) -> Schema:
    """Load and surface: the greatest amounts of the cuts of each tool in each sequence."""
    amount = _object(
        name=_one_of(
            *("power", "torque", "force", "depth of cut", "infeed of a pass", "swarf section", "section of a pass"),
            *("swarf thickness", "cutting speed", "spindle speed", "roughness Rt", "roughness Ra"),
        ),
        before=_or_null(_text("with its unit; null: not there, or not known")) if compared else _NULL,
        after=_or_null(_text("with its unit; null: not there, or not known")),
        place=_or_null(_ref("place")),
    )
    return _object(
        material=_or_null(_text("with Kienzle's two values; null: the setup sheet names none")),
        spindle=_or_null(_text("power and torque; null: the profile says nothing")),
        sequences=_list(_object(label=_text(), tool=_count(1, "its station"), amounts=_list(amount))),
        assumptions=_list(_text()),
    )


def _report(compared: bool) -> Schema:
    """The report on a pair, or the check of one program: the same fields, those about a base null in the second."""
    levels = _object(wording=_LEVEL, words=_LEVEL, behaviour=_LEVEL, part=_LEVEL) if compared else _object()
    return _object(
        schema={"const": SCHEMA},
        verdict=_one_of("same behaviour", "changed behaviour", "undetermined") if compared else _NULL,
        position=_any_text("the switch positions that the verdict holds for"),
        levels=levels,
        sign_off=_object(required={"type": "boolean"}, reasons=_list(_text())),
        findings=_list(_ref("finding")),
        standing=_list(_ref("standing")) if compared else {"type": "array", "maxItems": 0},
        cards=_list(_ref("card")),
        touched=_list(_ref("touched")),
        wording=_list(_ref("wording")),
        unchecked=_list(_ref("unchecked")),
        blocks=_list(_ref("block")),
        part=_or_null(_part(compared)),
        load=_or_null(_load(compared)),
        time=_time(compared),
        old=_ref("program") if compared else _NULL,
        new=_ref("program"),
        machine=_ref("named"),
        old_machine=_or_null(_ref("named")) if compared else _NULL,
        setup=_or_null(_ref("named")),
        old_setup=_or_null(_ref("named")) if compared else _NULL,
        policy=_ref("named"),
        rules=_object(
            digest=_ref("digest"),
            revisions={
                "type": "object",
                "propertyNames": _ref("rule"),
                "additionalProperties": _count(1),
                "minProperties": 1,
            },
        ),
        outside=_list(_ref("outside")),
        total=_or_null(_ref("total")) if compared else _NULL,
        alike=_form("[01][.][0-9]{3}", "share of the larger program's blocks that have a like partner")
        if compared
        else _NULL,
        prove_out=_list(_ref("prove_out")),
        challenge=_list(_object(place=_text(), word=_text())),
        tool_version=_text(),
        caution=_text(),
        digest=_ref("digest"),
    )


def _three_way() -> Schema:
    """Base, edit and what came back, with the three reports."""
    changed = _object(
        kind=_one_of("the edit alone", "the machine alone", "both, alike", "both, otherwise"),
        place=_or_null(_ref("place")),
        base=_list(_any_text("a block")),
        edit=_list(_any_text("a block")),
        machine=_list(_any_text("a block")),
        edit_does=_list(_text()),
        machine_does=_list(_text()),
    )
    return _object(
        schema={"const": "three-way/1"},
        changed=_list(changed),
        edit=_ref("compared"),
        back=_ref("compared"),
        between=_ref("compared"),
        caution=_text(),
        digest=_ref("digest"),
    )


def report_schema() -> Schema:
    """The JSON Schema (draft 2020-12) of `change-report/1`."""
    return {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "title": SCHEMA,
        "description": "The JSON form of a change report: of a pair of programs, of one program without a base, or three-way.",
        "oneOf": [_ref("compared"), _report(compared=False), _three_way()],
        "$defs": {**_DEFS, "compared": _report(compared=True)},
    }
