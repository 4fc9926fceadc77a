"""Stock lists and tables as files at the doors: pages, calls, attachments, limits."""

from __future__ import annotations

import csv
import hashlib
import io
import json
import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from fastapi.testclient import TestClient
from sqlmodel import func, select

from service.core.access import Role
from service.core.rag_log import GENESIS
from service.core.stock_list_file import MOST_BYTES, MOST_LINES
from service.records.engine import Database
from service.records.places import PlaceKind
from service.records.stock import Container
from tests.rag_shop import RagShop
from tests.store_builders import material, place
from tests.web.conftest import Shop
from tests.web.demo_shop import demo_shop
from tests.web.rag_client import rag_client

DEMO = Path(__file__).parents[2] / "seed_data" / "demo"


def stock(shop: Shop) -> int:
    with shop.database.reading() as session:
        return session.exec(select(func.count()).select_from(Container)).one()


def know_ochre(shop: Shop) -> None:
    with shop.database.writing() as session:
        material(session, "ochre")


def bring(client: TestClient, content: str | bytes, **more: str) -> Any:
    return client.post("/receive/list", data=more, files={"file": ("list.csv", content, "text/csv")})


def once_of(page: str) -> str:
    found = re.search(r'name="once" value="([^"]+)"', page)
    assert found is not None
    return found[1]


def test_a_list_by_pages_from_file_to_labels(shop: Shop) -> None:
    know_ochre(shop)
    client = shop.signed_in(Role.FINISHER)
    assert client.get("/receive/list").status_code == 200
    sent = bring(client, "material,kind,amount,opened\nochre,,100 g,sealed\nTung oil,binder,1 l,sealed\n")
    assert sent.status_code == 303
    where = sent.headers["location"]
    page = client.get(where).text
    assert "Nothing is written down yet" in page and "Tung oil" in page and "not in the book" in page
    key = re.search(r'name="key" value="([0-9a-f]{16})"', page)
    assert key is not None and stock(shop) == 0

    refused = client.post(f"{where}/take", data={"once": once_of(page)})
    assert refused.status_code == 409 and "line 3" in refused.text and stock(shop) == 0
    answer = client.post(f"{where}/materials", data={"key": key[1], "choice": "new:liquid"})
    assert answer.status_code == 303
    page = client.get(where).text
    assert "Take in all 2 containers" in page
    taken = client.post(f"{where}/take", data={"once": once_of(page)})
    assert taken.status_code == 303 and stock(shop) == 2
    page = client.get(where).text
    assert "Print 2 labels" in page and "Tung oil" in page
    assert client.post(f"{where}/take", data={"once": "another"}).status_code == 409
    again = bring(client, "material;kind;amount;opened\nochre;;100 g;sealed\nTung oil;binder;1 l;sealed\n")
    assert again.status_code == 409 and "taken in already" in again.text and stock(shop) == 2


def test_the_good_lines_are_their_own_button_and_problems_a_file(shop: Shop) -> None:
    know_ochre(shop)
    client = shop.signed_in(Role.KEEPER)
    where = bring(client, "material,amount,opened\nochre,100 g,sealed\n=ochre,x,\n").headers["location"]
    page = client.get(where).text
    assert "Take in 1 container, leave 1 line out" in page and "Take in all" not in page
    saved = client.get(f"{where}/problems.csv")
    rows = list(csv.reader(io.StringIO(saved.text.removeprefix("\ufeff"))))
    assert rows[0] == ["line", "column", "found", "expected", "how to mend it"]
    assert [row[:2] for row in rows[1:]] == [["3", "opened"], ["3", "amount"], ["3", "material"]]
    assert client.post(f"{where}/take", data={"once": "a", "good_lines": "yes"}).status_code == 303
    assert stock(shop) == 1 and "bring it again" in client.get(where).text


def test_files_that_are_no_list_lose_nothing_and_break_nothing(shop: Shop) -> None:
    client = shop.signed_in(Role.KEEPER)
    for content in (
        b"", b"what\nx\n", b"material\n", b"\x00\x01\x02", b"%PDF-1.7", b"PK\x03\x04zip", b"\xff" * 100,
        b'material\n"', b"material\n" + b'"' * 1001, b"x," * 5000, b"\n" * 100_000, b"=1+1\n",
        "material\n\ud800".encode("utf-8", "surrogatepass"), b"material\n" + b"a" * 200_000,
        b"material\n" + b"ochre\n" * (MOST_LINES + 1), b"m" * (MOST_BYTES + 1),
    ):  # fmt: skip
        answer = bring(client, content)
        assert answer.status_code in (303, 422), content[:40]
        if answer.status_code == 303:
            assert client.get(answer.headers["location"]).status_code == 200
    assert client.post("/receive/list", data={"empty_opened": "sealed"}).status_code == 422
    assert bring(client, "material\nochre\n", empty_opened="maybe").status_code == 422
    for number in ("999", "0", str(2**40), "x/problems.csv"):
        assert client.get(f"/receive/list/{number}").status_code in (404, 422)
    assert client.post("/receive/list/999/take", data={"once": "x"}).status_code == 404
    assert client.post("/receive/list/999/materials", data={"key": "zz", "choice": "-"}).status_code == 422


def test_students_and_readers_bring_none(shop: Shop) -> None:
    for role in (Role.STUDENT, Role.READER):
        client = shop.signed_in(role)
        assert client.get("/receive/list").status_code == 403
        assert bring(client, "material\nochre\n").status_code == 403


def test_a_list_by_calls(shop: Shop) -> None:
    know_ochre(shop)
    api = shop.api(Role.FINISHER)
    text = "material,kind,amount,opened\nochre,,100 g,\nTung oil,binder,1 l,sealed\n"
    asked: dict[str, Any] = {"csv": text}
    first = api.post("/api/stock-lists", json=asked)
    assert first.status_code == 201, first.text
    told = first.json()
    assert (told["good_lines"], told["wrong_lines"], told["taken"]) == (0, 2, False)
    assert {(p["line"], p["column"]) for p in told["problems"]} == {(2, "opened"), (3, "material")}
    name = told["names"][0]
    asked |= {"empty_opened": "sealed", "materials": {name["key"]: f"known:{name['published'][0]}"}}
    told = api.post("/api/stock-lists", json=asked).json()
    assert (told["good_lines"], told["wrong_lines"]) == (2, 0)
    assert api.get(f"/api/stock-lists/{told['id']}").json() == told
    once = {"once": "take-1"}
    taken = api.post(f"/api/stock-lists/{told['id']}/take", json=once)
    assert taken.status_code == 201 and taken.json()["containers"] == 2
    assert api.post(f"/api/stock-lists/{told['id']}/take", json=once).json() == taken.json()
    assert api.post("/api/stock-lists", json=asked).status_code == 409
    assert api.get(f"/api/stock-lists/{told['id']}").json()["taken"] is True
    assert api.post("/api/stock-lists", json={"csv": "x" * (MOST_BYTES + 1)}).status_code == 422
    for wrong in ("material\nochre\u0000", "material\nochre\ud800"):
        told = {"content": json.dumps({"csv": wrong}), "headers": {"content-type": "application/json"}}
        refused = api.post("/api/stock-lists", **told)
        assert refused.status_code == 422 and "Line 2" in refused.text
    # A sign that cannot be seen is a mistake of its line, not of the whole list.
    text = "material,opened,lot\nochre,open,7\noch\u0007re,open,8\n"
    told = api.post("/api/stock-lists", json={"csv": text}).json()
    assert told["good_lines"] == 1 and told["problems"][0]["line"] == 3
    assert api.post("/api/stock-lists", json={"csv": "material\nochre", "name": "a\u0007"}).status_code == 422
    assert api.post("/api/stock-lists", content=b"x" * 5_000_000).status_code in (413, 415, 422)


HEADER = "material,amount,capacity,packed,received,opened,printed date,place,lot,supplier,condition,note\n"


def test_the_look_shows_everything_that_was_read(shop: Shop) -> None:
    know_ochre(shop)
    with shop.database.writing() as session:
        shelf = place(session, "Shelf 9", PlaceKind.SHELF).id
    client, api = shop.signed_in(Role.FINISHER), shop.api(Role.FINISHER)
    text = HEADER + (
        "Ochre,200-250 g,500 g,Mar 2024,2024-04-02,2024-05-03,2027,shelf 9,L-77,Old Mill,damaged,"
        "found below\n"
        "ochre,half,1 kg,,,open,,,,,,\nochre,ca. 100 g,,,,sealed,,,,,,\n"
    )
    page = client.get(bring(client, text).headers["location"]).text
    for words in (
        "about 200 g", "Between 200 g and 250 g", "holds 500 g", "packed 2024-03-01", "received 2024-04-02",
        "2024-05-03", "printed date 2027-01-01", "in Shelf 9", "lot L-77", "from Old Mill", "damaged",
        "“found below”", "packed “Mar 2024” taken as 1 March 2024", "about 500 g", "about 100 g",
    ):  # fmt: skip
        assert words in page, words
    told = api.post("/api/stock-lists", json={"csv": text}).json()
    first, second, third = told["lines"]
    assert [one["known"] for one in told["lines"]] == ["estimated"] * 3
    assert (first["smallest"], first["packed"], first["printed_date"], first["place_id"], first["lot"]) == (
        200_000, "2024-03-01", "2027-01-01", shelf, "L-77",
    )  # fmt: skip
    assert (first["condition"], len(first["remarks"]), first["opened_on"]) == ("damaged", 2, "2024-05-03")
    assert (second["opened"], second["opened_on"], third["opened"]) == (True, None, False)


def test_places_and_other_cans_are_answered_on_the_page(shop: Shop) -> None:
    know_ochre(shop)
    with shop.database.writing() as session:
        shelf = place(session, "Shelf 9", PlaceKind.SHELF).id
    client = shop.signed_in(Role.FINISHER)
    line = "ochre,300 g,1 kg,,,open,,Regal,G-3,,,\n"
    first = bring(client, HEADER + line + "ochre,100 g,1 kg,,,open,,Regal,G-4,,,\n").headers["location"]
    page = client.get(first).text
    assert "Places that are not in the book" in page and "Lines 2, 3" in page
    key = re.search(r'name="where" value="([0-9a-f]{16})"', page)
    assert key is not None
    sent = client.post(f"{first}/answers", data={"where": key[1], "choice": f"place:{shelf}"})
    assert sent.status_code == 303
    assert client.post(f"{first}/take", data={"once": "one"}).status_code == 303
    # The amount is mended and the file brought again: the line is asked about, with the way to count it.
    where = bring(client, HEADER + line.replace("300 g", "30 g")).headers["location"]
    page = client.get(where).text
    assert "looks like" in page and "but the amount differs. Is it another can, or a correction?" in page
    code = re.search(r'href="/containers/([A-Z0-9]{6})/count"', page)
    assert code is not None and client.get(f"/containers/{code[1]}").status_code == 200
    asked = re.findall(r'name="asked" value="([0-9a-f]{16})"', page)
    assert client.post(f"{where}/take", data={"once": "two"}).status_code == 409
    assert client.post(f"{where}/answers", data={"asked": asked, "another": asked}).status_code == 303
    assert "Take in the container" in client.get(where).text
    assert client.post(f"{where}/answers", data={"asked": asked}).status_code == 303
    assert "Take in the container" not in client.get(where).text
    assert client.post(f"{where}/answers", data={"every": "yes"}).status_code == 303
    assert client.post(f"{where}/take", data={"once": "three"}).status_code == 303
    assert stock(shop) == 3
    for wrong in ({"where": key[1]}, {"where": key[1], "choice": "x"}, {"asked": "zz"}):
        assert client.post(f"{where}/answers", data=wrong).status_code == 422
    api = shop.api(Role.FINISHER)
    told = api.post("/api/stock-lists", json={"csv": HEADER + line.replace("300 g", "9 g")}).json()
    assert told["questions"][0]["container"] == code[1] and told["problems"][0]["line"] == 2
    answer = {"csv": HEADER + line.replace("300 g", "9 g"), "another": [told["questions"][0]["key"]]}
    assert api.post("/api/stock-lists", json=answer).json()["good_lines"] == 1


def test_the_same_mistake_stands_on_the_page_once(shop: Shop) -> None:
    know_ochre(shop)
    client = shop.signed_in(Role.FINISHER)
    text = "material,opened,place,lot\n" + "".join(f"ochre,sealed,Attic,{n}\n" for n in range(30))
    where = bring(client, text).headers["location"]
    page = client.get(where).text
    assert page.count("Lines 2, 3, 4, 5, 6 … (30 lines)") == 3  # the question; the table and the cards
    assert len(table(client.get(f"{where}/problems.csv"))) == 30


@pytest.fixture
def demo(sqlite_database: Database, tmp_path: Path) -> Iterator[Shop]:
    with demo_shop(sqlite_database, tmp_path) as shop:
        yield shop


@pytest.fixture
def rags(sqlite_database: Database, tmp_path: Path) -> Iterator[tuple[RagShop, Shop]]:
    with rag_client(sqlite_database, tmp_path) as both:
        yield both


def table(answer: Any) -> list[dict[str, str]]:
    assert answer.status_code == 200
    assert answer.headers["content-type"].startswith("text/csv")
    assert answer.headers["content-disposition"].startswith("attachment; filename=")
    assert answer.headers["x-content-type-options"] == "nosniff"
    assert "no-store" in answer.headers["cache-control"]
    return list(csv.DictReader(io.StringIO(answer.content.decode("utf-8-sig"), newline="")))


def test_tables_are_files_whose_figures_and_hashes_can_be_checked(rags: tuple[RagShop, Shop]) -> None:
    book, doors = rags
    book.draw()
    book.pass_by(minutes=5)
    book.into_can()
    reader = doors.signed_in(Role.READER)
    stock_file = table(reader.get("/records/csv/stock.csv"))
    ledger = table(reader.get("/records/csv/ledger.csv"))
    assert table(reader.get("/records/csv/events.csv")) is not None
    assert {row["code"] for row in stock_file} >= {row["container"] for row in ledger}
    for code in {row["container"] for row in ledger}:
        mine = [row for row in ledger if row["container"] == code]
        assert sum(int(row["change"]) for row in mine) == int(mine[-1]["left"])

    # The chain by the words of core/rag_log.py alone: domain, hash before, number, canonical text.
    before = GENESIS
    rows = table(reader.get("/records/csv/rag-log.csv"))
    assert len(rows) >= 2
    for number, row in enumerate(rows, start=1):
        assert (int(row["entry"]), row["hash before"]) == (number, before)
        parts = (bytes.fromhex(before), number.to_bytes(8, "big"), row["body"].encode())
        assert hashlib.sha256(b"umberkeep/rag-log/1\x00" + b"".join(parts)).hexdigest() == row["hash"]
        before = row["hash"]

    student = doors.signed_in(Role.STUDENT)
    for name in ("stock", "ledger", "events", "rag-log"):
        assert student.get(f"/records/csv/{name}.csv").status_code == 403


def test_the_sample_lists_read_in_the_demo_shop(demo: Shop) -> None:
    client = demo.signed_in(Role.KEEPER)
    page = client.get(bring(client, (DEMO / "stock-list.csv").read_bytes()).headers["location"]).text
    assert page.count('name="key"') == 2  # Tung oil and cheesecloth are new to the book
    wrong = bring(client, (DEMO / "stock-list-with-mistakes.csv").read_bytes()).headers["location"]
    rows = table(client.get(f"{wrong}/problems.csv"))
    assert [(int(row["line"]), row["column"]) for row in rows] == [
        (3, "capacity"), (4, "received"), (5, "kind"), (6, "amount"), (7, "packed"), (8, "opened"),
        (9, "place"), (10, "code"), (11, "material"),
    ]  # fmt: skip
