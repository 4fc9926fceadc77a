"""Odd jobs and packs of a plan: each names its field, on both databases."""

from __future__ import annotations

from datetime import date
from decimal import Decimal
from typing import Any

import pytest

from service.core.findings import Invalid
from service.core.term_dates import Repeat
from service.records.engine import Database
from tests.actions.test_term_plan_stored import Planned, make_planned


@pytest.fixture
def planned(database: Database) -> Planned:
    return make_planned(database)


@pytest.mark.parametrize(
    ("field", "more"),
    [
        ("name", {"name": "  "}),
        ("heads", {"heads": 0}),
        ("heads", {"heads": 10_001}),
        ("spare_percent", {"spare_percent": 501}),
        ("each", {"each": "60"}),
        ("each", {"each": "20 heads x 60 ml"}),
        ("each", {"each": "1 l of the base"}),
        ("first", {"first": date(2026, 8, 1)}),
        ("last", {"repeat": Repeat.WEEKLY, "last": date(2026, 3, 1)}),
        ("every", {"repeat": Repeat.SCHOOL_DAYS, "every": 0}),
    ],
)
def test_an_odd_job_names_its_field(planned: Planned, field: str, more: dict[str, Any]) -> None:
    with pytest.raises(Invalid) as wrong:
        planned.job(**{"first": date(2026, 3, 16)} | more)
    assert field in wrong.value.errors


@pytest.mark.parametrize("amount", ["about 500 ml", "1 to 2 l", "0 ml", "many"])
def test_a_pack_is_exact(planned: Planned, amount: str) -> None:
    with pytest.raises(Invalid) as wrong:
        planned.pack("spirit", amount)
    assert "amount" in wrong.value.errors


def test_at_most_eight_sizes_are_kept(planned: Planned) -> None:
    for n in range(1, 9):
        planned.pack("spirit", f"{n} l")
    with pytest.raises(Invalid, match="At most 8"):
        planned.pack("spirit", "9 l")
    planned.pack("spirit", "8 l", price=Decimal("1"))
