"""`/containers/CODE/hazard-label`: the hazard label of what is in one container, at its true size, to print.

A jar that leaves the shop is supply: the whole label for the public. The short label for a container that is
used up here is a keeper's to decide. What is not known is printed in words.
"""

from __future__ import annotations

from decimal import Decimal
from typing import Annotated, Any

from fastapi import APIRouter, Query, Request
from fastapi.responses import Response
from sqlmodel import Session

from service.actions.judge_hazards import (
    JudgedHazards,
    judge_material,
    label_of_judged,
    with_what_went_in,
)
from service.actions.mix_of_materials import judge_lines, lines_of_batch
from service.core.access import Permission, may, require
from service.core.containers import ContainerState
from service.core.findings import Invalid, Refused, Severity, Verdict, stop
from service.core.hazards.label import LabelFor
from service.core.hazards.mix import Audience
from service.core.hazards.regimes import Regime
from service.core.shelf_codes import show_code
from service.outreach.hazard_label_sizes import SIZES, HazardLabelSize, size_for
from service.outreach.hazard_label_words import Basis, HazardLabelAsked, Maker
from service.outreach.hazard_labels import HazardLabel, fold_out, hazard_label
from service.records.materials import Material
from service.records.shop import ShopProfile
from service.records.stock import Container
from service.records.stock_queries import container_by_code, material_of
from service.web.access_gate import Signed
from service.web.deps import Data, Now, shop_today
from service.web.pages.material_hazards import shop_regime
from service.web.render import page

router = APIRouter(include_in_schema=False)

SizeKey = Annotated[str | None, Query(pattern="^(25x38|52x74|74x105|105x148|148x210)$")]


@router.get("/containers/{code}/hazard-label")
def show(
    request: Request, code: str, data: Data, now: Now, actor: Signed,
    size: SizeKey = None, use: Annotated[LabelFor, Query()] = LabelFor.SUPPLY,
    whole: Annotated[bool, Query()] = False,
) -> Response:  # fmt: skip
    """The label by what the container holds, or in the size asked for."""
    keeper = may(actor.role, Permission.MATERIAL_FACTS)
    with data.reading() as session:
        box = container_by_code(session, code)
        regime = shop_regime(session)
        if use is LabelFor.WORKPLACE:
            require(actor, Permission.MATERIAL_FACTS)
            _only_us(regime)
        if box.state is ContainerState.GONE:
            words = f"{show_code(box.code)} is gone from the store. There is nothing to label."
            raise Refused(Verdict.of([stop("container-gone", words, about=box.code)]))
        material = material_of(session, box)
        judged = _judged(session, box, material, regime, now)
        asked = _asked(session, box, material, judged, use, now)
    context: dict[str, Any] = {
        "box": box,
        "shown": show_code(box.code),
        "name": material.name,
        "material_id": material.id,
        "lacks": sum(one.severity is Severity.UNKNOWN for one in judged.verdict),
        "verdict": judged.verdict,
        "why_not": "",
        "label": None,
        "lying": False,
        "use": use.value,
        "whole": whole,
        "workplace": keeper and regime is Regime.US_HCS,
        "sizes": _sizes(box, asked.volume_ml, size, use),
        "here": f"/containers/{box.code}/hazard-label",
    }
    try:
        label = _label(asked, SIZES[size] if size else None, whole=whole)
    except Invalid as wrong:
        context["why_not"] = wrong.sentence
        return page(request, "hazards/label.html", context, section="labels")
    least = size_for(asked.volume_ml) if asked.volume_ml is not None and use is LabelFor.SUPPLY else None
    grown = size is None and least is not None and label.size.long > least.long
    context |= {
        "label": label,
        "lying": label.width != label.size.short,
        "least": least.words if grown and least else "",
    }
    for one in context["sizes"]:
        one["chosen"] = one["key"] == label.size.key
    return page(request, "hazards/label.html", context, section="labels")


@router.get("/hazards/label.css")
def paper(
    actor: Signed,
    size: Annotated[str, Query(pattern="^(25x38|52x74|74x105|105x148|148x210)$")] = "52x74",
    lying: Annotated[bool, Query()] = False,
) -> Response:
    """The paper size of a hazard label."""
    chosen = SIZES[size]
    sides = (chosen.long, chosen.short) if lying else (chosen.short, chosen.long)
    words = f"@page {{ size: {sides[0] / 100:g}mm {sides[1] / 100:g}mm; margin: 0; }}\n"
    return Response(words, media_type="text/css; charset=utf-8")


def _only_us(regime: Regime) -> None:
    if regime is not Regime.US_HCS:
        words = "Only US law knows a short label for the workplace. Take the whole label."
        raise Refused(Verdict.of([stop("no-workplace-label", words, "29 CFR 1910.1200(f)(6)(ii)")]))


def _label(asked: HazardLabelAsked, size: HazardLabelSize | None, *, whole: bool) -> HazardLabel:
    """In the size asked for; without one the smallest that the law allows and everything fits on."""
    if whole and size is None:
        return fold_out(asked)
    label = hazard_label(asked, size)
    while size is None and not label.fits and label.larger is not None:
        label = hazard_label(asked, label.larger)
    return label


def _judged(
    session: Session, box: Container, material: Material, regime: Regime, now: Now
) -> JudgedHazards:
    """What was made here is judged by what went into its batch; anything else as it was bought. What the
    container took over from what was poured into it counts beside it.
    """
    today = shop_today(session, now)
    if box.made_by_batch_id is not None:
        lines = lines_of_batch(session, box.made_by_batch_id)
        if lines:
            return with_what_went_in(judge_lines(session, lines, regime, today)[0], box)
    return with_what_went_in(judge_material(session, material, regime, today), box)


def _asked(
    session: Session, box: Container, material: Material, judged: JudgedHazards, use: LabelFor, now: Now
) -> HazardLabelAsked:
    volume = None if box.capacity_ul is None or box.capacity_ul <= 0 else Decimal(box.capacity_ul) / 1000
    complete = judged.verdict.complete
    audience = Audience.PUBLIC if use is LabelFor.SUPPLY else Audience.WORKPLACE
    return HazardLabelAsked(
        product=material.name,
        maker=_maker(session, box, material),
        code=show_code(box.code),
        volume=box.capacity_written,
        volume_ml=volume,
        label=label_of_judged(judged, volume_ml=volume, audience=audience, label_for=use),
        regime=judged.regime,
        basis=_basis(judged),
        complete=complete,
        printed_on=shop_today(session, now),
        not_known=() if complete else _not_known(judged),
        label_for=use,
        form=material.form,
    )


def _basis(judged: JudgedHazards) -> Basis:
    """The supplier's only where every class on it is the supplier's own."""
    told = set(judged.supplier or ())
    whole = judged.supplier is not None and all(one.hazard in told for one in judged.classes)
    return Basis.SUPPLIER if whole else Basis.CALCULATED


def _not_known(judged: JudgedHazards) -> tuple[str, ...]:
    names = [one.about for one in judged.verdict if one.severity is Severity.UNKNOWN and one.about]
    return tuple(dict.fromkeys(names))


def _maker(session: Session, box: Container, material: Material) -> Maker:
    """Who made it: the shop for what was made here, else the maker as it is recorded."""
    shop = session.get(ShopProfile, 1)
    made_here = box.made_by_batch_id is not None
    return Maker(shop.name if shop and made_here else material.maker)


def _sizes(
    box: Container, volume_ml: Decimal | None, chosen: str | None, use: LabelFor
) -> list[dict[str, Any]]:
    """The sizes that the law allows for the volume; all but the small front where nobody told it."""
    least = size_for(volume_ml).long if volume_ml is not None else 0
    more = f"&use={use.value}" if use is LabelFor.WORKPLACE else ""
    return [
        {
            "href": f"/containers/{box.code}/hazard-label?size={size.key}{more}",
            "words": f"{size.words}, front only" if size.hint else size.words,
            "key": size.key,
            "chosen": size.key == chosen,
        }
        for size in SIZES.values()
        if size.long >= least and not (size.hint and volume_ml is None)
    ]
