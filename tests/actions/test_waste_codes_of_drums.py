"""The codes of a drum today: what nobody told may apply, and what went in since may bring more."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal
from typing import Any

import pytest
from sqlmodel import col, select

from service.core.materials import MaterialKind, Unknown
from service.core.waste_drums import DrumStep
from service.core.waste_rules import Jurisdiction
from service.outreach.waste_label import label_words
from service.records.drum_codes import codes_now
from service.records.engine import Database
from service.records.materials import Material
from service.records.waste_drum_queries import seen_drum
from service.records.waste_drums import WasteDrum
from service.web.drum_table import drum_rows
from service.web.drum_words import code_rows
from tests.builders import cast
from tests.waste_yard import Yard

METALS = {f"D{number:03}" for number in range(4, 12)}
TOLD: dict[str, Any] = {
    "stream": "Rinsings", "hazards": "Ignitable", "liquid": Unknown.YES, "flash": Decimal(10),
    "self_heating": Unknown.NO, "spent": Unknown.NO, "ph": Decimal(7), "metals": Unknown.NO,
}  # fmt: skip


@pytest.fixture
def yard(database: Database) -> Yard:
    with database.writing() as session:
        return Yard(database, cast(session))


def pigment(yard: Yard, name: str, metals: list[str] | None) -> str:
    """A container of a pigment with these metals; None: not known. Its code."""
    code = yard.stuff(name=name)
    with yard.database.writing() as session:
        session.exec(select(Material).where(col(Material.name) == name)).one().toxic_metals = metals
    return code


def may_apply(yard: Yard, drum: int, law: Jurisdiction | None = Jurisdiction.US) -> set[str]:
    with yard.database.reading() as session:
        return {one["code"] for one in codes_now(seen_drum(session, drum), law) if one["applies"] is None}


def test_what_nobody_told_may_apply_in_call_drum_label_and_pack(yard: Yard) -> None:
    done = yard.begin(
        stream="Chrome yellow and lead white sludge", hazards="Toxic: lead, chromate", liquid=Unknown.NO,
        self_heating=Unknown.NO,
    )  # fmt: skip
    assert {one["code"] for one in done["codes"] if one["applies"] is None} >= METALS
    assert may_apply(yard, done["drum"]) >= METALS and "D002" not in may_apply(yard, done["drum"])
    record = yard.record()
    [shown] = record.drums
    words = dict(
        label_words(shown.seen.row, shown.judged, record.law, codes_now(shown.seen, record.law)).rows
    )
    assert "D004 to D011" in words["Not known, may apply"]
    _, row = drum_rows(record)
    assert "may apply" in str(row[4]) and "D008" in str(row[4])
    rows = {one["code"]: one["why"] for one in code_rows(shown.seen, record.law)}
    assert "stand for lead" in rows["D008 (not known, may apply)"]
    assert "D002" in may_apply(yard, yard.begin(name="B", liquid=Unknown.YES)["drum"])


def test_what_was_told_is_kept_and_what_went_in_brings_more(yard: Yard) -> None:
    drum = yard.begin(**TOLD)["drum"]
    assert may_apply(yard, drum) == set()
    yard.throw(yard.stuff(name="Thinner", kind=MaterialKind.SOLVENT), amount="1 g", drum_id=drum)
    assert may_apply(yard, drum) == set()
    yard.throw(pigment(yard, "Yellow", ["Pb"]), amount="1 g", drum_id=drum)
    assert may_apply(yard, drum) == {"D008"}
    yard.throw(pigment(yard, "Blue", None), amount="1 g", drum_id=drum)
    assert may_apply(yard, drum) == METALS
    assert may_apply(yard, drum, Jurisdiction.EU) == set()


def test_a_drum_begun_before_anybody_asked_may_have_them_all(yard: Yard) -> None:
    drum = yard.begin(**TOLD)["drum"]
    with yard.database.reading() as session:
        seen = seen_drum(session, drum)
        old = [one for one in seen.row.codes if one["applies"] is not False]
        bare = replace(seen, row=WasteDrum(**(seen.row.model_dump() | {"codes": old})))
    assert {one["code"] for one in codes_now(bare, Jurisdiction.US)} == {"D001", "D002", *METALS}


@pytest.mark.parametrize(
    ("what", "codes"),
    [
        ("chrome yellow and lead white, dry", {"D007", "D008"}),
        ("flake white paste", {"D008"}),
        ("PY35 dregs", {"D006"}),
        ("rest of C.I. Pigment Green 21", {"D004"}),
        ("PB27 and water", set()),
    ],
)
def test_words_of_what_went_in_name_metals_whatever_was_said_before(
    yard: Yard, what: str, codes: set[str]
) -> None:
    drum = yard.begin(**TOLD)["drum"]
    yard.step(drum, DrumStep.PUT_IN, amount="1 kg", what=what)
    assert may_apply(yard, drum) == codes


@pytest.mark.parametrize(
    ("named", "codes"), [("PY34 and PR104 rinsings", {"D007", "D008"}), ("PW1", {"D008"})]
)
def test_colour_index_names_stand_for_their_metals(yard: Yard, named: str, codes: set[str]) -> None:
    assert may_apply(yard, yard.begin(**(TOLD | {"stream": named}))["drum"]) == codes
    drum = yard.begin(**(TOLD | {"name": "B"}))["drum"]
    yard.throw(pigment(yard, named, []), amount="1 g", drum_id=drum)
    assert may_apply(yard, drum) == codes
