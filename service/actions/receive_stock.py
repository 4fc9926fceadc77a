"""Taking in what comes: a delivery of several alike, or what already stands in the room, one by one.

Each container gets a movement and a code of its own. Something missing never keeps it out; it is said.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime
from typing import Any, Final

from sqlmodel import Session

from service.actions.arrivals import Origin, ReceiveAsked, how_much, received_day
from service.actions.give_codes import Chance
from service.actions.put_in_stock import Arriving, put_in
from service.actions.read_amount import fix_basis
from service.actions.settle import Act, Settled, settle
from service.actions.stands_in import place_for_stock
from service.actions.store_gate import Change, judge_change, owe_move
from service.actions.what_is_coming import HOW_TO_SETTLE, say_orders
from service.core.access import Actor, Permission, may, require
from service.core.costs import judge_price
from service.core.findings import Finding, Invalid, Refused, Severity, Verdict, note, stop, warn
from service.core.material_facts import review
from service.core.shelf_codes import show_code
from service.core.take_in import MOST_AT_ONCE, Arrival, ArrivalDates, judge_dates, what_is_missing
from service.core.written_reason import A_SENTENCE, is_sentence
from service.records.material_queries import facts_of, sheets_of, the_material
from service.records.materials import Material
from service.records.order_queries import open_lines
from service.records.stock import Container

KEEPER_ONLY: Final = "A keeper can take it in over the limit, with a reason, and then owes its move."
WITH_REASON: Final = (
    "If it must come in all the same, say why (over_reason); you then owe its move by the end of the day."
)


def receive(
    session: Session, actor: Actor, now: datetime, asked: ReceiveAsked, chance: Chance, *,
    of_order: bool = False,
) -> Settled:  # fmt: skip
    """Take in one or several containers alike. ``of_order``: the caller ticks them off an ordered line;
    else what is on its way of the material is said, as both would be counted.

    Answers ``containers`` (id, code, shown), ``material``, ``name``, ``place``, ``amount`` (smallest units or
    None), ``basis``, ``missing`` (codes) and findings.

    Raises:
        NotAllowed, NotFound (no such material).
        Invalid: an amount, capacity, date, count, code or place cannot be used; Ambiguous with readings.
        Refused: the material is not stocked, or was retired; or it goes over a storage limit, and no keeper
            takes it in all the same with a reason. What stood in the room already is never refused.
    """
    require(actor, Permission.RECEIVE)
    return settle(session, actor, asked.sent(), now, lambda act: _receive(act, asked, chance, of_order))


def _receive(act: Act, asked: ReceiveAsked, chance: Chance, of_order: bool) -> dict[str, Any]:
    material = the_material(act.session, asked.material_id)
    judge_arrival(act.session, act.day, asked, material)
    each = how_much(act.session, act.actor, material, asked)
    if each.read is not None:
        fix_basis(act.session, material, each.read.basis)
        act.note(*each.read.findings)
    arriving = Arriving(asked, material, each)
    came = put_in(act, [arriving], chance)
    over_a_limit(act, came, asked, material)
    if not of_order:
        act.note(*_on_its_way(act.session, material))
    missing, facts = what_lacks(act.day, arriving, gaps_of(act.session, material))
    act.note(*missing, *([facts] if facts else []))
    return {
        "containers": [{"id": c.id, "code": c.code, "shown": show_code(c.code)} for c in came],
        "material": material.id,
        "name": material.name,
        "place": asked.place_id,
        "amount": each.change,
        "basis": material.basis.value if material.basis else None,
        "missing": sorted(f.code for f in missing),
    }


def _on_its_way(session: Session, material: Material) -> list[Finding]:
    """That an order of the same material is open, which nobody ticked off."""
    lines = open_lines(session, [material.id or 0])
    if not lines:
        return []
    words = (
        f"{say_orders(lines)} of {material.name} is on its way, and this was taken in without it: the plan "
        f"counts only one of both. {HOW_TO_SETTLE}"
    )
    return [warn("order-on-its-way", words, about=material.name)]


def over_a_limit(act: Act, came: list[Container], asked: ReceiveAsked, material: Material) -> None:
    """What a delivery does to the storage limits. Over one, a keeper takes it in with a reason and a duty.

    What stood there already, or is written down late, is recorded and owes its move.

    Raises:
        Refused: it goes over a limit; the findings say which, and where there is room.
        Invalid: the reason is no sentence; `errors` names ``over_reason``.
    """
    verdict = judge_change(act.session, Change(new=frozenset(box.id for box in came if box.id)))
    stops = [one for one in verdict if one.severity is Severity.STOP]
    reason = asked.over_reason.strip()
    if asked.origin is Origin.STOCK_TAKE or act.posting.late or not stops:
        act.note(*verdict)
        if stops:
            said = reason or act.posting.late_reason or "it stood there already"
            owe_move(act, came, material.name, stops, said)
        return
    if not may(act.actor.role, Permission.TAKE_IN_OVER_LIMIT):
        raise Refused(Verdict.of([*verdict, note("keeper-takes-it-in", KEEPER_ONLY)]))
    if not reason:
        raise Refused(Verdict.of([*verdict, note("reason-takes-it-in", WITH_REASON)]))
    if not is_sentence(reason):
        words = f"Say in {A_SENTENCE} why it is taken in over the limit."
        raise Invalid(words, {"over_reason": words})
    act.note(*verdict)
    owe_move(act, came, material.name, stops, reason)


def judge_arrival(session: Session, on: date, asked: ReceiveAsked, material: Material) -> None:
    """Whether it can be taken in on this shop day, its amount aside. Reads only.

    Raises:
        Refused: the material is retired or not stocked. Invalid: `errors` names the fields.
    """
    about = material.name
    if not material.active:
        raise Refused(
            Verdict.of([stop("material-retired", f"{about} was retired. A keeper brings it back.")])
        )
    if material.not_stocked:
        raise Refused(Verdict.of([stop("not-stocked", f"{about} is not stocked here.", about=about)]))
    if not 1 <= asked.count <= MOST_AT_ONCE:
        words = f"Enter a count from 1 to {MOST_AT_ONCE}."
        raise Invalid(words, {"count": words})
    if asked.code and asked.count != 1:
        words = "A label printed ahead goes on one container. Take in one at a time."
        raise Invalid(words, {"code": words})
    place_for_stock(session, asked.place_id)
    if asked.opened_on is not None and not asked.opened:
        words = "A sealed container has no opening day. Say that it came open, or leave this empty."
        raise Invalid(words, {"opened_on": words})
    for name, most in (("supplier", 120), ("lot", 120), ("capacity", 60), ("note", 2000)):
        if len(getattr(asked, name)) > most:
            raise Invalid("Shorten the text.", {name: f"Shorten this to {most} signs."})
    judge_price(asked.price)
    received = received_day(on, asked)
    judge_dates(ArrivalDates(on, asked.packed_on, received, asked.printed_date, asked.opened_on))


@dataclass(frozen=True)
class Gaps:
    """What the book lacks of a material: whether it has a safety data sheet, how many facts are not known."""

    has_sheet: bool
    facts: int


def gaps_of(session: Session, material: Material) -> Gaps:
    """The gaps as they are now."""
    assert material.id is not None
    lacks = [f for f in review(facts_of(session, material)) if f.severity.value == "unknown"]
    return Gaps(bool(sheets_of(session, material.id)), len(lacks))


def what_lacks(on: date, arriving: Arriving, gaps: Gaps) -> tuple[Verdict, Finding | None]:
    """What is not known of what came in, and a remark on the facts of its material."""
    asked, name = arriving.asked, arriving.material.name
    arrival = Arrival(
        name=name,
        packed_known=asked.packed_on is not None,
        received_known=received_day(on, asked) is not None,
        amount_known=arriving.each.change is not None,
        place_known=asked.place_id is not None,
        sheet_came=asked.sheet_came,
        has_sheet=gaps.has_sheet,
        opened=asked.opened,
        opened_known=asked.opened_on is not None,
        condition=asked.condition,
    )
    if not gaps.facts:
        return what_is_missing(arrival), None
    words = f"{gaps.facts} facts of {name} are not known; its page names each and how to mend it."
    return what_is_missing(arrival), note("facts-not-known", words, about=name)
