"""What of the store may go first, and what ends when: by the indexes on standing and on the day of change."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from typing import Any, Final, NamedTuple

from sqlalchemy import ColumnElement, TextClause, func, select, text
from sqlmodel import Session, col, or_

from service.core.ageing import judge
from service.core.containers import ContainerState, Standing
from service.records.ageing_queries import lives_of_rows
from service.records.materials import Material
from service.records.mixing import Recipe, RecipeLineRow, RecipeVersion
from service.records.places import Place
from service.records.stock import IN_THE_STORE, Container
from service.records.stock_queries import Held
from service.records.stood_rows import stood_query, stood_rows

_IN_STORE: Final = (ContainerState.SEALED, ContainerState.OPEN)
_AT_ONCE: Final = 500


def _something_in_it() -> ColumnElement[bool]:
    return or_(col(Container.balance).is_(None), col(Container.balance) != 0)


def _holds(today: date) -> ColumnElement[bool]:
    """A stored standing holds until the day on which it changes by itself."""
    return or_(col(Container.next_alert_on).is_(None), col(Container.next_alert_on) > today)


class MayGoFirst(NamedTuple):
    """Numbers of containers, and whether there were more of some sort than are looked at."""

    ids: list[int]
    more: bool


def may_go_first(session: Session, today: date, until: date, most: int) -> MayGoFirst:
    """What is to look at first or not known, what is opened, and what changes its standing up to a day.

    Of each sort at most ``most``, the soonest of them where a day puts them in order.
    """
    in_store, there = col(Container.state).in_(_IN_STORE), _something_in_it()
    # By the index of ends, in the order asked for: a large store has very many to look at first.
    look_first: list[ColumnElement[bool] | TextClause] = [
        col(Container.standing) == Standing.LOOK_FIRST, text(IN_THE_STORE), _holds(today)
    ]  # fmt: skip
    not_known = [col(Container.standing) == Standing.NOT_KNOWN, in_store, _holds(today)]
    opened = [
        col(Container.standing) == Standing.IN_DATE, col(Container.state) == ContainerState.OPEN,
        _holds(today),
    ]  # fmt: skip
    # Not said as "is in date": that would tempt SQLite to the index over all that are.
    troubled = [col(Container.standing) != one for one in Standing if one is not Standing.IN_DATE]
    soon = [col(Container.next_alert_on) > today, col(Container.next_alert_on) <= until, in_store, *troubled]
    overdue = [col(Container.next_alert_on) <= today, in_store]
    by_end, by_change = (col(Container.in_date_until), col(Container.id)), (col(Container.next_alert_on),)
    found: dict[int, None] = {}
    more = False
    for wanted, order in (
        (look_first, by_end), (overdue, by_change), (soon, by_change), (not_known, ()), (opened, ())
    ):  # fmt: skip
        query = select(col(Container.id)).where(*wanted, there).order_by(*order).limit(most + 1)
        numbers = [n for n in session.connection().execute(query).scalars() if n is not None]
        more = more or len(numbers) > most
        found |= dict.fromkeys(numbers[:most])
    return MayGoFirst(list(found), more)


def held_of(session: Session, ids: Sequence[int]) -> list[tuple[Held, Place | None]]:
    """These containers with their materials and places, by a query for every few hundred."""
    found: list[tuple[Held, Place | None]] = []
    for begin in range(0, len(ids), _AT_ONCE):
        rows = session.execute(
            select(Container, Material, Place)
            .join(Material, col(Material.id) == col(Container.material_id))
            .outerjoin(Place, col(Place.id) == col(Container.place_id))
            .where(col(Container.id).in_(ids[begin : begin + _AT_ONCE]))
        ).all()
        found += [(Held(box, material), place) for box, material, place in rows]
    return found


def several_of(session: Session, material_ids: Sequence[int]) -> set[int]:
    """Of which of these materials more than one container in the store has something in it."""
    found: set[int] = set()
    number = col(Container.material_id)
    for begin in range(0, len(material_ids), _AT_ONCE):
        query = (
            select(number)
            .where(
                number.in_(material_ids[begin : begin + _AT_ONCE]), col(Container.state).in_(_IN_STORE),
                _something_in_it(),
            )
            .group_by(number)
            .having(func.count() > 1)
        )  # fmt: skip
        found |= set(session.connection().execute(query).scalars())
    return found


def recipes_using(session: Session, material_ids: Sequence[int]) -> dict[int, list[tuple[int, str]]]:
    """Number and name of the recipes in use whose present version has a line of each material, by name."""
    found: dict[int, list[tuple[int, str]]] = {}
    rows = session.execute(
        select(col(RecipeLineRow.material_id), col(Recipe.id), col(Recipe.name))
        .join(RecipeVersion, col(RecipeVersion.id) == col(RecipeLineRow.version_id))
        .join(Recipe, col(Recipe.id) == col(RecipeVersion.recipe_id))
        .where(
            col(RecipeLineRow.material_id).in_(list(material_ids)),
            col(RecipeVersion.number) == col(Recipe.current_version),
            col(Recipe.active).is_(True),
        )
        .distinct()
        .order_by(col(Recipe.name), col(Recipe.id))
    ).all()
    for material_id, number, name in rows:
        found.setdefault(material_id, []).append((number, name))
    return found


class Ends(NamedTuple):
    """So many containers with something in them stand so today and are in date until this day, if known."""

    standing: Standing
    until: date | None
    many: int


def ends_of_store(session: Session, today: date) -> list[Ends]:
    """Every container in the store, counted by how it stands today and its last day in date.

    What holds as stored is counted by the database from one index, without looking at a container; only what
    is overdue to settle is judged here.
    """
    columns: tuple[Any, ...] = (col(Container.standing), col(Container.in_date_until))
    stored = (
        select(*columns, func.count())
        .where(text(IN_THE_STORE), _holds(today))
        .group_by(*columns)
    )
    found = [Ends._make(row) for row in session.connection().execute(stored)]
    rows = stood_rows(
        session,
        stood_query().where(
            col(Container.state).in_(_IN_STORE), col(Container.next_alert_on) <= today, _something_in_it()
        ),
    )
    for life in lives_of_rows(session, rows):
        ageing = judge(life, today)
        found.append(Ends(ageing.standing, ageing.in_date_until, 1))
    return found
