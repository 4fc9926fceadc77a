"""Whoever throws away, loses or counts less of a container hears which batches held a part of it."""

from __future__ import annotations

from service.actions.settle import Act
from service.core.findings import Finding, warn
from service.core.months import say_date
from service.core.quantities import show_amount
from service.core.shelf_codes import show_code
from service.records.open_batches import batches_that_hold
from service.records.stock_queries import Held


def tell_of_held(act: Act, held: Held, before: int | None) -> None:
    """Say of a container that holds less than ``before`` what is held in it for batches and not there."""
    box, basis = held.container, held.material.basis
    now = box.balance
    if basis is None or now == before or (now is not None and before is not None and now > before):
        return
    rows = batches_that_hold(act.session, held.container_id)
    if now is not None and sum(part.amount for part, _, _ in rows) <= now:
        return
    left = "how much is left is not known" if now is None else f"{show_amount(now, basis)} is left"
    for part, date, job in rows:
        whom = f" (“{job}” on {say_date(date.on_day)})" if date is not None and job is not None else ""
        words = (
            f"{show_amount(part.amount, basis)} in {show_code(box.code)} is held for batch {part.batch_id}"
            f"{whom}, and {left}. Open the batch and check its stock again."
        )
        act.note(_held(words, box.code))


def _held(words: str, code: str) -> Finding:
    return warn("held-for-batch", words, about=code)
