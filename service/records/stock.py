"""Containers and the append-only ledger: postings, movements, events."""

from datetime import date, datetime
from decimal import Decimal
from typing import Any, Final

from sqlalchemy import JSON, CheckConstraint, Column, ForeignKey, Index, text
from sqlmodel import Field, SQLModel

from service.core.containers import AmountKnown, Condition, ContainerState, EventKind, Standing
from service.core.ledger import Destination, MovementKind, OtherSide
from service.core.materials import SelfHeating, Unknown
from service.records.base import BigId, ExactDecimal, Smallest, enum_by_value

IN_THE_STORE: Final = "state in ('sealed', 'open') and (balance is null or balance <> 0)"
"""Sealed or open with something in it; an amount nobody knows is not nothing. A query meets the index of
these only if it says so in these very words: what is bound to a query later proves nothing to a database."""


class Container(SQLModel, table=True):
    """One tub, tube, can or jar. State, balance and dates here are caches of the ledger, written with it."""

    __tablename__ = "container"
    __table_args__ = (
        CheckConstraint("balance is null or balance >= 0", name="balance_not_negative"),
        Index("ix_container_material_state", "material_id", "state"),
        Index("ix_container_standing_state", "standing", "state"),
        Index(
            "ix_container_ends",
            "standing",
            "in_date_until",
            "next_alert_on",
            sqlite_where=text(IN_THE_STORE),
            postgresql_where=text(IN_THE_STORE),
        ),
    )

    id: int | None = Field(default=None, primary_key=True)
    code: str = Field(max_length=6, unique=True)
    material_id: int = Field(foreign_key="material.id")
    place_id: int | None = Field(default=None, foreign_key="place.id", index=True)
    state: ContainerState = Field(sa_type=enum_by_value(ContainerState, "state"))
    condition: Condition = Field(default=Condition.NOT_KNOWN, sa_type=enum_by_value(Condition, "condition"))
    sheet_came: Unknown = Field(default=Unknown.NOT_KNOWN, sa_type=enum_by_value(Unknown, "sheet_came"))
    capacity_written: str = Field(default="", max_length=60)
    capacity_ul: int | None = Field(default=None, sa_type=Smallest)
    tare_mg: int | None = Field(default=None, sa_type=Smallest)
    # What it is made of, by a word of core.storage_rules.Vessel; None = nobody said.
    vessel: str | None = Field(default=None, max_length=16)
    supplier: str = Field(default="", max_length=120)
    lot: str = Field(default="", max_length=120)
    # What this container cost when it came, in the shop's currency; None = nobody said.
    price: Decimal | None = Field(default=None, sa_type=ExactDecimal)
    packed_on: date | None = Field(default=None)
    received_on: date | None = Field(default=None)
    # The ordered line it came of (no foreign key: see the migration); None = without one, or taken back.
    order_line_id: int | None = Field(default=None)
    opened_on: date | None = Field(default=None)
    ever_opened: bool = Field(default=False)
    printed_date: date | None = Field(default=None)
    # What a decanted or made container took over from what went in.
    inherited_self_heating: SelfHeating | None = Field(
        default=None,
        sa_type=enum_by_value(SelfHeating, "inherited_self_heating"),
    )
    inherited_hazards: list[Any] | None = Field(default=None, sa_type=JSON)
    inherited_keeper_only: bool = Field(default=False)
    # The true date is not known, but not later than this (see core.ageing.LifeFacts).
    started_by: date | None = Field(default=None)
    opened_by: date | None = Field(default=None)
    inherited_until: date | None = Field(default=None)
    inherited_gap: bool = Field(default=False)
    made_by_batch_id: int | None = Field(default=None, foreign_key="batch.id")
    balance: int | None = Field(default=None, sa_type=Smallest)
    balance_known: AmountKnown = Field(
        default=AmountKnown.NOT_KNOWN,
        sa_type=enum_by_value(AmountKnown, "balance_known"),
    )
    # As settled last; on and after `next_alert_on` it has changed, so readers judge what they find.
    standing: Standing = Field(default=Standing.NOT_KNOWN, sa_type=enum_by_value(Standing, "standing"))
    in_date_until: date | None = Field(default=None)
    # The next day on which the standing changes; None = nothing is going to change by itself.
    next_alert_on: date | None = Field(default=None, index=True)
    note: str = Field(default="", max_length=2000)
    created_at: datetime
    version: int = Field(default=1)


TELL: Final = "tell"
"""The act of a posting by which somebody told what they saw; nobody checked it."""


class Posting(SQLModel, table=True):
    """One act as it was sent: its `once` key, what it asked (hashed) and who asked. Append-only."""

    __tablename__ = "posting"

    id: int | None = Field(default=None, sa_column=Column(BigId, primary_key=True))
    once: str = Field(max_length=64, unique=True)
    body_hash: str = Field(max_length=64)
    act: str = Field(max_length=40)
    person_id: int = Field(foreign_key="person.id", index=True)
    device_id: int | None = Field(default=None, foreign_key="device.id")
    token_id: int | None = Field(default=None, foreign_key="api_token.id")
    happened_at: datetime
    recorded_at: datetime
    late: bool = Field(default=False)
    late_reason: str = Field(default="", max_length=2000)


class PostingResult(SQLModel, table=True):
    """What was answered, so that the same key gets the same answer again. Append-only."""

    __tablename__ = "posting_result"

    posting_id: int = Field(sa_column=Column(BigId, ForeignKey("posting.id"), primary_key=True))
    result: dict[str, Any] = Field(sa_type=JSON)


class Movement(SQLModel, table=True):
    """One line of the ledger that changes an amount. `change` None = it happened, how much is not known."""

    __tablename__ = "movement"
    __table_args__ = (
        CheckConstraint("counted is null or counted >= 0", name="counted_not_negative"),
        CheckConstraint("balance_after is null or balance_after >= 0", name="balance_after_not_negative"),
        CheckConstraint(
            "change is not null or kind in"
            " ('receive', 'draw', 'count-difference', 'made', 'decant-in', 'decant-out')",
            name="unknown_change_kinds",
        ),
    )

    id: int | None = Field(default=None, sa_column=Column(BigId, primary_key=True))
    posting_id: int = Field(sa_column=Column(BigId, ForeignKey("posting.id"), nullable=False, index=True))
    container_id: int = Field(foreign_key="container.id", index=True)
    kind: MovementKind = Field(sa_type=enum_by_value(MovementKind, "kind"))
    change: int | None = Field(default=None, sa_type=Smallest)
    # An absolute amount found by counting or weighing; where it stands the fold starts again from it.
    counted: int | None = Field(default=None, sa_type=Smallest)
    known: AmountKnown = Field(sa_type=enum_by_value(AmountKnown, "known"))
    written: str = Field(default="", max_length=200)
    written_unit: str = Field(default="", max_length=20)
    density_used: Decimal | None = Field(default=None, sa_type=ExactDecimal)
    how: str = Field(default="", max_length=300)
    other_side: OtherSide = Field(sa_type=enum_by_value(OtherSide, "other_side"))
    other_text: str = Field(default="", max_length=200)
    destination: Destination | None = Field(
        default=None,
        sa_type=enum_by_value(Destination, "destination"),
    )
    other_container_id: int | None = Field(default=None, foreign_key="container.id")
    batch_id: int | None = Field(default=None, foreign_key="batch.id", index=True)
    job_id: int | None = Field(default=None, foreign_key="job.id", index=True)
    rag_load_id: int | None = Field(default=None, foreign_key="rag_load.id", index=True)
    reverses_id: int | None = Field(
        default=None, sa_column=Column(BigId, ForeignKey("movement.id"), nullable=True, unique=True)
    )
    reason: str = Field(default="", max_length=2000)
    self_heating: bool = Field(default=False)
    balance_after: int | None = Field(default=None, sa_type=Smallest)
    person_id: int = Field(foreign_key="person.id")
    happened_at: datetime
    recorded_at: datetime
    late: bool = Field(default=False)


class ContainerEvent(SQLModel, table=True):
    """An append-only fact about a container that changes no amount."""

    __tablename__ = "container_event"

    id: int | None = Field(default=None, sa_column=Column(BigId, primary_key=True))
    posting_id: int = Field(sa_column=Column(BigId, ForeignKey("posting.id"), nullable=False, index=True))
    container_id: int = Field(foreign_key="container.id", index=True)
    kind: EventKind = Field(sa_type=enum_by_value(EventKind, "kind"))
    # The day meant (opened on, checked on); None = asked and not known.
    on_date: date | None = Field(default=None)
    outcome: str = Field(default="", max_length=20)
    # What a check saw (core/conditions.py), `outcome` being what followed from it by the rule of that day.
    found: str | None = Field(default=None, max_length=24)
    measured_mg_l: Decimal | None = Field(default=None, sa_type=ExactDecimal)
    from_place_id: int | None = Field(default=None, foreign_key="place.id")
    to_place_id: int | None = Field(default=None, foreign_key="place.id")
    job_id: int | None = Field(default=None, foreign_key="job.id")
    note: str = Field(default="", max_length=2000)
    person_id: int = Field(foreign_key="person.id")
    happened_at: datetime
    recorded_at: datetime
    late: bool = Field(default=False)
