"""The pages and end points of the service: one blueprint a module, registered here and nowhere else."""

from __future__ import annotations

from flask import Blueprint

from verifier.service.api import api
from verifier.service.health import health
from verifier.service.home import home_pages
from verifier.service.machinery import machinery
from verifier.service.people import people_pages
from verifier.service.policy import policy_pages
from verifier.service.signin import signin

BLUEPRINTS: tuple[Blueprint, ...] = (health, home_pages, signin, people_pages, machinery, policy_pages, api)
