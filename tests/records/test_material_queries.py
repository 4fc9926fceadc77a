"""What every act asks of a material is answered from its own row: sheets and policies change nothing."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.core.material_facts import MaterialFacts, SheetFacts, facts_self_heating, is_keeper_only
from service.core.materials import Form, MaterialKind, SelfHeating, Unknown

CLASSES = st.none() | st.lists(
    st.sampled_from(["Flam. Liq. 2", "Carc. 1B H350", "Repr. 2 H361"]), max_size=2
).map(tuple)
FACTS = st.builds(
    MaterialFacts,
    name=st.just("x"),
    kind=st.sampled_from(MaterialKind),
    form=st.sampled_from(Form),
    binder=st.none() | st.just("shellac"),
    has_drier=st.sampled_from(Unknown),
    self_heating=st.sampled_from(SelfHeating),
    not_self_heating_because=st.just("no oil in it"),
    supplier_classes=CLASSES,
    toxic_metals=st.none() | st.lists(st.sampled_from(["lead", "none"]), max_size=1).map(tuple),
    keeper_only=st.none() | st.booleans(),
)


@pytest.mark.parametrize("judgement", [facts_self_heating, is_keeper_only])
@given(facts=FACTS, whole=st.booleans(), policy=st.booleans())
def test_sheets_and_policies_do_not_decide(judgement, facts, whole, policy) -> None:  # type: ignore[no-untyped-def]
    known = replace(facts, sheet=SheetFacts(date(2026, 1, 1), "us-hcs", whole), has_ageing_policy=policy)
    bare = replace(facts, sheet=None, has_ageing_policy=False)
    assert judgement(known) is judgement(bare)
