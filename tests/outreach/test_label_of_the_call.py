"""What the label call says becomes a label on paper, word for word."""

from __future__ import annotations

from fastapi import FastAPI
from starlette.testclient import TestClient

from service.core.hazards.classes import Signal
from service.core.hazards.label import Label
from service.core.hazards.statements import Statement
from service.outreach.hazard_label_sizes import TO_50_L
from service.outreach.hazard_labels import hazard_label
from service.web.api.calc_classify import router
from service.web.errors import install
from tests.hazard_label_cases import STAIN, asked


def test_the_answer_of_the_label_call_becomes_a_label() -> None:
    """What `/api/calc/label` says stands on the paper, word for word."""
    app = FastAPI()
    app.include_router(router)
    install(app)
    with TestClient(app) as client:
        body = {
            "regime": "eu-clp",
            "hazards": list(STAIN),
            "volume_ml": 1000,
            "contains": ["Hydrocarbons, C9-C11"],
        }
        got = client.post("/api/calc/label", json=body)
    assert got.status_code == 200, got.text
    said = got.json()

    def statements(key: str) -> tuple[Statement, ...]:
        return tuple(Statement(one["code"], one["text"]) for one in said[key])

    of = Label(
        tuple(said["pictograms"]),
        Signal(said["signal_word"]),
        statements("hazard_statements"),
        statements("precautionary_statements"),
        statements("supplemental"),
        tuple(said["contains"]),
        (),
        (),
        (),
    )
    assert not hazard_label(asked(of)).fits
    made = hazard_label(asked(of), TO_50_L)
    assert made.fits and [one.code for one in made.pictures] == said["pictograms"]
    assert "Danger" in made.words and "Contains: Hydrocarbons, C9-C11." in made.words
    for one in said["hazard_statements"]:
        assert one["text"] in made.words
    # Its pictograms are those a container of a litre needs: the larger paper is for the words.
    assert made.side == 1610
