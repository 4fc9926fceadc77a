"""What was found in one container, told of everything in the store that came out of it.

A jar poured from a tin holds what the tin held, and so does what was made with it, over any number of jars
and batches: it is looked at before each use from then on, and it ends where the tin had ended already when it
was poured.
"""

from __future__ import annotations

from datetime import datetime
from typing import Final, NamedTuple

from sqlmodel import Session, col, select

from service.actions.day_of_finding import day_of_finding
from service.actions.post_movement import EventFacts, record_event
from service.actions.settle import Act
from service.core.conditions import Found, found_words, seen_as
from service.core.containers import ContainerState, EventKind
from service.core.findings import warn
from service.core.life_facts import CheckOutcome
from service.core.materials import MaterialKind
from service.core.shelf_codes import show_code
from service.records.ageing_queries import FOUND_ELSEWHERE, checks_of, standing_of
from service.records.condition_queries import rule_for
from service.records.flow_queries import went_back, went_into
from service.records.kept_statements import batched
from service.records.stock import Container, ContainerEvent
from service.records.stock_queries import Held, hold

_IN_STORE: Final = (ContainerState.SEALED, ContainerState.OPEN)
_NAMED: Final = 20
_SPEAKS: Final = (CheckOutcome.FAILED, CheckOutcome.DOUBTED)


def reaches_the_jars(session: Session, found: Found, kind: MaterialKind) -> bool:
    """Whether what was seen, and not looked into, is told of what came out of the container.

    By what would follow from it, not by its name: a skin as such says nothing of a jar poured before.
    """
    return seen_as(found) == found.value or rule_for(session, found, kind).outcome in _SPEAKS


def tell_what_came_of_it(act: Act, held: Held, found: str, outcome: CheckOutcome) -> None:
    """Write a doubt, or an end, of a container down with the jars poured from it and made with it."""
    jars, batches = what_came_of_it(act, held.container_id)
    told = hold(act.session, jars) if jars else {}
    what, code = found_words(found), show_code(held.container.code)
    for number, jar in sorted(told.items()):
        # Peroxides grow in every part of what was poured apart; a rancid tin may have been sound when poured.
        # What it came from and its sisters are doubted: `tell_of_peroxides`.
        ended = outcome is CheckOutcome.FAILED and (not jars[number] or found == Found.PEROXIDE_OVER)
        becomes = CheckOutcome.FAILED if ended else CheckOutcome.DOUBTED
        write_finding(act, jar, becomes, found, f"{FOUND_ELSEWHERE}in {code}, which went into it")
    here = [one.container.code for _, one in sorted(told.items()) if one.container.state in _IN_STORE]
    if here:
        codes = _some([show_code(code) for code in here])
        act.note(
            warn("jars-too", f"{codes}: {code} went into it, so “{what}” stands there too now. Look at them.")
        )
    if batches:
        one = "batch" if len(batches) == 1 else "batches"
        named = _some([str(number) for number in sorted(batches)])
        act.note(warn("made-with-it", f"{code} went into {one} {named}. Look at the jars of it."))


def tell_what_comes_back(act: Act, jar: Held, source: Held) -> None:
    """Write down with a container what was found in a jar whose pouring is taken back.

    Whether it was ever poured nobody can tell: where it was, what comes back is what was found.
    """
    here, there = _what_speaks(act, source), _what_speaks(act, jar)
    for found, outcome in sorted(_found_in(act.session, {jar.container_id}, since=jar.container.created_at)):
        gravest = outcome == CheckOutcome.FAILED.value and found == Found.PEROXIDE_OVER.value
        becomes = CheckOutcome.FAILED if gravest else CheckOutcome.DOUBTED
        lifted_in_both = found not in there.open and found in _ever_found(act.session, source.container_id)
        if found in here.ended or (not gravest and (found in here.open or lifted_in_both)):
            continue
        jar_code, code = show_code(jar.container.code), show_code(source.container.code)
        why = f"{FOUND_ELSEWHERE}in {jar_code}, whose pouring was taken back"
        write_finding(act, source, becomes, found, why)
        words = f"“{found_words(found)}” was found in {jar_code}. It stands with {code} too now. Look at it."
        act.note(warn("found-in-what-comes-back", words))


def write_finding(act: Act, held: Held, outcome: CheckOutcome, found: str, why: str) -> None:
    """One finding of another container, as a check of this one. A later glance does not lift it.

    ``why`` begins as `ageing_queries.FOUND_ELSEWHERE`.
    """
    facts = EventFacts(day_of_finding(act, held, outcome), outcome, found=found or None, note=why)
    record_event(act, held, EventKind.CHECKED, facts, whatever_state=True)


def what_came_of_it(
    act: Act, container_id: int, *, mixes: bool = True
) -> tuple[dict[int, bool], set[int]]:
    """Each container anything of this one went into, and whether all of it went before the time of this act;
    and the batches that took from it or from those. Without ``mixes`` only what was poured over.

    What a pouring that was taken back brought back counts as gone before: nobody can tell whether it was ever
    poured. What had left there before that does not hold any of it.
    """
    jars: dict[int, bool] = {}
    batches: set[int] = set()
    waiting = {container_id: False}
    came: dict[int, datetime] = {}
    back_since: dict[int, datetime] = {}
    while waiting:
        flows = [
            flow
            for flow in went_into(act.session, waiting)
            if (mixes or flow.batch is None) and flow.at >= back_since.get(flow.source, flow.at)
        ]
        back = [one for one in went_back(act.session, waiting) if one.at >= came.get(one.source, one.at)]
        batches |= {flow.batch for flow in flows if flow.batch is not None}
        turn: dict[int, bool] = {}
        for flow in [*flows, *back]:
            before = waiting[flow.source] or flow in back or flow.at < act.happened_at
            worse = flow.target not in jars or (jars[flow.target] and not before)
            if flow.target == container_id or not worse:
                continue
            jars[flow.target] = turn[flow.target] = before
            came[flow.target] = min(flow.at, came.get(flow.target, flow.at))
            if flow in back:
                back_since[flow.target] = flow.at
            else:
                back_since.pop(flow.target, None)
        waiting = turn
    return jars, batches


def in_store(session: Session, numbers: set[int]) -> list[int]:
    """Those of these containers that hold something by the book."""
    found: list[int] = []
    for some in batched(sorted(numbers)):
        rows = select(Container.id).where(col(Container.id).in_(some), col(Container.state).in_(_IN_STORE))
        found += [number for number in session.exec(rows).all() if number is not None]
    return found


class _Speaks(NamedTuple):
    """What was found in a container and no later check lifted; ``ended``: what ended it, which none does."""

    open: frozenset[str]
    ended: frozenset[str]


def _what_speaks(act: Act, held: Held) -> _Speaks:
    today = act.recorded_at.astimezone(act.zone).date()
    doubts = standing_of(act.session, held.container, held.material, today).doubts
    ended = frozenset(
        one.found
        for one in checks_of(act.session, held.container_id)
        if one.outcome is CheckOutcome.FAILED
    )
    return _Speaks(ended | {one.found for one in doubts}, ended)


def _ever_found(session: Session, container_id: int) -> set[str]:
    return {one.found for one in checks_of(session, container_id)}


def _some(words: list[str]) -> str:
    more = len(words) - _NAMED
    return ", ".join(words[:_NAMED]) + (f" and {more} more" if more > 0 else "")


def _found_in(session: Session, sources: set[int], *, since: datetime) -> set[tuple[str, str]]:
    found: set[tuple[str, str]] = set()
    for some in batched(sorted(sources)):
        rows = session.exec(
            select(ContainerEvent.found, ContainerEvent.outcome).where(
                col(ContainerEvent.container_id).in_(some),
                col(ContainerEvent.kind) == EventKind.CHECKED,
                col(ContainerEvent.outcome).in_([one.value for one in _SPEAKS]),
                col(ContainerEvent.recorded_at) >= since,
            )
        ).all()
        found |= {(what or "", outcome) for what, outcome in rows}
    return found
