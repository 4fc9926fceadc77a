"""`umberkeep send-alerts` as real processes on both databases: killed at bad moments, and many at once."""

from __future__ import annotations

import os
import subprocess
import sys
import time
from collections.abc import Iterator
from datetime import UTC, datetime
from pathlib import Path

import pytest
from sqlmodel import col, select, update

from service.actions.outbox import CLAIM_LASTS, MessageState
from service.records.engine import Database
from service.records.outbox import OutboxRow
from tests.mail_server import SENDER, mail_server, mute_server
from tests.rag_shop import RagShop, make_shop
from tests.warned_shop import mail_channel, settings_of


@pytest.fixture
def shop(database: Database) -> RagShop:
    """A load that is late since March: whoever looks now has something to send."""
    made = make_shop(database)
    made.draw()
    return made


def sender(shop: RagShop, folder: Path, port: int) -> subprocess.Popen[str]:
    settings = settings_of(shop.database, folder)
    environment = {key: value for key, value in os.environ.items() if not key.startswith("UMBERKEEP_")} | {
        "UMBERKEEP_DATABASE_URL": settings.database_url, "UMBERKEEP_SMTP_HOST": "127.0.0.1",
        "UMBERKEEP_SMTP_PORT": str(port), "UMBERKEEP_SMTP_SECURITY": "none", "UMBERKEEP_MAIL_FROM": SENDER,
        "UMBERKEEP_MORNING_MAIL": "no",
    }  # fmt: skip
    command = [sys.executable, "-m", "service", "send-alerts", "--data", str(folder)]
    pipe = subprocess.PIPE
    return subprocess.Popen(command, env=environment, stdout=pipe, stderr=pipe, text=True)


def wait_for(what: object, seconds: float = 30) -> None:
    ends = time.monotonic() + seconds
    while not what():  # type: ignore[operator]
        assert time.monotonic() < ends, "it never came to that"
        time.sleep(0.02)


def rows(shop: RagShop) -> list[OutboxRow]:
    with shop.database.reading() as session:
        return list(session.exec(select(OutboxRow).order_by(col(OutboxRow.id))).all())


def let_claims_lapse(shop: RagShop) -> None:
    """As if the time of a claim had passed: processes have clocks of their own."""
    with shop.database.writing() as session:
        held = col(OutboxRow.claimed_until).is_not(None)
        session.exec(update(OutboxRow).where(held).values(claimed_until=datetime.now(UTC)))


@pytest.fixture
def started() -> Iterator[list[subprocess.Popen[str]]]:
    processes: list[subprocess.Popen[str]] = []
    yield processes
    for process in processes:
        if process.poll() is None:
            process.kill()
        process.communicate()


def test_killed_between_claim_and_sending_it_is_sent_by_the_next_one(
    shop: RagShop, tmp_path: Path, started: list[subprocess.Popen[str]]
) -> None:
    with shop.database.writing() as session:
        mail_channel(session, shop, None, "office@shop.example")
    with mute_server() as port:
        started.append(sender(shop, tmp_path, port))
        wait_for(lambda: any(row.claimed_by for row in rows(shop)))
        started[0].kill()
        started[0].wait()
    (row,) = rows(shop)
    assert row.state is MessageState.WAITING and row.claimed_until is not None
    with mail_server() as box:
        started.append(sender(shop, tmp_path, box.port))
        assert started[1].wait(30) == 0 and box.mails == [], "the claim of the killed one still holds"
        let_claims_lapse(shop)
        started.append(sender(shop, tmp_path, box.port))
        assert started[2].wait(30) == 0
    assert box.ids == [row.message_id]
    (row,) = rows(shop)
    assert row.state is MessageState.SENT and row.attempts == 2
    assert CLAIM_LASTS.total_seconds() <= 300, "a warning of a killed sender leaves within minutes"


def test_killed_between_sending_and_marking_it_is_sent_again_under_the_same_number(
    shop: RagShop, tmp_path: Path, started: list[subprocess.Popen[str]]
) -> None:
    with shop.database.writing() as session:
        mail_channel(session, shop, None, "office@shop.example")
    with mail_server() as box:
        box.slow_s = 1.5
        started.append(sender(shop, tmp_path, box.port))
        wait_for(lambda: box.mails)
        started[0].kill()
        started[0].wait()
        box.slow_s = 0
        let_claims_lapse(shop)
        started.append(sender(shop, tmp_path, box.port))
        assert started[1].wait(30) == 0
    first, second = box.ids
    assert first == second and first == rows(shop)[0].message_id


def test_three_processes_at_once_send_each_mail_once_and_a_refused_one_is_told(
    shop: RagShop, tmp_path: Path, started: list[subprocess.Popen[str]]
) -> None:
    with shop.database.writing() as session:
        for n in range(12):
            mail_channel(session, shop, None, f"box{n}@shop.example")
    with mail_server() as box:
        box.answers["box5@shop.example"] = "550 5.1.1 no such box"
        started += [sender(shop, tmp_path, box.port) for _ in range(3)]
        said = [process.communicate(timeout=60) for process in started]
    assert sorted(box.to) == sorted(f"box{n}@shop.example" for n in range(12) if n != 5)
    assert len(set(box.ids)) == 11
    assert sorted(process.returncode for process in started) == [0, 0, 1], said
    totals = [[int(word) for word in out.replace(",", "").split() if word.isdigit()] for out, _ in said]
    assert [sum(column) for column in zip(*totals, strict=True)] == [12, 11, 1]
