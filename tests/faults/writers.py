"""Clients that write as a shop writes, and keep every answer they were given."""

from __future__ import annotations

import http.client
import json
import random
import threading
from collections.abc import Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass, field
from typing import Any

from tests.faults.stand import AUTH, Stand

Wanted = tuple[str, dict[str, Any]]
"""A path and a body."""


@dataclass(frozen=True)
class Kept:
    """One answer with 201: what was asked, and what the service said it had booked."""

    once: str
    path: str
    body: dict[str, Any]
    answer: dict[str, Any]


@dataclass
class Writer:
    """One client with a connection of its own.

    `kept`: acknowledged. `refused`: statuses of refusals by key. `open`: sent, and nobody knows.
    """

    stand: Stand
    ports: Sequence[int]
    name: str
    dice: random.Random
    headers: Mapping[str, str] = field(default_factory=lambda: AUTH)
    kept: list[Kept] = field(default_factory=list)
    refused: dict[str, int] = field(default_factory=dict)
    open: list[Wanted] = field(default_factory=list)
    bad: list[str] = field(default_factory=list)
    waits_s: list[float] = field(default_factory=list)
    sent: int = 0
    _line: http.client.HTTPConnection | None = None

    def wish(self) -> Wanted:
        """The next thing this client would like to book."""
        self.sent += 1
        once = f"{self.name}-{self.sent:06d}"
        box = self.dice.choice(self.stand.powders)
        acts = {"draw": 40, "oil": 20, "return": 15, "take in": 10, "lose": 10, "count": 5}
        match self.dice.choices(list(acts), list(acts.values()))[0]:
            case "oil":
                box = self.dice.choice(self.stand.oils)
                body = {"once": once, "amount": "1 ml", "job": self.stand.job}
                return f"/api/containers/{box}/draws", body
            case "return":
                return f"/api/containers/{box}/returns", {"once": once, "amount": "1 g"}
            case "count":
                return f"/api/containers/{box}/counts", {"once": once, "amount": "900 g"}
            case "take in":
                body = {"once": once, "material": self.stand.powder, "amount": "250 g", "count": 1}
                return "/api/containers", body
            case "lose":
                return f"/api/containers/{box}/losses", {"once": once, "loss": "dried-up", "amount": "1 g"}
        return f"/api/containers/{box}/draws", {"once": once, "amount": f"{self.dice.randint(1, 3)} g"}

    def post(self, wanted: Wanted) -> tuple[int, dict[str, Any], Mapping[str, str]]:
        """Send it; raises OSError or HTTPException when no whole answer came."""
        path, body = wanted
        if self._line is None:
            self._line = http.client.HTTPConnection("127.0.0.1", self.dice.choice(self.ports), timeout=20)
        text = json.dumps(body)
        try:
            self._line.request("POST", path, text, {"content-type": "application/json", **self.headers})
            answer = self._line.getresponse()
            read = answer.read()
        except BaseException:
            self.hang_up()
            raise
        headers = {key.lower(): value for key, value in answer.getheaders()}
        if headers.get("connection") == "close":
            self.hang_up()
        return answer.status, json.loads(read), headers

    def hang_up(self) -> None:
        if self._line is not None:
            self._line.close()
            self._line = None

    def send(self, wanted: Wanted) -> int:
        """Send it and keep what came of it; 0 when nobody knows."""
        try:
            status, answer, headers = self.post(wanted)
        except (OSError, http.client.HTTPException):
            self.open.append(wanted)
            return 0
        once = wanted[1]["once"]
        if status == 201:
            self.kept.append(Kept(once, wanted[0], wanted[1], answer))
        elif status in (409, 422):
            self.refused[once] = status
        elif status in (503, 507) and headers.get("retry-after"):
            self.open.append(wanted)
        else:
            self.bad.append(f"{status} {answer} to {wanted}")
        return status

    def settle_open(self) -> None:
        """Send again what nobody knows of: the same key, so it is booked once whatever happened before."""
        again, self.open = self.open, []
        for wanted in again:
            self.send(wanted)


def crew(stand: Stand, ports: Sequence[int], many: int, seed: int, **more: Any) -> list[Writer]:
    """So many clients; the seed decides what they want."""
    return [Writer(stand, ports, f"s{seed}-w{n}", random.Random(f"{seed} {n}"), **more) for n in range(many)]


class AtWork:
    """Clients writing in threads until told to stop, or until the service or its database is gone.

    With `through_trouble` a client goes on after such an answer, or none, with its next wish.
    """

    def __init__(self, writers: Sequence[Writer], *, through_trouble: bool = False) -> None:
        self._through = through_trouble
        self._enough = threading.Event()
        self.first_answer = threading.Event()
        for writer in writers:
            writer.hang_up()  # the service has ended lines that were idle while the books were looked at
        self._threads = [threading.Thread(target=self._write, args=(w,), daemon=True) for w in writers]

    def _write(self, writer: Writer) -> None:
        while not self._enough.is_set():
            status = writer.send(writer.wish())
            if status == 201:
                self.first_answer.set()
            elif status and status < 500:
                continue
            # No answer before anything was booked is no sign that the service is gone.
            elif not self._through and self.first_answer.is_set():
                return
            else:
                self._enough.wait(0.1)

    def __enter__(self) -> AtWork:
        for thread in self._threads:
            thread.start()
        return self

    def __exit__(self, *_: object) -> None:
        self._enough.set()
        for thread in self._threads:
            thread.join(timeout=60)
            assert not thread.is_alive(), "a client hangs"


def all_kept(writers: Sequence[Writer]) -> list[Kept]:
    return [kept for writer in writers for kept in writer.kept]


def no_bad_answers(writers: Sequence[Writer]) -> None:
    bad = [words for writer in writers for words in writer.bad]
    assert not bad, "\n".join(bad[:5])


def hang_up(writers: Sequence[Writer]) -> None:
    for writer in writers:
        with suppress(OSError):
            writer.hang_up()
