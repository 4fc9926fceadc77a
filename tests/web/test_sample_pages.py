"""Colour samples through the pages: begun, filled at the bench, judged, photographed, made again; who may."""

from __future__ import annotations

import re
from collections.abc import Iterator
from datetime import timedelta
from io import BytesIO
from pathlib import Path
from typing import Any

import pytest
from fastapi.testclient import TestClient
from PIL import Image
from sqlmodel import col, select

from service.app import create_app
from service.core.access import Role
from service.records.engine import Database
from service.records.jobs import JobPerson
from service.records.mixing_queries import the_recipe
from service.records.sample_queries import the_sample
from service.records.samples import ColourSample
from service.records.stock import Container
from tests.builders import FAST_HASHER, cast
from tests.mixing_shop import MixShop, make_mix_shop
from tests.store_builders import job
from tests.web.conftest import Clock, Shop, shop_settings
from tests.web.hostile import fresh_key

NEW = {
    "target": "The <b>old</b> door", "wood": "ash", "grit": "P180", "sealed": "yes", "sealed_with": "shellac",
    "coats": "2", "purpose": "stain",
}  # fmt: skip


@pytest.fixture
def desk(database: Database, tmp_path: Path) -> Iterator[Shop]:
    """The small shop on either database."""
    with database.writing() as session:
        people = cast(session)
    clock = Clock()
    app = create_app(shop_settings(tmp_path, database), database, clock, hasher=FAST_HASHER)
    made = Shop(app, database, clock, people)
    yield made
    for client in made.clients:
        client.close()


@pytest.fixture
def mix(desk: Shop) -> MixShop:
    made = make_mix_shop(desk.database, desk.cast)
    for name in ("raw umber", "boiled oil", "spirit"):
        made.can(name)
    return made


@pytest.fixture
def client(desk: Shop, mix: MixShop) -> TestClient:
    return desk.signed_in(Role.FINISHER)


def begin(client: TestClient, mix: MixShop, **said: str) -> str:
    """Begin a sample in the running job; the address of its batch."""
    form = NEW | {"job": str(mix.job), "once": fresh_key()} | said
    done = client.post("/samples/new", data=form)
    assert done.status_code == 303, done.text
    return str(done.headers["location"])


def put_in(client: TestClient, mix: MixShop, where: str, name: str, amount: str) -> None:
    form = {"material": str(mix.ids[name]), "amount": amount, "when": "about", "once": fresh_key()}
    assert client.post(f"{where}/add", data=form).status_code == 303


def photo(size: tuple[int, int] = (60, 40), kind: str = "PNG") -> bytes:
    out = BytesIO()
    Image.new("RGB", size, "brown").save(out, kind)
    return out.getvalue()


def send(client: TestClient, **files: tuple[str, bytes]) -> Any:
    sent = {name: (named, content, "image/jpeg") for name, (named, content) in files.items()}
    return client.post("/samples/1/photos", data={"once": fresh_key()}, files=sent)


def test_from_a_board_to_so_much_of_it(client: TestClient, mix: MixShop, desk: Shop) -> None:
    where = begin(client, mix)
    bench = client.get(where).text
    assert '<a href="/samples/1">ash, sanded to P180, sealed with shellac, 2 coats</a>' in bench
    assert "By eye: what you put in becomes the recipe." in bench and "In this order" not in bench
    assert "Nothing has gone in yet." in client.get("/samples/1").text
    put_in(client, mix, where, "spirit", "100 ml"), put_in(client, mix, where, "raw umber", "22 g")
    page = client.get("/samples/1").text
    assert "The &lt;b&gt;old&lt;/b&gt; door" in page and "<b>old" not in page
    for shown in ("78 g", "100 g", "78.0 %", "22.0 %", "not judged yet"):
        assert shown in page, shown
    asked = {"amount": "1 kg", "once": fresh_key()}
    done = client.post("/samples/1/make", data=asked)
    assert done.status_code == 303 and done.headers["location"].startswith("/checks/")
    answer = client.get(done.headers["location"]).text
    assert "1000 ml" in answer and "220 g" in answer
    assert "is version 2 of the recipe now" in answer
    again = client.post("/samples/1/make", data={"amount": "2 times", "once": fresh_key()})
    assert again.status_code == 303
    with desk.database.reading() as session:
        assert the_recipe(session, mix.batch(1).recipe_id).current_version == 2
    assert "says exactly this already" in client.get("/samples/1").text


def test_an_amount_that_cannot_be_used_stays_in_its_field(client: TestClient, mix: MixShop) -> None:
    where = begin(client, mix)
    put_in(client, mix, where, "spirit", "100 ml")
    for amount in ("", "a bucket", "3 pieces", "12"):
        page = client.post("/samples/1/make", data={"amount": amount, "once": fresh_key()})
        assert page.status_code == 422 and 'id="e-amount"' in page.text, amount
        assert f'value="{amount}"' in page.text
    assert "Make this much of it" in page.text


@pytest.mark.parametrize(
    ("said", "field"),
    [
        ({"target": ""}, "target"),
        ({"wood": " "}, "wood"),
        ({"coats": "21"}, "coats"),
        ({"coats": "two"}, "coats"),
        ({"sealed": "no"}, "sealed_with"),
        ({"sealed": "maybe"}, "sealed"),
        ({"job": ""}, "job"),
        ({"grit": "9" * 41}, "grit"),
        ({"purpose": "p" * 61}, "purpose"),
    ],
)
def test_what_cannot_be_used_is_said_beside_its_field(
    client: TestClient, mix: MixShop, said: dict[str, str], field: str
) -> None:
    form = NEW | {"job": str(mix.job), "once": fresh_key()} | said
    page = client.post("/samples/new", data=form)
    assert page.status_code == 422 and f'id="e-{field}"' in page.text
    assert "P180" in page.text or field == "grit"


def test_a_job_that_is_none_or_over_is_told_beside_the_field(
    client: TestClient, mix: MixShop, desk: Shop
) -> None:
    with desk.database.writing() as session:
        over = job(session, desk.actor(Role.FINISHER))
        over.closed_at = over.started_at + timedelta(minutes=1)
        session.add(over)
        ended = str(over.id)
    desk.clock.pass_by(minutes=5)
    for number, words in (("999", "There is no job number 999."), (ended, "was not running then")):
        form = NEW | {"wood": "pear", "job": number, "once": fresh_key()}
        page = client.post("/samples/new", data=form)
        assert page.status_code == 422 and 'id="e-job"' in page.text and words in page.text
        assert 'value="pear"' in page.text, "what was typed stays"
    with desk.database.reading() as session:
        assert not session.exec(select(ColourSample)).all()


def test_without_a_job_and_in_a_new_one(client: TestClient, mix: MixShop) -> None:
    where = begin(client, mix, job="none")
    form = {"material": str(mix.ids["boiled oil"]), "amount": "5 ml", "when": "about", "once": fresh_key()}
    assert client.post(f"{where}/add", data=form).status_code == 409
    assert mix.batch(int(begin(client, mix, job="new").rsplit("/", 1)[1])).job_id not in (None, mix.job)
    wrong = client.post("/samples/new", data=NEW | {"job": "99", "once": fresh_key()})
    assert wrong.status_code == 422 and "The &lt;b&gt;old" in wrong.text, "what was typed is kept"


def test_words_and_verdict(client: TestClient, mix: MixShop, desk: Shop) -> None:
    begin(client, mix)
    page = client.get("/samples/1/edit").text
    assert 'value="ash"' in page and "The &lt;b&gt;old" in page
    form = NEW | {"wood": "oak", "version": "1"}
    assert client.post("/samples/1/edit", data=form).status_code == 303
    assert client.post("/samples/1/edit", data=form).status_code == 409
    assert client.post("/samples/1/edit", data=form | {"wood": ""}).status_code == 422
    none = client.post("/samples/1/verdict", data={"version": "2", "once": fresh_key(), "note": "kept words"})
    assert none.status_code == 422 and "Say how the dry board came out." in none.text
    assert "kept words" in none.text
    said = {"verdict": "close", "note": "a little red", "version": "2", "once": fresh_key()}
    for _ in range(2):
        assert client.post("/samples/1/verdict", data=said).status_code == 303
    assert client.post("/samples/1/verdict", data=said | {"once": fresh_key()}).status_code == 409
    page = client.get("/samples/1").text
    assert "Close" in page and "a little red" in page and "Judged" in page and "Piet Maas" in page
    assert "oak" in client.get("/samples").text


def test_photographs_are_kept_and_shown_with_safe_headers(
    client: TestClient, mix: MixShop, desk: Shop, tmp_path: Path
) -> None:
    begin(client, mix)
    form = client.get("/samples/1/photos").text
    assert 'capture="environment"' in form and 'accept="image/jpeg,image/png,image/webp"' in form
    assert 'enctype="multipart/form-data"' in form
    assert client.get("/samples/1/photos/board").status_code == 404
    done = send(client, board=("b.png", photo()), target=("t.webp", photo(kind="WEBP")))
    assert done.status_code == 303, done.text
    page = client.get("/samples/1").text
    assert 'src="/samples/1/photos/board"' in page and 'src="/samples/1/photos/target"' in page
    answer = client.get("/samples/1/photos/board")
    assert answer.headers["content-type"] == "image/jpeg" and answer.content.startswith(b"\xff\xd8\xff")
    assert answer.headers["x-content-type-options"] == "nosniff"
    assert "sandbox" in answer.headers["content-security-policy"]
    assert answer.headers["cache-control"] == "no-store"
    assert client.get("/samples/1/photos/passport").status_code in (404, 422)
    assert send(client, board=("b.png", photo((10, 10)))).status_code == 303
    with desk.database.reading() as session:
        row = the_sample(session, 1)
        kept = {path.name for path in tmp_path.rglob("*") if len(path.name) == 64}
        assert {row.photo_sha256, row.target_photo_sha256} < kept and len(kept) == 3


HOSTILE = {
    "a drawing with a script": (b"<svg xmlns='x'><script>1</script></svg>", "no JPEG"),
    "a page": (b"<!doctype html><script>1</script>", "no JPEG"),
    "a program": (b"MZ" + b"\x00" * 100, "no JPEG"),
    "nothing": (b"", "empty"),
    "half a picture": (photo((900, 900), "JPEG")[:400], "cannot be opened"),
    "a head alone": (b"\x89PNG\r\n\x1a\n", "cannot be opened"),
    "more than ten megabytes": (b"\xff\xd8\xff" + b"0" * 10_000_000, "larger than 10 MB"),
}


@pytest.mark.parametrize("what", HOSTILE)
def test_a_hostile_file_is_refused_beside_its_field(
    client: TestClient, mix: MixShop, desk: Shop, tmp_path: Path, what: str
) -> None:
    begin(client, mix)
    content, says = HOSTILE[what]
    for field in ("board", "target"):
        page = send(client, **{field: ("holiday.jpg", content)})
        assert page.status_code == 422 and says in page.text and f'id="e-{field}"' in page.text
    # One that is good beside one that is not keeps neither.
    assert send(client, board=("b.png", photo()), target=("x.jpg", content)).status_code == 422
    with desk.database.reading() as session:
        assert the_sample(session, 1).photo_sha256 is None
    assert [path for path in tmp_path.rglob("*") if len(path.name) == 64] == []


def test_no_file_at_all_and_one_far_too_large(client: TestClient, mix: MixShop) -> None:
    begin(client, mix)
    page = client.post("/samples/1/photos", data={"once": fresh_key()})
    assert page.status_code == 422 and "Take a photograph" in page.text
    assert send(client, board=("b.jpg", b"\xff\xd8\xff" + b"0" * 11_000_000)).status_code == 413


def test_a_student_sees_those_of_their_jobs_and_changes_none(
    desk: Shop, mix: MixShop, client: TestClient
) -> None:
    where = begin(client, mix)
    put_in(client, mix, where, "spirit", "100 ml")
    assert send(client, board=("b.png", photo())).status_code == 303
    begin(client, mix, job="none", target="somebody else's")
    student = desk.signed_in(Role.STUDENT)
    theirs = ("/samples/1", "/samples/1/photos/board", "/bench/1/as-made")
    for path in theirs:
        assert student.get(path).status_code == 404, path
    assert 'href="/samples/1"' not in student.get("/samples").text
    with desk.database.writing() as session:
        session.add(JobPerson(job_id=mix.job, person_id=desk.cast.student.id or 0, added_at=mix.now))
    for path in theirs:
        assert student.get(path).status_code == 200, path
    assert student.get("/samples/2").status_code == 404
    listed = student.get("/samples").text
    assert 'href="/samples/1"' in listed and "somebody" not in listed
    assert "Begin a colour sample" not in listed
    page = student.get("/samples/1").text
    assert "Make this much of it" not in page and "/recipes/" not in page
    assert "What it cost" not in student.get("/bench/1/as-made").text
    for path in ("verdict", "make", "edit", "photos"):
        assert student.post(f"/samples/1/{path}", data={"once": fresh_key()}).status_code == 403, path
    assert student.post("/bench/1/as-made", data={"once": fresh_key()}).status_code == 403
    assert student.get("/samples/new").status_code == 403
    assert desk.client().get("/samples/1/photos/board").status_code == 303
    assert desk.signed_in(Role.READER).get("/samples/1/photos/board").status_code == 403


def test_as_made_shows_the_plan_beside_it_and_is_kept_once(client: TestClient, mix: MixShop) -> None:
    number = int(mix.start(mix.keep("2 times")).result["batch"])
    where = f"/bench/{number}"
    put_in(client, mix, where, "raw umber", "20 g")
    page = client.get(f"{where}/as-made").text
    for shown in ("Planned by version 1", "220 g", "more than planned by 20 g", "+10.0 %", "as planned"):
        assert shown in page, shown
    assert "at least 0.00" in page and "cost is not in the book" in page
    key = fresh_key()
    for _ in range(2):
        done = client.post(f"{where}/as-made", data={"note": "darker", "once": key})
        assert done.status_code == 303 and done.headers["location"] == f"/recipes/{mix.recipe}"
    recipe = client.get(f"/recipes/{mix.recipe}").text
    assert "As made in batch" in recipe and "darker" in recipe and "220 g" in recipe
    page = client.get(f"{where}/as-made").text
    assert "it says exactly this" in page and "Keep it as it was made" not in page
    put_in(client, mix, where, "spirit", "1 ml")
    assert "more has happened since" in client.get(f"{where}/as-made").text
    long = client.post(f"{where}/as-made", data={"note": "n" * 2001, "once": fresh_key()})
    assert long.status_code == 422 and 'id="e-note"' in long.text


def test_nothing_in_it_and_nothing_to_keep(client: TestClient, mix: MixShop) -> None:
    where = begin(client, mix)
    assert "Nothing has gone in yet." in client.get(f"{where}/as-made").text
    assert client.post(f"{where}/as-made", data={"once": fresh_key()}).status_code == 409
    assert client.post("/samples/1/make", data={"amount": "1 l", "once": fresh_key()}).status_code == 409
    empty = client.get(f"/recipes/{mix.batch(1).recipe_id}").text
    assert "Nothing is written here yet" in empty
    assert "no finished batch" in client.get(f"/recipes/{mix.batch(1).recipe_id}/batches").text.lower()
    for path in ("/samples/99", "/bench/99/as-made", "/recipes/99/batches", "/samples/99/photos"):
        assert client.get(path).status_code == 404, path


def test_scatter_names_who_is_left_out(client: TestClient, mix: MixShop) -> None:
    numbers = [int(mix.start(mix.keep("1 time")).result["batch"]) for _ in range(2)]
    form = {"step": "save", "when": "about", "once": fresh_key(), "loss_note": "pot", "form": "liquid"}
    assert client.post(f"/bench/{numbers[0]}/finish", data=form).status_code == 303
    page = client.get(f"/recipes/{mix.recipe}/batches").text
    assert "over 1 batch" in page and "It is running." in page and "1 of 1" in page
    shares = re.findall(r"<td class=\"num\">([0-9.]+) %</td>", page)
    # 100 g of umber, 200 ml of oil of 0.93 and 300 ml of spirit of 0.78 g/ml: 520 g in all.
    assert shares == ["19.2"] * 3 + ["35.8"] * 3 + ["45.0"] * 3 + ["19.2", "35.8", "45.0"]


def test_the_price_is_asked_when_something_comes_in_and_counts(
    desk: Shop, client: TestClient, mix: MixShop
) -> None:
    keeper = desk.signed_in(Role.KEEPER)
    shop = {"name": "Harbour", "time_zone": "Europe/Berlin", "regime": "eu-clp", "rag_grace_min": "0"}
    wrong = keeper.post("/shop", data=shop | {"version": "1", "currency": "€"})
    assert wrong.status_code == 422 and 'id="e-currency"' in wrong.text
    assert keeper.post("/shop", data=shop | {"version": "1", "currency": "eur"}).status_code == 303
    comes = {"count": "1", "amount": "1 l", "condition": "sound", "sheet_came": "no", "once": fresh_key()}
    form = comes | {"step": "dates", "price": "much"}
    page = client.post(f"/receive/{mix.ids['spirit']}", data=form)
    assert page.status_code == 422 and 'id="e-price"' in page.text and ">EUR<" in page.text
    form = comes | {"step": "state", "price": "12,50", "opened": "sealed"}
    assert client.post(f"/receive/{mix.ids['spirit']}", data=form).status_code == 303
    with desk.database.reading() as session:
        found = session.exec(select(Container.price).where(col(Container.price).is_not(None))).all()
    assert [f"{price:.2f}" for price in found if price is not None] == ["12.50"]
