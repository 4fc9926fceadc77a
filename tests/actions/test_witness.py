"""Heads kept outside the database: what a file and a sheet of paper prove, by how much of a hash."""

from __future__ import annotations

from datetime import UTC
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest

from service.actions.witness import (
    FILE_NAME,
    chain_head,
    heads_in,
    prove,
    read_paper,
    strength_words,
    witness_head,
)
from service.core.access import Role
from service.core.findings import Invalid, NotAllowed
from service.records.engine import Database
from tests.rag_shop import RagShop, make_shop

ZONE = ZoneInfo("Europe/Berlin")


@pytest.fixture
def shop(database: Database) -> RagShop:
    made = make_shop(database)
    made.draw()
    made.pass_by(minutes=1)
    made.into_can()
    return made


def test_no_outside_witness_until_there_is_one(shop: RagShop, tmp_path: Path) -> None:
    with shop.database.reading() as session:
        proof = prove(session, heads_in(tmp_path, ZONE).heads)
    assert proof.fits
    assert proof.sentence == "Unbroken, 3 entries; no outside witness yet."
    with shop.database.writing() as session:
        row = witness_head(session, shop.actor(Role.FINISHER), shop.now, tmp_path)
    assert row.count == 3
    with shop.database.reading() as session:
        proof = prove(session, heads_in(tmp_path, ZONE).heads)
    assert (
        proof.sentence == "Unbroken, 3 entries; last witnessed head: entry 3, day sheet of 12 March 2026."
    )


def test_lines_are_added_and_odd_lines_are_counted(shop: RagShop, tmp_path: Path) -> None:
    for where in ("day sheet", "back-up  of\nthe night"):
        with shop.database.writing() as session:
            witness_head(session, None, shop.now, tmp_path, where)
    path = tmp_path / FILE_NAME
    with path.open("a") as file:
        file.write("\n3\tzz\tnever\tnowhere\n3\t" + "a" * 64 + "\t2026-03-12T09:00:00\tno zone\n")
    found = heads_in(tmp_path, ZONE)
    assert [head.where for head in found.heads] == ["day sheet", "back-up of the night"]
    assert found.unreadable == 2
    assert found.heads[0].at == shop.now.replace(microsecond=0).astimezone(UTC)


def test_a_file_that_lost_lines_is_noticed(shop: RagShop, tmp_path: Path) -> None:
    with shop.database.writing() as session:
        witness_head(session, None, shop.now, tmp_path)
    (tmp_path / FILE_NAME).unlink()
    with shop.database.reading() as session:
        sentence = prove(session, heads_in(tmp_path, ZONE).heads).sentence
    assert "1 heads were written down; 0 are in the file" in sentence


def test_a_student_does_not_witness(shop: RagShop, tmp_path: Path) -> None:
    with shop.database.writing() as session, pytest.raises(NotAllowed):
        witness_head(session, shop.actor(Role.STUDENT), shop.now, tmp_path)
    assert not (tmp_path / FILE_NAME).exists()


@pytest.mark.parametrize("signs", [12, 24, 64])
def test_typed_from_paper(shop: RagShop, signs: int) -> None:
    with shop.database.reading() as session:
        head = chain_head(session)
        proof = prove(session, (), read_paper(head.count, head.hash[:signs].upper(), shop.now))
    assert proof.fits and proof.log.last_witness is not None
    assert strength_words(signs) in proof.sentence


def test_typed_signs_that_differ_break_it(shop: RagShop) -> None:
    with shop.database.reading() as session:
        head = chain_head(session)
        wrong = ("0" if head.hash[0] != "0" else "1") + head.hash[1:12]
        proof = prove(session, (), read_paper(head.count, wrong, shop.now))
        assert not proof.fits and "written anew" in proof.sentence
        proof = prove(session, (), read_paper(head.count + 5, head.hash[:12], shop.now))
        assert not proof.fits and "cut" in proof.sentence


@pytest.mark.parametrize("signs", ["", "9f86d081884", "zz86d081884c", "a" * 65, "٩" * 12])
def test_too_few_or_odd_signs(signs: str, shop: RagShop) -> None:
    with pytest.raises(Invalid):
        read_paper(3, signs, shop.now)


def test_the_words_say_how_much_twelve_signs_are_worth() -> None:
    assert "not against somebody" in strength_words(12)
    assert "nobody can compute" in strength_words(24)
