"""Load and surface in the report: what changes, where, before and after; what nobody gave is said; the strip of power."""

from __future__ import annotations

import re
from dataclasses import replace
from fractions import Fraction
from pathlib import Path
from xml.etree import ElementTree

import pytest

from verifier.machines import Setup, content_digest, load_machine, load_setup
from verifier.report import ChangeReport, examined, reviewed, to_html, to_text
from verifier.report.review import Reviewed

ROOT = Path(__file__).parents[2] / "fixtures"
PAIR = ROOT / "pairs" / "load-feed-doubled-beyond-roughness"
MACHINE = load_machine(ROOT / "shop" / "machines" / "north-lathe.toml")
SETUP = load_setup(ROOT / "shop" / "setups" / "drive-shaft.toml", MACHINE)
SVG = "{http://www.w3.org/2000/svg}"


def compared(setup: Setup | None = SETUP, power: str = "15", feed: str = "F0.24", word: str = "F0.12") -> Reviewed:
    old = (PAIR / "old.nc").read_bytes()
    line = b"G01 X29.95 Z-2.234 " if word == "F0.12" else b"W0.1 "
    new = old.replace(line + word.encode(), line + feed.encode())
    assert new != old
    spindle = replace(MACHINE.spindle, power_kw=Fraction(power), efficiency=Fraction("0.8"))
    changed = replace(MACHINE, spindle=spindle)
    return reviewed(old, new, machine=replace(changed, digest=content_digest(changed)), setup=setup)


def amounts(report: ChangeReport, label: str) -> dict[str, tuple[str | None, str | None]]:
    assert report.load is not None
    rows = [row for row in report.load.sequences if row.label == label]
    return {a.name: (a.before, a.after) for a in rows[0].amounts if a.changed}


def test_a_doubled_feed_is_four_times_as_rough_and_says_so_before_and_after() -> None:
    """Ra = f^2 / (31.177 r) (handbook): 0.12 and 0.24 mm with a nose of 0.4 are 1.155 and 4.618 um; the true circle a little more."""
    report = compared().report
    before, after = amounts(report, "N2")["roughness Ra"]
    assert before is not None and after is not None
    assert [float(text.removesuffix(" µm")) for text in (before, after)] == pytest.approx([1.155, 4.618], rel=0.04)
    (found,) = (f for f in report.findings if f.rule == "roughness-above-drawing")
    assert (found.status, found.before, found.after) == ("new", before, after) and found.edits


def test_only_changed_sequences_are_told_in_lines() -> None:
    text = to_text(compared().report)
    told = text[text.index("LOAD AND SURFACE") : text.index("NOT CHECKED")]
    assert "N2 T2:" in told and "N1 T1:" not in told and "42CrMo4" in told


def test_power_beyond_the_spindle_names_both_amounts_and_is_drawn_with_its_limit() -> None:
    found = compared(word="F0.3", feed="F0.5")
    (finding,) = (f for f in found.report.findings if f.rule == "power-beyond-spindle")
    assert finding.status == "new" and finding.before == "8.7 kW" and finding.after == amounts_in_kw(found.report)
    root = ElementTree.fromstring(found.picture())
    words = ["".join(node.itertext()) for node in root.iter(f"{SVG}text")]
    assert "Power at the cut, kW" in words and "spindle 12 kW" in words
    (told,) = root.findall(f"{SVG}desc")
    assert "feed and power" in "".join(told.itertext())


def amounts_in_kw(report: ChangeReport) -> str:
    shown = amounts(report, "N1")["power"][1]
    assert shown is not None
    return f"{float(shown.removesuffix(' kW')):.1f} kW"


def test_a_limit_out_of_view_is_not_drawn() -> None:
    assert "spindle 12 kW" not in compared().picture()


def test_without_a_material_there_is_no_power_and_the_report_says_why() -> None:
    bare = replace(SETUP, material=None, digest="")
    bare = replace(bare, digest=content_digest(bare))
    found = compared(bare)
    assert "power" not in amounts(found.report, "N2") and "roughness Ra" in amounts(found.report, "N2")
    assert any(entry.what == "force and power" for entry in found.report.unchecked)
    assert "Power at the cut" not in found.picture()


def test_without_a_sheet_there_is_no_load_and_the_report_says_so() -> None:
    report = compared(None).report
    assert report.load is None and any("load and surface" in entry.what for entry in report.unchecked)


def test_the_page_shows_both_forms() -> None:
    page = to_html(compared().report)
    assert re.search(r"<caption>N2, T2</caption>", page) and "<caption>N1, T1</caption>" not in page
    alone = to_html(examined((PAIR / "old.nc").read_bytes(), machine=MACHINE, setup=SETUP).report)
    assert "<caption>N1, T1</caption>" in alone
