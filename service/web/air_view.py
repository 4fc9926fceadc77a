"""What the page Air shows of a mix: figures with words, two charts with a table beneath each, reasons."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, Final
from urllib.parse import quote

from service.actions.judge_air import AddedStep, MixAir
from service.core.findings import Verdict
from service.core.hazards.regimes import RULES, Regime
from service.core.solvents.flash_judgement import FlashJudgement
from service.core.solvents.properties import DataUsed
from service.core.solvents.room_judgement import AirAnswer
from service.core.solvents.room_question import Figures, Row
from service.core.solvents.vapour_of_mix import Basis
from service.outreach.air_charts import Level, flash_chart, vapour_chart
from service.web.room_words import air_facts

_ENOUGH: Final = {
    True: ("note", "By these figures the average air of the room stays within the limits."),
    False: ("stop", "This room does not give enough air for it."),
    None: ("unknown", "Not known whether the air of the room is enough. Count it as not enough."),
}
_ON_THE_PAGE: Final = frozenset({"average-of-the-room", "calculated"})
"""Findings whose words stand on the page itself."""
_OF_THE_ROOM: Final = frozenset({"Size", "Fresh air", "Mixing factor"})
_EVERY: Final = 6
"""Of the moments of the line every so many stand in the table."""


@dataclass(frozen=True)
class Chart:
    """A picture as a data address, what it tells in words, and the table beneath it."""

    src: str
    alt: str
    caption: str
    columns: list[dict[str, Any]]
    rows: list[dict[str, Any]]


@dataclass(frozen=True)
class AirView:
    """``room`` None: how much is used was not told. Of every figure ``None`` is shown as not known."""

    flash_head: str
    flash_look: str
    flash: list[tuple[str, str | None]]
    because: tuple[str, ...]
    left_out: tuple[str, ...]
    room_look: str
    room_head: str
    room: list[tuple[str, str | None]]
    how: tuple[str, ...]
    above: list[dict[str, str]]
    added: Chart | None
    over_time: Chart | None
    verdict: Verdict
    used: list[dict[str, str]]


def view_air(found: MixAir, regime: Regime) -> AirView:
    """The answer in words and figures of three digits, under the law of the shop."""
    category = next(one for one in found.flash.categories if one.regime is regime)
    look, words = _ENOUGH[found.room.enough if found.room else None]
    if found.room and found.room.worst is None and "nothing-evaporates" in found.verdict.codes:
        look, words = "note", "Nothing but water is known to evaporate from it, so no vapour was reckoned."
    return AirView(
        flash_head=_flash_head(found.flash, category.category, category.may_be_used, regime),
        flash_look="warn" if category.category in ("1", "2", "3") else "note",
        flash=_flash_rows(found.flash),
        because=category.because,
        left_out=tuple(f"{one.name}: {one.why}." for one in found.flash.left_out),
        room_look=look,
        room_head=words,
        room=_room_rows(found),
        how=_how(found),
        above=_above(found.room),
        added=_added_chart(found.added_name, found.steps),
        over_time=_time_chart(found),
        verdict=Verdict.of(one for one in found.verdict if one.code not in _ON_THE_PAGE),
        used=[_used(one) for one in dict.fromkeys((*found.flash.data_used, *_room_used(found.room)))],
    )


def three(value: float | None, unit: str = "") -> str | None:
    """A measured or calculated figure to three digits; ``None`` stays not known.

    >>> three(56745.2, "m³"), three(0.012345), three(None)
    ('56,700 m³', '0.0123', None)
    """
    if value is None:
        return None
    rounded = float(f"{value:.3g}")
    text = f"{rounded:,.0f}" if abs(rounded) >= 100 else f"{rounded:g}"
    return f"{text} {unit}".strip()


def _flash_head(flash: FlashJudgement, category: str, used: bool, regime: Regime) -> str:
    law = RULES[regime].title
    kind = f"Flam. Liq. {category}" if category else "no flammable category"
    if flash.nothing_burns:
        return f"Nothing volatile in it burns: {kind} ({law})."
    if flash.flash_c is None:
        least = f"at least Flam. Liq. {category} by its most flammable part"
        return f"Flash point not known: {least if category else 'category not known'} ({law})."
    by = "" if used else ", the category of its most flammable part"
    both = f"{flash.flash_c:.0f} °C ({flash.flash_c * 1.8 + 32:.0f} °F)"
    return f"Flash point about {both}: {kind}{by} ({law})."


def _flash_rows(flash: FlashJudgement) -> list[tuple[str, str | None]]:
    rows: list[tuple[str, str | None]] = []
    words = {"original": "By UNIFAC, original", "dortmund": "By UNIFAC, Dortmund"}
    if flash.reading is None:
        return rows
    for one in flash.reading.variants:
        shown = None if one.celsius is None else f"{one.celsius:.1f} °C"
        rows.append((words[one.variant], shown or f"not possible: {one.why_not}"))
    ideal = flash.reading.ideal.celsius
    if ideal is not None and len(flash.reading.components) > 1:
        rows.append(("By ideal mixing, never used", f"{ideal:.1f} °C"))
    own = [(one.flash_point.value, one.name) for one in flash.reading.components if one.flash_point]
    if own:
        rows.append(("Its most flammable part", f"{min(own)[1]}, {min(own)[0]:.0f} °C"))
    return rows


def _room_rows(found: MixAir) -> list[tuple[str, str | None]]:
    rows: list[tuple[str, str | None]] = [("Reckoned at", three(found.celsius, "°C"))]
    worst = _all_of_it(found)
    if found.grams is not None:
        rows.append(("Used in the room", three(found.grams, "g")))
    rows += [(words, shown) for words, shown in air_facts(found.asked_room) if words in _OF_THE_ROOM]
    if worst is None:
        return rows
    rows += [
        *_litre(worst.vapour_l_per_l),
        ("It can burn from", three(worst.lower_limit, "% by volume in air")),
        *_peak_rows(worst.peak, "at least " if found.in_part else ""),
        ("Air needed to stay below a quarter of what burns", three(worst.air_for_quarter_lel, "m³ an hour")),
        ("Air needed for what people breathe", three(worst.air_for_limits, "m³ an hour")),
        ("Time to air the room", three(worst.purge_min, "minutes")),
    ]
    return rows


def _litre(vapour: float | None) -> list[tuple[str, str | None]]:
    """Only where every density is known: in grams nobody needs it."""
    return [] if vapour is None else [("Vapour of a litre of it", three(vapour, "litres"))]


def _all_of_it(found: MixAir) -> Figures | None:
    """The figures as if all of it evaporated evenly: one reckoning, so that each row follows from the others.

    The verdict looks at what leaves first as well.
    """
    bases = found.room.by_basis if found.room else ()
    return next((one for one in bases if one.basis is Basis.ALL_EVAPORATES), None)


def _how(found: MixAir) -> tuple[str, ...]:
    """How the figures of the room came about, for somebody with a pencil."""
    room, worst = found.asked_room, _all_of_it(found)
    if worst is None or room is None or not room.volume_l or not room.fresh_air_l_h:
        return ()
    factor = room.mixing_tenths / 10 if room.mixing_tenths else 10.0
    air = room.fresh_air_l_h / 1000 / factor
    volume = room.volume_l / 1000
    said = [
        f"Air that counts: fresh air divided by the mixing factor, {three(air, 'm³ an hour')}.",
        "Level while it dries: vapour an hour over that air, times 1 less e to the power of minus that "
        f"air times the hours over {three(volume, 'm³')}; then it falls with the same power.",
        f"Time to air the room to a tenth: {three(volume)} / {three(air)} hours times 2.303.",
        "All of it is reckoned as leaving evenly; what leaves first can be worse: the verdict looks at both.",
    ]
    if worst.air_for_limits is not None and worst.air_for_limits > room.fresh_air_l_h / 1000:
        said.append(
            f"Needed for what people breathe {three(worst.air_for_limits, 'm³ an hour')}; the room has "
            f"{three(room.fresh_air_l_h / 1000, 'm³ an hour')}."
        )
    return tuple(said)


def _peak_rows(peak: Row | None, least: str) -> list[tuple[str, str | None]]:
    if peak is None:
        return [("Highest level in the room", None)]
    index = three(peak.exposure_index)
    if index is not None:
        index = f"{'at least ' if peak.index_is_at_least else least}{index} times the limit"

    def at_least(shown: str | None) -> str | None:
        return None if shown is None else f"{least}{shown}"

    return [
        ("Highest level in the room", at_least(three(peak.ppm, "ppm"))),
        ("That is of what can burn", at_least(three(peak.percent_lel, "%"))),
        ("That is of what people may breathe", index),
    ]


def _above(room: AirAnswer | None) -> list[dict[str, str]]:
    return [
        {
            "name": one.name,
            "ppm": three(one.ppm, "ppm") or "",
            "lel": three(one.percent_lel, "%") or "not known",
            "times": "not known" if one.hazard_ratio is None else f"{three(one.hazard_ratio)} times",
        }
        for one in (room.above if room else ())
    ]


def _added_chart(name: str, steps: Sequence[AddedStep]) -> Chart | None:
    told = [(one.percent, one.flash_c) for one in steps if one.flash_c is not None]
    if len(told) < 2:
        return None
    ideal = [(one.percent, one.ideal_c) for one in steps if one.ideal_c is not None]
    first, lowest = told[0], min(told, key=lambda one: one[1])
    return Chart(
        _address(flash_chart(name, told, ideal)),
        f"From {first[1]:.0f} °C at {first[0]:g} %; lowest {lowest[1]:.0f} °C at {lowest[0]:g} % of {name}.",
        f"Flash point with {name} added",
        [
            {"key": "percent", "label": f"{name}, % by mass"},
            {"key": "flash", "label": "Flash point"},
            {"key": "category", "label": "Category"},
            {"key": "ideal", "label": "Ideal mixing, never used"},
        ],
        [
            {
                "percent": f"{one.percent:g} %",
                "flash": "not known" if one.flash_c is None else f"{one.flash_c:.0f} °C",
                "category": f"Flam. Liq. {one.category}" if one.category else "–",
                "ideal": "–" if one.ideal_c is None else f"ideal {one.ideal_c:.0f} °C",
            }
            for one in steps
        ],
    )


def _time_chart(found: MixAir) -> Chart | None:
    worst = _all_of_it(found)
    rows = worst.series if worst else ()
    told = [(row.min, row.ppm) for row in rows if row.min is not None and row.ppm is not None]
    if worst is None or len(told) < 2 or not any(ppm > 0 for _, ppm in told):
        return None
    highest = max(told, key=lambda one: one[1])
    return Chart(
        _address(vapour_chart(told, _levels(worst), found.minutes or 0.0)),
        f"Vapour rises to {three(highest[1], 'ppm')} after {highest[0]:g} minutes.",
        "Vapour in the room over time",
        [
            {"key": "min", "label": "After"},
            {"key": "ppm", "label": "Vapour"},
            {"key": "lel", "label": "Of what can burn"},
            {"key": "index", "label": "Of what people may breathe"},
        ],
        [_moment(one) for one in worst.series[::_EVERY]],
    )


def _moment(one: Row) -> dict[str, str]:
    index = three(one.exposure_index)
    at_least = "at least " if one.index_is_at_least else ""
    return {
        "min": three(one.min, "minutes") or "",
        "ppm": three(one.ppm, "ppm") or "not known",
        "lel": three(one.percent_lel, "% of what burns") or "not known",
        "index": "limit not known" if index is None else f"{at_least}{index} times the limit",
    }


def _levels(worst: Figures) -> list[Level]:
    found = []
    if worst.lower_limit is not None:
        ppm = worst.lower_limit * 10_000 / 4
        found.append(Level(ppm, f"a quarter of what can burn, {three(ppm)} ppm", "-."))
    rows = [(row.ppm, row.exposure_index) for row in worst.series]
    limits = [ppm / index for ppm, index in rows if ppm and index]
    if limits:
        found.append(Level(min(limits), f"limit of what people breathe, {three(min(limits))} ppm"))
    return found


def _room_used(room: AirAnswer | None) -> tuple[DataUsed, ...]:
    return room.used if room else ()


def _used(one: DataUsed) -> dict[str, str]:
    value = one.value if isinstance(one.value, str) else f"{one.value:g}"
    return {
        "name": one.ingredient,
        "what": one.property.replace("_", " "),
        "value": f"{value} {one.unit}".strip(),
        "source": one.source,
        "grade": one.grade,
    }


def _address(svg: str) -> str:
    return f"data:image/svg+xml,{quote(svg)}"
