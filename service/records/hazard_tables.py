"""The tables of statements as the label rules want them: texts by code, advice by class."""

from __future__ import annotations

from functools import cache

from service.core.hazards.classes import Family
from service.core.hazards.precaution import Advice, AdviceRow
from service.core.hazards.read_class import read_class
from service.core.hazards.regimes import Regime
from service.core.hazards.statements import Statements
from service.records.knowledge_hazards import hazard_statements, precaution_choices, precautionary_statements


@cache
def mandated_texts() -> Statements:
    """Every statement with the wording its standard mandates, read once."""
    hazards: dict[str, str] = {}
    for one in hazard_statements():
        hazards.setdefault(one.code, one.text)
    return Statements(hazards, {code: one.text for code, one in precautionary_statements().items()})


@cache
def advice_of(regime: Regime) -> Advice:
    """The precautionary codes that one law offers for each class and category, read once."""
    rows: dict[tuple[Family, str, str], AdviceRow] = {}
    for choice in precaution_choices():
        if regime.value not in choice.regimes:
            continue
        row = AdviceRow(choice.prevention, choice.response, choice.storage, choice.disposal)
        for written in choice.hazards:
            for hazard in read_class(written).hazards:
                route = hazard.kind[1] if hazard.family is Family.ACUTE_TOXICITY else ""
                rows[hazard.family, hazard.category, route] = row
    return rows
