"""What several tests of the doors do: fill in the sign-in form, read hidden fields, print an address."""

from __future__ import annotations

import html
import itertools
import re

from fastapi.testclient import TestClient
from httpx2 import Response

from service.actions.sign_in_links import printed_link
from service.records.people import Person
from tests.web.conftest import Shop

_numbers = itertools.count(1)


def enter(
    client: TestClient, name: str = "orla", password: str = "the password of orla", **more: str
) -> Response:
    return client.post("/sign-in", data={"sign_in_name": name, "password": password, **more})


def hidden(page: str) -> dict[str, str]:
    found = re.findall(r'<input type="hidden" name="([^"]*)" value="([^"]*)">', page)
    return {html.unescape(name): html.unescape(value) for name, value in found}


def set_person(shop: Shop, person: Person, **values: object) -> None:
    with shop.database.writing() as session:
        row_ = session.get_one(Person, person.id)
        for name, value in values.items():
            setattr(row_, name, value)
        session.add(row_)


def printed(shop: Shop) -> str:
    token = f"printed-{next(_numbers)}"
    with shop.database.writing() as session:
        printed_link(session, token, shop.clock())
    return f"/sign-in/once/{token}"


def address(path: str) -> str:
    """A path of the template with something in every gap; nothing in the shop has that number."""
    return re.sub(r"\{[^}]+\}", "987654", path)
