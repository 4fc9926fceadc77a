"""The table of substances: whole, sourced, every code with its words, and silent where nothing is known."""

from __future__ import annotations

import doctest
import re
import shutil
from collections import Counter
from datetime import date
from pathlib import Path

import pytest

from service.core.sources import Grade, Provenance
from service.records import knowledge_substances
from service.records.knowledge import knowledge_folder, load_sources
from service.records.knowledge_hazards import hazard_statements, statement_text, statements_of
from service.records.knowledge_substances import (
    FILE_NAME,
    Listing,
    PublishedList,
    read_substances,
    substance_hazards,
    substance_rows,
    substances_named,
)

ROWS = substance_hazards()
CODE = re.compile(r"\bH\d{3}[A-Za-z]{0,2}")
ROUTE = {
    "oral": {"H300", "H301", "H302"},
    "dermal": {"H310", "H311", "H312"},
    "breathed": {"H330", "H331", "H332"},
}


def test_row_counts() -> None:
    assert len(ROWS) == 275
    assert Counter(row.list for row in ROWS) == {
        PublishedList.EU_ANNEX_VI: 91,
        PublishedList.AU_HCIS: 88,
        PublishedList.JP_NITE: 82,
        PublishedList.NO_LIST: 11,
        PublishedList.REACH_REGISTRATION: 3,
    }
    assert Counter(row.status for row in ROWS) == {
        Listing.CLASSIFIED: 242,
        Listing.GROUP_ENTRY: 18,
        Listing.NOT_LISTED: 11,
        Listing.NO_CLASS: 2,
        Listing.ANNULLED: 2,
    }


def test_examples_in_the_docstrings() -> None:
    done = doctest.testmod(knowledge_substances)
    assert done.attempted >= 2 and done.failed == 0


def test_every_row_has_a_source_that_resolves_and_no_better_grade() -> None:
    sources, ranks = load_sources(), list(Grade)
    for row in ROWS:
        assert row.source and set(row.source) <= sources.keys(), row.key
        assert ranks.index(row.grade) >= max(ranks.index(sources[k].grade) for k in row.source), row.key
        assert (row.provenance is Provenance.MEMORY) == (row.grade is Grade.MEMORY), row.key


def test_later_changes_and_list_numbers_stay_memory() -> None:
    memory = {(row.key, row.list.value) for row in ROWS if row.grade is Grade.MEMORY}
    assert len(memory) == 5
    assert {("cumene", "eu-annex-vi"), ("ethylhexanoates", "eu-annex-vi")} <= memory
    assert Counter(which for _, which in memory) == {"eu-annex-vi": 2, "reach-registration": 3}


def test_every_class_has_a_code_with_words_and_the_code_is_that_of_its_class() -> None:
    codes = {statement.code for statement in hazard_statements()}
    looked = 0
    for row in ROWS:
        for hazard in [*row.classes, *row.once_classes, *(limit.hazard for limit in row.limits)]:
            (code,) = CODE.findall(hazard)
            assert code in codes, (row.key, hazard)
            bare = hazard.split(f" {code}")[0]
            if bare.startswith("Carc. 2 inhalation"):
                bare = "Carc. 2"
            assert code in {s.code for s in statements_of(bare)}, (row.key, hazard)
            looked += 1
    assert looked > 1200


def test_the_route_of_acute_toxicity_is_that_of_its_code() -> None:
    for row in ROWS:
        for hazard in row.classes:
            if hazard.startswith("Acute Tox."):
                _, _, category, route, code = hazard.split(" ")
                assert code in ROUTE.get(route, ROUTE["breathed"]), (row.key, hazard)
                assert statement_text(code), (row.key, category)


def test_supplemental_codes_have_words() -> None:
    """Australia's AUH codes repeat the EU's numbers; we hold the words of the EU's."""
    found = {code for row in ROWS for code in row.supplemental}
    assert found == {"EUH066", "EUH071", "AUH066", "AUH071"}
    for row in ROWS:
        assert len(row.supplements) == len(row.supplemental)
        assert all(code.startswith("EUH") and statement_text(code) for code in row.supplements), row.key


def test_phrases_that_could_not_be_read_are_few_and_known() -> None:
    unread = {(row.cas, row.list.value): row.unread for row in ROWS if row.unread}
    assert unread == {
        ("1333-86-4", "jp-nite"): (
            "Self-heating substances and mixtures: Category 1-2 (Materials of animal or vegetable origin), "
            "Classification not possible (Other than materials of animal or vegetable origin)",
        )
    }


def test_empty_classes_say_why() -> None:
    for row in ROWS:
        if not row.classes:
            assert row.status in (Listing.NO_CLASS, Listing.NOT_LISTED, Listing.ANNULLED), row.key
    assert {row.list for row in ROWS if row.status is Listing.NOT_LISTED} == {PublishedList.NO_LIST}
    assert {row.cas for row in ROWS if row.status is Listing.NO_CLASS} == {"147-14-8", "1328-53-6"}


def test_the_annulled_class_of_titanium_dioxide_is_kept_but_not_applied() -> None:
    rows = [row for row in substance_rows("13463-67-7") if row.list is PublishedList.EU_ANNEX_VI]
    assert len(rows) == 2
    for row in rows:
        assert row.status is Listing.ANNULLED and row.classes == ()
        assert row.once_classes == ("Carc. 2 inhalation H351",)
        assert row.valid_until == date(2025, 8, 1)
    assert {r.key for r in ROWS if r.valid_until or r.once_classes} == {"titanium_dioxide"}
    (japan,) = [row for row in substance_rows("13463-67-7") if row.list is PublishedList.JP_NITE]
    assert "Carc. 2 H351" in japan.classes


def cas_digit(number: str) -> bool:
    digits = number.replace("-", "")
    return sum(i * int(d) for i, d in enumerate(reversed(digits))) % 10 == int(digits[-1])


def test_cas_numbers() -> None:
    """The check digit is the CAS registry's own rule. No number of this table needs an excuse."""
    numbers = {row.cas for row in ROWS if row.cas} | {cas for row in ROWS for cas in row.covers}
    assert len(numbers) > 110
    assert [number for number in numbers if not cas_digit(number)] == []
    assert not cas_digit("8052-41-2")
    keys: dict[str, set[str]] = {}
    for row in ROWS:
        if row.cas:
            keys.setdefault(row.key, set()).add(row.cas)
    assert {key: several for key, several in keys.items() if len(several) > 1} == {}


def test_a_group_entry_answers_for_what_it_covers() -> None:
    def classes(cas: str) -> set[str]:
        return {hazard for row in substance_rows(cas) for hazard in row.classes}

    assert classes("22464-99-9") == {"Repr. 1B H360D"}, "not on any list by its own number"
    assert "Repr. 1B H360D" in classes("136-52-7")
    assert "Repr. 1A H360Df" in classes("8012-00-8")
    assert "Carc. 1A H350" in classes("37300-23-5")
    assert "Acute Tox. 3 oral H301" in classes("12002-03-8")
    for outside in ("1344-48-5", "7727-43-7", "58339-34-7", "8048-07-5"):
        groups = [row for row in substance_rows(outside) if row.status is Listing.GROUP_ENTRY]
        assert groups == [], f"{outside} is left out by the wording of the entry"
    for row in ROWS:
        assert not row.covers or row.status is Listing.GROUP_ENTRY, row.key


def test_a_metal_share_stands_only_beside_note_1_and_with_its_arithmetic() -> None:
    for row in ROWS:
        if "1" in row.notes:
            assert "Note 1: " in row.note, row.key
            assert (row.metal_fraction is None) == (row.cas is None or row.key == "lead_naphthenate"), row.key
            assert row.metal in ("Pb", "Cd", "Co", "Hg", "As", "Ba", "Sb"), row.key
        else:
            assert row.metal_fraction is None and row.metal == "", row.key


def test_minimum_classes_and_marks() -> None:
    (xylene,) = [row for row in substance_rows("1330-20-7") if row.list is PublishedList.EU_ANNEX_VI]
    assert xylene.minimum == ("Acute Tox. 4 inhalation H332", "Acute Tox. 4 dermal H312")
    (toluene,) = [row for row in substance_rows("108-88-3") if row.list is PublishedList.EU_ANNEX_VI]
    assert toluene.minimum == ("STOT RE 2 H373",)
    assert set(toluene.marks) == {"*** Repr. 2 H361d", "** STOT RE 2 H373"}
    marked = [row for row in ROWS if row.minimum or row.marks]
    assert {row.list for row in marked} == {PublishedList.EU_ANNEX_VI}


def test_petroleum_cuts_carry_no_flammability_on_the_eu_list() -> None:
    """The trap behind the rule that a cut is judged by its own flash point."""
    noted = [row for row in ROWS if "P" in row.notes]
    assert len(noted) == 7
    for row in noted:
        assert not any(hazard.startswith("Flam.") for hazard in row.classes), row.key
        assert "Carc. 1B H350" in row.classes, row.key


def test_what_is_not_held_has_no_rows() -> None:
    assert substance_rows("7732-18-5") == ()
    assert substance_rows("") == () and substances_named("") == ()
    assert substances_named("unobtainium") == ()
    assert {row.cas for row in substances_named("TOLUENE ")} == {"108-88-3"}
    assert {row.index_no for row in substances_named("lead_compounds")} == {"082-001-00-6"}


def test_the_table_is_read_once() -> None:
    assert substance_hazards() is substance_hazards()


@pytest.mark.parametrize("edit", [
    ("Flam. Liq. 2 H225; STOT SE 3 H336; Eye", "Flam. Liq. 2 H225; highly flammable; Eye"),
    ("Flam. Liq. 2 H225; STOT SE 3 H336; Eye", "Flam. Liq. 2 H225; Flam. Liq. 2 H225; Eye"),
    ("67-64-1", "67641"),
    (",classified,,Flam. Liq. 2", ",annulled,,Flam. Liq. 2"),
    (",classified,,Flam. Liq. 2", ",classified,2025-01-01,Flam. Liq. 2"),
    (",classified,,Flam. Liq. 2", ',"listed, no class",,Flam. Liq. 2'),
    ("au-hcis,2022,classified", "hearsay,2022,classified"),
    (",AUH066,", ",AUH66,"),
    ("oral=1200", "oral=-1200"),
    ("oral=1200", "swallowed=1200"),
    ("STOT RE 2 H373 >= 5", "STOT RE 2 H373 >= 500"),
    ("STOT SE 2 H371 >= 3 < 10", "STOT SE 2 H371 >= 10 < 3"),
    ("0.6411", "1.6411"),
    (",Pb,0.6411,", ",,0.6411,"),
    (",1,Pb,", ",,Pb,"),
    (",ANNEX-VI-17,", ",,"),
])  # fmt: skip
def test_a_slip_is_named_by_its_line(tmp_path: Path, edit: tuple[str, str]) -> None:
    shutil.copy(knowledge_folder() / FILE_NAME, tmp_path / FILE_NAME)
    text = (tmp_path / FILE_NAME).read_text(encoding="utf-8")
    assert edit[0] in text
    (tmp_path / FILE_NAME).write_text(text.replace(*edit, 1), encoding="utf-8")
    with pytest.raises(ValueError, match=r"substance_hazards[.]csv line \d+"):
        read_substances(tmp_path)


def test_a_row_that_stands_twice_is_named(tmp_path: Path) -> None:
    text = (knowledge_folder() / FILE_NAME).read_text(encoding="utf-8")
    (tmp_path / FILE_NAME).write_text(text + text.splitlines()[1] + "\n", encoding="utf-8")
    with pytest.raises(ValueError, match=r"line 277: acetone stands there twice"):
        read_substances(tmp_path)
