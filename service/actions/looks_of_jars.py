"""A look that jars took over from a container, and that turns out not to have seen all that was in it."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime

from sqlmodel import col, select

from service.actions.settle import Act
from service.actions.tell_of_condition import write_finding
from service.core.conditions import NOT_LOOKED_AT
from service.core.containers import EventKind
from service.core.life_facts import CheckOutcome
from service.core.shelf_codes import show_code
from service.records.ageing_queries import CARRIED, FOUND_ELSEWHERE, checks_of
from service.records.flow_queries import Flow
from service.records.stock import ContainerEvent
from service.records.stock_queries import hold


class LooksOfJars:
    """The jars of one container, followed one by one in the order in which they were filled.

    A pass that was carried over is not taken out of the book: the jar is looked at before use instead, until
    somebody has looked into it by itself.
    """

    def __init__(self, act: Act) -> None:
        self.act = act
        self.lost: dict[int, datetime] = {}
        """The jars whose carried look says nothing any more, and when they were filled."""

    def follow(self, flow: Flow) -> None:
        """Judge one pouring; the jar is doubted where the look it took along does not hold any more."""
        passes = self._passes(flow.target)
        carried = [one for one in passes if one.note.startswith(CARRIED)]
        if not carried or not self._lost(flow, carried):
            return
        self.lost[flow.target] = flow.at
        if self._looked_at(flow.target, flow.at, None):
            return
        both = hold(self.act.session, {flow.source, flow.target})
        code = show_code(both[flow.source].container.code)
        why = f"{FOUND_ELSEWHERE}what went into {code} before it was poured had not all been looked at"
        write_finding(self.act, both[flow.target], CheckOutcome.DOUBTED, NOT_LOOKED_AT, why)

    def _lost(self, flow: Flow, carried: Sequence[ContainerEvent]) -> bool:
        if flow.source in self.lost:
            return not self._looked_at(flow.source, self.lost[flow.source], flow.at)
        there = {(one.on, one.found) for one in checks_of(self.act.session, flow.source)}
        return any((one.on_date, one.found or "") not in there for one in carried)

    def _looked_at(self, number: int, since: datetime, until: datetime | None) -> bool:
        """Whether somebody looked into this very container after it was filled, and that still counts."""
        counts = {
            one.on
            for one in checks_of(self.act.session, number)
            if one.outcome is CheckOutcome.PASSED
        }
        return any(
            one.happened_at > since and (until is None or one.happened_at <= until) and one.on_date in counts
            for one in self._passes(number)
            if not one.note.startswith(CARRIED)
        )

    def _passes(self, number: int) -> Sequence[ContainerEvent]:
        return self.act.session.exec(
            select(ContainerEvent).where(
                col(ContainerEvent.container_id) == number,
                col(ContainerEvent.kind) == EventKind.CHECKED,
                col(ContainerEvent.outcome) == CheckOutcome.PASSED.value,
            )
        ).all()
