"""The pack for an inspector: page, ZIP, tables and data, of today and of days that are over."""

from __future__ import annotations

import csv
import io
import json
import zipfile
from collections.abc import Iterator
from datetime import date
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

import pypdfium2 as pdfium
import pytest
from fastapi.testclient import TestClient
from sqlalchemy import event

from service.core.access import Role
from service.core.training import GROUP_WORDS
from service.records.engine import open_database
from service.records.training_queries import who_lacks
from tests.conftest import fresh_sqlite
from tests.rag_shop import once
from tests.web.conftest import Shop
from tests.web.demo_shop import demo_on, demo_shop

KEYS = [
    "hazardous-chemicals", "data-sheets", "storage-totals", "storage-findings", "ventilation", "rag-loads",
    "rag-log", "solvent-wipes", "waste", "waste-drums", "drum-codes", "recurring-checks", "checks-made",
    "training", "overrides", "on-somebodys-word", "late-entries", "labels-due", "record-periods",
    "training-lacking", "recorded-since",
]  # fmt: skip


@pytest.fixture(scope="module")
def demo(request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Shop]:
    folder = tmp_path_factory.mktemp("pack")
    template: Path = request.getfixturevalue("sqlite_template")
    database = open_database(fresh_sqlite(template, folder))
    with demo_shop(database, folder) as made:
        yield made
    database.dispose()


@pytest.fixture(scope="module")
def reader(demo: Shop) -> TestClient:
    return demo.signed_in(Role.READER)


def pdf_text(content: bytes) -> list[str]:
    """The text of each page, its line ends as spaces."""
    paper = pdfium.PdfDocument(content)
    try:
        return [" ".join(page.get_textpage().get_text_range().split()) for page in paper]
    finally:
        paper.close()


def test_the_page_has_every_section_and_says_what_it_lacks(reader: TestClient) -> None:
    page = reader.get("/inspection-pack").text
    places = [page.index(f'<details class="part" id="{key}"') for key in KEYS]
    assert places == sorted(places)
    assert "What is not in here" in page
    assert "Inspection pack of 12 March 2026" in page
    assert "what was recorded until 2026-03-12 10:30" in page
    assert "movements, the last number" in page and "entries; hash " in page
    assert "Boiled linseed oil" in page and "29 CFR 1910.106" in page


def test_the_zip_holds_a_table_for_each_section_and_the_same_on_paper(reader: TestClient) -> None:
    answer = reader.get("/inspection-pack.zip")
    assert answer.status_code == 200
    assert answer.headers["content-type"] == "application/zip"
    assert 'filename="inspection-pack-2026-03-12.zip"' in answer.headers["content-disposition"]
    archive = zipfile.ZipFile(io.BytesIO(answer.content))
    assert archive.testzip() is None
    assert archive.namelist() == [
        "about-this-pack.csv", *(f"{key}.csv" for key in KEYS), "inspection-pack-2026-03-12.pdf"
    ]
    data = reader.get("/api/inspection-pack")
    assert data.status_code == 401  # a cookie opens no call
    pages = pdf_text(archive.read("inspection-pack-2026-03-12.pdf"))
    whole = " ".join(pages)
    for name in archive.namelist()[:-1]:
        rows = list(csv.reader(io.StringIO(archive.read(name).decode("utf-8-sig"))))
        assert {len(row) for row in rows} == {len(rows[0])}, name
    for number, text in enumerate(pages, start=1):
        assert f"Page {number} of {len(pages)}" in text
        assert "what was recorded until 2026-03-12 10:30; printed 2026-03-12 10:30" in text
    about = dict(list(csv.reader(io.StringIO(archive.read("about-this-pack.csv").decode("utf-8-sig"))))[1:])
    assert about["ledger head"].split("SHA-256 ")[1] in whole
    assert about["rag log head"].split("hash ")[1] in whole
    for title in (
        "Hazardous chemicals", "Safety data sheets", "Storage against its limits",
        "Ventilation class by material", "Loads of oily rags", "Log of oily rags", "Waste by month",
        "Recurring checks", "Checks that were made", "Training", "Overrides of the rag block",
        "Late entries", "Labels to print anew", "How long records are kept", "Recorded since",
    ):  # fmt: skip
        assert title in whole
    assert "Boiled linseed oil" in whole and "Ivo Lindgate" in whole


def test_the_call_says_the_same_as_the_tables(demo: Shop, reader: TestClient) -> None:
    said = demo.api(Role.READER).get("/api/inspection-pack?on_date=2026-03-05").json()
    assert said["day"] == "2026-03-05" and said["past"] is True
    assert said["until"].startswith("2026-03-05T22:59:59")
    assert [one["key"] for one in said["sections"]] == ["about-this-pack", *KEYS]
    saved = reader.get("/inspection-pack.csv?section=training&on_date=2026-03-05")
    rows = list(csv.reader(io.StringIO(saved.content.decode("utf-8-sig"))))
    (told,) = (one for one in said["sections"] if one["key"] == "training")
    assert rows[0] == told["columns"]
    assert len(rows) - 1 == len(told["rows"]) > 10
    assert saved.headers["content-disposition"].endswith('filename="2026-03-05-training.csv"')
    zipped = demo.api(Role.KEEPER).get("/api/inspection-pack.zip?on_date=2026-03-05")
    assert zipfile.ZipFile(io.BytesIO(zipped.content)).testzip() is None


@pytest.mark.parametrize(
    ("on", "words"),
    [
        ("2026-03-13", "has not come yet"),
        ("2200-01-01", "has not come yet"),
        ("2020-01-01", "begins on"),
        ("03/04/2026", "03/04/2026"),
        ("yesterday", "Enter the day like"),
        ("2026-02-30", ""),
    ],
)
def test_a_day_that_cannot_be_told_is_a_sentence(
    demo: Shop, reader: TestClient, on: str, words: str
) -> None:
    page = reader.get("/inspection-pack", params={"on_date": on})
    assert page.status_code == 422
    assert words in page.text
    assert f'value="{on}"' in page.text  # what was typed is kept
    assert 'id="training"' not in page.text  # and today is not passed off as that day
    for path in ("/inspection-pack.zip", "/inspection-pack.csv?section=waste"):
        assert reader.get(path, params={"on_date": on, "section": "waste"}).status_code == 422
    call = demo.api(Role.READER).get("/api/inspection-pack", params={"on_date": on})
    assert call.status_code == 422
    assert "on_date" in str(call.json()["errors"])


def test_no_such_section_is_told_with_those_there_are(reader: TestClient) -> None:
    answer = reader.get("/inspection-pack.csv?section=stock")
    assert answer.status_code == 404
    assert "rag-log" in answer.text


def test_a_student_has_no_pack(demo: Shop) -> None:
    assert demo.signed_in(Role.STUDENT).get("/inspection-pack").status_code == 403
    assert demo.api(Role.STUDENT).get("/api/inspection-pack").status_code == 403


def test_a_pack_asks_the_book_a_fixed_number_of_questions(demo: Shop, reader: TestClient) -> None:
    asked: list[str] = []

    def hear(*told: Any) -> None:
        asked.append(told[2])

    event.listen(demo.database.engine, "before_cursor_execute", hear)
    reader.get("/inspection-pack?on_date=2026-03-04")
    event.remove(demo.database.engine, "before_cursor_execute", hear)
    assert 20 < len(asked) <= 90


def test_what_nobody_weighed_in_a_drum_is_never_a_nought(demo: Shop) -> None:
    api, reader = demo.api(Role.KEEPER), demo.signed_in(Role.READER)
    begin = {"stream": "Sludge", "hazards": "Ignitable", "area": "central", "acute": "no"}

    def drum(name: str, *steps: dict[str, str]) -> int:
        asked = begin | {"name": name, "once": once()}
        number: int = api.post("/api/waste-drums", json=asked).json()["drum"]
        for step in steps:
            answer = api.post(f"/api/waste-drums/{number}/entries", json=step | {"once": once()})
            assert answer.status_code == 201, answer.text
        return number

    put = {"step": "put-in", "what": "Sludge"}
    drum("Nothing known", put)
    drum("Partly known", put | {"amount": "14 kg"}, put)
    drum("Litres only", put | {"amount": "3 l"})
    drum("Weighed", put, {"step": "weighed", "amount": "400 kg"})
    gone = drum("Gone", put | {"amount": "14 kg"}, put)
    left = {"once": once(), "receiver": "Millrace", "transporter": "Carriers", "mass": "31 kg"}
    assert api.post(f"/api/waste-drums/{gone}/hand-over", json=left).status_code == 201
    saved = reader.get("/inspection-pack.csv?section=waste-drums").content.decode("utf-8-sig")
    rows = {row["name"]: row for row in csv.DictReader(io.StringIO(saved))}
    assert {name: (row["kg"], row["holds"]) for name, row in rows.items()
            if name in ("Nothing known", "Partly known", "Litres only", "Weighed", "Gone")} == {
        "Nothing known": ("", "not known"),
        "Partly known": ("14", "at least 14 kg"),
        "Litres only": ("", "3 l, kilograms not known"),
        "Weighed": ("400", "400 kg, measured on 2026-03-12"),
        "Gone": ("14", "31 kg, weighed when it left; by the entries before at least 14 kg"),
    }  # fmt: skip
    page = reader.get("/inspection-pack").text.replace("\u00a0", " ")
    whole = " ".join(pdf_text(pack_of(reader)))
    for words in ("at least 14 kg", "3 l, kilograms not known", "31 kg, weighed when it left"):
        assert words in page and words in whole
    assert rows["Gone"]["drum"] == str(gone)


def test_what_stands_on_a_site_is_not_known_where_no_drum_was_weighed(
    request: pytest.FixtureRequest, tmp_path: Path
) -> None:
    with demo_on("sqlite", request, tmp_path) as shop:
        said = shop.signed_in(Role.READER).get("/inspection-pack").text
    assert "At least 0 kg" not in said and "How many kilograms stand here is not known." in said


def pack_of(reader: TestClient) -> bytes:
    archive = zipfile.ZipFile(io.BytesIO(reader.get("/inspection-pack.zip").content))
    return archive.read("inspection-pack-2026-03-12.pdf")


def test_who_lacks_which_training_as_known_today_stands_in_every_pack(demo: Shop) -> None:
    with demo.database.reading() as session:
        here, needs = who_lacks(session, date(2026, 3, 12), ZoneInfo("Europe/Berlin"))
        lacks = {(here[one.person].name, GROUP_WORDS[one.group]) for one in needs}
    for query in ("", "?on_date=2026-03-10"):
        said = demo.api(Role.READER).get(f"/api/inspection-pack{query}").json()
        [found] = [one for one in said["sections"] if one["key"] == "training-lacking"]
        assert {(row[0], row[2]) for row in found["rows"]} == lacks and lacks
        assert found["said"][0].startswith("As known on 2026-03-12")
        assert len(found["said"]) == (2 if query else 1)


def test_the_rag_log_of_the_pack_is_told_in_words_beside_what_was_hashed(
    demo: Shop, reader: TestClient
) -> None:
    text = reader.get("/inspection-pack.csv?section=rag-log").text
    rows = list(csv.DictReader(io.StringIO(text.removeprefix("\ufeff"))))
    assert rows and all(row["in words"] and "{" not in row["in words"] for row in rows)
    assert all(json.loads(row["body"])["kind"] for row in rows), "the chain is checked from this file too"
