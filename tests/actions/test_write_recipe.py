"""Recipes: lines as the bench writes them, append-only versions, doubt asked, edits that meet refused."""

from __future__ import annotations

from decimal import Decimal

import pytest
from sqlalchemy.exc import DBAPIError
from sqlmodel import update

from service.actions.read_amount import remember_choice
from service.actions.read_recipe import LineAsked
from service.actions.write_recipe import RecipeAsked, put_away_recipe, revise_recipe, write_recipe
from service.core.access import Role
from service.core.bench_writing import Ambiguous
from service.core.findings import Invalid, NotAllowed, NotFound, Stale, StaleKind
from service.core.materials import Basis
from service.records.engine import Database
from service.records.materials import Material
from service.records.mixing import RecipeLineRow, RecipeVersion
from service.records.mixing_queries import lines_of, the_recipe, the_version, versions_of
from tests.mixing_shop import MixShop, make_mix_shop
from tests.store_builders import once


def rows(shop: MixShop, recipe: int, number: int | None = None) -> list[RecipeLineRow]:
    with shop.database.reading() as session:
        version = the_version(session, the_recipe(session, recipe), number)
        return [row for row, _ in lines_of(session, version.id or 0)]


def test_lines_keep_what_was_written_in_its_own_unit_and_order(database: Database) -> None:
    shop = make_mix_shop(database)
    number = shop.write(
        ("boiled oil", "1 to 1 1/2 l"), ("raw umber", "about 2 metric tsp"), ("drier", "to suit"),
        ("drier", "to suit, at most 2 metric tsp"), ("spirit", "20 heads x 60 ml + 10 %"),
    )  # fmt: skip
    found = rows(shop, number)
    assert [row.position for row in found] == [1, 2, 3, 4, 5]
    assert [(row.low, row.high, row.basis) for row in found] == [
        (1_000_000, 1_500_000, Basis.VOLUME),
        (10_000, 10_000, Basis.VOLUME),
        (None, None, None),
        (None, 10_000, Basis.VOLUME),
        (1_320_000, 1_320_000, Basis.VOLUME),
    ]
    assert next(row.written for row in found) == "1 to 1 1/2 l" and found[1].about
    assert [row.to_suit for row in found] == [False, False, True, True, False]


def test_a_spoon_of_powder_nobody_weighed_is_kept_and_its_lack_is_said(database: Database) -> None:
    shop = make_mix_shop(database)
    asked = RecipeAsked(once(), "Spoons", (LineAsked(shop.ids["raw umber"], "2 metric tsp"),))
    with database.writing() as session:
        said = write_recipe(session, shop.actor(), shop.now, asked).result["findings"]
    assert [(f["severity"], f["code"]) for f in said] == [("unknown", "bulk-density-not-known")]


def test_doubt_is_asked_with_the_field_it_belongs_to(database: Database) -> None:
    shop = make_mix_shop(database)
    lines = (LineAsked(shop.ids["raw umber"], "5 g"), LineAsked(shop.ids["spirit"], "2 pints"))
    with pytest.raises(Ambiguous) as caught, database.writing() as session:
        write_recipe(session, shop.actor(), shop.now, RecipeAsked(once(), "Doubtful", lines))
    assert set(caught.value.errors) == {"amount_1"}
    assert [r.text for r in caught.value.readings] == ["2 US pints", "2 imperial pints"]


@pytest.mark.parametrize(
    ("typed", "kept"),
    [
        ("2 pints", "2 imperial pints"),
        ("to suit at most 1 pint", "to suit, at most 1 imperial pint"),
        ("250 ml", "250 ml"),
    ],
)
def test_what_its_writer_settled_is_kept_in_words_that_others_read_alike(
    database: Database, typed: str, kept: str
) -> None:
    shop = make_mix_shop(database)
    with database.writing() as session:
        spirit = session.get_one(Material, shop.ids["spirit"])
        remember_choice(session, shop.actor(), spirit, "2 pints", "2 imperial pints")
        asked = RecipeAsked(once(), "Settled", (LineAsked(shop.ids["spirit"], typed),))
        number = int(write_recipe(session, shop.actor(), shop.now, asked).result["recipe"])
    assert [row.written for row in rows(shop, number)] == [kept]


@pytest.mark.parametrize(
    ("lines", "more", "field"),
    [
        ((), {}, "material_0"),
        ((("raw umber", "nothing much"),), {}, "amount_0"),
        ((("raw umber", "0 g"),), {}, "amount_0"),
        ((("raw umber", "-5 g"),), {}, "amount_0"),
        ((("raw umber", "0 parts"),), {}, "amount_0"),
        ((("raw umber", "3 parts"), ("spirit", "1 part")), {}, "shares_by"),
        ((("raw umber", "3 parts by weight"), ("spirit", "1 part by volume")), {}, "shares_by"),
        ((("raw umber", "3 parts"), ("spirit", "5 ml")), {"shares_by": Basis.MASS}, "makes"),
        ((("raw umber", "1 part"), ("spirit", "1 part")), {"shares_by": Basis.MASS, "makes": "1 l"}, "makes"),
        ((("raw umber", "5 g"),), {"makes": "a bucket"}, "makes"),
        ((("raw umber", "5 g"),), {"makes": "0 ml"}, "makes"),
        ((("raw umber", "5 g"),), {"name": "  "}, "name"),
    ],
)
def test_what_cannot_be_a_recipe_names_its_field(
    database: Database, lines: tuple[tuple[str, str], ...], more: dict[str, object], field: str
) -> None:
    shop = make_mix_shop(database)
    with pytest.raises(Invalid) as caught:
        shop.write(*lines, **more)
    assert field in caught.value.errors


def test_percent_has_to_make_up_the_whole(database: Database) -> None:
    shop = make_mix_shop(database)
    with pytest.raises(Invalid, match="make 95, not 100"):
        shop.write(("boiled oil", "90 %"), ("spirit", "5 %"), shares_by=Basis.VOLUME)
    number = shop.write(("boiled oil", "90 to 95 %"), ("spirit", "5 to 10 %"), shares_by=Basis.VOLUME)
    assert rows(shop, number)[0].share_high == Decimal(95)


def test_an_edit_is_a_new_version_and_the_old_one_stays(database: Database) -> None:
    shop = make_mix_shop(database)
    asked = RecipeAsked(once(), "Walnut stain, thin", (LineAsked(shop.ids["spirit"], "1 l"),))
    with database.writing() as session:
        done = revise_recipe(session, shop.actor(), shop.now, shop.recipe, 1, asked)
    assert (done.result["version_number"], done.result["version"]) == (2, 2)
    assert len(rows(shop, shop.recipe)) == 1 and len(rows(shop, shop.recipe, 1)) == 3
    with database.reading() as session:
        assert [v.number for v, _ in versions_of(session, shop.recipe)] == [2, 1]
        assert the_recipe(session, shop.recipe).name == "Walnut stain, thin"
    with pytest.raises(Stale), database.writing() as session:
        again = RecipeAsked(once(), "Lost update", (LineAsked(shop.ids["spirit"], "2 l"),))
        revise_recipe(session, shop.actor(), shop.now, shop.recipe, 1, again)


@pytest.mark.parametrize("table", [RecipeVersion, RecipeLineRow])
def test_the_database_itself_keeps_old_versions(database: Database, table: type) -> None:
    make_mix_shop(database)
    with pytest.raises(DBAPIError, match="append-only"), database.writing() as session:
        session.exec(update(table).values(note="something else"))


def test_the_same_key_writes_once_and_with_another_body_is_refused(database: Database) -> None:
    shop = make_mix_shop(database)
    key, line = once(), LineAsked(shop.ids["spirit"], "1 l")
    with database.writing() as session:
        one = write_recipe(session, shop.actor(), shop.now, RecipeAsked(key, "Twice", (line,)))
        two = write_recipe(session, shop.actor(), shop.now, RecipeAsked(key, "Twice", (line,)))
        assert two.repeated and one.result == two.result
        with pytest.raises(Stale) as caught:
            write_recipe(session, shop.actor(), shop.now, RecipeAsked(key, "Thrice", (line,)))
    assert caught.value.kind is StaleKind.ONCE_REUSED


def test_who_may_and_what_is_there(database: Database) -> None:
    shop = make_mix_shop(database)
    asked = RecipeAsked(once(), "Mine", (LineAsked(shop.ids["spirit"], "1 l"),))
    for role in (Role.STUDENT, Role.READER):
        with pytest.raises(NotAllowed), database.writing() as session:
            write_recipe(session, shop.actor(role), shop.now, asked)
    with pytest.raises(NotFound), database.writing() as session:
        revise_recipe(session, shop.actor(), shop.now, 999, 1, asked)
    with pytest.raises(Invalid), database.writing() as session:
        unknown = RecipeAsked(once(), "Mine", (LineAsked(9999, "1 l"),))
        write_recipe(session, shop.actor(), shop.now, unknown)


def test_a_recipe_is_put_away_and_taken_back(database: Database) -> None:
    shop = make_mix_shop(database)
    with database.writing() as session:
        assert not put_away_recipe(session, shop.actor(), shop.now, shop.recipe, 1, active=False).active
        with pytest.raises(Stale):
            put_away_recipe(session, shop.actor(), shop.now, shop.recipe, 1, active=True)
        assert put_away_recipe(session, shop.actor(), shop.now, shop.recipe, 2, active=True).active
