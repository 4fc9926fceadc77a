"""What the page of a jar says of its content: what went in, hazards of that, where its dates come from."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal
from typing import Any, Final

from sqlmodel import Session

from service.actions.after_use import after_use, stir_words
from service.actions.expand_mixes import batches_in_container
from service.actions.met_in_pot import after_what_met, met_in_container, stir_what_met
from service.actions.mix_of_materials import MixShares
from service.actions.mixes_inside import judge_container, what_is_in_container
from service.core.after_use_words import AfterUse
from service.core.findings import Invalid, Severity, Verdict
from service.core.shelf_codes import show_code
from service.records.materials import Material
from service.records.mixing import Batch
from service.records.mixing_queries import additions_of, the_batch
from service.records.people import Person
from service.records.stock import Container
from service.web.deps import shop_today, shop_zone
from service.web.hazard_view import view_hazards
from service.web.pages.material_hazards import shop_regime
from service.web.render import day

COLUMNS: Final = [
    {"key": "material", "label": "Material"},
    {"key": "share", "label": "Share by weight", "number": True},
]


@dataclass(frozen=True)
class JarView:
    """A jar of a made mix. ``lacks``: facts that are missing; ``traced``: whether its content can be told."""

    batches: list[tuple[str, str]]
    met: Verdict
    traced: bool
    rows: list[dict[str, Any]]
    hazards: Any
    lacks: int
    why_not: str
    dates: list[str]
    after: AfterUse
    stir: str
    stir_note: str
    strained: str


def jar_view(session: Session, box: Container, material: Material, now: datetime) -> JarView | None:
    """None for what was not made here."""
    if box.made_by_batch_id is None:
        return None
    batches = [the_batch(session, number) for number in batches_behind(session, box)]
    lines = what_is_in_container(session, box)
    judged, shares, why_not = None, None, ""
    try:
        judged, shares = judge_container(
            session, box, material, shop_regime(session), shop_today(session, now)
        )
    except Invalid as wrong:
        why_not = wrong.sentence
    met = met_in_container(session, box)
    missing = [] if judged is None else [f for f in judged.verdict if f.severity is Severity.UNKNOWN]
    notes = dict.fromkeys(batch.stir_note for batch in batches if batch.stir_note)
    return JarView(
        batches=[
            (f"/bench/{batch.id}", f"Batch {batch.id}, {made_words(session, batch)}") for batch in batches
        ],
        met=met,
        traced=bool(lines),
        rows=composition_rows(shares) if shares is not None else [],
        hazards=view_hazards(judged, whole=False) if judged is not None else None,
        lacks=len(missing),
        why_not=why_not,
        dates=date_reasons(session, box, batches),
        after=after_what_met(met, after_use(session, lines, (material, box))),
        stir=stir_what_met(met, stir_words(session, lines)),
        stir_note="" if met.findings else "; ".join(str(one) for one in notes),
        strained=_strained(batches),
    )


def batches_behind(session: Session, box: Container) -> list[int]:
    """The batches a jar holds, as far as anybody can tell; its own at least."""
    own = [box.made_by_batch_id] if box.made_by_batch_id is not None else []
    return batches_in_container(session, box) or own


def made_words(session: Session, batch: Batch) -> str:
    """Who made it and when."""
    person = session.get(Person, batch.person_id)
    when = day(made_on(session, batch))
    return f"made {when} by {person.name}" if person else f"made {when}"


def made_on(session: Session, batch: Batch) -> date | None:
    """The shop's day on which it was finished; None = not yet."""
    if batch.finished_at is None:
        return None
    return batch.finished_at.astimezone(shop_zone(session)).date()


def composition_rows(shares: MixShares) -> list[dict[str, Any]]:
    """Each material once with its share by weight, lowest and highest."""
    spans: dict[str, tuple[Decimal, Decimal]] = {}
    for part in shares.parts:
        low, high = spans.get(part.material.name, (Decimal(0), Decimal(0)))
        spans[part.material.name] = low + part.low, min(high + part.high, Decimal(100))
    ordered = sorted(spans.items(), key=lambda one: (-one[1][1], one[0].casefold()))
    return [{"material": name, "share": share_words(low, high)} for name, (low, high) in ordered]


def share_words(low: Decimal, high: Decimal) -> str:
    """A share as people read it; a range where it is one, rounded away from its middle.

    >>> share_words(Decimal("11.3635"), Decimal("11.3647")), share_words(Decimal(5), Decimal("17.2"))
    ('11.4 %', '5 to 17.2 %')
    >>> share_words(Decimal(0), Decimal(100))
    'not known'
    """
    if low == 0 and high == 100:
        return "not known"
    if high - low < Decimal("0.05"):
        return f"{_plain(high.quantize(Decimal('0.1')))} %" if high >= 1 else f"{_plain(high)} %"
    step = Decimal("0.1")
    down, up = low.quantize(step, "ROUND_FLOOR"), high.quantize(step, "ROUND_CEILING")
    return f"{_plain(down)} to {_plain(up)} %"


def _plain(value: Decimal) -> str:
    return f"{value.normalize():f}"


_DATES: Final[Sequence[tuple[str, Callable[[Container], date | None]]]] = (
    ("Packed", lambda box: box.packed_on),
    ("Came in", lambda box: box.received_on),
    ("First opened", lambda box: box.opened_on),
    ("Printed date", lambda box: box.printed_date),
)


def date_reasons(session: Session, box: Container, batches: Sequence[Batch]) -> list[str]:
    """Where each date of a jar comes from: the earliest of everything that went in."""
    sources = [
        (one.container, one.material)
        for batch in batches
        for one in additions_of(session, batch.id or 0)
        if one.container is not None and not one.reversed
    ]
    said = []
    for word, date_of in _DATES:
        mine = date_of(box)
        lacking = [f"{m.name} {show_code(c.code)}" for c, m in sources if date_of(c) is None]
        if mine is None:
            if word != "Printed date" and lacking:
                named = ", ".join(dict.fromkeys(lacking))
                said.append(f"{word}: not known, for it is not known of {named}.")
            continue
        whose = [f"{m.name} {show_code(c.code)}" for c, m in sources if date_of(c) == mine]
        of = f", from {whose[0]}" if whose else ""
        said.append(f"{word} {day(mine)}: the earliest of what went in{of}.")
    if box.inherited_gap:
        words = "Of something that went in it is not known how long it keeps, so it is not known of this jar."
        said.append(words)
    elif box.inherited_until is not None:
        said.append(f"Nothing in it is in date after {day(box.inherited_until)}: nor is this jar.")
    return said


def _strained(batches: Sequence[Batch]) -> str:
    said = {batch.strained for batch in batches}
    if said == {True}:
        return "yes"
    return "no" if said == {False} else "not known"


__all__ = ["COLUMNS", "JarView", "batches_behind", "composition_rows", "jar_view", "made_on", "made_words"]
