"""Every call that writes or syncs may fail or be the last one: the books are as before it or as after it.

An everyday run takes some fifty points spread over all of them; `FAULTS_LONG=1` takes every one.
"""

from __future__ import annotations

import shutil
import signal
from collections import Counter
from collections.abc import Callable, Iterator
from dataclasses import replace
from pathlib import Path

import pytest

from tests.faults.broken_calls import CALLS, seen, spread, struck, traced
from tests.faults.how_many import how_many
from tests.faults.invariants import nothing_lost
from tests.faults.served import Served
from tests.faults.stand import Stand, furnish
from tests.faults.writers import Writer, crew

KILLS_IN_AN_ACT = how_many(8, 10_000)
KILLS_AT_THE_END = how_many(4, 10_000)
FAILS_OF_A_KIND = how_many(9, 10_000)
ERRORS = ("EIO", "ENOSPC", "EDQUOT")


@pytest.fixture(scope="module")
def model_stand(sqlite_template: Path, tmp_path_factory: pytest.TempPathFactory) -> Stand:
    data = tmp_path_factory.mktemp("model") / "shop"
    data.mkdir()
    shutil.copy(sqlite_template, data / "umberkeep.sqlite")
    return furnish(data)


@pytest.fixture
def at_work(
    model_stand: Stand, serving: Callable[..., Served], tmp_path: Path
) -> Callable[[int], tuple[Stand, Served, Writer]]:
    """A fresh copy of the shop, served, with a client whose first act is done: its thread is there."""

    def make(number: int) -> tuple[Stand, Served, Writer]:
        stand = replace(model_stand, data=tmp_path / f"n{number}" / "shop")
        shutil.copytree(model_stand.data, stand.data)
        service = serving(stand)
        client = crew(stand, [service.port], 1, number)[0]
        assert draw(stand, client, "warm") == 201
        return stand, service, client

    return make


def draw(stand: Stand, client: Writer, once: str) -> int:
    """Oil for a job: a movement, an event, a rag-log entry and a load, all in one transaction."""
    path = f"/api/containers/{stand.oils[0]}/draws"
    return client.send((path, {"once": f"{client.name}-{once}", "amount": "1 ml", "job": stand.job}))


def counted(
    at_work: Callable[..., tuple[Stand, Served, Writer]], log: Path
) -> tuple[Counter[str], Counter[str]]:
    """How many calls of each name one act makes, and the end of the service after three."""
    stand, service, client = at_work(0)
    with traced(service.pid, log):
        assert draw(stand, client, "counted") == 201
    act = seen(log)
    assert act["fsync"] + act["fdatasync"] >= 1, "an act that is not synced is not kept"
    assert draw(stand, client, "more") == 201
    with traced(service.pid, log) as tracer:
        service.signal(signal.SIGTERM)
        service.wait()
        tracer.wait(20)
    return act, seen(log)


def points(counts: Counter[str], many: int) -> Iterator[tuple[str, int]]:
    for call in CALLS:
        yield from ((call, number) for number in spread(counts[call], many))


def test_killed_at_a_write_or_sync_it_is_before_or_after(
    at_work: Callable[[int], tuple[Stand, Served, Writer]], tmp_path: Path
) -> None:
    log = tmp_path / "strace.log"
    act, end = counted(at_work, log)
    tried = 0
    for number, (call, when) in enumerate(points(act, KILLS_IN_AN_ACT), 1):
        stand, service, client = at_work(number)
        with traced(service.pid, log, f"{call}:signal=KILL:when={when}") as tracer:
            assert draw(stand, client, "struck") == 0, f"not killed at {call} {when}"
            assert service.wait() == -signal.SIGKILL
            tracer.wait(20)
        _comes_back(stand, service, client)
        tried += 1
    for number, (call, when) in enumerate(points(end, KILLS_AT_THE_END), 1001):
        stand, service, client = at_work(number)
        assert [draw(stand, client, str(n)) for n in range(2)] == [201, 201]
        client.hang_up()
        with traced(service.pid, log, f"{call}:signal=KILL:when={when}") as tracer:
            service.signal(signal.SIGTERM)
            assert service.wait() == -signal.SIGKILL, f"not killed at {call} {when} of its end"
            tracer.wait(20)
        _comes_back(stand, service, client)
        tried += 1
    assert tried >= 12


def _comes_back(stand: Stand, service: Served, client: Writer) -> None:
    """Looked at as it was left, then started, then asked again with the same key."""
    nothing_lost(stand, [client])
    service.start()
    client.hang_up()
    client.settle_open()
    assert not client.open
    assert draw(stand, client, "afterwards") == 201
    assert nothing_lost(stand, [client]) >= 3
    service.stop()


@pytest.mark.parametrize("error", ERRORS)
def test_a_write_or_sync_that_fails_is_answered_and_the_next_works(
    at_work: Callable[[int], tuple[Stand, Served, Writer]], tmp_path: Path, error: str
) -> None:
    log = tmp_path / "strace.log"
    act, _ = counted(at_work, log)
    stand, service, client = at_work(1)
    tried, short, said = 0, 0, Counter[int]()
    for call, when in points(act, FAILS_OF_A_KIND):
        with traced(service.pid, log, f"{call}:error={error}:when={when}"):
            status = draw(stand, client, f"{call}-{when}")
        assert status in (201, 503), client.bad
        if not struck(log):  # a later act may touch a page of the file less than the one that was counted
            assert status == 201 and seen(log)[call] < when, f"{call} {when} was not reached"
            short += 1
            continue
        said[status] += 1
        client.settle_open()
        assert not client.open, "the next request works, without a restart"
        nothing_lost(stand, [client])
        tried += 1
    assert said[503] >= tried // 2, "the failures were not noticed"
    assert short <= tried // 5, "the acts are not those that were counted"
    assert tried >= 6
    # What was acknowledged in between is there after the plug was pulled, too.
    service.kill()
    _comes_back(stand, service, client)


def test_a_disk_that_fails_from_now_on_refuses_until_it_is_well(
    at_work: Callable[[int], tuple[Stand, Served, Writer]], tmp_path: Path
) -> None:
    stand, service, client = at_work(1)
    with traced(service.pid, tmp_path / "log", "fsync,fdatasync:error=EIO:when=1+"):
        assert [draw(stand, client, str(n)) for n in range(3)] == [503, 503, 503]
    assert len(client.open) == 3
    client.settle_open()
    assert not client.open
    assert nothing_lost(stand, [client]) == 4
