"""POST /api/calc/cut: shellac by the pound cut, made up or thinned."""

from __future__ import annotations

from decimal import Decimal
from typing import Annotated, Final, Literal

from fastapi import APIRouter
from pydantic import BaseModel, Field

from service.core.bench_writing import Ambiguous, WrittenKind, read_written
from service.core.findings import Finding, Invalid, Verdict, note, unknown
from service.core.materials import Basis, Form
from service.core.quantities import Quantity, UnitSystem
from service.core.shellac_cut import (
    ML_PER_GAL,
    Convention,
    alcohol_for,
    cut_of,
    flakes_for,
    solids_percent,
    thin,
    volume_of,
)
from service.core.solvents.properties import GIVEN, DataUsed
from service.records.film_facts import film_facts
from service.web.api.hazard_answers import FindingOut, finding_out
from service.web.api.solvent_components import DataUsedOut, data_used_out
from service.web.api_model import ApiModel
from service.web.fields import WrittenAmount

Cut = Annotated[Decimal, Field(ge=Decimal("0.001"), le=100)]
OUNCE_G: Final = 28.349523125
router = APIRouter(prefix="/api/calc", tags=["calculators"])


class CutIn(ApiModel):
    """Two of ``flakes``, ``alcohol`` and ``to_lb_gal``, to make a cut up; or ``from_lb_gal`` and
    ``to_lb_gal``, to thin one. Amounts are written with their units.
    """

    flakes: Annotated[WrittenAmount | None, Field(description="by weight", examples=["2 lb"])] = None
    alcohol: Annotated[WrittenAmount | None, Field(description="by volume", examples=["1 l"])] = None
    from_lb_gal: Cut | None = None
    to_lb_gal: Cut | None = None
    convention: Convention = Convention.DISPLACEMENT
    system: Annotated[
        Literal["us", "imperial"] | None, Field(description="whose pints and gallons are written")
    ] = None
    alcohol_density_g_ml: Annotated[Decimal | None, Field(ge=Decimal("0.5"), le=2)] = None


class CutOut(BaseModel):
    """``cut_lb_gal`` is pounds to one US gallon of alcohol, ``lb_per_gal_of_result`` of what comes out.

    ``volume`` is what comes out, in ``volume_unit``: the unit the alcohol was written in, or parts to one
    part of the stronger solution. ``alcohol_parts_per_part`` only where a cut is thinned.
    """

    cut_lb_gal: float
    lb_per_gal_of_result: float
    alcohol_parts_per_part: float | None
    volume: float
    volume_unit: str
    volume_ml: float | None
    flakes_g: float | None
    flakes_oz: float | None
    alcohol_ml: float | None
    solids_percent: float | None
    convention: Convention
    findings: list[FindingOut]
    complete: bool
    data_used: list[DataUsedOut]


@router.post("/cut", summary="Shellac by the pound cut: made up, or thinned")
def cut(asked: CutIn) -> CutOut:
    """Pounds of flakes to one US gallon of alcohol. Dissolved flakes take 0.1 gal a pound; the trade shortcut
    leaves that out. Touches no stock.
    """
    if asked.from_lb_gal is not None:
        return _thinned(asked, asked.from_lb_gal)
    sent = [name for name in ("flakes", "alcohol", "to_lb_gal") if getattr(asked, name) is not None]
    if len(sent) != 2:
        words = "Send two of flakes, alcohol and to_lb_gal to make a cut up, or from_lb_gal and to_lb_gal."
        raise Invalid(words, dict.fromkeys(sent, words) or {"flakes": words})
    return _made_up(asked)


def _made_up(asked: CutIn) -> CutOut:
    flakes_q = _amount(asked.flakes, "flakes", Basis.MASS, Form.SOLID, asked.system)
    alcohol_q = _amount(asked.alcohol, "alcohol", Basis.VOLUME, Form.LIQUID, asked.system)
    flakes = None if flakes_q is None else float(flakes_q.smallest) / 1000
    alcohol = None if alcohol_q is None else float(alcohol_q.smallest) / 1000
    to = None if asked.to_lb_gal is None else float(asked.to_lb_gal)
    if flakes is None:
        assert alcohol is not None and to is not None
        flakes = flakes_for(to, alcohol)
    if alcohol is None:
        assert to is not None
        alcohol = alcohol_for(to, flakes)
    strong = cut_of(flakes, alcohol) if to is None else to
    volume = volume_of(flakes, alcohol, asked.convention)
    unit = ("ml", 1.0) if alcohol_q is None else (alcohol_q.unit.plural, float(alcohol_q.unit.factor) / 1000)
    return _answer(asked, strong, None, volume / unit[1], unit[0], (flakes, alcohol, volume))


def _thinned(asked: CutIn, from_cut: Decimal) -> CutOut:
    if asked.to_lb_gal is None or asked.flakes is not None or asked.alcohol is not None:
        words = "To thin a cut send from_lb_gal and to_lb_gal, without flakes and alcohol."
        raise Invalid(words, {"from_lb_gal": words})
    if asked.to_lb_gal > from_cut:
        words = "Alcohol makes a cut weaker: to_lb_gal is at most from_lb_gal. For a stronger one add flakes."
        raise Invalid(words, {"to_lb_gal": words})
    parts = thin(float(from_cut), float(asked.to_lb_gal), asked.convention)
    return _answer(asked, float(asked.to_lb_gal), parts, 1 + parts, "parts", None)


def _answer(
    asked: CutIn, strong: float, parts: float | None, volume: float, unit: str,
    amounts: tuple[float, float, float] | None,
) -> CutOut:  # fmt: skip
    density, used = _density(asked)
    findings = [*_said(asked.convention), *([] if density else [_no_density()])]
    verdict = Verdict.of(findings)
    whole = volume_of(flakes_for(strong, ML_PER_GAL), ML_PER_GAL, asked.convention) / ML_PER_GAL
    flakes, alcohol, out = amounts or (None, None, None)
    return CutOut(
        cut_lb_gal=_nine(strong),
        lb_per_gal_of_result=_nine(strong / whole),
        alcohol_parts_per_part=None if parts is None else _nine(parts),
        volume=_nine(volume),
        volume_unit=unit,
        volume_ml=None if out is None else _nine(out),
        flakes_g=None if flakes is None else _nine(flakes),
        flakes_oz=None if flakes is None else _nine(flakes / OUNCE_G),
        alcohol_ml=None if alcohol is None else _nine(alcohol),
        solids_percent=None if density is None else _nine(solids_percent(strong, density)),
        convention=asked.convention,
        findings=[finding_out(one) for one in verdict],
        complete=verdict.complete,
        data_used=data_used_out(used),
    )


def _amount(text: str | None, field: str, basis: Basis, form: Form, system: str | None) -> Quantity | None:
    """The amount as written. Raises Ambiguous and Invalid, naming the field."""
    if text is None:
        return None
    try:
        whose = UnitSystem(system) if system else None
        written = read_written(text, form=form, system=whose, point_is_decimal=True)
    except Ambiguous as doubt:
        raise Ambiguous(doubt.sentence, doubt.readings, doubt.remember, field) from None
    except Invalid as wrong:
        raise Invalid(wrong.sentence, {field: wrong.sentence}) from None
    low, high = written.low, written.high
    how = "weight, like 2 lb" if basis is Basis.MASS else "volume, like 1 l"
    words = f"Write one amount of {field} by {how}, above nothing."
    if written.kind is not WrittenKind.AMOUNT or low is None or high is None or low.smallest != high.smallest:
        raise Invalid(words, {field: words})
    if high.basis is not basis or high.smallest < 1:
        raise Invalid(words, {field: words})
    return high


def _density(asked: CutIn) -> tuple[float | None, list[DataUsed]]:
    if asked.alcohol_density_g_ml is not None:
        own = float(asked.alcohol_density_g_ml)
        return own, [DataUsed("alcohol", "density", own, "g/ml", GIVEN, GIVEN)]
    held = film_facts("ethanol")
    if held is None or held.density is None:
        return None, []
    density = held.density.span[0]
    return density, [DataUsed("ethanol", "density", density, "g/ml", held.density.source, held.density.grade)]


def _said(convention: Convention) -> list[Finding]:
    if convention is Convention.SHORTCUT:
        words = (
            "The trade shortcut leaves out the room that dissolved flakes take: up to a third more alcohol."
        )
        return [note("shortcut", words, "common practice, no source")]
    words = "Dissolved flakes are reckoned as 0.1 US gal a pound."
    return [note("displacement", words, "a woodworking magazine's shellac chart")]


def _no_density() -> Finding:
    return unknown("density-not-known", "The density of the alcohol is not known, so the solids are not.")


def _nine(value: float) -> float:
    return float(f"{value:.9g}")
