"""Taking material out of a container and putting what is left over back: by amount or by the scale."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime
from enum import StrEnum
from typing import Any

from sqlmodel import Session, col, select

from service.actions.add_to_batch import running
from service.actions.container_act import (
    ContainerAsked,
    Opening,
    check_opening_day,
    note_first_opening,
    settle_container_act,
)
from service.actions.follow_pourings import follow_pourings
from service.actions.gate import Taking, check_job, peroxide_stops, take
from service.actions.how_it_stands import how_it_stands
from service.actions.look_again import OUT, OUT_OF_ANY, tell_to_look_again
from service.actions.post_movement import Line, Written, name_of, post
from service.actions.rag_duty import refuse_or_record, use_went_on
from service.actions.read_amount import ReadAmount, fix_basis, read_amount
from service.actions.run_job import job_for_draw
from service.actions.settle import Act, Settled
from service.actions.weighings import net_now, taken_between
from service.core.access import Actor, Permission, require
from service.core.containers import AmountKnown
from service.core.findings import Invalid, Refused, Verdict, note, stop, warn
from service.core.ledger import MovementKind, OtherSide, fold
from service.core.quantities import show_amount
from service.records.job_queries import the_job
from service.records.jobs import Job
from service.records.material_queries import counts_self_heating
from service.records.mixing import Batch
from service.records.stock import Movement
from service.records.stock_queries import Held, lines_of


class Measured(StrEnum):
    """How it is known how much was taken or brought back."""

    AMOUNT = "amount"
    CONTAINER = "container"
    GROSS = "gross"
    POT = "pot"


@dataclass(frozen=True, kw_only=True)
class DrawAsked(ContainerAsked):
    """A draw.

    Args:
        amount: as written ("1 1/2 tsp"), for `Measured.AMOUNT`.
        before, after: two weights, of the container or of the pot it goes into; a bare figure is in grams.
        gross: what the container weighs now, with its known empty weight: the rest was drawn.
        looked: the person looked at it now and it is sound; asked where its standing is not known.
        more_than_book: there was more in it than the book says.
        opened_on, opening_not_known: asked once, when the seal breaks; neither: the day of the draw.
    """

    how: Measured = Measured.AMOUNT
    amount: str = ""
    before: str = ""
    after: str = ""
    gross: str = ""
    job_id: int | None = None
    looked: bool = False
    more_than_book: bool = False
    opened_on: date | None = None
    opening_not_known: bool = False


def draw(session: Session, actor: Actor, now: datetime, asked: DrawAsked) -> Settled:
    """Draw from a container for a job; without one, self-heating material opens a shop-work job by itself.

    Raises:
        Invalid, Ambiguous, CannotMeet: the amount cannot be used; `errors` names the field.
        Refused: a rule stops it and it has not happened yet, or more would be taken than is there.
        NotAllowed: a student outside a running job.
    """
    require(actor, Permission.DRAW)
    return settle_container_act(
        session, actor, now, asked, "draw", lambda act, held: _draw(act, held, asked)
    )


def _draw(act: Act, held: Held, asked: DrawAsked) -> dict[str, Any]:
    if asked.how is Measured.GROSS:
        return _draw_down_to(act, held, asked)
    read = _how_much(act, held, asked.how, asked.amount, asked.before, asked.after)
    fix_basis(act.session, held.material, read.basis)
    act.note(*read.findings)
    movement, job = _take(act, held, asked, read, -read.high)
    return _answer(movement, job, drawn=read.high, held=held)


def _take(
    act: Act, held: Held, asked: DrawAsked, read: ReadAmount, change: int | None
) -> tuple[Written, Job | None]:
    heats = counts_self_heating(act.session, held.material, held.container)
    job = job_for_draw(act, asked.job_id, needed=heats)
    check_opening_day(act, asked.opened_on)
    # The gate judges it as it is once the lid is off: an opening day nobody knows asks for a look.
    check_job(act, job)
    note_first_opening(act, held, Opening(asked.opened_on, asked.opening_not_known), job)
    line = Line(
        MovementKind.DRAW,
        change,
        OtherSide.JOB,
        known=AmountKnown.NOT_KNOWN if change is None else read.known,
        written=read.written,
        written_unit=read.unit_key,
        density_used=read.density_used,
        how=read.how,
        other_text=job.name if job else "shop work",
    )
    taking = Taking(job=job, looked=asked.looked, more_than_book=asked.more_than_book)
    return take(act, held, line, taking), job


def _how_much(act: Act, held: Held, how: Measured, amount: str, before: str, after: str) -> ReadAmount:
    if how is Measured.AMOUNT:
        read = read_amount(act.session, act.actor, held.material, amount, "amount")
        if read.high <= 0:
            sentence = "Enter how much: more than nothing."
            raise Invalid(sentence, {"amount": sentence})
        return read
    pot = how is Measured.POT
    return taken_between(act.session, act.actor, held.material, before, after, pot=pot)


def _draw_down_to(act: Act, held: Held, asked: DrawAsked) -> dict[str, Any]:
    """Draw whatever is missing between the book and what the container weighs now."""
    left = net_now(act.session, act.actor, held.material, asked.gross, held.container.tare_mg)
    fix_basis(act.session, held.material, left.basis)
    book = fold(lines_of(act.session, held.container_id))
    if book.amount is None:
        movement, job = _take(act, held, asked, left, None)
        count = Line(
            MovementKind.COUNT_DIFFERENCE,
            None,
            OtherSide.COUNT,
            left.known,
            counted=left.high,
            written=left.written,
            density_used=left.density_used,
            how=left.how,
            reason="Weighed after the draw; what was in it before was not known.",
        )
        post(act, held, count, job=job)
        return _answer(movement, job, drawn=None, held=held)
    gone = book.amount - left.low
    if gone <= 0:
        sentence = (
            f"By this weight {show_amount(left.low, held.basis)} is in it, and the book says "
            f"{show_amount(book.amount, held.basis)}: nothing was drawn. Count it, or weigh before and after."
        )
        raise Invalid(sentence, {"gross": sentence})
    movement, job = _take(act, held, asked, left, -gone)
    return _answer(movement, job, drawn=gone, held=held)


def _answer(movement: Written, job: Job | None, *, drawn: int | None, held: Held) -> dict[str, Any]:
    return {
        "movement": movement.id,
        "job": job.id if job else None,
        "rag_load": movement.rag_load_id,
        "drawn": drawn,
        "drawn_words": show_amount(drawn, held.basis),
    }


@dataclass(frozen=True, kw_only=True)
class ReturnAsked(ContainerAsked):
    """What is put back into the container it came from; as a draw, only that the container gets heavier.

    Args:
        batch_id: the running batch it was drawn for and did not go into; its balance then knows of it.
    """

    how: Measured = Measured.AMOUNT
    amount: str = ""
    before: str = ""
    after: str = ""
    job_id: int | None = None
    batch_id: int | None = None
    note: str = ""

    def body(self) -> dict[str, Any]:
        """As sent; a return of no batch is the same as before there was a field for one."""
        said = super().body()
        return said if self.batch_id is not None else {k: v for k, v in said.items() if k != "batch_id"}


def put_back(session: Session, actor: Actor, now: datetime, asked: ReturnAsked) -> Settled:
    """Return material to its container. Never blocked by rags; the load of its draw stays.

    Raises:
        Refused: more comes back than was drawn, or the container is sealed or gone.
        NotAllowed: a student outside a running job.
    """
    require(actor, Permission.RETURN)
    return settle_container_act(
        session, actor, now, asked, "return", lambda act, held: _put_back(act, held, asked)
    )


def _put_back(act: Act, held: Held, asked: ReturnAsked) -> dict[str, Any]:
    batch = running(act.session, asked.batch_id) if asked.batch_id is not None else None
    job_id = asked.job_id if asked.job_id is not None or batch is None else batch.job_id
    job = the_job(act.session, job_id) if job_id is not None else None
    check_job(act, job)
    refuse_or_record(act, Verdict.of(peroxide_stops(act, held)), name_of(held))
    read = _how_much_back(act, held, asked)
    fix_basis(act.session, held.material, read.basis)
    act.note(*read.findings)
    fits = _no_more_than_drawn(act, held, job, batch, read)
    before = how_it_stands(act, held, act.day)
    movement = post(
        act,
        held,
        Line(
            MovementKind.RETURN,
            read.low,
            OtherSide.BATCH if batch else OtherSide.JOB,
            # More came back than the book says was out: it was wrong somewhere, so a count settles it.
            known=read.known if fits else AmountKnown.NOT_KNOWN,
            written=read.written,
            written_unit=read.unit_key,
            density_used=read.density_used,
            how=read.how,
            other_text=f"batch {batch.id}" if batch else job.name if job else "shop work",
            batch_id=batch.id if batch else None,
            reason=asked.note,
        ),
        job=job,
    )
    tell_to_look_again(act, held, before, OUT if job or batch else OUT_OF_ANY)
    if act.posting.late:
        follow_pourings(act, held, act.happened_at)
    load = None
    if counts_self_heating(act.session, held.material, held.container):
        act.note(note("rags-stay", "What it was used with stays in the rag load of its draw."))
        load = _still_in_use(act, held, job, movement)
    return {
        "movement": movement.id,
        "job": job.id if job else None,
        "rag_load": load,
        "returned": read.low,
        "returned_words": show_amount(read.low, held.basis),
    }


def _still_in_use(act: Act, held: Held, job: Job | None, movement: Written) -> int | None:
    """What comes back was out until now, and what held it is wiped: that joins the load of its job.

    Without a job, that of the newest draw from this container counts while it runs.
    """
    if job is None:
        query = select(Job).join(Movement, col(Movement.job_id) == col(Job.id))
        query = query.where(
            col(Movement.container_id) == held.container_id, col(Movement.kind) == MovementKind.DRAW
        )
        job = act.session.exec(query.order_by(col(Movement.id).desc()).limit(1)).first()
        if job is None or job.closed_at is not None or job.ends_by <= act.happened_at:
            act.note(warn("rags-look", "Wiped anything with it? Put that in the can and record it."))
            return None
    return use_went_on(act, job, f"return {movement.id}", f"{name_of(held)}, put back").id


def _how_much_back(act: Act, held: Held, asked: ReturnAsked) -> ReadAmount:
    if asked.how is Measured.AMOUNT:
        return _how_much(act, held, asked.how, asked.amount, "", "")
    if asked.how is Measured.POT:
        # The pot loses what the container gets: the same sum as a container a draw was weighed from.
        return taken_between(act.session, act.actor, held.material, asked.before, asked.after, pot=False)
    return taken_between(act.session, act.actor, held.material, asked.before, asked.after, pot=True)


def _no_more_than_drawn(
    act: Act, held: Held, job: Job | None, batch: Batch | None, read: ReadAmount
) -> bool:
    """Whether what comes back was drawn before, for the same batch or in the same job if one is named; False
    only for what has happened all the same.
    """
    query = select(Movement).where(
        col(Movement.container_id) == held.container_id,
        col(Movement.kind).in_([MovementKind.DRAW, MovementKind.RETURN]),
    )
    if batch is not None:
        query = query.where(col(Movement.batch_id) == batch.id)
    elif job is not None:
        query = query.where(col(Movement.job_id) == job.id)
    rows = act.session.exec(query).all()
    undone = set(
        act.session.exec(
            select(Movement.reverses_id).where(
                col(Movement.container_id) == held.container_id, col(Movement.reverses_id).is_not(None)
            )
        ).all()
    )
    standing = [row for row in rows if row.id not in undone]
    if any(row.change is None for row in standing):
        return True
    out = -sum(row.change or 0 for row in standing)
    if read.low <= out:
        return True
    where = f"for batch {batch.id}" if batch else f"in {job.name}" if job else "from it"
    drawn = show_amount(max(out, 0), held.basis) if out > 0 else "nothing"
    sentence = f"{drawn[0].upper()}{drawn[1:]} is still out {where}, so {show_amount(read.low, held.basis)} "
    sentence += "cannot come back. Count it if there is more in it than the book says."
    if act.already_done:
        act.note(warn("more-back", f"{sentence} Until then how much is in it is not known."))
        return False
    raise Refused(Verdict.of([stop("more-back", sentence)]))
