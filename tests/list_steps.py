"""Steps with stock lists that several tests take."""

from __future__ import annotations

import itertools
from collections.abc import Callable
from typing import Any

from sqlmodel import Session, func, select

from service.actions.check_list import CheckedList
from service.actions.settle import Settled
from service.actions.take_list import (
    Brought,
    TakeAsked,
    bring_list,
    look_at_list,
    take_list,
)
from service.core.access import Actor
from service.records.stock import Container
from tests.builders import NOW, TODAY

_keys = itertools.count(1)


def once() -> str:
    return f"list-{next(_keys):06d}"


def chance() -> Callable[[], str]:
    numbers = itertools.count(next(_keys) * 1_000_000)
    return lambda: f"chance {next(numbers)}"


def bring(session: Session, actor: Actor, text: str, **more: Any) -> int:
    row = bring_list(session, actor, NOW, Brought("list.csv", text.encode(), **more))
    assert row.id is not None
    return row.id


def look(session: Session, actor: Actor, number: int) -> CheckedList:
    return look_at_list(session, actor, TODAY, number)[1]


def take(session: Session, actor: Actor, number: int, *, good: bool = False) -> Settled:
    return take_list(session, actor, NOW, TakeAsked(once(), number, good), chance())


def how_many(session: Session, table: type = Container) -> int:
    return session.exec(select(func.count()).select_from(table)).one()
