"""What has to be ordered for the terms that are planned, each with who sees to it. It only looks."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from datetime import date

from sqlmodel import Session

from service.actions.look_at_term import TermOutlook, look_at_term
from service.core.access import Permission, may
from service.core.alerts import OrderFact, Owner
from service.core.findings import Invalid, NotFound
from service.core.order_list import MaterialOrder, OrderLine
from service.core.quantities import show_amount
from service.records.owners import Here
from service.records.plan_queries import terms_to_order_for
from service.records.plans import Term


def orders_to_place(
    session: Session, today: date, here: Mapping[int, Here], keepers: Owner
) -> list[OrderFact]:
    """Every line of the order lists of the terms that run or are to come; [] where nothing is planned.

    Whoever wrote a term down sees to its orders, and the keepers where that person plans no more. A plan that
    cannot be worked out is told as something not known, so that the other alerts stand all the same.
    """
    found: list[OrderFact] = []
    for term in terms_to_order_for(session, today):
        assert term.id is not None
        one = here.get(term.created_by)
        owner = Owner(one.name, (one.id,)) if one is not None and may(one.role, Permission.PLAN) else keepers
        try:
            found += _of_term(look_at_term(session, term.id, today), owner)
        except (Invalid, NotFound) as error:
            found.append(_not_worked_out(term, today, error.sentence, owner))
    return found


def _of_term(look: TermOutlook, owner: Owner) -> Iterator[OrderFact]:
    for order in look.plan.orders.orders:
        short = look.plan.stock.shortages(order.material_id)
        if not order.lines and short:
            yield _fact(look, order, owner, None, min(short))
        for line in order.lines:
            yield _fact(look, order, owner, line, line.first_use)


def _fact(
    look: TermOutlook, order: MaterialOrder, owner: Owner, line: OrderLine | None, needed: date
) -> OrderFact:
    least = "" if order.complete else "at least "
    if order.basis is None:
        amount = f"{order.name}, how much is not known,"
    elif line is None:
        amount = f"{least}{show_amount(order.short, order.basis)} of {order.name}"
    else:
        amount = f"{least}{line.count} × {line.pack.words} of {order.name}"
    return OrderFact(
        amount, needed, line.order_by if line else None, look.term.name, order.name, f"term {look.term.id}",
        comes_late=line is not None and line.arrive >= line.first_use, packs=line is not None,
        owner=owner.words, people=owner.people,
    )  # fmt: skip


def _not_worked_out(term: Term, today: date, why: str, owner: Owner) -> OrderFact:
    what = f"What to order (its plan cannot be worked out: {why.rstrip('.')})"
    return OrderFact(
        what, today, None, term.name, term.name, f"term {term.id}", owner=owner.words, people=owner.people
    )
