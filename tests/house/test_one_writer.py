"""Append-only tables have one writer each: nobody else makes their rows, in whatever way it is spelled."""

from __future__ import annotations

import ast
from pathlib import Path

import pytest

SERVICE = Path(__file__).parents[2] / "service"
WRITERS = {
    "Movement": "actions/post_movement.py",
    "ContainerEvent": "actions/post_movement.py",
    "RagLogRow": "actions/write_rag_log.py",
    "Posting": "actions/settle.py",
    "PostingResult": "actions/settle.py",
}
_MAKES_ROWS = {"insert", "bulk_insert_mappings", "bulk_save_objects", "model_validate", "model_construct"}


def made_in(source: str) -> set[str]:
    """The tables whose rows a file makes: by calling the class, an alias of it, or an insert into it."""
    tree = ast.parse(source)
    names = {name: name for name in WRITERS}
    for node in ast.walk(tree):
        if isinstance(node, ast.ImportFrom):
            names |= {a.asname: a.name for a in node.names if a.asname and a.name in WRITERS}
    found: set[str] = set()
    for node in ast.walk(tree):
        if not isinstance(node, ast.Call):
            continue
        target = node.func
        called = target.id if isinstance(target, ast.Name) else getattr(target, "attr", "")
        if called in names:
            found.add(names[called])
        owner = target.value if isinstance(target, ast.Attribute) else None
        touched = [owner, *node.args]
        if called in _MAKES_ROWS:
            found |= {names[one.id] for one in touched if isinstance(one, ast.Name) and one.id in names}
    return found


@pytest.mark.parametrize(
    ("source", "table"),
    [
        ("Movement(kind=1)", "Movement"),
        ("stock.Movement(kind=1)", "Movement"),
        ("from service.records.stock import Movement as M\nM(kind=1)", "Movement"),
        ("session.execute(insert(RagLogRow).values(a=1))", "RagLogRow"),
        ("ContainerEvent.model_validate({})", "ContainerEvent"),
    ],
)
def test_the_search_sees_each_spelling(source: str, table: str) -> None:
    assert made_in(source) == {table}


@pytest.mark.parametrize("table", WRITERS)
def test_only_one_file_makes_its_rows(table: str) -> None:
    files = {
        path.relative_to(SERVICE).as_posix()
        for path in SERVICE.rglob("*.py")
        if table in (source := path.read_text(encoding="utf-8")) and table in made_in(source)
    }
    # A doctest in rag_duty.py names a Movement, but a doctest is text, not a call.
    assert files == {WRITERS[table]}
