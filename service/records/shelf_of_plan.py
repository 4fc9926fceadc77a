"""Containers as the plan of a term reads them."""

from __future__ import annotations

from collections.abc import Sequence

from sqlmodel import Session

from service.core.plan_outlook import ShelfContainer
from service.records.ageing_queries import lives_of
from service.records.material_queries import keeper_only_materials
from service.records.stock_queries import Held, handed_out, place_names, promised


def shelf_of(session: Session, held: Sequence[Held]) -> list[ShelfContainer]:
    """Containers as the plan reads them, with what is promised to batches that have not drawn it yet."""
    boxes = [one.container for one in held]
    aside = promised(session, [one.container_id for one in held])
    away, places = handed_out(session, boxes), place_names(session, boxes)
    keepers = keeper_only_materials(one.material for one in held)
    lives = lives_of(session, [(one.container, one.material) for one in held])
    return [
        ShelfContainer(
            one.container_id, box.code, box.material_id, box.balance, life, box.state, box.balance_known,
            aside.get(one.container_id, 0), box.condition,
            box.inherited_keeper_only or box.material_id in keepers, one.container_id in away,
            places.get(box.place_id or 0, ""), name=one.material.name,
        )
        for one, box, life in zip(held, boxes, lives, strict=True)
    ]  # fmt: skip
