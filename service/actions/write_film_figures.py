"""What a keeper writes of a material for the film: figures with their source, each change kept."""

from __future__ import annotations

from dataclasses import asdict, dataclass
from datetime import datetime
from decimal import Decimal
from typing import Any, Final

from sqlmodel import Session

from service.actions.revise_material import locked, write_columns
from service.actions.settle import Act, Sent, Settled, settle
from service.core.access import Actor, Permission, require
from service.core.findings import Invalid
from service.core.material_entry import plain_columns
from service.records.knowledge import known
from service.records.materials import Material

PIGMENT_TABLE: Final = "pigments"


@dataclass(frozen=True)
class FilmFigures:
    """None = not known. Oil absorption in g of oil to 100 g of dry pigment, the others per cent by mass."""

    oil_absorption_low: Decimal | None = None
    oil_absorption_high: Decimal | None = None
    non_volatile_percent: Decimal | None = None
    pigment_percent: Decimal | None = None
    pigment_key: str | None = None
    film_source: str | None = None


@dataclass(frozen=True)
class FilmFiguresAsked:
    """The figures to keep; ``version`` is the one that was shown when the form was opened."""

    once: str
    version: int
    figures: FilmFigures
    reason: str = ""


def film_figures_held(material: Material) -> FilmFigures:
    """The figures as they stand in the book."""
    return FilmFigures(**{name: getattr(material, name) for name in FilmFigures.__dataclass_fields__})


def write_film_figures(
    session: Session, actor: Actor, now: datetime, material_id: int, asked: FilmFiguresAsked
) -> Settled:
    """Keep the film figures of a material; answers ``material``, ``name``, ``version``.

    Raises:
        NotAllowed, NotFound, Stale.
        Invalid: a figure that cannot be, or figures without a source; `errors` names the field.
    """
    require(actor, Permission.MATERIAL_FACTS)
    _judge(asked.figures)
    values = asdict(asked.figures)
    body = {"material": material_id, "version": asked.version, "reason": asked.reason}
    sent = Sent(asked.once, "write-film-figures", body | {"figures": plain_columns(values)})

    def perform(act: Act) -> dict[str, Any]:
        material = locked(act.session, material_id, asked.version)
        write_columns(act, material, values, asked.reason)
        material.version += 1
        act.session.add(material)
        act.session.flush()
        return {"material": material.id, "name": material.name, "version": material.version}

    return settle(session, actor, sent, now, perform)


def _judge(said: FilmFigures) -> None:
    errors: dict[str, str] = {}
    low, high = said.oil_absorption_low, said.oil_absorption_high
    if (low is None) != (high is None):
        lacking = "oil_absorption_low" if low is None else "oil_absorption_high"
        errors[lacking] = "Write both ends of the oil absorption; the same figure twice where there is one."
    elif low is not None and high is not None and low > high:
        errors["oil_absorption_low"] = "Write the lower oil absorption first."
    stays, pigment = said.non_volatile_percent, said.pigment_percent
    if stays is not None and pigment is not None and pigment > stays:
        errors["pigment_percent"] = "The pigment is a part of what stays: at most as much as that."
    row = known(said.pigment_key) if said.pigment_key else None
    if said.pigment_key and (row is None or row.table != PIGMENT_TABLE):
        errors["pigment_key"] = "Choose the pigment from the list."
    if any(figure is not None for figure in (low, high, stays, pigment)) and not said.film_source:
        errors["film_source"] = "Write where the figures are from, such as the supplier's sheet and its day."
    if errors:
        raise Invalid(next(iter(errors.values())), errors)
