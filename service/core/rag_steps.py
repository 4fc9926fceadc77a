"""What one step with oily rags does to the two clocks, and which facts it needs for that.

Doors: actions/handle_rags.py, web/pages/rags.py, core/rag_deadline_calc.py.

A fact that nobody recorded is not known, and what is not known never meets a clock.
"""

from __future__ import annotations

from dataclasses import dataclass

from service.core.findings import Finding, note, unknown, warn
from service.core.rag_profile import STRICT, RagProfile, RuleSubject
from service.core.rags import (
    Floor,
    RagEntry,
    RagStep,
    Receptacle,
    Removal,
    RemovalHow,
    Vessel,
    Water,
)

FAR_MM = 3048
NEAR_MM = 610
CONTAINING = frozenset({RagStep.IN_CAN, RagStep.UNDER_WATER, RagStep.OUTSIDE_DRUM})
STANDING = frozenset({RagStep.IN_CAN, RagStep.UNDER_WATER})
ENDING = frozenset({RagStep.REMOVED, RagStep.NONE_MADE})

_MADE_OF = {
    Vessel.PLASTIC: "Plastic burns",
    Vessel.CARDBOARD: "Cardboard burns",
    Vessel.BAG: "A bag holds the heat and burns",
    Vessel.NOT_METAL: "The receptacle is not metal",
    Vessel.NONE: "There is no container",
}
_NO_END = {
    RemovalHow.WASHED_HERE: "Washing here is no end: oil stays in the cloth and can heat again.",
    RemovalHow.TUMBLE_DRIED_HERE: "Tumble drying here is no end: oily cloth has burned in dryers.",
    RemovalHow.DRIED: "Drying is no end: dried rags still heat.",
    RemovalHow.BIN: "The ordinary bin is no end: nobody named takes them over.",
    RemovalHow.TAKEN_HOME: "Taking them home is no end: nobody named takes them over.",
    RemovalHow.TAKEN_OUT: "Taken out of the water or the can is loose again, not an end.",
}


@dataclass(frozen=True)
class StepEffect:
    """The clocks after the step: ``contains`` / ``removes`` = that clock is met, ``ends`` = both end."""

    contains: bool
    removes: bool
    ends: bool
    findings: tuple[Finding, ...] = ()


def effect_of(entry: RagEntry, profile: RagProfile = STRICT) -> StepEffect:
    """What ``entry`` does to the clocks when the facts it carries are taken as they are.

    >>> from datetime import datetime, UTC
    >>> at = datetime(2026, 3, 10, tzinfo=UTC)
    >>> effect_of(RagEntry(at, RagStep.IN_CAN, Receptacle(Vessel.PLASTIC, lid=True))).contains
    False
    """
    box = entry.receptacle or Receptacle()
    if entry.step is RagStep.IN_CAN:
        faults = can_faults(box, profile)
        return StepEffect(not faults, False, False, tuple(faults))
    if entry.step is RagStep.UNDER_WATER:
        faults = water_faults(box, profile)
        return StepEffect(not faults, not faults and profile.water_meets_remove, False, tuple(faults))
    if entry.step is RagStep.OUTSIDE_DRUM:
        faults, apart = water_faults(box, profile), _detached_faults(box)
        return StepEffect(not faults, not faults and not apart, False, (*faults, *apart))
    if entry.step is RagStep.LAID_FLAT:
        return _laid_flat(profile)
    if entry.step is RagStep.REMOVED:
        faults = removal_faults(entry.removal, profile)
        return StepEffect(not faults, not faults, not faults, tuple(faults))
    if entry.step is RagStep.NONE_MADE:
        ends = bool(entry.covers) and not entry.count
        return StepEffect(ends, ends, ends)
    return StepEffect(False, False, False)


def can_faults(box: Receptacle, profile: RagProfile = STRICT) -> list[Finding]:
    """Why this receptacle is not a rag can under the profile; empty when it is one."""
    source = profile.cite(RuleSubject.RECEPTACLE)
    faults = _metal_and_lid(box, source)
    if profile.asks_listed and box.listed is not True:
        faults.append(
            _missing(
                box.listed,
                "rag-can-not-listed",
                source,
                "The can is not listed for oily waste. Use one with a test mark for it, or keep the rags "
                "under water in a lidded metal can.",
                "Nobody recorded whether the can is listed for oily waste. Read its mark and record it.",
            )
        )
    # A can listed for oily waste closes by itself (from memory: the test standard asks for it), so a listed
    # can needs no second statement. A lid that is said to stay open is never met.
    closes = box.self_closing is True or (box.listed is True and box.self_closing is None)
    if profile.asks_self_closing and not closes:
        faults.append(
            _missing(
                box.self_closing,
                "rag-can-lid-stays-open",
                source,
                "The lid does not close by itself. Use a can whose lid falls shut.",
                "Nobody recorded whether the lid closes by itself. Let it go once and record what it does.",
            )
        )
    return faults


def water_faults(box: Receptacle, profile: RagProfile = STRICT) -> list[Finding]:
    """Why these rags are not wholly under water in a lidded metal can; empty when they are."""
    source = profile.cite(RuleSubject.WATER)
    faults = _metal_and_lid(box, source)
    if box.water is not Water.FULL:
        faults.append(
            _missing(
                box.water,
                "rags-not-under-water",
                source,
                "The rags are not wholly under water. Fill up until nothing stands out, and put the lid on.",
                "Nobody recorded whether the rags are wholly under water. Look, fill up and record it.",
            )
        )
    return faults


def _metal_and_lid(box: Receptacle, source: str) -> list[Finding]:
    faults: list[Finding] = []
    if box.material is not Vessel.METAL:
        burns = _MADE_OF.get(box.material) if box.material else ""
        faults.append(
            _missing(
                box.material,
                "rag-can-not-metal",
                source,
                f"{burns}. Move the rags into a metal can with a lid.",
                "Nobody recorded what the receptacle is made of. Look and record it.",
            )
        )
    if box.lid is not True:
        faults.append(
            _missing(
                box.lid,
                "rag-can-no-lid",
                source,
                "The can has no lid on. Put the lid on.",
                "Nobody recorded whether the can has a lid. Look and record it.",
            )
        )
    return faults


def _missing(fact: object, code: str, source: str, wrong: str, not_known: str) -> Finding:
    return unknown(code, not_known, source) if fact is None else warn(code, wrong, source)


def _detached_faults(box: Receptacle) -> list[Finding]:
    if box.place_detached is True:
        return []
    return [
        _missing(
            box.place_detached,
            "rag-drum-not-detached",
            "this house's rule",
            "The drum stands at or in the building. Only a place apart from it stops the remove clock.",
            "Nobody recorded whether the drum stands apart from the building. A keeper flags the place.",
        )
    ]


def _laid_flat(profile: RagProfile) -> StepEffect:
    source = profile.cite(RuleSubject.DRYING)
    never = note(
        "rags-laid-flat",
        "Laid flat is never for the night, and drying is no end: put them into "
        "the can or under water before you leave.",
        source,
    )
    if profile.laid_flat_contains:
        return StepEffect(True, False, False, (never,))
    not_met = warn("rags-laid-flat-runs", "Laid flat does not count as contained. Both clocks run.", source)
    return StepEffect(False, False, False, (not_met, never))


def removal_faults(removal: Removal | None, profile: RagProfile = STRICT) -> list[Finding]:
    """Why this removal is no end; empty when it is (a named receiver, or burned under a permit number)."""
    source = profile.cite(RuleSubject.END)
    if removal is None:
        return [
            unknown(
                "rags-receiver-not-known",
                "Nobody said who took the rags. Name the hauler, "
                "municipality or industrial laundry, or the permit they were burned under.",
                source,
            )
        ]
    if removal.how in _NO_END:
        return [
            warn(
                "rags-no-end",
                f"{_NO_END[removal.how]} Put them into the can or under water, and hand "
                "them to a named hauler, municipality or industrial laundry.",
                source,
            )
        ]
    if removal.how is RemovalHow.BURNED_UNDER_PERMIT:
        if removal.permit.strip():
            return []
        return [
            unknown(
                "rags-permit-not-known", "Burning ends a load only under a permit. Write its number.", source
            )
        ]
    if removal.named.strip():
        return []
    return [
        unknown(
            "rags-receiver-not-known",
            "Write the name of the hauler, municipality or laundry that took the rags.",
            source,
        )
    ]


def required_distance_mm(box: Receptacle) -> int:
    """How far from what burns it must stand: 610 mm covered, metal, floor cannot burn; else 3048 mm.

    Source: IFC 305.2 and its exception.

    >>> required_distance_mm(Receptacle(Vessel.METAL, lid=True, floor=Floor.NONCOMBUSTIBLE))
    610
    """
    near = box.material is Vessel.METAL and box.lid is True and box.floor is Floor.NONCOMBUSTIBLE
    return NEAR_MM if near else FAR_MM


def place_findings(box: Receptacle, profile: RagProfile = STRICT) -> list[Finding]:
    """Whether the receptacle stands far enough from what burns: too near, not known, or nothing to say."""
    source = profile.cite(RuleSubject.PLACE)
    if box.distance_mm is None:
        return [
            unknown(
                "rag-can-distance-not-known",
                f"Nobody recorded how far the rags stand from what burns; "
                f"{required_distance_mm(box)} mm are asked. Measure and record it.",
                source,
            )
        ]
    needed = required_distance_mm(box)
    if box.distance_mm >= needed:
        return []
    covered = box.material is Vessel.METAL and box.lid is True
    if covered and box.floor is None and box.distance_mm >= NEAR_MM:
        return [
            unknown(
                "rag-can-floor-not-known",
                f"{box.distance_mm} mm from what burns are enough only on a floor that cannot burn, "
                "and nobody recorded the floor. Look and record it.",
                source,
            )
        ]
    return [
        warn(
            "rags-too-near",
            f"{box.distance_mm} mm from what burns; {needed} mm are asked. Move the can away.",
            source,
        )
    ]
