"""What the records keep of a change report, taken from the report."""

from __future__ import annotations

import json

from verifier.control import layout
from verifier.records import Called, ReportFacts
from verifier.report import ChangeReport, accepted_numbers, rules_digest, to_be_seen, to_json
from verifier.syntax import Program


def report_facts(report: ChangeReport, program: Program) -> ReportFacts:
    """The facts of a report on `program` as the records want them."""
    content = to_json(report)
    return ReportFacts(
        digest=report.digest,
        verdict=report.verdict or "undetermined",
        sign_off_required=report.sign_off.required,
        sign_off_reasons=report.sign_off.reasons,
        has_critical=bool(to_be_seen(content)),
        base_sha=report.old.sha256 if report.old else None,
        machine_digest=report.machine.digest,
        setup_digest=report.setup.digest if report.setup else None,
        policy_digest=report.policy.digest,
        rules_digest=rules_digest(report),
        tool_version=report.tool_version,
        check_code=report.new.check_code,
        json=json.dumps(content, ensure_ascii=False, sort_keys=True).encode(),
        called=tuple(Called(f"O{number}", digest) for number, digest in report.new.called),
        program_number=layout(program).units[0].number,
        proven_sha=report.total.proven.sha256 if report.total else None,
        accepted=accepted_numbers(content),
    )
