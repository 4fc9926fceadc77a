"""Reading drums of waste with their entries, as the book stood at an instant."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, datetime, tzinfo
from decimal import Decimal
from fractions import Fraction
from typing import Any

from sqlalchemy import and_
from sqlalchemy import select as columns_of
from sqlalchemy.orm import aliased
from sqlmodel import Session, col, select

from service.core.findings import NotFound
from service.core.ledger import MovementKind
from service.core.materials import Basis, MaterialKind
from service.core.waste_drum_clocks import SiteTold, ToldBefore
from service.core.waste_drums import DrumEntry, DrumFacts, DrumState, DrumStep, counting, fold_drum
from service.core.waste_record import amounts_with, line_mass, line_volume
from service.records.materials import Material
from service.records.people import Person
from service.records.places import Place
from service.records.stock import Container, Movement
from service.records.waste_drums import WasteDrum, WasteDrumEntry, WasteSite
from service.records.waste_queries import not_known_beside


@dataclass(frozen=True)
class SeenEntry:
    """An entry with who wrote it and, of a discard or loss, what it was and when. ``undone``: no more.

    ``kind``, ``metals``: of the material; None: none of the book, or which metals are in it is not known.
    """

    row: WasteDrumEntry
    by: str
    mg: int | None
    ul: int | None
    code: str
    material: str
    undone: bool
    moved_at: datetime | None = None
    kind: MaterialKind | None = None
    metals: tuple[str, ...] | None = None

    @property
    def entry(self) -> DrumEntry:
        row = self.row
        return DrumEntry(
            number=row.id or 0, step=row.step, on=row.on_day,
            order=((self.moved_at or row.happened_at).isoformat(),),
            mg=self.mg, ul=self.ul, reverses=row.reverses_id, undone=self.undone,
        )  # fmt: skip


@dataclass(frozen=True)
class SeenDrum:
    """A drum with its entries, those that do not count among them, and the place where it stands.

    ``place_id`` None: nobody told where it was begun, or where to it was moved.
    """

    row: WasteDrum
    place: str
    place_id: int | None
    entries: tuple[SeenEntry, ...]

    @property
    def number(self) -> int:
        return self.row.id or 0

    @property
    def state(self) -> DrumState:
        row = self.row
        facts = DrumFacts(
            number=self.number, name=row.name, area=row.area, acute=row.acute, capacity_ul=row.capacity_ul,
            spot=row.place_id, begun_on=row.begun_on,
        )  # fmt: skip
        return fold_drum(facts, [one.entry for one in self.entries])


def seen_drums(
    session: Session, *, as_of: datetime | None = None, number: int | None = None,
    gone_since: date | None = None,
) -> list[SeenDrum]:  # fmt: skip
    """Every drum in the order in which they were begun, with its entries in the order of the book.

    Three statements, one where there is no drum.

    Args:
        as_of: as the book stood at that instant; number: only this one.
        gone_since: without those that were handed over before this day.
    """
    query = select(WasteDrum)
    if as_of is not None:
        query = query.where(col(WasteDrum.recorded_at) <= as_of)
    if number is not None:
        query = query.where(col(WasteDrum.id) == number)
    if gone_since is not None:
        query = query.where(~_gone_before(gone_since))
    drums = session.exec(query.order_by(col(WasteDrum.id))).all()
    entries = _entries(session, [drum.id or 0 for drum in drums], as_of)
    stands = {drum.id: _stands_in(drum, entries.get(drum.id or 0, ())) for drum in drums}
    names = _names(session, stands.values())
    return [
        SeenDrum(drum, names.get(where or 0, ""), where, tuple(entries.get(drum.id or 0, ())))
        for drum, where in ((drum, stands[drum.id]) for drum in drums)
    ]


def _stands_in(drum: WasteDrum, entries: Sequence[SeenEntry]) -> int | None:
    """Where it was moved to, else where it was begun."""
    whole = {one.number for one in counting(one.entry for one in entries)}
    moved = [one.row for one in entries if one.row.step is DrumStep.MOVED and one.row.id in whole]
    return moved[-1].place_id if moved else drum.place_id


def _names(session: Session, places: Iterable[int | None]) -> dict[int, str]:
    wanted = sorted({one for one in places if one is not None})
    if not wanted:
        return {}
    rows = session.exec(select(Place.id, Place.name).where(col(Place.id).in_(wanted))).all()
    return {number: name for number, name in rows if number is not None}


def seen_drum(session: Session, number: int) -> SeenDrum:
    """One drum. Raises NotFound."""
    found = seen_drums(session, number=number)
    if not found:
        raise NotFound(f"There is no waste drum number {number}.")
    return found[0]


def told_of_site(
    session: Session, zone: tzinfo, as_of: datetime | None = None
) -> tuple[SiteTold, WasteSite | None]:
    """The newest that a keeper told of the whole site, with what was told before it, and its row.

    Nothing told is not known.
    """
    query = select(WasteSite).order_by(col(WasteSite.id))
    if as_of is not None:
        query = query.where(col(WasteSite.recorded_at) <= as_of)
    rows = session.exec(query).all()
    if not rows:
        return SiteTold(), None
    days = [row.recorded_at.astimezone(zone).date() for row in rows]
    before = tuple(
        ToldBefore(row.category, since, until)
        for row, since, until in zip(rows, days, days[1:], strict=False) if row.category is not None
    )  # fmt: skip
    return SiteTold(rows[-1].category, rows[-1].haul_miles, before), rows[-1]


def _gone_before(day: date) -> Any:
    back = aliased(WasteDrumEntry)
    taken_back = select(col(back.id)).where(col(back.reverses_id) == col(WasteDrumEntry.id)).exists()
    return (
        select(col(WasteDrumEntry.id))
        .where(
            col(WasteDrumEntry.drum_id) == col(WasteDrum.id),
            col(WasteDrumEntry.step) == DrumStep.HANDED_OVER,
            col(WasteDrumEntry.on_day) < day,
            ~taken_back,
        )
        .exists()
    )


def _entries(
    session: Session, numbers: Sequence[int], as_of: datetime | None
) -> dict[int, list[SeenEntry]]:
    if not numbers:
        return {}
    back = aliased(Movement)
    reversed_by = col(back.reverses_id) == col(Movement.id)
    if as_of is not None:
        reversed_by = and_(reversed_by, col(back.recorded_at) <= as_of)
    query = (
        columns_of(
            WasteDrumEntry, col(Person.name), col(Movement.change), col(Material.basis),
            col(Movement.density_used), col(Material.density_g_ml), col(Container.code), col(Material.name),
            col(back.id), not_known_beside(Movement), col(Movement.happened_at), col(Movement.kind),
            col(Material.kind), col(Material.toxic_metals),
        )
        .join(Person, col(Person.id) == col(WasteDrumEntry.person_id))
        .outerjoin(Movement, col(Movement.id) == col(WasteDrumEntry.movement_id))
        .outerjoin(Container, col(Container.id) == col(Movement.container_id))
        .outerjoin(Material, col(Material.id) == col(Container.material_id))
        .outerjoin(back, reversed_by)
        .order_by(col(WasteDrumEntry.id))
    )  # fmt: skip
    if as_of is not None:
        query = query.where(col(WasteDrumEntry.recorded_at) <= as_of)
    found: dict[int, list[SeenEntry]] = {}
    for begin in range(0, len(numbers), 500):
        some = query.where(col(WasteDrumEntry.drum_id).in_(numbers[begin : begin + 500]))
        for row, by, change, basis, used, density, code, name, undone, unknown, at, act, kind, metals in (
            session.execute(some)
        ):
            mg, ul = row.mass_mg, row.volume_ul
            if row.movement_id is not None and act is not MovementKind.DRAW:
                # What a draw put into a pot went in with its own amounts: a share of it, or water beside it.
                mg, ul = mass_and_volume(None if unknown and change == 0 else change, basis, used or density)
            told = None if metals is None else tuple(str(one) for one in metals)
            entry = SeenEntry(row, by, mg, ul, code or "", name or "", undone is not None, at, kind, told)
            found.setdefault(row.drum_id, []).append(entry)
    return found


def mass_and_volume(
    change: int | None, basis: Basis | None, density: Decimal | None,
    beside: tuple[int | None, int | None] = (0, 0),
) -> tuple[int | None, int | None]:  # fmt: skip
    """Milligrams and microlitres of a movement, rounded up; an empty container is nothing.

    Args:
        beside: what went with it, in mg and µl.
    """
    if change == 0:
        return beside
    told = None if density is None else Fraction(density)
    kg, litres = amounts_with(
        line_mass(change, basis, told)[0], line_volume(change, basis, told), beside
    )
    return _up(kg), _up(litres)


def _up(amount: Fraction | None) -> int | None:
    """Kilograms or litres in millionths."""
    return None if amount is None else -(-(amount * 1_000_000).numerator // (amount * 1_000_000).denominator)
