"""Pages of materials, sheets and places, through the client: what is typed stays, what is missing is said."""

from __future__ import annotations

import itertools
import re
from typing import Any

import pytest
from sqlmodel import select

from service.core.access import Role
from service.records.materials import Material, SafetySheet
from service.records.places import Place
from service.records.shop import Change
from tests.web.conftest import Shop

_keys = itertools.count(1)


def once() -> str:
    return f"page-key-{next(_keys):06d}"


def new(**more: Any) -> dict[str, Any]:
    said = {"name": "Spar varnish", "kind": "ready-made-finish", "form": "liquid", "maker": "A works"}
    return said | {"once": once()} | more


def material(shop: Shop, **more: Any) -> str:
    """The address of a new material, written down by the keeper."""
    answer = shop.signed_in(Role.KEEPER).post("/materials/new", data=new(**more))
    assert answer.status_code == 303, answer.text
    return str(answer.headers["location"])


def row(shop: Shop) -> Material:
    with shop.database.reading() as session:
        return session.exec(select(Material)).one()


def test_a_name_that_means_several_offers_all_of_them(shop: Shop) -> None:
    page = shop.signed_in(Role.FINISHER).get("/materials/new?q=Chrome+Green").text
    assert "alone does not say which material is meant" in page
    assert page.count("/materials/new/form?known=") >= 4
    assert "None of these" in page


def test_a_material_is_written_down_and_its_page_says_what_is_missing(shop: Shop) -> None:
    client = shop.signed_in(Role.FINISHER)
    answer = client.post("/materials/new", data=new())
    assert answer.status_code == 303
    page = client.get(answer.headers["location"]).text
    assert "Spar varnish" in page and "facts are not known" in page
    assert "is written down" in page
    assert "Copy section 2 of the sheet" in page, "how to mend it"
    assert "/facts" not in page, "a finisher is not sent to the keeper's form"


def test_what_was_typed_stays_when_something_is_missing(shop: Shop) -> None:
    answer = shop.signed_in(Role.FINISHER).post("/materials/new", data=new(name="", note="north shelf"))
    assert answer.status_code == 422
    assert "Error: " in answer.text and "Enter the name as it stands on the label." in answer.text
    assert "north shelf" in answer.text and 'value="A works"' in answer.text


def test_two_taps_make_one_material(shop: Shop) -> None:
    client, form = shop.signed_in(Role.FINISHER), new()
    first, second = client.post("/materials/new", data=form), client.post("/materials/new", data=form)
    assert first.headers["location"] == second.headers["location"]
    assert row(shop).name == "Spar varnish"


def test_a_twin_is_asked_about_before_it_is_written_down(shop: Shop) -> None:
    material(shop)
    client = shop.signed_in(Role.FINISHER)
    answer = client.post("/materials/new", data=new(name="SPAR varnish"))
    assert answer.status_code == 422
    assert "of this maker already" in answer.text and "Open the one that is here" in answer.text
    assert client.post("/materials/new", data=new(name="SPAR varnish", twin="yes")).status_code == 303


def test_published_facts_come_with_a_keepers_material_and_wait_for_one_otherwise(shop: Shop) -> None:
    finisher = shop.signed_in(Role.FINISHER)
    form = finisher.get("/materials/new/form?known=linseed_oil_raw")
    if 'name="known"' not in form.text:
        found = re.search(r"known=([a-z0-9_]+)", finisher.get("/materials/new?q=linseed").text)
        assert found is not None
        form = finisher.get(f"/materials/new/form?known={found[1]}")
    key = re.search(r'name="known" value="([^"]+)"', form.text)
    assert key is not None
    made = finisher.post("/materials/new", data=new(name="Oil", kind="binder", known=key[1]))
    keeper = shop.signed_in(Role.KEEPER)
    page = keeper.get(made.headers["location"]).text
    assert "Take the published facts over" in page
    assert "Take the published facts over" not in finisher.get(made.headers["location"]).text
    form_once = {"once": once(), "version": "1"}
    assert finisher.post(made.headers["location"] + "/published", data=form_once).status_code == 403
    assert keeper.post(made.headers["location"] + "/published", data=form_once).status_code == 303
    assert "Published figures of" in keeper.get(made.headers["location"]).text


def facts(**more: Any) -> dict[str, Any]:
    said = {
        "self_heating": "not-known", "hazards_known": "not-known", "metals_known": "not-known",
        "has_drier": "not-known", "keeper_only": "by-rule", "version": "1", "once": once(),
    }  # fmt: skip
    return said | more


def test_a_keeper_sets_facts_and_each_change_is_kept(shop: Shop) -> None:
    where, keeper = material(shop), shop.signed_in(Role.KEEPER)
    said = facts(
        hazards_known="listed", hazards="Flam. Liq. 3 H226\nSTOT SE 3 H336", flash_point_c="38",
        flash_point_method="closed-cup", density_g_ml="0,91", binder="alkyd", oil_share_percent="45",
        metals_known="none", self_heating="yes",
    )  # fmt: skip
    assert keeper.post(f"{where}/facts", data=said).status_code == 303
    kept = row(shop)
    assert kept.hazards == ["Flam. Liq. 3 H226", "STOT SE 3 H336"] and kept.toxic_metals == []
    assert str(kept.density_g_ml) == "0.91" and kept.version == 2
    with shop.database.reading() as session:
        fields = {change.field for change in session.exec(select(Change)).all()}
    assert {"hazards", "density, g/ml", "flash point, °C", "self heating"} <= fields
    page = keeper.get(f"{where}/facts").text
    assert "Flam. Liq. 3 H226" in page and 'value="0.91"' in page
    shown = keeper.get(where).text
    assert "closed cup" in shown and "Its rags count as oily rags." in shown


@pytest.mark.parametrize(
    ("more", "words"),
    [
        ({"self_heating": "no"}, "Write why its rags cannot heat"),
        ({"self_heating": ""}, "Choose whether its rags can heat by themselves."),
        ({"hazards_known": "listed"}, "Copy the list from the sheet"),
        ({"hazards_known": "none", "hazards": "Flam. Liq. 3"}, "You wrote a list but chose another answer."),
        ({"hazards_known": "listed", "hazards": "burns well"}, "does not look like a hazard class"),
        ({"metals_known": "listed", "toxic_metals": "12"}, "does not look like a metal"),
        ({"density_g_ml": "1,000"}, "Choose which"),
        ({"flash_point_c": "hot"}, "Enter a number"),
        ({"oil_share_percent": "150"}, "Oil share: enter a number of 100 or less."),
        ({"keeper_only": "no"}, "Write why students may draw it: a real sentence"),
        ({"bulk_low_g_ml": "0.5"}, "Enter both a lowest and a highest figure"),
    ],
)
def test_facts_that_cannot_be_come_back_with_everything_typed(
    shop: Shop, more: dict[str, str], words: str
) -> None:
    where = material(shop)
    answer = shop.signed_in(Role.KEEPER).post(f"{where}/facts", data=facts(binder="alkyd resin") | more)
    assert answer.status_code == 422
    assert words in answer.text.replace("&#39;", "'")
    assert 'value="alkyd resin"' in answer.text
    assert row(shop).version == 1


def test_a_form_of_yesterday_is_stale(shop: Shop) -> None:
    where, keeper = material(shop), shop.signed_in(Role.KEEPER)
    assert keeper.post(f"{where}/facts", data=facts(self_heating="yes")).status_code == 303
    answer = keeper.post(f"{where}/facts", data=facts(self_heating="yes", binder="oil"))
    assert answer.status_code == 409 and "changed meanwhile" in answer.text


def test_a_finisher_mends_the_name_through_the_page(shop: Shop) -> None:
    where, finisher = material(shop), shop.signed_in(Role.FINISHER)
    page = finisher.get(f"{where}/describe").text
    assert 'type="hidden" name="kind"' in page
    assert finisher.post(f"{where}/describe", data=new(name="Boat varnish", version="1")).status_code == 303
    assert row(shop).name == "Boat varnish"
    answer = finisher.post(f"{where}/describe", data=new(name="Boat varnish", kind="solvent", version="2"))
    assert answer.status_code == 403


def test_spoons_weighed_on_the_page(shop: Shop) -> None:
    where = material(shop, name="Umber", kind="dry-pigment", form="powder")
    keeper = shop.signed_in(Role.KEEPER)
    bad = keeper.post(f"{where}/spoons", data={"written": "some", "version": "1", "once": once()})
    assert bad.status_code == 422 and 'value="some"' in bad.text
    said = {"written": "ten level teaspoons weighed 23 g", "version": "1", "once": once()}
    assert keeper.post(f"{where}/spoons", data=said).status_code == 303
    page = keeper.get(where).text
    assert "0.4666 g/ml" in page and "weighed in this shop" in page


def test_a_student_reads_hazards_but_not_the_store(shop: Shop) -> None:
    where, student = material(shop), shop.signed_in(Role.STUDENT)
    page = student.get(where)
    assert page.status_code == 200 and "Hazards" in page.text
    assert "<h2>Containers</h2>" not in page.text and "Take in a delivery" not in page.text
    assert student.get("/materials").status_code == 403


def test_names_are_shown_as_they_are_and_run_nothing(shop: Shop) -> None:
    where = material(shop, name='<script>alert(1)</script> & "umber"', note="<img src=x>")
    page = shop.signed_in(Role.KEEPER).get(where).text
    assert "<script>alert(1)" not in page and "<img src=x>" not in page
    assert "&lt;script&gt;alert(1)&lt;/script&gt;" in page


def test_places_are_written_down_described_and_retired(shop: Shop) -> None:
    keeper = shop.signed_in(Role.KEEPER)
    said = {"name": "Red can", "kind": "rag-can", "metal": "yes", "lid": "not-known", "once": once()}
    said["capacity_litres"] = "37,9"
    made = keeper.post("/places/new", data=said)
    assert made.status_code == 303
    page = keeper.get(made.headers["location"]).text
    assert "Print its label" in page and "It counts as no." in page
    assert "37.9 l (10 US gal)" in page
    change = said | {"lid": "yes", "version": "1", "once": once(), "retired": "yes"}
    assert keeper.post(made.headers["location"] + "/change", data=change).status_code == 303
    with shop.database.reading() as session:
        place = session.exec(select(Place)).one()
    assert not place.active and place.lid.value == "yes"
    assert "no longer in use" in keeper.get(made.headers["location"]).text
    bad = keeper.post("/places/new", data={"name": "", "kind": "attic", "note": "kept words", "once": once()})
    assert bad.status_code == 422 and "kept words" in bad.text
    assert shop.signed_in(Role.FINISHER).get("/places/new").status_code == 403
    assert shop.signed_in(Role.READER).get("/places").status_code == 200


# --- sheets ----------------------------------------------------------------------------------------------

PDF = b"%PDF-1.7\n1 0 obj<<>>endobj\ntrailer<<>>\n%%EOF\n"
PNG = b"\x89PNG\r\n\x1a\n" + b"\0" * 20 + b"IEND\xaeB`\x82"
JPEG = b"\xff\xd8\xff\xe0" + b"\0" * 40 + b"\xff\xd9"


def upload(shop: Shop, where: str, content: bytes, name: str = "sheet.pdf", **more: str) -> Any:
    said = {"regime": "eu-clp", "sheet_date": "3 Mar 2025", "once": once()} | more
    files = {"sheet": (name, content, "application/pdf")}
    return shop.signed_in(Role.KEEPER).post(f"{where}/sheets/new", data=said, files=files)


@pytest.mark.parametrize(
    ("content", "kind"), [(PDF, "application/pdf"), (PNG, "image/png"), (JPEG, "image/jpeg")]
)
def test_a_sheet_is_kept_by_its_hash_and_handed_out_as_an_attachment(
    shop: Shop, content: bytes, kind: str
) -> None:
    where = material(shop)
    name = "../../etc/Sheet „12“.pdf"
    assert upload(shop, where, content, name, copied_whole="yes").status_code == 303
    page = shop.signed_in(Role.STUDENT).get(where).text
    assert "Sheet „12“.pdf" in page and "etc/" not in page
    found = re.search(r"/materials/\d+/sheets/\d+/file", page)
    assert found is not None
    answer = shop.signed_in(Role.STUDENT).get(found[0])
    assert answer.content == content and answer.headers["content-type"] == kind
    assert answer.headers["content-disposition"].startswith("attachment; ")
    assert answer.headers["content-disposition"].isascii()
    assert answer.headers["content-security-policy"].startswith("sandbox")
    assert answer.headers["x-content-type-options"] == "nosniff"
    stored = [p for p in shop.app.state.settings.files.rglob("*") if p.is_file()]
    assert len(stored) == 1 and re.fullmatch(r"[0-9a-f]{64}", stored[0].name)


@pytest.mark.parametrize(
    ("content", "words"),
    [
        (b"<svg xmlns='http://www.w3.org/2000/svg' onload='alert(1)'/>", "no PDF, PNG or JPEG"),
        (b"<svg>" + PDF, "no PDF, PNG or JPEG"),
        (b"%PDF-1.7 <svg onload='alert(1)'></svg> %%EOF", "Something else is inside"),
        (b"\x89PNG\r\n\x1a\n<script>alert(1)</script>" + PNG, "Something else is inside"),
        (b"MZ\x90\0" + b"\0" * 100, "no PDF, PNG or JPEG"),
        (b"%PDF-1.7 cut off", "ends too early"),
        (b"", "The file is empty"),
    ],
)
def test_other_files_are_refused_and_nothing_is_stored(shop: Shop, content: bytes, words: str) -> None:
    where = material(shop)
    answer = upload(shop, where, content, "harmless.pdf")
    assert answer.status_code == 422 and words in answer.text
    assert 'value="3 Mar 2025"' in answer.text, "what was typed stays"
    with shop.database.reading() as session:
        assert not session.exec(select(SafetySheet)).all()
    assert not [p for p in shop.app.state.settings.files.rglob("*") if p.is_file()]


def test_too_large_is_told_in_words(shop: Shop) -> None:
    where = material(shop)
    assert upload(shop, where, PDF[:9] + b"x" * 10_000_001 + PDF).status_code == 422
    assert upload(shop, where, b"%PDF-" + b"x" * 10_600_000).status_code == 413


def test_a_sheet_on_paper_only_and_one_of_tomorrow(shop: Shop) -> None:
    where, keeper = material(shop), shop.signed_in(Role.KEEPER)
    said = {"regime": "eu-clp", "once": once()}
    assert keeper.post(f"{where}/sheets/new", data=said).status_code == 303
    assert "on paper only" in keeper.get(where).text
    late = {"regime": "eu-clp", "sheet_date": "1 Jan 2030", "once": once()}
    assert keeper.post(f"{where}/sheets/new", data=late).status_code == 422
    odd = {"regime": "moon-law", "once": once()}
    assert keeper.post(f"{where}/sheets/new", data=odd).status_code == 422
    whole = {"regime": "eu-clp", "copied_whole": "yes", "once": once()}
    assert shop.signed_in(Role.FINISHER).post(f"{where}/sheets/new", data=whole).status_code == 403


def test_a_file_changed_on_the_disk_is_not_handed_out(shop: Shop) -> None:
    where = material(shop)
    upload(shop, where, PDF)
    (stored,) = [p for p in shop.app.state.settings.files.rglob("*") if p.is_file()]
    stored.write_bytes(PDF + b"more")
    keeper = shop.signed_in(Role.KEEPER)
    found = re.search(r"/materials/\d+/sheets/\d+/file", keeper.get(where).text)
    assert found is not None and keeper.get(found[0]).status_code == 404
