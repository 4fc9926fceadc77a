"""Figures of one substance as section 3 of a sheet writes them: limits, M-factors, acute toxicity.

Doors: core/component_lines.py, core/written_classes.py, actions/component_figures.py,
web/pages/material_components.py.

They are kept as written and read anew by the rules. What belongs into another field is told so, by its name.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from decimal import Decimal
from functools import lru_cache
from typing import Final

from service.core.findings import Invalid
from service.core.hazards.classes import CORROSIVE, Family, Hazard, Route
from service.core.hazards.mix import OwnLimit
from service.core.hazards.read_class import read_class

MOST_LIMITS: Final = 20
LARGEST_M: Final = Decimal(10_000_000)
_LARGEST_ESTIMATE: Final = Decimal(1_000_000)
_LONGEST: Final = 120
_N: Final = r"([0-9]{1,9}(?:[.,][0-9]{1,9})?) ?%?"
_UP_TO: Final = r"(?:,? ?(?:and )?(<|≤|<=|to below|below|to|up to) ?"
_FROM: Final = re.compile(rf"(?:C ?)?(?:≥|>=|>|from) ?{_N}{_UP_TO}{_N})?")
_BETWEEN: Final = re.compile(rf"{_N} ?(?:≤|<=|<) ?C ?(<|≤|<=) ?{_N}")
_BEGINS: Final = re.compile(r"(?:\bC ?)?(?:≥|>=|>|\bfrom\b)|[0-9.,]+ ?%? ?(?:≤|<=|<)")
_BELOW: Final = ("<", "below", "to below")
_LIMIT_LIKE: Final = (
    "Write a limit like Skin Sens. 1A H317: C ≥ 0.0015 %, or Skin Irrit. 2: 0.06 % ≤ C < 0.6 %."
)
_ESTIMATE_LIKE: Final = "Write an estimate like oral 150, dermal 300, vapour 3, dust or mist 0.5 or gas 700."
_M: Final = re.compile(r"\bM(?: ?\((?:acute|chronic)\))? ?[=:]? ?[0-9]|\bM[ -]?factor", re.I)
_ESTIMATE: Final = re.compile(r"\b(?:ATE|LD ?50|LC ?50)\b|\bmg/", re.I)
_LIMIT: Final = re.compile(r"[≥≤<>]|[0-9] ?%|\bSCL\b")
_FORMS: Final = (
    (re.compile(r"\b(?:dusts?|mists?|dust_mist)\b", re.I), Route.DUST_MIST),
    (re.compile(r"\bvapou?rs?\b", re.I), Route.VAPOUR),
    (re.compile(r"\bgas(?:es)?\b", re.I), Route.GAS),
    (re.compile(r"\bdermal\b|\bskin\b", re.I), Route.DERMAL),
    (re.compile(r"\boral\b|\bswallowed\b", re.I), Route.ORAL),
)
_UNITS: Final = {
    Route.ORAL: "mg/kg",
    Route.DERMAL: "mg/kg",
    Route.GAS: "ppm",
    Route.VAPOUR: "mg/l",
    Route.DUST_MIST: "mg/l",
}
_PLAIN_WORDS: Final = re.compile(
    r"\b(?:ATE|inhalation|inhaled|inh|or|and|dusts?|mists?|dust_mist|vapou?rs?|gas(?:es)?|dermal|skin|oral|swallowed|"
    r"bw|body ?weight|4 ?h|4 ?hours)\b|[(),:=/]",
    re.I,
)


def wrong_field(written: str) -> str:
    """Where a figure typed among the classes belongs, as a sentence; empty when the line holds none.

    >>> wrong_field("Aquatic Acute 1 (M=10)")[:51]
    '“Aquatic Acute 1 (M=10)”: an M-factor is no part of'
    >>> wrong_field("Flam. Liq. 2 H225")
    ''
    """
    quoted = f"“{' '.join(written.split())[:60]}”: "
    page = "Of a substance of section 3, write it on the page “What it is made of”, under"
    if _M.search(written):
        return f"{quoted}an M-factor is no part of a class. {page} “M-factor”, and leave only the class here."
    if _ESTIMATE.search(written):
        return (
            f"{quoted}an estimate of acute toxicity is no part of a class. {page} "
            "“Estimates of acute toxicity”, and leave only the class here."
        )
    if _LIMIT.search(written):
        here = "“Limits of its own”, and leave only the class here."
        return f"{quoted}a limit is no part of a class. {page} {here}"
    return ""


def read_limits(text: str) -> tuple[str, ...]:
    """Limits of a text, one to a line, as written with single blanks, doubles once; each can be read.

    Raises Invalid, quoting the line.

    >>> read_limits("Skin Sens. 1A; H317:  C ≥ 0,0015 %")
    ('Skin Sens. 1A; H317: C ≥ 0,0015 %',)
    """
    found = [" ".join(line.split()).rstrip(".;,") for line in text.splitlines()]
    kept = tuple(dict.fromkeys(line for line in found if line))
    if len(kept) > MOST_LIMITS:
        raise Invalid(f"Write at most {MOST_LIMITS} limits for one substance.")
    check_limits(kept)
    return kept


def check_limits(lines: Sequence[str]) -> None:
    """Refuse what cannot be read, and a limit that ends where no more severe one begins.

    Above such an end the substance would count for nothing. Raises Invalid, quoting the line.
    """
    read = [(line, one) for line in lines for one in limits_of(line)]
    for line, one in read:
        if one.below is None:
            continue
        after = [
            other
            for _, other in read
            if _takes_over(other.hazard, one.hazard)
            and other.at_least <= one.below
            and (other.below is None or other.below > one.below)
        ]
        if not after:
            words = f"ends at {one.below:f} %, and no limit of a more severe category begins there"
            raise Invalid(f"“{line[:60]}” {words}. Write that one too, or leave the upper end out.")


@lru_cache(maxsize=2048)
def limits_of(line: str) -> tuple[OwnLimit, ...]:
    """One written limit as the rules read it; per cent by mass.

    An upper end written with ≤ is left open: the next limit begins there, and the more severe counts.

    >>> one, = limits_of("Skin Irrit. 2: 0.06 % ≤ C < 0.6 %")
    >>> one.hazard.text, one.at_least, one.below
    ('Skin Irrit. 2 H315', Decimal('0.06'), Decimal('0.6'))
    """
    begin = _BEGINS.search(line)
    if begin is None or len(line) > _LONGEST:
        raise Invalid(f"“{line[:60]}” is no limit. {_LIMIT_LIKE}")
    name, span = line[: begin.start()].strip(" ;:,"), line[begin.start() :].strip()
    upper: Decimal | None = None
    below: Decimal | None = None
    if match := _BETWEEN.fullmatch(span):
        at_least, upper = _figure(match[1], line), _figure(match[3], line)
        below = upper if match[2] in _BELOW else None
    elif match := _FROM.fullmatch(span):
        at_least, upper = _figure(match[1], line), _figure(match[3], line) if match[3] else None
        below = upper if match[2] in _BELOW else None
    else:
        raise Invalid(f"“{line[:60]}” is no limit. {_LIMIT_LIKE}")
    if not 0 < at_least <= 100 or (upper is not None and not at_least < upper <= 100):
        raise Invalid(f"“{line[:60]}”: a limit lies above 0 and up to 100 %, the low end first.")
    try:
        hazards = read_class(" ".join(name.replace(";", " ").split())).hazards
    except Invalid as wrong:
        raise Invalid(f"“{line[:60]}”: {wrong.sentence} {_LIMIT_LIKE}") from None
    if not hazards:
        raise Invalid(f"“{line[:60]}” names no hazard class. {_LIMIT_LIKE}")
    return tuple(OwnLimit(hazard, at_least, below) for hazard in hazards)


def _takes_over(worse: Hazard, hazard: Hazard) -> bool:
    """A burn of the skin is one of the eye too."""
    if hazard.family is Family.EYE and worse.family is Family.SKIN:
        return worse.category in CORROSIVE
    return worse.kind == hazard.kind and worse.rank < hazard.rank


def read_estimates(text: str) -> dict[Route, Decimal]:
    """Estimates of acute toxicity (ATE), one to a line or parted by semicolons.

    Oral and dermal in mg/kg, gas in ppm, vapour and dust or mist in mg/l for 4 hours. Raises Invalid, quoting
    the line, for another unit, a bound such as "> 2000", and two estimates for one way into the body.

    >>> read_estimates("ATE oral = 150 mg/kg")
    {<Route.ORAL: 'oral'>: Decimal('150')}
    """
    found: dict[Route, Decimal] = {}
    for part in re.split(r"[;\n]", text):
        line = " ".join(part.split()).rstrip(".,")
        if line:
            route, value = _estimate(line)
            if route in found:
                words = f"there are two estimates for {route_words(route)}. Keep the lower one."
                raise Invalid(f"“{line[:60]}”: {words}")
            found[route] = value
    return found


def estimates_text(estimates: dict[Route, Decimal]) -> str:
    """The same as lines of a form.

    >>> estimates_text({Route.DUST_MIST: Decimal("0.5")})
    'dust or mist 0.5 mg/l'
    """
    return "\n".join(f"{route_words(route)} {value:f} {_UNITS[route]}" for route, value in estimates.items())


def route_words(route: Route) -> str:
    """A way into the body in words of the form."""
    return "dust or mist" if route is Route.DUST_MIST else route.value


def _estimate(line: str) -> tuple[Route, Decimal]:
    if re.search(r"[<>≤≥]", line):
        raise Invalid(
            f"“{line[:60]}” is a bound and no estimate. Leave it out; the classes say what is known."
        )
    routes = [route for pattern, route in _FORMS if pattern.search(line)]
    if not routes and re.search(r"\b(?:inhalation|inhaled|inh)\b", line, re.I):
        raise Invalid(
            f"“{line[:60]}” does not say in which form it is breathed. Write vapour, dust or mist, or gas; "
            "if the sheet does not say it, dust or mist is the stricter."
        )
    if len(routes) != 1:
        raise Invalid(f"“{line[:60]}” is no estimate for one way into the body. {_ESTIMATE_LIKE}")
    (route,) = routes
    rest = re.sub(r"\b4 ?h(?:ours)?\b", " ", line, flags=re.I)
    unit = re.search(r"(mg ?/ ?kg|mg ?/ ?l|ppm ?v?|g ?/ ?kg|µg ?/ ?l|mg ?/ ?m3|mg ?/ ?m³)", rest, re.I)
    if unit:
        told = unit[1].replace(" ", "").lower().removesuffix("v")
        if told != _UNITS[route]:
            raise Invalid(f"“{line[:60]}”: for {route_words(route)} write it in {_UNITS[route]}.")
        rest = rest.replace(unit[1], " ")
    figures = re.findall(r"[0-9][0-9.,]*", rest)
    left = re.sub(r"[0-9][0-9.,]*", " ", _PLAIN_WORDS.sub(" ", rest)).strip()
    if len(figures) != 1 or left:
        raise Invalid(f"“{line[:60]}” is no estimate for one way into the body. {_ESTIMATE_LIKE}")
    value = _figure(figures[0].rstrip(".,"), line)
    if not 0 < value <= _LARGEST_ESTIMATE:
        raise Invalid(f"“{line[:60]}”: an estimate is more than 0 and at most 1000000.")
    return route, value


def _figure(text: str, line: str) -> Decimal:
    """A comma is a decimal point, except where it could part thousands."""
    if re.fullmatch(r"[1-9][0-9]{0,2},[0-9]{3}", text):
        raise Invalid(f"“{line[:60]}”: {text} can be read in two ways. Write {text.replace(',', '.')} or "
                      f"{text.replace(',', '')}.")  # fmt: skip
    if re.fullmatch(r"[0-9]+(?:[.,][0-9]+)?", text, re.ASCII) is None:
        raise Invalid(f"“{line[:60]}”: {text} is no figure.")
    return Decimal(text.replace(",", "."))
