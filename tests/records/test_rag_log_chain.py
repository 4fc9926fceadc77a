"""The rag log attacked in the database itself, triggers taken away: what shows by itself, and what does not.

An edit, a deletion or a change of order inside shows. A cut tail and a log written anew show only against a
head kept outside; without one the check says "no outside witness yet" and finds nothing. That is the truth.
"""

from __future__ import annotations

import json
from collections.abc import Callable
from datetime import timedelta
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

import pytest
from sqlalchemy import Connection, text

from service.actions.witness import heads_in, prove, witness_head
from service.core.rag_log import GENESIS, canonical, entry_hash
from service.records.engine import Database
from tests.rag_shop import RagShop, make_shop

ZONE = ZoneInfo("Europe/Berlin")
Change = Callable[[Connection], Any]


@pytest.fixture
def shop(database: Database) -> RagShop:
    """Six entries: a load, three draws, two steps."""
    made = make_shop(database)
    for _ in range(2):
        made.draw()
        made.pass_by(minutes=1)
        made.into_can()
        made.pass_by(minutes=1)
    made.draw()
    return made


def attack(database: Database, change: Change) -> None:
    """Do something to the tables with every guard of the rag log taken away first."""
    with database.writer.begin() as connection:
        if database.sqlite:
            names = connection.execute(
                text("select name from sqlite_master where type = 'trigger' and tbl_name = 'rag_log'")
            )
            for (name,) in names.all():
                connection.execute(text(f"drop trigger {name}"))
        else:
            connection.execute(text("alter table rag_log disable trigger user"))
        change(connection)


def proof(shop: RagShop, folder: Path) -> Any:
    with shop.database.reading() as session:
        return prove(session, heads_in(folder, ZONE).heads)


def witnessed(shop: RagShop, folder: Path) -> None:
    with shop.database.writing() as session:
        witness_head(session, None, shop.now, folder)


def test_the_guards_refuse_what_is_then_tried_without_them(shop: RagShop, tmp_path: Path) -> None:
    for change in ("update rag_log set kind = 'x' where id = 2", "delete from rag_log where id = 2"):
        with pytest.raises(Exception, match="append-only"), shop.database.writer.begin() as connection:
            connection.execute(text(change))
    assert proof(shop, tmp_path).sentence == "Unbroken, 6 entries; no outside witness yet."


def _edit_body(connection: Connection) -> None:
    body = connection.execute(text("select body from rag_log where id = 3")).scalar_one()
    entry = json.loads(body) | {"can_name": "Somewhere else"}
    connection.execute(
        text("update rag_log set body = :body where id = 3"), {"body": canonical(entry).decode()}
    )


def _swap(connection: Connection) -> None:
    for step in ("id = 1000 where id = 3", "id = 3 where id = 4", "id = 4 where id = 1000"):
        connection.execute(text(f"update rag_log set {step}"))


INSIDE: dict[str, Change] = {
    "text of an entry": _edit_body,
    "a column beside the text": lambda c: c.execute(text("update rag_log set kind = 'x' where id = 3")),
    "when it happened": lambda c: c.execute(
        text("update rag_log set happened_at = (select happened_at from rag_log where id = 1) where id = 4")
    ),
    "who wrote it": lambda c: c.execute(text("update rag_log set person_id = 1 where id = 3")),
    "which load": lambda c: c.execute(text("update rag_log set load_id = null where id = 3")),
    "a hash": lambda c: c.execute(text("update rag_log set hash = repeat_a where id = 3".replace(
        "repeat_a", "'" + "a" * 64 + "'"))),
    "text that is no text": lambda c: c.execute(text("update rag_log set body = '[1' where id = 3")),
    "an entry taken out": lambda c: c.execute(text("delete from rag_log where id = 3")),
    "the first taken out": lambda c: c.execute(text("delete from rag_log where id = 1")),
    "two in another order": _swap,
}  # fmt: skip


@pytest.mark.parametrize("name", list(INSIDE))
def test_a_change_inside_shows_by_itself(shop: RagShop, tmp_path: Path, name: str) -> None:
    attack(shop.database, INSIDE[name])
    found = proof(shop, tmp_path)
    assert not found.fits and not found.log.unbroken
    assert found.log.first_bad in (1, 3, 4)
    assert found.sentence.startswith("Broken at entry")


def _cut(connection: Connection) -> None:
    """The last two entries gone, and the head inside the database put right to match."""
    connection.execute(text("delete from rag_log where id > 4"))
    head = connection.execute(text("select hash from rag_log where id = 4")).scalar_one()
    connection.execute(text("update rag_chain_head set count = 4, hash = :h"), {"h": head})


def _write_anew(connection: Connection) -> None:
    """Every entry an hour earlier, every hash computed again: a whole log that fits in itself."""
    previous = GENESIS
    rows = connection.execute(text("select id, body from rag_log order by id")).all()
    for number, body in rows:
        entry = json.loads(body) | {"note": "as it should have been"}
        previous_before, previous = previous, entry_hash(previous, number, entry)
        connection.execute(
            text("update rag_log set body = :b, prev_hash = :p, hash = :h where id = :n"),
            {"b": canonical(entry).decode(), "p": previous_before, "h": previous, "n": number},
        )
    connection.execute(text("update rag_chain_head set hash = :h"), {"h": previous})


@pytest.mark.parametrize("change", [_cut, _write_anew])
def test_a_cut_tail_and_a_log_written_anew_show_only_against_a_head_outside(
    shop: RagShop, tmp_path: Path, change: Change
) -> None:
    witnessed(shop, tmp_path)
    attack(shop.database, change)
    nothing_kept = tmp_path / "nothing kept"
    with shop.database.writer.begin() as connection:
        if shop.database.sqlite:
            for name in ("no_delete", "no_update", "no_replace"):
                connection.execute(text(f"drop trigger if exists tr_witnessed_head_{name}"))
        else:
            connection.execute(text("alter table witnessed_head disable trigger user"))
        connection.execute(text("delete from witnessed_head"))
    without = proof(shop, nothing_kept)
    assert without.fits, "without a witness nothing can be found, and nothing is claimed"
    assert "no outside witness yet" in without.sentence
    against = proof(shop, tmp_path)
    assert not against.fits
    assert "the log is cut" in against.sentence or "written anew" in against.sentence


def test_a_cut_that_forgets_the_head_inside_shows_even_without_a_witness(
    shop: RagShop, tmp_path: Path
) -> None:
    attack(shop.database, lambda c: c.execute(text("delete from rag_log where id > 4")))
    found = proof(shop, tmp_path)
    assert found.log.unbroken and not found.fits
    assert "cut or replaced" in found.sentence


def test_what_was_added_after_the_witnessed_head_is_not_vouched_for(shop: RagShop, tmp_path: Path) -> None:
    witnessed(shop, tmp_path)
    shop.pass_by(minutes=1)
    shop.draw()
    shop.now += timedelta(minutes=1)
    attack(shop.database, lambda c: (
        c.execute(text("delete from rag_log where id = 7")),
        c.execute(text("update rag_chain_head set count = 6")),
        c.execute(text("update rag_chain_head set hash = (select hash from rag_log where id = 6)")),
    ))  # fmt: skip
    found = proof(shop, tmp_path)
    assert found.fits and "entry 6" in found.sentence


def test_the_chain_goes_on_after_a_refused_act(shop: RagShop, tmp_path: Path) -> None:
    shop.overdue()
    before = proof(shop, tmp_path).log.count
    with pytest.raises(Exception, match="overdue"):
        shop.draw(job_id=None)
    assert proof(shop, tmp_path).log.count == before
