"""README and DEVELOPERS keep step with the program: commands, settings, pictures, links."""

from __future__ import annotations

import argparse
import re
from pathlib import Path

import pytest

from service.cli import build_parser
from service.config import PREFIX, SETTINGS
from tests.house.tree import ROOT

README = ROOT / "README.md"
DEVELOPERS = ROOT / "DEVELOPERS.md"


def text_of(path: Path) -> str:
    return path.read_text(encoding="utf-8")


@pytest.mark.parametrize("command", ["sh deploy/start.sh --demo", "sh deploy/test.sh"])
def test_readme_has_the_two_commands(command: str) -> None:
    assert command in text_of(README)


def test_ci_runs_the_readme_test_command() -> None:
    assert "sh deploy/test.sh" in text_of(ROOT / ".ci" / "run")


@pytest.mark.parametrize("name", [setting.name for setting in SETTINGS])
def test_every_setting_is_described(name: str) -> None:
    assert PREFIX + name in text_of(README) + text_of(DEVELOPERS)


def test_no_setting_is_described_that_is_not_there() -> None:
    said = set(re.findall(rf"\b{PREFIX}[A-Z_]+[A-Z]\b", text_of(README) + text_of(DEVELOPERS)))
    known = {PREFIX + setting.name for setting in SETTINGS}
    assert {name.removesuffix("_FILE") for name in said} <= known


def commands(parser: argparse.ArgumentParser) -> list[str]:
    """Every subcommand as it is typed: `serve`, `token new`."""
    for action in parser._actions:
        if isinstance(action, argparse._SubParsersAction):
            return [
                f"{name} {below}".strip()
                for name, sub in action.choices.items()
                for below in commands(sub) or [""]
            ]
    return []


def test_every_command_is_in_the_readme() -> None:
    known = commands(build_parser())
    assert {"serve", "check-ledger", "alerts", "token new"} <= set(known)
    missing = [name for name in known if f"umberkeep {name}" not in text_of(README)]
    assert not missing


@pytest.mark.parametrize("path", [README, DEVELOPERS], ids=lambda p: p.name)
def test_links_and_pictures_lead_somewhere(path: Path) -> None:
    targets = re.findall(r"\]\(([^)#\s]+)", text_of(path)) + re.findall(r'src="([^"]+)"', text_of(path))
    local = [target for target in targets if not target.startswith(("http://", "https://", "mailto:"))]
    missing = [target for target in local if not (ROOT / target).exists()]
    assert not missing


def test_readme_shows_pictures_of_the_pages() -> None:
    assert re.search(r"!\[[^\]]+\]\([^)]+\.(png|jpg|webp)\)|<img [^>]*alt=\"[^\"]+\"", text_of(README))


def test_licence_is_where_the_project_file_says() -> None:
    assert text_of(ROOT / "deploy" / "LICENSE").startswith("MIT License\n")
