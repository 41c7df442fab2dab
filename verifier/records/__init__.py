"""Takes people's acts on programs with the facts of their reports; gives what stands where, and the ledger of all acts.

The only place that speaks SQL. Never computes a report, reads a program's words or touches a machine's folder.
"""

from __future__ import annotations

from verifier.records.confirming import confirm_by_check_code, confirm_by_readback, confirm_prove_out, take_over
from verifier.records.deciding import decide
from verifier.records.facts import (
    Called,
    ChallengeWord,
    ConfirmationFacts,
    HistoryEntry,
    JobFacts,
    MachineFacts,
    PersonFacts,
    ProgramFacts,
    ReadbackFacts,
    ReleaseFacts,
    ReportFacts,
    RevisionFacts,
    StopNotice,
)
from verifier.records.jobs import (
    FloorFile,
    finish_job,
    floor_files,
    floor_serial,
    known_at,
    pending_jobs,
    still_wanted,
    trouble_job,
)
from verifier.records.keeping import backup_shop, restore_shop
from verifier.records.ledger import Checkpoint, LedgerFault, checkpoint_text
from verifier.records.locks import file_lock
from verifier.records.machinery import (
    add_machine,
    change_folder,
    change_profile,
    machine,
    machines,
    policy_bytes,
    profile_bytes,
    set_policy,
)
from verifier.records.making import init_shop
from verifier.records.names import check_program_name, fold_program_name, is_reserved
from verifier.records.people import add_person, change_person, find_person, people, secret_hashes, set_secret_hash
from verifier.records.readbacks import record_readback
from verifier.records.reading import (
    agrees,
    at_machine,
    base_shas,
    body,
    can_go_back_to,
    checkpoint,
    drifted,
    find_revision,
    history,
    in_state,
    programs,
    proven_sha,
    reports,
    revision,
    revisions,
    setup_bytes,
    shop_id,
    whole_history,
)
from verifier.records.recalling import end_overdue, go_back, recall, write_again
from verifier.records.releasing import Releasing, release, release_together
from verifier.records.shop import Clock, Shop, migrate_shop, open_shop
from verifier.records.states import ROLES, STATES
from verifier.records.submitting import report_on, submit, withdraw
from verifier.records.verifying import LedgerReport, verify_ledger

__all__ = [
    "ROLES",
    "STATES",
    "Called",
    "ChallengeWord",
    "Checkpoint",
    "Clock",
    "ConfirmationFacts",
    "FloorFile",
    "HistoryEntry",
    "JobFacts",
    "LedgerFault",
    "LedgerReport",
    "MachineFacts",
    "PersonFacts",
    "ProgramFacts",
    "ReadbackFacts",
    "ReleaseFacts",
    "Releasing",
    "ReportFacts",
    "RevisionFacts",
    "Shop",
    "StopNotice",
    "add_machine",
    "add_person",
    "agrees",
    "at_machine",
    "backup_shop",
    "base_shas",
    "body",
    "can_go_back_to",
    "change_folder",
    "change_person",
    "change_profile",
    "check_program_name",
    "checkpoint",
    "checkpoint_text",
    "confirm_by_check_code",
    "confirm_by_readback",
    "confirm_prove_out",
    "decide",
    "drifted",
    "end_overdue",
    "file_lock",
    "find_person",
    "find_revision",
    "finish_job",
    "floor_files",
    "floor_serial",
    "fold_program_name",
    "go_back",
    "history",
    "in_state",
    "init_shop",
    "is_reserved",
    "known_at",
    "machine",
    "machines",
    "migrate_shop",
    "open_shop",
    "pending_jobs",
    "people",
    "policy_bytes",
    "profile_bytes",
    "programs",
    "proven_sha",
    "recall",
    "record_readback",
    "release",
    "release_together",
    "report_on",
    "reports",
    "restore_shop",
    "revision",
    "revisions",
    "secret_hashes",
    "set_policy",
    "set_secret_hash",
    "setup_bytes",
    "shop_id",
    "still_wanted",
    "submit",
    "take_over",
    "trouble_job",
    "verify_ledger",
    "whole_history",
    "withdraw",
    "write_again",
]
