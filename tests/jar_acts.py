"""Filling jars, pouring, looking: the acts that tests about jars share."""

from __future__ import annotations

import itertools
from datetime import date
from typing import Any, Final

from service.actions.check_condition import CheckAsked, check_condition
from service.actions.decant import DecantAsked, decant
from service.actions.fill_jars import JarAsked
from service.actions.finish_batch import FinishAsked, finish
from service.core.access import Role
from service.core.conditions import Found
from service.core.containers import Standing
from service.core.materials import Form, MaterialKind
from service.records.ageing_queries import standing_of
from service.records.engine import Database
from service.records.materials import AgeingPolicyRow, Material
from service.records.stock_queries import material_of
from tests.builders import TODAY, Cast
from tests.mixing_shop import MixShop, make_mix_shop
from tests.store_builders import container, material, once

_chance = itertools.count(1)
TRIED = "A board brushed on Monday was hard by Tuesday noon"


def chance() -> str:
    return f"dissolved {next(_chance)}"


def solution_shop(database: Database, people: Cast | None = None) -> MixShop:
    """A shop with policies for solutions, and a can each of flakes, pearls and spirit."""
    made = make_mix_shop(database, people)
    with database.writing() as session:
        rows: list[dict[str, Any]] = [
            {"kind": MaterialKind.MADE_MIX, "end": "parts"},
            {"key": "shellac_cut", "end": "retest", "sealed_months": 6, "opened_months": 6,
             "hard_months": 12, "extends_months": 3},
            {"key": "hide_glue_mixed", "end": "expiry", "sealed_days": 7, "opened_days": 7},
            {"key": "hide_glue_dry", "end": "retest", "sealed_months": 48, "opened_months": 48},
            {"key": "shellac_dry_waxy", "end": "indefinite"},
            {"kind": MaterialKind.SOLVENT, "end": "retest", "sealed_months": 60, "opened_months": 60},
        ]  # fmt: skip
        for row in rows:
            session.add(AgeingPolicyRow(set_at=made.now, **row))
        for name, key, kind in (
            ("flakes", "shellac_dry_waxy", MaterialKind.RESIN),
            ("pearls", "hide_glue_dry", MaterialKind.GLUE_OR_SIZE),
        ):
            stuff = material(session, name, kind=kind)
            stuff.known_key, stuff.form = key, Form.PIECES
            session.add(stuff)
            session.flush()
            made.ids[name] = stuff.id or 0
    for name in ("flakes", "pearls", "spirit"):
        made.can(name)
    return made


OIL_LIVES: Final = {"end": "retest", "sealed_months": 24, "opened_months": 12, "extends_months": 6}


def oil_shop(database: Database) -> MixShop:
    """The same shop with a policy for its boiled oil that looks extend."""
    made = solution_shop(database)
    with database.writing() as session:
        session.add(AgeingPolicyRow(material_id=made.ids["boiled oil"], set_at=made.now, **OIL_LIVES))
    return made


def jar_of(shop: MixShop, *lines: tuple[str, str], jar: str = "100 ml", form: Form = Form.LIQUID) -> str:
    recipe = shop.write(*lines, name=f"Mix {next(_chance)}")
    batch = int(shop.start(shop.keep(recipe=recipe)).result["batch"])
    with shop.database.writing() as session:
        asked = FinishAsked(
            once=once(), batch_id=batch, jars=(JarAsked(jar),), loss_note="pot", form=form
        )
        return str(finish(session, shop.actor(), shop.now, asked, chance).result["jars"][0]["code"])


def ends(shop: MixShop, code: str) -> date | None:
    with shop.database.reading() as session:
        return container(session, code).in_date_until


def stands(shop: MixShop, code: str) -> Standing:
    with shop.database.reading() as session:
        box = container(session, code)
        stuff: Material = material_of(session, box)
        return standing_of(session, box, stuff, TODAY).standing


LATE = "It was only written down now, in the evening"


def look(shop: MixShop, code: str, found: Found, note: str = "", **said: Any) -> dict[str, Any]:
    with shop.database.writing() as session:
        asked = CheckAsked(once=once(), code=code, found=found, note=note, late_reason=LATE, **said)
        return check_condition(session, shop.actor(Role.KEEPER), shop.now, asked).result


def pour(shop: MixShop, code: str, into: str | None = None, **said: Any) -> str:
    """Pour 50 ml over; the code of the jar."""
    with shop.database.writing() as session:
        asked = DecantAsked(
            once=once(), code=code, into=into or "", looked=True, late_reason=LATE,
            **{"amount": "50 ml"} | said,
        )  # fmt: skip
        done = decant(session, shop.actor(Role.KEEPER), shop.now, asked, chance).result
    return str(done["into"]["code"]) if into is None else into
