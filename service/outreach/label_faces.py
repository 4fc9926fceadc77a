"""What stands on a shelf label: read from the book, said in words, nothing guessed."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date

from sqlmodel import Session

from service.core.containers import ContainerState, Standing
from service.core.shelf_codes import show_code
from service.outreach.labels import LabelFace, qr_content
from service.records.ageing_queries import standing_of
from service.records.material_queries import counts_self_heating
from service.records.materials import Material
from service.records.places import Place, PlaceKind
from service.records.stock_queries import Held

PLACE_WORDS = {
    PlaceKind.BUILDING: "building",
    PlaceKind.ROOM: "room",
    PlaceKind.CABINET: "cabinet",
    PlaceKind.SHELF: "shelf",
    PlaceKind.BENCH: "bench",
    PlaceKind.RAG_CAN: "rag can",
    PlaceKind.OUTSIDE_DRUM: "drum outside",
    PlaceKind.WASTE_DRUM: "waste drum",
    PlaceKind.KIT: "kit",
    PlaceKind.VEHICLE: "vehicle",
    PlaceKind.CUSTOMER_SITE: "customer's site",
}
"""Kinds of place in words."""
RAGS_BURN = "Rags with it can catch fire by themselves."


def say_day(day: date) -> str:
    """A day in few letters.

    >>> say_day(date(2026, 3, 12))
    '12 Mar 2026'
    """
    return f"{day.day} {day:%b} {day.year}"


def container_face(session: Session, held: Held, today: date, base_url: str) -> LabelFace:
    """The label of a container: its name and code, its dates, how long it is in date, its hazard line."""
    box = held.container
    opened = say_day(box.opened_on) if box.opened_on else ("day not known" if box.ever_opened else None)
    foot = [hazard_line(held.material)]
    if counts_self_heating(session, held.material, box):
        foot.insert(0, RAGS_BURN)
    return LabelFace(
        title=held.material.name,
        code=show_code(box.code),
        qr=qr_content(box.code, base_url),
        lines=(
            ("Packed", say_day(box.packed_on) if box.packed_on else None),
            ("Received", say_day(box.received_on) if box.received_on else None),
            ("Opened", opened),
        ),
        strong=_until(session, held, today),
        foot=tuple(foot),
    )


def _until(session: Session, held: Held, today: date) -> str:
    ageing = standing_of(session, held.container, held.material, today)
    if ageing.standing is Standing.NOT_KNOWN or ageing.in_date_until is None:
        return "In date until: not known. Look first."
    sealed = " if sealed" if held.container.state is ContainerState.SEALED else ""
    return f"In date until {say_day(ageing.in_date_until)}{sealed}"


def hazard_line(material: Material) -> str:
    """The classes as they were entered, always with "see the sheet" in front, so that it is never cut off.

    >>> from service.core.materials import Form, MaterialKind
    >>> from datetime import datetime
    >>> def said(hazards):
    ...     row = Material(name="x", kind="solvent", form="liquid", hazards=hazards, created_at=datetime.max)
    ...     return hazard_line(row)
    >>> said(None), said([])
    ('See the sheet. Hazards not known.', 'See the sheet. Examined: no class.')
    >>> said(["Flam. Liq. 3 H226", "Asp. Tox. 1 H304"])
    'See the sheet. Flam. Liq. 3 H226; Asp. Tox. 1 H304'
    """
    if material.hazards is None:
        return "See the sheet. Hazards not known."
    if not material.hazards:
        return "See the sheet. Examined: no class."
    named = [str(one) for one in material.hazards]
    # Cut by whole classes and said so: a class that is simply missing would look like one that is not there.
    shown, rest = named[:4], len(named) - 4
    more = f" and {rest} more" if rest > 0 else ""
    return f"See the sheet. {'; '.join(shown)}{more}"


def place_face(path: str, place: Place, base_url: str) -> LabelFace:
    """The label of a place; ``path`` is what it stands in, in words."""
    inside = path.partition(", ")[2]
    strong = "Oily rags only" if place.kind in (PlaceKind.RAG_CAN, PlaceKind.OUTSIDE_DRUM) else ""
    return LabelFace(
        title=place.name,
        code=show_code(place.code),
        qr=qr_content(place.code, base_url),
        lines=(("Kind:", PLACE_WORDS[place.kind]),),
        strong=strong,
        foot=(f"In: {inside}",) if inside else (),
    )


def blank_faces(codes: Iterable[str], base_url: str) -> list[LabelFace]:
    """Labels printed ahead for a stock-take: a code, and lines to write on."""
    return [
        LabelFace(
            title="Material:",
            code=show_code(code),
            qr=qr_content(code, base_url),
            lines=(("Packed", None), ("Received", None), ("Opened", None)),
            foot=("See the sheet.",),
        )
        for code in codes
    ]
