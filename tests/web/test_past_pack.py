"""A pack of a day that is over equals the pack that was printed on that day, whatever was entered since."""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from random import Random
from typing import Any

import pytest
from sqlmodel import col, select

from service.actions.begin_drum import BeginDrumAsked, begin_drum
from service.actions.correct_entry import ReverseAsked, reverse
from service.actions.fill_drum import (
    DrumBackAsked,
    SortAsked,
    StepAsked,
    note_drum_step,
    put_discards_in,
    take_back_entry,
)
from service.actions.lose_stock import DiscardAsked, discard
from service.actions.set_up_shop import Profile, change_profile
from service.core.access import Role
from service.core.containers import ContainerState
from service.core.inspection_pack import ABOUT, APART, LACKING, SINCE
from service.core.ledger import Destination
from service.core.materials import MaterialKind
from service.core.waste_drums import Area, DrumStep
from service.outreach.pack_files import section_csv
from service.outreach.pack_paper import pack_pdf
from service.records.materials import Material
from service.records.shop import ShopProfile
from service.records.stock import Container
from service.web.pack_view import make_pack
from tests.pack_week import ACTS
from tests.rag_shop import once as new_key
from tests.web.conftest import Shop
from tests.web.demo_shop import demo_on
from tests.web.test_inspection_pack import pdf_text
from tests.week_at_shop import Week

FIRST = date(2026, 3, 13)
DAYS = 6
ACTS_A_DAY = 65
LOOKED_AT = {FIRST + timedelta(days=1), FIRST + timedelta(days=4)}
SINCE_TITLE = "Recorded since, for the time up to then"
LACKING_TITLE = "Who still lacks which training"


@dataclass(frozen=True)
class Printed:
    """What was printed at the end of a day; the page and the paper of two of the days."""

    tables: dict[str, bytes]
    page: str = ""
    paper: str = ""


def at_the_end_of(day: date) -> datetime:
    """Ten minutes before midnight on the wall in Berlin."""
    return datetime(day.year, day.month, day.day, 22, 50, tzinfo=UTC)


def print_it(shop: Shop, day: date, on: date | None = None) -> Printed:
    """The pack of a day: printed now, or with ``on`` asked for later."""
    pack = make_pack(shop.database, shop.clock(), shop.app.state.settings.data, on)
    tables = {one.key: section_csv(one) for one in pack.sections}
    if day not in LOOKED_AT:
        return Printed(tables)
    query = f"?on_date={on.isoformat()}" if on else ""
    page = shop.signed_in(Role.READER).get(f"/inspection-pack{query}").text
    return Printed(tables, without_apart(page), " ".join(pdf_text(pack_pdf(pack))))


def without_apart(page: str) -> str:
    """The sections of the page but those that tell what is known by now."""
    sections = re.findall(r'<section id="[a-z-]+">.*?</section>', page, re.DOTALL)
    return "".join(one for one in sections if not any(f'id="{key}"' in one for key in APART))


def rows_of(table: bytes) -> list[list[str]]:
    return list(csv.reader(io.StringIO(table.decode("utf-8-sig"))))


@pytest.fixture(scope="module", params=["sqlite", "postgres"])
def told(
    request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory
) -> Iterator[tuple[Shop, Week, dict[date, Printed]]]:
    """The demo, a week of acts at random after it, and what was printed at the end of each of its days."""
    folder: Path = tmp_path_factory.mktemp("past")
    with demo_on(request.param, request, folder) as shop:
        week = Week(shop.database, shop.actor(Role.KEEPER), folder, shop.clock(), Random(20_260_313))
        printed: dict[date, Printed] = {}
        for number in range(DAYS):
            day = FIRST + timedelta(days=number)
            week.now = datetime(day.year, day.month, day.day, 6, tzinfo=UTC)
            week.a_day(ACTS_A_DAY, ACTS)
            shop.clock.now = at_the_end_of(day)
            printed[day] = print_it(shop, day)
        yield shop, week, printed


def test_every_kind_of_act_was_done_and_changed_something(
    told: tuple[Shop, Week, dict[date, Printed]],
) -> None:
    _, week, printed = told
    assert {act.__name__ for act in ACTS} - set(week.done) == set()
    # Nothing is put into a drum by words in that week, so the codes of the drums stay.
    same = {"overrides", "record-periods", "drum-codes", SINCE, LACKING}
    for key in set(next(iter(printed.values())).tables) - same:
        assert len({one.tables[key] for one in printed.values()}) > 1, f"{key} never changed in the week"


def test_each_day_is_told_again_as_it_was_printed(told: tuple[Shop, Week, dict[date, Printed]]) -> None:
    shop, _, printed = told
    shop.clock.now = at_the_end_of(FIRST + timedelta(days=DAYS)) + timedelta(days=3)
    for day, then in printed.items():
        now = print_it(shop, day, day)
        differ = [key for key in then.tables if key not in APART and now.tables[key] != then.tables[key]]
        assert differ == [], f"{day}: {differ}"
        assert now.page == then.page
        about, before = (dict(rows_of(one.tables[ABOUT])) for one in (now, then))
        said = {"of what", "printed", "takes what was recorded until", SINCE_TITLE, LACKING_TITLE}
        assert {key for key in before if about[key] != before[key]} <= said
        if day in LOOKED_AT:
            assert before["ledger head"].split("SHA-256 ")[1] in now.paper


def test_what_was_written_down_since_stands_apart(told: tuple[Shop, Week, dict[date, Printed]]) -> None:
    shop, week, printed = told
    shop.clock.now = at_the_end_of(FIRST + timedelta(days=DAYS))
    assert all(len(rows_of(one.tables[SINCE])) == 1 for one in printed.values())
    folder = shop.app.state.settings.data
    packs = [make_pack(shop.database, shop.clock(), folder, day) for day in printed]
    since = [rows_of(section_csv(pack.section(SINCE)))[1:] for pack in packs]
    assert sum(map(len, since)) > 5
    for day, rows in zip(printed, since, strict=True):
        late = {row[0] for row in rows_of(printed[day].tables["late-entries"])[1:]}
        ends = at_the_end_of(day) + timedelta(minutes=10)
        for row in rows:
            assert row[0] not in late
            assert ends <= datetime.fromisoformat(row[4])
            if row[6] == "happened then":
                assert datetime.fromisoformat(row[3]) < ends
            assert len(row[5]) > 10
    assert sum("takes back movement" in row[6] for rows in since for row in rows) > 0
    assert week.done["take_some"] > 0


def test_another_time_zone_since_does_not_cut_the_day_otherwise(
    request: pytest.FixtureRequest, tmp_path: Path
) -> None:
    with demo_on("sqlite", request, tmp_path) as shop:
        shop.clock.now = at_the_end_of(FIRST - timedelta(days=1))
        then = print_it(shop, FIRST, None).tables
        with shop.database.writing() as session:
            row = session.get_one(ShopProfile, 1)
            said = Profile(row.name, "Pacific/Auckland", row.regime, row.unit_system, 0, row.currency)
            at = shop.clock.now + timedelta(days=2)
            change_profile(session, shop.actor(Role.KEEPER), at, row.version, said)
        shop.clock.now += timedelta(days=3)
        now = print_it(shop, FIRST, FIRST - timedelta(days=1)).tables
        assert [key for key in then if key not in APART and now[key] != then[key]] == []
        about, before = (dict(rows_of(one[ABOUT])) for one in (now, then))
        assert about["time zone"] == before["time zone"] == "Europe/Berlin"
        assert about["takes what was recorded until"] == "2026-03-12 23:59"


def test_what_was_taken_back_or_sorted_since_is_told_beside_the_late_entries(
    request: pytest.FixtureRequest, tmp_path: Path
) -> None:
    with demo_on("sqlite", request, tmp_path) as shop:
        keeper, reason = shop.actor(Role.KEEPER), "It was the other drum."

        def done(act: Any, asked: Any) -> Any:
            with shop.database.writing() as session:
                return act(session, keeper, shop.clock(), asked).result

        begin = BeginDrumAsked(
            once=new_key(), name="P1", stream="Sludge", hazards="Ignitable", area=Area.CENTRAL
        )
        drum = done(begin_drum, begin)["drum"]
        put = StepAsked(
            once=new_key(), drum_id=drum, step=DrumStep.PUT_IN, amount="3 l", what="Sludge"
        )
        entry = done(note_drum_step, put)["entry"]
        with shop.database.reading() as session:
            solvents = select(Container.code).join(Material).where(Material.kind == MaterialKind.SOLVENT)
            code = session.exec(solvents.where(col(Container.state) == ContainerState.SEALED)).first() or ""
        to = Destination.WASTE_DRUM
        sorted_in, undone = (
            done(discard, DiscardAsked(once=new_key(), code=code, amount="1 ml", destination=to))["movement"]
            for _ in range(2)
        )
        shop.clock.now += timedelta(days=1)
        done(take_back_entry, DrumBackAsked(once=new_key(), entry_id=entry, reason=reason))
        done(reverse, ReverseAsked(new_key(), undone, reason))
        done(put_discards_in, SortAsked(once=new_key(), drum_id=drum, movements=(sorted_in,)))
        folder = shop.app.state.settings.data
        pack = make_pack(shop.database, shop.clock(), folder, FIRST - timedelta(days=1))
        told = [row[6] for row in pack.section(SINCE).rows]
        assert told == [
            f"takes back of drum P1 its entry {entry} (put-in)", f"takes back movement {undone}",
            f"says that movement {sorted_in} went into drum P1 on 2026-03-12",
        ]  # fmt: skip
        assert [row[5] for row in pack.section(SINCE).rows][:2] == [reason] * 2
        late = make_pack(shop.database, shop.clock(), folder).section("late-entries").rows
        assert told[2] in [row[5] for row in late], "today's pack has it too"
