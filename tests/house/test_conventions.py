"""Conventions that would drift if they were only written down: order of folders, types, style, sizes, top level, generated pages."""

from __future__ import annotations

import ast
import re
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
SOURCES = sorted((ROOT / "verifier").rglob("*.py"))
TOP_LEVEL = {
    "README.md", "DEVELOPERS.md", "LICENSE", "pyproject.toml", "verifier", "grammar", "web", "tests", "fixtures", ".ci", ".gitignore",
    ".gitattributes",
}  # fmt: skip
MODULE_LINES, FUNCTION_LINES = 500, 60


def run(*command: str) -> None:
    done = subprocess.run([sys.executable, "-m", *command], cwd=ROOT, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stdout[-4000:] + done.stderr[-4000:]


def test_folders_import_only_downwards() -> None:
    code = (
        "import sys; sys.path.insert(0, '.'); from importlinter.cli import lint_imports_command; lint_imports_command()"
    )
    done = subprocess.run([sys.executable, "-c", code], cwd=ROOT, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stdout[-4000:] + done.stderr[-2000:]


def test_types_are_strict() -> None:
    run("mypy", "verifier")


def test_style_is_clean() -> None:
    run("ruff", "check", "verifier", "tests")


def test_code_is_formatted() -> None:
    run("ruff", "format", "--check", "verifier", "tests")


@pytest.mark.parametrize("path", SOURCES, ids=lambda path: str(path.relative_to(ROOT)))
def test_modules_and_functions_fit(path: Path) -> None:
    text = path.read_text(encoding="utf-8")
    assert text.count("\n") <= MODULE_LINES
    for node in ast.walk(ast.parse(text)):
        if isinstance(node, ast.FunctionDef) and node.end_lineno is not None:
            assert node.end_lineno - node.lineno + 1 <= FUNCTION_LINES, f"{node.name} is too long"


def test_folders_are_entered_by_their_doors() -> None:
    """A folder imports another one only through its `__init__`; findings lends its views and sentences to report."""
    lent = {"verifier.findings.touched", "verifier.findings.view", "verifier.findings.shop"}
    for path in SOURCES:
        here = path.relative_to(ROOT).parts[1]
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(node, ast.ImportFrom) and node.module and node.module.startswith("verifier."):
                parts = node.module.split(".")
                inside = len(parts) == 2 or parts[1] == here or parts[1] == "version"
                assert inside or node.module in lent, f"{path.relative_to(ROOT)} imports {node.module}"


def test_nothing_else_lies_at_the_top_level() -> None:
    done = subprocess.run(["git", "ls-files"], cwd=ROOT, capture_output=True, text=True, check=False)
    if done.returncode:
        pytest.skip("not a git checkout")
    assert {line.split("/")[0] for line in done.stdout.splitlines()} <= TOP_LEVEL


def test_the_catalogue_of_rules_is_fresh() -> None:
    from verifier.findings.catalogue import catalogue

    page = (ROOT / "verifier" / "findings" / "RULES.md").read_text(encoding="utf-8")
    assert page == catalogue() + "\n", "run: python -m verifier.findings.catalogue > verifier/findings/RULES.md"


def test_every_mirror_exists() -> None:
    from verifier.findings import ChangeRule, all_rules

    rules = {rule.id: rule for rule in all_rules()}
    for rule in rules.values():
        if isinstance(rule, ChangeRule):
            mirror = rules[rule.mirror]
            assert isinstance(mirror, ChangeRule) and mirror.mirror == rule.id


def test_paths_named_in_the_developers_page_exist() -> None:
    text = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
    named = re.findall(r"`((?:verifier|tests|fixtures|grammar|web|\.ci)/[A-Za-z0-9_./*-]*)`", text)
    assert named
    for name in named:
        assert list(ROOT.glob(name.rstrip("/"))), f"{name} does not exist"


def test_the_readme_shows_two_lines_and_ci_runs_the_second() -> None:
    text = (ROOT / "README.md").read_text(encoding="utf-8")
    lines = [line for line in text.splitlines() if line.startswith("python3 ")]
    assert len(lines) == 2
    assert "verifier demo --once" in lines[0] and "pytest" in lines[1]
    assert "grep -m 1 -E '^python3 .*pytest' README.md" in (ROOT / ".ci" / "run").read_text(encoding="utf-8")


def test_every_command_is_in_the_readme() -> None:
    import click

    from verifier.cli import main

    text = (ROOT / "README.md").read_text(encoding="utf-8")
    for name, command in main.commands.items():
        subs = command.commands if isinstance(command, click.Group) else {"": command}
        for sub, entry in subs.items():
            assert f"verifier {name} {sub}".strip() in text
            assert entry.help or entry.short_help


def test_the_settings_shown_in_the_readme_are_valid(tmp_path: Path) -> None:
    from verifier.service import load_config

    text = (ROOT / "README.md").read_text(encoding="utf-8")
    shown = next(part for part in text.split("```") if part.strip().startswith('shop = "'))
    file = tmp_path / "verifier.toml"
    file.write_text(shown, encoding="utf-8")
    config = load_config(file)
    assert config.proxy_hops == 1 and config.secure
