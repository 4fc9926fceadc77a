"""The end of a batch: what it made, the jars it was filled into, and what is not explained.

A jar of a made mix is a container like any other; it inherits the dates, lots, hazards and the self-heating
mark of everything that went in, so a new jar never starts a new life.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from sqlmodel import Session

from service.actions.add_to_batch import running
from service.actions.addition_amounts import amount_of
from service.actions.give_codes import Chance, fresh_code
from service.actions.inherit_life import life_source, take_over
from service.actions.post_movement import Line, post
from service.actions.rag_duty import use_went_on
from service.actions.read_amount import ReadAmount, densities_of, fix_basis, read_amount
from service.actions.settle import Act, Sent, Settled, settle
from service.core.access import Actor, Permission, require
from service.core.ageing_policies import AgeingPolicy
from service.core.batch import BatchBalance, Part, balance
from service.core.container_life import ContainerLife, inherit
from service.core.containers import Condition, ContainerState
from service.core.findings import Invalid, Refused, Verdict, stop
from service.core.ledger import MovementKind, OtherSide
from service.core.materials import Basis, Form, MaterialKind, SelfHeating
from service.core.shelf_codes import show_code
from service.records.ageing_queries import policy_of, policy_row_for
from service.records.job_queries import the_job
from service.records.material_queries import counts_keeper_only, counts_self_heating
from service.records.materials import Material
from service.records.mixing import Batch, BatchState, Recipe
from service.records.mixing_queries import Added, additions_of, jars_of, returns_of, the_recipe
from service.records.places import Place
from service.records.stock import Container
from service.records.stock_queries import Held, hold, movements_of

MOST_JARS = 60


@dataclass(frozen=True)
class JarAsked:
    """One jar that was filled: how much is in it, where it stands, what it could hold."""

    amount: str
    place_id: int | None = None
    capacity: str = ""
    note: str = ""


@dataclass(frozen=True, kw_only=True)
class FinishAsked:
    """The end of a batch.

    Args:
        made: how much it made in all, as written; empty = what is in the jars, or not measured.
        jars: the jars filled from it; none where all of it was used straight away.
        loss_note: where the rest went (pot, strainer, sample, spill).
        form: how the mix lies in a jar; asked once, when the recipe's first jar is filled.
    """

    once: str
    batch_id: int
    made: str = ""
    jars: tuple[JarAsked, ...] = ()
    loss_note: str = ""
    form: Form | None = None
    happened_at: datetime | None = None
    already_done: bool = False
    late_reason: str = ""

    def body(self) -> dict[str, Any]:
        return {
            "batch": self.batch_id,
            "made": self.made,
            "jars": [[jar.amount, jar.place_id, jar.capacity, jar.note] for jar in self.jars],
            "loss_note": self.loss_note,
            "form": self.form.value if self.form else None,
            "happened_at": self.happened_at.isoformat() if self.happened_at else None,
            "already_done": self.already_done,
        }


def finish(session: Session, actor: Actor, now: datetime, asked: FinishAsked, chance: Chance) -> Settled:
    """Finish a running batch and take its jars into the store.

    Args:
        chance: gives a fresh unguessable text; the codes of the jars are made of it.

    Raises:
        Stale: the batch is not running.
        Ambiguous, CannotMeet, Invalid: an amount cannot be used; `errors` names ``made`` or ``jar_0`` ....
        Refused: jars were filled, but nothing is written down that went in.
    """
    require(actor, Permission.BATCHES)
    sent = Sent(
        asked.once, "finish-batch", asked.body(), asked.happened_at, asked.already_done, asked.late_reason
    )
    return settle(session, actor, sent, now, lambda act: _finish(act, asked, chance))


def _finish(act: Act, asked: FinishAsked, chance: Chance) -> dict[str, Any]:
    batch = running(act.session, asked.batch_id)
    recipe = the_recipe(act.session, batch.recipe_id, lock=True)
    if len(asked.jars) > MOST_JARS:
        raise Invalid(f"Enter at most {MOST_JARS} jars.")
    went_in = [one for one in additions_of(act.session, asked.batch_id) if not one.reversed]
    if asked.jars and not went_in:
        sentence = "Nothing is written down that went into it. Add what went in first."
        raise Refused(Verdict.of([stop("nothing-went-in", sentence)]))
    jars: list[dict[str, Any]] = []
    if asked.jars or asked.made.strip():
        mix = _the_mix(act, recipe, went_in, asked)
        jars = _fill(act, batch, mix, went_in, asked, chance)
        _note_yield(act, batch, mix, asked, jars)
    batch.state, batch.finished_at = BatchState.FINISHED, act.happened_at
    batch.loss_note = asked.loss_note.strip()[:2000]
    batch.version += 1
    act.session.add(batch)
    act.session.flush()
    told = balance_of(act.session, batch)
    act.note(*told.findings)
    return {
        "batch": batch.id,
        "state": batch.state.value,
        "made": batch.yield_written,
        "jars": jars,
        "balance": said(told),
        "rag_load": wiped_up(act, batch, went_in, f"batch {batch.id} finished"),
    }


def wiped_up(act: Act, batch: Batch, went_in: Sequence[Added], what: str) -> int | None:
    """The end of a batch with oil in it leaves a pot and strainers to wipe: they join the load of its job.

    Returns the number of that load; None where nothing self-heating went in.
    """
    heats = any(counts_self_heating(act.session, one.material, one.container) for one in went_in)
    if not heats or batch.job_id is None:
        return None
    return use_went_on(act, the_job(act.session, batch.job_id), f"batch {batch.id}", what).id


def said(told: BatchBalance) -> dict[str, Any]:
    """A balance as plain data."""
    return {
        "went_in": list(told.went_in),
        "came_out": list(told.came_out),
        "difference": told.difference,
        "basis": told.basis.value if told.basis else None,
    }


def _the_mix(act: Act, recipe: Recipe, went_in: Sequence[Added], asked: FinishAsked) -> Material:
    """The material of this recipe's jars; made when it is needed first, and never made milder after."""
    heats = any(counts_self_heating(act.session, one.material, one.container) for one in went_in)
    batch = f"batch {asked.batch_id}"
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
            form=asked.form or Form.LIQUID,
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


def _fill(
    act: Act, batch: Batch, mix: Material, went_in: Sequence[Added], asked: FinishAsked, chance: Chance
) -> list[dict[str, Any]]:
    reads = [_jar_amount(act, mix, jar, at) for at, jar in enumerate(asked.jars)]
    if not reads:
        return []
    row = policy_row_for(act.session, mix)
    life = inherited(act, went_in, policy_of(row) if row else None)
    return [
        _jar(act, batch, mix, jar, read, life, chance) for jar, read in zip(asked.jars, reads, strict=True)
    ]


def _jar_amount(act: Act, mix: Material, jar: JarAsked, at: int) -> ReadAmount:
    read = read_amount(act.session, act.actor, mix, jar.amount, f"jar_{at}")
    if read.high <= 0:
        words = "Enter how much is in this jar, or leave the line empty."
        raise Invalid(words, {f"jar_{at}": words})
    fix_basis(act.session, mix, read.basis)
    if jar.place_id is not None and act.session.get(Place, jar.place_id) is None:
        raise Invalid("Choose one of the places.", {f"place_{at}": "Choose one of the places."})
    act.note(*read.findings)
    return read


def inherited(act: Act, went_in: Sequence[Added], policy: AgeingPolicy | None) -> ContainerLife:
    """The life of what was mixed from these additions.

    Tap water and the like have no dates and no lot; what they are still counts for the self-heating mark.
    """
    boxes = hold(
        act.session, {one.container.id for one in went_in if one.container is not None and one.container.id}
    )
    sources = [life_source(act, held) for held in boxes.values()]
    if not sources:
        sentence = "Only water went into it. There is nothing to keep in a jar."
        raise Refused(Verdict.of([stop("nothing-went-in", sentence)]))
    life = inherit(sources, policy, same_material=False, poured_on=act.day)
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


def _note_yield(
    act: Act, batch: Batch, mix: Material, asked: FinishAsked, jars: list[dict[str, Any]]
) -> None:
    in_jars = sum(int(jar["amount"]) for jar in jars)
    if not asked.made.strip():
        batch.yield_amount, batch.yield_basis = in_jars, mix.basis
        batch.yield_written = " + ".join(str(jar["written"]) for jar in jars)[:200]
        return
    read = read_amount(act.session, act.actor, mix, asked.made, "made")
    act.note(*read.findings)
    if read.high < in_jars:
        words = "More is in the jars than it made in all. Look at the amounts again."
        raise Invalid(words, {"made": words})
    batch.yield_amount, batch.yield_basis, batch.yield_written = read.low, read.basis, read.written[:200]


def balance_of(session: Session, batch: Batch) -> BatchBalance:
    """What went into a batch, what came out of it, and what is not explained."""
    assert batch.id is not None
    went_in = [
        _part(one.material, amount_of(session, one), one.row.basis)
        for one in additions_of(session, batch.id)
        if not one.reversed
    ]
    came_out = [_part(material, m.change, material.basis) for m, material in returns_of(session, batch.id)]
    if batch.yield_basis is not None:
        recipe = the_recipe(session, batch.recipe_id)
        mix = session.get(Material, recipe.material_id) if recipe.material_id else None
        density = densities_of(mix).density_g_ml if mix else None
        came_out.append(Part(recipe.name, batch.yield_amount, batch.yield_basis, density))
    return balance(went_in, came_out, loss_explained=bool(batch.loss_note))


def _part(material: Material, amount: int | None, basis: Basis | None) -> Part:
    known = densities_of(material)
    density = known.density_g_ml
    if material.form in (Form.POWDER, Form.SOLID):
        loose = known.bulk_g_ml
        density = loose[0] if loose and loose[0] == loose[1] else None
    return Part(material.name, amount, basis or Basis.MASS, density)


def jars_held(session: Session, batch_id: int) -> list[tuple[Container, int | None]]:
    """The jars of a batch with what was filled into each."""
    found = []
    for box in jars_of(session, batch_id):
        made = [m for m in movements_of(session, box.id or 0) if m.kind is MovementKind.MADE]
        found.append((box, made[0].change if made else None))
    return [(box, amount) for box, amount in found if amount is not None]
