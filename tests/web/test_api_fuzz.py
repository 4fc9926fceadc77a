"""Every call under /api with made-up requests, from its own description: what no one would send by hand.

Each made-up request is sent by nobody and by a script of every role, least first, on both databases. The
answers must be ones that the description names and shaped as it says, never a mistake of ours; and what was
made up must not spoil a list for the next one who looks.
"""

from __future__ import annotations

import itertools
import os
from collections import Counter
from collections.abc import Iterator
from typing import Any, Final

import pytest
import schemathesis
from hypothesis import HealthCheck, Phase, given, seed, settings
from schemathesis import GenerationMode
from schemathesis.checks import not_a_server_error
from schemathesis.specs.openapi.checks import (
    content_type_conformance,
    response_headers_conformance,
    response_schema_conformance,
    status_code_conformance,
)

from service.core.access import Role
from tests.web.conftest import Shop
from tests.web.demo_shop import codes, demo_on
from tests.web.poison import broken, spoiled

CHECKS: Final = [
    not_a_server_error, status_code_conformance, content_type_conformance, response_schema_conformance,
    response_headers_conformance,
]  # fmt: skip
CASES: Final = int(os.environ.get("FUZZ_CASES", "20"))
"""Made up for each call and database; each is sent five times, so 20 give 10 000 requests in all."""
SEEDS: Final = {"sqlite": 20260312, "postgres": 20261126}
"""Other requests on the other database."""


@pytest.fixture(scope="module", params=["sqlite", "postgres"])
def demo(request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Shop]:
    with demo_on(request.param, request, tmp_path_factory.mktemp("fuzz")) as shop:
        yield shop


def tried(
    operation: Any, number: int, there: list[str], callers: dict[str, dict[str, str]]
) -> Counter[tuple[str, int]]:
    """Made-up requests of one call by every caller, two of three at something that exists; the answers."""
    numbers = itertools.count()
    answers: Counter[tuple[str, int]] = Counter()

    @seed(number)
    @given(case=operation.as_strategy(generation_mode=GenerationMode.POSITIVE)
           | operation.as_strategy(generation_mode=GenerationMode.NEGATIVE))  # fmt: skip
    @settings(
        max_examples=CASES, deadline=None, database=None, phases=[Phase.generate],
        suppress_health_check=list(HealthCheck), derandomize=False,
    )  # fmt: skip
    def one(case: Any) -> None:
        number = next(numbers)
        for name in case.path_parameters or {}:
            if number % 3:
                case.path_parameters[name] = there[number % len(there)] if name == "code" else 1 + number % 4
        for who, headers in callers.items():
            response = case.call(base_url="http://testserver", headers=headers)
            case.validate_response(response, checks=CHECKS)
            answers[who, response.status_code] += 1

    one()
    return answers


def test_nothing_made_up_gives_a_mistake_of_ours(demo: Shop) -> None:
    callers: dict[str, dict[str, str]] = {"nobody": {}} | {
        role: {"Authorization": str(demo.api(role).headers["authorization"])} for role in Role
    }
    described = schemathesis.openapi.from_asgi("/api/openapi.json", demo.app).include(path_regex="^/api/")
    operations = [one.ok() for one in described.get_all_operations()]
    assert len(operations) >= 50
    there = codes(demo.database)
    answers: Counter[tuple[str, int]] = Counter()
    wrong: dict[str, str] = {}
    first = SEEDS[demo.database.engine.dialect.name.replace("postgresql", "postgres")]
    for number, operation in enumerate(operations, first):
        try:
            answers += tried(operation, number, there, callers)
        except Exception as error:  # the rest are tried as well
            wrong[f"{operation.method} {operation.path}"] = str(error)[:2000]
    assert not wrong, "\n\n".join(f"{call}: {words}" for call, words in wrong.items())
    assert answers.total() >= 250 * CASES, "both databases together: 10 000 with the 20 cases of CI"
    # A body that is no JSON is told so before anybody is asked for a name.
    assert {status for who, status in answers if who == "nobody"} <= {400, 401, 422}
    if CASES >= 20:
        assert {status for who, status in answers if who == Role.KEEPER} >= {200, 201, 404, 409, 422}
    assert {status for who, status in answers if who == Role.READER} >= {200, 403}


def test_afterwards_everything_still_opens_and_the_books_hold(demo: Shop) -> None:
    assert spoiled(demo, demo.signed_in(Role.KEEPER), demo.api(Role.KEEPER)) == {}
    assert broken(demo) == ""
