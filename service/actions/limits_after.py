"""What a planned delivery would do to the storage limits, where its material stands now. Only looks."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from typing import Final

from sqlmodel import Session

from service.actions.judge_store import Store, delivery_boxes, the_store
from service.actions.what_came import left_of, what_came
from service.core.findings import Severity, Verdict
from service.core.order_list import MaterialOrder
from service.core.storage_items import count_under
from service.core.store_changes import over_by
from service.core.store_limits import SUMS, Box, StoreJudged
from service.records.order_queries import open_lines

LESS: Final = "Use up or move away so much of what counts there first, or order less."
ONE_BY_ONE: Final = "Have it come one after the other, use up or move away some of it first, or order less."
_OVER: Final = (Severity.STOP, Severity.WARN)


def limits_after(session: Session, orders: Iterable[MaterialOrder]) -> Mapping[int, tuple[str, ...]]:
    """Of each material that is ordered, in sentences: the limits with all its packs beside what stands now.

    Then the limits with everything that is on the list, or ordered and not here yet. Nothing that jobs will
    have used by then is taken off, so it is the strict side.
    """
    store, orders = the_store(session), list(orders)
    before = store.judged(SUMS)
    more = {number: Counter(packs) for number, packs in _on_its_way(session).items()}
    for order in orders:
        more.setdefault(order.material_id, Counter()).update(_packs(order))
    boxes = [
        box
        for number, packs in more.items()
        for box in delivery_boxes(session, store, number, _usual_place(store, number), packs)
    ]
    together = over_by(before, store.with_more(boxes).judged(SUMS))
    return {one.material_id: _of_order(session, store, before, one, together) for one in orders}


def _packs(order: MaterialOrder) -> Counter[int]:
    packs = Counter[int]()
    for line in order.lines:
        packs[line.pack.amount] += line.count
    return packs


def _on_its_way(session: Session) -> dict[int, Counter[int]]:
    """Packs of each material that were ordered and have not come."""
    found: dict[int, Counter[int]] = {}
    lines = open_lines(session)
    came = what_came(session, lines) if lines else {}
    for line in lines:
        for amount in left_of(line, came.get(line.id or 0)):
            found.setdefault(line.material_id, Counter())[amount] += 1
    return found


def _of_order(
    session: Session, store: Store, before: StoreJudged, order: MaterialOrder, together: Verdict
) -> tuple[str, ...]:
    if not order.lines or order.basis is None:
        return ("not known: how much comes is not known",)
    place = _usual_place(store, order.material_id)
    boxes = delivery_boxes(session, store, order.material_id, place, _packs(order))
    after = store.with_more(boxes).judged(SUMS)
    found = over_by(before, after)
    where = store.tree.name(place, "nobody knows which place") if place is not None else ""
    asked = f"at {where}" if where else "where it will stand is not known, so as one room"
    said = [_placed(asked, where, one.sentence) for one in found if one.severity in _OVER]
    if found.blocking:
        return (*said, LESS)
    alone = {one.sentence for one in found}
    all_of_it = [one.sentence for one in together if one.severity in _OVER and one.sentence not in alone]
    if all_of_it:
        return (
            *said,
            *(f"with all else that is on the list or on its way: {words}" for words in all_of_it),
            ONE_BY_ONE,
        )
    if said:
        return tuple(said)
    facts = _open_facts(store, boxes, after, asked)
    names = {box.what.name for box in boxes}
    return (*said, *(_plainly(words, names, order.name) for words in facts))


def _placed(asked: str, where: str, sentence: str) -> str:
    """Where it would stand, unless the sentence begins with that very place.

    >>> _placed("at Cabinet", "Cabinet", "Store room / Cabinet: 54 of 60 gal.")
    'Store room / Cabinet: 54 of 60 gal.'
    """
    about = sentence.partition(":")[0].casefold()
    named = bool(where) and (about == where.casefold() or about.endswith(f" / {where.casefold()}"))
    return sentence if named else f"{asked}: {sentence}"


def _plainly(words: str, names: set[str], material: str) -> str:
    """The material is named, not the packs it would come in."""
    for name in names:
        words = words.replace(name, material)
    return words


def _open_facts(store: Store, ordered: Sequence[Box], after: StoreJudged, asked: str) -> Sequence[str]:
    counted = [
        count_under(box.what, rule_set, None) for box in ordered for rule_set in store.rule_sets
    ]
    if not any(one.categories for one in counted) and not any(box.what.groups for box in ordered):
        return ("no row of the storage tables held here counts it",)
    missing = [f.sentence for one in counted for f in one.findings if f.severity is Severity.UNKNOWN]
    if missing:
        return (f"not known: {missing[0]}",)
    if after.met is None:
        return (f"{asked}: no row comes to be over; what is not known stands under Storage limits",)
    return (f"{asked}: no row comes to be over, for what the book knows",)


def _usual_place(store: Store, material_id: int) -> int | None:
    """Where most of it stands now."""
    many: Counter[int | None] = Counter()
    for box in store.boxes:
        if box.material_id == material_id and not (box.what.emptied or box.in_use):
            many[box.place_id] += box.count
    return many.most_common(1)[0][0] if many else None
