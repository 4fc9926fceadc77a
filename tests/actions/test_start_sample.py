"""Beginning a colour sample, putting its words right, judging it; who may; what is kept of a photograph."""

from __future__ import annotations

from pathlib import Path

import pytest
from sqlmodel import col, select

from service.actions.judge_sample import Shows, VerdictAsked, judge_sample, keep_photos, read_photo
from service.actions.keep_sheets import file_path
from service.actions.start_sample import SampleAsked, board_of, describe_sample, start_sample
from service.core.access import Role
from service.core.colour_samples import Board, SampleVerdict
from service.core.findings import Invalid, NotAllowed, NotFound, Refused, Stale
from service.core.materials import Unknown
from service.core.photo_files import PhotoFile
from service.records.engine import Database
from service.records.jobs import Job
from service.records.mixing import Batch, BatchState, Recipe
from service.records.mixing_queries import lines_of, the_batch, the_recipe, the_version
from service.records.sample_queries import the_sample
from service.records.shop import Change
from tests.actions.sample_steps import BOARD, begun
from tests.mixing_shop import MixShop, make_mix_shop
from tests.store_builders import holds, once


def asked(**said: object) -> SampleAsked:
    return SampleAsked(**({"once": once(), "target": "door", "board": BOARD} | said))  # type: ignore[arg-type]


def test_a_sample_is_a_recipe_without_lines_and_a_running_batch_in_one_act(database: Database) -> None:
    made = begun(database)
    with database.reading() as session:
        sample, batch = the_sample(session, made.sample), the_batch(session, made.batch)
        recipe = the_recipe(session, made.recipe)
        version = the_version(session, recipe)
        assert lines_of(session, version.id or 0) == []
        assert (recipe.name, recipe.purpose, version.number) == ("the old door", "stain", 1)
        assert (batch.state, batch.job_id) == (BatchState.RUNNING, made.shop.job)
        assert batch.recipe_id == made.recipe
        assert board_of(sample) == BOARD and sample.target == "the old  door" and sample.verdict is None
    holds(database)


def test_the_same_key_begins_it_once(database: Database) -> None:
    shop = make_mix_shop(database)
    one = asked(job_id=shop.job)
    for _ in range(2):
        with database.writing() as session:
            start_sample(session, shop.actor(), shop.now, one)
    with database.reading() as session:
        assert len(session.exec(select(Batch)).all()) == 1
    with pytest.raises(Stale), database.writing() as session:
        start_sample(session, shop.actor(), shop.now, asked(once=one.once, target="another"))


def test_a_job_is_opened_for_it_on_request_and_a_closed_one_is_refused(database: Database) -> None:
    shop = make_mix_shop(database)
    with database.writing() as session:
        done = start_sample(session, shop.actor(), shop.now, asked(open_job=True)).result
        assert done["job"] and session.get_one(Job, done["job"]).leader_id == shop.people.finisher.id
        session.get_one(Job, shop.job).closed_at = shop.now
    with pytest.raises(Refused, match="not running"), database.writing() as session:
        start_sample(session, shop.actor(), shop.now, asked(job_id=shop.job))
    with pytest.raises(NotFound), database.writing() as session:
        start_sample(session, shop.actor(), shop.now, asked(job_id=4711))
    with database.reading() as session:
        assert len(session.exec(select(Recipe).where(col(Recipe.name) == "door")).all()) == 1


def test_without_a_job_oil_is_refused_at_the_bench(database: Database) -> None:
    made = begun(database, job=False)
    made.add("spirit", "5 ml")
    with pytest.raises(Refused) as refused:
        made.add("boiled oil", "5 ml")
    assert "needs-job" in refused.value.verdict.codes


@pytest.mark.parametrize(
    ("said", "field"),
    [
        ({"target": "  "}, "target"),
        ({"target": "x" * 501}, "target"),
        ({"board": Board("")}, "wood"),
        ({"board": Board("ash", sealed=Unknown.NO, sealed_with="shellac")}, "sealed_with"),
        ({"board": Board("ash", coats=0)}, "coats"),
        ({"board": Board("ash", coats=21)}, "coats"),
        ({"board": Board("ash", grit="9" * 41)}, "grit"),
        ({"purpose": "p" * 61}, "purpose"),
    ],
)
def test_what_cannot_be_used_names_its_field(database: Database, said: dict[str, object], field: str) -> None:
    shop = make_mix_shop(database)
    with pytest.raises(Invalid) as wrong, database.writing() as session:
        start_sample(session, shop.actor(), shop.now, asked(**said))
    assert list(wrong.value.errors) == [field]


@pytest.mark.parametrize("role", [Role.STUDENT, Role.READER])
def test_students_and_readers_begin_and_judge_none(database: Database, role: Role) -> None:
    made = begun(database)
    shop = made.shop
    with pytest.raises(NotAllowed), database.writing() as session:
        start_sample(session, shop.actor(role), shop.now, asked())
    verdict = VerdictAsked(once=once(), sample_id=made.sample, verdict=SampleVerdict.MATCH)
    with pytest.raises(NotAllowed), database.writing() as session:
        judge_sample(session, shop.actor(role), shop.now, verdict)
    with pytest.raises(NotAllowed), database.writing() as session:
        describe_sample(session, shop.actor(role), shop.now, made.sample, 1, "door", BOARD)
    with pytest.raises(NotAllowed), database.writing() as session:
        photo = {Shows.BOARD: PhotoFile("x", b"x")}
        keep_photos(session, shop.actor(role), shop.now, once(), made.sample, photo, Path("nowhere"))


def test_words_are_put_right_once_and_noted(database: Database) -> None:
    made = begun(database)
    with database.writing() as session:
        row = describe_sample(
            session, made.shop.actor(), made.shop.now, made.sample, 1, "the new door", Board("oak")
        )
        assert (row.wood, row.sealed, row.coats, row.version) == ("oak", Unknown.NOT_KNOWN, None, 2)
    with pytest.raises(Stale), database.writing() as session:
        describe_sample(session, made.shop.actor(), made.shop.now, made.sample, 1, "x", Board("elm"))
    with database.reading() as session:
        noted = session.exec(select(Change).where(col(Change.about_kind) == "colour sample")).all()
    assert [change.field for change in noted] == ["board", "target"]


def test_a_verdict_says_who_and_when_and_the_earlier_one_stays_noted(database: Database) -> None:
    made = begun(database)

    def judge(verdict: SampleVerdict, version: int | None = None) -> None:
        said = VerdictAsked(
            once=once(), sample_id=made.sample, verdict=verdict, note=" too red ", version=version
        )
        with database.writing() as session:
            judge_sample(session, made.shop.actor(), made.shop.now, said)

    judge(SampleVerdict.OFF, 1)
    judge(SampleVerdict.CLOSE)
    with pytest.raises(Stale):
        judge(SampleVerdict.MATCH, 1)
    with database.reading() as session:
        row = the_sample(session, made.sample)
        assert (row.verdict, row.verdict_note, row.version) == ("close", "too red", 3)
        assert row.judged_by == made.shop.people.finisher.id and row.judged_at == made.shop.now
        noted = session.exec(select(Change.after).where(col(Change.field) == "verdict")).all()
    assert list(noted) == ["off", "close"]


def test_a_photograph_lies_under_its_hash_and_a_changed_file_is_not_shown(
    database: Database, tmp_path: Path
) -> None:
    made = begun(database)
    with database.writing() as session:
        photos = {Shows.BOARD: PhotoFile("a.jpg", b"a picture"), Shows.TARGET: PhotoFile("b", b"another")}
        done = keep_photos(
            session, made.shop.actor(), made.shop.now, once(), made.sample, photos, tmp_path
        ).result
    path = file_path(tmp_path, done["board"])
    with database.reading() as session:
        row = the_sample(session, made.sample)
        assert read_photo(session, row, Shows.BOARD, tmp_path) == b"a picture"
        assert read_photo(session, row, Shows.TARGET, tmp_path) == b"another"
        path.write_bytes(b"changed")
        with pytest.raises(NotFound, match="changed"):
            read_photo(session, row, Shows.BOARD, tmp_path)
        path.unlink()
        with pytest.raises(NotFound, match="backup"):
            read_photo(session, row, Shows.BOARD, tmp_path)
    with pytest.raises(Invalid), database.writing() as session:
        keep_photos(session, made.shop.actor(), made.shop.now, once(), made.sample, {}, tmp_path)


def test_there_is_no_photograph_before_one_was_taken(database: Database, tmp_path: Path) -> None:
    shop: MixShop = begun(database).shop
    with database.reading() as session, pytest.raises(NotFound, match="no photograph"):
        read_photo(session, the_sample(session, 1), Shows.BOARD, tmp_path)
    assert shop.recipe
