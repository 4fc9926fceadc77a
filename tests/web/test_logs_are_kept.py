"""Nobody removes anything from a log that is kept for a period: no address takes it, no code asks for it.

That the databases themselves refuse it, whoever asks, stands in tests/faults/test_append_only.py.
"""

from __future__ import annotations

import ast
from pathlib import Path
from typing import Final

import pytest
from sqlmodel import SQLModel, func, select

from service.core.access import Role
from service.core.record_periods import Basis
from service.records.knowledge_periods import record_periods
from service.web.route_table import ROWS
from tests.web.conftest import Shop

LOGS: Final = frozenset(table for one in record_periods() for table in one.tables)
PAGES: Final = sorted({one.page for one in record_periods() if one.page})
SERVICE: Final = Path(__file__).parents[2] / "service"
MAY_GO: Final = {
    "records/mixing_queries.py": {"KeptCheck"}, "actions/throttle.py": {"Throttle"},
    "actions/leave_mail.py": {"MailLeave"}, "actions/set_up_shop.py": {"row"},
    "actions/leave_job.py": {"named"}, "actions/write_components.py": {"row"},
    # Its packs and orders went to the other name, and a change says so.
    "actions/rename_supplier.py": {"row"},
    # Of a copy in memory.
    "actions/book_then.py": {"table"}, "records/copied_book.py": {"table", "RagChainHead"},
}  # fmt: skip
"""Every deletion in the program, by file: none is of a log; ``row`` and ``named`` are of the tables below."""
ROWS_THAT_GO: Final = frozenset({
    "kept_check", "throttle", "mail_leave", "emergency_number", "shift", "job_person", "material_component",
    "supplier",
})  # fmt: skip


def counts(shop: Shop) -> dict[str, int]:
    tables = SQLModel.metadata.tables
    with shop.database.reading() as session:
        return {
            name: int(session.exec(select(func.count()).select_from(tables[name])).one()) for name in LOGS
        }


def test_no_address_takes_anything_but_reading_and_sending() -> None:
    assert {row.method for row in ROWS} == {"GET", "HEAD", "POST"}
    assert SQLModel.metadata.tables.keys() >= LOGS | ROWS_THAT_GO and not LOGS & ROWS_THAT_GO


@pytest.mark.parametrize("role", list(Role))
def test_no_role_removes_from_a_log(shop: Shop, role: Role) -> None:
    before = counts(shop)
    assert before["posting"] >= 0 and len(PAGES) >= 8
    browser, script = shop.signed_in(role), shop.api(role)
    for page in PAGES:
        for path in (page, f"{page}/1", f"/api{page}", f"/api{page}/1"):
            for client in (browser, script):
                answer = client.delete(path)
                assert answer.status_code in (401, 403, 404, 405), (path, answer.status_code)
    after = counts(shop)
    assert all(after[name] >= many for name, many in before.items())


def test_every_deletion_in_the_program_is_known_and_none_is_of_a_log() -> None:
    found: dict[str, set[str]] = {}
    for path in sorted(SERVICE.rglob("*.py")):
        if "migrations" in path.parts:
            continue
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if not isinstance(node, ast.Call) or not node.args or not isinstance(node.args[0], ast.Name):
                continue
            called = node.func.attr if isinstance(node.func, ast.Attribute) else getattr(node.func, "id", "")
            if called == "delete":
                found.setdefault(path.relative_to(SERVICE).as_posix(), set()).add(node.args[0].id)
    assert found == MAY_GO


def test_the_page_says_of_each_log_whether_law_or_policy_keeps_it(shop: Shop) -> None:
    text = shop.signed_in(Role.KEEPER).get("/records/periods").text
    for one in record_periods():
        assert one.words in text and one.citation.split(";")[0] in text, one.log
    assert {one.basis for one in record_periods()} == {Basis.LAW, Basis.POLICY}
    told = shop.api(Role.READER).get("/api/record-periods")
    assert told.status_code == 200, told.text
    said = {one["log"]: one["basis"] for one in told.json()["items"]}
    assert said == {one.log: one.basis.value for one in record_periods()}
