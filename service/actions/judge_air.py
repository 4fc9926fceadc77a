"""What a mix of materials does near a flame and in the air of a room: flash point, vapour, the air it needs.

The figures show when a bench is not fit; none shows that it is.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from decimal import Decimal
from typing import Final

from sqlmodel import Session

from service.actions.mix_components import components_of_mix
from service.actions.mix_of_materials import MixShares
from service.core.findings import Finding, Verdict, note, unknown
from service.core.hazards.regimes import Regime
from service.core.materials import Unknown
from service.core.solvents.dilution import Dilution
from service.core.solvents.flash_judgement import FlashJudgement, judge_flash
from service.core.solvents.properties import Component, Share, ShareKind
from service.core.solvents.room_judgement import AirAnswer
from service.core.solvents.room_judgement import judge_air as judge_room
from service.core.solvents.room_question import AirQuestion
from service.records.dilution_facts import dilution_of
from service.records.rooms import AirFrom, RoomAir
from service.records.solvent_facts import component_of

USUAL_C: Final = 25.0
SMALL_PERCENT: Final = 3.0
"""Our own measure: so much of a mix, of which nothing is known, may be left out of levels; it is said."""
STEPS: Final = (0.0, 1.0, 2.0, 5.0, 10.0, 15.0, 20.0, 30.0, 40.0, 50.0)
_MOMENTS: Final = 48


@dataclass(frozen=True)
class AirAsked:
    """What is asked of the air.

    Args:
        grams: of the whole mix that is used in this room, what stays in the film included; None = all that
            the lines tell, or not known.
        minutes: in which it evaporates; None = at once.
        room: what is known of the room's air; None: nothing.
        added: key of a solvent of the tables that somebody thinks of adding; "" = none.
    """

    grams: Decimal | None = None
    minutes: Decimal | None = None
    room: RoomAir | None = None
    added: str = ""


@dataclass(frozen=True)
class AddedStep:
    """The mix with so much per cent by mass of the added solvent."""

    percent: float
    flash_c: float | None
    ideal_c: float | None
    category: str


@dataclass(frozen=True)
class MixAir:
    """Flash point and room together; ``room`` None: how much goes into the air was not told."""

    components: tuple[Component, ...]
    flash: FlashJudgement
    room: AirAnswer | None
    added_name: str
    steps: tuple[AddedStep, ...]
    minutes: float | None
    grams: float | None
    celsius: float
    verdict: Verdict
    asked_room: RoomAir | None = None
    in_part: bool = False
    """Something of which nothing is known was left out of the figures of the room."""


def air_of_mix(session: Session, shares: MixShares, regime: Regime, asked: AirAsked) -> MixAir:
    """The flash point of a mix of materials, and what it does to the air of a room.

    Raises Invalid for amounts that cannot be.
    """
    mix = components_of_mix(session, shares.parts, regime)
    flash = judge_flash(mix.components, (*shares.findings, *mix.findings))
    findings: list[Finding] = [*shares.findings, *mix.findings]
    celsius = USUAL_C
    if asked.room is not None and asked.room.temperature_tenths is not None:
        celsius = asked.room.temperature_tenths / 10
    else:
        words = "How warm the room is while people work is not written down; 25 °C is taken."
        findings.append(note("temperature-taken-as-25", words))
    grams = _grams(asked, shares)
    minutes = None if asked.minutes is None else float(asked.minutes)
    room, gap = None, None
    if grams is None:
        words = (
            "How much of it goes into the air is not told, so the room cannot be judged. Enter it in grams."
        )
        findings.append(unknown("amount-not-told", words))
    else:
        findings += _more_than_written(asked, shares)
        reckoned, gap = _without_traces(mix.components)
        question = _question(reckoned, grams, minutes, celsius, asked.room)
        room = judge_room(question)
        if gap is not None:
            # What is left out may be what people must not breathe.
            room = replace(room, enough=False if room.enough is False else None)
            findings.append(gap)
        # In grams nobody needs the volume of what stays in the film.
        findings += [one for one in room.verdict if one.code != "millilitres-not-known"]
        findings += _exhaust(asked.room)
    added = component_of(asked.added) if asked.added else None
    steps = _steps(mix.components, added, regime) if added is not None else ()
    return MixAir(
        mix.components,
        flash,
        room,
        added.name if added else "",
        steps,
        minutes,
        None if grams is None else grams[1],
        celsius,
        Verdict.of([*flash.verdict, *findings]),
        asked.room,
        gap is not None,
    )


def _grams(asked: AirAsked, shares: MixShares) -> tuple[float, float] | None:
    if asked.grams is not None:
        return float(asked.grams), float(asked.grams)
    return None if shares.grams is None else (float(shares.grams[0]), float(shares.grams[1]))


def _question(
    components: Sequence[Component],
    grams: tuple[float, float],
    minutes: float | None,
    celsius: float,
    room: RoomAir | None,
) -> AirQuestion:
    weighed = [_in_grams(one, grams) for one in components]
    end = minutes or 0.0
    last = max(2 * end, end + 60.0)
    return AirQuestion(
        components=tuple(weighed),
        evaporation_min=minutes or None,
        times_min=tuple(last * n / _MOMENTS for n in range(_MOMENTS + 1)),
        volume_m3=_parts(room.volume_l if room else None, 1000),
        airflow_m3_h=_parts(room.fresh_air_l_h if room else None, 1000),
        mixing_factor=_parts(room.mixing_tenths if room else None, 10),
        celsius=celsius,
        # What moves the air is not known: then it counts as what comes only while it blows.
        airflow_is_natural=room is None or room.air_from is not AirFrom.FAN,
        dilution=tuple(
            Dilution(True) if one.volatile is False else dilution_of(one.cas) for one in components
        ),
    )


def _more_than_written(asked: AirAsked, shares: MixShares) -> list[Finding]:
    if asked.grams is None or shares.grams is None or float(asked.grams) <= float(shares.grams[1]):
        return []
    words = (
        f"{asked.grams:f} g are used, and the lines come to {float(shares.grams[1]):.3g} g only. Look at "
        "both; it was reckoned with the larger."
    )
    return [note("more-used-than-written", words)]


def _without_traces(components: Sequence[Component]) -> tuple[tuple[Component, ...], Finding | None]:
    """Small parts of which nothing is known are left out of the figures of the room, and that is said."""
    unknown_ones = [one for one in components if one.volatile is None and one.molar_mass is None]
    most = sum(one.share.high for one in unknown_ones if one.share is not None)
    if not unknown_ones or most > SMALL_PERCENT:
        return tuple(components), None
    kept = tuple(replace(one, volatile=False) if one in unknown_ones else one for one in components)
    names = ", ".join(one.name for one in unknown_ones)
    words = (
        f"Up to {most:.2g} % of the mix is not reckoned with, for nothing is known of it ({names}): the "
        "levels are what the rest gives, and may be higher."
    )
    return kept, unknown("part-not-reckoned", words)


def _in_grams(component: Component, grams: tuple[float, float]) -> Component:
    share = component.share
    assert share is not None
    low, high = share.low / 100 * grams[0], share.high / 100 * grams[1]
    return replace(component, share=Share(ShareKind.MASS_G, low, high))


def _steps(components: Sequence[Component], added: Component, regime: Regime) -> tuple[AddedStep, ...]:
    """The flash point with more and more of one solvent. None at a step: not known there."""
    found = []
    for percent in STEPS:
        left = 1 - percent / 100
        parts = [_scaled(one, left) for one in components]
        same = next((n for n, one in enumerate(parts) if one.key == added.key), None)
        if same is None:
            parts.append(replace(added, share=Share(ShareKind.PERCENT, percent, percent)))
        else:
            held = parts[same].share
            assert held is not None
            more = Share(ShareKind.PERCENT, held.low + percent, held.high + percent)
            parts[same] = replace(parts[same], share=more)
        judged = judge_flash(parts)
        category = next(one.category for one in judged.categories if one.regime is regime)
        ideal = judged.reading.ideal.celsius if judged.reading and judged.flash_c is not None else None
        found.append(AddedStep(percent, judged.flash_c, ideal, category))
    return tuple(found)


def _scaled(component: Component, factor: float) -> Component:
    share = component.share
    assert share is not None
    return replace(component, share=Share(share.kind, share.low * factor, share.high * factor))


def _exhaust(room: RoomAir | None) -> list[Finding]:
    if room is None or room.local_exhaust is not Unknown.YES:
        return []
    words = "The exhaust at the bench is not reckoned with: what it takes away is found by measuring only."
    return [note("exhaust-not-reckoned", words)]


def _parts(value: int | None, parts: int) -> float | None:
    return None if value is None else value / parts
