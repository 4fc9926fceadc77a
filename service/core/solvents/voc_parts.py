"""What each liquid of a mix is to a law of VOC: water, film, exempt, VOC, as given, or not known.

Doors: core/solvents/voc.py.

What is not known to stay in the film, and what no list of exempt compounds names, counts as VOC.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from typing import Final

from service.core.findings import Finding, note, unknown, warn
from service.core.solvents.properties import Component, DataUsed, used
from service.core.solvents.voc_rules import Exemption, ExemptList, Jurisdiction
from service.core.sources import Grade

EU_BOILING_C: Final = 250.0
EU_SOURCE: Final = "Directive 2004/42/EC Article 2 (read in UK SI 2005/2773 regulation 2)"
US_SOURCE: Final = "40 CFR 51.100(s)"


class Part(StrEnum):
    """How a component counts. ``OPEN``: nobody knows, so it counts as VOC and the answer is not complete.

    ``GIVEN``: by its ``voc_g_l``. ``AT_LEAST``: by its ``voc_g_l``, which another law may put higher.
    """

    WATER = "water"
    FILM = "film"
    EXEMPT = "exempt"
    VOC = "voc"
    OPEN = "open"
    GIVEN = "given"
    AT_LEAST = "at-least"


@dataclass(frozen=True)
class Parted:
    """A component's part by the law asked for and by the EU's, what was found, and what it rests on."""

    local: Part
    eu: Part
    findings: tuple[Finding, ...] = ()
    data_used: tuple[DataUsed, ...] = ()
    unchecked: str = ""
    """Why the part by the law asked for rests on memory; empty where it does not."""


def part_of(one: Component, exempt: ExemptList) -> Parted:
    """What a component is. Under EU law an exemption counts for nothing, and a list of none exempts nothing.

    >>> from service.core.solvents.properties import Known
    >>> oil = Component("linseed oil", None, volatile=False)
    >>> part_of(oil, ExemptList(None)).local.value
    'film'
    >>> part_of(Component("thinner", None), ExemptList(None)).eu.value
    'open'
    """
    given = one.voc_content is not None and one.voc_content.value > 0
    if one.water and not given:
        return Parted(Part.WATER, Part.WATER)
    eu, about_eu, eu_data = _eu_part(one)
    if exempt.jurisdiction is Jurisdiction.EU:
        ignored = [_no_list(one)] if one.voc_exempt else []
        if one.voc_content is not None:
            data = tuple(used(one, "voc_content"))
            return Parted(Part.GIVEN, Part.GIVEN, tuple(ignored), data)
        return Parted(eu, eu, (*about_eu, *ignored), eu_data)
    if one.voc_content is not None:
        data = tuple(used(one, "voc_content"))
        as_less_water = _given_less_water(one)
        if eu is Part.OPEN or one.water or (one.boiling_point is None and given):
            return Parted(Part.GIVEN, Part.AT_LEAST, (as_less_water, _other_law(one)), data)
        return Parted(Part.GIVEN, eu, (as_less_water, *about_eu), (*data, *eu_data))
    row = exempt.of(one.cas)
    held = row.exempt if row else False
    if one.voc_exempt is not None:
        local = Part.EXEMPT if one.voc_exempt else _volatile_part(one)
        said = [] if one.voc_exempt == held or not one.voc_exempt else [_exempt_as_given(one, row)]
        lack = [_no_volatility(one)] if local is Part.OPEN else []
        return Parted(local, eu, (*said, *lack, *about_eu), eu_data)
    local = _volatile_part(one)
    if local is Part.FILM or row is None:
        lack = [_no_volatility(one)] if local is Part.OPEN else []
        return Parted(local, eu, (*lack, *about_eu), eu_data)
    words = "exempt" if held else "not exempt"
    fact = DataUsed(one.name, "voc_exempt", words, "", row.source, row.grade)
    from_memory = held and row.grade == Grade.MEMORY.value
    unchecked = f"{one.name} is taken as exempt from memory" if from_memory else ""
    found = [_exempt(one, row)] if held else []
    local = Part.EXEMPT if held else Part.VOC
    return Parted(local, eu, (*found, *about_eu), (fact, *eu_data), unchecked)


def _volatile_part(one: Component) -> Part:
    """By US rules what leaves the film counts, whatever its boiling point."""
    if one.volatile is False:
        return Part.FILM
    low_boiling = one.boiling_point is not None and one.boiling_point.value <= EU_BOILING_C
    return Part.VOC if one.volatile or low_boiling else Part.OPEN


def _eu_part(one: Component) -> tuple[Part, list[Finding], tuple[DataUsed, ...]]:
    """By the initial boiling point alone; without one, what stays in the film stays out."""
    boiling = one.boiling_point
    if boiling is None:
        if one.volatile is False:
            return Part.FILM, [], ()
        sentence = (
            f"The initial boiling point of {one.name} is not known, so under EU law it counts as VOC and the "
            "EU figure is not complete. Give boiling_point_c, from section 9 of its data sheet."
        )
        return Part.OPEN, [unknown("boiling-point-not-known", sentence, EU_SOURCE, one.name)], ()
    data = tuple(used(one, "boiling_point"))
    if boiling.value > EU_BOILING_C:
        return Part.FILM, [], data
    if one.volatile is False:
        sentence = (
            f"{one.name} is said to stay in the film, but it begins to boil at {boiling.value:g} °C: under "
            "EU law it counts, save what is proved to react into the film."
        )
        return Part.VOC, [warn("low-boiling-counted", sentence, EU_SOURCE, one.name)], data
    return Part.VOC, [], data


def _no_volatility(one: Component) -> Finding:
    sentence = (
        f"Nobody says whether {one.name} evaporates or stays in the film; it counts as VOC. "
        "Say volatile true or false, or give its boiling point."
    )
    return unknown("volatility-not-known", sentence, about=one.name)


def _exempt(one: Component, row: Exemption) -> Finding:
    memory = " That is from memory, not checked." if row.grade == Grade.MEMORY.value else ""
    sentence = f"{one.name} is exempt by the list of this jurisdiction and is not counted as VOC.{memory}"
    return note("exempt-by-list", sentence, row.source, one.name)


def _exempt_as_given(one: Component, row: Exemption | None) -> Finding:
    what = "says that it is not exempt" if row else "does not name it"
    sentence = f"{one.name} is taken as exempt because the question says so; the list held here {what}."
    return warn("exempt-as-given", sentence, US_SOURCE, one.name)


def _no_list(one: Component) -> Finding:
    sentence = f"The EU has no list of exempt compounds: {one.name} counts by its boiling point."
    return note("no-exempt-list", sentence, EU_SOURCE, one.name)


def _given_less_water(one: Component) -> Finding:
    sentence = (
        f"The VOC given for {one.name} is taken as less water and exempt solvents, as US labels print it. "
        "If it is of the whole product, write its water and exempt solvents as components of their own."
    )
    return warn("voc-as-given", sentence, "40 CFR 59.406(a)", one.name)


def _other_law(one: Component) -> Finding:
    sentence = (
        f"The VOC given for {one.name} leaves out what this jurisdiction exempts; the EU counts that too. "
        "The EU figure is at least what is shown: give the product's EU figure with jurisdiction eu."
    )
    return unknown("eu-voc-not-given", sentence, EU_SOURCE, one.name)
