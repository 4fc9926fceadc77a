"""The rag shop of `tests.rag_shop` behind its doors: browsers and scripts on the same database and clock."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from datetime import datetime
from pathlib import Path

from service.app import create_app
from service.records.engine import Database
from tests.builders import FAST_HASHER
from tests.rag_shop import RagShop, make_shop
from tests.web.conftest import Clock, Shop, shop_settings


class TiedClock(Clock):
    """The service's clock is the shop's."""

    def __init__(self, shop: RagShop) -> None:
        super().__init__()
        self.shop = shop

    def __call__(self) -> datetime:
        return self.shop.now


@contextmanager
def rag_client(database: Database, folder: Path) -> Iterator[tuple[RagShop, Shop]]:
    """A rag shop, and its application as `tests.web.conftest.Shop`."""
    rags = make_shop(database)
    clock = TiedClock(rags)
    app = create_app(shop_settings(folder, database), database, clock, hasher=FAST_HASHER)
    doors = Shop(app, database, clock, rags.people)
    yield rags, doors
    for client in doors.clients:
        client.close()
