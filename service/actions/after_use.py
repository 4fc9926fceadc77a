"""What a mix of these materials dries by, and how it is stirred, from what the book holds of each."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

from sqlmodel import Session

from service.actions.judge_film import stir_again
from service.actions.read_recipe import LineRead
from service.core.after_use_words import (
    AFTER_USE,
    NOT_KNOWN_STIR,
    NOTHING_SETTLES,
    AfterUse,
    Carrier,
    Medium,
    medium_of,
)
from service.core.materials import Form, MaterialKind
from service.records.material_queries import counts_self_heating
from service.records.materials import Material
from service.records.stock import Container

_WATER: Final = "7732-18-5"
_SPIRITS: Final = frozenset({"64-17-5", "67-63-0", "67-56-1", "71-23-8"})
_SHELLAC: Final = "9000-59-3"
_SPIRIT_KEYS: Final = frozenset({"ethanol", "denatured_alcohol", "isopropanol", "methanol", "shellac_cut"})


def carrier_of(session: Session, material: Material) -> Carrier:
    """What one material is on the wood before it is dry; ``other`` where nobody can tell."""
    if counts_self_heating(session, material):
        return Carrier.HEATING
    if material.form in (Form.POWDER, Form.SOLID, Form.PIECES):
        return Carrier.DRY
    numbers = {part.strip() for part in material.cas.split(";")}
    if material.not_stocked or material.known_key == "water" or numbers == {_WATER}:
        return Carrier.WATER
    if material.known_key in _SPIRIT_KEYS or numbers & (_SPIRITS | {_SHELLAC}):
        return Carrier.SPIRIT
    return Carrier.WATER if material.kind is MaterialKind.GLUE_OR_SIZE else Carrier.OTHER


def medium_of_lines(
    session: Session, lines: Sequence[LineRead], jar: tuple[Material, Container] | None = None
) -> Medium:
    """What these lines dry by; of a jar also what it inherited counts. Without a line: not known."""
    carriers = [carrier_of(session, line.material) for line in lines]
    if jar is not None and counts_self_heating(session, *jar):
        carriers.append(Carrier.HEATING)
    return medium_of(carriers)


def after_use(
    session: Session, lines: Sequence[LineRead], jar: tuple[Material, Container] | None = None
) -> AfterUse:
    """The sentences for what is in it."""
    return AFTER_USE[medium_of_lines(session, lines, jar)]


def stir_words(session: Session, lines: Sequence[LineRead]) -> str:
    """How often it is stirred: an estimate where grains and liquid are known, else before each dip."""
    solid = (Form.POWDER, Form.PASTE, Form.SOLID)
    kinds = (MaterialKind.COLOUR_IN_OIL, MaterialKind.COLOUR_IN_JAPAN, MaterialKind.READY_MADE_FINISH)
    may_settle = not lines or any(
        line.material.form in solid or line.material.kind in (*kinds, MaterialKind.MADE_MIX) for line in lines
    )
    if not may_settle:
        return NOTHING_SETTLES
    found = stir_again(session, lines)
    if found.minutes is not None and found.verdict.complete:
        return f"{found.words} Stir before each dip."
    return NOT_KNOWN_STIR
