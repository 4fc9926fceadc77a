"""Every field of every call and form with what no one types, on both databases: refused or kept, never a
mistake of ours; and afterwards every page still opens and the books hold.
"""

from __future__ import annotations

import json
import os
import re
from collections import Counter
from collections.abc import Iterator
from typing import Final
from urllib.parse import quote, urlencode

import pytest
from fastapi.testclient import TestClient

from service.core.access import Role
from service.records.people import Person
from service.web.api_description import BODIES
from service.web.route_table import ROWS
from tests.web.conftest import Shop
from tests.web.demo_shop import codes, demo_on
from tests.web.hostile import RAW, TEXTS, VALUES, Form, calls, forms, fresh_key, put
from tests.web.poison import broken, spoiled

STRIDE: Final = int(os.environ.get("HOSTILE_STRIDE", "36"))
"""Each field gets every 36th value, the next field the next ones; with 1 every field gets every value."""
ANSWERS: Final = {200, 201, 303, 400, 401, 403, 404, 409, 413, 422, 429}
_MARK: Final = "put-it-here"
GET_PATHS: Final = sorted(
    {row.path for row in ROWS if row.method == "GET" and row.path != "/api/openapi.json"}
)
QUERY_NAMES: Final = (
    "q", "kind", "standing", "state", "place", "material", "page", "limit", "offset", "days", "since",
    "before", "person", "job", "batch", "late", "container", "after", "count", "digits", "on", "next", "code",
    "codes", "sheet", "active", "closed", "ended", "version_number",
)  # fmt: skip
SEARCHED: Final = frozenset(path for path in GET_PATHS if "{" not in path)


@pytest.fixture(scope="module", params=["sqlite", "postgres"])
def demo(request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Shop]:
    with demo_on(request.param, request, tmp_path_factory.mktemp("hostile")) as shop:
        yield shop


def filled(demo_codes: list[str], path: str, turn: int) -> str:
    """An address at something that exists, another thing each time."""
    path = path.replace("{code}", demo_codes[turn % len(demo_codes)]).replace("{kind}", "solvent")
    path = path.replace("{key}", "tung").replace("{token}", "no-such-token")
    return re.sub(r"\{\w+\}", str(1 + turn % 4), path)


def amiss(answers: Counter[tuple[str, int]]) -> dict[tuple[str, int], int]:
    return {key: times for key, times in answers.items() if key[1] not in ANSWERS}


def test_every_field_of_every_call(demo: Shop) -> None:
    client = demo.api(Role.KEEPER)
    there = codes(demo.database)
    answers: Counter[tuple[str, int]] = Counter()
    turn = 0
    for call in calls(client.get("/api/openapi.json").json(), BODIES):
        for at in call.fields:
            texts = [json.dumps(value) for value in VALUES[turn % STRIDE :: STRIDE]] + list(
                RAW[turn % STRIDE :: STRIDE]
            )
            for text in texts:
                turn += 1
                body = json.dumps(put(call.fresh(), at, _MARK))
                content = body.replace(json.dumps(_MARK), text).encode()
                answers[_sent(client, filled(there, call.path, turn), call.path, content, at)] += 1
    assert amiss(answers) == {}
    assert sum(answers.values()) > 20_000 / STRIDE
    assert {status for _, status in answers} >= {201, 404, 409, 422}


def _sent(
    client: TestClient, address: str, path: str, content: bytes, at: tuple[str | int, ...]
) -> tuple[str, int]:
    answer = client.post(address, content=content, headers={"content-type": "application/json"})
    where = f"{path} {at}" + (f" {content[:300]!r}" if answer.status_code not in ANSWERS else "")
    return where, answer.status_code


def test_bodies_that_are_no_bodies(demo: Shop) -> None:
    client = demo.api(Role.KEEPER)
    there = codes(demo.database)
    answers: Counter[tuple[str, int]] = Counter()
    bodies = [text.encode() for text in RAW] + [
        b"", b"{}", b"[]", b"null", b"0", b'"x"', b"\xff\xfe{}", b"\xed\xa0\x80", b'{"once": "\xff"}',
        '{"once": "x"}'.encode("utf-16"), b"a=b&c=d", b'{"once": "a", "once": "b"}', b"\x00" * 1000,
    ]  # fmt: skip
    described = calls(client.get("/api/openapi.json").json(), BODIES)
    for turn, call in enumerate(described[::4]):
        for content in bodies:
            address = filled(there, call.path, turn)
            for kind in (
                "application/json",
                "text/plain",
                "application/x-www-form-urlencoded",
                "multipart/form-data",
            ):
                answer = client.post(address, content=content, headers={"content-type": kind})
                answers[f"{call.path} {kind} {content[:40]!r}", answer.status_code] += 1
    assert amiss(answers) == {}
    # Only what says that it is JSON is read as JSON: another type is what a page of another site can send.
    other = {key for key in answers if "application/json" not in key[0] and key[1] not in {400, 404, 422}}
    assert other == set()


def test_addresses_and_questions(demo: Shop) -> None:
    """What stands in a path or in a query, at every GET address."""
    page, script = demo.signed_in(Role.KEEPER), demo.api(Role.KEEPER)
    answers: Counter[tuple[str, int]] = Counter()
    for number, path in enumerate(GET_PATHS):
        client = script if path.startswith("/api/") else page
        for text in TEXTS[number % STRIDE :: STRIDE]:
            odd = quote(text[:5000], safe="", errors="surrogatepass")
            query = "&".join(f"{name}={odd[:1500]}" for name in QUERY_NAMES)
            for address in (
                re.sub(r"\{\w+(:\w+)?\}", odd, path),
                f"{filled(['K7QF2B'], path, number)}?{query}",
            ):
                status = client.get(address).status_code
                answers[f"{path} {address[:120] if status >= 500 else ''}", status] += 1
        for name in QUERY_NAMES[number % 6 :: 6] if "{" not in path else ():
            odd = quote(TEXTS[(number * 7 + len(name)) % len(TEXTS)][:5000], safe="", errors="surrogatepass")
            status = client.get(f"{path}?{name}={odd}").status_code
            answers[f"{path} {name}={odd[:80] if status >= 500 else ''}", status] += 1
    assert {key: n for key, n in answers.items() if key[1] not in ANSWERS | {302, 307}} == {}


def keeper(demo: Shop) -> TestClient:
    """A keeper who is nobody's subject in these tests, newly signed in."""
    with demo.database.writing() as session:
        row = Person(name="Ada Tester", role=Role.KEEPER, created_at=demo.clock.now)
        session.add(row)
        session.flush()
        session.refresh(row)
        session.expunge(row)
    return demo.signed_in_as(row)


def test_every_field_of_every_form(demo: Shop) -> None:
    there = codes(demo.database)
    answers: Counter[tuple[str, int]] = Counter()
    turn = 0
    found = forms(demo.app)
    assert len(found) > 70
    for form in found:
        client = keeper(demo)
        for values in _filled_in(form):
            turn += 1
            address = filled(there, form.path, turn)
            sent = urlencode(values, errors="surrogatepass")
            answer = client.post(
                address, content=sent, headers={"content-type": "application/x-www-form-urlencoded"}
            )
            odd = f" {sent[:400]}" if answer.status_code not in ANSWERS else ""
            answers[f"{form.path}{odd}", answer.status_code] += 1
    assert amiss(answers) == {}
    assert {status for _, status in answers} >= {303, 404, 409, 422}


def _filled_in(form: Form) -> Iterator[dict[str, str]]:
    """As usual; each field in turn with some of the texts; all fields at once with some."""
    usual = form.usual | ({"once": fresh_key()} if "once" in form.usual else {})
    yield usual
    for number, name in enumerate(form.fields):
        for text in TEXTS[(number + len(form.path)) % STRIDE :: STRIDE]:
            again = {"once": fresh_key()} if "once" in form.usual else {}
            yield usual | again | {name: text}
    for text in TEXTS[len(form.path) % STRIDE :: STRIDE]:
        yield dict.fromkeys(form.fields or ("anything",), text)


def test_afterwards_everything_still_opens_and_the_books_hold(demo: Shop) -> None:
    assert spoiled(demo, keeper(demo), demo.api(Role.KEEPER)) == {}
    assert broken(demo) == ""
