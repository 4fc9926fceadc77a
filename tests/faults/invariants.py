"""What must hold of the books whatever was done to the machine; every fault test asks it at its end."""

from __future__ import annotations

import json
from collections.abc import Iterable, Sequence
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

from sqlalchemy import text
from sqlmodel import col, select

from service.actions.check_ledger import check
from service.actions.witness import heads_in
from service.records.engine import Database
from service.records.stock import Posting, PostingResult
from tests.faults.stand import Stand
from tests.faults.writers import Kept, Writer, all_kept, no_bad_answers


def faults_of(database: Database, kept: Iterable[Kept] = (), data: Path | None = None) -> list[str]:
    """Every way in which these books are not as they should be, in words; empty = all holds.

    Args:
        kept: acts that were acknowledged. Each must stand in the books once, with the very answer given.
        data: the shop's folder, whose witnessed heads the rag log must agree with.
    """
    faults: list[str] = []
    with database.reading() as session:
        if database.sqlite:
            whole = session.connection().execute(text("pragma integrity_check")).scalars().all()
            faults += [f"the file is damaged: {words}" for words in whole if words != "ok"]
            dangling = session.connection().execute(text("pragma foreign_key_check")).fetchall()
            faults += [f"a row points at nothing: {tuple(row)}" for row in dangling]
        stored: dict[str, tuple[int, dict[str, Any]]] = {}
        query = select(Posting.once, Posting.id, PostingResult.result).join(
            PostingResult, col(PostingResult.posting_id) == col(Posting.id)
        )
        for once, number, result in session.exec(query).all():
            assert number is not None
            if once in stored:
                faults.append(f"the key {once} stands in the books twice")
            stored[once] = (number, result)
        faults += [words for one in kept for words in _lost(one, stored)]
        heads = heads_in(data, ZoneInfo("UTC")).heads if data else ()
        report = check(session, heads)
        faults += list(report.faults)
    return faults


def _lost(one: Kept, stored: dict[str, tuple[int, dict[str, Any]]]) -> Iterable[str]:
    if one.once not in stored:
        yield f"acknowledged and lost: {one.once} {one.path} {one.body}"
        return
    number, result = stored[one.once]
    plain = json.loads(json.dumps(result))
    for name, said in one.answer.items():
        if name == "posting" and said != number:
            yield f"{one.once} was acknowledged as posting {said} and is {number}"
        if name not in ("posting", "repeated") and plain.get(name) != said:
            yield f"{one.once} was answered {name}={said!r}, and the books say {plain.get(name)!r}"


def holds(database: Database, kept: Iterable[Kept] = (), data: Path | None = None) -> None:
    """Assert that nothing is wrong with these books."""
    faults = faults_of(database, kept, data)
    assert not faults, f"{len(faults)} faults:\n" + "\n".join(faults[:10])


def nothing_lost(stand: Stand, writers: Sequence[Writer]) -> int:
    """Assert it of a shop and of everything these clients were told; how many answers that were."""
    no_bad_answers(writers)
    kept = all_kept(writers)
    refused = {once for writer in writers for once in writer.refused}
    with stand.opened() as database:
        holds(database, kept, stand.data)
        with database.reading() as session:
            booked = set(session.exec(select(Posting.once)).all())
    assert not refused & booked, "something was refused and booked all the same"
    return len(kept)
