"""What batches that run, or wait with a line to suit, may still take of what another mix is checked for."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from datetime import date

from sqlmodel import Session

from service.core.check_again import from_summary
from service.core.findings import Finding, unknown
from service.core.quantities import show_amount
from service.core.recipe import Need
from service.core.still_needed import lacks
from service.records.mixing import BatchState
from service.records.open_batches import OpenBatch, open_batches


def others_take(
    session: Session, needs: Iterable[Need], spare: Mapping[int, int], except_batch: int | None,
    day: date,
) -> list[Finding]:
    """As the plan of a term counts it: a batch that runs takes its part before, and of "to suit" without an
    upper amount nobody knows what it leaves, from its day on.

    ``spare``: what is there beyond what is checked for; ``day``: the day that is checked.
    """
    asked = {need.material_id: need for need in needs}
    found: list[Finding] = []
    for one in open_batches(session) if asked else ():
        if one.row.id == except_batch or one.row.check_result is None:
            continue
        waits = one.row.state is not BatchState.RUNNING and one.date is not None
        if waits and one.date is not None and one.date.on_day > day:
            continue
        for material_id, amount in _lacks(one).items():
            need = asked.get(material_id)
            if need is None or need.basis is None:
                continue
            if amount is None:
                words = (
                    f"Batch {one.row.id} takes as much {need.name} as suits it: how much it leaves for this "
                    "is not known."
                )
            elif one.row.state is BatchState.RUNNING and amount > spare.get(material_id, 0):
                words = (
                    f"Batch {one.row.id} still needs {show_amount(amount, need.basis)} of {need.name}: it is "
                    "not known whether enough is left for this."
                )
            else:
                continue
            found.append(unknown("others-take", words, about=need.name))
    return found


def _lacks(one: OpenBatch) -> Mapping[int, int | None]:
    assert one.row.check_result is not None
    wanted = {need.material_id: need.high for need in from_summary(one.row.check_result).needs}
    good: dict[int, int] = {}
    for part, _ in one.held:
        good[part.material_id] = good.get(part.material_id, 0) + part.amount
    return lacks(wanted, one.put_in, good)
