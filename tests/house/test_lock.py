"""The locks hold every library that pyproject.toml asks for, inside its range, with hashes and no address."""

from __future__ import annotations

import re
import tomllib
from dataclasses import dataclass

import pytest
from packaging.requirements import Requirement
from packaging.utils import canonicalize_name
from packaging.version import Version

from tests.house.tree import ROOT

PROJECT = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))
RUN = "requirements.lock"
TEST = "requirements-test.lock"


@dataclass(frozen=True)
class Pin:
    requirement: Requirement
    hashes: tuple[str, ...]

    @property
    def version(self) -> Version:
        (only,) = self.requirement.specifier
        assert only.operator == "=="
        return Version(only.version)


def text_of(lock: str) -> str:
    return (ROOT / "deploy" / lock).read_text(encoding="utf-8")


def pins(text: str) -> dict[str, list[Pin]]:
    """Every pinned library by its canonical name; one name may stand twice, for different machines."""
    found: dict[str, list[Pin]] = {}
    entries = re.sub(r"\\\n\s*", " ", text).splitlines()
    for entry in entries:
        if not entry.strip() or entry.startswith("#"):
            continue
        asked, *hashes = entry.split(" --hash=")
        requirement = Requirement(asked.strip())
        found.setdefault(canonicalize_name(requirement.name), []).append(
            Pin(requirement, tuple(h.strip() for h in hashes))
        )
    return found


def wanted(lock: str) -> list[Requirement]:
    asked = [*PROJECT["project"]["dependencies"], *PROJECT["build-system"]["requires"]]
    if lock == TEST:
        asked += PROJECT["project"]["optional-dependencies"]["test"]
    return [Requirement(text) for text in asked]


@pytest.mark.parametrize("lock", [RUN, TEST])
def test_every_dependency_is_pinned_inside_its_range(lock: str) -> None:
    held = pins(text_of(lock))
    faults = []
    for requirement in wanted(lock):
        for pin in held.get(canonicalize_name(requirement.name), []):
            if not requirement.specifier.contains(pin.version, prereleases=True):
                faults.append(f"{pin.requirement} is outside {requirement}")
        if canonicalize_name(requirement.name) not in held:
            faults.append(f"{requirement} is not in the lock")
    assert not faults, "\n".join([*faults, "Run: sh deploy/lock.sh"])


@pytest.mark.parametrize("lock", [RUN, TEST])
def test_every_pin_is_exact_and_has_hashes(lock: str) -> None:
    held = pins(text_of(lock))
    assert len(held) > 20
    for several in held.values():
        for pin in several:
            assert pin.version
            assert pin.hashes
            assert all(re.fullmatch(r"sha256:[0-9a-f]{64}", h) for h in pin.hashes), pin.requirement


@pytest.mark.parametrize("lock", [RUN, TEST])
def test_the_lock_names_no_address_and_no_folder(lock: str) -> None:
    found = re.findall(r"^.*(?://|@ |--(?!hash=)\w|/home|/tmp).*$", text_of(lock), re.MULTILINE)
    assert not found


def test_the_test_lock_holds_all_of_the_run_lock() -> None:
    run, test = pins(text_of(RUN)), pins(text_of(TEST))
    assert {name: [p.requirement for p in held] for name, held in run.items()} == {
        name: [p.requirement for p in test.get(name, [])] for name in run
    }


def test_the_lock_is_read_as_pip_reads_it() -> None:
    text = "# made\nA_b==1.2 ; python_version < '3' \\\n    --hash=sha256:00 \\\n    --hash=sha256:11\nc==2\n"
    read = pins(text)
    assert read["a-b"][0].version == Version("1.2")
    assert read["a-b"][0].hashes == ("sha256:00", "sha256:11")
    assert read["c"][0].hashes == ()
