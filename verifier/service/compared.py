"""A revision beside one of another program, for information: the same report and page, and nothing that anybody signs.

It is offered where a first submission has nothing to be compared with: the program of the library that is most like it.
"""

from __future__ import annotations

from flask import current_app, flash, redirect, url_for
from werkzeug.wrappers import Response

from verifier import records
from verifier.desk import report_facts
from verifier.records import RevisionFacts
from verifier.report import Reviewed, beside
from verifier.service.context import desk, needs, page, shop
from verifier.service.pictures import revision_pages as revision_pages
from verifier.service.reports import Shown, for_information
from verifier.source import read_source
from verifier.syntax import parse


@revision_pages.get("/<int:number>/nearest")
@needs()
def nearest(number: int) -> Response:
    """Look for the nearest program of the library, and go on to the comparison with it."""
    found = records.revision(shop(), number)
    near = desk().near(found)
    if near is None:
        flash("No other program of the library has as much as 30 % of its blocks.")
        return redirect(url_for("revisions.one", number=number), 303)
    other = records.find_revision(shop(), near.program, near.target, near.n)
    return redirect(url_for("revisions.compared", number=number, other=other.id), 303)


def _sides(number: int, other: int) -> tuple[RevisionFacts, RevisionFacts, Reviewed]:
    found, base = records.revision(shop(), number), records.revision(shop(), other)
    return found, base, desk().compared_with(found, base)


@revision_pages.get("/<int:number>/compared/<int:other>")
@needs()
def compared(number: int, other: int) -> Response:
    """The comparison, computed now; kept nowhere."""
    found, base, made = _sides(number, other)
    return page("compared.html", r=found, base=base, shown=_shown(found, made))


def _shown(found: RevisionFacts, made: Reviewed) -> Shown:
    new = parse(read_source(records.body(shop(), found.sha), found.program))
    return for_information(report_facts(made.report, new))


@revision_pages.get("/<int:number>/compared/<int:other>/picture.svg")
@needs()
def compared_picture(number: int, other: int) -> Response:
    """The picture of the comparison."""
    return current_app.response_class(_sides(number, other)[2].picture(), mimetype="image/svg+xml")


@revision_pages.get("/<int:number>/compared/<int:other>/blocks")
@needs()
def compared_blocks(number: int, other: int) -> Response:
    """The blocks behind the cards, as the comparison pairs them."""
    found, base, made = _sides(number, other)
    pairs = [(row.old, row.new, row.kind) for row in made.report.blocks]
    stretches, left = beside(records.body(shop(), base.sha), records.body(shop(), found.sha), pairs)
    names = f"{base.program} revision {base.n}"
    report_page = url_for("revisions.compared", number=number, other=other)
    return page("blocks.html", r=found, compared=[(stretches, left, names)], report_page=report_page)
