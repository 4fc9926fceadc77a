"""Jars of a batch: the material they hold, what is in each, and the life they inherit from what went in."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from itertools import chain
from typing import Any

from sqlmodel import Session

from service.actions.dissolved_life import solution_end
from service.actions.give_codes import Chance, fresh_code
from service.actions.inherit_life import life_source, take_over
from service.actions.post_movement import Line, post
from service.actions.read_amount import ReadAmount, fix_basis, read_amount
from service.actions.settle import Act
from service.actions.stands_in import place_for_stock
from service.actions.stuff_inside import materials_of_batches
from service.core.access import Actor
from service.core.ageing_policies import AgeingPolicy
from service.core.container_life import ContainerLife, inherit
from service.core.containers import Condition, ContainerState
from service.core.findings import Invalid, Refused, Verdict, stop
from service.core.ledger import MovementKind, OtherSide
from service.core.materials import Basis, Form, MaterialKind, SelfHeating
from service.core.months import earliest
from service.core.quantities import show_amount
from service.core.shelf_codes import show_code
from service.records.ageing_queries import policy_of, policy_row_for
from service.records.material_queries import counts_keeper_only, counts_self_heating
from service.records.materials import Material
from service.records.mixing import Batch, Recipe
from service.records.mixing_queries import Added
from service.records.stock import Container
from service.records.stock_queries import Held, hold


@dataclass(frozen=True)
class JarAsked:
    """One jar that was filled: how much is in it, where it stands, what it could hold."""

    amount: str
    place_id: int | None = None
    capacity: str = ""
    note: str = ""


def the_mix(
    act: Act, recipe: Recipe, went_in: Sequence[Added], batch_id: int, form: Form | None
) -> Material:
    """The material of this recipe's jars; made when it is needed first, and never made milder after."""
    heats = any(counts_self_heating(act.session, one.material, one.container) for one in went_in)
    batch = f"batch {batch_id}"
    material = act.session.get(Material, recipe.material_id) if recipe.material_id else None
    if material is None:
        students = not any(
            counts_keeper_only(act.session, one.material, one.container)
            for one in went_in
            if one.container is not None
        )
        material = Material(
            name=recipe.name,
            kind=MaterialKind.MADE_MIX,
            form=form or Form.LIQUID,
            self_heating=SelfHeating.NO,
            keeper_only=not students,
            keeper_only_reason=f"Worked out from what went into {batch}.",
            created_at=act.recorded_at,
        )
        if not heats:
            material.self_heating_reason = f"Nothing that went into {batch} is self-heating."
    if heats and material.self_heating is not SelfHeating.YES:
        material.self_heating, material.self_heating_reason = SelfHeating.YES, ""
        material.version += 1
    act.session.add(material)
    act.session.flush()
    recipe.material_id = material.id
    act.session.add(recipe)
    return material


def fill(
    act: Act,
    batch: Batch,
    mix: Material,
    went_in: Sequence[Added],
    asked: Sequence[JarAsked],
    chance: Chance,
) -> list[dict[str, Any]]:
    """Take the jars of a batch into the store; each inherits the life of everything that went in.

    Raises:
        Ambiguous, CannotMeet, Invalid: an amount or a place cannot be used; `errors` names ``jar_0`` ....
        Refused: there is nothing to keep, for only water went in.
    """
    reads = [_booked(act, mix, jar, at) for at, jar in enumerate(asked)]
    if not reads:
        return []
    row = policy_row_for(act.session, mix)
    life = inherited(act, went_in, policy_of(row) if row else None)
    return [
        _jar(act, batch, mix, jar, read, life, chance) for jar, read in zip(asked, reads, strict=True)
    ]


def jar_amount(session: Session, actor: Actor, mix: Material, jar: JarAsked, at: int) -> ReadAmount:
    """How much is in a jar, in the basis of the mix; books nothing."""
    read = read_amount(session, actor, mix, jar.amount, f"jar_{at}")
    if read.high <= 0:
        words = "Enter how much is in this jar, or leave the line empty."
        raise Invalid(words, {f"jar_{at}": words})
    return read


def _booked(act: Act, mix: Material, jar: JarAsked, at: int) -> ReadAmount:
    read = jar_amount(act.session, act.actor, mix, jar, at)
    fix_basis(act.session, mix, read.basis)
    place_for_stock(act.session, jar.place_id, f"place_{at}")
    _fits(read, _capacity(act, mix, jar.capacity), at)
    act.note(*read.findings)
    return read


def _fits(read: ReadAmount, capacity: int | None, at: int) -> None:
    """Whether a jar can hold what is said to be in it; what is weighed, or has no size, is not asked."""
    if capacity is None or read.basis is not Basis.VOLUME or read.low <= capacity:
        return
    size, content = show_amount(capacity, Basis.VOLUME), show_amount(read.low, read.basis)
    words = f"A jar of {size} does not hold {content}."
    raise Invalid(words, {f"capacity_{at}": words})


def _capacity(act: Act, mix: Material, text: str) -> int | None:
    """What a jar holds, in microlitres; None where that is not written as a volume ("jam jar", "1 lb")."""
    if not text.strip():
        return None
    try:
        read = read_amount(act.session, act.actor, mix, text, "capacity")
    except Invalid:
        return None
    return read.high if read.basis is Basis.VOLUME and read.high > 0 else None


def _first_drawn(went_in: Sequence[Added]) -> dict[int, datetime]:
    """When something of each container first went in."""
    found: dict[int, datetime] = {}
    for one in went_in:
        if one.container is not None and one.container.id is not None and one.movement is not None:
            at = one.movement.happened_at
            found[one.container.id] = min(at, found.get(one.container.id, at))
    return found


def inherited(act: Act, went_in: Sequence[Added], policy: AgeingPolicy | None) -> ContainerLife:
    """The life of what was mixed from these additions.

    Tap water and the like have no dates and no lot; what they are still counts for the self-heating mark.
    """
    boxes = hold(
        act.session, {one.container.id for one in went_in if one.container is not None and one.container.id}
    )
    drawn = _first_drawn(went_in)
    sources = [life_source(act, held, drawn.get(number)) for number, held in boxes.items()]
    if not sources:
        sentence = "Only water went into it. There is nothing to keep in a jar."
        raise Refused(Verdict.of([stop("nothing-went-in", sentence)]))
    life = inherit(sources, policy, same_material=False, poured_on=act.day)
    stuff = materials_of_batches(act.session, {one.row.batch_id for one in went_in}).values()
    until, known = solution_end(act.session, chain.from_iterable(stuff), act.day)
    ends = replace(
        life.facts,
        inherited_until=earliest(life.facts.inherited_until, until),
        inherited_gap=life.facts.inherited_gap or not known,
    )
    life = replace(life, facts=ends)
    water = [one.material for one in went_in if one.container is None]
    if any(counts_self_heating(act.session, material) for material in water) and (
        life.self_heating is SelfHeating.NO
    ):
        life = ContainerLife(
            life.facts, SelfHeating.NOT_KNOWN, life.hazards, life.lots, life.keeper_only,
            life.in_date_until, life.known,
        )  # fmt: skip
    return life


def _jar(
    act: Act,
    batch: Batch,
    mix: Material,
    jar: JarAsked,
    read: ReadAmount,
    life: ContainerLife,
    chance: Chance,
) -> dict[str, Any]:
    assert mix.id is not None
    box = Container(
        code=fresh_code(act.session, chance),
        material_id=mix.id,
        place_id=jar.place_id,
        state=ContainerState.OPEN,
        condition=Condition.SOUND,
        capacity_written=jar.capacity.strip()[:60],
        capacity_ul=_capacity(act, mix, jar.capacity),
        ever_opened=True,
        made_by_batch_id=batch.id,
        note=jar.note.strip()[:2000],
        created_at=act.recorded_at,
    )
    act.session.add(box)
    act.session.flush()
    held = Held(box, mix)
    movement = post(
        act,
        held,
        Line(
            MovementKind.MADE,
            read.low,
            OtherSide.BATCH,
            known=read.known,
            written=read.written,
            written_unit=read.unit_key,
            density_used=read.density_used,
            how=read.how,
            other_text=f"batch {batch.id}",
            batch_id=batch.id,
        ),
    )
    take_over(act, held, life, f"batch {batch.id}")
    return {
        "code": box.code,
        "shown": show_code(box.code),
        "material": mix.name,
        "amount": read.low,
        "basis": read.basis.value,
        "written": read.written,
        "movement": movement.id,
        "in_date_until": box.in_date_until.isoformat() if box.in_date_until else None,
        "self_heating": life.self_heating.value,
    }
