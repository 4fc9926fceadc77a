"""The table of recurring checks: what the reference says of intervals, and rows that cannot be read."""

from __future__ import annotations

import pytest

from service.core.recurring_checks import HOUSE_POLICY, Counted, Interval, Unit
from service.core.sources import Provenance
from service.records.knowledge import read_rows
from service.records.knowledge_checks import TABLE, known_checks, read_checks

# Typed by hand: what a rule says, and on whose word.
LAW = {
    "extinguisher-look": (Interval(Unit.MONTH), "29 CFR 1910.157(e)(2)", Provenance.MEMORY),
    "extinguisher-service": (
        Interval(Unit.YEAR, 1, Counted.FROM_LAST), "29 CFR 1910.157(e)(3)", Provenance.MEMORY,
    ),
    "waste-area": (Interval(Unit.WEEK), "40 CFR 262.16, 262.17", Provenance.MEMORY),
    "extraction-test": (
        Interval(Unit.MONTH, 14, Counted.FROM_LAST), "COSHH regulation 9 (United Kingdom)", Provenance.MEMORY,
    ),
}  # fmt: skip
WEEKLY = {"rag-can-lids", "waste-area", "extraction-look", "spray-filters", "eyewash"}


def test_a_law_is_named_only_where_the_reference_names_one() -> None:
    known = known_checks()
    assert {key for key, one in known.items() if one.basis == "law"} == LAW.keys()
    for key, said in LAW.items():
        assert (known[key].interval, known[key].citation, known[key].grade) == said
    for one in known.values():
        assert one.citation.startswith(HOUSE_POLICY) == (one.basis == "policy")
        assert one.basis == "policy" or one.grade is not Provenance.DERIVED
    assert {key for key, one in known.items() if one.interval.unit is Unit.WEEK} == WEEKLY


@pytest.mark.parametrize(
    ("column", "value", "said"),
    [
        ("unit", "fortnight", "fortnight"), ("times", "0", "1 to 60"), ("times", "2", "one day"),
        ("counted", "never", "never"), ("basis", "custom", "neither law"), ("what", "", "must stand"),
        ("citation", "house policy", "a law does not"), ("grade", "sure", "sure"),
    ],
)  # fmt: skip
def test_a_row_that_cannot_be_read_is_named(column: str, value: str, said: str) -> None:
    first = read_rows(TABLE)[0] | {column: value}
    with pytest.raises(ValueError, match=f"line 2: .*{said}"):
        read_checks([first])
    with pytest.raises(ValueError, match="twice"):
        read_checks(read_rows(TABLE)[:1] * 2)
