"""When a container was first opened: the earliest day counts, and one that nobody knows stays not known."""

from __future__ import annotations

from datetime import date

from service.actions.settle import Act
from service.records.stock import Container


def lid_lifted(act: Act, container: Container) -> None:
    """A draw opens what was sealed. One written late, from before the known opening, moves that earlier;
    an opening day that nobody knows stays not known.
    """
    if not container.ever_opened:
        container.ever_opened, container.opened_on = True, act.day
    elif container.opened_on is not None:
        container.opened_on = min(container.opened_on, act.day)
    elif container.opened_by is not None:
        container.opened_by = min(container.opened_by, act.day)


def opened(act: Act, container: Container, on_date: date | None, *, found_out: bool) -> None:
    """The first opening counts; a day found out later may only move it earlier.

    Opening a can again says nothing about a first day that nobody knows: that stays not known.
    """
    if not container.ever_opened:
        container.opened_on = on_date
        container.opened_by = None if on_date else act.day
    elif on_date is not None and container.opened_on is not None:
        container.opened_on = min(container.opened_on, on_date)
    elif on_date is not None and found_out:
        container.opened_on = on_date
    elif on_date is not None and container.opened_by is not None:
        container.opened_by = min(container.opened_by, on_date)
    container.ever_opened = True
