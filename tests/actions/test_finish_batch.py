"""The end of a batch: jars that inherit what went in, the made mix, and the balance in plain words."""

from __future__ import annotations

import itertools
from dataclasses import replace
from datetime import date, timedelta
from decimal import Decimal
from typing import Any

import pytest
from sqlmodel import col, select

from service.actions.add_to_batch import AddAsked, add
from service.actions.correct_entry import ReverseAsked, reverse
from service.actions.draw_stock import DrawAsked, draw
from service.actions.fill_jars import JarAsked
from service.actions.finish_batch import FinishAsked, balance_of, finish
from service.actions.look_at_finish import look_at_finish
from service.actions.settle import Settled
from service.actions.undo_addition import UndoAsked, undo_addition
from service.core.access import Role
from service.core.additions import HowAdded, WasIn
from service.core.bench_writing import Ambiguous
from service.core.containers import ContainerState
from service.core.findings import Invalid, NotAllowed, Refused, Stale
from service.core.ledger import MovementKind
from service.core.materials import Basis, Form, MaterialKind, SelfHeating
from service.records.engine import Database
from service.records.jobs import JobPerson
from service.records.material_queries import counts_keeper_only, counts_self_heating
from service.records.materials import AgeingPolicyRow, Material
from service.records.mixing import BatchState
from service.records.mixing_queries import jars_of
from service.records.stock import Movement
from tests.mixing_shop import MixShop, make_mix_shop
from tests.store_builders import holds, once

_chance = itertools.count(1)


def chance() -> str:
    return f"chance {next(_chance)}"


def filled(database: Database, *lines: tuple[str, str], **facts: Any) -> tuple[MixShop, int]:
    """A running batch; the spirit's can has the facts given. Made mixes last as long as what went in."""
    shop = make_mix_shop(database)
    with database.writing() as session:
        session.add(AgeingPolicyRow(kind=MaterialKind.MADE_MIX, end="parts", set_at=shop.now))
    shop.can("raw umber"), shop.can("boiled oil"), shop.can("spirit", **facts)
    recipe = shop.write(*lines, name="Glaze") if lines else shop.recipe
    return shop, int(shop.start(shop.keep(recipe=recipe)).result["batch"])


def end(shop: MixShop, batch: int, *jars: str, role: Role = Role.FINISHER, **said: Any) -> Settled:
    asked = FinishAsked(
        **({"once": once(), "batch_id": batch, "jars": tuple(JarAsked(jar) for jar in jars)} | said)
    )
    with shop.database.writing() as session:
        return finish(session, shop.actor(role), shop.now, asked, chance)


def test_jars_inherit_dates_lots_hazards_and_the_mark(database: Database) -> None:
    ends = date(2026, 9, 1)
    shop, batch = filled(database, printed_date=ends, lot="L-7", packed_on=date(2019, 5, 1))
    done = end(shop, batch, "250 ml", "250 ml", loss_note="pot").result
    assert [jar["written"] for jar in done["jars"]] == ["250 ml", "250 ml"]
    jar = shop.box(done["jars"][0]["code"])
    assert (jar.state, jar.balance, jar.made_by_batch_id) == (ContainerState.OPEN, 250_000, batch)
    assert (jar.packed_on, jar.lot, jar.printed_date) == (date(2019, 5, 1), "L-7", ends)
    assert jar.in_date_until == ends and jar.inherited_self_heating is SelfHeating.YES
    assert jar.inherited_hazards == []
    with database.reading() as session:
        made = session.exec(select(Movement).where(col(Movement.container_id) == jar.id)).one()
        assert (made.kind, made.batch_id, made.self_heating) == (MovementKind.MADE, batch, True)
        assert len(jars_of(session, batch)) == 2
    holds(database)


def test_drawing_from_a_jar_of_oil_joins_the_rags_and_needs_a_job(database: Database) -> None:
    shop, batch = filled(database)
    code = end(shop, batch, "500 ml").result["jars"][0]["code"]
    with database.writing() as session:
        mix = session.get(Material, shop.box(code).material_id)
        assert mix is not None and mix.kind is MaterialKind.MADE_MIX
        mix.self_heating, mix.self_heating_reason = SelfHeating.NO, "somebody switched it off"
        session.add(mix)
        assert counts_self_heating(session, mix, shop.box(code))
    with database.writing() as session:
        asked = DrawAsked(once=once(), code=code, amount="10 ml", job_id=shop.job, looked=True)
        assert draw(session, shop.actor(), shop.now, asked).result["rag_load"] is not None


def test_thirty_draw_from_a_mix_that_students_may_draw(database: Database) -> None:
    shop, batch = filled(database)
    code = end(shop, batch, "500 ml").result["jars"][0]["code"]
    with database.writing() as session:
        session.add(JobPerson(job_id=shop.job, person_id=shop.people.student.id or 0, added_at=shop.now))
    for _ in range(30):
        with database.writing() as session:
            asked = DrawAsked(once=once(), code=code, amount="10 ml", job_id=shop.job)
            draw(session, shop.actor(Role.STUDENT), shop.now, asked)
    assert shop.left(code) == 200_000
    holds(database)


def test_keeper_only_goes_on_into_the_jar(database: Database) -> None:
    shop, batch = filled(database, ("spirit", "100 ml"), ("drier", "to suit"))
    drier = shop.can("drier")
    with database.writing() as session:
        asked = AddAsked(once=once(), batch_id=batch, amount="5 ml", code=drier)
        add(session, shop.actor(), shop.now, asked)
    box = shop.box(end(shop, batch, "100 ml").result["jars"][0]["code"])
    with database.reading() as session:
        mix = session.get(Material, box.material_id)
        assert mix is not None and box.inherited_keeper_only and counts_keeper_only(session, mix, box)


def test_a_mix_of_nothing_that_heats_is_not_self_heating_until_oil_goes_in(database: Database) -> None:
    shop, batch = filled(database, ("raw umber", "10 g"), ("tap water", "500 ml"))
    done = end(shop, batch, "400 ml").result
    box = shop.box(done["jars"][0]["code"])
    with database.reading() as session:
        mix = session.get(Material, box.material_id)
        assert mix is not None and not counts_self_heating(session, mix, box)
        assert f"batch {batch}" in mix.self_heating_reason
    recipe = shop.batch(batch).recipe_id
    second = int(shop.start(shop.keep(recipe=recipe)).result["batch"])
    with database.writing() as session:
        asked = AddAsked(
            once=once(), batch_id=second, amount="5 ml", material_id=shop.ids["boiled oil"], job_id=shop.job
        )
        add(session, shop.actor(), shop.now, asked)
    later = shop.box(end(shop, second, "400 ml").result["jars"][0]["code"])
    with database.reading() as session:
        mix = session.get(Material, later.material_id)
        assert later.material_id == box.material_id and mix is not None
        assert mix.self_heating is SelfHeating.YES and counts_self_heating(session, mix, later)
        # The first jar never becomes milder than the material, and what is in it is the same either way.
        assert counts_self_heating(session, mix, box)


def test_a_gap_in_what_went_in_is_a_gap_in_the_jar(database: Database) -> None:
    shop = make_mix_shop(database)
    code = shop.can("spirit", packed_on=None, received_on=None, opened_on=None)
    recipe = shop.write(("spirit", "100 ml"), name="Doubtful")
    batch = int(shop.start(shop.keep(recipe=recipe), looked=(code,)).result["batch"])
    box = shop.box(end(shop, batch, "90 ml").result["jars"][0]["code"])
    assert box.inherited_gap and box.in_date_until is None


def test_the_balance_says_what_cannot_be_compared(database: Database) -> None:
    shop, batch = filled(database)
    done = end(shop, batch, "500 ml").result
    assert done["balance"]["went_in"] == ["100 g raw umber", "200 ml boiled oil", "300 ml spirit"]
    assert done["balance"]["came_out"] == ["500 ml Walnut stain"] and done["balance"]["difference"] is None
    said = next(f for f in done["findings"] if f["code"] == "density-not-known")
    assert said["severity"] == "unknown" and "Walnut stain" in said["sentence"]


def test_the_balance_by_mass_when_every_density_is_known(database: Database) -> None:
    shop, batch = filled(database)
    end(shop, batch, "500 ml")
    with database.writing() as session:
        mix = session.exec(select(Material).where(col(Material.kind) == MaterialKind.MADE_MIX)).one()
        mix.density_g_ml = Decimal("1.0")
        session.add(mix)
        session.flush()
        told = balance_of(session, shop.batch(batch))
    # 100 g + 200 ml at 0.93 + 300 ml at 0.78 = 520 g in, 500 g out.
    assert (told.basis, told.difference) == (Basis.MASS, 20_000)
    assert "not-explained" in {f.code for f in told.findings}


def test_what_was_taken_back_is_not_in_the_balance(database: Database) -> None:
    shop, batch = filled(database, ("spirit", "100 ml"), ("spirit", "50 ml"))
    with database.writing() as session:
        asked = AddAsked(once=once(), batch_id=batch, amount="30 ml", material_id=shop.ids["spirit"])
        added = add(session, shop.actor(), shop.now, asked).result["additions"][0]
    with pytest.raises(Refused) as caught, database.writing() as session:
        slip = ReverseAsked(once=once(), movement_id=added["movement"], reason="slip")
        reverse(session, shop.actor(), shop.now, slip)
    assert "in-a-pot" in caught.value.verdict.codes
    with database.writing() as session:
        undo_addition(
            session, shop.actor(), shop.now, UndoAsked(once(), batch, added["id"], "slip", WasIn.NEVER)
        )
    done = end(shop, batch, "150 ml").result
    assert done["balance"]["went_in"] == ["150 ml spirit"] and done["balance"]["difference"] == 0


def test_used_up_at_once_and_not_measured(database: Database) -> None:
    shop, batch = filled(database)
    done = end(shop, batch).result
    assert done["jars"] == [] and shop.batch(batch).state is BatchState.FINISHED
    assert "yield-not-known" in {f["code"] for f in done["findings"]}
    with pytest.raises(Stale):
        end(shop, batch, "10 ml")


def test_made_more_than_is_in_the_jars(database: Database) -> None:
    shop, batch = filled(database)
    with pytest.raises(Invalid) as caught:
        end(shop, batch, "400 ml", made="300 ml")
    assert set(caught.value.errors) == {"made"}
    end(shop, batch, "400 ml", made="about 550 ml")
    assert (shop.batch(batch).yield_written, shop.batch(batch).yield_amount) == ("about 550 ml", 550_000)


@pytest.mark.parametrize(
    ("jar", "error"), [("nonsense", Invalid), ("0 ml", Invalid), ("2 pints", Ambiguous), ("3 parts", Invalid)]
)
def test_a_jar_that_cannot_be_read_keeps_the_batch_running(
    database: Database, jar: str, error: type[Invalid]
) -> None:
    shop, batch = filled(database)
    with pytest.raises(error) as caught:
        end(shop, batch, "100 ml", jar)
    assert set(caught.value.errors) == {"jar_1"}
    assert shop.batch(batch).state is BatchState.RUNNING
    with database.reading() as session:
        assert not jars_of(session, batch)


def test_a_paste_is_counted_by_weight(database: Database) -> None:
    shop, batch = filled(database)
    done = end(shop, batch, "500 g", form=Form.PASTE).result
    assert done["jars"][0]["basis"] == "mass"


def test_nothing_went_in_or_only_water(database: Database) -> None:
    shop = make_mix_shop(database)
    for line, name in ((("drier", "to suit"), "Nothing"), (("tap water", "1 l"), "Water")):
        recipe = shop.write(line, name=name)
        batch = int(shop.start(shop.keep(recipe=recipe)).result["batch"])
        with pytest.raises(Refused) as caught:
            end(shop, batch, "10 ml")
        assert caught.value.verdict.codes == {"nothing-went-in"}


def test_only_those_who_may(database: Database) -> None:
    shop, batch = filled(database)
    for role in (Role.STUDENT, Role.READER):
        with pytest.raises(NotAllowed):
            end(shop, batch, "10 ml", role=role)
    shop.now += timedelta(minutes=1)
    assert end(shop, batch, "10 ml", role=Role.KEEPER).result["state"] == "finished"


def test_measured_or_estimated_is_asked_and_about_is_an_estimate(database: Database) -> None:
    shop, batch = filled(database)
    with pytest.raises(Invalid) as caught:
        end(shop, batch, made="550 ml", yield_how="guessed")
    assert set(caught.value.errors) == {"yield_how"}
    done = end(shop, batch, made="about 550 ml", yield_how="measured").result
    assert done["made_how"] == shop.batch(batch).yield_how == "estimated"
    other = int(shop.start(shop.keep()).result["batch"])
    end(shop, other, "500 ml", yield_how="measured")
    assert (shop.batch(other).yield_how, shop.batch(other).yield_amount) == ("measured", 500_000)
    third = int(shop.start(shop.keep()).result["batch"])
    end(shop, third, yield_how="measured")
    assert shop.batch(third).yield_how is None, "nothing was made that anybody measured"


def test_a_measured_loss_explains_so_much_and_no_more(database: Database) -> None:
    shop, batch = filled(database, ("spirit", "100 ml"), ("spirit", "50 ml"))
    done = end(
        shop, batch, "120 ml", loss="20 ml", loss_note="strainer", strained=True, stir_note="from below"
    ).result
    assert done["balance"] == {
        "went_in": ["150 ml spirit"], "came_out": ["120 ml Glaze"], "difference": 30_000, "basis": "volume",
        "lost": 20_000, "lost_words": "20 ml Glaze", "unexplained": 10_000,
        "sentence": "30 ml less came out than went in = 20 ml recorded as lost + 10 ml not explained.",
    }  # fmt: skip
    assert "not-explained" in {one["code"] for one in done["findings"]}, "words alone no longer do"
    row = shop.batch(batch)
    assert (row.loss_amount, row.loss_basis, row.loss_written) == (20_000, "volume", "20 ml")
    assert (row.strained, row.stir_note) == (True, "from below")
    assert done["rag_load"] is None, "no oil went in"
    holds(database)


def test_a_loss_that_is_not_measured_is_not_nothing(database: Database) -> None:
    shop, batch = filled(database, ("spirit", "100 ml"))
    told = end(shop, batch, "80 ml", loss_note="pot").result["balance"]
    assert (told["lost"], told["unexplained"]) == (None, 20_000)
    assert told["sentence"] == "20 ml less came out than went in; no loss was measured."
    with pytest.raises(Invalid) as caught:
        other = int(shop.start(shop.keep(recipe=shop.batch(batch).recipe_id)).result["batch"])
        end(shop, other, loss="a bit")
    assert set(caught.value.errors) == {"loss"}


def test_looking_at_the_balance_books_nothing(database: Database) -> None:
    shop, batch = filled(database, ("spirit", "100 ml"), ("spirit", "50 ml"))
    asked = FinishAsked(once=once(), batch_id=batch, jars=(JarAsked("100 ml"),), loss="30 ml")
    with database.writing() as session:
        told = look_at_finish(session, shop.actor(), shop.now, asked)
    assert (told.difference, told.lost, told.unexplained) == (50_000, 30_000, 20_000)
    with database.reading() as session:
        assert not session.exec(select(Material).where(col(Material.kind) == MaterialKind.MADE_MIX)).all()
        assert not jars_of(session, batch)
        with pytest.raises(Invalid) as caught:
            look_at_finish(session, shop.actor(), shop.now, replace(asked, made="90 ml"))
        assert set(caught.value.errors) == {"made"}
        with pytest.raises(NotAllowed):
            look_at_finish(session, shop.actor(Role.STUDENT), shop.now, asked)
    done = end(shop, batch, "100 ml", loss="30 ml").result["balance"]
    assert (done["difference"], done["lost"], done["unexplained"]) == (50_000, 30_000, 20_000)


def test_no_more_is_made_than_went_in(database: Database) -> None:
    shop, batch = filled(database, ("spirit", "100 ml"), ("tap water", "100 ml"))
    eye = {"made": "1 l", "yield_how": "estimated"}
    for said in ({"made": "1 l"}, eye, {"made": "211 ml"}, {"made": "1 kg"}):
        with pytest.raises(Invalid) as caught:
            end(shop, batch, **said)
        assert set(caught.value.errors) == {"made"} and "Put in on the bench" in caught.value.sentence
    with pytest.raises(Invalid) as caught:
        end(shop, batch, "150 ml", "150 ml")
    assert set(caught.value.errors) == {"jar_0"} and shop.batch(batch).state is BatchState.RUNNING
    asked = FinishAsked(once=once(), batch_id=batch, made="1 l")
    with pytest.raises(Invalid), database.reading() as session:
        look_at_finish(session, shop.actor(), shop.now, asked)
    assert end(shop, batch, made="210 ml").result["made"] == "210 ml"


def test_more_may_come_out_where_nobody_knows_how_much_went_in(database: Database) -> None:
    shop, batch = filled(database, ("spirit", "100 ml"))
    code = shop.can("boiled oil", 500_000)
    with database.writing() as session:
        asked = AddAsked(once=once(), batch_id=batch, code=code, how=HowAdded.NOT_MEASURED)
        add(session, shop.actor(), shop.now, asked)
    with pytest.raises(Invalid):
        end(shop, batch, made="650 ml")
    assert end(shop, batch, made="600 ml").result["made"] == "600 ml"
