"""The table of substances against a second copy of some rows, written by hand from the lists.

``substance_rows.tsv`` was typed from the wording of each list (Annex VI, the Australian list, the Japanese
government list), not from the seeded table: ``Acute toxicity (Inhalation: Vapours): Category 3`` there is
``Acute Tox. 3 vapour H331`` here. Order does not matter, nothing may be missing or added.
"""

from __future__ import annotations

import csv
from decimal import Decimal
from pathlib import Path

import pytest

from service.records.knowledge_hazards import statement_text
from service.records.knowledge_substances import Listing, OwnLimit, SubstanceRow, substance_rows

HERE = Path(__file__).parent


def sample() -> list[dict[str, str]]:
    with (HERE / "substance_rows.tsv").open(encoding="utf-8", newline="") as handle:
        return list(csv.DictReader(handle, delimiter="\t"))


def one(cas: str, which: str, edition: str) -> SubstanceRow:
    (row,) = [r for r in substance_rows(cas) if r.list.value == which and r.edition == edition]
    return row


def test_the_sample_is_large_enough_and_touches_every_list() -> None:
    rows = sample()
    assert len(rows) >= 40
    assert {row["list"] for row in rows} == {"eu-annex-vi", "au-hcis", "jp-nite", "no-list"}


@pytest.mark.parametrize("row", sample(), ids=lambda row: f"{row['cas']} {row['list']} {row['edition']}")
def test_classes_are_those_of_the_list(row: dict[str, str]) -> None:
    found = one(row["cas"], row["list"], row["edition"])
    assert sorted(found.classes) == sorted(part for part in row["classes"].split("; ") if part)


def limits(cas: str) -> set[tuple[str, str, str | None]]:
    def told(limit: OwnLimit) -> tuple[str, str, str | None]:
        return limit.hazard, str(limit.at_least), None if limit.below is None else str(limit.below)

    return {told(x) for r in substance_rows(cas) if r.list.value == "eu-annex-vi" for x in r.limits}


# Annex VI Part 3 Table 3 to Regulation (EC) 1272/2008, column of specific limits, 17th adaptation
@pytest.mark.parametrize(("cas", "wanted"), [
    ("67-56-1", {("STOT SE 1 H370", "10", None), ("STOT SE 2 H371", "3", "10")}),
    ("110-54-3", {("STOT RE 2 H373", "5", None)}),
    ("1319-46-6", {("Repr. 2 H361f", "2.5", None), ("STOT RE 2 H373", "0.5", None)}),
    ("1306-23-6", {("STOT RE 1 H372", "10", None), ("STOT RE 2 H373", "0.1", "10")}),
    ("10124-43-3", {("Carc. 1B H350i", "0.01", None)}),  # printed as ",01"
    ("1336-21-6", {("STOT SE 3 H335", "5", None)}),
    ("1310-73-2", {
        ("Skin Corr. 1A H314", "5", None), ("Skin Corr. 1B H314", "2", "5"),
        ("Skin Irrit. 2 H315", "0.5", "2"), ("Eye Irrit. 2 H319", "0.5", "2"),
    }),
    ("7722-84-1", {
        ("Ox. Liq. 1 H271", "70", None), ("Ox. Liq. 2 H272", "50", "70"),
        ("Skin Corr. 1A H314", "70", None), ("Skin Corr. 1B H314", "50", "70"),
        ("Skin Irrit. 2 H315", "35", "50"), ("Eye Dam. 1 H318", "8", "50"),
        ("Eye Irrit. 2 H319", "5", "8"), ("STOT SE 3 H335", "35", None),
    }),
    ("7697-37-2", {
        ("Ox. Liq. 2 H272", "99", None), ("Ox. Liq. 3 H272", "70", "99"), ("Ox. Liq. 3 H272", "65", None),
        ("Skin Corr. 1A H314", "20", None), ("Skin Corr. 1B H314", "5", "20"),
    }),
    ("50-00-0", {
        ("STOT SE 3 H335", "5", None), ("Skin Corr. 1B H314", "25", None),
        ("Skin Irrit. 2 H315", "5", "25"), ("Eye Irrit. 2 H319", "5", "25"),
        ("Skin Sens. 1 H317", "0.2", None),
    }),
    ("64-17-5", set()),
])  # fmt: skip
def test_specific_limits(cas: str, wanted: set[tuple[str, str, str | None]]) -> None:
    assert limits(cas) == wanted


@pytest.mark.parametrize(("cas", "which", "ate", "m_acute", "m_chronic"), [
    ("108-10-1", "eu-annex-vi", {"vapour": "11"}, None, None),
    ("111-76-2", "eu-annex-vi", {"oral": "1200"}, None, None),
    ("96-29-7", "eu-annex-vi", {"oral": "100", "dermal": "1100"}, None, None),
    ("96-29-7", "au-hcis", {"dermal": "1100"}, None, None),
    ("5989-27-5", "eu-annex-vi", {}, 1, None),
    ("10124-43-3", "eu-annex-vi", {}, 10, 10),
    ("1307-96-6", "au-hcis", {}, 10, None),
])  # fmt: skip
def test_estimates_and_factors(
    cas: str, which: str, ate: dict[str, str], m_acute: int | None, m_chronic: int | None
) -> None:
    (row,) = [r for r in substance_rows(cas) if r.list.value == which and r.status is Listing.CLASSIFIED]
    assert {route: str(figure) for route, figure in row.ate} == ate
    assert (row.m_acute, row.m_chronic) == (m_acute, m_chronic)


# Standard atomic weights, from memory (abridged IUPAC values); the formulas are the compounds' own
@pytest.mark.parametrize(("cas", "metal", "whole"), [
    ("7758-97-6", 207.2, 207.2 + 51.996 + 4 * 15.999),  # PbCrO4
    ("1319-46-6", 3 * 207.2, 3 * 207.2 + 2 * 12.011 + 8 * 15.999 + 2 * 1.008),  # 2PbCO3.Pb(OH)2
    ("598-63-0", 207.2, 207.2 + 12.011 + 3 * 15.999),  # PbCO3
    ("1314-41-6", 3 * 207.2, 3 * 207.2 + 4 * 15.999),  # Pb3O4
    ("1317-36-8", 207.2, 207.2 + 15.999),  # PbO
    ("1306-23-6", 112.414, 112.414 + 32.06),  # CdS
    ("10124-43-3", 58.933, 58.933 + 32.06 + 4 * 15.999),  # CoSO4
    ("513-79-1", 58.933, 58.933 + 12.011 + 3 * 15.999),  # CoCO3
    ("71-48-7", 58.933, 58.933 + 4 * 12.011 + 6 * 1.008 + 4 * 15.999),  # Co(CH3COO)2
    ("1344-37-2", 207.2, 207.2 + 32.06 + 4 * 15.999),  # PbSO4: the richest in lead of the two
    ("12656-85-8", 207.2, 207.2 + 32.06 + 4 * 15.999),
])  # fmt: skip
def test_metal_fractions_follow_from_the_formula(cas: str, metal: float, whole: float) -> None:
    (fraction,) = {r.metal_fraction for r in substance_rows(cas) if r.metal_fraction is not None}
    assert isinstance(fraction, Decimal)
    assert float(fraction) == pytest.approx(metal / whole, abs=0.0001)


# Annex III to Regulation (EC) 1272/2008, and UN GHS for H227 and H303
@pytest.mark.parametrize(("code", "text"), [
    ("H225", "Highly flammable liquid and vapour"),
    ("H226", "Flammable liquid and vapour"),
    ("H227", "Combustible liquid"),
    ("H251", "Self-heating; may catch fire"),
    ("H303", "May be harmful if swallowed"),
    ("H304", "May be fatal if swallowed and enters airways"),
    ("H314", "Causes severe skin burns and eye damage"),
    ("H317", "May cause an allergic skin reaction"),
    ("H318", "Causes serious eye damage"),
    ("H334", "May cause allergy or asthma symptoms or breathing difficulties if inhaled"),
    ("H336", "May cause drowsiness or dizziness"),
    ("H350i", "May cause cancer by inhalation"),
    ("H360Df", "May damage the unborn child. Suspected of damaging fertility"),
    ("H410", "Very toxic to aquatic life with long lasting effects"),
    ("H412", "Harmful to aquatic life with long lasting effects"),
    ("EUH066", "Repeated exposure may cause skin dryness or cracking"),
    ("P102", "Keep out of reach of children."),
    ("P233", "Keep container tightly closed."),
    ("P331", "Do NOT induce vomiting."),
    ("P501", "Dispose of contents/container to ..."),
])  # fmt: skip
def test_wording_of_statements(code: str, text: str) -> None:
    assert statement_text(code) == text
