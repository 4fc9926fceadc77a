"""What the tables say of staying in the film: a drier or a cut of shellac is never taken for dry."""

from __future__ import annotations

import pytest

from service.records.solvent_facts import component_of


@pytest.mark.parametrize(
    "key", ["linseed_raw", "linseed_boiled", "tung", "raw_umber", "shellac_dry_waxy", "casein"]
)
def test_oils_and_dry_things_stay(key: str) -> None:
    made = component_of(key)
    assert made is not None and made.volatile is False


@pytest.mark.parametrize(
    "key", ["shellac_cut", "japan_drier", "co_drier", "alkyd_resin", "meko", "pva", "hide_glue_mixed"]
)
def test_what_is_sold_thinned_or_wet_is_not_known(key: str) -> None:
    made = component_of(key)
    assert made is not None and made.volatile is None


@pytest.mark.parametrize("key", ["acetone", "turpentine", "water"])
def test_liquids_with_a_model_evaporate(key: str) -> None:
    made = component_of(key)
    assert made is not None and made.volatile is True
