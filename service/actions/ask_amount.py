"""What a planned job makes on one day, asked about where it is more than a shop mixes."""

from __future__ import annotations

from fractions import Fraction

from sqlmodel import Session

from service.actions.planned_amount import Each
from service.core.findings import Invalid
from service.core.materials import Basis
from service.core.plan_needs import MUCH
from service.core.quantities import LARGEST
from service.core.shown_alike import one_unit, shown_alike
from service.records.mixing import RecipeVersion
from service.records.mixing_queries import lines_of


def judge_amount(
    session: Session, version: RecipeVersion, heads: int, spare_percent: int, each: Each, *, meant: bool
) -> None:
    """Ask about an amount beyond `MUCH`; once it is ``meant`` only what the book cannot hold is refused.

    Raises:
        Invalid: (``each``) more than the book can hold; (``meant``) nobody said that so much is meant.
    """
    factor = heads * (1 + Fraction(spare_percent, 100))
    for basis, amount in _made(session, version, each, factor):
        if amount > LARGEST:
            words = "That is more in all than the book can keep. Plan less for each, or for fewer people."
            raise Invalid(words, {"each": words})
        if amount > MUCH[basis] and not meant:
            much = shown_alike(round(amount), basis, one_unit((), basis, [round(amount)]))
            words = (
                f"That comes to {much} on one day. Is that meant? Say that it is, or put right how much each "
                "gets or for how many people."
            )
            raise Invalid(words, {"meant": words})


def _made(
    session: Session, version: RecipeVersion, each: Each, factor: Fraction
) -> list[tuple[Basis, Fraction]]:
    """What is made in all; of times of a recipe that does not say what it makes, what goes into it."""
    if each.amount is not None and each.basis is not None:
        return [(each.basis, each.amount * factor)]
    times = Fraction(each.times or 0) * factor
    if version.makes_amount is not None and version.makes_basis is not None:
        return [(version.makes_basis, version.makes_amount * times)]
    sums: dict[Basis, int] = {}
    for line, _ in lines_of(session, version.id or 0):
        if line.basis is not None and line.high is not None:
            sums[line.basis] = sums.get(line.basis, 0) + line.high
    return [(basis, amount * times) for basis, amount in sums.items()]
