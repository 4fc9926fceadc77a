"""What is missing in a material's facts, and the rule that a fact taken away never makes it look better."""

from __future__ import annotations

from dataclasses import fields, replace
from datetime import date
from decimal import Decimal
from itertools import product
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from service.core.findings import Invalid, Severity
from service.core.material_facts import (
    FlashMethod,
    MaterialFacts,
    SheetFacts,
    counts_as_self_heating,
    facts_self_heating,
    is_keeper_only,
    keeper_only_by_default,
    review,
)
from service.core.materials import Basis, Form, MaterialKind, SelfHeating, Unknown
from service.records.knowledge import facts_of, load_known_materials

K = MaterialKind
NO, YES, NOT_KNOWN = SelfHeating.NO, SelfHeating.YES, SelfHeating.NOT_KNOWN
WEIGHT = {Severity.NOTE: 0, Severity.WARN: 1, Severity.UNKNOWN: 2, Severity.STOP: 3}
DECISIONS = {"name", "kind", "keeper_only"}
BLANKS = {
    "has_drier": Unknown.NOT_KNOWN,
    "self_heating": NOT_KNOWN,
    "has_ageing_policy": False,
    "not_self_heating_because": "",
}


def facts_that_can_be_blanked(facts: MaterialFacts) -> dict[str, MaterialFacts]:
    """For every fact present, the same material without it."""
    blanked = {}
    for field in fields(facts):
        empty = BLANKS.get(field.name)
        if field.name not in DECISIONS and getattr(facts, field.name) != empty:
            blanked[field.name] = replace(facts, **{field.name: empty})
    return blanked


def weights(facts: MaterialFacts) -> dict[str, int]:
    """The heaviest finding of each code."""
    found: dict[str, int] = {}
    for finding in review(facts, regime="eu-clp", sheet_not_before=date(2022, 1, 1)):
        found[finding.code] = max(found.get(finding.code, 0), WEIGHT[finding.severity])
    return found


def no_better(less: MaterialFacts, more: MaterialFacts) -> bool:
    before, after = weights(more), weights(less)
    return (
        all(after.get(code, -1) >= weight for code, weight in before.items())
        and facts_self_heating(less) >= facts_self_heating(more)
        and keeper_only_by_default(less) >= keeper_only_by_default(more)
    )


SEEDED = load_known_materials()
CASES = [(m.key, name) for m in SEEDED for name in facts_that_can_be_blanked(facts_of(m))]


def test_the_blank_test_has_something_to_blank() -> None:
    names = {name for _, name in CASES}
    assert names == {
        "form", "density_g_ml", "bulk_density_g_ml", "oil_share_percent", "binder", "has_drier",
        "self_heating", "flash_point_c", "flash_method", "flash_not_applicable", "ci_generic", "cas",
        "toxic_metals",
    }  # fmt: skip
    assert len(CASES) > 700


def test_each_fact_of_each_seeded_material_blanked_makes_a_finding_appear_and_none_disappear() -> None:
    for material in SEEDED:
        whole = facts_of(material)
        for name, blanked in facts_that_can_be_blanked(whole).items():
            where = f"{material.key} without {name}"
            assert weights(blanked).keys() > weights(whole).keys(), where
            assert no_better(blanked, whole), where


COMPLETE_OIL = MaterialFacts(
    name="Boiled oil", kind=K.BINDER, form=Form.LIQUID, basis=Basis.VOLUME, density_g_ml=Decimal("0.94"),
    oil_share_percent=Decimal(96), binder="linseed oil", has_drier=Unknown.YES, self_heating=YES,
    flash_point_c=Decimal(222), flash_method=FlashMethod.CLOSED_CUP, supplier_classes=(),
    ventilation_class=1, cas="68649-95-6", sheet=SheetFacts(date(2024, 5, 1), "eu-clp", True),
    has_ageing_policy=True, toxic_metals=(),
)  # fmt: skip


def test_a_complete_material_has_only_what_its_facts_say() -> None:
    assert weights(COMPLETE_OIL) == {"self-heating": 1}
    assert review(COMPLETE_OIL).complete


@pytest.mark.parametrize("name", sorted(facts_that_can_be_blanked(COMPLETE_OIL)))
def test_every_fact_of_a_complete_material_is_missed(name: str) -> None:
    blanked = facts_that_can_be_blanked(COMPLETE_OIL)[name]
    assert not review(blanked).complete
    assert no_better(blanked, COMPLETE_OIL)


def make(**given: Any) -> MaterialFacts:
    """Facts that may be written down: a kind without oil gets no oil."""
    if given["kind"] in (K.DRY_PIGMENT, K.SOLVENT, K.CONSUMABLE):
        given |= {"binder": None, "oil_share_percent": None}
    return MaterialFacts(**given)


any_facts = st.builds(
    make,
    name=st.just("Thing"),
    kind=st.sampled_from(K),
    form=st.none() | st.sampled_from(Form),
    basis=st.none() | st.sampled_from(Basis),
    density_g_ml=st.none() | st.just(Decimal("0.9")),
    bulk_density_g_ml=st.none() | st.just((Decimal("0.5"), Decimal("0.7"))),
    oil_share_percent=st.none() | st.sampled_from([Decimal(0), Decimal(40), Decimal(100)]),
    binder=st.none() | st.sampled_from(["", "acrylic", "linseed oil", "animal glue", "shellac"]),
    has_drier=st.sampled_from(Unknown),
    self_heating=st.sampled_from(SelfHeating),
    not_self_heating_because=st.sampled_from(["", " ", "tested wet on cotton for two days"]),
    flash_method=st.none() | st.sampled_from(FlashMethod),
    supplier_classes=st.none()
    | st.lists(st.sampled_from(["H360D", "Carc. 2", "Flam. Liq. 2 H225", "Skin Irrit. 2"])).map(tuple),
    ventilation_class=st.none() | st.sampled_from([1, 2, 3, 4]),
    ci_generic=st.none() | st.just("PBr7"),
    cas=st.none() | st.just("7732-18-5"),
    sheet=st.none()
    | st.builds(
        SheetFacts,
        date=st.none() | st.sampled_from([date(2010, 1, 1), date(2025, 1, 1)]),
        regime=st.none() | st.sampled_from(["eu-clp", "us-hcs"]),
        copied_whole=st.none() | st.booleans(),
    ),
    has_ageing_policy=st.booleans(),
    toxic_metals=st.none() | st.lists(st.sampled_from(["Pb", "Cr(III)", "Cr(VI)", "Zn"])).map(tuple),
)


@settings(max_examples=150, deadline=None)
@given(any_facts, st.sampled_from(["none", "flash", "reason"]))
def test_a_fact_taken_away_never_makes_anything_look_better(facts: MaterialFacts, flash: str) -> None:
    if flash == "flash":
        facts = replace(facts, flash_point_c=Decimal(40))
    elif flash == "reason":
        facts = replace(facts, flash_not_applicable="water only")
    for name, blanked in facts_that_can_be_blanked(facts).items():
        assert no_better(blanked, facts), name


def test_self_heating_word_table() -> None:
    """Oils, colours in oil or japan, drier in oil, made mixes with one, and whatever is not known."""

    def counts(kind: MaterialKind, binder: bool, oil: bool | None, flag: SelfHeating, why: str = "") -> bool:
        return counts_as_self_heating(kind, binder_known=binder, has_oil=oil, flag=flag, keeper_reason=why)

    for kind, binder, oil in product(K, (True, False), (True, False, None)):
        assert counts(kind, binder, oil, YES), "flagged"
        assert counts(kind, binder, oil, NOT_KNOWN), "not known counts as yes"
        assert counts(kind, binder, oil, NOT_KNOWN, "a reason without an answer of no")
        assert not counts(kind, binder, oil, NO, "water-borne, tested"), "a keeper recorded why not"
        if oil:
            assert counts(kind, binder, oil, NO), "the flag switched off without a reason changes nothing"
    for kind in (K.COLOUR_IN_OIL, K.COLOUR_IN_JAPAN):
        assert counts(kind, True, False, NO)
    for kind in (K.BINDER, K.READY_MADE_FINISH, K.MADE_MIX, K.DRIER, K.RESIN):
        assert counts(kind, False, False, NO), "binder not known"
        assert counts(kind, True, None, NO), "oil not known"
        assert not counts(kind, True, False, NO)
    for kind in (K.SOLVENT, K.DRY_PIGMENT, K.CONSUMABLE):
        assert not counts(kind, False, None, NO), "no binder by its kind"
    assert counts(K.SOLVENT, True, None, NO, "  ") is False


@pytest.mark.parametrize("binder", ["linseed oil", "long-oil Alkyd", "spar varnish", "japan gold size"])
def test_oil_words_in_the_binder_count_even_against_a_share_of_nothing(binder: str) -> None:
    facts = MaterialFacts(
        "x", K.READY_MADE_FINISH, binder=binder, oil_share_percent=Decimal(0), self_heating=NO
    )
    assert facts_self_heating(facts)


@pytest.mark.parametrize(
    ("classes", "keeper"),
    [
        ((), False),
        (None, True),
        (("Flam. Liq. 2 H225", "Eye Irrit. 2 H319"), False),
        *(((f"H{code}",), True) for code in ("340", "341", "350", "350i", "351", "360FD", "360D", "361f")),
        (("Carc. 1B",), True),
        (("Muta. 2",), True),
        (("repr. 1A",), True),
        (("STOT RE 1 H372",), False),
        (("H336", "H304"), False),
    ],
)
def test_keeper_only_by_hazard_class(classes: tuple[str, ...] | None, keeper: bool) -> None:
    facts = MaterialFacts("x", K.SOLVENT, supplier_classes=classes, toxic_metals=())
    assert keeper_only_by_default(facts) is keeper


@pytest.mark.parametrize(
    ("metals", "keeper"),
    [
        ((), False), (None, True), (("Pb",), True), (("Zn", "lead"), True), (("Cd", "Se"), True),
        (("Cr(VI)",), True), (("Cr(III)",), False), (("Cr",), True), (("zinc chromate",), True),
        (("sulfochromate",), True), (("As", "Cu"), True), (("Hg",), True), (("Zn", "Ba", "Mn"), False),
        (("Cr(III) and Cr(VI)",), True),
    ],
)  # fmt: skip
def test_keeper_only_by_metal(metals: tuple[str, ...] | None, keeper: bool) -> None:
    facts = MaterialFacts("x", K.DRY_PIGMENT, supplier_classes=(), toxic_metals=metals)
    assert keeper_only_by_default(facts) is keeper


def test_driers_are_keeper_only_and_a_keeper_may_decide_otherwise_in_the_open() -> None:
    drier = MaterialFacts("Cobalt drier", K.DRIER, supplier_classes=(), toxic_metals=())
    assert is_keeper_only(drier)
    opened = replace(drier, keeper_only=False)
    assert not is_keeper_only(opened)
    assert {"keeper-only", "keeper-only-lifted"} <= review(opened).codes
    assert is_keeper_only(replace(COMPLETE_OIL, keeper_only=True))


def test_lead_in_a_seeded_pigment_is_said() -> None:
    facts = facts_of(next(m for m in SEEDED if m.key == "lead_white"))
    sentences = [f.sentence for f in review(facts) if f.code == "keeper-only"]
    assert any("contains Pb" in sentence for sentence in sentences)


def test_a_sheet_of_another_regime_old_or_partial_is_a_finding() -> None:
    def lacks(sheet: SheetFacts | None) -> int:
        verdict = review(
            replace(COMPLETE_OIL, sheet=sheet), regime="eu-clp", sheet_not_before=date(2022, 1, 1)
        )
        return sum(f.code == "sheet-not-whole" for f in verdict)

    assert lacks(SheetFacts(date(2024, 5, 1), "eu-clp", True)) == 0
    assert lacks(SheetFacts(date(2024, 5, 1), "us-hcs", True)) == 1
    assert lacks(SheetFacts(date(2021, 12, 31), "eu-clp", True)) == 1
    assert lacks(SheetFacts(date(2022, 1, 1), "eu-clp", True)) == 0
    assert lacks(SheetFacts(date(2024, 5, 1), "eu-clp", False)) == 1
    assert lacks(SheetFacts(None, None, None)) == 3
    assert lacks(None) == 1


@pytest.mark.parametrize(
    "wrong",
    [
        {"flash_point_c": Decimal(20), "flash_not_applicable": "water"},
        {"binder": "linseed oil"},
        {"oil_share_percent": Decimal(5)},
        {"ventilation_class": 0},
        {"ventilation_class": 5},
        {"oil_share_percent": Decimal(101)},
        {"density_g_ml": Decimal(0)},
        {"bulk_density_g_ml": (Decimal("0.7"), Decimal("0.5"))},
        {"bulk_density_g_ml": (Decimal(0), Decimal("0.5"))},
    ],
)
def test_impossible_facts_are_refused(wrong: dict[str, object]) -> None:
    with pytest.raises(Invalid):
        MaterialFacts("x", K.SOLVENT, **wrong)  # type: ignore[arg-type]


def test_sentences_say_how_to_mend_and_never_call_a_thing_harmless() -> None:
    banned = ("good", "safe ", "please", "invalid", "oops")
    starts = ("The ", "Whether", "How", "There", "Sections", "Rags", "Blank")
    for kind in K:
        for finding in review(MaterialFacts("Blank can", kind)):
            assert finding.sentence.startswith(starts)
            assert not any(word in finding.sentence.lower() for word in banned), finding
            assert finding.about == finding.sentence[(at := finding.sentence.index("Blank can")) : at + 9]
