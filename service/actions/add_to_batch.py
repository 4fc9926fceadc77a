"""One more addition to a running batch: by a scanned code or the material, and by an amount, the pot on the
scale, all that is left in the container, or not measured.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from typing import Any

from sqlmodel import Session, col, select

from service.actions.check_mix import candidates
from service.actions.container_act import Opening, note_first_opening
from service.actions.found_more import looks_watched
from service.actions.gate import Taking, check_job, take
from service.actions.hold_back import line_to_fill, settle_held_back
from service.actions.judge_never_with import judge_addition
from service.actions.post_movement import Line, Written
from service.actions.read_addition import WentIn, read_addition
from service.actions.read_amount import fix_basis
from service.actions.settle import Act, Sent, Settled, settle
from service.core.access import Actor, Permission, require
from service.core.additions import HowAdded, pot_drift
from service.core.findings import Finding, Invalid, Refused, Stale, Verdict, stop, warn
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
from service.records.mixing_queries import additions_of, the_batch, the_recipe
from service.records.stock_queries import Held, hold, hold_one

STEADY_MG = 2000
"""By how much a pot on a bench scale may differ from its last reading before it is said."""


@dataclass(frozen=True, kw_only=True)
class AddAsked:
    """One addition.

    Args:
        code: the container it comes from; empty = the material's containers in shelf order.
        material_id: needed without a code; alone it is also how tap water goes in.
        how: how it is known how much; ``amount`` is read for `HowAdded.AMOUNT` alone.
        before, after: the pot on the scale, for `HowAdded.POT`; a bare figure is in grams.
        looked: the person looked at it now and it is sound.
        more_than_book: there was more in it than the book says.
        confirmation: how the condition of what is otherwise never mixed is met, in a sentence.
        job_id: another running job than the batch's own (its job may have ended meanwhile).
    """

    once: str
    batch_id: int
    amount: str = ""
    how: HowAdded = HowAdded.AMOUNT
    before: str = ""
    after: str = ""
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
        """What was asked. The way and the pot stand in it only where they say something, so that an addition
        sent before there were ways, and sent again after, is the same.
        """
        way = {"how": self.how.value, "before": self.before, "after": self.after}
        return (way if self.how is not HowAdded.AMOUNT else {}) | {
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
    went_in, held, material = _what(act, batch, asked)
    if not went_in.from_containers:
        judge_addition(act, batch, material, asked.confirmation)
        return _from_tap(act, batch, material, went_in)
    drawn = _from_which(act, batch, held, material, went_in)
    judge_addition(act, batch, material, asked.confirmation, [one.container for one, _ in drawn])
    if batch.job_id is None and job is not None:
        batch.job_id = job.id
    batch.version += 1
    act.session.add(batch)
    rows = [
        (one, amount, *_take(act, batch, one, amount, went_in, asked, job))
        for one, amount in drawn
    ]
    settle_held_back(act.session, batch, material.id or 0)
    return {
        "batch": batch.id,
        "additions": [
            {
                "id": row.id,
                "code": one.container.code,
                "material": one.material.name,
                "amount": amount,
                "basis": one.basis.value,
                "written": row.written,
                "how": went_in.how.value,
                "at_most": row.at_most,
                "movement": movement.id,
                "rag_load": movement.rag_load_id,
            }
            for one, amount, movement, row in rows
        ],
    }


def _what(act: Act, batch: Batch, asked: AddAsked) -> tuple[WentIn, Held | None, Material]:
    """What goes in, from which container (None: the material's, in shelf order)."""
    held: Held | None = None
    if asked.code.strip():
        held = hold_one(act.session, asked.code)
        material = held.material
        if asked.material_id not in (None, held.container.material_id):
            words = f"{show_code(held.container.code)} holds {material.name}, not what you chose."
            raise Invalid(words, {"code": words})
    elif asked.material_id is not None:
        material = the_material(act.session, asked.material_id)
    else:
        words = "Scan the container, or choose the material."
        raise Invalid(words, {"code": words})
    went_in = read_addition(act.session, act.actor, material, held, asked, judged_at=act.judged_at)
    act.note(*went_in.findings)
    if went_in.pot is not None:
        act.note(*_pot_moved(act, batch, went_in.pot[0]))
    return went_in, held, material


def _from_which(
    act: Act, batch: Batch, held: Held | None, material: Material, went_in: WentIn
) -> list[tuple[Held, int | None]]:
    if held is not None:
        return [(held, went_in.amount)]
    return _from_shelf(act, material, went_in, batch)


def _pot_moved(act: Act, batch: Batch, before_mg: int) -> list[Finding]:
    """A pot that weighs otherwise than after the last addition got or lost something nobody wrote down."""
    drift = pot_drift(last_pot(act.session, batch.id or 0), before_mg)
    if abs(drift) < STEADY_MG:
        return []
    by = show_amount(abs(drift), Basis.MASS)
    more, way = ("more", "went in") if drift > 0 else ("less", "came out")
    words = f"The pot weighs {by} {more} than after the last addition. Perhaps something {way} that nobody "
    return [warn("pot-changed", f"{words}wrote down.")]


def last_pot(session: Session, batch_id: int) -> int | None:
    """What the pot weighed (mg) after the newest addition; None where that was not weighed, or taken back."""
    added = additions_of(session, batch_id)
    newest = added[-1] if added else None
    return None if newest is None or newest.reversed else newest.row.pot_after_mg


def _from_shelf(
    act: Act, material: Material, went_in: WentIn, batch: Batch
) -> list[tuple[Held, int | None]]:
    """Which containers it comes from, in shelf order, as the stock check would take it."""
    assert material.id is not None and went_in.amount is not None
    found = candidates(act.session, [material.id], act.judged_on, batch.id)
    need = Need(material.id, material.name, went_in.basis, went_in.low, went_in.amount, went_in.unit_key)
    checked = check([need], [c for c, _ in found], actor_role=act.actor.role, today=act.judged_on)
    if checked.verdict.blocking:
        raise Refused(checked.verdict)
    held = hold(act.session, [one.container_id for one in checked.allocations])
    return [(held[one.container_id], one.amount) for one in checked.allocations]


def _from_tap(act: Act, batch: Batch, material: Material, went_in: WentIn) -> dict[str, Any]:
    assert material.id is not None
    not_oil(act.session, material)
    position = _position(act.session, batch, material.id)
    row = add_row(
        act, batch, material.id, (went_in.amount, went_in.basis, went_in.written), None, position, went_in
    )
    said = {
        "id": row.id,
        "code": None,
        "material": material.name,
        "amount": row.amount,
        "basis": went_in.basis.value,
        "written": went_in.written,
        "how": went_in.how.value,
        "at_most": None,
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
    act: Act, batch: Batch, held: Held, amount: int | None, went_in: WentIn, asked: AddAsked, job: Job | None
) -> tuple[Written, Addition]:
    recipe = the_recipe(act.session, batch.recipe_id)
    fix_basis(act.session, held.material, went_in.basis)
    note_first_opening(act, held, Opening(), job)
    line = Line(
        MovementKind.DRAW,
        None if amount is None else -amount,
        OtherSide.BATCH,
        known=went_in.known,
        written=went_in.written,
        written_unit=went_in.unit_key,
        density_used=went_in.density_used,
        how=went_in.how_words,
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
    with looks_watched(act, held):
        movement = take(act, held, line, taking)
    material_id = held.container.material_id
    whole = went_in.written if amount == went_in.amount else show_amount(amount, held.basis)
    position = _position(act.session, batch, material_id)
    row = add_row(act, batch, material_id, (amount, held.basis, whole), movement.id, position, went_in)
    return movement, row


def _position(session: Session, batch: Batch, material_id: int) -> int | None:
    """The line by hand it is for, else the first with this material; None for something not in the recipe."""
    by_hand = line_to_fill(session, batch, material_id)
    if by_hand is not None:
        return by_hand
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
    went_in: WentIn | None = None,
) -> Addition:
    """Write one addition: (amount in smallest units, basis, as written) and the movement it came by.

    ``went_in`` says how it was measured; without it, an amount was taken at the start.
    """
    assert batch.id is not None
    pot = went_in.pot if went_in is not None else None
    row = Addition(
        batch_id=batch.id,
        material_id=material_id,
        movement_id=movement_id,
        position=position,
        amount=amount[0],
        basis=amount[1],
        written=amount[2][:200],
        how=went_in.how.value if went_in is not None else None,
        at_most=went_in.at_most if went_in is not None else None,
        pot_before_mg=pot[0] if pot else None,
        pot_after_mg=pot[1] if pot else None,
        person_id=act.actor.person_id,
        added_at=act.happened_at,
    )
    act.session.add(row)
    act.session.flush()
    return row
