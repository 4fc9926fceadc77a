"""Fields that nobody may send: a call with one is 422 and changes nothing, a form leaves it aside."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import Any, Final

import pytest

from service.core.access import Role
from service.records.engine import open_database
from service.web.api_description import BODIES
from tests.conftest import fresh_sqlite
from tests.web.conftest import Shop
from tests.web.demo_shop import codes, demo_shop
from tests.web.hostile import Call, calls, forms, fresh_key, put
from tests.web.test_hostile_input import filled
from tests.web.test_methods import everything

PRIVILEGED: Final[dict[str, Any]] = {
    "id": 4711987, "role": "keeper", "created_by": 4711987, "created_at": "1999-01-01T00:00:00Z",
    "recorded_at": "1999-01-01T00:00:00Z", "hash": "zqhash", "prev_hash": "zqhash", "balance": 4711987,
    "person_id": 4711987, "token_id": 4711987, "device_id": 4711987, "active": True, "is_demo": True,
    "closed_at": "1999-01-01T00:00:00Z", "posting_id": 4711987, "keeper_answers": False, "state": "sealed",
    "standing": "in-date", "override_id": 4711987, "__class__": "x", "": "zqhash",
}  # fmt: skip


@pytest.fixture(scope="module")
def demo(tmp_path_factory: pytest.TempPathFactory, sqlite_template: Path) -> Iterator[Shop]:
    folder = tmp_path_factory.mktemp("fields")
    database = open_database(fresh_sqlite(sqlite_template, folder))
    with demo_shop(database, folder) as shop:
        yield shop
    database.dispose()


def objects_in(call: Call) -> set[tuple[str | int, ...]]:
    """Where in a body objects stand: the body itself, and what lists and fields hold."""
    return {(), *(at[:-1] for at in call.fields if len(at) > 1)}


def test_a_call_with_a_field_that_nobody_may_send_changes_nothing(demo: Shop) -> None:
    client = demo.api(Role.KEEPER)
    there = codes(demo.database)
    before = everything(demo.database)
    wrong, asked, deep = [], 0, 0
    for call in calls(demo.app.openapi(), BODIES):
        known = set(call.fields)
        for turn, (name, value) in enumerate(PRIVILEGED.items()):
            for at in sorted(objects_in(call), key=str):
                if (*at, name) in known:
                    continue
                asked, deep = asked + 1, deep + bool(at)
                body = put(call.fresh(), (*at, name), value)
                answer = client.post(filled(there, call.path, turn), json=body)
                told = [key.split(".")[-1] for key in answer.json().get("errors", {})]
                if answer.status_code != 422 or name.removesuffix("_id") not in told:
                    wrong.append(f"{call.path} {at} {name}: {answer.status_code} {told}")
    assert wrong == [], "\n".join(wrong)
    assert asked > 500 and deep > 50
    assert everything(demo.database) == before


def test_a_form_leaves_aside_what_stands_on_no_form(demo: Shop) -> None:
    """Sent with everything privileged beside its own fields, none of those values is found in the book."""
    there = codes(demo.database)
    client = demo.signed_in(Role.KEEPER)
    done = 0
    for turn, form in enumerate(forms(demo.app)):
        if form.path.startswith(("/sign-out", "/me/", "/sign-in", "/first-keeper")):
            continue
        own = form.usual | ({"once": fresh_key()} if "once" in form.usual else {})
        more = {name: str(value) for name, value in PRIVILEGED.items() if name not in form.fields}
        answer = client.post(filled(there, form.path, turn), data=more | own)
        assert answer.status_code < 500, form.path
        done += answer.status_code == 303
    assert done > 15, "many of them went through"
    kept = [row for rows in everything(demo.database).values() for row in rows]
    for value in ("4711987", "zqhash", "1999, 1, 1"):
        assert [row for row in kept if value in row] == []


@pytest.mark.parametrize("role", [Role.STUDENT, Role.FINISHER])
def test_nobody_makes_themselves_a_keeper(demo: Shop, role: Role) -> None:
    client = demo.signed_in(role)
    own = demo.cast.person(role)
    before = everything(demo.database)["person"]
    for path in ("/me/theme", "/me/password", "/me/pin", f"/people/{own.id}", "/people/new"):
        client.post(path, data={"role": "keeper", "active": "yes", "version": "1", "name": own.name,
                                "sign_in_name": own.sign_in_name, "expires_on": ""})  # fmt: skip
    assert everything(demo.database)["person"] == before
