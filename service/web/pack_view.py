"""Making the inspection pack: of now, or of the end of a past day, always from the book as it stood."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime
from pathlib import Path
from zoneinfo import ZoneInfo

from sqlmodel import Session

from service.actions.book_then import book_then
from service.actions.settle import the_shop
from service.actions.witness import HeadFile, chain_head, heads_in, prove
from service.core.hazards.regimes import Regime
from service.core.inspection_pack import ABOUT, NOT_IN_HERE, Moment, Pack, Section, moment_of
from service.outreach import pack_tables
from service.outreach.pack_since import recorded_since
from service.outreach.pack_wipes import wipes
from service.outreach.pack_words import OverLimit, on_somebodys_word, over_limits
from service.records.book_time import book_now
from service.records.engine import Database
from service.records.shop import ShopProfile
from service.records.shop_zones import zones_of
from service.web import pack_sections
from service.web.rag_words import said_of_entry


@dataclass(frozen=True)
class _Then:
    """The shop as it was, and what of the heads outside had been written down."""

    shop: ShopProfile
    zone: ZoneInfo
    moment: Moment
    heads: HeadFile
    over: Sequence[OverLimit]


def make_pack(database: Database, now: datetime, folder: Path, on: date | None = None) -> Pack:
    """The pack of now, or of the end of a past day.

    Args:
        now: aware; the book's own time counts where the machine's clock went back.
        folder: the data folder, with the file of witnessed heads.
        on: the day on the shop's calendar; None: today.

    Raises:
        Invalid: a day to come, or before the shop began; `errors` names ``on_date``.
    """
    with database.snapshot() as session:
        shop, at = the_shop(session), book_now(session, now)
        moment = moment_of(on, at, zones_of(session, shop), shop.created_at)
        today_zone = ZoneInfo(shop.time_zone)
        lacking = pack_tables.lacking(session, at.astimezone(today_zone).date(), today_zone, past=moment.past)
        since = recorded_since(session, moment.before, moment.day)
        over = over_limits(session, moment.before)
        with book_then(session, moment.before) as told:
            session.rollback()  # the copy is made: nobody waits for this look any longer
            shop_then = told.session.get_one(ShopProfile, 1)
            zone = ZoneInfo(shop_then.time_zone)
            kept = heads_in(folder, zone)
            heads = HeadFile(tuple(one for one in kept.heads if one.at < moment.before), kept.unreadable)
            then = _Then(shop_then, zone, moment, heads, over)
            return _pack(told.session, then, at, (lacking, since), told.not_known)


def _pack(
    session: Session, then: _Then, printed_at: datetime, by_now: tuple[Section, ...],
    not_known: tuple[str, ...],
) -> Pack:
    head = chain_head(session)
    rag_head = f"{head.count} entries; hash {head.hash}"
    ledger_head = pack_tables.ledger_head(session, then.zone)
    sections = [*_sections(session, then), *by_now]
    pack = Pack(
        then.shop.name, then.zone.key, then.moment, printed_at, (), ledger_head, rag_head, not_known,
        then.shop.regime,
    )  # fmt: skip
    return replace(pack, sections=(_about(pack, sections), *sections))


def _sections(session: Session, then: _Then) -> list[Section]:
    today, zone = then.moment.day, then.zone
    regime = Regime(then.shop.regime)
    proof = prove(session, then.heads.heads)
    return [
        pack_sections.chemicals(session, regime, today),
        pack_tables.sheets(session, then.shop.regime, today),
        *pack_sections.storage(session),
        pack_sections.ventilation(session, regime, today),
        pack_tables.rag_loads(session, then.moment.at),
        pack_tables.rag_log(session, proof.sentence, said_of_entry),
        wipes(session, today, zone),
        pack_sections.waste(session, zone),
        pack_sections.drums(session, then.moment.at),
        pack_sections.drum_codes(session, then.moment.at),
        pack_tables.checks(session, today),
        pack_tables.checks_done(session),
        pack_tables.training(session),
        pack_tables.overrides(session),
        on_somebodys_word(session, zone, then.over),
        pack_tables.late_entries(session, zone),
        pack_tables.labels_due(session, zone),
        pack_tables.periods(),
    ]


def _about(pack: Pack, sections: Sequence[Section]) -> Section:
    """What the pack is of, where it ends, and what is not in it."""
    zone = ZoneInfo(pack.zone)
    moment = pack.moment
    of = "as it stood at the end of that day" if moment.past else "as it stood when it was printed"
    rows: list[tuple[str, str]] = [
        ("shop", pack.shop),
        ("day", moment.day.isoformat()),
        ("of what", of),
        ("printed", _instant(pack.printed_at, zone)),
        ("takes what was recorded until", _instant(moment.at, zone)),
        ("time zone", pack.zone),
        ("ledger head", pack.ledger_head),
        ("rag log head", pack.rag_head),
        *(("not known for that day", sentence) for sentence in pack.not_known),
        *(("not in here", sentence) for sentence in NOT_IN_HERE),
        *((one.title, f"{len(one.rows)} lines in {one.file_name}") for one in sections),
    ]
    return Section(ABOUT, "About this pack", ("what", "told"), tuple(rows))


def _instant(at: datetime, zone: ZoneInfo) -> str:
    return f"{at.astimezone(zone):%Y-%m-%d %H:%M}"
