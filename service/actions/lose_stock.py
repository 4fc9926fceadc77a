"""What went without being used: lost on the way, or thrown away with its destination."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum
from typing import Any, Final

from sqlmodel import Session

from service.actions.container_act import (
    ContainerAsked,
    Opening,
    note_first_opening,
    settle_container_act,
)
from service.actions.count_stock import log_unexplained
from service.actions.drum_entries import drum_that_takes
from service.actions.duties_of_gone import end_with_it
from service.actions.fill_drum import put_loss_or_discard
from service.actions.gate import Taking, check_job, peroxide_stops, take
from service.actions.post_movement import Line, name_of, post
from service.actions.rag_duty import refuse_or_record
from service.actions.read_amount import ReadAmount, fix_basis, read_amount, settled_basis
from service.actions.run_job import job_for_draw
from service.actions.settle import Act, Settled
from service.core.access import Actor, Permission, require
from service.core.containers import AmountKnown, ContainerState
from service.core.findings import Invalid, Verdict, unknown
from service.core.ledger import DESTINATIONS, Destination, MovementKind, OtherSide, fold
from service.core.quantities import show_amount
from service.records.material_queries import counts_self_heating
from service.records.places import Place, PlaceKind
from service.records.stock_queries import Held, lines_of


class LossKind(StrEnum):
    """What became of it."""

    SPILLED = "spilled"
    DRIED_UP = "dried-up"
    STUCK = "stuck"
    OTHER = "other"


LOSS_WORDS: Final[dict[LossKind, str]] = {
    LossKind.SPILLED: "spilled",
    LossKind.DRIED_UP: "dried up in the container",
    LossKind.STUCK: "stuck to the container or the tools",
    LossKind.OTHER: "lost another way",
}
_MAKES_RAGS: Final = frozenset({LossKind.SPILLED, LossKind.STUCK, LossKind.OTHER})
"""What is stuck to tools is wiped off them. What dried up in its container makes no rags, by the word of one
person alone, so the rag log hears of it.
"""


@dataclass(frozen=True, kw_only=True)
class LossAsked(ContainerAsked):
    """A loss. An empty ``amount`` means all that is in it. It has happened: it is never refused for rags."""

    loss: LossKind = LossKind.SPILLED
    amount: str = ""
    note: str = ""
    job_id: int | None = None
    more_than_book: bool = False
    drum_id: int | None = None
    confirmation: str = ""

    def body(self) -> dict[str, Any]:
        return _without_drum(super().body())


def lose(session: Session, actor: Actor, now: datetime, asked: LossAsked) -> Settled:
    """Book a loss. What was spilled of self-heating material was wiped up: its rags join the job's load.

    Raises:
        Invalid: no amount, and nobody knows how much is in it.
        Refused: more was lost than is there.
    """
    require(actor, Permission.LOSS)
    return settle_container_act(
        session, actor, now, asked, "loss", lambda act, held: _lose(act, held, asked), has_happened=True
    )


def _lose(act: Act, held: Held, asked: LossAsked) -> dict[str, Any]:
    if asked.loss is LossKind.OTHER and not asked.note.strip():
        raise Invalid("Say what became of it.", {"note": "Say in a few words what became of it."})
    read = amount_or_all(act, held, asked.amount)
    line = Line(
        MovementKind.LOSS,
        -read.high,
        OtherSide.LOSS,
        known=read.known,
        written=read.written,
        written_unit=read.unit_key,
        density_used=read.density_used,
        how=read.how,
        other_text=LOSS_WORDS[asked.loss],
        reason=asked.note,
    )
    wiped = asked.loss in _MAKES_RAGS
    heats = counts_self_heating(act.session, held.material, held.container)
    job = job_for_draw(act, asked.job_id, needed=heats and wiped)
    taking = Taking(job=job, makes_rags=wiped, more_than_book=asked.more_than_book)
    movement = take(act, held, line, taking)
    put_loss_or_discard(act, asked.drum_id, line, movement, asked.confirmation)
    if heats and not wiped:
        log_unexplained(act, held, movement, read.high, asked.note or LOSS_WORDS[asked.loss])
    return {
        "movement": movement.id,
        "job": job.id if job else None,
        "rag_load": movement.rag_load_id,
        "lost": read.high,
        "lost_words": show_amount(read.high, held.basis),
    }


def amount_or_all(act: Act, held: Held, text: str, field: str = "amount") -> ReadAmount:
    """The amount as written, or all that the book says is in it.

    Raises:
        Invalid: nothing was written and how much is in it is not known.
    """
    if text.strip():
        read = read_amount(act.session, act.actor, held.material, text, field)
        fix_basis(act.session, held.material, read.basis)
        if read.high <= 0:
            raise Invalid("Enter how much.", {field: "Enter how much: more than nothing."})
        act.note(*read.findings)
        return read
    book = fold(lines_of(act.session, held.container_id))
    if book.amount is None or held.material.basis is None:
        sentence = "Nobody knows how much is in it. Enter how much it was, also as “about 200 g”."
        raise Invalid(sentence, {field: sentence})
    if book.amount == 0:
        raise Invalid("The book says nothing is in it.", {field: "The book says nothing is in it."})
    return ReadAmount(held.basis, book.amount, book.amount, "all of it", "", None, "", book.known, ())


@dataclass(frozen=True, kw_only=True)
class DiscardAsked(ContainerAsked):
    """What is thrown away and where it goes. An empty ``amount`` means all of it, with the container."""

    destination: Destination
    amount: str = ""
    place_id: int | None = None
    note: str = ""
    job_id: int | None = None
    drum_id: int | None = None
    confirmation: str = ""

    def body(self) -> dict[str, Any]:
        return _without_drum(super().body())


def _without_drum(body: dict[str, Any]) -> dict[str, Any]:
    """Acts that name no drum keep the hash they had before there were drums: sent again, they are known.

    So do those without a confirmation.
    """
    return {name: value for name, value in body.items() if name not in ("drum_id", "confirmation") or value}


_NO_HAULER: Final = (
    "Nobody is named who took it, and the waste table says so. Write the name of the hauler in the note."
)
_HERE: Final = (Destination.WASTE_DRUM, Destination.RAG_CAN, Destination.DRY_REFUSE)
"""Where somebody of the shop would have to open or carry it."""
_DRUMS: Final[dict[Destination, PlaceKind]] = {
    Destination.WASTE_DRUM: PlaceKind.WASTE_DRUM,
    Destination.RAG_CAN: PlaceKind.RAG_CAN,
}


def discard(session: Session, actor: Actor, now: datetime, asked: DiscardAsked) -> Settled:
    """Throw away. Allowed whatever its standing, and never blocked, except into the rag can: that is a draw.

    Raises:
        Invalid: the place is no drum of that kind.
        Refused: more is thrown away than is there, it is gone already, or the job was not running then.
    """
    require(actor, Permission.DISCARD)
    return settle_container_act(
        session, actor, now, asked, "discard", lambda act, held: _discard(act, held, asked)
    )


def _discard(act: Act, held: Held, asked: DiscardAsked) -> dict[str, Any]:
    where = _where(act, asked)
    if asked.destination in _HERE:
        refuse_or_record(act, Verdict.of(peroxide_stops(act, held)), name_of(held))
    if asked.job_id is not None:
        check_job(act, job_for_draw(act, asked.job_id, needed=False))
    book = fold(lines_of(act.session, held.container_id))
    everything = not asked.amount.strip()
    if everything and (book.amount is None or held.material.basis is None):
        amount, read = 0, _forget_the_rest(act, held)
    elif everything and book.amount == 0:
        amount, read = 0, ReadAmount(
            held.basis, 0, 0, "the empty container", "", None, "", AmountKnown.MEASURED, ()
        )
    else:
        read = amount_or_all(act, held, asked.amount)
        amount = read.high
    if amount and amount != book.amount:
        note_first_opening(act, held, Opening())
    line = Line(
        MovementKind.DISCARD,
        -amount,
        OtherSide.WASTE,
        known=read.known,
        written=read.written,
        written_unit=read.unit_key,
        density_used=read.density_used,
        how=read.how,
        other_text=where,
        destination=asked.destination,
        reason=asked.note,
    )
    if asked.destination is Destination.HAULER and not asked.note.strip():
        act.note(unknown("hauler-not-named", _NO_HAULER, about=name_of(held)))
    heats = counts_self_heating(act.session, held.material, held.container)
    something = amount > 0 or book.amount is None
    if something and heats and asked.destination is Destination.RAG_CAN:
        job = job_for_draw(act, asked.job_id, needed=True)
        movement = take(act, held, line, Taking(job=job))
    else:
        movement = post(act, held, line)
    end_with_it(act, held)
    put_loss_or_discard(act, asked.drum_id, line, movement, asked.confirmation)
    return {
        "movement": movement.id,
        "discarded": amount,
        "discarded_words": read.written if not amount else show_amount(amount, held.basis),
        "where": where,
    }


def _forget_the_rest(act: Act, held: Held) -> ReadAmount:
    """All of an unknown amount is thrown away: from now on nothing is in it, how much went stays unknown."""
    fix_basis(act.session, held.material, settled_basis(held.material))
    if held.container.state is not ContainerState.EMPTY:
        reason = "All of it was thrown away; nobody knew how much it was."
        kind, sure = MovementKind.COUNT_DIFFERENCE, AmountKnown.MEASURED
        post(act, held, Line(kind, None, OtherSide.COUNT, sure, counted=0, reason=reason))
    return ReadAmount(
        held.basis, 0, 0, "all of it, an unknown amount", "", None, "", AmountKnown.MEASURED, ()
    )


def _where(act: Act, asked: DiscardAsked) -> str:
    words = DESTINATIONS[asked.destination]
    if asked.drum_id is not None:
        if asked.destination is not Destination.WASTE_DRUM:
            sentence = "What goes into a drum of the book goes into the waste drum. Choose that, or no drum."
            raise Invalid(sentence, {"drum": sentence})
        return f"{words}: {drum_that_takes(act, asked.drum_id).row.name}"
    if asked.place_id is None:
        return words
    place = act.session.get(Place, asked.place_id)
    wanted = _DRUMS.get(asked.destination)
    if place is None or wanted is None or place.kind is not wanted:
        sentence = "Choose a drum or can of the kind it goes into, or leave the place out."
        raise Invalid(sentence, {"place_id": sentence})
    return f"{words}: {place.name}"
