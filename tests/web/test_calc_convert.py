"""The convert calculator over HTTP: answers, doubts with readings, and bodies nobody should send."""

from __future__ import annotations

from typing import Any

import pytest
from fastapi import FastAPI
from starlette.testclient import TestClient

from service.web import errors
from service.web.api.calc_convert import router


@pytest.fixture(scope="module")
def client() -> TestClient:
    app = FastAPI()
    errors.install(app)
    app.include_router(router)
    return TestClient(app)


def ask(client: TestClient, **body: Any) -> Any:
    return client.post("/api/calc/convert", json=body)


def test_an_answer(client: TestClient) -> None:
    answer = ask(client, amount="1 qt", to="g", system="us", state="liquid", density_g_ml=0.93).json()
    assert (answer["value"], answer["unit"], answer["exact"], answer["complete"]) == (
        "880.10823978",
        "g",
        True,
        True,
    )
    used = {"property": "density", "value": "0.93", "unit": "g/ml", "source": "given"}
    assert answer["data_used"] == [{"ingredient": "", "grade": "", **used}]


@pytest.mark.parametrize("loose", [0.65, "0.65", [0.6, 0.7], ["0.6", "0.7"]])
def test_a_loose_density_is_one_figure_or_two(client: TestClient, loose: Any) -> None:
    answer = ask(client, amount="1 l", to="g", state="powder", bulk_density_g_ml=loose).json()
    assert answer["value"] == ("600 to 700" if isinstance(loose, list) else "650")


def test_a_doubt_is_a_422_with_readings(client: TestClient) -> None:
    answer = ask(client, amount="2 pints", to="ml")
    assert answer.status_code == 422
    assert [reading["text"] for reading in answer.json()["readings"]] == ["2 US pints", "2 imperial pints"]


@pytest.mark.parametrize(
    "body",
    [
        {"amount": "1 l"},
        {"amount": "1 l", "to": "ml", "more": 1},
        {"amount": 1, "to": "ml"},
        {"amount": "1 l", "to": ["ml"]},
        {"amount": "1\x00 l", "to": "ml"},
        {"amount": "1 l", "to": "m\x00l"},
        {"amount": "1 l" + " " * 200_000, "to": "ml" * 100},
        {"amount": "1 l", "to": "ml", "system": "metric"},
        {"amount": "1 l", "to": "g", "state": "gas"},
        {"amount": "1 l", "to": "g", "density_g_ml": 0},
        {"amount": "1 l", "to": "g", "density_g_ml": -1},
        {"amount": "1 l", "to": "g", "density_g_ml": "NaN"},
        {"amount": "1 l", "to": "g", "density_g_ml": "1e999999"},
        {"amount": "1 l", "to": "g", "density_g_ml": "Infinity"},
        {"amount": "1 l", "to": "g", "density_g_ml": True},
        {"amount": "1 l", "to": "g", "bulk_density_g_ml": []},
        {"amount": "1 l", "to": "g", "bulk_density_g_ml": [0.7, 0.6], "state": "powder"},
        {"amount": "1 l", "to": "g", "bulk_density_g_ml": [0.5, 0.6, 0.7]},
        {"amount": "1 ppm", "to": "mg/m3", "molar_mass_g_mol": 0},
    ],
)
def test_what_nobody_should_send_is_a_422(client: TestClient, body: dict[str, Any]) -> None:
    assert ask(client, **body).status_code == 422


def test_a_lone_surrogate_is_a_422(client: TestClient) -> None:
    body = b'{"amount": "1\\ud800 l", "to": "ml"}'
    answer = client.post("/api/calc/convert", content=body, headers={"content-type": "application/json"})
    assert answer.status_code == 422
