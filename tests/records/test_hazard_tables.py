"""The tables and the rules of the core speak of the same classes, in the same words."""

from __future__ import annotations

from service.core.hazards.classes import CATEGORIES, Family, Hazard, Route
from service.core.hazards.precaution import advice_for
from service.core.hazards.read_class import read_class
from service.core.hazards.regimes import Regime
from service.core.hazards.statements import hazard_statement
from service.records.hazard_tables import advice_of, mandated_texts
from service.records.knowledge_hazards import hazard_statements, precaution_choices
from service.records.knowledge_substances import substance_hazards

ROWS = substance_hazards()


def test_every_published_class_is_read_as_it_is_written() -> None:
    written = {hazard for row in ROWS for hazard in row.classes}
    written |= {limit.hazard for row in ROWS for limit in row.limits}
    assert len(written) > 130
    for text in written:
        assert [hazard.text for hazard in read_class(text).hazards] == [text]


def test_the_annulled_class_is_read_too() -> None:
    (once,) = {hazard for row in ROWS for hazard in row.once_classes}
    assert [hazard.abbreviation for hazard in read_class(once).hazards] == ["Carc. 2"]


def test_every_supplemental_code_is_read() -> None:
    for code in {code for row in ROWS for code in row.supplements}:
        assert read_class(code).supplements == (code,)


def test_code_signal_word_and_pictogram_of_the_table_are_those_of_the_rules() -> None:
    met = set()
    for statement in hazard_statements():
        for written in statement.hazards:
            hazard = read_class(
                written if statement.code == "H229" else f"{written} {statement.code}"
            ).hazards[0]
            signal = hazard.signal.value if hazard.signal else None
            assert (signal, hazard.pictograms) == (statement.signal_word, statement.pictograms), written
            assert statement.code in (hazard.code, "H229"), written
            met.add((hazard.family, hazard.category))
    # no wording is held for these: nothing that the shop's lists name
    without = {f"{family.value} {name}" for family, name in CATEGORIES.keys() - met}
    divisions = {f"Expl. 1.{number}" for number in range(2, 7)}
    assert without == divisions | {"Self-react. G", "Org. Perox. G"}


def test_every_published_class_can_be_printed() -> None:
    for text in {hazard for row in ROWS for hazard in row.classes}:
        (hazard,) = read_class(text).hazards
        said = hazard_statement(hazard, mandated_texts())
        assert said.code == hazard.code and said.text and "<" not in said.text, text


def test_every_choice_is_handed_on_under_its_own_laws() -> None:
    for regime in Regime:
        held = [choice for choice in precaution_choices() if regime.value in choice.regimes]
        assert len(advice_of(regime)) == sum(len(choice.hazards) for choice in held)
    advice = advice_of(Regime.EU_CLP)
    breathed = advice_for(Hazard(Family.ACUTE_TOXICITY, "4", Route.VAPOUR), advice)
    assert breathed.response == ("P304+P340", "P312")
    swallowed = advice_for(Hazard(Family.ACUTE_TOXICITY, "4", Route.ORAL), advice)
    assert swallowed.response == ("P301+P312", "P330")
    assert advice_for(Hazard(Family.EYE, "2A"), advice) == advice_for(Hazard(Family.EYE, "2"), advice)


def test_published_classes_without_a_choice_are_known() -> None:
    """Gases and nitrocellulose: no choice table is held for them; a label of theirs lacks its P-codes."""
    advice = advice_of(Regime.UN_GHS)
    hazards = {read_class(text).hazards[0] for row in ROWS for text in row.classes}
    assert {h.abbreviation for h in hazards if not advice_for(h, advice).all} == {
        "Expl. 1.1", "Flam. Gas 1", "Flam. Gas 2", "Press. Gas",
    }  # fmt: skip
