"""Turning one written amount, rate or temperature into another unit, with how it was done.

Doors: web/api/calc_convert.py.

Parts per million meet mg/m³ at 25 °C and 101.325 kPa, where a mole of vapour is taken as 24.45 l, the rounded
figure of occupational hygiene.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from decimal import Decimal
from fractions import Fraction
from typing import Final

from service.core.bench_numbers import Choices, Fork, tidy
from service.core.bench_units import PART, PERCENT, unit_for
from service.core.bench_writing import Ambiguous, read_figure, read_written
from service.core.findings import Finding, Invalid, Reading, note, unknown, warn
from service.core.materials import Basis, Form
from service.core.quantities import (
    UNITS,
    CannotMeet,
    Densities,
    Quantity,
    Unit,
    UnitSystem,
    across,
    decimal_of,
    meeting_density,
    plain,
)
from service.core.rate_units import BY_LENGTH, Rate, rate_for

MOLAR_VOLUME_L: Final = Decimal("24.45")
"""Litres in a mole of vapour at 25 °C and 101.325 kPa, rounded as occupational hygiene uses it."""
MOST_PLACES: Final = 15


@dataclass(frozen=True)
class Conversion:
    """What is asked: an amount as written, the unit wanted, and what is known of the material.

    Densities in g/ml, molar mass in g/mol. ``form`` None with only one kind of density given takes the form
    that the density belongs to, and says so.
    """

    amount: str
    to: str
    system: UnitSystem | None = None
    form: Form | None = None
    density_g_ml: Decimal | None = None
    bulk_g_ml: tuple[Decimal, Decimal] | None = None
    molar_mass_g_mol: Decimal | None = None


@dataclass(frozen=True)
class Used:
    """A figure that an answer rests on beyond the units themselves."""

    name: str
    value: Decimal
    unit: str
    source: str = "given"


@dataclass(frozen=True)
class Converted:
    """The answer. ``value`` is "low to high" where a range came in; ``low`` and ``high`` are always figures.

    ``exact`` is True only when nothing was rounded, no range and no rough measure came in.
    """

    value: str
    low: str
    high: str
    unit: str
    exact: bool
    how: str
    findings: tuple[Finding, ...] = ()
    data_used: tuple[Used, ...] = ()


def convert(asked: Conversion) -> Converted:
    """The amount in the unit wanted. Raises Ambiguous with readings, CannotMeet (no density), Invalid.

    >>> convert(Conversion("1 gal", "ml", system=UnitSystem.US)).value
    '3785.411784'
    >>> convert(Conversion("75 °F", "°C")).value, convert(Conversion("212 °F", "°C")).exact
    ('23.888888888888889', True)
    """
    target = tidy(asked.to).rstrip(" .")
    if (rate := rate_for(target, asked.system, "")) is not None:
        return _convert_rate(asked, rate)
    start = tidy(asked.amount)
    if any(start.endswith(ending) for ending in BY_LENGTH if len(ending) > 1):
        raise Invalid(f"“{asked.amount.strip()[:60]}” cannot become {asked.to.strip()[:40]}.")
    return _convert_amount(asked, _wanted_unit(target, asked.system, asked.form))


def _wanted_unit(target: str, system: UnitSystem | None, form: Form | None) -> Unit:
    words = target.replace("-", " ").replace("cm3", "cc").replace(".", " ").split()
    if words[-2:] == ["by", "weight"]:
        words = [*words[:-2], "av"]
    try:
        key = unit_for(words, Choices({}), form=form, system=system)
    except Fork as fork:
        options = [(UNITS[key].plural, said, key) for key, said in fork.options if key in UNITS]
        raise Ambiguous(
            f"“{target}” can be read in more than one way. Choose which is wanted.",
            tuple(Reading(plural, said) for plural, said, _ in options),
            {plural: {fork.key: key} for plural, _, key in options},
            field="to",
        ) from None
    if key in (PART, PERCENT):
        raise Invalid("A share cannot be turned into an amount. Name a unit such as g or ml.")
    return UNITS[key]


def _convert_amount(asked: Conversion, unit: Unit) -> Converted:
    written = read_written(asked.amount, form=asked.form, system=asked.system, point_is_decimal=True)
    if written.low is None or written.high is None:
        raise Invalid("A share has no amount of its own. Write an amount with a unit, like 250 g.")
    findings = list(written.findings)
    low, high, words = written.low.smallest, written.high.smallest, ""
    used: list[Used] = []
    if written.low.basis is not unit.basis:
        densities = Densities(asked.density_g_ml, "given", asked.bulk_g_ml, "given")
        form = _form(asked, findings)
        source = written.low.basis
        if form is None and asked.density_g_ml is None and Basis.PIECES not in (source, unit.basis):
            raise CannotMeet(unknown("density-not-known", _NO_DENSITY))
        d_low, d_high, words = meeting_density(source, unit.basis, densities, form=form, name="")
        name = "loose density" if words.startswith("loose") else "density"
        used = [Used(name, figure, "g/ml") for figure in dict.fromkeys((d_low, d_high))]
        low, high = across(low, unit.basis, d_low, d_high)[0], across(high, unit.basis, d_low, d_high)[1]
    if written.about:
        findings.append(note("about", "The amount was written as about, so the answer is about as well."))
    rough = unit.rough or written.low.unit.rough or written.high.unit.rough or written.about
    span = str(written.low) if written.low == written.high else f"{written.low} to {written.high}"
    sizes = dict.fromkeys(_size(u) for u in (written.low.unit, written.high.unit, unit))
    how = "; ".join([span, *(size for size in sizes if size), *([f"by {words}"] if words else [])])
    size = Fraction(unit.factor)
    done = _answer(low / size, high / size, unit.plural, rough, how, findings)
    return replace(done, data_used=tuple(used))


_NO_DENSITY: Final = (
    "Weight and volume meet only through a density. Give the density of a liquid or paste, or the loose "
    "density of a powder; or weigh it."
)


def _size(unit: Unit) -> str:
    """The exact size of a unit that is not metric, in words."""
    if unit.key in ("mg", "g", "kg", "ml", "l", "piece"):
        return ""
    base = UNITS["g" if unit.basis is UNITS["g"].basis else "ml"]
    text = f"1 {unit.singular} is {plain(Quantity(Decimal(1), unit).in_unit(base).amount)} {base.singular}"
    return f"{text} ({unit.convention})" if unit.convention else text


def _form(asked: Conversion, findings: list[Finding]) -> Form | None:
    if asked.form is not None or (asked.density_g_ml is None) == (asked.bulk_g_ml is None):
        return asked.form
    if asked.density_g_ml is not None:
        findings.append(warn("taken-as-liquid", "Taken as a liquid or paste: only a true density was given. "
                             "A powder measured by volume needs its loose density."))  # fmt: skip
        return Form.LIQUID
    findings.append(note("taken-as-powder", "Taken as a powder, for only a loose density was given."))
    return Form.POWDER


def _convert_rate(asked: Conversion, target: Rate) -> Converted:
    start = tidy(asked.amount).rstrip(" .")
    spelling = next((end for end in BY_LENGTH if start.endswith(end)), "")
    figures = start.removesuffix(spelling).strip() if spelling else ""
    if not figures or figures[-1].isalpha():
        raise Invalid(
            f"“{asked.amount.strip()[:60]}” cannot become {target.key}. Write a figure and a unit like it."
        )
    source = rate_for(spelling, asked.system, figures)
    if source is None or source.family != target.family:
        raise Invalid(
            f"“{asked.amount.strip()[:60]}” cannot become {target.key}. Write a unit of the same sort."
        )
    low, high = _figures(figures, source)
    if source.family == "temperature":
        low, high, how = (
            _temperature(low, source.key, target.key),
            _temperature(high, source.key, target.key),
            _DEGREES,
        )
        if source.key == target.key:
            how = "the same unit"
        return _answer(low, high, target.key, False, how, [])
    if source.family == "gravity" and source.key != target.key:
        return _answer(_gravity(high, target.key), _gravity(low, target.key), target.key, False, _API, [])
    if source.family == "vapour" and "mg/m³" in (source.key, target.key) and source.key != target.key:
        return _vapour(asked.molar_mass_g_mol, low * source.factor, high * source.factor, target)
    how = f"1 {source.key} is {plain(decimal_of(source.factor / target.factor, 12))} {target.key}"
    times = source.factor / target.factor
    return _answer(low * times, high * times, target.key, False, how, [])


_API: Final = "SG at 60/60 °F is 141.5 over (131.5 + °API); °API is 141.5 over SG, less 131.5"
_DEGREES: Final = "°F less 32, over 1.8, is °C"


def _figures(figures: str, source: Rate) -> tuple[Fraction, Fraction]:
    """The figures before a rate unit; only a temperature may lie below nothing. Readings keep the unit."""
    below = figures.startswith("-") and source.family == "temperature"
    if below and any(sign in figures[1:] for sign in ("to", "-", "and")):
        raise Invalid("Write one temperature at a time below zero.")
    try:
        low, high = read_figure(figures.removeprefix("-") if below else figures, point_is_decimal=True)
    except Ambiguous as doubt:
        sign = "-" if below else ""
        renamed = {r.text: f"{sign}{r.text} {source.key}" for r in doubt.readings}
        kept: Mapping[str, Mapping[str, str]] = {renamed[text]: kept for text, kept in doubt.remember.items()}
        raise Ambiguous(
            doubt.sentence, tuple(Reading(renamed[r.text], r.words) for r in doubt.readings), kept
        ) from None
    return (-Fraction(low), -Fraction(high)) if below else (Fraction(low), Fraction(high))


def _temperature(value: Fraction, source: str, target: str) -> Fraction:
    celsius = value if source == "°C" else (value - 32) * Fraction(5, 9)
    if celsius < Fraction("-273.15"):
        raise Invalid("Nothing is colder than −273.15 °C (−459.67 °F).")
    return celsius if target == "°C" else celsius * Fraction(9, 5) + 32


def _gravity(value: Fraction, target: str) -> Fraction:
    """Specific gravity at 60 °F from degrees API, or back; both fall as the other rises (definition)."""
    if target == "SG":
        return Fraction("141.5") / (Fraction("131.5") + value)
    if value <= 0:
        raise Invalid("A specific gravity lies above 0.")
    return Fraction("141.5") / value - Fraction("131.5")


def _vapour(molar_mass: Decimal | None, low: Fraction, high: Fraction, target: Rate) -> Converted:
    if molar_mass is None:
        raise Invalid(
            "The molar mass is not known, so ppm and mg/m³ cannot meet. Give it in g/mol, from section "
            "3 or 9 of the safety data sheet or from the formula.",
            {"molar_mass_g_mol": "Give the molar mass in g/mol."},
        )
    if (
        not molar_mass.is_finite()
        or not Decimal(1) <= molar_mass <= 100_000
        or len(molar_mass.as_tuple()[1]) > 30
    ):
        raise Invalid("A molar mass lies between 1 and 100000 g/mol.")
    times = Fraction(molar_mass) / Fraction(MOLAR_VOLUME_L)
    if target.key != "mg/m³":
        times = 1 / times / target.factor
    how = (
        f"mg/m³ = ppm × {plain(molar_mass)} g/mol ÷ {plain(MOLAR_VOLUME_L)} l/mol, the molar volume of a "
        "vapour at 25 °C and 101.325 kPa; given to six figures"
    )
    said = note(
        "molar-volume", "Reckoned for 25 °C and 101.325 kPa with 24.45 l/mol; warmer air holds fewer mg/m³."
    )
    done = _answer(_six_figures(low * times), _six_figures(high * times), target.key, True, how, [said])
    volume = Used("molar volume", MOLAR_VOLUME_L, "l/mol", "25 °C and 101.325 kPa, rounded")
    return replace(done, data_used=(Used("molar mass", molar_mass, "g/mol"), volume))


def _six_figures(value: Fraction) -> Fraction:
    """Six figures: 24.45 has four, so more would only look exact."""
    places = 5
    while value and places < 30 and abs(value) * 10**places < 10**5:
        places += 1
    while places > 0 and abs(value) * 10**places >= 10**6:
        places -= 1
    return Fraction(decimal_of(value, places))


def _answer(
    low: Fraction, high: Fraction, unit: str, rough: bool, how: str, findings: list[Finding]
) -> Converted:
    """The figures as text: every decimal if they end within fifteen, else rounded there and so not exact."""
    places = MOST_PLACES
    while low and abs(low) * 10**places < 10**6:  # a trace must not be rounded to nothing
        places += 3
    first, last = decimal_of(low, places), decimal_of(high, places)
    ends = Fraction(first) == low and Fraction(last) == high
    one, two = plain(first), plain(last)
    value = one if one == two else f"{one} to {two}"
    if not ends:
        how += f"; rounded at {places} decimals"
    return Converted(value, one, two, unit, ends and low == high and not rough, how + ".", tuple(findings))
