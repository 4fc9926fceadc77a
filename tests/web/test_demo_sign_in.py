"""The demo shows its own password on this machine, and lets nobody in from elsewhere."""

from __future__ import annotations

from pathlib import Path

import pytest

from service.config import Settings
from service.records.shop import ShopProfile
from service.serving import CannotServe, judge_demo_address
from tests.builders import FAST_HASHER
from tests.web.conftest import Shop

PASSWORD = "four ash demo shop"
HERE = "127.0.0.1"


@pytest.fixture
def demo(shop: Shop) -> Shop:
    """A shop that is marked as the demo; Orla has the demo's password."""
    with shop.database.writing() as session:
        session.get_one(ShopProfile, 1).is_demo = True
        keeper = session.merge(shop.cast.keeper)
        keeper.password_hash = FAST_HASHER.make(PASSWORD)
    return shop


def test_the_password_stands_on_the_page_and_works(demo: Shop) -> None:
    client = demo.client(HERE)
    text = client.get("/sign-in").text
    assert PASSWORD in text
    assert "2648" in text
    assert "orla" in text
    answer = client.post("/sign-in", data={"sign_in_name": "orla", "password": PASSWORD})
    assert answer.status_code == 303
    assert "Demo shop." in client.get("/").text


def test_from_elsewhere_nothing_is_shown_and_nobody_gets_in(demo: Shop) -> None:
    away = demo.client("192.0.2.10")
    assert PASSWORD not in away.get("/sign-in").text
    assert away.post("/sign-in", data={"sign_in_name": "orla", "password": PASSWORD}).status_code == 403
    proxied = {"x-forwarded-for": "192.0.2.10"}
    near = demo.client(HERE)
    assert PASSWORD not in near.get("/sign-in", headers=proxied).text
    form = {"sign_in_name": "orla", "password": PASSWORD}
    assert near.post("/sign-in", data=form, headers=proxied).status_code == 403


def test_a_real_shop_shows_no_accounts(shop: Shop) -> None:
    text = shop.client(HERE).get("/sign-in").text
    assert "orla" not in text
    assert "demo" not in text.lower()


@pytest.mark.parametrize(
    ("host", "proxy", "fine"),
    [
        ("127.0.0.1", "", True), ("localhost", "", True), ("::1", "", True),
        ("0.0.0.0", "", False), ("192.0.2.1", "", False), ("127.0.0.1", "127.0.0.1", False),
    ],
)  # fmt: skip
def test_the_demo_is_served_to_this_machine_only(
    tmp_path: Path, host: str, proxy: str, fine: bool
) -> None:
    settings = Settings(data=tmp_path, database_url="", host=host, trusted_proxy=proxy)
    if fine:
        judge_demo_address(settings)
    else:
        with pytest.raises(CannotServe, match="this machine only"):
            judge_demo_address(settings)
