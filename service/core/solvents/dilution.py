"""Whether thinning with fresh air may be enough at all, by what is known of a vapour's effects.

Doors: core/solvents/room_judgement.py, records/dilution_facts.py, web/api/calc_vapour.py.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass
from enum import StrEnum
from typing import Final

from service.core.findings import Invalid
from service.core.hazards.hazard_band import GROUP_OF_STATEMENT, Group
from service.core.sources import Cited, Provenance

NEVER_BY_AIR_ALONE: Final = frozenset(
    code for code, group in GROUP_OF_STATEMENT.items() if group in (Group.C, Group.D, Group.E)
)
"""Statements of groups C, D and E of control banding."""
CITED: Final = Cited(
    "COSHH essentials: technical basis", "2017", "hazard groups C, D, E", "group list", Provenance.MEMORY
)
_CODE: Final = re.compile(r"(?:EUH|H)[0-9]{3}[A-Za-z]{0,2}", re.ASCII)


@dataclass(frozen=True)
class Dilution:
    """Whether a room's air may be enough for a component: ``may`` None is not known; ``because`` says why."""

    may: bool | None
    because: str = ""


class HazardGroup(StrEnum):
    """Groups of control banding, from the mildest to the worst."""

    A = "A"
    B = "B"
    C = "C"
    D = "D"
    E = "E"


NOT_KNOWN: Final = Dilution(None, "its hazard statements are not known")


def read_codes(codes: Iterable[str]) -> frozenset[str]:
    """Hazard statements as stems: letters behind H350, H360, H361 fall away, "H302+H332" is both.

    Raises Invalid for what is no code.

    >>> sorted(read_codes(["H360FD", "H302 + H332"]))
    ['H302', 'H332', 'H360']
    """
    found = set()
    for code in (part.strip() for text in codes for part in text.split("+")):
        if not _CODE.fullmatch(code):
            raise Invalid(f"{code[:40]!r} is no hazard statement. Write it like H336 or EUH066.")
        found.add(code[:6] if code.startswith("EUH") else code[:4])
    return frozenset(found)


def dilution_by(codes: Iterable[str] | None) -> Dilution:
    """Groups C, D and E are never left to thinning alone. ``None`` is not known; no code at all is group A.

    >>> dilution_by(["H319", "H336"]).may, dilution_by(["H361d"]).may, dilution_by(None).may
    (True, False, None)
    """
    if codes is None:
        return NOT_KNOWN
    severe = sorted(read_codes(codes) & NEVER_BY_AIR_ALONE)
    return Dilution(False, ", ".join(severe)) if severe else Dilution(True)


def dilution_in(group: HazardGroup) -> Dilution:
    """The same for a group that somebody has worked out.

    >>> dilution_in(HazardGroup.B).may, dilution_in(HazardGroup.C).may
    (True, False)
    """
    if group in (HazardGroup.A, HazardGroup.B):
        return Dilution(True)
    return Dilution(False, f"hazard group {group.value}")
