"""The scripts of deploy/ are sound and say in one sentence what the machine lacks."""

from __future__ import annotations

import os
import shutil
import signal
import subprocess
import sys
from pathlib import Path

import pytest

from tests.house.tree import ROOT, short

DEPLOY = ROOT / "deploy"
SCRIPTS = sorted(DEPLOY.glob("*.sh"))
CI = ROOT / ".ci" / "run"
SYSTEM_TOOLS = ("sh", "dirname", "cat", "cksum", "rm", "tail", "grep", "flock", "mkdir", "sleep")


def run(script: Path, *arguments: str, **env: str) -> subprocess.CompletedProcess[str]:
    clean = {k: v for k, v in os.environ.items() if not k.startswith("UMBERKEEP_")}
    return subprocess.run(
        ["/bin/sh", str(script), *arguments],
        env={**clean, **env},
        cwd="/",
        capture_output=True,
        text=True,
        timeout=120,
        check=False,
    )


@pytest.fixture
def copy(tmp_path: Path) -> Path:
    """A second home of the scripts, in a folder with a space in its name."""
    home = tmp_path / "store room"
    shutil.copytree(DEPLOY, home / "deploy", ignore=shutil.ignore_patterns("__pycache__"))
    shutil.copy(ROOT / "pyproject.toml", home)
    return home


@pytest.fixture
def bare_path(tmp_path: Path) -> Path:
    """A PATH with the system's small tools and no Python."""
    folder = tmp_path / "bin"
    folder.mkdir()
    for tool in SYSTEM_TOOLS:
        if found := shutil.which(tool):
            (folder / tool).symlink_to(found)
    return folder


def write_program(path: Path, text: str) -> None:
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_text(text, encoding="utf-8")
    path.chmod(0o755)


def make_ready(home: Path, program: str) -> None:
    """Dresses the folder as if the libraries had been installed; `umberkeep` is the program given."""
    binaries = home / ".venv" / "bin"
    binaries.mkdir(parents=True)
    (binaries / "python").symlink_to(sys.executable)
    write_program(binaries / "umberkeep", program)
    stamp = 'here=$1; . "$here/environment.sh"; _fingerprint requirements.lock >"$venv/made-for-run"'
    subprocess.run(["/bin/sh", "-c", stamp, "sh", str(home / "deploy")], check=True)


SHOW = '#!/bin/sh\nprintf "%s|" "$$" "$@"\n'


@pytest.mark.parametrize("script", SCRIPTS, ids=short)
def test_shell_can_read_it(script: Path) -> None:
    subprocess.run(["/bin/sh", "-n", str(script)], check=True)


def test_bash_can_read_the_ci_run() -> None:
    subprocess.run(["bash", "-n", str(CI)], check=True)


@pytest.mark.parametrize("script", [*SCRIPTS, CI], ids=short)
def test_programs_are_executable_and_begin_with_their_shell(script: Path) -> None:
    sourced = script.name == "environment.sh"
    assert os.access(script, os.X_OK) is not sourced
    assert script.read_text(encoding="utf-8").startswith("#!/") is not sourced


def test_start_shows_its_options() -> None:
    shown = run(DEPLOY / "start.sh", "--help")
    assert shown.returncode == 0
    assert all(option in shown.stdout for option in ("--demo", "--data", "--port", "--host"))


@pytest.mark.parametrize(
    "arguments",
    [["--port", "many"], ["--port", "0"], ["--port", "65536"], ["--port"], ["--data"], ["--data", ""], ["x"]],
    ids=" ".join,
)
def test_start_refuses_what_it_cannot_use(copy: Path, arguments: list[str]) -> None:
    refused = run(copy / "deploy" / "start.sh", *arguments)
    assert refused.returncode == 2
    assert "Usage:" in refused.stderr
    assert not (copy / ".venv").exists()


def test_start_hands_on_its_arguments_and_default_folders(copy: Path) -> None:
    make_ready(copy, SHOW)
    start = copy / "deploy" / "start.sh"
    assert run(start).stdout.split("|")[1:-1] == ["serve", "--data", f"{copy}/.data/shop"]
    demo = run(start, "--demo", "--port=8123", "--host", "0.0.0.0").stdout.split("|")[1:-1]
    assert demo[:3] == ["serve", "--data", f"{copy}/.data/demo"]
    assert demo[3:] == ["--host", "0.0.0.0", "--port", "8123", "--demo"]
    assert run(start, "--data", "/a b/c").stdout.split("|")[3] == "/a b/c"
    assert run(start, UMBERKEEP_DATA="/d e").stdout.split("|")[3] == "/d e"
    assert run(start, "--data", "near").stdout.split("|")[3].endswith("/near")


def test_a_stop_signal_reaches_the_server(copy: Path) -> None:
    make_ready(copy, '#!/bin/sh\ntrap "echo stopped; exit 7" TERM\necho "$$"\nwhile :; do sleep 0.05; done\n')
    started = subprocess.Popen(
        ["/bin/sh", str(copy / "deploy" / "start.sh")], stdout=subprocess.PIPE, text=True
    )
    assert started.stdout is not None
    assert int(started.stdout.readline()) == started.pid
    started.send_signal(signal.SIGTERM)
    out, _ = started.communicate(timeout=20)
    assert (out, started.returncode) == ("stopped\n", 7)


def test_a_changed_lock_or_a_moved_folder_is_noticed(copy: Path, bare_path: Path) -> None:
    make_ready(copy, SHOW)
    start = copy / "deploy" / "start.sh"
    assert run(start, PATH=str(bare_path)).returncode == 0
    moved = copy.parent / "moved room"
    copy.rename(moved)
    # Without a Python to make a new environment it can only say so; it must not serve the old one.
    assert run(moved / "deploy" / "start.sh", PATH=str(bare_path)).stdout == ""
    moved.rename(copy)
    with (copy / "deploy" / "requirements.lock").open("a", encoding="utf-8") as lock:
        lock.write("# one more\n")
    assert run(start, PATH=str(bare_path)).stdout == ""


def test_missing_python_is_named_with_its_package(copy: Path, bare_path: Path) -> None:
    said = run(copy / "deploy" / "start.sh", PATH=str(bare_path))
    assert said.returncode == 1
    assert said.stderr.count("\n") == 1
    assert "apt-get install python3 python3-venv" in said.stderr


def test_an_old_python_does_not_count(copy: Path, bare_path: Path) -> None:
    write_program(bare_path / "python3", "#!/bin/sh\nexit 1\n")
    said = run(copy / "deploy" / "start.sh", PATH=str(bare_path))
    assert "3.11 or newer" in said.stderr


def test_a_python_without_venv_is_named_with_the_package(copy: Path, bare_path: Path) -> None:
    write_program(bare_path / "python3", '#!/bin/sh\ncase "$2" in *ensurepip*) exit 1 ;; esac\nexit 0\n')
    said = run(copy / "deploy" / "start.sh", PATH=str(bare_path))
    assert said.returncode == 1
    assert said.stderr.count("\n") == 1
    assert "package python3-venv" in said.stderr


def test_tests_name_what_the_machine_lacks(copy: Path, bare_path: Path) -> None:
    said = run(copy / "deploy" / "test.sh", PATH=str(bare_path))
    assert said.returncode == 1
    assert said.stderr.count("\n") == 1
    assert "chromium" in said.stderr


def test_an_index_out_of_reach_is_said_and_leaves_no_half_made_mark(copy: Path) -> None:
    # A half-made environment from an earlier try is made anew first.
    (copy / ".venv" / "bin").mkdir(parents=True)
    (copy / ".venv" / "bin" / "python").symlink_to("/nowhere/python")
    said = run(
        copy / "deploy" / "start.sh",
        PIP_CONFIG_FILE=os.devnull,
        PIP_INDEX_URL="http://127.0.0.1:9/none",
        PIP_NO_CACHE_DIR="1",
        PIP_RETRIES="0",
        PIP_FIND_LINKS="",
    )
    assert said.returncode == 1
    assert "could not be fetched" in said.stderr.splitlines()[-1]
    assert not (copy / ".venv" / "half-made").exists()
    assert not (copy / ".venv" / "made-for-run").exists()
