"""Everything in a rag can in one act: emptied into another can or drum, or the can carried to another place.

Rags of a customer's site come home so: in the can of the van, late written down if need be. Their times are
those of the job they were made in; no act here touches them.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime
from typing import Any

from sqlmodel import Session, col, select

from service.actions.handle_rags import StepAsked, step_one
from service.actions.look_at_cans import look_again, rags_in
from service.actions.note_change import note_change
from service.actions.settle import Act, Sent, Settled, settle
from service.actions.write_rag_log import write_rag_log
from service.core.access import Actor, Permission, require
from service.core.findings import Invalid, NotFound, Refused, Verdict, note, stop
from service.core.materials import Unknown
from service.core.rags import RagEntry, RagStep, Water
from service.records.places import Place, PlaceKind
from service.records.rag_queries import receptacle_of

HOLDERS = frozenset({PlaceKind.RAG_CAN, PlaceKind.WASTE_DRUM, PlaceKind.OUTSIDE_DRUM})


@dataclass(frozen=True)
class EmptyAsked:
    """A can or drum emptied into another one.

    Args:
        water: how far the rags are under water there, as seen; asked of drums.
        mass, collected_on: of an outside drum, if known.
    """

    once: str
    from_id: int
    into_id: int
    water: Water | None = None
    mass: str = ""
    collected_on: date | None = None
    witness: str = ""
    note: str = ""
    happened_at: datetime | None = None
    late_reason: str = ""


@dataclass(frozen=True)
class CarryAsked:
    """A can with what is in it, carried to another place: out of the van into the hall."""

    once: str
    can_id: int
    to_id: int
    note: str = ""
    happened_at: datetime | None = None
    late_reason: str = ""


def empty_can(session: Session, actor: Actor, now: datetime, asked: EmptyAsked) -> Settled:
    """Every load in the can goes into the other one: all of them or none. Answers ``loads``.

    Raises:
        NotAllowed: a student or reader.
        Invalid: no such cans, or the same one twice.
        Refused: nothing is in it, or the rules do not take the other as a can or drum.
    """
    require(actor, Permission.CONTAIN_RAGS)
    if len(asked.mass) > 60:
        raise Invalid("Shorten the mass.", {"mass": "Write the mass in up to 60 signs, like 2 kg."})
    body = {
        "from": asked.from_id, "into": asked.into_id, "water": asked.water.value if asked.water else None,
        "mass": asked.mass, "collected_on": asked.collected_on.isoformat() if asked.collected_on else None,
        "witness": asked.witness, "note": asked.note, "happened_at": _iso(asked.happened_at),
    }  # fmt: skip
    sent = Sent(asked.once, "empty-can", body, asked.happened_at, late_reason=asked.late_reason)
    return settle(session, actor, sent, now, lambda act: _empty(act, asked))


def _iso(at: datetime | None) -> str | None:
    return at.isoformat() if at else None


def _empty(act: Act, asked: EmptyAsked) -> dict[str, Any]:
    if asked.from_id == asked.into_id:
        words = "Choose another can or drum than the one that is emptied."
        raise Invalid(words, {"into": words})
    places = _locked(act, asked.from_id, asked.into_id)
    can, into = places[asked.from_id], places[asked.into_id]
    for place, field in ((can, "can"), (into, "into")):
        if place.kind not in HOLDERS:
            words = f"{place.name} is no can or drum for rags. Choose one from the list."
            raise Invalid(words, {field: words})
    loads = whole_loads(act, can)
    together = f", of loads {', '.join(map(str, sorted(loads)))} together" if len(loads) > 1 else ""
    step = _step_into(into, asked.water)
    said = StepAsked(
        asked.once, tuple(loads), step, into.id, asked.water, witness=asked.witness, note=asked.note,
        mass=f"{asked.mass.strip()}{together}" if asked.mass.strip() else "",
        collected_on=asked.collected_on,
    )  # fmt: skip
    entry = RagEntry(
        act.happened_at, step, receptacle_of(into, asked.water), witness=" ".join(asked.witness.split()),
        note=asked.note.strip(),
    )  # fmt: skip
    _log(act, "can-emptied", None, {
        "can": can.id, "into": into.id, "loads": sorted(loads),
        "what": f"{can.name} emptied into {into.name}, loads {', '.join(map(str, sorted(loads)))}",
        "note": asked.note.strip(),
    })  # fmt: skip
    return {"loads": [step_one(act, load, entry, said, into) for load in sorted(loads)]}


def whole_loads(act: Act, can: Place) -> list[int]:
    """The loads in a can, when each of them lies in it wholly.

    Raises:
        Refused: nothing is in it, or newer rags of a load in it are loose: they would count as gone with it.
    """
    inside = rags_in(act, can)
    if not inside:
        words = f"No rags are in {can.name} by the book. Look, and say of each load where it is."
        raise Refused(Verdict.of([stop("can-empty", words, about=can.name)]))
    loose = [load.judgement.load.name for load, _ in inside if not load.state.contained]
    if loose:
        raise Refused(Verdict.of([
            stop(
                "rags-partly-loose",
                f"Newer rags of {name} are loose by the book. Write down first that they are in the can too, "
                "or that they are loose.",
                about=name,
            )
            for name in loose
        ]))  # fmt: skip
    return [load.load_id for load, _ in inside]


def _step_into(into: Place, water: Water | None) -> RagStep:
    if into.kind is PlaceKind.OUTSIDE_DRUM:
        return RagStep.OUTSIDE_DRUM
    if into.kind is PlaceKind.WASTE_DRUM or water is not None:
        return RagStep.UNDER_WATER
    return RagStep.IN_CAN


def _locked(act: Act, *numbers: int) -> dict[int, Place]:
    query = select(Place).where(col(Place.id).in_(numbers)).order_by(col(Place.id)).with_for_update()
    rows = act.session.exec(query.execution_options(populate_existing=True)).all()
    found = {place.id: place for place in rows if place.id is not None and place.active}
    for number in numbers:
        if number not in found:
            raise NotFound(f"There is no place number {number} in use.")
    return found


def carry_can(session: Session, actor: Actor, now: datetime, asked: CarryAsked) -> Settled:
    """The can stands elsewhere now, with its loads in it. Answers ``can`` and ``loads``.

    How far it is from what burns and what it stands on are not known there until somebody looks.

    Raises:
        NotAllowed: a student or reader.
        Invalid: no rag can, or a place it cannot stand in.
        Refused: it stands there already.
    """
    require(actor, Permission.CONTAIN_RAGS)
    body = {
        "can": asked.can_id, "to": asked.to_id, "note": asked.note, "happened_at": _iso(asked.happened_at)
    }
    sent = Sent(asked.once, "carry-can", body, asked.happened_at, late_reason=asked.late_reason)
    return settle(session, actor, sent, now, lambda act: _carry(act, asked))


def _carry(act: Act, asked: CarryAsked) -> dict[str, Any]:
    places = _locked(act, asked.can_id, asked.to_id)
    can, to = places[asked.can_id], places[asked.to_id]
    if can.kind is not PlaceKind.RAG_CAN:
        words = f"{can.name} is no rag can. Only a rag can is carried with its rags in it."
        raise Invalid(words, {"can": words})
    if to.kind in HOLDERS:
        words = "Choose a room, a vehicle, a kit or another place that a can stands in."
        raise Invalid(words, {"to": words})
    if can.parent_id == to.id:
        words = f"{can.name} stands in {to.name} already."
        raise Refused(Verdict.of([stop("can-is-there", words, about=can.name)]))
    before = act.session.get(Place, can.parent_id) if can.parent_id else None
    said = f"{can.name} carried from {before.name if before else 'no named place'} to {to.name}"
    note_change(
        act.session, act.actor, act.recorded_at, ("place", can.id), "parent", can.parent_id, to.id, said
    )
    can.parent_id, can.distance_mm, can.floor_cannot_burn = to.id, None, Unknown.NOT_KNOWN
    can.version += 1
    act.session.add(can)
    act.session.flush()
    loads = [load.load_id for load, _ in rags_in(act, can)]
    written: list[int | None] = [*loads] if loads else [None]
    for load in written:
        _log(act, "can-carried", load, {"can": can.id, "to": to.id, "what": said, "note": asked.note.strip()})
    look_again(act, can)
    words = f"How far {can.name} stands from what can burn there is not known: measure it and write it down."
    act.note(note("can-place-not-known", words, about=can.name))
    return {"can": can.id, "to": to.id, "loads": loads, "sentence": f"{said}."}


def _log(act: Act, kind: str, load: int | None, data: dict[str, object]) -> None:
    reason = act.posting.late_reason if act.posting.late else ""
    write_rag_log(
        act.session,
        kind=kind,
        load_id=load,
        person_id=act.actor.person_id,
        posting_id=act.posting_id,
        happened_at=act.happened_at,
        recorded_at=act.recorded_at,
        data={**data, "late_reason": reason},
    )
