"""Builders for the tests of rag loads: minutes after a first draw, entries, draws, a load to judge."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

from service.core.rag_judgement import LoadJudgement, RagLoad, judge
from service.core.rag_loads import LoadState, fold
from service.core.rags import (
    Floor,
    JoinedDraw,
    RagEntry,
    RagStep,
    Receptacle,
    Removal,
    RemovalHow,
    Vessel,
    Water,
)

START = datetime(2026, 3, 10, 9, tzinfo=UTC)
CAN = Receptacle(
    Vessel.METAL,
    lid=True,
    self_closing=True,
    listed=True,
    water=Water.NONE,
    floor=Floor.NONCOMBUSTIBLE,
    distance_mm=700,
)
BUCKET = Receptacle(Vessel.METAL, lid=True, water=Water.FULL, floor=Floor.NONCOMBUSTIBLE, distance_mm=700)
DRUM = Receptacle(Vessel.METAL, lid=True, water=Water.FULL, place_detached=True)
HAULED = Removal(RemovalHow.HAULER, "North Quay Waste")
ENDS = {RemovalHow.HAULER, RemovalHow.MUNICIPALITY, RemovalHow.INDUSTRIAL_LAUNDRY}


def at(minutes: float) -> datetime:
    return START + timedelta(minutes=minutes)


def step(
    minutes: float,
    kind: RagStep,
    box: Receptacle | None = None,
    removal: Removal | None = None,
    covers: tuple[str, ...] = (),
    count: int | None = None,
) -> RagEntry:
    return RagEntry(at(minutes), kind, box, removal, covers=covers, count=count)


def canned(minutes: float) -> RagEntry:
    return step(minutes, RagStep.IN_CAN, CAN)


def removed(minutes: float) -> RagEntry:
    return step(minutes, RagStep.REMOVED, removal=HAULED)


def draws(*minutes: float) -> list[JoinedDraw]:
    return [JoinedDraw(at(m), f"draw {n}") for n, m in enumerate(minutes, 1)]


def told(*entries: RagEntry, drawn: list[JoinedDraw] | None = None) -> LoadState:
    return fold(START, draws(0) if drawn is None else drawn, entries)


# The clocks of the tests: contain by 60 minutes, remove by 420 minutes after the first draw.
LOAD = RagLoad("Load 7", "Ines Vale", at(60), at(420), owed_by_id=3)


def judged(now: float, *entries: RagEntry, drawn: list[JoinedDraw] | None = None) -> LoadJudgement:
    return judge(LOAD, told(*entries, drawn=drawn), at(now))
