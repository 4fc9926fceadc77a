"""Reading rag loads and their log, and turning rows into what the rules judge."""

import json
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any, Final

from sqlalchemy import Executable, String, func, type_coerce
from sqlalchemy import select as columns_of
from sqlmodel import Session, col, or_, select

from service.core.access import Role
from service.core.findings import NotFound
from service.core.materials import Unknown
from service.core.rag_judgement import LoadJudgement, judge
from service.core.rag_judgement import RagLoad as LoadFacts
from service.core.rag_loads import LoadState, fold
from service.core.rag_log import LogRow, read_canonical
from service.core.rag_log_forms import Forms
from service.core.rags import (
    Floor,
    JoinedDraw,
    RagEntry,
    RagStep,
    Receptacle,
    Removal,
    RemovalHow,
    Vessel,
    Water,
)
from service.records.jobs import Job
from service.records.people import Person
from service.records.places import Place, PlaceKind
from service.records.rags import DayClosing, RagLoad, RagLogRow

_AT_ONCE: Final = 5_000
"""Entries read together: memory does not grow with the log."""
JOINING: Final = frozenset({"draw-joined", "went-on", "handed-in"})
"""Kinds of entries of a load after which there are rags that nobody has put away yet."""


@dataclass(frozen=True)
class JudgedLoad:
    """A stored load with its job, the one who owes it, its state and its judgement at one instant."""

    row: RagLoad
    job: Job
    owner: Person
    state: LoadState
    judgement: LoadJudgement

    @property
    def load_id(self) -> int:
        assert self.row.id is not None
        return self.row.id


def the_load(session: Session, load_id: int) -> RagLoad:
    """One load.

    Raises:
        NotFound: there is none with this number.
    """
    load = session.get(RagLoad, load_id)
    if load is None:
        raise NotFound(f"There is no rag load number {load_id}.")
    return load


def log_rows(session: Session, load_id: int | None = None) -> Sequence[RagLogRow]:
    """The rag log in order; of one load if asked."""
    query = select(RagLogRow).order_by(col(RagLogRow.id))
    if load_id is not None:
        query = query.where(col(RagLogRow.load_id) == load_id)
    return session.exec(query).all()


def chain_rows(session: Session) -> Iterator[LogRow]:
    """The log as the chain check reads it. A column that says other than the hashed text breaks the entry."""
    forms = Forms()
    query = _stored(postgres=session.get_bind().dialect.name != "sqlite")
    for number, *told, body, digest in session.connection().execute(query):
        try:
            written = body.encode() if _agree(forms, body, *told) else None
        except (ValueError, TypeError, AttributeError, KeyError, RecursionError):
            written = None
        yield LogRow(number, _UNREAD, "changed" if written is None else digest, written)


_UNREAD: Final[dict[str, object]] = {}


def _stored(*, postgres: bool) -> Executable:
    """The statement that reads the log. The database writes the instants: reading them costs more."""

    def written(instant: Any) -> Any:
        if postgres:
            return func.to_char(func.timezone("UTC", instant), 'YYYY-MM-DD"T"HH24:MI:SS.US"Z"')
        return func.replace(type_coerce(instant, String), " ", "T").concat("Z")

    row = RagLogRow
    numbers = (col(row.load_id), col(row.person_id), col(row.posting_id))
    instants = (written(col(row.happened_at)), written(col(row.recorded_at)))
    query = columns_of(col(row.id), col(row.kind), *numbers, *instants, col(row.body), col(row.hash))
    return query.order_by(col(row.id)).execution_options(yield_per=_AT_ONCE)


def _agree(
    forms: Forms, body: str, kind: str, load_id: int | None, person_id: int | None,
    posting_id: int | None, happened_at: str, recorded_at: str,
) -> bool:  # fmt: skip
    """Whether a body is the one written form of an entry, and the columns beside it say the same.

    Raises:
        ValueError, TypeError, AttributeError, KeyError, RecursionError: it is no such form.
    """
    told = forms.told(kind, body)
    if told is None:
        entry: dict[str, Any] = read_canonical(body)
        forms.learn(entry)
        return (
            entry.get("kind") == kind
            and entry.get("load") == load_id
            and entry.get("person") == person_id
            and entry.get("posting") == posting_id
            and _instant(entry["happened_at"]) == _instant(happened_at)
            and _instant(entry["recorded_at"]) == _instant(recorded_at)
        )
    happened, called, load, person, posting, recorded = told
    return (
        called == kind
        and (load == "null" if load_id is None else int(load) == load_id)
        and (person == "null" if person_id is None else int(person) == person_id)
        and (posting == "null" if posting_id is None else int(posting) == posting_id)
        and (happened == happened_at or _instant(happened) == _instant(happened_at))
        and (recorded == recorded_at or _instant(recorded) == _instant(recorded_at))
    )


def _instant(text: str) -> datetime:
    return datetime.fromisoformat(text)


def receptacle_data(box: Receptacle | None) -> dict[str, object] | None:
    """A receptacle as it is written into the log."""
    if box is None:
        return None
    return {
        "material": box.material.value if box.material else None,
        "lid": box.lid,
        "self_closing": box.self_closing,
        "listed": box.listed,
        "water": box.water.value if box.water else None,
        "place_detached": box.place_detached,
        "floor": box.floor.value if box.floor else None,
        "distance_mm": box.distance_mm,
    }


def _receptacle(data: dict[str, Any] | None) -> Receptacle | None:
    if data is None:
        return None
    return Receptacle(
        material=Vessel(data["material"]) if data["material"] else None,
        lid=data["lid"],
        self_closing=data["self_closing"],
        listed=data["listed"],
        water=Water(data["water"]) if data["water"] else None,
        place_detached=data["place_detached"],
        floor=Floor(data["floor"]) if data["floor"] else None,
        distance_mm=data["distance_mm"],
    )


def receptacle_of(place: Place, water: Water | None) -> Receptacle:
    """A can or drum as its place is recorded, with how far the rags are under water, as told.

    What nobody recorded is not known, and what is not known never meets a clock.
    """
    material = {Unknown.YES: Vessel.METAL, Unknown.NO: Vessel.NOT_METAL}.get(place.metal)
    floor = {Unknown.YES: Floor.NONCOMBUSTIBLE, Unknown.NO: Floor.COMBUSTIBLE}.get(place.floor_cannot_burn)
    return Receptacle(
        material=material,
        lid=_told(place.lid),
        self_closing=_told(place.self_closing),
        listed=_told(place.listed),
        water=water,
        place_detached=_told(place.detached),
        floor=floor,
        distance_mm=place.distance_mm,
    )


def _told(fact: Unknown) -> bool | None:
    return {Unknown.YES: True, Unknown.NO: False}.get(fact)


def rag_cans(session: Session) -> Sequence[Place]:
    """Every place in use that rags may be put into: rag cans first, then drums."""
    order = [PlaceKind.RAG_CAN, PlaceKind.WASTE_DRUM, PlaceKind.OUTSIDE_DRUM]
    rows = session.exec(
        select(Place)
        .where(col(Place.kind).in_(order), col(Place.active).is_(True))
        .order_by(col(Place.name))
    ).all()
    return sorted(rows, key=lambda p: order.index(p.kind))


def step_entry(row: RagLogRow) -> RagEntry:
    """A log row of kind `step` as the rules read it."""
    data = json.loads(row.body)
    removal = data.get("removal")
    return RagEntry(
        at=row.happened_at,
        step=RagStep(data["step"]),
        receptacle=_receptacle(data.get("receptacle")),
        removal=Removal(RemovalHow(removal["how"]), removal["named"], removal["permit"])
        if removal
        else None,
        witness=data.get("witness") or "",
        note=data.get("note") or "",
        covers=tuple(data.get("covers") or ()),
        count=data.get("count"),
    )


def load_state(session: Session, load: RagLoad, until: datetime) -> LoadState:
    """The state of a load by folding what its log says had happened up to an instant.

    A draw, use that went on or pieces handed in that were written down after a step count as coming after it,
    whatever hour they claim: who put the rags away did not know of them.
    """
    return state_of(log_rows(session, load.id), load.made_at, until)


def state_of(rows: Iterable[RagLogRow], made_at: datetime, until: datetime) -> LoadState:
    """The same from the entries of one load, in their order."""
    draws: list[JoinedDraw] = []
    entries: list[RagEntry] = []
    seen = made_at
    for row in rows:
        if row.happened_at > until:
            continue
        if row.kind in JOINING:
            handed_in = row.kind == "handed-in"
            ref = "" if handed_in else json.loads(row.body)["ref"]
            draws.append(JoinedDraw(max(row.happened_at, seen), ref, handed_in))
        elif row.kind == "step":
            entries.append(step_entry(row))
            seen = max(seen, row.happened_at)
    return fold(made_at, draws, entries)


def judged(session: Session, load: RagLoad, now: datetime) -> JudgedLoad:
    """One load judged at an instant."""
    assert load.id is not None
    job = session.get(Job, load.job_id)
    owner = session.get(Person, load.owed_by)
    assert job is not None
    assert owner is not None
    state = load_state(session, load, now)
    name = f"Rag load {load.id} ({job.name})"
    # A load of an older book may have been given a contain clock after its remove clock.
    contain_by = min(load.contain_by, load.remove_by)
    facts = LoadFacts(name, owner.name, contain_by, load.remove_by, load.owed_by)
    return JudgedLoad(load, job, owner, state, judge(facts, state, now))


def standing_loads(session: Session, now: datetime) -> list[JudgedLoad]:
    """Every load that had been made and had not ended at an instant, the most urgent first."""
    rows = session.exec(
        select(RagLoad).where(
            col(RagLoad.made_at) <= now, or_(col(RagLoad.ended_at).is_(None), col(RagLoad.ended_at) > now)
        )
    ).all()
    found = [judged(session, row, now) for row in rows]
    return sorted(found, key=lambda j: (not j.judgement.blocks, j.row.remove_by))


def loads_of_job(session: Session, job_id: int, now: datetime) -> list[JudgedLoad]:
    """Every load of a job, the first one first."""
    rows = session.exec(
        select(RagLoad).where(col(RagLoad.job_id) == job_id).order_by(col(RagLoad.number))
    ).all()
    return [judged(session, row, now) for row in rows]


def ended_loads(session: Session, now: datetime, limit: int = 20) -> list[JudgedLoad]:
    """Loads that have ended, the last one first."""
    query = select(RagLoad).where(col(RagLoad.ended_at) <= now).order_by(col(RagLoad.ended_at).desc())
    return [judged(session, row, now) for row in session.exec(query.limit(limit)).all()]


def active_keepers(session: Session) -> list[int]:
    """The numbers of all keepers who can act; a script's name is no keeper whom one could ask."""
    return [
        number
        for number in session.exec(
            select(Person.id).where(
                col(Person.role) == Role.KEEPER,
                col(Person.active).is_(True),
                col(Person.is_script).is_(False),
            )
        ).all()
        if number is not None
    ]


def last_closing(session: Session, day: date) -> DayClosing | None:
    """How a shop day was closed last; None while it was not."""
    query = select(DayClosing).where(col(DayClosing.day) == day).order_by(col(DayClosing.id).desc()).limit(1)
    return session.exec(query).one_or_none()
