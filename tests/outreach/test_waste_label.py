"""The label of a waste drum: the mandated words, hazards always, dates where the rule asks for them."""

from __future__ import annotations

from datetime import date
from typing import Any

from service.core.materials import Unknown
from service.core.waste_drum_clocks import SiteTold, judge_drums, judge_site
from service.core.waste_drums import Area, DrumEntry, DrumFacts, DrumStep, fold_drum
from service.core.waste_rules import Category, Jurisdiction
from service.outreach.waste_label import MANDATED, WasteLabel, label_words
from service.records.knowledge_waste import waste_tables
from service.records.waste_drums import WasteDrum

DAY = date(2026, 3, 2)
CODES = [
    {"code": "D001", "applies": None}, {"code": "F003", "applies": None}, {"code": "D001", "applies": True},
]


def label(
    area: Area, *entries: DrumEntry, codes: Any = (), law: Jurisdiction | None = Jurisdiction.US
) -> WasteLabel:
    facts = DrumFacts(number=1, name="Drum 1", area=area, acute=Unknown.NO)
    state, tables = fold_drum(facts, entries), waste_tables()
    site = judge_site(tables, [state], SiteTold(Category.LQG))
    [judged] = judge_drums(tables, [state], site, DAY, law)
    drum = WasteDrum(name="Drum 1", stream="Spent thinner", hazards="Ignitable", codes=list(codes))
    return label_words(drum, judged, law, list(codes))


def test_the_mandated_words_stand_in_every_area() -> None:
    for area in Area:
        found = label(area)
        assert found.words == MANDATED == "Hazardous Waste"
        assert dict(found.rows)["Contents"] == "Spent thinner" and dict(found.rows)["Hazards"] == "Ignitable"
        assert any("closed" in said for said in found.cautions)


def test_the_start_date_stands_where_the_drum_is_gathered_and_is_a_line_until_there_is_one() -> None:
    put = DrumEntry(number=1, step=DrumStep.PUT_IN, on=DAY, mg=1, ul=1)
    rows = dict(label(Area.CENTRAL, put).rows)
    assert (rows["Accumulation start date"], rows["Leaves by"]) == ("2 March 2026", "31 May 2026")
    assert dict(label(Area.CENTRAL).rows)["Accumulation start date"] == ""
    over = DrumEntry(number=2, step=DrumStep.OVER, on=DAY)
    rows = dict(label(Area.SATELLITE, put, over).rows)
    assert (rows["Over its amount since"], rows["Leaves by"]) == ("2 March 2026", "5 March 2026")
    assert "Accumulation start date" not in rows
    moved = dict(label(Area.SATELLITE, put, DrumEntry(number=3, step=DrumStep.MOVED, on=DAY)).rows)
    assert moved["Accumulation start date"] == "2 March 2026" and "central" in moved["Area"]


def test_a_code_that_is_not_known_is_never_left_out_nor_told_as_known() -> None:
    rows = dict(label(Area.CENTRAL, codes=CODES).rows)
    assert (rows["Codes"], rows["Not known, may apply"]) == ("D001", "F003")


def test_of_another_law_no_date_is_promised() -> None:
    put = DrumEntry(number=1, step=DrumStep.PUT_IN, on=DAY, mg=1, ul=1)
    found = label(Area.CENTRAL, put, law=Jurisdiction.EU)
    assert "Leaves by" not in dict(found.rows) and "No rule of this country" in found.source
