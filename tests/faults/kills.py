"""Kill a service that eight people write to, again and again, and see what became of every answer it gave."""

from __future__ import annotations

import random
import statistics
import time
from collections.abc import Callable, Sequence
from dataclasses import asdict, dataclass
from typing import Any

from service import __version__
from service.records.engine import engine_facts
from tests.faults.invariants import nothing_lost
from tests.faults.served import Served
from tests.faults.stand import Stand
from tests.faults.writers import AtWork, Writer, all_kept, crew, hang_up

CLIENTS = 8
CHECK_EVERY = 10


@dataclass(frozen=True)
class Report:
    """Figures of one run, printed as one line of JSON."""

    kills: int
    acknowledged: int
    unanswered: int
    lost: int
    repairs_by_hand: int
    seed: int
    program: str
    engine: str
    start_median_s: float
    start_after_kill_median_s: float
    run_s: float

    def as_dict(self) -> dict[str, Any]:
        return asdict(self)


def kill_rounds(
    stand: Stand,
    service: Served,
    kills: int,
    seed: int,
    strike: Callable[[], None],
    recover: Callable[[], None],
    told: Callable[[int, int], None] = lambda _done, _kept: None,
) -> Report:
    """Let people write, strike, recover, send again what nobody knows of; look at the books every tenth time.

    Args:
        strike: breaks something off; called 0 to 120 ms after the round's first answer.
        recover: brings it back; the service answers when it returns.

    Raises:
        AssertionError: something that was acknowledged is lost, or any other invariant does not hold.
    """
    began, dice = time.monotonic(), random.Random(seed)
    clean = statistics.median(service.waiting_s)
    starts_before = len(service.waiting_s)
    writers = crew(stand, [service.port], CLIENTS, seed)
    unanswered = 0
    for done in range(1, kills + 1):
        with AtWork(writers) as work:
            assert work.first_answer.wait(30), "nobody got an answer"
            time.sleep(dice.uniform(0, 0.12))
            strike()
        unanswered += sum(len(writer.open) for writer in writers)
        recover()
        _settle(writers)
        if done % CHECK_EVERY == 0 or done == kills:
            nothing_lost(stand, writers)
            told(done, len(all_kept(writers)))
    hang_up(writers)
    with stand.opened() as database:
        facts = engine_facts(database)
    return Report(
        kills=kills,
        acknowledged=len(all_kept(writers)),
        unanswered=unanswered,
        lost=0,  # `nothing_lost` has ended the run otherwise
        repairs_by_hand=0,  # nothing but the start stands between a kill and the next answer
        seed=seed,
        program=__version__,
        engine=f"{facts['engine']} {facts['version']}, journal {facts['journal']}",
        start_median_s=round(clean, 3),
        start_after_kill_median_s=round(statistics.median(service.waiting_s[starts_before:] or [0]), 3),
        run_s=round(time.monotonic() - began, 1),
    )


def _settle(writers: Sequence[Writer]) -> None:
    for writer in writers:
        writer.hang_up()
        writer.settle_open()
        assert not writer.open, f"no answer after the restart to {writer.open[:2]}"
