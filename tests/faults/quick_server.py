"""Starts the real service in a blink: one process loads the program once and forks for each start.

Run as `python -m tests.faults.quick_server`; it reads one JSON order a line and answers one JSON line each.
Loading the libraries is most of a start, and a test that kills a hundred servers would spend its time there.
"""

from __future__ import annotations

import ctypes
import dataclasses
import faulthandler
import gc
import json
import os
import resource
import signal
import sys
import tempfile
import traceback
from contextlib import suppress
from importlib import import_module
from pathlib import Path
from typing import Any

import uvicorn
from sqlalchemy.orm import configure_mappers

from service.app import create_app
from service.cli import main as command
from service.config import read_settings
from service.records.engine import open_database
from service.records.revisions import newest_revision
from service.serving import serve

_PR_SET_PTRACER, _ANYBODY = 0x59616D61, -1


def _prepare(order: dict[str, Any]) -> None:
    """In the child: its own output, no input, the settings of the order."""
    log = os.open(order["log"], os.O_WRONLY | os.O_CREAT | os.O_APPEND, 0o600)
    os.dup2(log, 1)
    os.dup2(log, 2)
    os.dup2(os.open(os.devnull, os.O_RDONLY), 0)
    # So that strace may be put onto it by whoever ordered it, also where only parents may.
    with suppress(OSError, AttributeError):
        ctypes.CDLL(None).prctl(_PR_SET_PTRACER, _ANYBODY, 0, 0, 0)
    sys.stdout = sys.stderr = os.fdopen(1, "w", buffering=1, encoding="utf-8")
    # Where it stands, into its log: asked by a test that waited in vain.
    faulthandler.register(signal.SIGUSR1, file=2, all_threads=True)
    for name in [key for key in os.environ if key.startswith("UMBERKEEP_")]:
        del os.environ[name]
    os.environ.update(order["env"])
    if "file_limit" in order:
        signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
        resource.setrlimit(resource.RLIMIT_FSIZE, (order["file_limit"], order["file_limit"]))


def _serve(order: dict[str, Any]) -> int:
    """The same `serve` as of the command."""
    settings = read_settings(data=order["data"])
    serve(dataclasses.replace(settings, port=order["port"]), lambda words: print(words, flush=True))
    return 0


def _start(order: dict[str, Any]) -> dict[str, Any]:
    pid = os.fork()
    if pid:
        return {"pid": pid}
    code = 1
    try:
        _prepare(order)
        code = command(order["words"]) if order["do"] == "command" else _serve(order)
    except BaseException:
        traceback.print_exc()
    os._exit(code)


def _wait(order: dict[str, Any]) -> dict[str, Any]:
    done, status = os.waitpid(order["pid"], 0 if order["block"] else os.WNOHANG)
    return {"code": os.waitstatus_to_exitcode(status) if done else None}


def _load() -> None:
    """What a start and its first answers would load, before any fork; no thread and no connection is made."""
    configure_mappers()
    import_module("psycopg")
    import_module("service.records.migrate")
    with tempfile.TemporaryDirectory() as folder:
        settings = read_settings({}, data=folder)
        app = create_app(settings, open_database(settings.database_url))
        uvicorn.Config(app, log_config=None).load()
        newest_revision()


def main() -> None:
    _load()
    gc.collect()
    gc.freeze()
    print(json.dumps({"ready": os.getpid()}), flush=True)
    for line in sys.stdin:
        order = json.loads(line)
        answer = _wait(order) if order["do"] == "wait" else _start(order)
        print(json.dumps(answer), flush=True)


if __name__ == "__main__":
    # Two files of the same name would be two modules; the folder of the project comes first.
    sys.path.insert(0, str(Path(__file__).resolve().parents[2]))
    main()
