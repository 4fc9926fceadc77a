"""How much each addition to a batch was: as measured, or from nothing to the most it can have been."""

from __future__ import annotations

from collections.abc import Iterable

from sqlmodel import Session

from service.core.additions import HowAdded, Span, not_measured
from service.records.mixing_queries import Added
from service.records.stock_queries import lines_of


def span_of(session: Session, added: Added) -> Span:
    """How much one standing addition was, least and most; a count made since settles what nobody measured."""
    row, movement = added.row, added.movement
    if row.amount is not None:
        return Span(row.amount, row.amount)
    if row.how == HowAdded.NOT_MEASURED and movement is not None and movement.id is not None:
        return not_measured(movement.id, lines_of(session, movement.container_id), row.at_most)
    return Span(0, row.at_most)


def amount_of(session: Session, added: Added) -> int | None:
    """How much one standing addition was in smallest units; None = not known."""
    span = span_of(session, added)
    return span.high if span.known else None


def most_of(session: Session, added: Added) -> int | None:
    """Where it was not measured, the most it can have been in smallest units; None = it was, or not known."""
    span = span_of(session, added)
    return None if span.known else span.high


def owing_a_count(session: Session, additions: Iterable[Added]) -> list[Added]:
    """Of each container that something not measured came from, and that nobody counted since, the newest."""
    owing: dict[int, Added] = {}
    for one in additions:
        box = one.container
        if one.reversed or box is None or box.id is None or one.row.how != HowAdded.NOT_MEASURED:
            continue
        if box.balance is None:
            owing[box.id] = one
    return list(owing.values())
