"""What was found in a jar, told of the container it was poured from and of the other jars of the same stuff.

No date and no standing moves by it: a jar may have been dirty. But a keeper owes a look at each of them, and
whoever found it reads at once which they are.
"""

from __future__ import annotations

from collections.abc import Collection
from datetime import datetime
from typing import Final

from sqlmodel import Session, col, select

from service.actions.settle import Act
from service.actions.tell_of_condition import in_store, what_came_of_it
from service.actions.tellings import owe_a_look
from service.core.conditions import found_words
from service.core.containers import EventKind, Standing
from service.core.findings import warn
from service.core.ledger import MovementKind
from service.core.life_facts import CheckOutcome
from service.core.shelf_codes import show_code
from service.records.materials import Material
from service.records.stock import Container, ContainerEvent, Movement
from service.records.stock_queries import Held

_MOST: Final = 50


def owe_a_look_at_the_same(act: Act, held: Held, found: str) -> None:
    """Let a keeper owe a look at every other container in the store that holds what this one holds.

    Those that were poured from this one have the finding written down with them already
    (`tell_of_condition`); what is past already is not looked at any more.
    """
    wanted = _beside(act, held.container_id) - set(what_came_of_it(act, held.container_id)[0])
    boxes = act.session.exec(
        select(Container.id, Container.code, Material.name)
        .join(Material, col(Material.id) == col(Container.material_id))
        .where(
            col(Container.id).in_(in_store(act.session, wanted)),
            col(Container.standing) != Standing.PAST,
        )
        .order_by(col(Container.id))
        .limit(_MOST)
    ).all()
    what, code = found_words(found), show_code(held.container.code)
    for box_id, other, name in boxes:
        if box_id is not None:
            sentence = (
                f"{act.actor.name} found in {code}: {what}. {show_code(other)} {name[:80]} holds the same "
                "stuff. Look at it and write what you find."
            )
            owe_a_look(act, box_id, sentence)
    if boxes:
        codes = ", ".join(show_code(other) for _, other, _ in boxes)
        words = f"{codes}: the same stuff as in {code}, where “{what}” was found. Look at it before use."
        act.note(warn("same-stuff", words))


def ask_what_was_found_meanwhile(act: Act, held: Held, since: datetime) -> None:
    """Let a keeper owe a look at what was thrown away and is not, where the same stuff was found bad since.

    While it was gone nobody asked about it.

    Args:
        since: when it was thrown away, as the book heard of it.
    """
    wanted = _beside(act, held.container_id) | set(what_came_of_it(act, held.container_id, mixes=False)[0])
    bad = act.session.exec(
        select(ContainerEvent.found, Container.code)
        .join(Container, col(Container.id) == col(ContainerEvent.container_id))
        .where(
            col(ContainerEvent.container_id).in_(wanted),
            col(ContainerEvent.kind) == EventKind.CHECKED,
            col(ContainerEvent.outcome).in_([CheckOutcome.FAILED.value, CheckOutcome.DOUBTED.value]),
            col(ContainerEvent.recorded_at) >= since,
        )
        .order_by(col(ContainerEvent.id).desc())
    ).first()
    if bad is None:
        return
    what, code, own = found_words(bad[0] or ""), show_code(bad[1]), show_code(held.container.code)
    words = f"In {code}, which holds the same stuff, “{what}” was found while {own} counted as thrown away."
    owe_a_look(act, held.container_id, f"{words} Look at it and write what you find.")
    act.note(warn("same-stuff", f"{words} Look at it before use."))


def _beside(act: Act, container_id: int) -> set[int]:
    """What this was poured from, the jars filled along with it, and what else was poured from those."""
    sources = _poured_into(act.session, container_id)
    found = sources | _jars_of_the_same_batch(act.session, {container_id, *sources})
    for number in sources:
        found |= set(what_came_of_it(act, number, mixes=False)[0])
    return found - {container_id}


def _poured_into(session: Session, container_id: int) -> set[int]:
    """The containers from which anything in this one was poured, over any number of jars."""
    found: set[int] = set()
    waiting = {container_id}
    while waiting and len(found) < _MOST:
        rows = session.exec(
            select(Movement.other_container_id).where(
                col(Movement.kind) == MovementKind.DECANT_IN,
                col(Movement.container_id).in_(waiting),
                col(Movement.other_container_id).is_not(None),
            )
        ).all()
        waiting = {number for number in rows if number is not None} - found - {container_id}
        found |= waiting
    return found


def _jars_of_the_same_batch(session: Session, containers: Collection[int]) -> set[int]:
    """The other jars of the batches that these were filled from; those poured over from them too."""
    batches = select(Container.made_by_batch_id).where(
        col(Container.id).in_(containers), col(Container.made_by_batch_id).is_not(None)
    )
    query = select(Container.id).where(col(Container.made_by_batch_id).in_(batches))
    return {number for number in session.exec(query).all() if number is not None}
