"""The block "A second clock: air in the tin" on the page of an opened container, in words and rows."""

from __future__ import annotations

from dataclasses import dataclass, replace
from decimal import Decimal
from typing import Any, Final
from zoneinfo import ZoneInfo

from sqlmodel import Session

from service.actions.clock_of_air import ClockOfAir, clocks_of_air
from service.actions.judge_ventilation import warm_room
from service.core.containers import Standing
from service.core.film_ranges import Span
from service.core.findings import Invalid, Verdict
from service.core.headspace import FASTER_BY_10_C, UPTAKES, faster_when_warm, skin_um
from service.core.lid_lifts import LIFT_WORDS
from service.core.second_clock import PRACTICES, circle_cm2, say_openings
from service.core.sources import GRADE_WORDS, Grade
from service.records.stock import Container
from service.records.stock_queries import Held, material_of
from service.web.fields import read_number
from service.web.render import HARD, day

SHOWN: Final = 60
"""So many openings stand in the table, the newest; the others are counted with them."""
COLUMNS: Final = [
    {"key": "when", "label": "When"},
    {"key": "what", "label": "What was done"},
    {"key": "air", "label": "Air shut in", "number": True},
    {"key": "oxygen", "label": "Oxygen in it", "number": True},
    {"key": "oil", "label": "Oil it can spend", "number": True},
]
SOURCE_COLUMNS: Final = [
    {"key": "what", "label": "Figure"},
    {"key": "value", "label": "Value", "number": True},
    {"key": "source", "label": "On whose word"},
    {"key": "grade", "label": "Grade"},
]
ASSUMED: Final = (
    "Each act with the lid off counts as one opening that filled the room above it with fresh air.",
    "All oxygen of that air is taken up by the oil, whatever time that takes; nothing slows it here.",
    "Air that comes in while the lid is off, or past a lid that is not tight, is left out: it can be more.",
    "Openings that nobody wrote down are not counted.",
    "The air it came with is not counted, and a tin filled to what it holds counts without any.",
    "Air at 20 °C and at sea level: 0.2787 g of oxygen in each litre. Cold air holds some per cent more.",
)


@dataclass(frozen=True)
class ClockView:
    """What the block shows; ``left_out``: older openings that are not in the table."""

    lead: str
    facts: list[tuple[str, str | None, str]]
    verdict: Verdict
    advice: list[str]
    practices: list[tuple[str, str]]
    rows: list[dict[str, Any]]
    left_out: int
    sources: list[dict[str, Any]]
    across: str
    wrong: str


def second_clock_view(
    session: Session, box: Container, zone: ZoneInfo, across: str = ""
) -> ClockView | None:
    """The block for one container; None for what is sealed, empty or surely takes up no oxygen.

    Args:
        across: the inside width of the tin in millimetres as somebody typed it, for how thick a skin.
    """
    held = Held(box, material_of(session, box))
    told = clocks_of_air(session, [held]).get(held.container_id)
    if told is None:
        return None
    view = _view(told, warm_room(session, box.place_id), zone, across)
    if box.standing in (Standing.PAST, Standing.NOT_KNOWN):
        # What is past, or of which nobody knows whether it is, is not to be used first.
        return replace(view, advice=[])
    return view


def _view(told: ClockOfAir, warm: tuple[str, float] | None, zone: ZoneInfo, across: str) -> ClockView:
    rows = _rows(told, zone)
    width, wrong = _width(across)
    return ClockView(
        lead=_lead(told),
        facts=[*_facts(told), _skin(told, width)],
        across=across,
        wrong=wrong,
        verdict=told.verdict,
        advice=_advice(told, warm),
        practices=[(one.words, f"{one.source} ({_grade(one.grade)})") for one in PRACTICES],
        rows=rows[:SHOWN],
        left_out=max(0, len(rows) - SHOWN),
        sources=[
            {"what": one.name, "value": f"{one.value:g} {one.unit}", "source": one.source,
             "grade": _grade(one.grade)}
            for one in (*UPTAKES, *FASTER_BY_10_C)
        ],
    )  # fmt: skip


def _grade(grade: str) -> str:
    return "own arithmetic" if grade == "derived" else GRADE_WORDS[Grade(grade)]


_MORE: Final = "It can be more: other air that it met is not counted."


def _lead(told: ClockOfAir) -> str:
    clock = told.clock
    opened = f"By the book it had {say_openings(clock.openings)}."
    if clock.oil_g is None or not clock.each:
        if not clock.known:
            return f"{opened} How much oil the air shut in with it can have spent is not known."
        return (
            f"{opened} The air of {clock.known} of them is known: that alone can have spent "
            f"{_grams(clock.known_oil_g)} of oil. The rest is not known."
        )
    if not told.all_told:
        return (
            f"{opened} These alone can have spent {_grams(clock.oil_g)} of oil. What it took up before is "
            "not known, so no share of the oil is given."
        )
    words = f"{opened} The air shut in with it then can have spent {_grams(clock.oil_g)} of oil"
    if clock.share is not None:
        return f"{words}: {_percent(clock.share)} of what is in it. {_MORE}"
    if not clock.known_share:
        return f"{words}. How much of the oil that is, is not known. {_MORE}"
    least = _number(clock.known_share * 100)
    return f"{words}. How much of it is oil is not known; if all of it were, that is {least}{HARD}%. {_MORE}"


def _facts(told: ClockOfAir) -> list[tuple[str, str | None, str]]:
    clock = told.clock
    last = clock.each[-1] if clock.each else None
    unspent = clock.share_left if told.all_told else None
    return [
        ("Air above it at the last closing", _say(last.air_l if last else None, "l"),
         "what it holds less what was left in it"),
        ("Oxygen shut in then", _say(last.oxygen_g if last else None, "g"), ""),
        ("Oxygen of all openings in the book", _say(clock.oxygen_g if clock.each else None, "g"), ""),
        ("Oil that they can spend", _say(clock.oil_g if clock.each else None, "g"),
         "the more, the less oxygen an oil takes up: 12 to 16 % of its weight"),
        ("Oil in it now", _say(clock.oil_now_g, "g"), ""),
        ("Of that still unspent, at the worst",
         None if unspent is None else f"{_number(unspent[0] * 100)}{HARD}%",
         "an estimate; a skin tells more"),
    ]  # fmt: skip


def _width(across: str) -> tuple[Decimal | None, str]:
    """A width in millimetres, or the sentence about what was typed."""
    words = "Write the inside width of the tin in millimetres, from 5 to 2000, like 108."
    if not across.strip():
        return None, ""
    try:
        width = read_number(across)
    except Invalid:
        return None, words
    return (width, "") if 5 <= width <= 2000 else (None, words)


def _skin(told: ClockOfAir, width: Decimal | None) -> tuple[str, str | None, str]:
    """How thick a skin it makes if all of it forms on the surface; not known without width or oil."""
    label = "How thick a skin they can make"
    if width is None:
        return label, None, "the width of the tin is not written down; say it below"
    oil = told.clock.oil_g
    if oil is None or not told.clock.each:
        return label, None, "the air of some opening is not known"
    surface = circle_cm2(float(width))
    mm = skin_um(oil[0], surface) / 1000, skin_um(oil[1], surface) / 1000
    remark = f"if all of it formed on a surface {width:f}{HARD}mm across; 0.93 g/ml"
    return label, _say(mm, "mm"), remark


def _advice(told: ClockOfAir, warm: tuple[str, float] | None) -> list[str]:
    found = ["Use it first, before another of the same is opened."]
    if told.jar is not None:
        jar = told.jar
        found.append(
            f"Decant it into a jar of {_size(jar.ml)}: that saves {_one(jar.air_l, 'l')} of air and "
            f"{_one(jar.oxygen_g, 'g')} of oxygen at each opening, enough for {_one(jar.oil_g, 'g')} of oil. "
            "The pouring is one more opening, and the date stays. Leave room above it: a jar is filled to "
            "nine tenths at most (common practice, no source)."
        )
    if warm is not None:
        place, celsius = warm
        low, high = faster_when_warm(celsius)
        found.append(
            f"{place} is written down as {celsius:g} °C. By a rule of thumb it goes {_number(low)} to "
            f"{_number(high)} times as fast there as at 20 °C: stand it cooler."
        )
    return found


def _rows(told: ClockOfAir, zone: ZoneInfo) -> list[dict[str, Any]]:
    pairs = zip(told.lifts.each, told.clock.each, strict=True)
    rows = [
        {
            "when": day(lift.at.astimezone(zone).date()),
            "what": LIFT_WORDS[lift.act],
            "air": _say(air.air_l, "l"),
            "oxygen": _say(air.oxygen_g, "g"),
            "oil": _say(air.oil_g, "g"),
        }
        for lift, air in pairs
    ]
    return rows[::-1]


def _size(ml: int) -> str:
    return f"{ml / 1000:g}{HARD}l" if ml >= 1000 else f"{ml}{HARD}ml"


def _grams(span: Span) -> str:
    return _say(span, "g") or ""


def _percent(share: Span) -> str:
    return _say((share[0] * 100, share[1] * 100), "%") or ""


def _one(value: float, unit: str) -> str:
    return f"{_number(value)}{HARD}{unit}"


def _say(span: Span | None, unit: str) -> str | None:
    """A range as people read it; None stays None, which pages call not known.

    >>> (_say((0.25, 0.5), "l") or "").replace(HARD, " "), _say(None, "g")
    ('0.25 to 0.5 l', None)
    """
    if span is None:
        return None
    low, high = _number(span[0]), _number(span[1])
    return f"{low}{HARD}{unit}" if low == high else f"{low} to {high}{HARD}{unit}"


def _number(value: float) -> str:
    """Three figures at most, never as a power of ten.

    >>> _number(0.27871), _number(1234.5), _number(0.00001), _number(0)
    ('0.279', '1230', 'under 0.001', '0')
    """
    if 0 < value < 0.001:
        return "under 0.001"
    if value == 0:
        return "0"
    short = float(f"{value:.3g}")
    return f"{short:.0f}" if short >= 100 else f"{short:g}"
