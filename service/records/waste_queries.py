"""What the books say of waste: discards and losses that stand, rag loads that went into a drum or away."""

from __future__ import annotations

import json
from datetime import datetime
from decimal import Decimal
from typing import Any, NamedTuple

from sqlalchemy import and_, or_, select
from sqlalchemy.orm import aliased
from sqlmodel import Session, col

from service.core.containers import AmountKnown
from service.core.counting import CONFIRMS
from service.core.ledger import Destination, MovementKind
from service.core.materials import Basis
from service.core.rags import RagStep
from service.records.materials import Material
from service.records.pot_waste import PotWent, into_a_drum_with_its_pot, pots_went
from service.records.rags import RagLogRow
from service.records.stock import Container, Movement
from service.records.waste_drums import WasteDrumEntry


class WentOut(NamedTuple):
    """A discard or loss that was not taken back. ``change`` ``None``: nobody knew how much it was.

    A draw with a ``batch_id`` is what it put into a pot that became waste with it; ``beside``: as `PotWent`.
    """

    happened_at: datetime
    kind: MovementKind
    code: str
    material: str
    basis: Basis | None
    change: int | None
    known: AmountKnown
    density_used: Decimal | None
    density_g_ml: Decimal | None
    destination: Destination | None
    other_text: str
    reason: str
    movement_id: int
    batch_id: int | None = None
    beside: tuple[int | None, int | None] = (0, 0)


class RagsWent(NamedTuple):
    """A load of rags as it first reached a drum outside or left; ``masses``: each as written, often none."""

    happened_at: datetime
    load_id: int
    where: str
    masses: tuple[str, ...] = ()


def not_known_beside(movement: Any) -> Any:
    """Whether a discard of "all of it, nobody knew how much" stands beside a count of an unknown change."""
    beside = aliased(Movement)
    return (
        select(col(beside.id))
        .where(
            col(beside.posting_id) == movement.posting_id,
            col(beside.container_id) == movement.container_id,
            col(beside.kind) == MovementKind.COUNT_DIFFERENCE,
            col(beside.change).is_(None),
        )
        .exists()
    )


def went_out(
    session: Session, *, as_of: datetime | None = None, since: datetime | None = None, no_drum: bool = False
) -> list[WentOut]:
    """Every discard and loss, the oldest first, then what was in pots; what went back to its supplier is no
    waste, but no supplier takes back what was made here.

    A discard of "all of it, nobody knew how much" has no change here, and never nothing.

    Args:
        as_of: as the book stood at that instant.
        since: only what happened from then on.
        no_drum: only what went into a waste drum, of which no entry of a drum says which one.
    """
    taken_back = aliased(Movement)
    back = col(taken_back.reverses_id) == col(Movement.id)
    if as_of is not None:
        back = and_(back, col(taken_back.recorded_at) <= as_of)
    unknown = not_known_beside(Movement)
    columns: list[Any] = [
        col(Movement.happened_at), col(Movement.kind), col(Container.code), col(Material.name),
        col(Material.basis), col(Movement.change), col(Movement.known), col(Movement.density_used),
        col(Material.density_g_ml), col(Movement.destination), col(Movement.other_text),
        col(Movement.reason), col(Movement.id), unknown,
    ]  # fmt: skip
    query = (
        select(*columns)
        .select_from(Movement)
        .join(Container, col(Container.id) == col(Movement.container_id))
        .join(Material, col(Material.id) == col(Container.material_id))
        .outerjoin(taken_back, back)
        .where(col(taken_back.id).is_(None))
        .order_by(col(Movement.id))
    )
    went = and_(
        col(Movement.kind).in_([MovementKind.DISCARD, MovementKind.LOSS]),
        or_(
            col(Movement.destination).is_distinct_from(Destination.RETURNED_TO_SUPPLIER),
            col(Container.made_by_batch_id).is_not(None),
        ),
    )
    if no_drum:
        into_one = and_(went, col(Movement.destination) == Destination.WASTE_DRUM)
        went = and_(or_(into_one, into_a_drum_with_its_pot()), ~_in_a_drum(as_of))
    query = query.where(went)
    if as_of is not None:
        query = query.where(col(Movement.recorded_at) <= as_of)
    if since is not None:
        query = query.where(col(Movement.happened_at) >= since)
    found, of_pots = [], set()
    for *told, not_known in session.connection().execute(query):
        one = WentOut(*told)
        if one.kind is MovementKind.DRAW:
            of_pots.add(one.movement_id)
            continue
        if not_known and one.change == 0:
            one = one._replace(change=None)
        if one.change != 0:
            found.append(one)
    if no_drum and not of_pots:
        return found
    pots = pots_went(session, as_of=as_of, since=since, drum=no_drum)
    return [*found, *(_of_pot(one) for one in pots if not no_drum or one.movement_id in of_pots)]


def counted_short(
    session: Session, *, as_of: datetime | None = None, since: datetime | None = None
) -> list[tuple[datetime, str, str]]:
    """Counts that stand and found less than the book, or nothing of what nobody knew the amount of.

    Each with when, the container's code, and its material.
    """
    taken_back = aliased(Movement)
    back = col(taken_back.reverses_id) == col(Movement.id)
    if as_of is not None:
        back = and_(back, col(taken_back.recorded_at) <= as_of)
    query = (
        select(col(Movement.happened_at), col(Container.code), col(Material.name))
        .select_from(Movement)
        .join(Container, col(Container.id) == col(Movement.container_id))
        .join(Material, col(Material.id) == col(Container.material_id))
        .outerjoin(taken_back, back)
        .where(
            col(Movement.kind) == MovementKind.COUNT_DIFFERENCE,
            or_(col(Movement.change) < 0, _nothing_left_of_unknown()),
            col(Movement.reason) != CONFIRMS,
            col(taken_back.id).is_(None),
        )
        .order_by(col(Movement.id))
    )
    if as_of is not None:
        query = query.where(col(Movement.recorded_at) <= as_of)
    if since is not None:
        query = query.where(col(Movement.happened_at) >= since)
    return [(at, code, name) for at, code, name in session.connection().execute(query)]


def _nothing_left_of_unknown() -> Any:
    """A count of nothing where the amount was not known, and no act tells where an unknown amount went."""
    told = aliased(Movement)
    goes = (MovementKind.DRAW, MovementKind.LOSS, MovementKind.DISCARD, MovementKind.DECANT_OUT)
    beside = or_(col(told.change).is_(None), col(told.posting_id) == col(Movement.posting_id))
    acts = select(col(told.id)).where(
        col(told.container_id) == col(Movement.container_id), col(told.kind).in_(goes), beside
    )
    return and_(col(Movement.change).is_(None), col(Movement.counted) == 0, ~acts.exists())


def _of_pot(one: PotWent) -> WentOut:
    return WentOut(
        one.happened_at, MovementKind.DRAW, one.code, one.material, one.basis, one.change, one.known,
        one.density_used, one.density_g_ml, one.destination, one.where, one.note, one.movement_id,
        one.batch_id, one.beside,
    )  # fmt: skip


def _in_a_drum(as_of: datetime | None) -> Any:
    back = aliased(WasteDrumEntry)
    gone = select(col(back.id)).where(col(back.reverses_id) == col(WasteDrumEntry.id))
    there = select(col(WasteDrumEntry.id)).where(col(WasteDrumEntry.movement_id) == col(Movement.id))
    if as_of is not None:
        gone = gone.where(col(back.recorded_at) <= as_of)
        there = there.where(col(WasteDrumEntry.recorded_at) <= as_of)
    return there.where(~gone.exists()).exists()


def rags_went(
    session: Session, *, as_of: datetime | None = None, since: datetime | None = None
) -> list[RagsWent]:
    """Each load once, at its first step into a drum outside, else as it was removed; what it weighed at any.

    Args:
        as_of: as the book stood at that instant; since: only what happened from then on.
    """
    found: dict[int, RagsWent] = {}
    query = (
        select(col(RagLogRow.load_id), col(RagLogRow.happened_at), col(RagLogRow.body))
        .where(col(RagLogRow.kind) == "step", col(RagLogRow.load_id).is_not(None))
        .order_by(col(RagLogRow.id))
    )
    if as_of is not None:
        query = query.where(col(RagLogRow.recorded_at) <= as_of)
    if since is not None:
        query = query.where(col(RagLogRow.happened_at) >= since)
    for load_id, happened_at, body in session.connection().execute(query):
        data: dict[str, Any] = json.loads(body)
        if data.get("step") not in (RagStep.OUTSIDE_DRUM, RagStep.REMOVED) or load_id is None:
            continue
        removal = data.get("removal") or {}
        where = data.get("can_name") or removal.get("named") or "away"
        one = found.setdefault(load_id, RagsWent(happened_at, load_id, where))
        if data.get("mass"):
            found[load_id] = one._replace(masses=(*one.masses, str(data["mass"])))
    return list(found.values())
