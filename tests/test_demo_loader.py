"""The demo shop is sensible at whatever hour it is loaded, and obeys the rules of the service."""

from __future__ import annotations

from datetime import UTC, datetime, time, timedelta
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest
from sqlmodel import Session, col, func, select

from service.actions.check_ledger import check
from service.actions.check_mix import MixAsked, check_mix
from service.actions.list_alerts import list_alerts
from service.actions.rag_duty import blocked_by
from service.actions.tablets import people_to_tap
from service.actions.witness import heads_in, prove
from service.config import Settings
from service.core.access import Actor, Role
from service.core.ageing import judge
from service.core.containers import Condition, ContainerState, Standing
from service.core.findings import NotAllowed, Severity
from service.core.rag_judgement import Phase
from service.demo_loader import load_demo
from service.demo_loader.tale import LEAST, read, shifts, times
from service.records.ageing_queries import lives_of
from service.records.engine import Database
from service.records.job_queries import running_jobs
from service.records.materials import Material
from service.records.mixing import Batch, BatchState, Recipe
from service.records.people import Person
from service.records.pot_waste import nobody_said_where
from service.records.rag_queries import standing_loads
from service.records.rags import RagLoad
from service.records.shop import EmergencyNumber, ShopProfile
from service.records.stock import Container, Posting
from tests.builders import FAST_HASHER

BERLIN, CHICAGO, AUCKLAND = "Europe/Berlin", "America/Chicago", "Pacific/Auckland"


def local(zone: str, *clock: int, fold: int = 0) -> datetime:
    return datetime(*clock, tzinfo=ZoneInfo(zone), fold=fold).astimezone(UTC)  # type: ignore[misc,arg-type]


HOURS = [
    (BERLIN, local(BERLIN, 2026, 11, 25, 10, 40)),
    (BERLIN, local(BERLIN, 2026, 11, 25, 23, 50)),
    (BERLIN, local(BERLIN, 2026, 11, 26, 0, 10)),
    (BERLIN, local(BERLIN, 2026, 11, 26, 0, 0)),
    (BERLIN, local(BERLIN, 2026, 11, 25, 16, 31)),
    (BERLIN, local(BERLIN, 2026, 11, 25, 19, 34)),
    (BERLIN, local(BERLIN, 2026, 11, 25, 20, 54)),
    (BERLIN, local(BERLIN, 2026, 11, 28, 14, 0)),  # Saturday
    (BERLIN, local(BERLIN, 2026, 11, 29, 22, 30)),  # Sunday night
    (BERLIN, local(BERLIN, 2026, 10, 25, 2, 30, fold=1)),  # the hour that comes twice
    (BERLIN, local(BERLIN, 2026, 3, 29, 3, 5)),  # just after the hour that is skipped
    (CHICAGO, local(CHICAGO, 2026, 3, 8, 23, 59)),
    (AUCKLAND, local(AUCKLAND, 2026, 4, 5, 3, 30)),
    ("America/Santiago", local("America/Santiago", 2026, 9, 6, 1, 20)),  # a day without midnight
    ("UTC", datetime(2028, 2, 29, 7, 59, tzinfo=UTC)),
]


def loaded(database: Database, folder: Path, zone: str, now: datetime) -> Settings:
    settings = Settings(data=folder, database_url=str(database.engine.url))
    load_demo(database, settings, now, zone, FAST_HASHER)
    return settings


def actor(session: Session, key: str) -> Actor:
    person = session.exec(select(Person).where(col(Person.sign_in_name) == key)).one()
    assert person.id is not None
    return Actor(person.id, person.name, person.role)


def standings(session: Session, now: datetime, zone: str) -> list[Standing]:
    rows = session.exec(
        select(Container, Material)
        .join(Material, col(Material.id) == col(Container.material_id))
        .where(col(Container.state).in_([ContainerState.SEALED, ContainerState.OPEN]))
    ).all()
    today = now.astimezone(ZoneInfo(zone)).date()
    return [judge(life, today).standing for life in lives_of(session, list(rows))]


@pytest.mark.parametrize(("zone", "now"), HOURS)
def test_it_is_sensible_at_any_hour(
    sqlite_database: Database, tmp_path: Path, zone: str, now: datetime
) -> None:
    loaded(sqlite_database, tmp_path, zone, now)
    seen = now + LEAST
    with sqlite_database.reading() as session:
        assert [job.name for job in running_jobs(session, seen)] == ["Class: glazing sample boards"]
        assert running_jobs(session, seen)[0].ends_by >= now + timedelta(minutes=110)
        loads = {load.job.name: load for load in standing_loads(session, seen)}
        late, used = loads.pop("Table top, last coat"), loads.pop("Class: glazing sample boards")
        assert late.judgement.loose_overdue
        assert late.owner.name == "Ivo Lindgate"
        assert used.judgement.phase is Phase.IN_USE
        assert [load.judgement.phase for load in loads.values()] == [Phase.WAITING]
        assert blocked_by(session, seen).blocking
        assert set(standings(session, now, zone)) == set(Standing)
        # The clock walked: one thing was read afterwards from the tags, nothing lies in days to come.
        late_acts = session.exec(select(Posting.act).where(col(Posting.late).is_(True))).all()
        assert list(late_acts) == ["do-check"]
        assert session.exec(select(func.max(Posting.recorded_at))).one() <= seen
        assert check(session).faults == ()


def test_the_story(database: Database, tmp_path: Path) -> None:
    """On both databases: everything the demo is there to show."""
    zone, now = HOURS[0]
    settings = loaded(database, tmp_path, zone, now)
    with database.reading() as session:
        shop = session.get_one(ShopProfile, 1)
        assert shop.is_demo
        assert "EXAMPLE TEXT" in shop.emergency_text
        assert all("example" in row.who for row in session.exec(select(EmergencyNumber)).all())
        roles = session.exec(select(Person.role).order_by(col(Person.id))).all()
        assert roles.count(Role.KEEPER) == 2
        assert set(roles) == set(Role)
        assert {p.name for p in people_to_tap(session, now.date())} >= {"Mina Tell", "Tilda Marsh"}

        boxes = session.exec(select(Container)).all()
        assert {box.state for box in boxes} == set(ContainerState)
        assert {box.condition for box in boxes} == {Condition.SOUND, Condition.DAMAGED}
        assert [box.lot for box in boxes].count("RS-52") == 12
        assert any(box.balance is None for box in boxes)

        proof = prove(session, heads_in(settings.data, ZoneInfo(zone)).heads)
        assert proof.fits
        assert proof.outside == 1
        assert session.exec(select(func.count()).select_from(RagLoad)).one() == 4
        states = [batch.state for batch in session.exec(select(Batch).order_by(col(Batch.id))).all()]
        assert states == [BatchState.FINISHED, BatchState.FINISHED, BatchState.SET_ASIDE, BatchState.RUNNING]
        worst = list_alerts(session, now, 14)[0]
        assert (worst.owner, worst.severity) == ("Ivo Lindgate", Severity.STOP)


def test_what_its_batches_left_is_told(database: Database, tmp_path: Path) -> None:
    loaded(database, tmp_path, *HOURS[2])
    with database.reading() as session:
        assert nobody_said_where(session) == []


def test_one_recipe_works_one_is_short_one_waits_for_the_rags(
    sqlite_database: Database, tmp_path: Path
) -> None:
    zone, now = HOURS[0]
    loaded(sqlite_database, tmp_path, zone, now)
    with sqlite_database.reading() as session:
        keeper = actor(session, "tilda")
        codes = {}
        for recipe in session.exec(select(Recipe)).all():
            assert recipe.id is not None
            mix = check_mix(session, keeper, now, MixAsked(recipe.id, "1 times"))
            stops = {f.code for f in mix.check.verdict if f.severity is Severity.STOP}
            codes[recipe.name.split(",")[0]] = (stops, bool(mix.check.shortages))
    assert codes["Shellac sealer"] == (set(), False)
    assert codes["Walnut glaze"] == ({"rags-overdue"}, False)
    assert codes["Hall panelling"][1]


def test_it_is_loaded_once_and_whole(sqlite_database: Database, tmp_path: Path) -> None:
    zone, now = HOURS[0]
    loaded(sqlite_database, tmp_path, zone, now)
    before = (tmp_path / "witnessed-heads.txt").read_text()
    with pytest.raises(NotAllowed):
        loaded(sqlite_database, tmp_path, zone, now)
    with sqlite_database.reading() as session:
        assert session.exec(select(func.count()).select_from(RagLoad)).one() == 4
    assert (tmp_path / "witnessed-heads.txt").read_text() == before


def test_the_same_codes_on_every_machine(sqlite_template: Path, tmp_path: Path) -> None:
    from service.records.engine import open_database
    from tests.conftest import fresh_sqlite

    found = []
    for zone, now in (HOURS[0], HOURS[11]):
        database = open_database(fresh_sqlite(sqlite_template, tmp_path))
        loaded(database, tmp_path / zone.replace("/", "-"), zone, now)
        with database.reading() as session:
            found.append(session.exec(select(Container.code).order_by(col(Container.id))).all())
        database.dispose()
    assert found[0] == found[1]


def test_the_last_hours_never_reach_over_midnight_and_never_vanish() -> None:
    zone = ZoneInfo(BERLIN)
    day = local(BERLIN, 2026, 11, 26, 0, 0)
    for minutes in range(0, 60 * 24, 7):
        found = times(day + timedelta(minutes=minutes), zone)
        assert found.begin.astimezone(zone).date() == found.end.astimezone(zone).date()
        assert LEAST <= found.end - found.begin <= timedelta(hours=3)


def test_no_shift_has_just_ended_and_none_ends_before_the_class() -> None:
    for zone in (ZoneInfo(BERLIN), ZoneInfo(CHICAGO)):
        day = datetime(2026, 11, 23, tzinfo=zone).astimezone(UTC)
        for minutes in range(0, 60 * 24 * 7, 11):
            now = day + timedelta(minutes=minutes)
            clock = now.astimezone(zone).time()
            recent = [s.ends for s in shifts(now, zone) if s.ends != time(3)]
            for end in recent:
                late = datetime.combine(now.date(), clock) - datetime.combine(now.date(), end)
                assert not timedelta(0) <= late < timedelta(hours=3), (clock, end)


def test_its_scenes_are_in_order() -> None:
    found = times(*((HOURS[2][1]), ZoneInfo(BERLIN)))
    moments = [found.of(scene) for scene in read("story")["scenes"]]
    assert moments == sorted(moments)
