"""Which precautionary statements go on a label: gathered by class, without doubles, then the fewest that
still say it.

Doors: core/hazards/label.py; the table of choices comes from ``seed_data/knowledge`` by
records/knowledge_hazards.py.

Sources: CLP Articles 22 and 28 and Annex IV (not more than six unless the severity needs more; one on
disposal for the public);
HCS C.2.4 (no number, may be combined). The order of choice is this program's own: first aid for what harms
at once or for good is never cut before prevention, storage or disposal.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Final

from service.core.hazards.classes import PHYSICAL, Family, Hazard, Signal
from service.core.hazards.mix import Audience
from service.core.hazards.regimes import Regime

MOST: Final = 6
# Left: made unnecessary by any of the right, which asks for more or sooner.
_COVERED: Final[dict[str, tuple[str, ...]]] = {
    "P261": ("P260",),
    "P312": ("P310", "P311"),
    "P311": ("P310", "P308+P311"),
    "P314": ("P308+P313", "P308+P311", "P310"),
    "P301+P312": ("P301+P310",),
    "P330": ("P301+P330+P331",),
    "P331": ("P301+P330+P331",),
    "P362+P364": ("P361+P364", "P363"),
    "P302+P352": ("P303+P361+P353",),
    "P332+P313": ("P333+P313", "P310", "P308+P313"),
    "P403": ("P403+P233", "P403+P235"),
    "P308+P313": ("P308+P311",),
    "P271": ("P260", "P284"),
    "P337+P313": ("P310",),
    "P202": ("P201",),
}
# HCS C.2.4 lets statements be combined, not one of two be dropped where both are mandated.
_NOT_COVERED_IN_US: Final = frozenset({"P202"})
# Whose first aid is printed whole, whatever else must go: corrosive, eyes, poisonous, lungs, airways, organs.
_FIRST_AID_FOR: Final = frozenset(
    {"H314", "H318", "H319", "H320", "H300", "H301", "H310", "H311", "H330", "H331"}
    | {"H304", "H334", "H370", "H371"}
)
_POINTS_ELSEWHERE: Final = ("P321", "P320", "P370+P378", "P391", "P363")
_GENERAL: Final = ("P101", "P102", "P103")
_HANDS: Final = "P280"
_FIRE: Final = ("P210",)
_WASTE: Final = "P501"


@dataclass(frozen=True)
class AdviceRow:
    """The statements the standard offers for one category of one class, by column."""

    prevention: tuple[str, ...] = ()
    response: tuple[str, ...] = ()
    storage: tuple[str, ...] = ()
    disposal: tuple[str, ...] = ()

    @property
    def all(self) -> tuple[str, ...]:
        return self.prevention + self.response + self.storage + self.disposal


# By family, category, and for acute toxicity the figure of its route ("0" oral, "1" dermal, "3" breathed).
Advice = Mapping[tuple[Family, str, str], AdviceRow]


@dataclass(frozen=True)
class LeftOut:
    """A statement that is not printed, and why."""

    code: str
    because: str


@dataclass(frozen=True)
class Precautions:
    """The chosen statements in the order of their numbers, and those left out."""

    chosen: tuple[str, ...]
    left_out: tuple[LeftOut, ...]


def advice_for(hazard: Hazard, advice: Advice) -> AdviceRow:
    """The row of a class; an empty one where none is held: the label says so."""
    route = hazard.kind[1] if hazard.family is Family.ACUTE_TOXICITY else ""
    return advice.get((hazard.family, hazard.category, route), AdviceRow())


def choose_precautions(
    hazards: Sequence[Hazard], regime: Regime, audience: Audience, advice: Advice
) -> Precautions:
    """The statements of a label.

    In the US and for more than the EU's six: all that are not covered by another. In the EU and under UN
    GHS first aid for whatever harms at once or for good, then the first of each other kind by severity: more
    than six only where that needs it.
    """
    ordered = sorted(hazards, key=_severity)
    rows = [advice_for(hazard, advice) for hazard in ordered]
    offered = list(dict.fromkeys(code for row in rows for code in row.all))
    both = _NOT_COVERED_IN_US if regime is Regime.US_HCS else frozenset()
    covered = {code: by for code in offered if code not in both and (by := _covered_by(code, offered))}
    left = [LeftOut(code, f"{by} says it") for code, by in covered.items()]
    kept = [code for code in offered if code not in covered]
    general = _GENERAL if audience is Audience.PUBLIC and hazards else ()
    if regime is Regime.US_HCS:
        return Precautions((*general, *_numbered(kept)), tuple(left))
    picked = _pick(ordered, rows, set(kept))
    left += [
        LeftOut(code, "not more than six unless the severity needs more")
        for code in kept
        if code not in picked
    ]
    return Precautions((*general, *_numbered(picked)), tuple(left))


def _severity(hazard: Hazard) -> tuple[int, int, int]:
    """Danger first; harm to people before fire, fire before water."""
    water = hazard.family in (Family.AQUATIC_ACUTE, Family.AQUATIC_CHRONIC, Family.OZONE)
    place = 2 if water else int(hazard.family in PHYSICAL)
    return int(hazard.signal is not Signal.DANGER), place, hazard.rank


def _covered_by(code: str, offered: Sequence[str]) -> str:
    return next((by for by in _COVERED.get(code, ()) if by in offered), "")


def _pick(ordered: Sequence[Hazard], rows: Sequence[AdviceRow], kept: set[str]) -> list[str]:
    picked: list[str] = []

    def add(codes: Sequence[str], most: int = 1) -> None:
        fresh = [code for code in codes if code in kept and code not in picked]
        picked.extend(fresh[:most])

    offered = [code for row in rows for code in row.all]
    for number, (hazard, row) in enumerate(zip(ordered, rows, strict=True)):
        danger = hazard.signal is Signal.DANGER
        if number == 0:
            add([code for code in row.prevention if code != _HANDS])
        if hazard.code[:4] in _FIRST_AID_FOR:
            add(_first_aid(row), len(row.response))
        elif number == 0 or danger:
            add(_first_aid(row), 2 if danger else 1)
    if any(hazard.family in PHYSICAL for hazard in ordered):
        add([code for code in _FIRE if code in offered])
    add([_HANDS])
    add([code for row in rows for code in row.storage])
    add([_WASTE])
    for row in rows:
        if len(picked) < MOST:
            add(row.response)
    for row in rows:
        if len(picked) < MOST:
            add(row.prevention)
    return picked


def _first_aid(row: AdviceRow) -> tuple[str, ...]:
    """First aid without P321, P378 and the like, which only point elsewhere."""
    return tuple(code for code in row.response if code not in _POINTS_ELSEWHERE)


def _numbered(codes: Sequence[str]) -> list[str]:
    return sorted(codes, key=lambda code: (code[1], code))
