"""One more addition to a running batch: by a scanned code, or by the material and an amount."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from typing import Any

from sqlmodel import Session, col, select

from service.actions.check_mix import candidates
from service.actions.container_act import Opening, note_first_opening
from service.actions.gate import Taking, check_job, take
from service.actions.judge_never_with import judge_addition
from service.actions.post_movement import Line, Written
from service.actions.read_amount import ReadAmount, fix_basis, read_amount
from service.actions.settle import Act, Sent, Settled, settle
from service.core.access import Actor, Permission, require
from service.core.findings import Invalid, Refused, Stale, Verdict, stop
from service.core.ledger import MovementKind, OtherSide
from service.core.materials import Basis
from service.core.quantities import show_amount
from service.core.recipe import Need
from service.core.shelf_codes import show_code
from service.core.stock_check import check
from service.records.job_queries import the_job
from service.records.jobs import Job
from service.records.material_queries import counts_self_heating, the_material
from service.records.materials import Material
from service.records.mixing import BATCH_WORDS, Addition, Batch, BatchState, RecipeLineRow
from service.records.mixing_queries import the_batch, the_recipe
from service.records.stock_queries import Held, hold, hold_one


@dataclass(frozen=True, kw_only=True)
class AddAsked:
    """One addition.

    Args:
        code: the container it comes from; empty = the material's containers in shelf order.
        material_id: needed without a code; alone it is also how tap water goes in.
        looked: the person looked at it now and it is sound.
        more_than_book: there was more in it than the book says.
        confirmation: how the condition of what is otherwise never mixed is met, in a sentence.
        job_id: another running job than the batch's own (its job may have ended meanwhile).
    """

    once: str
    batch_id: int
    amount: str
    code: str = ""
    material_id: int | None = None
    looked: bool = False
    more_than_book: bool = False
    job_id: int | None = None
    happened_at: datetime | None = None
    already_done: bool = False
    late_reason: str = ""
    confirmation: str = ""

    def body(self) -> dict[str, Any]:
        return {
            "batch": self.batch_id,
            "amount": self.amount,
            "code": self.code,
            "material": self.material_id,
            "looked": self.looked,
            "more_than_book": self.more_than_book,
            "job": self.job_id,
            "happened_at": self.happened_at.isoformat() if self.happened_at else None,
            "already_done": self.already_done,
            **({"confirmation": self.confirmation} if self.confirmation else {}),
        }


def add(session: Session, actor: Actor, now: datetime, asked: AddAsked) -> Settled:
    """Put one more amount into a running batch; judged like any draw.

    Raises:
        Stale: the batch is not running.
        Ambiguous, CannotMeet, Invalid: the amount or the material cannot be used; `errors` names the field.
        Refused: a rule stops it, or not enough is there.
        NotAllowed: a student who is not in the batch's job, or keeper-only material.
    """
    require(actor, Permission.ADD_TO_BATCH)
    sent = Sent(
        asked.once, "add-to-batch", asked.body(), asked.happened_at, asked.already_done, asked.late_reason
    )
    return settle(session, actor, sent, now, lambda act: _add(act, asked))


def running(session: Session, batch_id: int) -> Batch:
    """The batch, locked, if it is running.

    Raises:
        Stale: it is not.
    """
    batch = the_batch(session, batch_id, lock=True)
    if batch.state is not BatchState.RUNNING:
        raise Stale(f"Batch {batch.id} is {BATCH_WORDS[batch.state]}. Nothing can be added to it.")
    return batch


def _add(act: Act, asked: AddAsked) -> dict[str, Any]:
    batch = running(act.session, asked.batch_id)
    job_id = asked.job_id if asked.job_id is not None else batch.job_id
    job = the_job(act.session, job_id) if job_id is not None else None
    check_job(act, job)
    if asked.code.strip():
        held = hold_one(act.session, asked.code)
        if asked.material_id not in (None, held.container.material_id):
            words = f"{show_code(held.container.code)} holds {held.material.name}, not what you chose."
            raise Invalid(words, {"code": words})
        read = _amount(act, held.material, asked.amount)
        judge_addition(act, batch, held.material, asked.confirmation)
        taken = [(held, read.high)]
    elif asked.material_id is not None:
        material = the_material(act.session, asked.material_id)
        read = _amount(act, material, asked.amount)
        judge_addition(act, batch, material, asked.confirmation)
        taken = [] if material.not_stocked else _from_shelf(act, material, read, batch)
        if not taken:
            return _from_tap(act, batch, material, read)
    else:
        words = "Scan the container, or choose the material."
        raise Invalid(words, {"code": words})
    if batch.job_id is None and job is not None:
        batch.job_id = job.id
    batch.version += 1
    act.session.add(batch)
    movements = [_take(act, batch, held, amount, read, asked, job) for held, amount in taken]
    return {
        "batch": batch.id,
        "additions": [
            {
                "code": held.container.code,
                "material": held.material.name,
                "amount": amount,
                "basis": held.basis.value,
                "written": read.written,
                "movement": movement.id,
                "rag_load": movement.rag_load_id,
            }
            for (held, amount), movement in zip(taken, movements, strict=True)
        ],
    }


def _amount(act: Act, material: Material, text: str) -> ReadAmount:
    read = read_amount(act.session, act.actor, material, text)
    if read.high <= 0:
        words = "Enter how much you put in: more than nothing."
        raise Invalid(words, {"amount": words})
    act.note(*read.findings)
    return read


def _from_shelf(act: Act, material: Material, read: ReadAmount, batch: Batch) -> list[tuple[Held, int]]:
    """Which containers it comes from, in shelf order, as the stock check would take it."""
    assert material.id is not None
    found = candidates(act.session, [material.id], act.judged_on, batch.id)
    need = Need(material.id, material.name, read.basis, read.low, read.high, read.unit_key)
    checked = check([need], [c for c, _ in found], actor_role=act.actor.role, today=act.judged_on)
    if checked.verdict.blocking:
        raise Refused(checked.verdict)
    held = hold(act.session, [one.container_id for one in checked.allocations])
    return [(held[one.container_id], one.amount) for one in checked.allocations]


def _from_tap(act: Act, batch: Batch, material: Material, read: ReadAmount) -> dict[str, Any]:
    assert material.id is not None
    not_oil(act.session, material)
    position = _position(act.session, batch, material.id)
    row = add_row(act, batch, material.id, (read.high, read.basis, read.written), None, position)
    said = {
        "code": None,
        "material": material.name,
        "amount": row.amount,
        "basis": read.basis.value,
        "written": read.written,
        "movement": None,
        "rag_load": None,
    }
    return {"batch": batch.id, "additions": [said]}


def not_oil(session: Session, material: Material) -> None:
    """Whether something may go in without a movement: no load would stand for the rags of an oil.

    Raises:
        Refused: it is self-heating, or nobody said that it is not.
    """
    if counts_self_heating(session, material):
        words = (
            f"Rags with {material.name} can ignite by themselves, so it is drawn from a container. "
            "Take it in with a code, or a keeper says why its rags do not heat."
        )
        raise Refused(Verdict.of([stop("needs-container", words, about=material.name)]))


def _take(
    act: Act, batch: Batch, held: Held, amount: int, read: ReadAmount, asked: AddAsked, job: Job | None
) -> Written:
    recipe = the_recipe(act.session, batch.recipe_id)
    fix_basis(act.session, held.material, read.basis)
    note_first_opening(act, held, Opening(), job)
    line = Line(
        MovementKind.DRAW,
        -amount,
        OtherSide.BATCH,
        known=read.known,
        written=read.written,
        written_unit=read.unit_key,
        density_used=read.density_used,
        how=read.how,
        other_text=f"batch {batch.id}, {recipe.name}"[:200],
        batch_id=batch.id,
    )
    taking = Taking(
        job=job,
        looked=asked.looked,
        recipe_id=batch.recipe_id,
        batch_id=batch.id,
        more_than_book=asked.more_than_book,
    )
    movement = take(act, held, line, taking)
    material_id = held.container.material_id
    whole = read.written if amount == read.high else show_amount(amount, held.basis)
    position = _position(act.session, batch, material_id)
    add_row(act, batch, material_id, (amount, held.basis, whole), movement.id, position)
    return movement


def _position(session: Session, batch: Batch, material_id: int) -> int | None:
    """The first line of the recipe with this material; None for something that is not in it."""
    return session.exec(
        select(RecipeLineRow.position)
        .where(
            col(RecipeLineRow.version_id) == batch.recipe_version_id,
            col(RecipeLineRow.material_id) == material_id,
        )
        .order_by(col(RecipeLineRow.position))
    ).first()


def add_row(
    act: Act,
    batch: Batch,
    material_id: int,
    amount: tuple[int | None, Basis | None, str],
    movement_id: int | None,
    position: int | None,
) -> Addition:
    """Write one addition: (amount in smallest units, basis, as written) and the movement it came by."""
    assert batch.id is not None
    row = Addition(
        batch_id=batch.id,
        material_id=material_id,
        movement_id=movement_id,
        position=position,
        amount=amount[0],
        basis=amount[1],
        written=amount[2][:200],
        person_id=act.actor.person_id,
        added_at=act.happened_at,
    )
    act.session.add(row)
    act.session.flush()
    return row
