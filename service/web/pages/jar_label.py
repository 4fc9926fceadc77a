"""`/containers/CODE/jar-label`: the label of a jar of a made mix, at its true size, to print.

What is in it decides; where something of that is not known the label says so, and there is no short one.
"""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from typing import Annotated, Any
from urllib.parse import urlencode

from fastapi import APIRouter, Query, Request
from fastapi.responses import RedirectResponse, Response
from sqlmodel import Session

from service.actions.after_use import stir_words
from service.actions.met_in_pot import met_in_container
from service.actions.mixes_inside import what_is_in_container
from service.core.access import Permission, may, require
from service.core.after_use_words import DO_NOT_STIR
from service.core.containers import ContainerState, Standing
from service.core.findings import Invalid, Refused, Severity, Verdict, stop
from service.core.hazards.label import LabelFor
from service.core.hazards.regimes import Regime
from service.core.shelf_codes import show_code
from service.outreach.hazard_label_words import HazardLabelAsked
from service.outreach.jar_label import JAR_SIZES, JarLabelAsked, jar_label
from service.outreach.label_faces import say_day
from service.outreach.labels import qr_content
from service.records.ageing_queries import standing_of
from service.records.materials import Material
from service.records.mixing_queries import the_batch
from service.records.people import Person
from service.records.stock import Container
from service.records.stock_queries import container_by_code, material_of
from service.web.access_gate import Signed
from service.web.deps import Config, Data, Now, shop_today
from service.web.forms import filled
from service.web.jar_view import batches_behind, made_on
from service.web.pages.hazard_label import asked_label, judged_label, only_us, volume_of
from service.web.pages.material_hazards import shop_regime
from service.web.render import page

router = APIRouter(include_in_schema=False)

JarSize = Annotated[str | None, Query(pattern="^(52x74|74x105|105x148|148x210)$")]


@router.get("/containers/{code}/jar-label")
def show(
    request: Request, code: str, data: Data, now: Now, actor: Signed, settings: Config,
    size: JarSize = None, use: Annotated[LabelFor, Query()] = LabelFor.SUPPLY,
    holds: Annotated[str, Query(max_length=60)] = "",
) -> Response:  # fmt: skip
    """The label by what the jar holds, or in the size asked for; ``holds`` as on the hazard label."""
    p = filled(holds=holds)
    with data.reading() as session:
        box = container_by_code(session, code)
        if box.made_by_batch_id is None:
            return RedirectResponse(f"/containers/{box.code}/hazard-label", 303)
        if box.state is ContainerState.GONE:
            words = f"{show_code(box.code)} is gone from the store. There is nothing to label."
            raise Refused(Verdict.of([stop("container-gone", words, about=box.code)]))
        regime = shop_regime(session)
        if use is LabelFor.WORKPLACE:
            require(actor, Permission.MATERIAL_FACTS)
            only_us(regime)
        material = material_of(session, box)
        volume = volume_of(session, actor, box, material, p)
        met = met_in_container(session, box)
        if use is LabelFor.WORKPLACE and met.findings:
            raise Refused(met)
        judged, oily = judged_label(session, box, material, regime, now)
        hazard = replace(asked_label(session, box, material, judged, use, now, volume), oily=oily, code="")
        if volume.written:
            # What it could hold is not how much is in it.
            hazard = replace(hazard, volume=f"{volume.written} jar")
        lacks = sum(one.severity is Severity.UNKNOWN for one in judged.verdict)
        keeper = may(actor.role, Permission.MATERIAL_FACTS)
        told = {"holds": holds} if holds and volume.ml is not None else {}
        here = f"/containers/{box.code}/jar-label"
        context: dict[str, Any] = {
            "box": box, "shown": show_code(box.code), "name": material.name, "lacks": lacks,
            "met": met, "use": use.value,
            "label": None, "why_not": "", "p": p, "ask_volume": volume.asked, "here": here,
            "workplace": f"{here}?{urlencode(told | {'use': 'workplace'})}"
            if keeper and regime is Regime.US_HCS and not lacks and not met.findings else "",
            "sizes": [
                {
                    "href": f"{here}?{urlencode(told | {'size': key} | _use(use))}",
                    "words": one.words, "chosen": False, "key": key,
                }
                for key, one in JAR_SIZES.items()
            ],
        }  # fmt: skip
        try:
            asked = _asked(session, box, material, hazard, shop_today(session, now), settings.base_url)
            label = jar_label(asked, JAR_SIZES[size] if size else None)
        except Invalid as wrong:
            context["why_not"] = wrong.sentence
            return page(request, "labels/jar.html", context, section="labels")
    context |= {"label": label, "lying": label.width > label.height}
    for one in context["sizes"]:
        one["chosen"] = one["key"] == label.size.key
    return page(request, "labels/jar.html", context, section="labels")


def _use(use: LabelFor) -> dict[str, str]:
    return {"use": use.value} if use is LabelFor.WORKPLACE else {}


def _asked(
    session: Session, box: Container, material: Material, hazard: HazardLabelAsked, today: date, base: str
) -> JarLabelAsked:
    batches = [the_batch(session, number) for number in batches_behind(session, box)]
    days = [made_on(session, batch) for batch in batches]
    people = [session.get(Person, batch.person_id) for batch in batches]
    notes = [batch.stir_note for batch in batches if batch.stir_note]
    stir = stir_words(session, what_is_in_container(session, box))
    if met_in_container(session, box).findings:
        notes, stir = [], DO_NOT_STIR
    return JarLabelAsked(
        hazard=hazard,
        qr=qr_content(box.code, base),
        code=show_code(box.code),
        batch=" and ".join(str(batch.id) for batch in batches),
        made_on=None if None in days else min((day for day in days if day is not None), default=None),
        made_by=", ".join(dict.fromkeys(one.name for one in people if one is not None)),
        use_first=_use_first(session, box, material, today),
        stir=" ".join([*(f"{note.rstrip('.')}." for note in dict.fromkeys(notes)), stir]),
    )


def _use_first(session: Session, box: Container, material: Material, today: date) -> str:
    """Its date in words: the earliest end of all that went in."""
    ageing = standing_of(session, box, material, today)
    if ageing.standing is Standing.PAST:
        return "Past its date: do not use."
    if ageing.standing is Standing.NOT_KNOWN or ageing.in_date_until is None:
        return "In date until: not known. Look before use."
    if ageing.standing is Standing.LOOK_FIRST:
        return f"Look before use, until {say_day(ageing.in_date_until)}."
    return f"Use first. In date until {say_day(ageing.in_date_until)}."
