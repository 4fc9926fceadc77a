"""One line of the route table: method, path template, what it asks of the caller, and why."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from typing import Final

from service.core.access import Permission


class Door(StrEnum):
    """What a route asks for when it asks for no permission."""

    PUBLIC = "public"
    LOOPBACK = "loopback"
    TABLET = "tablet"
    SIGNED_IN = "signed-in"
    OWN_SIGN_IN = "own-sign-in"


PUBLIC: Final = Door.PUBLIC
"""Anybody who reaches the service."""
LOOPBACK: Final = Door.LOOPBACK
"""Only this machine itself, without a proxy in between."""
TABLET: Final = Door.TABLET
"""A signed-in person, or a signed-in tablet even while nobody is tapped on it."""
SIGNED_IN: Final = Door.SIGNED_IN
"""A person of any role (on a tablet: tapped), or a script with a token."""
OWN_SIGN_IN: Final = Door.OWN_SIGN_IN
"""A person of any role who signed in for themselves: not tapped on a tablet, not a script."""


@dataclass(frozen=True)
class RouteRow:
    """``needs`` is a door, or the permissions of which the caller's role must hold one or more."""

    method: str
    path: str
    needs: Door | tuple[Permission, ...]
    why: str

    @property
    def key(self) -> tuple[str, str]:
        return self.method, self.path


def row(method: str, path: str, needs: Door | Permission | tuple[Permission, ...], why: str) -> RouteRow:
    """A line of the table; one permission may stand alone.

    >>> row("GET", "/people", Permission.PEOPLE, "names and roles").needs
    (<Permission.PEOPLE: 'people'>,)
    """
    return RouteRow(method, path, (needs,) if isinstance(needs, Permission) else needs, why)
