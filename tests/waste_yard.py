"""A shop with a yard for its waste drums, for every test that fills one."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import datetime
from typing import Any
from zoneinfo import ZoneInfo

from service.actions.begin_drum import BeginDrumAsked, SiteAsked, begin_drum, tell_site
from service.actions.fill_drum import (
    DrumBackAsked,
    StepAsked,
    note_drum_step,
    take_back_entry,
)
from service.actions.list_alerts import keepers_among
from service.actions.look_at_drums import WasteRecord, drums_due, waste_record
from service.actions.lose_stock import DiscardAsked, discard
from service.core.access import Role
from service.core.alerts import DutyFact
from service.core.ledger import Destination
from service.core.materials import Unknown
from service.core.waste_drums import Area, DrumStep, Held
from service.core.waste_rules import Category
from service.records.engine import Database
from service.records.owners import who_is_here
from service.records.waste_drum_queries import seen_drum
from tests.builders import NOW, TODAY, Cast
from tests.store_builders import material, once, received

BERLIN = ZoneInfo("Europe/Berlin")


@dataclass
class Yard:
    """A shop with its people; time stands still unless a test says another."""

    database: Database
    people: Cast
    rooms: dict[str, int] = field(default_factory=dict)

    def begin(self, role: Role = Role.KEEPER, now: datetime = NOW, **said: Any) -> dict[str, Any]:
        told = {
            "name": "Drum 1", "stream": "Spent thinner", "hazards": "Ignitable", "area": Area.CENTRAL,
            "acute": Unknown.NO,
        } | said  # fmt: skip
        with self.database.writing() as session:
            asked = BeginDrumAsked(once=once(), **told)
            return begin_drum(session, self.people.actor(role), now, asked).result

    def step(
        self, drum: int, step: DrumStep, role: Role = Role.KEEPER, now: datetime = NOW, **said: Any
    ) -> dict[str, Any]:
        with self.database.writing() as session:
            asked = StepAsked(once=once(), drum_id=drum, step=step, **said)
            return note_drum_step(session, self.people.actor(role), now, asked).result

    def leave(self, drum: int, **said: Any) -> dict[str, Any]:
        told = {"receiver": "Millrace Treatment", "transporter": "Millrace Carriers", "paper": "A-1"} | said
        return self.step(drum, DrumStep.HANDED_OVER, **told)

    def back(self, entry: int, role: Role = Role.KEEPER, now: datetime = NOW) -> dict[str, Any]:
        with self.database.writing() as session:
            asked = DrumBackAsked(once(), entry, "It was the other drum.")
            return take_back_entry(session, self.people.actor(role), now, asked).result

    def site(self, category: Category | None, miles: int | None = None, now: datetime = NOW) -> None:
        with self.database.writing() as session:
            asked = SiteAsked(once(), category, miles, "Weighed every month since March")
            tell_site(session, self.people.actor(Role.KEEPER), now, asked)

    def record(self, at: datetime = NOW, as_of: datetime | None = None) -> WasteRecord:
        with self.database.reading() as session:
            return waste_record(session, at, as_of)

    def due(self, now: datetime = NOW) -> list[DutyFact]:
        """What alerts and mails say of the drums."""
        with self.database.reading() as session:
            here = who_is_here(session, TODAY)
            return drums_due(session, now.astimezone(BERLIN).date(), keepers_among(here))

    def stuff(self, amount: int | None = 2_000, **said: Any) -> str:
        with self.database.writing() as session:
            return received(session, self.people.actor(Role.KEEPER), material(session, **said), amount)

    def throw(self, code: str, role: Role = Role.FINISHER, **said: Any) -> int:
        told = {"destination": Destination.WASTE_DRUM} | said
        with self.database.writing() as session:
            asked = DiscardAsked(once=once(), code=code, **told)
            return int(discard(session, self.people.actor(role), NOW, asked).result["movement"])

    def held(self, drum: int) -> tuple[Held, Held]:
        with self.database.reading() as session:
            state = seen_drum(session, drum).state
        return state.mg, state.ul
