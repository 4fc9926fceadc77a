"""What the seeded materials are made of: every one has a line, shares add up, and unknown stays unknown."""

from __future__ import annotations

import csv
import doctest
import shutil
from collections import Counter
from decimal import Decimal
from pathlib import Path

import pytest

from service.core.sources import Grade
from service.records import knowledge_compositions
from service.records.knowledge import knowledge_folder, known, load_known_materials, load_sources
from service.records.knowledge_compositions import (
    FILE_NAME,
    Role,
    composition_of,
    compositions,
    read_compositions,
)
from service.records.knowledge_substances import PublishedList, substance_rows

LINES = compositions()
MATERIALS = load_known_materials()
ALL = Decimal(100)
ADDED = (Role.MAIN, Role.PART, Role.IMPURITY)


def test_every_seeded_material_has_lines_and_every_line_a_seeded_material() -> None:
    assert {line.material for line in LINES} == {material.key for material in MATERIALS}
    assert len(MATERIALS) == 164
    assert composition_of("unobtainium") == ()


def test_examples_in_the_docstrings() -> None:
    done = doctest.testmod(knowledge_compositions)
    assert done.attempted >= 1 and done.failed == 0


def test_every_line_has_a_source_that_resolves_and_no_better_grade() -> None:
    sources, ranks = load_sources(), list(Grade)
    for line in LINES:
        assert line.source and set(line.source) <= sources.keys(), line
        assert ranks.index(line.grade) >= max(ranks.index(sources[k].grade) for k in line.source), line


def test_low_ends_that_add_up_stay_within_the_whole() -> None:
    for material in MATERIALS:
        lines = composition_of(material.key)
        assert sum((line.low or Decimal(0) for line in lines if line.role in ADDED), Decimal(0)) <= 100
        roles = Counter(line.role for line in lines)
        assert roles[Role.ONE_OF] != 1, material.key
        assert roles[Role.MAIN] <= 1, material.key
        assert not roles[Role.WITHIN] or roles[Role.MAIN] == 1, material.key


def test_unknown_stays_empty() -> None:
    """Pinned: a share that appears here needs a published figure first."""
    open_lines = [line for line in LINES if line.low is None and line.high is None]
    bound_only = [line for line in LINES if line.low is None and line.high == 100]
    published = [line for line in LINES if line.low is not None and line.role is not Role.WITHIN]
    assert (len(LINES), len(open_lines), len(bound_only)) == (258, 59, 98)
    assert len({line.material for line in published}) == 83
    for line in LINES:
        if line.role is Role.IMPURITY and line.high is not None:
            assert line.grade is not Grade.MEMORY, line


def cas_digit(number: str) -> bool:
    digits = number.replace("-", "")
    return sum(i * int(d) for i, d in enumerate(reversed(digits))) % 10 == int(digits[-1])


# Numbers that suppliers print by mistake and that must never stand in a composition, with the reason.
MISPRINTS = {
    "12069-69-1": "basic copper carbonate, printed on a sheet for green earth",
}


def test_cas_numbers() -> None:
    """The check digit is the CAS registry's own rule: weights 1, 2, 3 from the right, modulo 10."""
    numbers = {line.cas for line in LINES if line.cas}
    assert len(numbers) > 140
    assert [number for number in numbers if not cas_digit(number)] == []
    assert not numbers & MISPRINTS.keys()


def test_a_single_material_is_made_of_what_its_identity_says() -> None:
    """Where one line stands for the whole, its number is one of the material's own."""
    for material in MATERIALS:
        for line in composition_of(material.key):
            whole = line.role in (Role.MAIN, Role.ONE_OF) and line.high == 100
            if whole and line.cas and material.cas:
                assert line.cas in material.cas, (material.key, line.cas)


def test_pure_solvents_are_all_of_themselves() -> None:
    pure = [m for m in MATERIALS if m.table == "solvents" and not m.is_petroleum_cut]
    assert len(pure) == 49
    for material in pure:
        if material.key == "denatured_alcohol":
            continue
        (line,) = composition_of(material.key)
        assert (line.low, line.high, line.cas) == (ALL, ALL, material.cas[0]), material.key


def test_petroleum_cuts_are_judged_by_their_own_flash_point() -> None:
    cuts = {material.key for material in MATERIALS if material.is_petroleum_cut}
    assert {line.material for line in LINES if line.own_flash} == cuts
    assert len(cuts) == 12
    for key in cuts - {"turpentine", "xylenes_mixed"}:
        (cut,) = [line for line in composition_of(key) if line.own_flash]
        (benzene,) = [line for line in composition_of(key) if line.cas == "71-43-2"]
        assert (benzene.low, benzene.high) == (None, None), "no share is published: note P cannot be used"
        listed = [row for row in substance_rows(cut.cas or "") if row.list is PublishedList.EU_ANNEX_VI]
        by_note = all("P" in row.notes for row in listed)  # two of the cuts stand on no list held
        assert benzene.role is (Role.WITHIN if by_note else Role.IMPURITY), key


def test_drying_oils_hold_nothing_else_and_boiled_oil_holds_a_drier() -> None:
    for key in ("linseed_raw", "stand_oil", "tung", "walnut", "poppy", "safflower", "soya"):
        (line,) = composition_of(key)
        assert (line.low, line.high) == (ALL, ALL)
    drier = composition_of("linseed_boiled")[1]
    assert (drier.low, drier.high) == (Decimal(0), Decimal(4))
    assert drier.cas is None and drier.grade is Grade.STANDARD


# Typed from the published words, not from the table: source beside each
@pytest.mark.parametrize(("material", "cas", "low", "high"), [
    ("raw_umber", "14808-60-7", "15", "20"),  # a US umber sheet of 2011
    ("raw_umber", "51274-00-1", "62", "76"),  # the same: goethite
    ("raw_umber", "1313-13-9", "4", "20"),  # 4-8 there, 5-20 in a supplier's note
    ("burnt_umber", "14808-60-7", None, None),
    ("raw_sienna", "51274-00-1", "60", "80"),  # US Bureau of Mines IC 6504
    ("burnt_sienna", "1309-37-1", "25", "75"),  # the same: 25-60 American, 60-75 Italian
    ("indian_red", "1309-37-1", "95.7", "97.8"),  # Gardner 1911, p. 34
    ("venetian", "7778-18-9", "0", "58.6"),  # Gardner 1911
    ("brown_oxide", "1333-86-4", None, "5"),  # ASTM D3724, scope: at most 5.0 %
    ("ivory_black", "7440-44-0", "10", "18"),  # Uebele: 17-18 and 14-15; CAMEO: about 10
    ("graphite", "7782-42-5", "60", "100"),  # Gardner p. 36: up to 40 % foreign matter
    ("chrome_yellow", "7758-97-6", "62", "70"),  # maker's sheet of 1957
    ("molybdate_red", "1313-27-5", "4", "6"),  # Industrial Inorganic Pigments
    ("cr_oxide", "1308-38-9", None, "100"),
    ("shellac_cut", "9000-59-3", "13", "31"),  # 1 to 3 lb cuts
    ("gum_arabic", "7732-18-5", "0", "15"),  # supplier: moisture at most 15 %
    ("diatomite", "14464-46-1", None, None),
])  # fmt: skip
def test_published_shares(material: str, cas: str, low: str | None, high: str | None) -> None:
    (line,) = [line for line in composition_of(material) if line.cas == cas]
    assert line.low == (None if low is None else Decimal(low))
    assert line.high == (None if high is None else Decimal(high))


def test_seeded_figures_and_compositions_do_not_contradict() -> None:
    """The same shares stand in the table of figures; a range here may be wider, never narrower."""
    pairs = [
        ("raw_umber", "quartz_percent", "14808-60-7"),
        ("raw_umber", "manganese_dioxide_percent", "1313-13-9"),
        ("shellac_dry_waxy", "wax_percent", None),
        ("linseed_boiled", "drier_percent", None),
    ]
    for key, prop, cas in pairs:
        material = known(key)
        assert material is not None
        (figure,) = material.figures_of(prop)
        word = prop.removesuffix("_percent").replace("_", " ")
        (line,) = [x for x in composition_of(key) if (x.cas == cas if cas else word in x.substance)]
        assert figure.high is not None and line.high is not None
        assert line.high >= figure.high and (line.low or 0) <= (figure.low or 0)


def test_the_dangerous_pigments_find_their_classes() -> None:
    """From material to number to list: what a shop must be told about."""
    for key, hazard in {
        "lead_white": "Repr. 1A H360Df",
        "red_lead": "Repr. 1A H360Df",
        "chrome_yellow": "Carc. 1B H350",
        "chrome_green": "Carc. 1B H350",
        "molybdate_red": "Carc. 1B H350",
        "zinc_yellow": "Carc. 1A H350",
        "strontium_yellow": "Carc. 1B H350",
        "naples": "Repr. 1A H360Df",
        "cd_yellow": "Carc. 1B H350",
        "emerald_green": "Acute Tox. 3 oral H301",
        "raw_umber": "STOT RE 1 H372",
        "silica": "Carc. 1A H350i",
        "co_drier": "Repr. 1B H360D",
        "zr_drier": "Repr. 1B H360D",
        "meko": "Carc. 1B H350",
        "turpentine": "Asp. Tox. 1 H304",
        "stoddard_solvent": "Carc. 1B H350",
    }.items():
        numbers = {line.cas for line in composition_of(key) if line.cas and line.role is not Role.WITHIN}
        found = {hazard for cas in numbers for row in substance_rows(cas) for hazard in row.classes}
        assert hazard in found, key


def test_the_table_is_read_once() -> None:
    assert compositions() is compositions()


@pytest.mark.parametrize("edit", [
    ("62,76,part", "76,62,part"),
    ("62,76,part", "62,,part"),
    ("62,76,part", "62,176,part"),
    ("62,76,part", "62,76,bit"),
    ("62,76,part", "62,76,not-known"),
    ("62,76,part,,UMBSDS", "62,76,part,,"),
    ("51274-00-1", "51274001"),
    (",main,yes,", ",main,perhaps,"),
    ("quartz,14808-60-7,15,20", "iron oxide hydroxide,51274-00-1,15,20"),
])  # fmt: skip
def test_a_slip_is_named_by_its_line(tmp_path: Path, edit: tuple[str, str]) -> None:
    shutil.copy(knowledge_folder() / FILE_NAME, tmp_path / FILE_NAME)
    text = (tmp_path / FILE_NAME).read_text(encoding="utf-8")
    assert edit[0] in text
    (tmp_path / FILE_NAME).write_text(text.replace(*edit, 1), encoding="utf-8")
    with pytest.raises(ValueError, match=r"compositions[.]csv line \d+"):
        read_compositions(tmp_path)


def test_the_table_on_disk_has_no_line_the_reader_drops() -> None:
    with (knowledge_folder() / FILE_NAME).open(encoding="utf-8", newline="") as handle:
        assert len(list(csv.DictReader(handle))) == len(LINES)
