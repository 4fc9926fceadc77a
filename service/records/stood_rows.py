"""How containers stand, read as columns: a list of many costs a fraction of what whole rows cost."""

from __future__ import annotations

from datetime import date
from typing import Any, Final, NamedTuple

from sqlalchemy import Select, select
from sqlmodel import Session, col

from service.core.containers import AmountKnown, ContainerState, Standing
from service.core.materials import MaterialKind
from service.records.materials import Material
from service.records.stock import Container


class StoodRow(NamedTuple):
    """What a container's dates are judged by, and what a line about it says. ``kind`` on: of its material."""

    id: int
    code: str
    place_id: int | None
    state: ContainerState
    balance: int | None
    balance_known: AmountKnown
    standing: Standing
    in_date_until: date | None
    next_alert_on: date | None
    packed_on: date | None
    received_on: date | None
    opened_on: date | None
    ever_opened: bool
    printed_date: date | None
    started_by: date | None
    opened_by: date | None
    inherited_until: date | None
    inherited_gap: bool
    material_id: int
    name: str
    kind: MaterialKind
    known_key: str | None


_OF_MATERIAL: Final = ("name", "kind", "known_key")


def stood_query() -> Select[Any]:
    """Every container with its material, to be narrowed and handed to `stood_rows`."""
    columns = (getattr(Material if name in _OF_MATERIAL else Container, name) for name in StoodRow._fields)
    return select(*columns).join(Material, col(Material.id) == col(Container.material_id))


def stood_rows(session: Session, query: Select[Any]) -> list[StoodRow]:
    """The rows of a narrowed `stood_query`."""
    return [StoodRow._make(row) for row in session.connection().execute(query).all()]
