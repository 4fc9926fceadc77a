"""Forms keep what was typed, judge it, and say what to do in the words of the label."""

from __future__ import annotations

from decimal import Decimal
from typing import Annotated, Any, ClassVar

import pytest
from fastapi import Depends, FastAPI
from pydantic import Field
from starlette.testclient import TestClient

from service.core.findings import Invalid, Reading
from service.core.materials import Basis
from service.web import errors
from service.web.fields import DayText, Id, Name, Note, NumberText, Once, WrittenAmount
from service.web.forms import MAX_FIELDS, MAX_PART, FormModel, Posted, filled, judge, posted, takes_many
from service.web.sentences import BY_KIND, sentence_for


class Draw(FormModel):
    amount: WrittenAmount = Field(title="Amount, in grams")
    container: Id = Field(title="Container")
    weight: Annotated[NumberText, Field(ge=0, le=1000)] | None = Field(None, title="Weight")
    basis: Basis = Field(Basis.MASS, title="Counted in")
    opened: DayText | None = Field(None, title="Opened on")
    note: Note = Field("", title="Note")
    guess: bool = False
    tags: list[Name] = Field(default_factory=list, title="Tags")
    once: Once = "default-key"
    sentences: ClassVar[dict[tuple[str, str], str]] = {
        ("amount", "missing"): "Enter how much you drew, in grams."
    }


def make_client() -> TestClient:
    app = FastAPI()
    errors.install(app)

    @app.post("/api/draw")
    def draw(p: Annotated[Posted[Draw], Depends(posted(Draw))]) -> dict[str, Any]:
        return {
            "raw": p.raw,
            "errors": p.errors,
            "first": p.first_error,
            "value": p.value.model_dump(mode="json") if p.value else None,
            "readings": {k: [r.text for r in v] for k, v in p.readings.items()},
        }

    @app.post("/api/file")
    def file(p: Annotated[Posted[Draw], Depends(posted(Draw, uploads=True))]) -> dict[str, Any]:
        sheet = p.upload("sheet")
        return {"name": sheet.name, "size": len(sheet.content)} if sheet else {"name": None}

    return TestClient(app)


@pytest.fixture(scope="module")
def client() -> TestClient:
    return make_client()


def test_a_form_that_fits(client: TestClient) -> None:
    told = client.post(
        "/api/draw",
        data={
            "amount": " 1 1/2 tsp ",
            "container": "7",
            "weight": "0,5",
            "opened": "25 Nov 2026",
            "guess": "yes",
            "tags": ["a", " ", "b"],
            "extra button": "x",
            "note": "",
        },
    ).json()
    assert told["errors"] == {}
    value = told["value"]
    assert value["amount"] == "1 1/2 tsp" and Decimal(value["weight"]) == Decimal("0.5")
    assert value["opened"] == "2026-11-25" and value["guess"] is True and value["tags"] == ["a", "b"]
    assert value["note"] == ""


def test_an_empty_form_keeps_all_and_says_what_to_enter(client: TestClient) -> None:
    told = client.post("/api/draw", data={"amount": "   ", "note": "kept"}).json()
    assert told["value"] is None
    assert told["raw"] == {"amount": "   ", "note": "kept"}
    assert told["errors"] == {"amount": "Enter how much you drew, in grams.", "container": "Enter container."}
    assert told["first"] == "Enter how much you drew, in grams."


def test_ambiguity_comes_with_readings(client: TestClient) -> None:
    told = client.post(
        "/api/draw", data={"amount": "1", "container": "1", "weight": "1,000", "opened": "5/11/2026"}
    ).json()
    assert told["readings"] == {"weight": ["1", "1000"], "opened": ["2026-11-05", "2026-05-11"]}
    assert told["value"] is None and set(told["errors"]) == {"weight", "opened"}


@pytest.mark.parametrize(
    "odd", ["\x00", "\x1b[0m", "x" * 5000, "٣", "1e999999", str(2**63), "\u202e", "' OR 1=1"]
)
def test_odd_text_never_falls_over(client: TestClient, odd: str) -> None:
    names = ("amount", "container", "weight", "basis", "opened", "note", "guess", "tags", "once")
    for name in names:
        answer = client.post("/api/draw", data={name: odd})
        assert answer.status_code == 200
        assert all(words.endswith(".") for words in answer.json()["errors"].values())


def test_the_last_of_two_values_counts(client: TestClient) -> None:
    """A reading's button comes after the input of the same name."""
    answer = client.post(
        "/api/draw",
        content=b"amount=1%2C000&container=1&amount=1000+g",
        headers={"Content-Type": "application/x-www-form-urlencoded"},
    )
    assert answer.json()["value"]["amount"] == "1000 g"


def test_bytes_that_are_no_utf8_are_read_as_something(client: TestClient) -> None:
    answer = client.post(
        "/api/draw",
        content=b"amount=%ff%ed%a0%80&container=1",
        headers={"Content-Type": "application/x-www-form-urlencoded"},
    )
    assert answer.status_code == 200


def test_files_only_where_asked_for(client: TestClient) -> None:
    files = {"sheet": ("../../etc/\x07passwd", b"%PDF-1.7")}
    assert client.post("/api/draw", files=files).status_code == 400
    told = client.post("/api/file", files=files).json()
    assert told["size"] == 8 and "\x07" not in told["name"]
    assert client.post("/api/file", data={"amount": "1"}).json() == {"name": None}


def test_too_many_fields_are_refused(client: TestClient) -> None:
    data = {f"f{n}": "x" for n in range(MAX_FIELDS + 1)}
    assert client.post("/api/draw", data=data).status_code == 413


@pytest.mark.parametrize("multipart", [False, True])
def test_a_field_over_its_bound_is_too_large(client: TestClient, multipart: bool) -> None:
    kept, over = "x" * (MAX_PART - 10), "x" * (MAX_PART + 1)
    for text, status in ((kept, 200), (over, 413)):
        files = {"nothing": ("", b"")} if multipart else None
        path = "/api/file" if multipart else "/api/draw"
        assert client.post(path, data={"note": text}, files=files).status_code == status


def test_an_action_can_add_its_sentences() -> None:
    p = judge(Draw, {"amount": "1 oz", "container": "1"})
    assert p.value is not None
    p.take(
        Invalid("Which ounce?", readings=[Reading("1 fl oz", "fluid"), Reading("1 oz wt", "by weight")]),
        "amount",
    )
    assert p.value is None and p.errors == {"amount": "Which ounce?"}
    assert [r.text for r in p.readings["amount"]] == ["1 fl oz", "1 oz wt"]
    p.take(Invalid("No.", {"note": "Enter a reason."}))
    assert p.errors["note"] == "Enter a reason." and "" not in p.errors


def test_filled_shows_values_without_judging() -> None:
    p = filled(amount="2 tsp", tags=["a", 2], guess=True, off=False, none=None, n=3)
    assert (p.text("amount"), p.all("tags"), p.text("guess")) == ("2 tsp", ["a", "2"], "yes")
    assert (p.text("off"), p.text("none"), p.text("n"), p.text("never")) == ("", "", "3", "")
    assert p.errors == {}


def test_lists_are_found_in_annotations() -> None:
    assert takes_many(list[int]) and takes_many(list[int] | None) and takes_many(Annotated[set[str], 1])
    assert not takes_many(str) and not takes_many(str | None)


def test_sentences_of_the_table() -> None:
    told = sentence_for({"type": "less_than_equal", "ctx": {"le": 5}}, "Count")
    assert told == "Count: enter a number of 5 or less."
    assert sentence_for({"type": "less_than_equal"}, "Count") == "Enter count another way."
    assert (
        sentence_for({"type": "value_error", "ctx": {"error": ValueError("Weigh it first.")}}, "x")
        == "Weigh it first."
    )
    for pattern in BY_KIND.values():
        words = pattern.lower().replace("{", " ").split()
        assert pattern.endswith(".") and not {"good", "safe", "please", "invalid", "oops"} & set(words)
