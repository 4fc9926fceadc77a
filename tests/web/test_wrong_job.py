"""A job number that is none, or whose job has ended: told beside the field, whatever act it came with."""

from __future__ import annotations

from datetime import timedelta

import pytest
from sqlmodel import col, select

from service.core.access import Role
from service.records.stock import ContainerEvent, EventKind, Movement
from tests.store_builders import job
from tests.web.conftest import Shop
from tests.web.test_container_pages import send, stocked, with_oil


def ended(shop: Shop) -> str:
    """The number of a job that has ended."""
    with shop.database.writing() as session:
        done = job(session, shop.actor(Role.FINISHER))
        done.closed_at = done.started_at + timedelta(minutes=1)
        session.add(done)
        number = str(done.id)
    shop.clock.pass_by(minutes=5)
    return number


def _booked(shop: Shop) -> int:
    with shop.database.reading() as session:
        checks = session.exec(select(ContainerEvent.id).where(col(ContainerEvent.kind) == EventKind.CHECKED))
        return len(checks.all()) + len(session.exec(select(Movement.id)).all())


@pytest.mark.parametrize("heats", [False, True])
@pytest.mark.parametrize(
    ("path", "typed", "kept"),
    [
        ("check", {"found": "failed", "note": "smells burnt"}, "smells burnt"),
        ("draw", {"amount": "5.5 g"}, "5.5 g"),
        ("return", {"amount": "5.5 g"}, "5.5 g"),
        ("lose", {"loss": "spilled", "amount": "5.5 g"}, "5.5 g"),
        ("decant", {"amount": "5.5 g"}, "5.5 g"),
    ],
)
def test_the_form_comes_back_filled_in(
    shop: Shop, heats: bool, path: str, typed: dict[str, str], kept: str
) -> None:
    code = with_oil(shop) if heats else stocked(shop)
    over = ended(shop)
    client = shop.signed_in(Role.FINISHER)
    before = _booked(shop)
    for number, words in (("999", "There is no job number 999."), (over, "was not running then")):
        answer = send(client, f"/containers/{code}/{path}", **typed, job=number)
        assert answer.status_code == 422
        assert 'id="e-job"' in answer.text and words in answer.text and kept in answer.text
    assert _booked(shop) == before


@pytest.mark.parametrize(
    ("path", "body"),
    [
        ("checks", {"found": "sound"}),
        ("checks", {"found": "failed"}),
        ("discards", {"destination": "hauler"}),
        ("losses", {"loss": "spilled", "amount": "5 g"}),
        ("draws", {"amount": "5 g"}),
    ],
)
def test_the_call_does_not_ignore_it(shop: Shop, path: str, body: dict[str, str]) -> None:
    code, over = stocked(shop), ended(shop)
    client = shop.api(Role.KEEPER)
    before = _booked(shop)
    for number, status in ((999, 404), (int(over), 409)):
        asked = {"once": f"job-{path}-{number}", "job": number, **body}
        assert client.post(f"/api/containers/{code}/{path}", json=asked).status_code == status
    assert _booked(shop) == before
