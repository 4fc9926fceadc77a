"""Two invented liquids, a room, and what is asked of them."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

from service.core.solvents.dilution import Dilution
from service.core.solvents.properties import (
    Component,
    ExposureLimit,
    Known,
    LimitKind,
    LimitUnit,
    Share,
    ShareKind,
)
from service.core.solvents.room_judgement import AirAnswer, judge_air
from service.core.solvents.room_question import AirQuestion
from service.core.solvents.vapour_pressure import through_two_points

YES = Dilution(True)
KETONE = ((1, 1), (18, 1))
ALKANE = ((1, 2), (2, 8))
ROOM: dict[str, Any] = {"volume_m3": 50.0, "airflow_m3_h": 500.0, "mixing_factor": 3.0}


def limit(value: float, unit: LimitUnit = LimitUnit.PPM, kind: LimitKind = LimitKind.TWA) -> ExposureLimit:
    return ExposureLimit(value, unit, kind, "a body")


def parts(amount: float, kind: ShareKind = ShareKind.VOLUME_ML, high: float | None = None) -> Share:
    return Share(kind, amount, amount if high is None else high)


def grouped(groups: tuple[tuple[int, int], ...] | None) -> dict[str, Any]:
    """The same UNIFAC groups in both variants."""
    return {"groups_original": groups, "groups_dortmund": groups}


def light(share: Share, **more: Any) -> Component:
    """A light liquid: 60 g/mol, 0.8 g/ml, boils at 60 C, burns from 2.5 vol%, limit 500 ppm; a ketone."""
    made = Component(
        name="light", share=share, molar_mass=Known(60, "g/mol"), density=Known(0.8, "g/ml"),
        lower_limit=Known(2.5, "vol%"), volatile=True, limits=(limit(500),),
        curve=through_two_points((20, 24), (60, 101.325), "given", "given"),
    )  # fmt: skip
    return replace(made, **{**grouped(KETONE), **more})


def heavy(share: Share, **more: Any) -> Component:
    """A heavy one: 140 g/mol, 0.75 g/ml, boils at 170 C, burns from 0.7 vol%, 350 mg/m3; an alkane."""
    made = Component(
        name="heavy", share=share, molar_mass=Known(140, "g/mol"), density=Known(0.75, "g/ml"),
        lower_limit=Known(0.7, "vol%"), volatile=True, limits=(limit(350, LimitUnit.MG_M3),),
        curve=through_two_points((25, 0.3), (170, 101.325), "given", "given"), is_cut=True,
    )  # fmt: skip
    return replace(made, **{**grouped(ALKANE), **more})


def judged(*components: Component, **more: Any) -> AirAnswer:
    asked: dict[str, Any] = {
        "components": components, "evaporation_min": 60.0, "dilution": (YES,) * len(components), **ROOM,
    }  # fmt: skip
    return judge_air(AirQuestion(**{**asked, **more}))


def codes(answer: AirAnswer) -> set[str]:
    return {finding.code for finding in answer.verdict}


def said(answer: AirAnswer, code: str) -> str:
    return next(finding.sentence for finding in answer.verdict if finding.code == code)
