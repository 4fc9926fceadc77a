"""Amounts of a plan stand in the measure in which they were written."""

from __future__ import annotations

from service.core.materials import Basis
from service.records.plans import PlannedJobRow
from service.web.pages.planned_jobs import made_words
from service.web.render import HARD
from service.web.term_view import amount


def job(each: str, amount: int, basis: Basis, heads: int = 5) -> PlannedJobRow:
    return PlannedJobRow(name="class", heads=heads, each_written=each, each_amount=amount, each_basis=basis)


def test_what_is_made_in_all_stands_in_the_measure_of_each() -> None:
    assert made_words(job("1 US gallon", 3_785_412, Basis.VOLUME)).replace(HARD, " ") == "5 US gal"
    assert made_words(job("60 ml", 60_000, Basis.VOLUME, 20)).replace(HARD, " ") == "1.2 l"
    assert made_words(job("100 g", 100_000, Basis.MASS)).replace(HARD, " ") == "500 g"


def test_a_us_measure_is_not_rounded_to_litres() -> None:
    assert amount(18_927_059, Basis.VOLUME).replace(HARD, " ") == "5 US gal"
    assert amount(2_280_404, Basis.VOLUME).replace(HARD, " ") == "2.281 l"
