"""The label that judged hazards lead to."""

from __future__ import annotations

from decimal import Decimal

from service.actions.judge_hazards import JudgedHazards
from service.core.hazards.label import Label, LabelAsked, LabelFor, make_label, names_on_label
from service.core.hazards.mix import Audience
from service.records.hazard_tables import advice_of, mandated_texts


def label_of_judged(
    judged: JudgedHazards, *, volume_ml: Decimal | None, audience: Audience, label_for: LabelFor
) -> Label:
    """The label these hazards lead to."""
    brought = [
        (one.hazard, tuple(name for reason in one.because for name in reason.ingredients))
        for one in judged.classes
    ]
    asked = LabelAsked(
        regime=judged.regime,
        hazards=judged.hazards,
        volume_ml=volume_ml,
        audience=audience,
        label_for=label_for,
        contains=names_on_label(brought),
        unknown_acute_percent=judged.unknown_acute_percent,
        unknown_aquatic_percent=judged.unknown_aquatic_percent,
        supplements=judged.ours.supplements,
    )
    return make_label(asked, mandated_texts(), advice_of(judged.regime))
