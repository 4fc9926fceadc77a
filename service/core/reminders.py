"""Which warnings about a rag load are due now, and whom they go to.

Doors: actions/queue_warnings.py, actions/outbox.py, core/warning_words.py.

An hour and a quarter of an hour before the load must be gone: its debtor and every keeper. When it is late,
at once the same people, then every half hour the next person on the list, round and round, until somebody
answers it in the book. A load that is not contained in time is warned of in the same rhythm. There are no
quiet hours. What could not be sent in time is sent once, late, to everybody who would have been told.
"""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from enum import StrEnum
from typing import Final

from service.core.rag_deadlines import NO_CLOCK
from service.core.rag_judgement import LoadJudgement
from service.core.rag_loads import LoadState, Span
from service.core.rags import aware

BEFORE_MIN: Final = (60, 15)
"""Minutes before `remove_by` at which the load is named for the first and the second time."""
EVERY: Final = timedelta(minutes=30)
LATE_AFTER: Final = timedelta(minutes=5)
"""A warning that leaves later than this after it was due says so."""


LONGEST_WAIT: Final = timedelta(minutes=10)


def wait_after(attempts: int) -> timedelta:
    """How long to wait after the ``attempts``-th try failed (1 is the first): doubling, at most ten minutes.

    >>> [wait_after(n) // timedelta(minutes=1) for n in (1, 2, 3, 4, 5, 5000)]
    [1, 2, 4, 8, 10, 10]
    """
    return min(timedelta(minutes=2 ** min(attempts - 1, 10)), LONGEST_WAIT)


class WarningRule(StrEnum):
    """Which clock a warning is about."""

    CONTAIN = "rag-contain"
    REMOVE = "rag-remove"


@dataclass(frozen=True)
class CallList:
    """Whom to call, by number: who owes the load, the keepers, and the others in turn. Nobody twice.

    >>> CallList.of(owner=3, keepers=[1, 3], others=[5, 1]).in_turn
    (3, 1, 5)
    """

    owner: int
    keepers: tuple[int, ...]
    others: tuple[int, ...]

    @classmethod
    def of(cls, owner: int, keepers: Sequence[int], others: Sequence[int] = ()) -> CallList:
        """A list without doubles, in the order given."""
        first = tuple(dict.fromkeys(k for k in keepers if k != owner))
        rest = tuple(dict.fromkeys(o for o in others if o != owner and o not in first))
        return cls(owner, first, rest)

    @property
    def in_turn(self) -> tuple[int, ...]:
        """Everybody, in the order in which they are called."""
        return (self.owner, *self.keepers, *self.others)

    def first_told(self, reachable: Collection[int]) -> tuple[int, ...]:
        """The one who owes it and every keeper; with nobody of them in reach, also the next who is.

        >>> CallList.of(1, [2], [3]).first_told({3})
        (1, 2, 3)
        """
        first = (self.owner, *self.keepers)
        return first if set(first) & set(reachable) else (*first, *self.next_one(0, reachable))

    def next_one(self, call: int, reachable: Collection[int]) -> tuple[int, ...]:
        """Whom the ``call``-th half hour goes to (1 is the first). Who cannot be reached is passed over.

        >>> people = CallList.of(1, [2], [3])
        >>> [people.next_one(n, {1, 3}) for n in (1, 2, 3)]
        [(3,), (1,), (3,)]
        """
        able = [one for one in self.in_turn if one in reachable]
        return (able[call % len(able)],) if able else ()


@dataclass(frozen=True)
class DueWarning:
    """One warning to send now. ``stage`` is "before-60", "before-15" or "late-N", N half hours after.

    ``due_at`` is when it should have been sent; ``missed`` how many earlier ones it stands for.
    """

    rule: WarningRule
    stage: str
    due_at: datetime
    people: tuple[int, ...]
    missed: int = 0


@dataclass(frozen=True)
class _Stage:
    name: str
    at: datetime
    call: int | None
    """Half hours since it is late; None before it is."""


def due_warnings(
    judgement: LoadJudgement,
    state: LoadState,
    now: datetime,
    told: Collection[tuple[str, str]],
    people: CallList,
    reachable: Collection[int],
) -> list[DueWarning]:
    """The warnings about one load that are due at ``now`` (aware) and were not written down yet.

    Args:
        judgement: of the load at ``now``.
        told: (rule, stage) of every warning about this load that was written down before.
        reachable: whose channels can be used.

    At most one per rule: the newest stage that is due. It goes to everybody whom the stages since the last
    one told would have gone to. A load that is late by both clocks is warned of by the remove clock alone.

    >>> from datetime import UTC
    >>> from service.core.rag_judgement import RagLoad, judge
    >>> from service.core.rag_loads import fold
    >>> at = datetime(2026, 3, 10, 9, tzinfo=UTC)
    >>> ends, state = at + timedelta(hours=7), fold(at, [], [])
    >>> load = RagLoad("Load 1", "P.", ends, ends)
    >>> now = at + timedelta(hours=6)
    >>> due = due_warnings(judge(load, state, now), state, now, (), CallList.of(1, [2]), {1})
    >>> [(one.stage, one.people) for one in due]
    [('before-60', (1, 2))]
    """
    aware(now, "now")
    found = []
    if not state.remove_met and judgement.load.remove_by < NO_CLOCK:
        since = _running_since(state.held_spans, state.made_at, now)
        missed = _missed(WarningRule.REMOVE, judgement.load.remove_by, now, told, judgement.past_remove)
        found.append(_one(WarningRule.REMOVE, missed, since, people, reachable))
    if judgement.past_contain and not judgement.past_remove:
        since = _running_since(state.loose_spans, state.made_at, now)
        missed = _missed(WarningRule.CONTAIN, judgement.load.contain_by, now, told, True)
        found.append(_one(WarningRule.CONTAIN, missed, since, people, reachable))
    return [one for one in found if one is not None]


def _running_since(spans: Sequence[Span], made_at: datetime, now: datetime) -> datetime:
    """Since when the clock has not been met: nobody could be warned before."""
    return max((span.since for span in spans if span.until is None and span.since <= now), default=made_at)


def _missed(
    rule: WarningRule, by: datetime, now: datetime, told: Collection[tuple[str, str]], late: bool
) -> list[_Stage]:
    """The stages whose time has come since the last one told, the oldest first.

    Along real time: a change of the clocks moves none of them.
    """
    names = {stage for key, stage in told if key == rule.value}
    calls = [int(name.removeprefix("late-")) for name in names if name.startswith("late-")]
    stages: list[_Stage] = []
    if not calls and rule is WarningRule.REMOVE:
        first = [_Stage(f"before-{m}", by - timedelta(minutes=m), None) for m in BEFORE_MIN]
        last = max((n for n, stage in enumerate(first) if stage.name in names), default=-1)
        stages = first[last + 1 :]
    if late:
        start = max(calls, default=-1) + 1
        stages += [_Stage(f"late-{n}", by + n * EVERY, n) for n in range(start, (now - by) // EVERY + 1)]
    return [stage for stage in stages if stage.at <= now]


def _one(
    rule: WarningRule,
    missed: Sequence[_Stage],
    since: datetime,
    people: CallList,
    reachable: Collection[int],
) -> DueWarning | None:
    """One warning for all of them. Those from before the clock ran were not missed: they are one, at once."""
    if not missed:
        return None
    after = [stage for stage in missed if stage.at >= since]
    began_late = len(after) < len(missed)
    whom = dict.fromkeys(people.first_told(reachable) if began_late else ())
    for stage in after:
        if stage.call is None or stage.call == 0:
            whom |= dict.fromkeys(people.first_told(reachable))
        else:
            whom |= dict.fromkeys(people.next_one(stage.call, reachable))
        if len(whom) == len(people.in_turn):
            break
    due_at = since if began_late else after[0].at
    return DueWarning(rule, missed[-1].name, due_at, tuple(whom), len(after) + began_late - 1)
