"""The statement tables: every code has its words, every row a source and a grade, nothing stands twice."""

from __future__ import annotations

import doctest
import shutil
from collections import Counter
from pathlib import Path

import pytest

from service.core.sources import Grade, Provenance
from service.records import knowledge_hazards
from service.records.knowledge import knowledge_folder, load_sources
from service.records.knowledge_hazards import (
    CHOICE_FILE,
    PRECAUTIONS_FILE,
    REGIMES,
    STATEMENTS_FILE,
    hazard_statements,
    precaution_choices,
    precautionary_statements,
    precautions_for,
    read_hazard_statements,
    read_precaution_choices,
    read_precautionary_statements,
    statement_text,
    statements_of,
)

STATEMENTS = hazard_statements()
CHOICES = precaution_choices()


def test_row_counts() -> None:
    assert (len(STATEMENTS), len(precautionary_statements()), len(CHOICES)) == (150, 128, 74)


def test_examples_in_the_docstrings() -> None:
    assert doctest.testmod(knowledge_hazards).attempted >= 3
    assert doctest.testmod(knowledge_hazards).failed == 0


def test_every_row_has_a_source_that_resolves_and_no_better_grade() -> None:
    sources = load_sources()
    ranks = list(Grade)
    rows = [(s.source, s.grade) for s in STATEMENTS]
    rows += [(p.source, p.grade) for p in precautionary_statements().values()]
    rows += [(c.source, c.grade) for c in CHOICES]
    assert len(rows) == 352
    for keys, grade in rows:
        assert keys and set(keys) <= sources.keys(), keys
        assert ranks.index(grade) >= max(ranks.index(sources[key].grade) for key in keys), keys


def test_what_was_not_read_says_so() -> None:
    grades = Counter((choice.provenance, choice.grade) for choice in CHOICES)
    # storage and disposal of the four inhalation rows are memory beside read codes
    assert grades == {
        (Provenance.MEMORY, Grade.MEMORY): 53,
        (Provenance.READ, Grade.STANDARD): 17,
        (Provenance.READ, Grade.MEMORY): 4,
    }
    assert {s.grade for s in STATEMENTS} == {Grade.MEMORY}, "no text was checked against the official print"


def test_a_code_has_one_wording_and_one_row_for_each_class_and_category() -> None:
    texts: dict[str, set[str]] = {}
    for statement in STATEMENTS:
        texts.setdefault(statement.code, set()).add(statement.text)
    assert {code for code, several in texts.items() if len(several) > 1} == set()
    assert max(Counter((s.code, s.hazard_class, s.category) for s in STATEMENTS).values()) == 1


def test_every_class_has_one_signal_word_and_one_pictogram() -> None:
    """A class with two codes (H350, H350i) must not say two things on a label."""
    seen: dict[str, set[tuple[str | None, tuple[str, ...]]]] = {}
    for statement in STATEMENTS:
        for hazard in statement.hazards:
            seen.setdefault(hazard, set()).add((statement.signal_word, statement.pictograms))
    assert {hazard: said for hazard, said in seen.items() if len(said) > 1} == {}
    assert len(seen) > 90


@pytest.mark.parametrize(("hazard", "codes", "word", "pictograms"), [
    ("Flam. Liq. 2", {"H225"}, "Danger", ("GHS02",)),
    ("Flam. Liq. 4", {"H227"}, "Warning", ()),
    ("Acute Tox. 3 inhalation", {"H331"}, "Danger", ("GHS06",)),
    ("Acute Tox. 4 oral", {"H302"}, "Warning", ("GHS07",)),
    ("Skin Corr. 1B", {"H314"}, "Danger", ("GHS05",)),
    ("Eye Irrit. 2A", {"H319"}, "Warning", ("GHS07",)),
    ("Eye Irrit. 2B", {"H320"}, "Warning", ()),
    ("Carc. 1B", {"H350", "H350i"}, "Danger", ("GHS08",)),
    ("Carc. 1", {"H350", "H350i"}, "Danger", ("GHS08",)),
    ("Acute Tox. 2 vapour", {"H330"}, "Danger", ("GHS06",)),
    ("Repr. 2", {"H361", "H361f", "H361d", "H361fd"}, "Warning", ("GHS08",)),
    ("Lact.", {"H362"}, None, ()),
    ("STOT SE 3", {"H335", "H336"}, "Warning", ("GHS07",)),
    ("STOT RE 2", {"H373"}, "Warning", ("GHS08",)),
    ("Aquatic Chronic 2", {"H411"}, None, ("GHS09",)),
    ("Aquatic Chronic 4", {"H413"}, None, ()),
    ("Expl. 1.1", {"H201"}, "Danger", ("GHS01",)),
    ("Self-heat. 2", {"H252"}, "Warning", ("GHS02",)),
    ("Org. Perox. B", {"H241"}, "Danger", ("GHS01", "GHS02")),
    ("Org. Perox. F", {"H242"}, "Warning", ("GHS02",)),
    ("Press. Gas", {"H280"}, "Warning", ("GHS04",)),
])  # fmt: skip
def test_some_classes_by_hand(
    hazard: str, codes: set[str], word: str | None, pictograms: tuple[str, ...]
) -> None:
    found = statements_of(hazard)
    assert {s.code for s in found} == codes
    assert {s.signal_word for s in found} == {word}
    assert {s.pictograms for s in found} == {pictograms}


def test_regimes() -> None:
    def regimes(code: str) -> set[frozenset[str]]:
        return {s.regimes for s in STATEMENTS if s.code == code}

    assert regimes("H227") == {frozenset({"un-ghs", "us-hcs"})}
    assert regimes("H316") == regimes("H303") == regimes("H305") == {frozenset({"un-ghs"})}
    assert regimes("H410") == {frozenset({"un-ghs", "eu-clp"})}
    assert regimes("EUH066") == regimes("H350i") == {frozenset({"eu-clp"})}
    assert regimes("H200") == {frozenset({"eu-clp", "us-hcs"})}, "the UN text dropped it after Rev. 8"
    assert regimes("OSHA-CD") == {frozenset({"us-hcs"})}


def test_the_statements_of_the_annulled_act_are_doubtful() -> None:
    assert {s.code for s in STATEMENTS if s.doubtful} == {"EUH211", "EUH212"}


def test_every_code_of_the_choice_table_has_its_words() -> None:
    codes = {code for choice in CHOICES for code in choice.codes}
    assert len(codes) > 50
    assert codes - precautionary_statements().keys() == set()


def test_a_combined_code_without_a_row_is_put_together_from_its_parts() -> None:
    assert "P303+P353" not in precautionary_statements()
    assert statement_text("P303+P353") == "IF ON SKIN (or hair): Rinse skin with water [or shower]."
    own = "IF SWALLOWED: Immediately call a POISON CENTER/doctor/..."
    assert statement_text("P301+P310") == own


def test_own_rows_of_combined_codes_agree_with_their_parts() -> None:
    """Where the standard joins two sentences its own way the row wins; these are all such rows."""
    rows = precautionary_statements()
    other = {
        code
        for code, row in rows.items()
        if "+" in code and row.text != " ".join(rows[part].text for part in code.split("+"))
    }
    assert other == {"P302+P334", "P361+P364", "P362+P364"}


@pytest.mark.parametrize("code", ["H999", "P999", "P301+P999", "", "H225+P301", "AUH066"])
def test_a_code_without_words_is_refused(code: str) -> None:
    with pytest.raises(KeyError, match="no wording"):
        statement_text(code)


def test_precautions_by_class_and_regime() -> None:
    flammable = precautions_for("Flam. Liq. 3", "us-hcs")
    assert flammable is not None
    assert flammable.storage == ("P403+P235",) and flammable.disposal == ("P501",)
    assert precautions_for("Flam. Liq. 4", "eu-clp") is None
    assert precautions_for("Flam. Liq. 4", "us-hcs") is not None
    assert precautions_for("Aquatic Chronic 2", "us-hcs") is None
    assert precautions_for("Eye Irrit. 2", "eu-clp") == precautions_for("Eye Irrit. 2A", "un-ghs")
    assert precautions_for("Acute Tox. 4 dust_mist", "eu-clp") == precautions_for(
        "Acute Tox. 4 inhalation", "eu-clp"
    )
    assert precautions_for("Repr. 1", "un-ghs") is not None, "a category 1 that is not split"
    assert precautions_for("Press. Gas", "eu-clp") is None, "not held, which is not the same as not needed"
    with pytest.raises(ValueError, match="no such regime"):
        precautions_for("Flam. Liq. 2", "nowhere")


def test_every_class_of_the_choice_table_has_a_statement() -> None:
    for choice in CHOICES:
        for hazard in choice.hazards:
            assert statements_of(hazard), hazard
    assert frozenset().union(*(choice.regimes for choice in CHOICES)) == REGIMES


@pytest.mark.parametrize(("name", "edit"), [
    (STATEMENTS_FILE, ("H225,", "H22,")),
    (STATEMENTS_FILE, (",Danger,GHS02,", ",Perhaps,GHS02,")),
    (STATEMENTS_FILE, ("un-ghs eu-clp us-hcs", "un-ghs mars")),
    (STATEMENTS_FILE, ("GHS-STATEMENTS", "")),
    (STATEMENTS_FILE, (",in use,", ",used,")),
    (PRECAUTIONS_FILE, ("P102,", "P101,")),
    (PRECAUTIONS_FILE, (",memory,", ",good,")),
    (CHOICE_FILE, ("P210 P233", "P210 P2333")),
    (CHOICE_FILE, ("Flammable liquids,1,", "Flammable liquids,2,")),
    (CHOICE_FILE, (",read,", ",heard,")),
])  # fmt: skip
def test_a_slip_is_named_by_its_line(tmp_path: Path, name: str, edit: tuple[str, str]) -> None:
    shutil.copy(knowledge_folder() / name, tmp_path / name)
    text = (tmp_path / name).read_text(encoding="utf-8")
    assert edit[0] in text
    (tmp_path / name).write_text(text.replace(*edit, 1), encoding="utf-8")
    read = {
        STATEMENTS_FILE: read_hazard_statements,
        PRECAUTIONS_FILE: read_precautionary_statements,
        CHOICE_FILE: read_precaution_choices,
    }[name]
    with pytest.raises(ValueError, match=rf"{name.replace('.', '[.]')} line \d+"):
        read(tmp_path)


def test_a_statement_that_stands_twice_is_named(tmp_path: Path) -> None:
    text = (knowledge_folder() / STATEMENTS_FILE).read_text(encoding="utf-8")
    (tmp_path / STATEMENTS_FILE).write_text(text + text.splitlines()[1] + "\n", encoding="utf-8")
    with pytest.raises(ValueError, match=r"line 152: H200 .* stands there twice"):
        read_hazard_statements(tmp_path)
