"""Who may do what: roles, permissions, and one table that joins them (design section 6).

Doors: records/people.py, web/guard.py, web/routes_table.py.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum


class Role(StrEnum):
    """Four roles; a reader is an inspector or other guest, dated and expiring."""

    READER = "reader"
    STUDENT = "student"
    FINISHER = "finisher"
    KEEPER = "keeper"


@dataclass(frozen=True)
class Actor:
    """The person an act is booked to. ``device_id`` is set when they tapped their name on a shared tablet.

    ``token_id`` is set for a script that came with an API token.
    """

    person_id: int
    name: str
    role: Role
    device_id: int | None = None
    token_id: int | None = None
