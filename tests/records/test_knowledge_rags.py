"""The table of rag rules: complete, cited, and in step with the strict profile of the core."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest

from service.core.rag_profile import STRICT, RuleGrade
from service.records.knowledge_rags import FILE_NAME, load_profile, load_rag_rules

KNOWLEDGE = Path(__file__).resolve().parents[2] / "seed_data" / "knowledge"


def test_the_table_and_the_strict_profile_say_the_same() -> None:
    rules = load_rag_rules(KNOWLEDGE)
    assert tuple(rule for rule, profiles in rules.values() if "strict" in profiles) == STRICT.rules
    assert load_profile(KNOWLEDGE, "strict") == STRICT


def test_what_was_not_read_says_so() -> None:
    for rule, _ in load_rag_rules(KNOWLEDGE).values():
        memory = "memory" in rule.provenance
        assert not memory or rule.grade in (RuleGrade.MEMORY, RuleGrade.PART_READ), rule.key
        assert rule.grade is not RuleGrade.MEMORY or memory, rule.key


@pytest.mark.parametrize(
    "edit",
    [
        ("IFC 2403.4.3", ""),
        ("mandatory", "perhaps"),
        (",remove,", ",never,"),
        ("filter_pads", "hats"),
        ("ifc-305-2", "ifc-304-3-1-daily"),
    ],
)
def test_a_row_that_cannot_be_read_is_named(tmp_path: Path, edit: tuple[str, str]) -> None:
    text = (KNOWLEDGE / FILE_NAME).read_text(encoding="utf-8")
    (tmp_path / FILE_NAME).write_text(text.replace(*edit, 1), encoding="utf-8")
    with pytest.raises(ValueError, match=r"rag_rules\.csv line \d+"):
        load_rag_rules(tmp_path)


def test_a_table_without_rows_makes_no_profile_milder(tmp_path: Path) -> None:
    shutil.copy(KNOWLEDGE / FILE_NAME, tmp_path / FILE_NAME)
    header = (tmp_path / FILE_NAME).read_text(encoding="utf-8").splitlines()[0]
    (tmp_path / FILE_NAME).write_text(header + "\n", encoding="utf-8")
    assert load_profile(tmp_path, "strict") == STRICT
