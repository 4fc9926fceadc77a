"""Choices of people on forms: those in the books whose role may do something."""

from __future__ import annotations

from sqlmodel import Session, col, select

from service.core.access import Permission, may
from service.records.people import Person


def people_who(session: Session, permission: Permission | None = None) -> list[tuple[int, str, str]]:
    """Number, name and role of everybody who is switched on, by name; scripts' names are left out."""
    wanted = select(Person).where(col(Person.active).is_(True), col(Person.is_script).is_(False))
    rows = session.exec(wanted.order_by(col(Person.name), col(Person.id))).all()
    return [
        (row.id, row.name, row.role.value)
        for row in rows
        if row.id is not None and (permission is None or may(row.role, permission))
    ]
