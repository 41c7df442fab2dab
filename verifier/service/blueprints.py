"""The pages and end points of the service: one blueprint a module, registered here and nowhere else."""

from __future__ import annotations

from flask import Blueprint

from verifier.service.api import api
from verifier.service.compared import revision_pages
from verifier.service.decide import decide_pages
from verifier.service.floor import floor_pages
from verifier.service.health import health
from verifier.service.home import home_pages
from verifier.service.machinery import machinery
from verifier.service.metrics import metrics
from verifier.service.people import people_pages
from verifier.service.policy import policy_pages
from verifier.service.programs import program_pages
from verifier.service.readbacks import readback_pages
from verifier.service.rules import rule_pages
from verifier.service.signin import signin
from verifier.service.submit import submit_pages
from verifier.service.tokens import token_pages

BLUEPRINTS: tuple[Blueprint, ...] = (
    health,
    metrics,
    home_pages,
    signin,
    token_pages,
    people_pages,
    machinery,
    policy_pages,
    program_pages,
    submit_pages,
    decide_pages,
    revision_pages,
    floor_pages,
    readback_pages,
    rule_pages,
    api,
)
