"""A small store for tests: materials and containers brought in through the book, never around it."""

from __future__ import annotations

import itertools
from datetime import date, datetime, timedelta
from decimal import Decimal
from typing import Any

from sqlmodel import Session, select

from service.actions.check_ledger import check
from service.actions.post_movement import EventFacts, Line, post, record_event
from service.actions.run_job import JobAsked, open_job
from service.actions.settle import Act, Sent, settle
from service.core.access import Actor
from service.core.containers import AmountKnown, ContainerState, EventKind
from service.core.ledger import MovementKind, OtherSide
from service.core.materials import Basis, Form, MaterialKind, SelfHeating, Unknown
from service.core.shelf_codes import make_code
from service.records.engine import Database
from service.records.jobs import Job
from service.records.materials import AgeingPolicyRow, Material
from service.records.places import Place, PlaceKind
from service.records.stock import Container
from service.records.stock_queries import Held
from tests.builders import NOW, TODAY

_numbers = itertools.count(1)


def once() -> str:
    """A fresh key for each act."""
    return f"test-key-{next(_numbers):06d}"


def material(
    session: Session,
    name: str = "raw umber, dry",
    *,
    basis: Basis | None = Basis.MASS,
    form: Form = Form.POWDER,
    kind: MaterialKind = MaterialKind.DRY_PIGMENT,
    heats: bool = False,
    keeper_only: bool = False,
    density: str | None = None,
    policy: dict[str, Any] | None = None,
) -> Material:
    """A material whose date never ends unless a policy is given; harmless to draw unless said."""
    row = Material(
        name=name,
        kind=kind,
        form=form,
        basis=basis,
        density_g_ml=Decimal(density) if density else None,
        has_drier=Unknown.NO,
        hazards=[],
        toxic_metals=[],
        self_heating=SelfHeating.YES if heats else SelfHeating.NO,
        self_heating_reason="" if heats else "no oil in it",
        keeper_only=keeper_only,
        created_at=NOW,
    )
    session.add(row)
    session.flush()
    facts = {"end": "expiry", "sealed_months": 120, "opened_months": 120} | (policy or {})
    session.add(AgeingPolicyRow(material_id=row.id, set_at=NOW, **facts))
    session.flush()
    return row


def oil(session: Session, name: str = "boiled linseed oil", **more: Any) -> Material:
    """A liquid whose rags can ignite by themselves."""
    facts: dict[str, Any] = {
        "basis": Basis.VOLUME,
        "form": Form.LIQUID,
        "kind": MaterialKind.BINDER,
        "heats": True,
        "density": "0.93",
    }
    return material(session, name, **(facts | more))


def received(
    session: Session,
    actor: Actor,
    stuff: Material,
    amount: int | None = 1_000_000,
    *,
    now: datetime = NOW - timedelta(hours=2),
    opened_on: date | str | None = "that day",
    is_open: bool = True,
    **facts: Any,
) -> str:
    """A container of ``amount`` smallest units; its code. Open since ``opened_on``, or sealed."""
    settings: dict[str, Any] = {
        "received_on": TODAY - timedelta(days=30),
        "packed_on": TODAY - timedelta(days=60),
    }
    box = Container(
        code=make_code(next(_numbers) * 7919),
        material_id=stuff.id,
        state=ContainerState.OPEN if is_open else ContainerState.SEALED,
        ever_opened=False,
        created_at=now,
        **(settings | facts),
    )
    session.add(box)
    session.flush()
    known = AmountKnown.NOT_KNOWN if amount is None else AmountKnown.MEASURED

    def perform(act: Act) -> dict[str, Any]:
        held = Held(box, stuff)
        post(act, held, Line(MovementKind.RECEIVE, amount, OtherSide.SUPPLIER, known))
        if is_open:
            day = act.day if isinstance(opened_on, str) else opened_on
            record_event(act, held, EventKind.OPENED, EventFacts(day))
        return {}

    settle(session, actor, Sent(once(), "receive", {"code": box.code}), now, perform)
    return box.code


def job(session: Session, actor: Actor, *, now: datetime = NOW, people: tuple[int, ...] = ()) -> Job:
    """A running class led by ``actor``."""
    asked = JobAsked(once(), "Evening class", people=people)
    made = session.get(Job, open_job(session, actor, now, asked).result["job"])
    assert made is not None
    return made


def place(session: Session, name: str, kind: PlaceKind, parent: Place | None = None) -> Place:
    row = Place(
        code=make_code(next(_numbers) * 104_729),
        name=name,
        kind=kind,
        parent_id=parent.id if parent else None,
        created_at=NOW,
    )
    session.add(row)
    session.flush()
    return row


def container(session: Session, code: str) -> Container:
    """A container as stored now."""
    return session.exec(
        select(Container).where(Container.code == code).execution_options(populate_existing=True)
    ).one()


def holds(database: Database) -> None:
    """Assert that the whole book can be derived from its acts."""
    with database.reading() as session:
        report = check(session)
    assert report.holds, report.words
