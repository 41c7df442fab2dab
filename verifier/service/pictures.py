"""The picture of a change, at the page of its revision: drawn anew from the very bytes that its report compared."""

from __future__ import annotations

from html import escape

from flask import abort, current_app
from werkzeug.wrappers import Response

from verifier import records
from verifier.service.context import desk, needs, shop
from verifier.service.release import revision_pages as revision_pages

_GONE = "This picture cannot be drawn any more: what the report rests on (profile, policy, rules or a called program) has changed since."
_PLACARD = (
    '<svg xmlns="http://www.w3.org/2000/svg" role="img" width="960" height="60" viewBox="0 0 960 60"><title>{0}</title>'
    '<text x="10" y="34" font-family="DejaVu Sans, Arial, sans-serif" font-size="13" fill="#22282c">{0}</text></svg>'
)


@revision_pages.get("/<int:number>/picture/<int:which>.svg")
@needs()
def picture(number: int, which: int) -> Response:
    """The picture of one of a revision's reports, counted from 1; where it would not be that report's any more, words that say so."""
    revision, found = records.revision(shop(), number), records.reports(shop(), number)
    if not 1 <= which <= len(found):
        abort(404)
    drawn = desk().picture(revision, found[which - 1])
    return current_app.response_class(drawn or _PLACARD.format(escape(_GONE)), mimetype="image/svg+xml")
