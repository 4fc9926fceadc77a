"""What a scale says, turned into an amount of one material: before and after, or gross with a known tare."""

from __future__ import annotations

import re
from dataclasses import dataclass
from decimal import Decimal

from sqlmodel import Session

from service.actions.read_amount import ReadAmount, basis_for, densities_of, remembered_for, shop_system
from service.core.access import Actor
from service.core.bench_writing import Ambiguous, read_written
from service.core.containers import AmountKnown
from service.core.findings import Invalid
from service.core.materials import Basis, Form
from service.core.quantities import Quantity, show_amount, to_basis
from service.core.units import UNITS
from service.records.materials import Material

_BARE = re.compile(r"[0-9.,/ \u00a0\u202f¼½¾]+")


@dataclass(frozen=True)
class Weighing:
    """One reading of a scale in whole mg, as it was written."""

    mg: int
    written: str


def read_weight(session: Session, actor: Actor, material: Material, text: str, field: str) -> Weighing:
    """A weight as written; a bare figure is in grams, as the label of the field says. Nothing weighs zero.

    Raises:
        Ambiguous, Invalid: with `errors` naming ``field``.
    """
    clean = text.strip()
    if not clean:
        raise Invalid("Enter what the scale showed.", {field: "Enter what the scale showed, in grams."})
    asked = f"{clean} g" if _BARE.fullmatch(clean) else clean
    try:
        # An ounce on a scale is an ounce of weight, whatever lies on it.
        written = read_written(
            asked,
            form=Form.SOLID,
            system=shop_system(session),
            remembered=remembered_for(session, actor, material),
        )
        if written.high is None or written.low != written.high or written.high.basis is not Basis.MASS:
            raise Invalid("Enter one weight, such as 412.5 g.")
    except Ambiguous as doubt:
        doubt.errors.setdefault(field, doubt.sentence)
        raise
    except Invalid as wrong:
        wrong.errors.setdefault(field, wrong.sentence)
        raise
    return Weighing(round(written.high.smallest), clean)


def amount_from_mass(material: Material, mg: int, written: str, how: str, field: str) -> ReadAmount:
    """A net mass (mg, not below zero) in the material's basis.

    Raises:
        CannotMeet: a density is missing; it names which and what to do.
    """
    quantity = Quantity(Decimal(mg), UNITS["mg"])
    basis = basis_for(material, quantity)
    if mg == 0:
        return ReadAmount(basis, 0, 0, written, "g", None, how, AmountKnown.MEASURED, ())
    try:
        amount = to_basis(quantity, basis, densities_of(material), form=material.form, name=material.name)
    except Invalid as wrong:
        wrong.errors.setdefault(field, wrong.sentence)
        raise
    known = AmountKnown.MEASURED if amount.low == amount.high else AmountKnown.ESTIMATED
    words = f"{how}; {amount.how}"
    return ReadAmount(basis, amount.low, amount.high, written, "g", amount.density_used, words, known, ())


def taken_between(
    session: Session, actor: Actor, material: Material, before: str, after: str, *, pot: bool
) -> ReadAmount:
    """What was taken, from two weighings: of the container, which gets lighter, or of the pot (heavier).

    Raises:
        Invalid: nothing was taken by these weights, or they read the wrong way round; says so in words.
    """
    first = read_weight(session, actor, material, before, "before")
    second = read_weight(session, actor, material, after, "after")
    gone = second.mg - first.mg if pot else first.mg - second.mg
    if gone <= 0:
        raise Invalid(_wrong_way(gone, pot), {"after": _wrong_way(gone, pot)})
    what = "pot" if pot else "container"
    written = f"{what}: {first.written} before, {second.written} after"
    return amount_from_mass(material, gone, written, f"the {what} was weighed before and after", "after")


def _wrong_way(gone: int, pot: bool) -> str:
    if gone == 0:
        return "The two weights are the same: by them nothing was taken."
    more = show_amount(-gone, Basis.MASS)
    if pot:
        return f"The pot weighs {more} less after than before. Check which weight is which."
    return f"It weighs {more} more after than before. If something went back in, book a return."


def net_now(
    session: Session, actor: Actor, material: Material, gross: str, tare_mg: int | None, field: str = "gross"
) -> ReadAmount:
    """What is in a container now, from its weight with everything on it and its empty weight.

    Raises:
        Invalid: the empty weight is not known, or it weighs less than empty.
    """
    weight = read_weight(session, actor, material, gross, field)
    if tare_mg is None:
        sentence = "What it weighs empty is not written down. Enter it, or weigh before and after."
        raise Invalid(sentence, {"tare": sentence})
    net = weight.mg - tare_mg
    if net < 0:
        less = show_amount(-net, Basis.MASS)
        sentence = f"It weighs {less} less than it does empty. Check the scale and the empty weight."
        raise Invalid(sentence, {field: sentence})
    empty = show_amount(tare_mg, Basis.MASS)
    return amount_from_mass(
        material, net, f"{weight.written} with the container", f"weighed; empty it weighs {empty}", field
    )
