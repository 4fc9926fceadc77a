"""The shop's own settings: the first keeper, the profile, shifts, emergency text and numbers."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime, time
from functools import cache
from typing import Any
from zoneinfo import available_timezones

from sqlmodel import Session, col, select

from service.actions.begin_shop import begin_shop
from service.actions.manage_people import Description, add_person, set_password
from service.actions.note_change import note_change
from service.actions.sign_in_links import keepers
from service.core.access import Actor, Permission, Role, require
from service.core.costs import read_currency
from service.core.findings import Invalid, NotAllowed, NotFound, Stale
from service.core.rag_log import GENESIS
from service.records.people import Person
from service.records.rags import RagChainHead
from service.records.shop import BookClock, EmergencyNumber, Shift, ShopProfile
from service.records.stock import Container

REGIMES = {"us-hcs": "US, OSHA hazard communication", "eu-clp": "EU, CLP", "un-ghs": "UN GHS itself"}
UNIT_SYSTEMS = {"us": "US pints and gallons", "imperial": "Imperial pints and gallons"}
DAYS = ("Monday", "Tuesday", "Wednesday", "Thursday", "Friday", "Saturday", "Sunday")


@dataclass(frozen=True)
class FirstKeeper:
    """What the very first page asks. ``password_hash`` was made outside the transaction."""

    name: str
    sign_in_name: str
    password_hash: str
    shop_name: str
    time_zone: str


@dataclass(frozen=True)
class Profile:
    """What a keeper may set about the shop. ``unit_system`` None: pints and gallons are asked each
    time; ``currency`` None: nobody said it.
    """

    name: str
    time_zone: str
    regime: str
    unit_system: str | None
    rag_grace_min: int
    currency: str | None = None


@cache
def zones() -> tuple[str, ...]:
    """The names of every time zone, in order."""
    return tuple(sorted(available_timezones()))


_NO_PLACE = ("Etc/", "SystemV/", "posix/", "right/")


def zones_to_choose(now_set: str = "") -> list[str]:
    """The zones that a list offers: those of a place, UTC, and the one that is set.

    Not "Etc/GMT+3", which lies three hours *behind* UTC, nor "Factory" or "localtime".

    >>> "Europe/Berlin" in zones_to_choose(), "Etc/GMT+3" in zones_to_choose(), zones_to_choose("CET")[0]
    (True, False, 'CET')
    """
    offered = [zone for zone in zones() if "/" in zone and not zone.startswith(_NO_PLACE)]
    return [*([now_set] if now_set and now_set not in (*offered, "UTC") else []), *offered, "UTC"]


def judge_zone(name: str) -> str:
    """A time zone's name.

    Raises:
        Invalid: no such zone.

    >>> judge_zone("Europe/Berlin")
    'Europe/Berlin'
    """
    if name not in zones():
        words = "Choose the time zone from the list, like Europe/Berlin or America/Chicago."
        raise Invalid(words, {"time_zone": words})
    return name


def make_profile(
    session: Session, now: datetime, name: str, time_zone: str, *, demo: bool = False
) -> ShopProfile:
    """The shop's profile, made if there is none yet, with what every new shop begins with."""
    shop = session.get(ShopProfile, 1)
    if shop is None:
        shop = ShopProfile(id=1, name=name, time_zone=judge_zone(time_zone), is_demo=demo, created_at=now)
        session.add(shop)
        session.flush()
        # Both single rows are locked by every act; without them two first acts would collide on making them.
        session.add(BookClock(id=1, last_recorded_at=now))
        session.add(RagChainHead(id=1, count=0, hash=GENESIS))
        note_change(session, None, now, ("shop", 1), "time zone", None, shop.time_zone)
        begin_shop(session, now)
    return shop


def set_up(session: Session, now: datetime, today: date, said: FirstKeeper) -> Person:
    """The first keeper and the shop's profile; only while there is no keeper.

    Raises:
        NotAllowed: there is one already.
        Invalid: a field cannot be used.
    """
    if keepers(session):
        raise NotAllowed("This shop has a keeper already. Sign in, or ask them.")
    judge_zone(said.time_zone)
    shop = make_profile(session, now, said.shop_name, said.time_zone)
    if (shop.name, shop.time_zone) != (said.shop_name, said.time_zone):
        note_change(session, None, now, ("shop", 1), "name", shop.name, said.shop_name)
        note_change(session, None, now, ("shop", 1), "time zone", shop.time_zone, said.time_zone)
        shop.name, shop.time_zone, shop.version = said.shop_name, said.time_zone, shop.version + 1
        session.add(shop)
    keeper = add_person(session, None, now, today, Description(said.name, Role.KEEPER, said.sign_in_name))
    assert keeper.id is not None
    set_password(session, None, now, keeper.id, said.password_hash)
    return keeper


def _shop(session: Session, actor: Actor, version: int | None = None) -> ShopProfile:
    require(actor, Permission.PROFILES)
    shop = session.get(ShopProfile, 1, with_for_update=True, populate_existing=True)
    if shop is None:
        raise NotFound("The shop is not set up yet.")
    if version is not None and shop.version != version:
        raise Stale("Somebody else changed the shop's settings meanwhile. Look at the page again.")
    return shop


def change_profile(session: Session, actor: Actor, now: datetime, version: int, said: Profile) -> ShopProfile:
    """Set the shop's name, zone, regime, units, grace. Clocks of rag loads that run stay as they are.

    Raises:
        NotAllowed, Invalid, Stale.
    """
    shop = _shop(session, actor, version)
    judge_zone(said.time_zone)
    if said.regime not in REGIMES:
        words = "Choose the hazard law from the list."
        raise Invalid(words, {"regime": words})
    if said.unit_system is not None and said.unit_system not in UNIT_SYSTEMS:
        raise Invalid("Choose the units.", {"unit_system": "Choose the pints and gallons from the list."})
    if not 0 <= said.rag_grace_min <= 120:
        words = "Enter the minutes of grace from 0 to 120."
        raise Invalid(words, {"rag_grace_min": words})
    currency = _currency(session, shop, said.currency)
    values: dict[str, Any] = {
        "name": said.name, "time_zone": said.time_zone, "regime": said.regime,
        "unit_system": said.unit_system, "rag_grace_min": said.rag_grace_min,
        "currency": currency,
    }
    for field, after in values.items():
        note_change(session, actor, now, ("shop", 1), field.replace("_", " "), getattr(shop, field), after)
        setattr(shop, field, after)
    shop.version += 1
    session.add(shop)
    return shop


def _currency(session: Session, shop: ShopProfile, said: str | None) -> str | None:
    """The currency as it is kept. Prices that stand in the book were written in the one before.

    A wrong one is put right in two steps, emptied and then named anew, so that nobody does it by a slip.
    """
    currency = read_currency(said)
    if currency is not None and shop.currency not in (None, currency):
        priced = session.exec(select(Container.id).where(col(Container.price).is_not(None)).limit(1)).first()
        if priced is not None:
            words = (
                f"Prices in {shop.currency} stand in the book; they would read as {currency}. If they were "
                f"{currency} all along, keep this empty first and then name it."
            )
            raise Invalid(words, {"currency": words})
    return currency


def change_emergency_text(session: Session, actor: Actor, now: datetime, version: int, text: str) -> None:
    """The shop's own words on the page "Spill or fire".

    Raises:
        NotAllowed, Stale.
    """
    shop = _shop(session, actor, version)
    note_change(session, actor, now, ("shop", 1), "emergency text", shop.emergency_text, text)
    shop.emergency_text, shop.version = text, shop.version + 1
    session.add(shop)


def emergency_numbers(session: Session) -> list[EmergencyNumber]:
    """The shop's telephone numbers in their order."""
    wanted = select(EmergencyNumber).order_by(col(EmergencyNumber.position), col(EmergencyNumber.id))
    return list(session.exec(wanted))


def add_number(session: Session, actor: Actor, now: datetime, who: str, number: str) -> None:
    """A telephone number, at the end of the list.

    Raises:
        NotAllowed, Invalid (no digit in it).
    """
    _shop(session, actor)
    if not any(sign.isdigit() for sign in number) or len(number) > 60:
        words = "Enter the number as it is dialled."
        raise Invalid(words, {"number": words})
    last = emergency_numbers(session)
    row = EmergencyNumber(position=last[-1].position + 1 if last else 1, who=who, number=number)
    session.add(row)
    session.flush()
    note_change(session, actor, now, ("emergency number", row.id), "number", None, f"{who}: {number}")


def remove_number(session: Session, actor: Actor, now: datetime, number_id: int) -> None:
    """Take a number off the list; gone already is fine."""
    _shop(session, actor)
    row = session.get(EmergencyNumber, number_id)
    if row is not None:
        about = ("emergency number", row.id)
        note_change(session, actor, now, about, "number", f"{row.who}: {row.number}", None)
        session.delete(row)


def shifts(session: Session) -> list[Shift]:
    """The week's shifts in order."""
    return list(session.exec(select(Shift).order_by(col(Shift.weekday), col(Shift.starts), col(Shift.id))))


def add_shifts(
    session: Session, actor: Actor, now: datetime, name: str, weekdays: list[int], starts: time, ends: time
) -> None:
    """The same shift on several days; an end before the start is on the next day. Open jobs keep their ends.

    Raises:
        NotAllowed, Invalid.
    """
    _shop(session, actor)
    if not weekdays or not all(0 <= day <= 6 for day in weekdays):
        words = "Choose one day or more."
        raise Invalid(words, {"weekdays": words})
    if starts == ends:
        words = "Enter an end that differs from the start."
        raise Invalid(words, {"ends": words})
    for weekday in sorted(set(weekdays)):
        row = Shift(name=name, weekday=weekday, starts=starts, ends=ends)
        session.add(row)
        session.flush()
        note_change(session, actor, now, ("shift", row.id), "times", None, shift_words(row))


def remove_shift(session: Session, actor: Actor, now: datetime, shift_id: int) -> None:
    """Take a shift out of the week; jobs that run keep the end they were given."""
    _shop(session, actor)
    row = session.get(Shift, shift_id)
    if row is not None:
        note_change(session, actor, now, ("shift", row.id), "times", shift_words(row), None)
        session.delete(row)


def shift_words(row: Shift) -> str:
    """A shift in words.

    >>> shift_words(Shift(name="Day", weekday=0, starts=time(8), ends=time(16, 30)))
    'Monday 08:00 to 16:30, Day'
    """
    return f"{DAYS[row.weekday]} {row.starts:%H:%M} to {row.ends:%H:%M}, {row.name}"
