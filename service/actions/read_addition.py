"""How much one addition is, by whichever way it is known; reads only, so that it also answers "what if"."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal
from typing import Protocol

from sqlmodel import Session

from service.actions.read_amount import ReadAmount, read_amount, settled_basis
from service.actions.weighings import read_weight, taken_between
from service.core.access import Actor
from service.core.additions import HOW_WORDS, HowAdded
from service.core.containers import AmountKnown
from service.core.findings import Finding, Invalid, unknown
from service.core.ledger import counted_since, fold
from service.core.materials import Basis
from service.core.quantities import show_amount, show_estimate
from service.core.shelf_codes import show_code
from service.records.materials import Material
from service.records.stock_queries import Held, lines_of


class HowMuch(Protocol):
    """What an addition says of its amount."""

    @property
    def how(self) -> HowAdded: ...
    @property
    def amount(self) -> str: ...
    @property
    def before(self) -> str: ...
    @property
    def after(self) -> str: ...


@dataclass(frozen=True, kw_only=True)
class WentIn:
    """One addition as read, in whole smallest units of ``basis``.

    Args:
        amount: the upper end of what was written; None = not measured.
        at_most: where it was not measured, what the book says was in the container; None = not known either.
        pot: the pot before and after in mg.
        from_containers: False for what has none, such as tap water.
    """

    how: HowAdded
    basis: Basis
    low: int
    amount: int | None
    written: str
    known: AmountKnown
    from_containers: bool
    at_most: int | None = None
    pot: tuple[int, int] | None = None
    unit_key: str = ""
    density_used: Decimal | None = None
    how_words: str = ""
    findings: tuple[Finding, ...] = ()


def read_addition(
    session: Session,
    actor: Actor,
    material: Material,
    held: Held | None,
    asked: HowMuch,
    *,
    judged_at: datetime,
) -> WentIn:
    """How much goes in.

    Args:
        held: the container it comes from; None: the material's in shelf order, or the tap.
        judged_at: a count made after that time says nothing of what was in it then.

    Raises:
        Ambiguous, CannotMeet, Invalid: `errors` names ``amount``, ``before``, ``after``, ``code`` or ``how``.
    """
    if asked.how is HowAdded.TAKEN_BACK:
        raise Invalid("Choose how it was measured.", {"how": "Choose how it was measured."})
    if asked.how is HowAdded.CONTAINER:
        return _all_of_it(session, held)
    if asked.how is HowAdded.NOT_MEASURED:
        return _not_measured(session, material, held, judged_at)
    pot = None
    if asked.how is HowAdded.POT:
        read = taken_between(session, actor, material, asked.before, asked.after, pot=True)
        weights = [
            read_weight(session, actor, material, text, field).mg
            for text, field in ((asked.before, "before"), (asked.after, "after"))
        ]
        pot = weights[0], weights[1]
    else:
        read = read_amount(session, actor, material, asked.amount)
        if read.is_range:
            words = "Write one amount, as it was put in. Where nobody knows it, choose “not measured”."
            raise Invalid(words, {"amount": words})
    if read.high <= 0:
        words = "Enter how much you put in: more than nothing."
        raise Invalid(words, {"after" if pot else "amount": words})
    return _measured(read, asked.how, pot, from_containers=held is not None or not material.not_stocked)


def _measured(
    read: ReadAmount, how: HowAdded, pot: tuple[int, int] | None, *, from_containers: bool
) -> WentIn:
    return WentIn(
        how=how,
        basis=read.basis,
        low=read.low,
        amount=read.high,
        written=read.written,
        known=read.known,
        from_containers=from_containers,
        pot=pot,
        unit_key=read.unit_key,
        density_used=read.density_used,
        how_words=read.how,
        findings=read.findings,
    )


def _all_of_it(session: Session, held: Held | None) -> WentIn:
    if held is None:
        words = "Scan the container that went in whole."
        raise Invalid(words, {"code": words})
    balance = fold(lines_of(session, held.container_id))
    shown = show_code(held.container.code)
    if balance.amount is None:
        words = f"How much is in {shown} is not known, so all of it is no amount. Weigh it, or put it in as "
        words += "not measured."
        raise Invalid(words, {"how": words})
    if balance.amount == 0:
        words = f"By the book nothing is left in {shown}. Count it, or put it in as not measured."
        raise Invalid(words, {"how": words})
    return WentIn(
        how=HowAdded.CONTAINER,
        basis=held.basis,
        low=balance.amount,
        amount=balance.amount,
        written=_said(balance.amount, held.basis, balance.known),
        known=balance.known,
        from_containers=True,
        how_words=HOW_WORDS[HowAdded.CONTAINER],
    )


def _said(amount: int, basis: Basis, known: AmountKnown) -> str:
    return show_estimate(amount, basis) if known is AmountKnown.ESTIMATED else show_amount(amount, basis)


def _not_measured(
    session: Session, material: Material, held: Held | None, judged_at: datetime
) -> WentIn:
    if held is None and not material.not_stocked:
        words = "Scan the container it came from: it owes a count afterwards."
        raise Invalid(words, {"code": words})
    most: int | None = None
    if held is not None:
        lines = lines_of(session, held.container_id)
        # A count made since the act says what is there now, not what had been there to go in.
        most = fold(lines).amount if counted_since(lines, judged_at) is None else None
    name = material.name
    return WentIn(
        how=HowAdded.NOT_MEASURED,
        basis=settled_basis(material),
        low=0,
        amount=None,
        written=HOW_WORDS[HowAdded.NOT_MEASURED],
        known=AmountKnown.NOT_KNOWN,
        from_containers=held is not None,
        at_most=most,
        how_words=HOW_WORDS[HowAdded.NOT_MEASURED],
        findings=(_owes(held, name),) if held is not None else (),
    )


def _owes(held: Held, name: str) -> Finding:
    shown = show_code(held.container.code)
    words = f"How much {name} went in is not known. Count what is left in {shown}: that settles it."
    return unknown("owes-a-count", words, about=shown)
