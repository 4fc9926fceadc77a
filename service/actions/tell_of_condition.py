"""What was found in one container, told of the jars that came out of it.

A jar poured from a tin holds what the tin held: it is looked at before each use from then on, and it ends
where the tin had ended already when it was poured. What was made with it is named, so that somebody looks.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

from sqlmodel import col, select

from service.actions.post_movement import EventFacts, record_event
from service.actions.settle import Act
from service.core.conditions import Found, found_words
from service.core.containers import ContainerState, EventKind
from service.core.findings import warn
from service.core.ledger import MovementKind
from service.core.life_facts import CheckOutcome
from service.core.shelf_codes import show_code
from service.records.stock import Container, Movement, Posting
from service.records.stock_queries import Held, hold

NOT_IN_THE_JAR: Final = frozenset({Found.SKIN, Found.SEPARATED})
_MOST: Final = 200


def tell_what_came_of_it(act: Act, held: Held, found: str, outcome: CheckOutcome) -> None:
    """Write a doubt of a container down with the jars poured from it, and name what was made with it."""
    if found in NOT_IN_THE_JAR:
        return
    batches = _made_with(act, held.container_id)
    jars = poured_from(act, held.container_id)
    known = {held.container_id, *(number for number, _ in jars)}
    # What was made with it was drawn before: it is doubted, and with peroxides it ends.
    jars += [(number, True) for number in jars_of(act, batches) if number not in known]
    told = hold(act.session, [number for number, _ in jars]) if jars else {}
    what, code = found_words(found), show_code(held.container.code)
    for number, before in jars:
        jar = told[number]
        # Peroxides grow in every part of what was poured apart; a rancid tin may have been sound when poured.
        ended = outcome is CheckOutcome.FAILED and (not before or found == Found.PEROXIDE_OVER)
        becomes = CheckOutcome.FAILED if ended else CheckOutcome.DOUBTED
        said = f"found in {code}, which went into it"
        record_event(
            act, jar, EventKind.CHECKED, EventFacts(act.day, becomes, found=found, note=said)
        )
    if told:
        codes = ", ".join(show_code(one.container.code) for one in told.values())
        act.note(
            warn("jars-too", f"{codes}: {code} went into it, so “{what}” stands there too now. Look at them.")
        )
    if batches:
        numbers = ", ".join(map(str, batches))
        one = "batch" if len(batches) == 1 else "batches"
        act.note(warn("made-with-it", f"{code} went into {one} {numbers}. Look at the jars of it."))


def poured_from(act: Act, container_id: int) -> list[tuple[int, bool]]:
    """The jars in the store that anything was poured into from this container, from those jars too, and
    whether it was poured before the time of this act. A jar emptied since leads on to where it was poured.
    """
    found: dict[int, bool] = {}
    in_store: set[int] = set()
    waiting: list[tuple[int, bool]] = [(container_id, False)]
    while waiting and len(found) < _MOST:
        number, before = waiting.pop()
        rows = act.session.exec(
            select(Movement.container_id, Posting.happened_at, Container.state)
            .join(Posting, col(Posting.id) == col(Movement.posting_id))
            .join(Container, col(Container.id) == col(Movement.container_id))
            .where(
                col(Movement.kind) == MovementKind.DECANT_IN,
                col(Movement.other_container_id) == number,
            )
        ).all()
        for jar, at, state in rows:
            if state in (ContainerState.SEALED, ContainerState.OPEN):
                in_store.add(jar)
            earlier = before or at < act.happened_at
            if jar not in found and jar != container_id:
                found[jar] = earlier
                waiting.append((jar, earlier))
            elif jar in found:
                found[jar] = found[jar] and earlier
    return sorted((jar, before) for jar, before in found.items() if jar in in_store)


def jars_of(act: Act, batches: Sequence[int]) -> list[int]:
    """The jars in the store that were filled from these batches, and what was poured from them."""
    if not batches:
        return []
    query = select(Container.id).where(
        col(Container.made_by_batch_id).in_(batches),
        col(Container.state).in_((ContainerState.SEALED, ContainerState.OPEN)),
    )
    return sorted({number for number in act.session.exec(query).all() if number is not None})[:_MOST]


def _made_with(act: Act, container_id: int) -> Sequence[int]:
    rows = act.session.exec(
        select(Movement.batch_id).where(
            col(Movement.container_id) == container_id,
            col(Movement.kind) == MovementKind.DRAW,
            col(Movement.batch_id).is_not(None),
        )
    ).all()
    return sorted({number for number in rows if number is not None})[-20:]
