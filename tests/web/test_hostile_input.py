"""Every field of every call and form with what no one types, on both databases: refused or kept, never a
mistake of ours; and afterwards every page still opens and the books hold.
"""

from __future__ import annotations

import json
import os
import re
from collections import Counter
from collections.abc import Iterator
from datetime import date, time
from decimal import Decimal
from enum import Enum
from typing import Any, Final
from unicodedata import category
from urllib.parse import quote, urlencode

import pytest
from fastapi.testclient import TestClient

from service.core.access import Role
from service.records.people import Person
from service.web.api_description import BODIES
from service.web.forms import judge
from tests.web.conftest import Shop
from tests.web.demo_shop import codes, demo_on
from tests.web.hostile import Blank, Form, Question, calls, forms, fresh_key, put, questions
from tests.web.odd_values import NUMBERS, OF_KIND, RAW, RAW_OF_KIND, TEXTS, TIMES, VALUES, WRITTEN
from tests.web.poison import broken, spoiled

STRIDE: Final = int(os.environ.get("HOSTILE_STRIDE", "72"))
"""Each field gets all that its kind must bear, and of everything odd each 72nd value, the next field the next
ones; with 1 every field gets every value."""
ANSWERS: Final = {200, 201, 303, 400, 401, 403, 404, 409, 413, 422, 429}
_MARK: Final = "put-it-here"


COMMON: Final = frozenset({("once",), ("happened_at",), ("late_reason",), ("person",), ("already_done",)})


@pytest.fixture(scope="module", params=["sqlite", "postgres"])
def demo(request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Shop]:
    with demo_on(request.param, request, tmp_path_factory.mktemp("hostile")) as shop:
        yield shop


def filled(demo_codes: list[str], path: str, turn: int) -> str:
    """An address at something that exists, another thing each time."""
    path = path.replace("{code}", demo_codes[turn % len(demo_codes)]).replace("{kind}", "solvent")
    path = path.replace("{found}", "mould")
    path = path.replace("{key}", "tung").replace("{token}", "no-such-token")
    return re.sub(r"\{\w+\}", str(1 + turn % 4), path)


def amiss(answers: Counter[tuple[str, int]]) -> dict[tuple[str, int], int]:
    return {key: times for key, times in answers.items() if key[1] not in ANSWERS}


def test_every_field_of_every_call(demo: Shop) -> None:
    client = demo.api(Role.KEEPER)
    there = codes(demo.database)
    answers: Counter[tuple[str, int]] = Counter()
    turn = 0
    for number, call in enumerate(calls(client.get("/api/openapi.json").json(), BODIES)):
        for at in call.fields:
            sample = [json.dumps(value) for value in VALUES] + list(RAW)
            # What every call has in common is given all of it in every fourth only.
            known = () if at in COMMON and number % 4 else RAW_OF_KIND[call.kinds[at]]
            for text in [*known, *sample[turn % STRIDE :: STRIDE]]:
                turn += 1
                body = json.dumps(put(call.fresh(), at, _MARK))
                content = body.replace(json.dumps(_MARK), text).encode()
                answers[_sent(client, filled(there, call.path, turn), call.path, content, at)] += 1
    assert amiss(answers) == {}
    assert sum(answers.values()) > 2500
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


def test_every_gap_of_every_address_and_every_question(demo: Shop) -> None:
    """What stands in a path, of pages, calls and posts, and what a query reads."""
    page, script = demo.signed_in(Role.KEEPER), demo.api(Role.KEEPER)
    bodies = {call.path: call for call in calls(demo.app.openapi(), BODIES)}
    there = codes(demo.database)
    answers: Counter[tuple[str, int]] = Counter()
    found = questions(demo.app)
    assert sum(len(one.gaps) for one in found) > 120 and sum(len(one.asked) for one in found) > 80
    for turn, one in enumerate(found):
        client = script if one.path.startswith("/api/") else page
        sent: dict[str, Any] = {}
        if one.method == "POST":
            form = {"data": {"once": fresh_key()}}
            sent = {"json": bodies[one.path].fresh()} if one.path in bodies else form
        for address in _asked_oddly(one, there, turn):
            if one.path.startswith("/sign-out"):
                continue
            status = client.request(one.method, address, **sent).status_code
            answers[f"{one.method} {address[:120] if status not in ANSWERS else one.path}", status] += 1
    assert {key: n for key, n in amiss(answers).items() if key[1] != 307} == {}
    assert sum(answers.values()) > 1000


def _asked_oddly(one: Question, there: list[str], turn: int) -> Iterator[str]:
    plain = filled(there, one.path, turn)
    for name, kind in one.gaps.items():
        for text in [*OF_KIND[kind], *TEXTS[turn % STRIDE :: STRIDE]]:
            path = re.sub(rf"\{{{name}(:\w+)?\}}", lambda _, text=text: in_address(text), one.path)  # type: ignore[misc]
            yield filled(there, path, turn)
    for name, kind in one.asked.items():
        for text in [*OF_KIND[kind], *TEXTS[(turn + len(name)) % STRIDE :: STRIDE]]:
            yield f"{plain}?{name}={in_address(text)}"
        yield f"{plain}?{name}=1&{name}=0&{name}={in_address(OF_KIND[kind][0])}"


def in_address(text: str) -> str:
    return quote(text[:5000], safe="", errors="surrogatepass")


def keeper(demo: Shop) -> TestClient:
    """A keeper who is nobody's subject in these tests, newly signed in."""
    with demo.database.writing() as session:
        row = Person(name="Ada Tester", role=Role.KEEPER, created_at=demo.clock.now)
        session.add(row)
        session.flush()
        session.refresh(row)
        session.expunge(row)
    return demo.signed_in_as(row)


def test_what_a_form_reads_can_be_kept_and_shown(shop: Shop) -> None:
    """Every text in every field of every form: refused with a sentence, or read as something harmless."""
    wrong, refused, read = [], 0, 0
    for form in forms(shop.app):
        assert all(judge(model, {**form.usual}).value is not None for model in form.models), form.path
        for name in form.fields:
            if any(name in model.unguarded for model in form.models):
                continue
            for text in {*TEXTS, *NUMBERS, *TIMES, *WRITTEN}:
                got = form.takes(name, text)
                refused, read = refused + (got is None), read + (got is not None)
                if not harmless(got):
                    wrong.append(f"{form.path} {name} {text[:40]!r} -> {got!r:.60}")
    assert wrong == []
    assert refused > 10_000 and read > 10_000


def harmless(got: Any) -> bool:
    """Whether a value that was read fits both databases, every page and every sum."""
    if isinstance(got, str):
        hidden = [sign for sign in got if category(sign) in ("Cc", "Cs") and sign not in "\n\t"]
        return len(got) <= 4000 and not hidden
    if isinstance(got, bool | Enum | Blank | time) or got is None:
        return True
    if isinstance(got, int | float | Decimal):
        return abs(got) < 10**15 and (not isinstance(got, Decimal) or got.as_tuple().exponent >= -12)  # type: ignore[operator]
    if isinstance(got, date):
        return 1900 <= got.year <= 2200
    return isinstance(got, list | tuple | set | frozenset) and all(map(harmless, got))


def test_every_field_of_every_form(demo: Shop) -> None:
    """Texts that a field reads reach the acts, one at a time; the others are sent all over the form."""
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
    """As usual; each field in turn with texts that it reads; all fields at once with some of all."""
    yield form.usual | ({"once": fresh_key()} if "once" in form.usual else {})
    for number, name in enumerate(form.fields):
        read = [text for text in OF_KIND[form.kinds[name]] if form.takes(name, text) is not None]
        few = read if form.kinds[name] != "text" else read[number % 3 :: 3]
        for text in [*few, *TEXTS[(number + len(form.path)) % STRIDE :: STRIDE]]:
            again = {"once": fresh_key()} if "once" in form.usual else {}
            yield form.usual | again | {name: text}
    for text in ["\ud800", "\x00", *TEXTS[len(form.path) % STRIDE :: STRIDE]]:
        yield dict.fromkeys(form.fields or ("anything",), text)


def test_afterwards_everything_still_opens_and_the_books_hold(demo: Shop) -> None:
    assert spoiled(demo, keeper(demo), demo.api(Role.KEEPER)) == {}
    assert broken(demo) == ""
