"""In the pack stand what is out of its container, wipes kept too long, and what somebody let through."""

from __future__ import annotations

from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest

from service.actions.draw_stock import DrawAsked, draw
from service.actions.finish_batch import FinishAsked, finish
from service.actions.keep_wipes import BeginAsked, LeaveAsked, begin_wipes, send_wipes
from service.actions.lose_stock import DiscardAsked, discard
from service.actions.note_change import note_change
from service.core.access import Role
from service.core.inspection_pack import Pack, Section
from service.core.ledger import Destination
from service.core.materials import Unknown
from service.core.never_with import CONFIRMED_FIELD
from service.core.pot_waste import PotWentTo
from service.core.wipes import WipesWay
from service.records.duties import MOVE_DUTY, Duty
from service.records.engine import Database
from service.records.places import PlaceKind
from service.web.pack_view import make_pack
from tests.builders import TODAY
from tests.mixing_shop import MixShop, make_mix_shop
from tests.store_builders import once, place


@pytest.fixture
def mix(database: Database) -> MixShop:
    return make_mix_shop(database)


def printed(mix: MixShop, folder: Path, **more: Any) -> Pack:
    return make_pack(mix.database, mix.now, folder, **more)


def section(pack: Pack, key: str) -> Section:
    return next(one for one in pack.sections if one.key == key)


def cell(pack: Pack, key: str, first: str | int, column: str) -> Any:
    """The cell of the line that begins with these words; None: there is no such line."""
    table = section(pack, key)
    rows = [row for row in table.rows if row[0] == first]
    return rows[0][table.header.index(column)] if rows else None


def act(mix: MixShop, do: Any, asked: Any, *more: Any) -> dict[str, Any]:
    mix.now += timedelta(minutes=1)
    with mix.database.writing() as session:
        result: dict[str, Any] = do(session, mix.actor(Role.KEEPER), mix.now, asked, *more).result
    return result


def test_what_was_drawn_and_stands_on_a_bench_is_here(mix: MixShop, tmp_path: Path) -> None:
    """29 CFR 1910.1200(e)(1)(i): the list is of what is known to be present, in its container or not."""
    code = mix.can("spirit", 500_000)
    act(mix, draw, DrawAsked(once=once(), code=code, amount="500 ml", job_id=mix.job))
    assert cell(printed(mix, tmp_path), "hazardous-chemicals", "spirit", "amount").replace("\u00a0", " ") == (
        "0 ml; 500 ml drawn or in a pot"
    )
    act(mix, discard, DiscardAsked(once=once(), code=code, destination=Destination.DRY_REFUSE))
    pack = printed(mix, tmp_path)
    amount = cell(pack, "hazardous-chemicals", "spirit", "amount").replace("\u00a0", " ")
    assert amount == "500 ml drawn or in a pot"
    assert cell(pack, "data-sheets", "spirit", "gaps") == "no sheet is kept"
    assert cell(pack, "data-sheets", "spirit", "containers") == 0
    assert cell(pack, "ventilation", "spirit", "ventilation class") is not None


def test_what_is_in_a_pot_is_here_until_somebody_says_where_it_went(mix: MixShop, tmp_path: Path) -> None:
    mix.can("raw umber", 500_000)
    code = mix.can("spirit", 300_000)
    batch = int(mix.start(mix.keep(recipe=mix.write(("spirit", "300 ml"), name="Wash"))).result["batch"])
    act(mix, discard, DiscardAsked(once=once(), code=code, destination=Destination.DRY_REFUSE))
    amount = cell(printed(mix, tmp_path), "hazardous-chemicals", "spirit", "amount")
    assert amount.replace("\u00a0", " ") == "300 ml drawn or in a pot"
    act(mix, finish, FinishAsked(once=once(), batch_id=batch, went_to=PotWentTo.ON_THE_WORK), once)
    assert cell(printed(mix, tmp_path), "hazardous-chemicals", "spirit", "amount") is None


def test_wipes_that_stand_too_long_are_told_until_they_leave(mix: MixShop, tmp_path: Path) -> None:
    """40 CFR 261.4(b)(18): 180 days from the first wipe."""
    with mix.database.writing() as session:
        can = place(session, "Wipes can", PlaceKind.RAG_CAN).id or 0
    since = TODAY - timedelta(days=183)
    act(mix, begin_wipes, BeginAsked(once(), can, since, Unknown.YES, Unknown.YES))
    number = 1
    pack = printed(mix, tmp_path)
    assert cell(pack, "solvent-wipes", number, "days over") == 3
    assert cell(pack, "solvent-wipes", number, "stands").startswith("over:")
    assert any("wipes were begun on 2025" in str(row[-1]) for row in section(pack, "late-entries").rows)
    assert section(pack, "solvent-wipes").said[0].startswith("1 stand, 1 of them over 180 days")
    before = mix.now
    mix.now += timedelta(days=1)
    dry = "Wrung out, and nothing stood at the bottom."
    asked = LeaveAsked(once(), number, WipesWay.LAUNDRY, "Weir Lane Laundry", "2 Weir Lane", dry)
    act(mix, send_wipes, asked)
    gone = printed(mix, tmp_path)
    assert cell(gone, "solvent-wipes", number, "stands") == "left"
    assert "Weir Lane Laundry" in cell(gone, "solvent-wipes", number, "who took it")
    past = printed(mix, tmp_path, on=before.date())
    assert cell(past, "solvent-wipes", number, "days over") == 3


def test_what_was_let_through_on_somebodys_word_stays_told(mix: MixShop, tmp_path: Path) -> None:
    keeper = mix.actor(Role.KEEPER)
    with mix.database.writing() as session:
        session.add(
            Duty(
                kind=MOVE_DUTY, sentence="Move spirit, which went over a storage limit: no other place.",
                owed_by=keeper.person_id, due_at=mix.now, created_at=mix.now,
            )
        )  # fmt: skip
        note_change(
            session, keeper, mix.now, ("batch", 7), f"{CONFIRMED_FIELD}never-some", None, "It is dry by now.",
            reason="a, b",
        )  # fmt: skip
    rows = section(printed(mix, tmp_path), "on-somebodys-word").rows
    assert [row[2] for row in rows] == ["over a storage limit", "batch 7 (not known): a, b"]
    assert "no other place" in rows[0][3] and rows[0][4] == "no" and rows[1][3] == "It is dry by now."
    first = mix.now.date()
    mix.now += timedelta(days=1)
    with mix.database.writing() as session:
        duty = session.get_one(Duty, 1)
        duty.done_at, duty.answer = mix.now, "carried over"
        session.add(duty)
    assert "carried over" in section(printed(mix, tmp_path), "on-somebodys-word").rows[0][4]
    assert section(printed(mix, tmp_path, on=first), "on-somebodys-word").rows == rows
