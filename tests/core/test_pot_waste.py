"""What of a pot became waste: all of one given up, and of a finished one what made nothing."""

from __future__ import annotations

from fractions import Fraction

import pytest

from service.core.materials import Basis
from service.core.pot_waste import (
    MOST_NOTE,
    POT_WENT,
    PotEnd,
    PotPart,
    PotWentTo,
    may_be_more,
    note_of,
    wasted_share,
    went_to_of,
)

OIL = PotPart(1, 8_000, Basis.VOLUME)
UMBER = PotPart(2, 2_000, Basis.MASS, Fraction(2))
POT = [OIL, UMBER]
"""9,000 µl of room; its mass is not known."""


def mix(amount: int | None, basis: Basis = Basis.VOLUME) -> PotPart:
    return PotPart(0, amount, basis)


def note(where: PotWentTo) -> str:
    return note_of("the rest", POT_WENT[where])


@pytest.mark.parametrize("where", list(PotWentTo))
def test_where_it_went_is_told_by_the_end_of_the_note_however_long(where: PotWentTo) -> None:
    for words in ("", "x", "y" * 5_000):
        kept = note_of(words, POT_WENT[where])
        assert len(kept) <= MOST_NOTE and went_to_of(kept) == where


@pytest.mark.parametrize(
    ("end", "share"),
    [
        (PotEnd(given_up=True), Fraction(1)),
        (PotEnd(given_up=False), None),
        (PotEnd(given_up=False, note="poured into the waste drum"), None),
        (PotEnd(given_up=False, note=note(PotWentTo.ON_THE_WORK)), Fraction(0)),
        (PotEnd(given_up=False, made=mix(9_000)), Fraction(0)),
        (PotEnd(given_up=False, made=mix(8_910)), Fraction(0)),
        (PotEnd(given_up=False, made=mix(8_909)), Fraction(91, 9_000)),
        (PotEnd(given_up=False, made=mix(8_910), note="pot"), Fraction(1, 100)),
        (PotEnd(given_up=False, made=mix(9_500)), Fraction(0)),
        (PotEnd(given_up=False, made=mix(None)), None),
        (PotEnd(given_up=False, made=mix(9_000, Basis.MASS)), None),
        (PotEnd(given_up=False, made=mix(4_500), note=note(PotWentTo.EVAPORATED)), Fraction(0)),
        (
            PotEnd(given_up=False, made=mix(4_500), lost=mix(900), note=note(PotWentTo.EVAPORATED)),
            Fraction(4, 10),
        ),
        (PotEnd(given_up=False, made=mix(4_500), lost=mix(900)), Fraction(1, 2)),
        (PotEnd(given_up=False, made=mix(4_500), lost=mix(4_500)), Fraction(1, 2)),
        (PotEnd(given_up=False, made=mix(4_500), lost=mix(9_000)), Fraction(1)),
        (PotEnd(given_up=False, lost=mix(900)), Fraction(1, 10)),
        (PotEnd(given_up=False, lost=mix(900, Basis.MASS)), None),
        (PotEnd(given_up=False, lost=mix(1, Basis.MASS), made=mix(3, Basis.MASS)), Fraction(1, 4)),
    ],
)
def test_the_share_that_became_waste(end: PotEnd, share: Fraction | None) -> None:
    assert wasted_share(POT, end) == share


def test_what_is_in_no_jar_may_be_more_and_went_where_the_rest_is_told_to_have_gone() -> None:
    made, jar, none = mix(9_000), mix(900), mix(0)
    assert may_be_more(PotEnd(given_up=False, made=made, lost=none, jars=(jar,)))
    assert may_be_more(PotEnd(given_up=False, made=made, jars=(mix(900, Basis.MASS),)))
    assert not may_be_more(PotEnd(given_up=False, made=made, jars=(mix(8_910),)))
    drum = note(PotWentTo.WASTE_DRUM)
    assert wasted_share(POT, PotEnd(given_up=False, made=made, note=drum, jars=(jar,))) == Fraction(9, 10)
    assert may_be_more(PotEnd(given_up=False, made=made, note=drum, lost=none, jars=(jar,)))
    assert wasted_share(POT, PotEnd(given_up=False, made=made, note=drum, jars=(mix(None),))) is None


def test_something_of_unknown_amount_leaves_the_share_not_known() -> None:
    assert wasted_share([OIL, mix(None)], PotEnd(given_up=False, lost=mix(900))) is None
