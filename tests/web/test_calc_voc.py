"""The VOC calculator on its own: laws, what is missing, thinner, ranges, and bodies nobody should send."""

from __future__ import annotations

from typing import Any

import pytest
from fastapi import FastAPI
from starlette.testclient import TestClient

from service.web.api.calc_voc import router
from service.web.errors import install

app = FastAPI()
app.include_router(router)
install(app)
client = TestClient(app, raise_server_exceptions=False)
Part = dict[str, Any]
OIL: Part = {"name": "oil", "volume_fraction": 0.35, "density_g_ml": 0.93, "volatile": False}
ACETONE: Part = {"name": "acetone", "volume_fraction": 0.3, "density_g_ml": 0.79}
THINNER: Part = {
    "name": "house thinner", "volume_fraction": 0.35, "density_g_ml": 0.78, "volatile": True,
    "boiling_point_c": 155,
}  # fmt: skip
MIX = [OIL, ACETONE, THINNER]


def voc(components: list[Part], law: str | None = "us-federal", **more: Any) -> dict[str, Any]:
    answer = client.post("/api/calc/voc", json={"components": components, "jurisdiction": law, **more})
    assert answer.status_code == 200, answer.text
    return dict(answer.json())


def codes(answer: dict[str, Any]) -> set[str]:
    return {finding["code"] for finding in answer["findings"]}


def row(answer: dict[str, Any], key: str) -> dict[str, Any]:
    return next(dict(one) for one in answer["limits"] if one["row"] == key)


def but(part: Part, *without: str, **changed: Any) -> Part:
    return {name: value for name, value in {**part, **changed}.items() if name not in without}


def test_the_same_mix_under_three_laws() -> None:
    us, eu = voc(MIX, product_category="stains"), voc(MIX, "eu", product_category="e", base="SB")
    nobody = voc(MIX, None)
    assert (us["actual_g_l"], us["regulatory_g_l"], us["eu_g_l"]) == (273, 390, 510)
    assert eu["actual_g_l"] == eu["eu_g_l"] == 510 and eu["exempt_g_l"] == 0 and eu["complete"]
    assert us["complete"] and us["exempt_g_l"] == 237 and us["solids_g_l"] == pytest.approx(325.5)
    assert nobody["actual_g_l"] == 510, "without a law nothing is exempt"
    assert nobody["limits"] == [] and "jurisdiction-not-told" in codes(nobody) and not nobody["complete"]


def test_tert_butyl_acetate_counts_in_one_district_only() -> None:
    mix = [OIL, THINNER, {"name": "tert-butyl acetate", "volume_fraction": 0.3, "density_g_ml": 0.86}]
    assert voc(mix)["actual_g_l"] == pytest.approx(273)
    assert voc(mix, "scaqmd")["actual_g_l"] == pytest.approx(273 + 258)
    assert voc(mix, "canada")["actual_g_l"] == pytest.approx(273 + 258), "what no list names counts"


def test_a_row_from_memory_is_never_met_without_saying_so() -> None:
    for law in ("us-federal", "otc", "scaqmd"):
        for one in voc([OIL | {"volume_fraction": 1}], law)["limits"]:
            assert one["grade"] == "memory" and not one["checked"]
            assert one["word"].endswith(", not checked")
    answer = voc(MIX, product_category="varnishes")
    assert row(answer, "aim-varnishes")["word"] == "met, not checked"
    assert {"limits-not-checked", "exemption-not-checked"} <= codes(answer)
    eu = voc(MIX, "eu", product_category="f", base="SB")
    said = row(eu, "eu-f-sb-ii")
    assert (said["met"], said["word"], said["checked"]) == (True, "met", True)
    assert said["citation"] == "Directive 2004/42/EC Annex II A"


def test_a_missing_density_gives_no_figure() -> None:
    answer = voc([but(OIL, "density_g_ml", percent=60) | {"volume_fraction": None}, THINNER | {
        "percent": 40, "volume_fraction": None}], product_category="stains-opaque")  # fmt: skip
    assert answer["actual_g_l"] is answer["regulatory_g_l"] is answer["eu_g_l"] is None
    assert row(answer, "aim-stains-opaque")["met"] is None and "density-not-known" in codes(answer)
    assert not answer["complete"]


def test_the_density_of_the_whole_stands_in_for_those_of_the_parts() -> None:
    parts = [{"name": "film", "percent": 60, "volatile": False},
             {"name": "thinner", "percent": 40, "volatile": True, "boiling_point_c": 150}]  # fmt: skip
    answer = voc(parts, density_g_ml=0.9)
    assert answer["actual_g_l"] == answer["regulatory_g_l"] == answer["eu_g_l"] == pytest.approx(360)
    wet = voc([parts[0] | {"density_g_ml": 1}, {"name": "water", "percent": 40}], density_g_ml=2.5)
    assert "density-does-not-fit" in codes(wet)


def test_an_unknown_boiling_point_counts_and_no_eu_limit_is_called_met() -> None:
    answer = voc([OIL, but(THINNER, "boiling_point_c", volume_fraction=0.65)], "eu", base="SB",
                 product_category="f")  # fmt: skip
    assert answer["eu_g_l"] == pytest.approx(507)
    assert row(answer, "eu-f-sb-ii")["met"] is None and "boiling-point-not-known" in codes(answer)
    over = voc([THINNER | {"volume_fraction": 0.6}, OIL | {"volume_fraction": 0.3},
                {"name": "who knows", "volume_fraction": 0.1, "density_g_ml": 0.9}],
               "eu", base="SB", product_category="e")  # fmt: skip
    assert row(over, "eu-e-sb-ii")["met"] is False, "what is sure is over it already"


def test_what_nobody_knows_counts_as_voc() -> None:
    mystery = {"name": "house drier", "volume_fraction": 0.35, "density_g_ml": 0.9}
    answer = voc([OIL, THINNER | {"volume_fraction": 0.3}, mystery], product_category="varnishes")
    assert answer["actual_g_l"] == pytest.approx(234 + 315)
    assert {"volatility-not-known", "boiling-point-not-known"} <= codes(answer)
    assert row(answer, "aim-varnishes")["met"] is None and row(answer, "aim-varnishes")["word"].startswith(
        "not"
    )
    assert answer["water_g_l"] is answer["exempt_g_l"] is None, "it may be either"
    assert (
        voc([OIL | {"volume_fraction": 0.65}, {"name": "japan drier", "volume_fraction": 0.35}])["actual_g_l"]
        != 0
    )


def test_what_may_be_water_can_make_the_regulatory_figure_worse() -> None:
    heavy = {"name": "heavy solvent", "volume_fraction": 0.5, "density_g_ml": 1.4, "volatile": True,
             "boiling_point_c": 90}  # fmt: skip
    open_part = {"name": "who knows", "volume_fraction": 0.3, "density_g_ml": 0.7}
    answer = voc([heavy, open_part, OIL | {"volume_fraction": 0.2}])
    assert answer["regulatory_g_l"] == pytest.approx(700 / 0.7), "as water; as VOC it would be 910"


@pytest.mark.parametrize(("kind", "at_least"), [("volume_fraction", True), ("percent", False)])
def test_an_untold_remainder_is_no_nothing(kind: str, at_least: bool) -> None:
    size = 100 if kind == "percent" else 1
    parts = [
        but(OIL, "volume_fraction") | {kind: 0.5 * size},
        but(THINNER, "volume_fraction") | {kind: 0.2 * size},
    ]
    answer = voc(parts, product_category="varnishes")
    assert "remainder-not-told" in codes(answer) and not answer["complete"]
    assert row(answer, "aim-varnishes")["met"] is None
    assert ("actual_g_l" in answer["at_least"]) is at_least
    assert (answer["actual_g_l"] is None) is not at_least
    if at_least:
        assert answer["actual_g_l"] == pytest.approx(156)


def test_an_exemption_that_the_question_claims_is_said() -> None:
    claimed = voc([OIL, ACETONE, THINNER | {"voc_exempt": True}])
    assert "exempt-as-given" in codes(claimed) and claimed["actual_g_l"] == 0
    assert claimed["eu_g_l"] == 510, "under EU law it counts whatever anybody claims"
    assert "no-exempt-list" in codes(voc([OIL, ACETONE | {"voc_exempt": True}, THINNER], "eu"))
    refused = voc([OIL, ACETONE | {"voc_exempt": False}, THINNER])
    assert refused["actual_g_l"] == 510 and "exempt-by-list" not in codes(refused)


def test_what_boils_low_counts_in_the_eu_even_where_it_is_said_to_stay() -> None:
    answer = voc([THINNER | {"volatile": False, "volume_fraction": 1}])
    assert answer["actual_g_l"] == 0 and answer["eu_g_l"] == 780 and "low-boiling-counted" in codes(answer)
    slow = voc([THINNER | {"boiling_point_c": 250.1, "volume_fraction": 1}])
    assert slow["actual_g_l"] == 780 and slow["eu_g_l"] == 0
    assert voc([THINNER | {"boiling_point_c": 250, "volume_fraction": 1}])["eu_g_l"] == 780


def test_a_given_content_beats_what_is_worked_out() -> None:
    answer = voc([THINNER | {"volume_fraction": 0.5, "voc_g_l": 300}, OIL | {"volume_fraction": 0.5}])
    assert answer["actual_g_l"] == 150 and "voc-as-given" in codes(answer)
    assert answer["eu_g_l"] == 390, "the EU's is worked out: the given one may leave out what is exempt"
    paint = voc([{"name": "paint", "volume_fraction": 1, "voc_g_l": 300}], product_category="varnishes")
    assert paint["eu_g_l"] == 300 and paint["at_least"] == ["eu_g_l"] and "eu-voc-not-given" in codes(paint)
    assert paint["solids_g_l"] is None and row(paint, "aim-varnishes")["met"] is True
    for said in ({"volatile": False}, {"water": True}):
        odd = voc([{"name": "paint", "volume_fraction": 1, "voc_g_l": 300} | said])
        assert odd["actual_g_l"] == odd["eu_g_l"] == 300 and odd["at_least"] == ["eu_g_l"]
    known = voc(
        [{"name": "paint", "volume_fraction": 1, "voc_g_l": 300}], "eu", product_category="e", base="SB"
    )
    assert row(known, "eu-e-sb-ii")["word"] == "met" and known["at_least"] == []


def test_thinner_is_in_what_is_judged() -> None:
    thin = {"name": "more thinner", "density_g_ml": 0.78, "volatile": True, "boiling_point_c": 155}
    plain = voc(MIX, product_category="varnishes")
    wet = voc(MIX, product_category="varnishes", thinning=[thin | {"volume_fraction": 0.25}])
    assert wet["as_supplied"]["regulatory_g_l"] == plain["regulatory_g_l"] == 390
    assert wet["regulatory_g_l"] == pytest.approx((273 + 195) / (0.7 + 0.25))
    assert row(plain, "aim-varnishes")["met"] and row(wet, "aim-varnishes")["met"] is False
    by_mass = voc(MIX, thinning=[thin | {"percent": 25}])
    whole = 0.35 * 930 + 0.3 * 790 + 0.35 * 780
    assert by_mass["actual_g_l"] == pytest.approx((273 + whole / 4) / (1 + whole / 4 / 780))
    ranged = voc(MIX, thinning=[thin | {"volume_fraction": [0, 0.25]}])
    assert ranged["regulatory_g_l"] == wet["regulatory_g_l"], "the worse end counts"
    unknown = voc(MIX, thinning=[{"name": "what was left", "volume_fraction": 0.1}])
    assert unknown["actual_g_l"] is not None and "actual_g_l" in unknown["at_least"]
    assert not unknown["complete"]


def test_low_solids_are_judged_on_the_whole() -> None:
    wash = [{"name": "resin", "volume_fraction": 0.1, "density_g_ml": 1.1, "volatile": False},
            {"name": "thinner", "volume_fraction": 0.1, "density_g_ml": 0.78, "volatile": True,
             "boiling_point_c": 150}, {"name": "water", "volume_fraction": 0.8}]  # fmt: skip
    answer = voc(wash, product_category="stains-opaque")
    assert answer["low_solids"] and answer["regulatory_g_l"] == 390
    assert row(answer, "aim-stains-opaque")["compared"] == 78
    assert row(answer, "aim-stains-low-solids")["met"] is True
    dry = voc(MIX, product_category="stains-low-solids")
    assert dry["low_solids"] is False and row(dry, "aim-stains-low-solids")["met"] is None
    solvent = voc([OIL | {"volume_fraction": 0.1}, ACETONE, THINNER | {"volume_fraction": 0.6}],
                  product_category="stains-opaque")  # fmt: skip
    assert solvent["low_solids"] and row(solvent, "aim-stains-opaque")["basis"] == "regulatory"
    assert row(solvent, "aim-stains-low-solids")["met"] is False, "little solids and little water"


def test_water_and_alcohol_shrink_so_near_the_limit_nothing_is_called_met() -> None:
    def mix(ethanol: float) -> list[Part]:
        return [{"name": "ethanol", "volume_fraction": ethanol, "density_g_ml": 0.79},
                {"name": "water", "volume_fraction": 1 - ethanol}]  # fmt: skip

    near = voc(mix(0.16), "eu", base="WB", product_category="f")
    assert "shrinks-on-mixing" in codes(near) and row(near, "eu-f-wb-ii")["met"] is None
    assert row(voc(mix(0.15), "eu", base="WB", product_category="f"), "eu-f-wb-ii")["met"] is True
    measured = voc([{"name": "ethanol", "percent": 13}, {"name": "water", "percent": 87}], "eu", base="WB",
                   product_category="f", density_g_ml=0.98)  # fmt: skip
    assert row(measured, "eu-f-wb-ii")["met"] is True


def test_ranges_count_at_their_worse_end() -> None:
    ranged = voc([OIL | {"volume_fraction": [0.3, 0.5]}, THINNER | {"volume_fraction": [0.5, 0.7]}])
    assert ranged["actual_g_l"] == pytest.approx(780 * 0.7)
    empty = voc([OIL | {"volume_ml": [0, 10], "volume_fraction": None}])
    assert empty["actual_g_l"] == 0 and empty["solids_g_l"] == pytest.approx(930)


def test_small_containers_and_missing_facts_of_the_product_are_said() -> None:
    assert "small-container" in codes(voc(MIX, container_ml=1000))
    assert "small-container" not in codes(voc(MIX, container_ml=1001))
    assert "small-container" not in codes(voc(MIX, "scaqmd", container_ml=500))
    both = voc(MIX, "eu", product_category="e")
    assert "base-not-told" in codes(both) and len(both["limits"]) == 2 and not both["complete"]
    every = voc(MIX, "eu", base="SB")
    assert "category-not-told" in codes(every) and len(every["limits"]) == 12
    assert "no-limit-held" in codes(voc(MIX, "canada")) and not voc(MIX, "canada")["complete"]


def test_data_used_names_source_and_grade() -> None:
    used = voc([{"name": "acetone", "volume_fraction": 0.4}, OIL | {"volume_fraction": 0.6}])["data_used"]
    told = {(one["ingredient"], one["property"]): (one["source"], one["grade"]) for one in used}
    assert told["acetone", "voc_exempt"] == ("CANADA-VOC; 51.100-MEM", "memory")
    assert told["acetone", "density"][1] in ("H", "S", "I") and told["oil", "density"] == ("given", "given")


BAD: list[tuple[str, dict[str, Any], str]] = [
    ("no amount", {"components": [{"name": "oil"}]}, "oil"),
    ("two amounts", {"components": [OIL | {"percent": 3}]}, "oil"),
    ("below zero", {"components": [OIL | {"volume_fraction": -1}]}, "oil"),
    ("over the whole", {"components": [OIL | {"volume_fraction": 0.9}, THINNER]}, "125"),
    ("mixed ways", {"components": [OIL, but(THINNER, "volume_fraction", percent=3)]}, "one way"),
    ("no such category", {"components": MIX, "jurisdiction": "eu", "product_category": "hats"}, "hats"),
    ("thinner in ml to shares", {"components": MIX, "thinning": [{"name": "t", "volume_ml": 3}]}, "t:"),
    ("thinner in moles", {"components": MIX, "thinning": [{"name": "t", "mole_fraction": 1}]}, "t:"),
    ("nothing at all", {"components": [OIL | {"volume_fraction": 0}]}, "zero"),
    ("wrong number", {"components": [OIL | {"cas": "67-64-2"}]}, "oil"),
]


@pytest.mark.parametrize(("what", "body", "named"), BAD, ids=[what for what, _, _ in BAD])
def test_bad_input_gets_a_sentence_with_a_mend(what: str, body: dict[str, Any], named: str) -> None:
    answer = client.post("/api/calc/voc", json=body)
    assert answer.status_code == 422, answer.text
    assert named in answer.json()["detail"], answer.json()


ODD = [0, 1e-300, 1e-40, 1e-12, 5e-324, 1e15, 1e308, -1, "NaN", "1e308", "Infinity", True, [1, 0], [0, 0], [],
       {}, "1", None, [0, 1e-40], 10**400]  # fmt: skip
FIELDS = [
    "volume_fraction", "volume_ml", "mass_g", "percent", "mole_fraction", "density_g_ml", "voc_g_l",
    "boiling_point_c", "vapour_pressure_kpa", "at_c", "molar_mass_g_mol",
]  # fmt: skip


@pytest.mark.parametrize("field", FIELDS)
@pytest.mark.parametrize("odd", ODD, ids=lambda odd: repr(odd)[:20])
def test_odd_numbers_never_break_it(field: str, odd: Any) -> None:
    amounts = ("volume_fraction", "volume_ml", "mass_g", "percent", "mole_fraction")
    for base in (THINNER, {"name": "water", "volume_fraction": 0.1}):
        part = (but(base, *amounts) if field in amounts else base) | {field: odd}
        same = {field: odd} if field in amounts else {"volume_fraction": 0.5}
        for body in (
            {"components": [part], "jurisdiction": "us-federal"},
            {"components": [part], "jurisdiction": "eu", "density_g_ml": 1e-6},
            {"components": [part, {"name": "x", **same}], "jurisdiction": "scaqmd", "thinning": [part]},
        ):
            try:
                answer = client.post("/api/calc/voc", json=body)
            except ValueError:  # not to be written as JSON at all
                continue
            assert answer.status_code in (200, 422), answer.text


@pytest.mark.parametrize(
    "body",
    [
        {},
        {"components": []},
        {"components": MIX, "jurisdiction": "moon"},
        {"components": MIX, "base": "oil"},
        {"components": MIX, "container_ml": 0},
        {"components": MIX, "density_g_ml": 0},
        {"components": MIX, "nobody": 1},
        {"components": MIX * 20},
        {"components": MIX, "thinning": [THINNER] * 7},
        {"components": MIX, "product_category": "x" * 121},
    ],
)
def test_other_bodies_are_refused(body: dict[str, Any]) -> None:
    assert client.post("/api/calc/voc", json=body).status_code == 422
