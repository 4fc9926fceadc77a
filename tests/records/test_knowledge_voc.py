"""Who exempts what, and the table of VOC limits: read whole, graded, and a broken line is named."""

from __future__ import annotations

import pytest

from service.core.findings import Invalid
from service.core.solvents.voc_rules import Base, Jurisdiction, rows_for
from service.records.knowledge import load_known_materials, load_sources, read_rows
from service.records.knowledge_voc import (
    exempt_list,
    read_exemptions,
    read_limits,
    voc_limits,
)

TERT_BUTYL_ACETATE = "540-88-5"


# 81 FR 9339 (read); SCAQMD page on tert-butyl acetate (read); Canadian definition (read); 40 CFR 51.100(s)
@pytest.mark.parametrize(
    ("law", "cas", "exempt"),
    [
        (Jurisdiction.US_FEDERAL, TERT_BUTYL_ACETATE, True),
        (Jurisdiction.SCAQMD, TERT_BUTYL_ACETATE, False),
        (Jurisdiction.CANADA, TERT_BUTYL_ACETATE, None),
        (Jurisdiction.EU, TERT_BUTYL_ACETATE, None),
        (Jurisdiction.US_FEDERAL, "67-64-1", True),
        (Jurisdiction.SCAQMD, "67-64-1", True),
        (Jurisdiction.CANADA, "67-64-1", True),
        (Jurisdiction.EU, "67-64-1", None),
        (Jurisdiction.OTC, "67-64-1", True),
        (Jurisdiction.US_FEDERAL, "75-09-2", True),
        (Jurisdiction.US_FEDERAL, "127-18-4", True),
        (Jurisdiction.US_FEDERAL, "8006-64-2", False),
        (Jurisdiction.US_FEDERAL, "5989-27-5", False),
        (Jurisdiction.US_FEDERAL, "111-76-2", False),
        (Jurisdiction.US_FEDERAL, "", None),
        (None, "67-64-1", None),
    ],
)
def test_exemption_hangs_on_the_law(law: Jurisdiction | None, cas: str, exempt: bool | None) -> None:
    row = exempt_list(law).of(cas)
    assert (row.exempt if row else None) is exempt


def test_every_solvent_of_the_tables_has_a_row_under_federal_law() -> None:
    listed = exempt_list(Jurisdiction.US_FEDERAL)
    solvents = [m for m in load_known_materials() if m.table == "solvents" and m.key != "water" and m.cas]
    # Denatured alcohol stands under the number of ethanol.
    assert [m.key for m in solvents if listed.of(m.cas[0]) is None] == []
    exempt = {m.key for m in solvents if (row := listed.of(m.cas[0])) and row.exempt}
    assert exempt == {
        "acetone", "butyl_acetate_tert", "methyl_acetate", "dimethyl_carbonate", "propylene_carbonate",
        "chlorobenzotrifluoride_p", "dichloromethane",
    }  # fmt: skip


def test_every_source_resolves_and_memory_says_so() -> None:
    for table in ("voc_exemptions", "voc_limits"):
        for row in read_rows(table):
            keys = [key.strip() for key in row["source"].split(";")]
            assert set(keys) <= load_sources().keys(), row
            assert (row["provenance"] == "memory") == (row["grade"] == "memory"), row


@pytest.mark.parametrize(
    ("column", "value"),
    [
        ("limit_g_l", "about 400"),
        ("limit_g_l", "0"),
        ("limit_g_l", ""),
        ("basis", "perhaps"),
        ("base", "oil"),
        ("in_force", "maybe"),
        ("citation", ""),
        ("source", "NOBODY"),
        ("grade", "S"),
        ("key", "aim-stains-opaque"),
    ],
)
def test_a_line_of_limits_that_cannot_be_read_is_named(column: str, value: str) -> None:
    rows = read_rows("voc_limits")
    rows[3] = {**rows[3], column: value}
    with pytest.raises(ValueError, match=r"voc_limits\.csv line 5"):
        read_limits(rows)


@pytest.mark.parametrize(
    ("column", "value"),
    [("jurisdiction", "moon"), ("cas", "67-64-2"), ("exempt", "perhaps"), ("grade", "S"), ("source", "")],
)
def test_a_line_of_exemptions_that_cannot_be_read_is_named(column: str, value: str) -> None:
    rows = read_rows("voc_exemptions")
    rows[0] = {**rows[0], column: value}
    with pytest.raises(ValueError, match=r"voc_exemptions\.csv line 2"):
        read_exemptions(rows)
    with pytest.raises(ValueError, match="twice"):
        read_exemptions([*read_rows("voc_exemptions"), read_rows("voc_exemptions")[0]])


def test_a_category_is_found_by_its_first_words_in_any_writing() -> None:
    def keys(law: Jurisdiction, category: str, base: Base | None = None) -> list[str]:
        return [row.key for row in rows_for(voc_limits(), law, category, base)]

    assert keys(Jurisdiction.EU, "E", Base.SOLVENT_BORNE) == ["eu-e-sb-ii"]
    assert keys(Jurisdiction.EU, "e_varnishes woodstains") == ["eu-e-wb-ii", "eu-e-sb-ii"]
    assert keys(Jurisdiction.US_FEDERAL, "Stains opaque") == ["aim-stains-opaque", "aim-stains-low-solids"]
    assert keys(Jurisdiction.US_FEDERAL, "wood preservatives") == [
        "aim-wood-preservatives-below-ground",
        "aim-wood-preservatives-clear-semitransparent",
        "aim-wood-preservatives-opaque",
        "aim-wood-preservatives-low-solids",
    ]
    assert keys(Jurisdiction.SCAQMD, "stains") == ["scaqmd-stains", "scaqmd-low-solids"]
    assert keys(Jurisdiction.CANADA, "stains") == []
    assert len(keys(Jurisdiction.EU, "")) == 24
    with pytest.raises(Invalid, match="varnishes"):
        keys(Jurisdiction.US_FEDERAL, "hats")
