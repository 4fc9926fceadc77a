"""The demo shop shows its own password on its sign-in page, so it opens on this machine only."""

from __future__ import annotations

from dataclasses import dataclass

from fastapi import Request

from service.actions.manage_people import people
from service.core.findings import NotAllowed
from service.records.demo_words import demo_words
from service.records.engine import Database
from service.records.shop import ShopProfile
from service.web.this_machine import on_this_machine


@dataclass(frozen=True)
class DemoAccounts:
    """What the sign-in page of the demo shows: (name, role, sign-in name) of everybody, password and PIN."""

    rows: tuple[tuple[str, str, str], ...]
    password: str
    pin: str


def demo_accounts(request: Request) -> DemoAccounts | None:
    """The accounts to show; None in a real shop, and to anybody who comes from elsewhere."""
    database: Database = request.app.state.database
    with database.reading() as session:
        shop = session.get(ShopProfile, 1)
        if shop is None or not shop.is_demo or not on_this_machine(request):
            return None
        rows = [(p.name, p.role.value, p.sign_in_name or "") for p in people(session) if p.active]
    password, pin = demo_words()
    return DemoAccounts(tuple(rows), password, pin)


def refuse_demo_from_elsewhere(request: Request) -> None:
    """A password that everybody can read opens nothing to the network.

    Raises:
        NotAllowed: this is the demo, and the request comes from another machine or through a proxy.
    """
    database: Database = request.app.state.database
    with database.reading() as session:
        shop = session.get(ShopProfile, 1)
    if shop is not None and shop.is_demo and not on_this_machine(request):
        raise NotAllowed("The demo shop is signed in to only in a browser on the machine it runs on.")
