"""What a batch cost: shares of prices, "at least" where something is not known; price and currency."""

from __future__ import annotations

import itertools
from decimal import Decimal
from fractions import Fraction

import pytest
from sqlmodel import col, select

from service.actions.arrivals import ReceiveAsked
from service.actions.cost_of_batch import BatchCost, cost_of_batch
from service.actions.receive_stock import receive
from service.actions.set_up_shop import Profile, change_profile
from service.core.access import Role
from service.core.findings import Invalid
from service.records.engine import Database
from service.records.mixing_queries import the_batch
from service.records.shop import ShopProfile
from service.records.stock import Container
from tests.actions.sample_steps import Sampled, begun
from tests.mixing_shop import make_mix_shop
from tests.store_builders import once

_codes = itertools.count(1)


def chance() -> str:
    return f"price {next(_codes)}"


def cost(made: Sampled) -> BatchCost:
    with made.shop.database.reading() as session:
        return cost_of_batch(session, the_batch(session, made.batch))


def priced(database: Database, code: str, price: str | None) -> None:
    with database.writing() as session:
        box = session.exec(select(Container).where(col(Container.code) == code)).one()
        box.price = Decimal(price) if price else None


def test_each_container_gives_its_share(database: Database) -> None:
    made = begun(database, price="20")
    made.add("spirit", "100 ml"), made.add("raw umber", "10 g"), made.add("spirit", "50 ml")
    told = cost(made)
    assert (told.cost.exact, told.cost.at_least) == (Fraction(32, 10), False)
    assert told.words == "3.20" and told.per is None


def test_unknown_price_or_amount_makes_it_at_least_and_never_nothing(database: Database) -> None:
    made = begun(database)
    made.add("spirit", "100 ml"), made.add("boiled oil", "100 ml")
    priced(database, made.cans["boiled oil"], None)
    told = cost(made)
    assert (told.cost.exact, told.cost.at_least) == (2, True) and told.words == "at least 2.00"
    assert "cost-not-known" in {f.code for f in told.findings}
    made.unmeasured("spirit", 5_000)
    assert (cost(made).cost.exact, cost(made).cost.at_least) == (0, True)


def test_water_from_the_tap_and_a_can_of_unknown_content(database: Database) -> None:
    made = begun(database)
    made.add("tap water", "100 ml")
    assert (cost(made).cost.exact, cost(made).cost.at_least) == (0, True)
    made.cans["spirit"] = made.shop.can("spirit", None, price=Decimal(9))
    made.add("spirit", "10 ml", more_than_book=True, looked=True)
    assert made.cans["spirit"] and {f.about for f in cost(made).findings} >= {"tap water"}
    assert cost(made).cost.exact == 0 and len(cost(made).findings) == 2


def test_what_was_put_back_is_taken_off_also_from_another_can(database: Database) -> None:
    made = begun(database)
    other = made.shop.can("spirit", price=Decimal(1000))
    made.add("spirit", "100 ml")
    made.put_back("spirit", 25_000)
    assert cost(made).cost.exact == Fraction(3, 2)
    made.put_back("spirit", 25_000, can=other)
    assert cost(made).cost.exact == 1
    made.take_back(made.add("raw umber", "500 g"))
    assert cost(made).cost.exact == 1


def test_a_container_never_costs_more_than_was_paid(database: Database) -> None:
    made = begun(database)
    made.add("spirit", "1.1 l", more_than_book=True)
    assert cost(made).cost.exact == 20


def test_the_cost_of_a_litre_where_the_yield_is_known(database: Database) -> None:
    made = begun(database)
    made.add("spirit", "500 ml")
    made.finish("400 ml", loss_note="pot")
    with database.writing() as session:
        session.get_one(ShopProfile, 1).currency = "EUR"
    told = cost(made)
    assert told.words == "10.00 EUR" and told.per_words == "25.00 EUR for 1 l"
    priced(database, made.cans["spirit"], None)
    assert cost(made).per_words == "at least 0.00 EUR for 1 l"


@pytest.mark.parametrize("price", [None, "0", "12.5", "0.0001", "1000000"])
def test_receiving_keeps_the_price_of_each(database: Database, price: str | None) -> None:
    shop = make_mix_shop(database)
    paid = Decimal(price) if price else None
    asked = ReceiveAsked(once=once(), material_id=shop.ids["spirit"], count=2, amount="1 l", price=paid)
    for _ in range(2):
        with database.writing() as session:
            receive(session, shop.actor(), shop.now, asked, chance)
    with database.reading() as session:
        assert [box.price for box in session.exec(select(Container)).all()] == [paid, paid]


@pytest.mark.parametrize("price", ["-1", "1000000.01", "0.00001", "NaN", "Infinity"])
def test_a_price_that_is_none_is_refused(database: Database, price: str) -> None:
    shop = make_mix_shop(database)
    asked = ReceiveAsked(once=once(), material_id=shop.ids["spirit"], amount="1 l", price=Decimal(price))
    with pytest.raises(Invalid) as wrong, database.writing() as session:
        receive(session, shop.actor(), shop.now, asked, chance)
    assert list(wrong.value.errors) == ["price"]


def test_the_currency_is_named_once_prices_stand(database: Database) -> None:
    shop = make_mix_shop(database)
    keeper = shop.actor(Role.KEEPER)

    def name(currency: str | None) -> str | None:
        with database.writing() as session:
            row = session.get_one(ShopProfile, 1)
            said = Profile(row.name, row.time_zone, row.regime, row.unit_system, row.rag_grace_min, currency)
            return change_profile(session, keeper, shop.now, row.version, said).currency

    assert name("usd") == "USD" and name("EUR") == "EUR"
    with pytest.raises(Invalid) as wrong:
        name("EURO")
    assert list(wrong.value.errors) == ["currency"]
    shop.can("spirit", price=Decimal(5))
    with pytest.raises(Invalid, match="stand in the book"):
        name("USD")
    assert name("eur") == "EUR" and name("") is None and name("USD") == "USD"
