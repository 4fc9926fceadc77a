"""The shop's own "ten level teaspoons weighed 23 g": from then on it beats any table value."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from typing import Any

from sqlmodel import Session, col, select

from service.actions.note_change import note_change
from service.actions.read_amount import shop_system
from service.actions.revise_material import locked
from service.actions.settle import Act, Sent, Settled, settle
from service.core.access import Actor, Permission, require
from service.core.findings import Invalid, warn
from service.core.materials import Form
from service.core.months import say_date
from service.core.quantities import plain
from service.core.spoon_weighing import read_weighing
from service.records.materials import Material, SpoonWeighing

OWN = "weighed in this shop"
"""How the source of the shop's own loose density begins."""


@dataclass(frozen=True)
class WeighingAsked:
    """What was weighed, as written; ``version`` is the material's as it was shown."""

    once: str
    version: int
    written: str
    happened_at: datetime | None = None
    late_reason: str = ""


def weigh_spoons(
    session: Session, actor: Actor, now: datetime, material_id: int, asked: WeighingAsked
) -> Settled:
    """Keep a weighing and set the material's loose density by it. Movements booked before keep theirs.

    Answers ``material``, ``g_ml`` (text), ``version``.

    Raises:
        NotAllowed: only a keeper sets a density.
        NotFound, Stale.
        Invalid: it cannot be read, no loose powder weighs that, or the material is no powder; `errors` names
            ``written``.
    """
    require(actor, Permission.MATERIAL_FACTS)
    when = asked.happened_at.isoformat() if asked.happened_at else None
    body = {"material": material_id, "version": asked.version, "written": asked.written, "happened_at": when}
    sent = Sent(asked.once, "weigh-spoons", body, asked.happened_at, late_reason=asked.late_reason)
    return settle(session, actor, sent, now, lambda act: _weigh(act, material_id, asked))


def _weigh(act: Act, material_id: int, asked: WeighingAsked) -> dict[str, Any]:
    material = locked(act.session, material_id, asked.version)
    if material.form not in (Form.POWDER, Form.SOLID):
        words = (
            "Only powders and loose solids have a loose density. Fill a known volume and weigh it instead."
        )
        raise Invalid(words, {"written": words})
    try:
        found = read_weighing(asked.written, system=shop_system(act.session))
    except Invalid as wrong:
        wrong.errors.setdefault("written", wrong.sentence)
        raise
    assert material.id is not None
    act.session.add(
        SpoonWeighing(
            material_id=material.id,
            written=" ".join(asked.written.split())[:200],
            volume_ul=found.volume_ul,
            mass_mg=found.mass_mg,
            person_id=act.actor.person_id,
            weighed_at=act.happened_at,
        )
    )
    _compare(act, material, found.g_ml)
    about, before = ("material", material.id), _held(material)
    material.bulk_low_g_ml = material.bulk_high_g_ml = found.g_ml
    material.bulk_source = f"{OWN}, {say_date(act.day)}: {' '.join(asked.written.split())}"[:200]
    note_change(
        act.session, act.actor, act.recorded_at, about, "loose density, g/ml", before, _held(material)
    )
    material.version += 1
    act.session.add(material)
    return {"material": material.id, "g_ml": plain(found.g_ml), "version": material.version}


def _held(material: Material) -> str | None:
    low, high = material.bulk_low_g_ml, material.bulk_high_g_ml
    if low is None or high is None:
        return None
    return (plain(low) if low == high else f"{plain(low)} to {plain(high)}") + f" ({material.bulk_source})"


def _compare(act: Act, material: Material, own: Any) -> None:
    """A figure far off the table's is kept, and said: a heaped spoon is easily taken for a level one."""
    low, high = material.bulk_low_g_ml, material.bulk_high_g_ml
    if low is None or high is None or low / 2 <= own <= high * 2:
        return
    words = f"That is {plain(own)} g/ml; until now it was {_held(material)}. Weigh once more to be sure."
    act.note(warn("weighing-far-off", words, about=material.name))


def weighings_of(session: Session, material_id: int) -> list[SpoonWeighing]:
    """The weighings of a material, the newest first."""
    rows = select(SpoonWeighing).where(col(SpoonWeighing.material_id) == material_id)
    return list(session.exec(rows.order_by(col(SpoonWeighing.id).desc()).limit(50)).all())
