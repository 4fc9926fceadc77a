"""`/containers/CODE/hazard-label`: the hazard label of what is in one container, at its true size, to print.

A jar that leaves the shop is supply: the whole label for the public. The short label for a container that is
used up here is a keeper's to decide. What is not known is printed in words.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from decimal import Decimal
from typing import Annotated, Any, Final
from urllib.parse import urlencode

from fastapi import APIRouter, Query, Request
from fastapi.responses import Response
from sqlmodel import Session

from service.actions.judge_hazards import JudgedHazards
from service.actions.label_judged import label_of_judged
from service.actions.met_in_pot import met_in_container
from service.actions.mixes_inside import judge_container, what_is_in_container
from service.actions.read_amount import densities_of, read_for
from service.core.access import Permission, may, require
from service.core.containers import ContainerState
from service.core.findings import Invalid, Refused, Severity, Verdict, stop
from service.core.hazards.classes import PHYSICAL, Family
from service.core.hazards.label import LabelFor
from service.core.hazards.mix import Audience
from service.core.hazards.regimes import Regime
from service.core.materials import Basis as MeasuredBy
from service.core.quantities import to_basis
from service.core.shelf_codes import show_code
from service.outreach.hazard_label_sizes import SIZES, HazardLabelSize, size_for
from service.outreach.hazard_label_words import Basis, HazardLabelAsked, Maker
from service.outreach.hazard_labels import HazardLabel, fold_out, hazard_label
from service.records.hazard_tables import mandated_texts
from service.records.material_queries import counts_self_heating
from service.records.materials import Material
from service.records.shop import ShopProfile
from service.records.stock import Container
from service.records.stock_queries import container_by_code, material_of
from service.web.access_gate import Signed
from service.web.deps import Data, Now, shop_today
from service.web.forms import Posted, filled
from service.web.pages.material_hazards import shop_regime
from service.web.render import page

_MOST_UL: Final = 10**12
router = APIRouter(include_in_schema=False)

Holds = Annotated[str, Query(max_length=60)]
SizeKey = Annotated[str | None, Query(pattern="^(25x38|52x74|74x105|105x148|148x210)$")]


@router.get("/containers/{code}/hazard-label")
def show(
    request: Request, code: str, data: Data, now: Now, actor: Signed,
    size: SizeKey = None, use: Annotated[LabelFor, Query()] = LabelFor.SUPPLY,
    whole: Annotated[bool, Query()] = False, holds: Holds = "",
) -> Response:  # fmt: skip
    """The label by what the container holds, or in the size asked for.

    ``holds``: what it holds when full, where the book does not say it; for this label only.
    """
    p = filled(holds=holds)
    keeper = may(actor.role, Permission.MATERIAL_FACTS)
    with data.reading() as session:
        box = container_by_code(session, code)
        regime = shop_regime(session)
        if use is LabelFor.WORKPLACE:
            require(actor, Permission.MATERIAL_FACTS)
            only_us(regime)
        if box.state is ContainerState.GONE:
            words = f"{show_code(box.code)} is gone from the store. There is nothing to label."
            raise Refused(Verdict.of([stop("container-gone", words, about=box.code)]))
        material = material_of(session, box)
        volume = volume_of(session, actor, box, material, p)
        met = met_in_container(session, box)
        if use is LabelFor.WORKPLACE and met.findings:
            raise Refused(met)
        judged, oily = judged_label(session, box, material, regime, now)
        asked = replace(asked_label(session, box, material, judged, use, now, volume), oily=oily)
    here = f"/containers/{box.code}/hazard-label"
    told = urlencode({"holds": holds}) if holds and volume.ml is not None else ""
    context: dict[str, Any] = {
        "box": box,
        "shown": show_code(box.code),
        "name": material.name,
        "material_id": material.id,
        "lacks": sum(one.severity is Severity.UNKNOWN for one in judged.verdict),
        "verdict": judged.verdict,
        "met": met,
        "why_not": "",
        "label": None,
        "lying": False,
        "use": use.value,
        "whole": whole,
        "workplace": keeper and regime is Regime.US_HCS and not met.findings,
        "sizes": _sizes(f"{here}?{told}", asked.volume_ml, size, use),
        "here": f"{here}?{told}" if told else here,
        "more": f"{here}?{told}&" if told else f"{here}?",
        "p": p,
        "ask_volume": volume.asked,
        "plain": here,
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


def only_us(regime: Regime) -> None:
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


def judged_label(
    session: Session, box: Container, material: Material, regime: Regime, now: Now
) -> tuple[JudgedHazards, bool]:
    """What was made here is judged by what went into its batch; anything else as it was bought. What the
    container took over from what was poured into it counts beside it. And whether its rags are oily.
    """
    today = shop_today(session, now)
    oily = counts_self_heating(session, material, box)
    oily = oily or any(
        counts_self_heating(session, line.material) for line in what_is_in_container(session, box)
    )
    return judge_container(session, box, material, regime, today)[0], oily


@dataclass(frozen=True)
class _Volume:
    """What a container holds: as written, in millilitres (None = not known), and whether to ask for it."""

    written: str
    ml: Decimal | None
    asked: bool


def volume_of(session: Session, actor: Signed, box: Container, material: Material, p: Posted[Any]) -> _Volume:
    """By the book, else as typed for this label; what cannot be read leaves a sentence beside the field."""
    if box.capacity_ul is not None and box.capacity_ul > 0:
        return _Volume(box.capacity_written, Decimal(box.capacity_ul) / 1000, False)
    text = " ".join(p.text("holds").split())
    if not text:
        return _Volume(box.capacity_written, None, True)
    try:
        read = read_for(session, actor, material, text)
        if read.high is None or read.number_low == 0:
            raise Invalid("Write what it holds when full, such as 250 ml.")
        meant = to_basis(
            read.high, MeasuredBy.VOLUME, densities_of(material), form=material.form, name=material.name
        )
        if not 0 < meant.high <= _MOST_UL:
            raise Invalid("Write what it holds when full, such as 250 ml.")
    except Invalid as wrong:
        p.refuse("holds", wrong.sentence)
        return _Volume(box.capacity_written, None, True)
    return _Volume(text, Decimal(meant.high) / 1000, True)


def asked_label(
    session: Session, box: Container, material: Material, judged: JudgedHazards, use: LabelFor, now: Now,
    held: _Volume,
) -> HazardLabelAsked:  # fmt: skip
    volume = held.ml
    complete = judged.verdict.complete
    audience = Audience.PUBLIC if use is LabelFor.SUPPLY else Audience.WORKPLACE
    return HazardLabelAsked(
        product=material.name,
        maker=_maker(session, box, material),
        code=show_code(box.code),
        volume=held.written,
        volume_ml=volume,
        label=label_of_judged(judged, volume_ml=volume, audience=audience, label_for=use),
        regime=judged.regime,
        basis=_basis(judged),
        complete=complete,
        printed_on=shop_today(session, now),
        not_known=() if complete else _not_known(judged),
        not_tested=_not_tested(judged),
        met=tuple(one.sentence for one in met_in_container(session, box)),
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


def _not_tested(judged: JudgedHazards) -> tuple[str, ...]:
    """Physical classes of ingredients that only a test could deny the whole, in words."""
    names = [one.about for one in judged.verdict if one.code == "physical-class-needs-test"]
    texts = mandated_texts().hazard_texts
    said = []
    for name in dict.fromkeys(names):
        classes = [
            hazard
            for one in judged.composition.ingredients
            if one.name == name
            for hazard in one.hazards or ()
            if hazard.family in PHYSICAL and hazard.family is not Family.FLAMMABLE_LIQUID
        ]
        words = [texts.get(hazard.code, "").rstrip(".") or hazard.text for hazard in classes]
        said.append(f"{name} ({', '.join(dict.fromkeys(words))})" if words else name)
    return tuple(said)


def _maker(session: Session, box: Container, material: Material) -> Maker:
    """Who made it: the shop for what was made here, else the maker as it is recorded."""
    shop = session.get(ShopProfile, 1)
    made_here = box.made_by_batch_id is not None
    return Maker(shop.name if shop and made_here else material.maker)


def _sizes(
    here: str, volume_ml: Decimal | None, chosen: str | None, use: LabelFor
) -> list[dict[str, Any]]:
    """The sizes that the law allows for the volume; all but the small front where nobody told it."""
    least = size_for(volume_ml).long if volume_ml is not None else 0
    more = f"&use={use.value}" if use is LabelFor.WORKPLACE else ""
    return [
        {
            "href": f"{here.rstrip('?')}{'&' if '?' in here.rstrip('?') else '?'}size={size.key}{more}",
            "words": f"{size.words}, front only" if size.hint else size.words,
            "key": size.key,
            "chosen": size.key == chosen,
        }
        for size in SIZES.values()
        if size.long >= least and not (size.hint and volume_ml is None)
    ]
