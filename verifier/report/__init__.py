"""Takes two programs (or one), a machine, a setup sheet and a policy; gives the change report and its forms: text, JSON, SARIF, HTML.

Never stores anything and never talks to a machine's folder.
"""

from __future__ import annotations

from verifier.report.accepted import Acceptable, Acceptance, StandingRow, acceptable, accepted_numbers
from verifier.report.beside import Beside, Stretch, beside
from verifier.report.change_report import (
    SCHEMA,
    SINCE_PROVEN,
    BlockRow,
    Card,
    ChangeReport,
    Named,
    NotChecked,
    ProgramFacts,
    SequenceTime,
    Share,
    SignOffNeed,
    TimeReport,
    WordingChange,
)
from verifier.report.html_form import MARKS, to_html
from verifier.report.json_form import CAUTION, digest_of, error_json, rules_digest, to_json
from verifier.report.picture.machine_room import picture_of_machine
from verifier.report.picture.setup_sheet import picture_of_setup
from verifier.report.review import Reviewed, examine, examined, review, reviewed
from verifier.report.sarif_form import to_sarif
from verifier.report.schema import report_schema
from verifier.report.seen import ToBeSeen, more_since_proven, to_be_seen
from verifier.report.stock_out import Origin, stock_left
from verifier.report.text import print_report, to_text
from verifier.report.three_way import Changed, ThreeWay, three_way
from verifier.report.three_way_forms import (
    three_way_html,
    three_way_json,
    three_way_parts,
    three_way_sarif,
    three_way_text,
)
from verifier.report.web import prepare, web_bytes, web_names
from verifier.report.wording import wording_counts

__all__ = [
    "CAUTION",
    "MARKS",
    "SCHEMA",
    "SINCE_PROVEN",
    "Acceptable",
    "Acceptance",
    "Beside",
    "BlockRow",
    "Card",
    "ChangeReport",
    "Changed",
    "Named",
    "NotChecked",
    "Origin",
    "ProgramFacts",
    "Reviewed",
    "SequenceTime",
    "Share",
    "SignOffNeed",
    "StandingRow",
    "Stretch",
    "ThreeWay",
    "TimeReport",
    "ToBeSeen",
    "WordingChange",
    "acceptable",
    "accepted_numbers",
    "beside",
    "digest_of",
    "error_json",
    "examine",
    "examined",
    "more_since_proven",
    "picture_of_machine",
    "picture_of_setup",
    "prepare",
    "print_report",
    "report_schema",
    "review",
    "reviewed",
    "rules_digest",
    "stock_left",
    "three_way",
    "three_way_html",
    "three_way_json",
    "three_way_parts",
    "three_way_sarif",
    "three_way_text",
    "to_be_seen",
    "to_html",
    "to_json",
    "to_sarif",
    "to_text",
    "web_bytes",
    "web_names",
    "wording_counts",
]
