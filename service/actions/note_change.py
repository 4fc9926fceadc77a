"""Writing down who changed which description from what to what. Append-only; never an amount."""

from __future__ import annotations

from datetime import datetime
from typing import Any

from sqlmodel import Session

from service.core.access import Actor
from service.records.former_rows import RECORDED_AT
from service.records.shop import Change

COMMAND: None = None
"""The actor of a change made by the command on this machine: nobody signed in."""


def note_change(
    session: Session,
    actor: Actor | None,
    now: datetime,
    about: tuple[str, int | None],
    field: str,
    before: Any,
    after: Any,
    reason: str = "",
) -> None:
    """Add one `Change`, unless nothing changed. ``about`` is the kind of thing and its id."""
    old, new = _text(before), _text(after)
    if old == new:
        return
    session.info[RECORDED_AT] = now
    kind, number = about
    assert number is not None, "flush before noting a change"
    session.add(
        Change(
            about_kind=kind,
            about_id=number,
            field=field,
            before=old,
            after=new,
            reason=reason,
            person_id=actor.person_id if actor else None,
            changed_at=now,
        )
    )


def _text(value: Any) -> str | None:
    if value is None:
        return None
    if isinstance(value, bool):
        return "yes" if value else "no"
    return str(getattr(value, "value", value))[:4000]
