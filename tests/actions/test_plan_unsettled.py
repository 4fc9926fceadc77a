"""What a plan may not call covered: what comes and nobody knows, what is set aside and will not hold."""

from __future__ import annotations

from datetime import timedelta

import pytest
from sqlmodel import col, delete

from service.records.engine import Database
from service.records.materials import AgeingPolicyRow
from tests.actions.test_plan_tells import said, word
from tests.actions.test_term_plan_stored import Planned, make_planned
from tests.builders import TODAY


@pytest.fixture
def planned(database: Database) -> Planned:
    return make_planned(database)


def wash(planned: Planned, *lines: tuple[str, str], name: str = "Wash") -> int:
    return planned.mix.write(*(lines or (("spirit", "300 ml"),)), name=name)


def test_an_ordered_pack_that_keeps_nobody_knows_how_long_leaves_the_day_not_known(planned: Planned) -> None:
    mix, day = planned.mix, TODAY + timedelta(days=12)
    with mix.database.writing() as session:
        session.execute(delete(AgeingPolicyRow).where(col(AgeingPolicyRow.material_id) == mix.ids["spirit"]))
    job = planned.job(day, recipe_id=wash(planned))
    planned.order(planned.pack("spirit", "1 l", lead_days=2), 1, day - timedelta(days=3))
    assert planned.short("spirit") == {}, "it is not ordered twice"
    assert word(planned, job, day) == "not known"
    assert not planned.look().verdict.complete
    (sentence,) = said(planned, "ordered-life-not-known")
    assert "How long" not in sentence and "how long it keeps is not known" in sentence
