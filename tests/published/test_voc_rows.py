"""The table of VOC limits against a second copy, typed by hand.

The EU's rows from the print of Directive 2004/42/EC Annex II A in ChemVOCFarbV Anhang II; those of the US
federal, OTC and SCAQMD rules from the same memory that the table was written from, and marked so.
"""

from __future__ import annotations

import csv
from collections import Counter
from pathlib import Path

import pytest

from service.records.knowledge_voc import voc_limits

with (Path(__file__).parent / "voc_limit_rows.tsv").open(encoding="utf-8", newline="") as handle:
    ROWS = list(csv.DictReader(handle, delimiter="\t"))


@pytest.mark.parametrize("row", ROWS, ids=lambda r: f"{r['regime']} {r['category']} {r['base']} {r['stage']}")
def test_a_limit_is_the_one_of_the_print(row: dict[str, str]) -> None:
    found = [
        one
        for one in voc_limits()
        if one.regime.value == row["regime"]
        and (one.category == row["category"] or one.category.startswith(f"{row['category']}-"))
        and (one.base.value if one.base else "") == row["base"]
        and (row["regime"] != "eu" or one.stage == row["stage"])
    ]
    exact = [one for one in found if one.category == row["category"]] or found
    assert [(one.limit_g_l, one.basis.value, one.provenance) for one in exact] == [
        (int(row["limit"]), row["basis"], row["read"])
    ]


def test_the_table_is_whole_and_its_older_stage_is_not_in_force() -> None:
    counts = Counter(one.regime.value for one in voc_limits())
    assert counts == {"us-federal": 13, "otc": 5, "scaqmd": 7, "eu": 48}
    for one in voc_limits():
        assert one.in_force == (one.stage != "I"), one.key
        assert (one.grade == "memory") == (one.provenance == "memory") == (one.regime.value != "eu"), one.key
    assert len(ROWS) >= 50
