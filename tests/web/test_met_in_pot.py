"""Chlorine bleach and vinegar that met already: said on the batch, kept out of jars, printed on labels.

That chlorine bleach and an acid give off chlorine gas: from memory (school chemistry).
"""

from __future__ import annotations

from typing import Any

import pytest
from sqlmodel import col, select

from service.core.access import Role
from service.core.materials import Basis, Form, MaterialKind
from service.records.stock import Container
from tests.mixing_shop import MixShop, make_mix_shop
from tests.store_builders import material
from tests.web.conftest import Shop
from tests.web.test_jar_pages import FORM, plain

GAS = "gives off chlorine gas"
HAPPENED: dict[str, Any] = {"when": "done", "reason": "A student poured it in by mistake."}
LIQUID: dict[str, Any] = {"basis": Basis.VOLUME, "form": Form.LIQUID, "kind": MaterialKind.OTHER_CHEMICAL}


@pytest.fixture
def mix(shop: Shop) -> MixShop:
    made = make_mix_shop(shop.database, shop.cast)
    with shop.database.writing() as session:
        bleach, vinegar = (material(session, name, **LIQUID) for name in ("chlorine bleach", "vinegar"))
        bleach.cas, vinegar.cas = "7681-52-9", "64-19-7"
        session.flush()
        made.ids |= {m.name: m.id or 0 for m in (bleach, vinegar)}
    made.can("chlorine bleach"), made.can("vinegar")
    return made


def gassed(mix: MixShop) -> int:
    """A batch in which both were put together, recorded after it had happened."""
    recipe = mix.write(("chlorine bleach", "500 ml"), ("vinegar", "50 ml"), name="Bleach bath")
    check = mix.keep(recipe=recipe)
    done = mix.start(check, already_done=True, late_reason="The jars were mixed up on the shelf.")
    return int(done.result["batch"])


def test_the_batch_its_sheet_and_the_call_say_what_met(shop: Shop, mix: MixShop) -> None:
    client, batch = shop.signed_in(Role.FINISHER), gassed(mix)
    for address in (f"/bench/{batch}", f"/bench/{batch}/sheet", f"/bench/{batch}/finish"):
        text = plain(client.get(address).text)
        assert GAS in text, address
    assert "It goes into no jar" in plain(client.get(f"/bench/{batch}/finish").text)
    said = shop.api(Role.FINISHER).get(f"/api/batches/{batch}").json()["met"]
    assert [one["code"] for one in said] == ["never-hypochlorite-acid"] and GAS in said[0]["sentence"]


def test_it_is_filled_into_a_jar_only_when_that_has_happened(shop: Shop, mix: MixShop) -> None:
    client, batch = shop.signed_in(Role.FINISHER), gassed(mix)
    no = client.post(f"/bench/{batch}/finish", data=FORM)
    assert no.status_code == 409 and GAS in plain(no.text) and 'value="From the bottom"' in no.text
    with shop.database.reading() as session:
        assert not session.exec(select(Container).where(col(Container.made_by_batch_id) == batch)).all()
    done = client.post(f"/bench/{batch}/finish", data=FORM | HAPPENED)
    assert done.status_code == 303, plain(done.text)[:2000]
    with shop.database.reading() as session:
        box = session.exec(select(Container).where(col(Container.made_by_batch_id) == batch)).one()
        code = box.code
    assert GAS in plain(client.get(f"/bench/{batch}").text)
    jar = plain(client.get(f"/containers/{code}").text)
    assert "Should never have met, and is in this jar" in jar and GAS in jar
    for label in ("jar-label", "hazard-label"):
        page = client.get(f"/containers/{code}/{label}?size=148x210").text
        svg = plain(page[page.index('<svg xmlns="http://www.w3.org/2000/svg" class="hazard-label') :])
        assert "Should never have met:" in svg and "chlorine gas" in svg, label
    keeper = shop.signed_in(Role.KEEPER)
    short = keeper.get(f"/containers/{code}/jar-label?use=workplace&size=148x210")
    assert short.status_code == 409 and GAS in plain(short.text)


def test_nothing_tells_anybody_to_fill_stir_or_coat_with_it(shop: Shop, mix: MixShop) -> None:
    client, batch = shop.signed_in(Role.FINISHER), gassed(mix)
    assert client.post(f"/bench/{batch}/finish", data=FORM | HAPPENED).status_code == 303
    with shop.database.reading() as session:
        box = session.exec(select(Container).where(col(Container.made_by_batch_id) == batch)).one()
        code = box.code
    label = f"/containers/{code}/jar-label?size=148x210"
    for address in (f"/bench/{batch}/sheet", f"/containers/{code}", label):
        text = plain(client.get(address).text)
        assert "as full as you can" not in text and "Stir before each dip" not in text, address
        assert "From the bottom" not in text or address.endswith("sheet"), address
        assert "no precaution of the law" not in text
    sheet = plain(client.get(f"/bench/{batch}/sheet").text)
    assert "Leave it open outdoors or under extraction" in sheet and "it is not stirred" in sheet
    said = shop.api(Role.FINISHER).get(f"/api/batches/{batch}").json()["after_use"]
    assert said["stir"] == "Do not stir it, and do not shut it tight." and "no jar" in said["left_over"]
    keeper = shop.signed_in(Role.KEEPER)
    alerts = plain(keeper.get("/alerts").text)
    assert "Make sure that it is safe now; then write down what was done about it." in alerts


def test_it_can_be_given_up_without_a_jar(shop: Shop, mix: MixShop) -> None:
    client, batch = shop.signed_in(Role.FINISHER), gassed(mix)
    form = {"once": "up-1", "reason": "It gave off gas", "went_to": "waste-drum"}
    done = client.post(f"/bench/{batch}/give-up", data=form)
    assert done.status_code == 303, plain(done.text)[:1500]
    assert GAS in plain(client.get(f"/bench/{batch}").text)


def test_a_batch_of_oil_and_colour_says_nothing_of_the_kind(shop: Shop, mix: MixShop) -> None:
    client = shop.signed_in(Role.FINISHER)
    recipe = mix.write(("chlorine bleach", "500 ml"), name="Bleach bath")
    batch = int(mix.start(mix.keep(recipe=recipe)).result["batch"])
    assert "never have met" not in plain(client.get(f"/bench/{batch}").text)
    assert shop.api(Role.FINISHER).get(f"/api/batches/{batch}").json()["met"] == []
