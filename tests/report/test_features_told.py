"""What an edit moves on the finished part, on its card; what to measure on the first piece, by the sequences that leave it."""

from __future__ import annotations

import re

import pytest

from tests.report.test_part import read, sheet
from verifier.geometry import Strip
from verifier.report import ChangeReport, part_made, review, reviewed, to_html, to_json, to_text
from verifier.report.picture import views_of


def edited(folder: str, *pairs: tuple[bytes, bytes]) -> ChangeReport:
    machine, setup = sheet(folder)
    old = new = read(folder, "base")
    for before, after in pairs:
        assert before in new
        new = new.replace(before, after)
    return review(old, new, machine=machine, setup=setup)


def on_cards(report: ChangeReport) -> list[list[tuple[str, str | None, str | None]]]:
    assert report.part is not None
    rows = report.part.features
    return [[(rows[k].name, rows[k].before, rows[k].after) for k in card.features] for card in report.cards]


def test_a_card_tells_what_moves_by_how_much_and_against_what() -> None:
    """The sleeve's outside, 45 mm, limits +-0.05 on its sheet; its collar, 58 mm, has none: ISO 2768-1 class m allows 0.3 over 30 to 120 mm."""
    report = edited("flanged-sleeve", (b"X45. Z-1.", b"X45.04 Z-1."), (b"X58. Z-31.", b"X58.2 Z-31."))
    told = on_cards(report)
    assert [[row[0] for row in card if row[0] == "outside diameter"] for card in told] == [["outside diameter"]] * 2
    assert {row for card in told for row in card if row[0] == "outside diameter"} == {
        ("outside diameter", "45 mm", "45.04 mm"),
        ("outside diameter", "58 mm", "58.2 mm"),
    }
    assert report.part is not None
    judged = {row.before: (row.judged, row.weight) for row in report.part.features if row.kind == "diameter"}
    assert judged["45 mm"] == ("drawing limit 45 mm ±0.05 mm (outside): within it", "minor")
    assert judged["58 mm"] == (
        "ISO 2768-1 class m allows ±0.3 mm: within it, but the drawing limit is not given",
        "major",
    )
    text = " ".join(to_text(report).split())
    assert "part: outside diameter at Z -46 to -31 mm: Ø58 mm -> Ø58.2 mm (+0.2 mm); ISO 2768-1 class m" in text


def test_every_changed_size_is_on_a_card() -> None:
    for folder, pair in (
        ("drive-shaft", (b"X35.", b"X34.9")),
        ("drive-shaft", (b"Z-54.4", b"Z-54.")),
        ("clamp-stud", (b"X.65 Z-1.", b"X.64 Z-1.")),
        ("flanged-sleeve", (b"T0303", b"T0304")),
    ):
        report = edited(folder, pair)
        assert report.part is not None
        rows = {k for card in report.cards for k in card.features}
        assert rows == set(range(len(report.part.features)))


def test_the_features_to_measure_are_those_that_changed_or_that_a_listed_sequence_leaves() -> None:
    """N3 cuts the relief with its shoulder and the seal groove: nothing that another sequence leaves is on the list."""
    report = edited("drive-shaft", (b"X35.", b"X34.9"))
    assert [entry.restart.label for entry in report.prove_out] == ["N3"]
    assert report.part is not None
    assert [(one.name, one.why) for one in report.part.measure] == [
        ("outside groove", "N3 cuts it"),
        ("shoulder", "N3 cuts it"),
        ("outside groove", "it changed"),
    ]
    assert report.part.measure[2].limit == "drawing limit 35 mm ±0.05 mm (bottom of the seal groove)"
    (entry,) = report.prove_out
    assert len(entry.measure) == 3 and "bottom diameter was 35 mm" in entry.measure[0]


def test_a_sequence_that_runs_otherwise_is_measured_though_the_part_is_the_same() -> None:
    report = edited("drive-shaft", (b"X27. Z-26. P1500", b"X27. Z-26. P1000"))
    assert report.levels["part"] == "same" and report.part is not None and not report.part.features
    assert [(one.name, one.sequences) for one in report.part.measure if one.why == "N3 cuts it"] == [
        ("outside groove", ("N3",)),
        ("shoulder", ("N2", "N3")),
        ("outside groove", ("N3",)),
    ], "the blade runs along the shoulder that N2 left"
    assert all(one.why.endswith((" cuts it", " cut it")) for one in report.part.measure)


def test_what_changes_only_with_the_block_skips_on_is_measured_so() -> None:
    """The last step of the seal groove can be skipped: its bottom is 35 mm with the skips off, and with them on what the step before leaves."""
    old = (
        read("drive-shaft", "base")
        .replace(b"G01 X35. F0.08", b"G01 X36. F0.08\n/X35.")
        .replace(b"G01 X35.\n", b"G01 X36.\n/X35.\n")
    )
    machine, setup = sheet("drive-shaft")
    report = review(old, old.replace(b"X36.", b"X36.2"), machine=machine, setup=setup)
    assert report.part is not None
    (row,) = report.part.features
    assert (row.before, row.after) == ("36 mm", "36.2 mm") and row.place.endswith(", only with block skip on")
    told = {
        (one.place, one.sizes.partition(",")[0], one.why) for one in report.part.measure if one.name == "outside groove"
    }
    assert ("Z -46 to -42 mm, only with block skip on", "bottom diameter 36.2 mm", "it changed") in told
    assert ("Z -46 to -42 mm", "bottom diameter 35 mm", "N3 cuts it") in told
    (entry,) = (entry for entry in report.prove_out if entry.restart.label == "N3")
    assert any("only with block skip on: bottom diameter 36.2 mm" in text for text in entry.measure)


def test_a_profile_that_changes_without_a_feature_is_on_the_list(monkeypatch: pytest.MonkeyPatch) -> None:
    """No part is known whose outline changes beside all features; were there one, its place is what to look at."""
    monkeypatch.setattr(part_made, "untold", lambda *_: (Strip(-50.0, -47.0, 20.0, 20.1, 0.04),))
    report = edited("drive-shaft", (b"X35.", b"X34.9"))
    assert report.part is not None
    assert [(one.name, one.place, one.why) for one in report.part.measure][-1] == (
        "profile",
        "Z -50 to -47 mm, Ø40 to 40.2 mm",
        "it changed",
    )


def test_a_sequence_whose_stock_is_another_is_on_the_list() -> None:
    """Roughing leaves another allowance: the finisher takes off another amount with its own blocks unchanged."""
    report = edited("clamp-stud", (b"U.02 W.005 D.08", b"U.03 W.005 D.08"))
    assert report.levels["part"] == "same"
    labels = [entry.restart.label for entry in report.prove_out]
    assert labels[:1] == ["N1"] and "N2" in labels


def test_a_feature_that_is_gone_is_told_and_not_measured() -> None:
    machine, setup = sheet("drive-shaft")
    old = read("drive-shaft", "base")
    lines = old.decode().splitlines()
    first = lines.index("G00 Z-46.")
    new = "\n".join(lines[:first] + lines[first + 7 :]).encode()
    report = review(old, new, machine=machine, setup=setup)
    assert report.part is not None
    (row,) = report.part.features
    assert (row.name, row.after, row.judgement) == ("outside groove", None, "it is gone")
    assert row.before == "bottom diameter 35 mm, width 4 mm, edge -46 mm, corner radius 0.2 mm"
    assert not any("edge -46 mm" in one.sizes for one in report.part.measure)


def test_the_small_picture_of_a_card_shows_the_place() -> None:
    report = edited("drive-shaft", (b"X35.", b"X34.9"))
    card = next(card for card in report.cards if card.features)
    assert card.around == pytest.approx((-46, -42, 34.9 / 2, 20), abs=1e-6)
    told = to_json(report)["cards"][0]["around"]
    assert told == {"z_from": "-46.000", "z_to": "-42.000", "x_from": "34.900", "x_to": "40.000"}


def test_same_programs_have_nothing_to_measure() -> None:
    machine, setup = sheet("drive-shaft")
    base = read("drive-shaft", "base")
    part = review(base, base, machine=machine, setup=setup).part
    assert part is not None and part.features == () and part.measure == ()


def test_the_page_tells_it_on_the_card_and_as_a_table() -> None:
    found = reviewed(
        read("drive-shaft", "base"),
        read("drive-shaft", "base").replace(b"X35.", b"X34.9"),
        machine=sheet("drive-shaft")[0],
        setup=sheet("drive-shaft")[1],
    )
    page = to_html(found.report, found.picture())
    assert "On the finished part" in page and "Ø35 mm" in page and "Ø34.9 mm" in page
    (view,) = re.findall(
        r'<svg class="small" role="img" aria-label="[^"]+" viewBox="([^"]+)"><use href="#([^"]+)"/>', page
    )
    assert f'id="{view[1]}"' in page, "the small picture is a part of the large one"
    assert f'viewBox="{view[0]}"' in found.picture()
    table = page[page.index('id="part"') :]
    for words in (
        "bottom diameter",
        "drawing limit 35 mm ±0.05 mm (bottom of the seal groove)",
        "outside it",
        "N3 cuts it",
    ):
        assert words in table
    assert "Features to measure on the first piece (3)" in table


def test_every_small_picture_has_its_part_of_the_large_one() -> None:
    found = reviewed(read("clamp-stud", "base"), read("clamp-stud", "time-saved"), machine=sheet("clamp-stud")[0])
    views = views_of(found.picture())
    assert set(views) == {k for k, card in enumerate(found.report.cards, 1) if card.around is not None}
    assert views
    page = to_html(found.report, found.picture())
    assert "not computed: no setup sheet names the stock" in page
    for _, name in views.values():
        assert page.count(f'id="{name}"') == 1


def test_a_part_that_is_not_certain_is_said_to_be() -> None:
    machine, setup = sheet("clamp-stud")
    old, new = (read("clamp-stud", name) for name in ("base", "air-cut-to-rapid-g1-forgotten"))
    report = review(old, new, machine=machine, setup=setup)
    assert "Not certain." in to_html(report)
    assert "only as far as the cuts were swept" in " ".join(to_text(report).split())
