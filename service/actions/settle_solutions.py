"""Jars whose content turns out to keep less long than was known when they were filled get its end.

What is dissolved in them became known later, its policy got shorter, or a newer program knows more. Only ever
earlier ends: what a jar has already stays where it is the stricter.
"""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date, tzinfo

from sqlalchemy.orm import aliased
from sqlmodel import Session, col, select

from service.actions.jars_of_solution import End, Filled, filled_with_solution, followed
from service.actions.post_movement import touch
from service.actions.settle import Act
from service.core.containers import Standing
from service.core.findings import warn
from service.core.ledger import MovementKind
from service.core.months import earliest
from service.core.shelf_codes import show_code
from service.records.ageing_queries import judged, lives_of
from service.records.kept_statements import batched
from service.records.materials import Material
from service.records.peroxide_formers import formers_among
from service.records.stock import Container, Movement
from service.records.stock_queries import hold

_NAMED = 10


def settle_solutions(session: Session, zone: tzinfo, today: date) -> int:
    """End every jar of this book by the policies in force for what is dissolved in it, and by the peroxide
    formers it was made with; how many jars changed. Their dates are for the caller to settle.
    """
    filled = filled_with_solution(session, zone) + _mixed_with_former(session, today)
    return _write(session, followed(session, filled))


def settle_solutions_of(act: Act, material_ids: Iterable[int]) -> list[str]:
    """End the jars made with these materials, and all that came of them, by what is dissolved in them now.

    Returns the codes of those that changed.
    """
    ends = followed(act.session, filled_with_solution(act.session, act.zone, material_ids))
    boxes = hold(act.session, ends) if ends else {}
    changed = [held for number, held in sorted(boxes.items()) if _worse(held.container, ends[number])]
    for held in changed:
        touch(act, held)
    codes = sorted(held.container.code for held in changed)
    if codes:
        named = ", ".join(show_code(code) for code in codes[:_NAMED])
        more = f" and {len(codes) - _NAMED} more" if len(codes) > _NAMED else ""
        words = f"{named}{more}: what is dissolved there keeps less long, so the dates follow."
        act.note(warn("solutions-follow", words))
    return codes


def _mixed_with_former(session: Session, today: date) -> list[Filled]:
    """Each jar filled from a batch that took from a container which forms peroxides, with its end."""
    every = [number for number in session.exec(select(Material.id)).all() if number is not None]
    found: list[Filled] = []
    for stuff in batched(formers_among(session, every)):
        rows = session.exec(
            select(Container, Material)
            .join(Material, col(Material.id) == col(Container.material_id))
            .where(col(Container.material_id).in_(stuff))
        ).all()
        boxes = [(box, material) for box, material in rows]
        lives = {
            box.id or 0: life for (box, _), life in zip(boxes, lives_of(session, boxes), strict=True)
        }
        for some in batched(lives):
            for source, jar, number in _made_with(session, some):
                now = judged(lives[source], today)
                found.append(Filled(jar, number, (now.at_latest, now.standing is not Standing.NOT_KNOWN)))
    return found


def _made_with(session: Session, sources: Iterable[int]) -> list[tuple[int, int, int]]:
    """Each container of these, a jar of a batch that took from it, and the movement that filled the jar."""
    made = aliased(Movement)
    rows = session.exec(
        select(Movement.container_id, made.container_id, made.id)
        .join(made, col(made.batch_id) == col(Movement.batch_id))
        .where(
            col(Movement.container_id).in_(list(sources)),
            col(Movement.kind) == MovementKind.DRAW,
            col(made.kind) == MovementKind.MADE,
        )
    ).all()
    return [(source, jar, number or 0) for source, jar, number in rows]


def _write(session: Session, ends: dict[int, End]) -> int:
    """Give the containers these ends where they are stricter; how many changed."""
    changed = 0
    for some in batched(ends):
        boxes = session.exec(select(Container).where(col(Container.id).in_(some))).all()
        changed += sum(_worse(box, ends[box.id or 0]) for box in boxes)
    session.flush()
    return changed


def _worse(box: Container, end: End) -> bool:
    """Give a container an end where it is stricter; whether it was."""
    after = (earliest(box.inherited_until, end[0]), box.inherited_gap or not end[1])
    if after == (box.inherited_until, box.inherited_gap):
        return False
    box.inherited_until, box.inherited_gap = after
    return True
