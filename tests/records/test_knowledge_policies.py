"""The table of ageing policies is read whole, and a slip in it is named by its line."""

from __future__ import annotations

from pathlib import Path

import pytest

from service.core.ageing_policies import PolicyEnd, choose, tidy_key
from service.core.materials import MaterialKind
from service.records.knowledge import load_known_materials
from service.records.knowledge_policies import known_policies, read_policies

HEAD = (
    "key,kind,end,sealed_months,opened_months,sealed_days,opened_days,hard_months,extends_months,"
    "max_extensions,source,grade,house_policy,note\n"
)


def test_every_named_row_names_a_known_material_of_its_kind() -> None:
    materials = {tidy_key(m.key): m for m in load_known_materials()}
    for row in known_policies():
        if row.key:
            assert row.kind in (None, materials[tidy_key(row.key)].kind), row.key


@pytest.mark.parametrize(("key", "kind", "sealed", "opened", "hard"), [
    ("", MaterialKind.COLOUR_IN_OIL, 120, 60, 240),
    ("", MaterialKind.COLOUR_IN_JAPAN, 24, 12, 48),
    ("linseed_raw", MaterialKind.BINDER, 36, 24, 60),
    ("tung", MaterialKind.BINDER, 36, 12, 60),
    ("walnut", MaterialKind.BINDER, 24, 12, 48),
    ("shellac_cut", MaterialKind.RESIN, 6, 6, 12),
    ("pva", MaterialKind.GLUE_OR_SIZE, 24, 12, 60),
    ("turpentine", MaterialKind.SOLVENT, 24, 12, None),
])  # fmt: skip
def test_some_rows_by_hand(key: str, kind: MaterialKind, sealed: int, opened: int, hard: int | None) -> None:
    row = choose(known_policies(), kind, key)
    assert row is not None
    policy = row.policy
    assert (policy.sealed_months, policy.opened_months, policy.hard_months) == (sealed, opened, hard)


def test_made_mixes_last_as_long_as_their_parts() -> None:
    row = choose(known_policies(), MaterialKind.MADE_MIX, None)
    assert row is not None and row.policy.end is PolicyEnd.PARTS


@pytest.mark.parametrize("line", [
    ",,retest,24,12,,,,,,x,W,yes,",
    ",binder,never,24,12,,,,,,x,W,yes,",
    ",binder,retest,two,12,,,,,,x,W,yes,",
    ",binder,retest,24,12,7,,,,,x,W,yes,",
    ",binder,retest,24,12,,,,,,x,W,perhaps,",
    ",binders,retest,24,12,,,,,,x,W,yes,",
])  # fmt: skip
def test_a_slip_is_named_by_its_line(line: str, tmp_path: Path) -> None:
    path = tmp_path / "policies.csv"
    path.write_text(f"{HEAD},solvent,retest,60,60,,,,24,,x,W,yes,\n{line}\n", encoding="utf-8")
    with pytest.raises(ValueError, match=r"policies.csv, line 3"):
        read_policies(path)


def test_two_rows_for_one_thing_are_refused(tmp_path: Path) -> None:
    path = tmp_path / "policies.csv"
    path.write_text(HEAD + ",solvent,retest,60,60,,,,24,,x,W,yes,\n" * 2, encoding="utf-8")
    with pytest.raises(ValueError, match="two rows"):
        read_policies(path)
