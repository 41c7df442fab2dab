"""Takes requests of people at screens and of programs; gives pages and answers; every act goes through the desk.

Never decides what a rule or a record decides, and never speaks SQL.
"""

from __future__ import annotations

from verifier.service.app import create_app
from verifier.service.config import Config, load_config
from verifier.service.server import code_for, prepare_shop, serve

__all__ = ["Config", "code_for", "create_app", "load_config", "prepare_shop", "serve"]
