"""Told to stop under load, the service answers what it has begun, takes nothing more, and is gone."""

from __future__ import annotations

import random
import signal
import threading
import time
from collections.abc import Callable

from sqlmodel import select

from service.records.stock import Posting
from tests.faults.how_many import how_many
from tests.faults.invariants import nothing_lost
from tests.faults.served import Served
from tests.faults.stand import Stand
from tests.faults.writers import AtWork, Writer, all_kept, crew
from tests.postgres_server import children

STOPS = how_many(20, 500)
GONE_AFTER_S = 5


def booked(stand: Stand) -> set[str]:
    with stand.opened() as database, database.reading() as session:
        return set(session.exec(select(Posting.once)).all())


def stop_under_load(service: Served, writers: list[Writer], wait_s: float) -> float:
    """SIGTERM while these write; the seconds until it was gone."""
    with AtWork(writers) as work:
        assert work.first_answer.wait(20)
        time.sleep(wait_s)
        assert children(service.pid) == [], "a process that would be left behind"
        began = time.monotonic()
        service.signal(signal.SIGTERM)
        code = service.wait()
        took = time.monotonic() - began
    assert code in (0, -signal.SIGTERM), service.printed()[-2000:]
    return took


def test_stops_under_load_cut_no_answer_off(
    sqlite_stand: Stand, serving: Callable[..., Served]
) -> None:
    service, dice = serving(sqlite_stand), random.Random("stops")
    writers = crew(sqlite_stand, [service.port], 8, 51)
    for number in range(STOPS):
        took = stop_under_load(service, writers, dice.uniform(0, 0.05))
        assert took <= GONE_AFTER_S
        # Sent into a line that was being closed: never read, so never booked. What was read was answered.
        unread = {wanted[1]["once"] for writer in writers for wanted in writer.open}
        assert not unread & booked(sqlite_stand), f"booked without an answer at stop {number}"
        service.start()
        for writer in writers:
            writer.hang_up()
            writer.settle_open()
    assert len(all_kept(writers)) > 5 * STOPS
    assert nothing_lost(sqlite_stand, writers) == len(all_kept(writers))
    assert "Traceback" not in service.printed()


def test_what_waits_for_its_turn_is_still_answered(
    stand: Stand, serving: Callable[..., Served]
) -> None:
    """Twenty-four requests at once are more than the threads that work: some wait inside when it stops."""
    service = serving(stand)
    writers = crew(stand, [service.port], 24, 52)
    for writer in writers:
        assert writer.send(writer.wish()) in (201, 409, 422)  # its line is open now
    start = threading.Barrier(len(writers) + 1)

    def one(writer: Writer) -> None:
        start.wait()
        writer.send(writer.wish())

    threads = [threading.Thread(target=one, args=(writer,)) for writer in writers]
    for thread in threads:
        thread.start()
    start.wait()
    time.sleep(0.05)
    service.signal(signal.SIGTERM)
    assert service.wait() in (0, -signal.SIGTERM)
    for thread in threads:
        thread.join(20)
    unread = {wanted[1]["once"] for writer in writers for wanted in writer.open}
    assert not unread & booked(stand)
    assert nothing_lost(stand, writers) > len(writers)
