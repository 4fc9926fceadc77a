"""Reads hazard classes as a sheet writes them: "Flam. Liq. 2", "STOT RE 2 H373 (hearing organs)", "H225".

Doors: actions/judge_hazards.py, web/api/hazard_mix.py, web/api/calc_classify.py, records/hazard_tables.py.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, replace
from functools import lru_cache
from typing import Final

from service.core.findings import Invalid
from service.core.hazards.classes import CATEGORIES, INHALED, NARCOTIC, RESPIRATORY, Family, Hazard, Route

_LONGEST: Final = 160
_CODE: Final = re.compile(r"\b(EUH\d{3}[A-Z]?|H\d{3}(?:FD|Fd|Df|fd|F|D|f|d|i)?)\b")
_ORGANS: Final = re.compile(r"\(([^()]{1,120})\)")
_CATEGORY: Final = re.compile(
    r"(?:category |cat\. ?|type |division )?(unstable|refrigerated|1\.[1-6]|[1-5][A-D]?|[A-G])\b", re.I
)
_WORDS: Final[dict[str, Family]] = {
    "expl": Family.EXPLOSIVE,
    "desen expl": Family.DESENSITISED,
    "flam gas": Family.FLAMMABLE_GAS,
    "aerosol": Family.AEROSOL,
    "ox gas": Family.OXIDISING_GAS,
    "press gas": Family.GAS_UNDER_PRESSURE,
    "flam liq": Family.FLAMMABLE_LIQUID,
    "flam sol": Family.FLAMMABLE_SOLID,
    "self react": Family.SELF_REACTIVE,
    "pyr liq": Family.PYROPHORIC_LIQUID,
    "pyr sol": Family.PYROPHORIC_SOLID,
    "self heat": Family.SELF_HEATING,
    "water react": Family.WATER_REACTIVE,
    "ox liq": Family.OXIDISING_LIQUID,
    "ox sol": Family.OXIDISING_SOLID,
    "org perox": Family.ORGANIC_PEROXIDE,
    "met corr": Family.CORROSIVE_TO_METALS,
    "acute tox": Family.ACUTE_TOXICITY,
    "skin corr": Family.SKIN,
    "skin irrit": Family.SKIN,
    "eye dam": Family.EYE,
    "eye irrit": Family.EYE,
    "resp sens": Family.RESPIRATORY_SENSITISER,
    "skin sens": Family.SKIN_SENSITISER,
    "muta": Family.MUTAGEN,
    "carc": Family.CARCINOGEN,
    "repr": Family.REPRODUCTIVE,
    "lact": Family.LACTATION,
    "stot se": Family.STOT_SINGLE,
    "stot re": Family.STOT_REPEATED,
    "asp tox": Family.ASPIRATION,
    "aquatic acute": Family.AQUATIC_ACUTE,
    "aquatic chronic": Family.AQUATIC_CHRONIC,
    "ozone": Family.OZONE,
}
_ROUTES: Final = (
    (re.compile(r"\b(dusts?|mists?|dust_mist|dust/mist)\b", re.I), Route.DUST_MIST),
    (re.compile(r"\bvapou?rs?\b", re.I), Route.VAPOUR),
    (re.compile(r"\bgas(?:es)?\b", re.I), Route.GAS),
    (re.compile(r"\b(inhalation|inhaled|inh)\b", re.I), Route.INHALATION),
    (re.compile(r"\bdermal\b|\bskin contact\b", re.I), Route.DERMAL),
    (re.compile(r"\boral\b|\bswallowed\b", re.I), Route.ORAL),
)
_ROUTE_ALONE: Final = {"inhalation": Route.INHALATION, "oral": Route.ORAL, "dermal": Route.DERMAL}
_ACUTE_ROUTE: Final = {"0": Route.ORAL, "1": Route.DERMAL, "3": Route.INHALATION}
# Statements that several categories share read as the most severe of them; H314 and the like stay "1"
# without a letter.
_NONE: Final = frozenset({"none", "keine", "not classified", "nicht eingestuft", "not hazardous", "n/a", "-"})
_PLAIN_ONE: Final = frozenset({"H314", "H334", "H317", "H340", "H350", "H360"})


@dataclass(frozen=True)
class ReadClass:
    """What one written line says: hazard classes (STOT SE 3 without a code is two) and supplemental
    statements.
    """

    hazards: tuple[Hazard, ...]
    supplements: tuple[str, ...] = ()


@lru_cache(maxsize=4096)
def read_class(written: str) -> ReadClass:
    """Reads one hazard class, with or without its H-code, or a code alone.

    Raises Invalid, quoting the text, for what is no class, for a category the class does not have, for an
    acute
    toxicity without its route, and where class and code contradict each other.

    >>> [h.text for h in read_class("Acute Tox. 4 oral").hazards]
    ['Acute Tox. 4 oral H302']
    >>> [h.code for h in read_class("STOT SE 3").hazards]
    ['H335', 'H336']
    >>> read_class("EUH019: may form explosive peroxides").supplements
    ('EUH019',)
    """
    text = " ".join(written.split())
    if not text or len(text) > _LONGEST:
        raise Invalid(f"“{text[:60]}” is no hazard class. Write one like Flam. Liq. 3 H226.")
    if text.rstrip(".").lower() in _NONE:
        raise Invalid(
            f"“{text}” is no class. Examined and not classified is an empty list, not a word in it."
        )
    text = _open_brackets(_spelt(text))
    told = tuple(part.strip() for part in ", ".join(_ORGANS.findall(text)).split(",") if part.strip())
    organs = tuple(part for part in told if part.lower() not in _ROUTE_ALONE)
    only_route = next((_ROUTE_ALONE[part.lower()] for part in told if part.lower() in _ROUTE_ALONE), None)
    bare = _ORGANS.sub(" ", text).replace("*", " ")
    codes = _CODE.findall(bare)
    supplements = tuple(code for code in codes if code.startswith("EUH"))
    hazard_codes = [code for code in codes if code.startswith("H")]
    words = " ".join(_CODE.sub(" ", bare).replace("+", " ").split()).strip(" ,;:.")
    if not words or _says_the_code(text, words):
        return ReadClass(tuple(h for code in hazard_codes for h in _by_code(code, organs)), supplements)
    hazards = _by_words(text, words, hazard_codes, organs, " ".join(told))
    if only_route and hazards[0].family is not Family.ACUTE_TOXICITY:
        hazards = tuple(replace(hazard, route=only_route) for hazard in hazards)
    return ReadClass(hazards, supplements)


def _says_the_code(text: str, words: str) -> bool:
    """Whether a line is codes and then only words, as a sheet says a statement after its number.

    A category, another code or the short name of a class among them is no wording: the line is then read as
    a class, and refused where it says two things.
    """
    plain = " ".join(re.sub(r"[.\-]", " ", words).lower().split())
    named = any(re.search(rf"\b{word}\b", plain) for word in _WORDS if word != "ozone")
    return _CODE.match(text) is not None and not re.search(r"\d", words) and not named


def _spelt(text: str) -> str:
    """Sheets' own spellings: "STOT SE3", "h226", "H 226", "H226-H304"."""
    text = re.sub(r"^Unst\. Expl\.", "Expl. unstable", text)
    text = re.sub(r"\b(EUH|H) ?(\d{3})", lambda found: found[1].upper() + found[2], text, flags=re.I)
    text = re.sub(r"(?<=\d{3})-(?=E?U?H\d{3})", " ", text)
    return re.sub(r"([a-z]\.?|\b[SR]E)(?=[1-5][A-C]?\b)", r"\1 ", text)


def _open_brackets(text: str) -> str:
    """Brackets hold organs or routes. A statement in them is read as one, whatever else is in them is
    refused:
    what stands in brackets must never vanish.
    """
    for inner in _ORGANS.findall(text):
        if _CODE.search(inner):
            text = text.replace(f"({inner})", f" {inner} ")
            continue
        plain = " ".join(re.sub(r"[.\-]", " ", inner).lower().split())
        if re.search(r"\d", inner) or any(re.search(rf"\b{word}\b", plain) for word in _WORDS):
            raise Invalid(f"“{text}”: write what stands in brackets, “{inner}”, as a line of its own.")
    if "(" in _ORGANS.sub("", text) or ")" in _ORGANS.sub("", text):
        raise Invalid(f"“{text}”: a bracket is left open, or one stands within another.")
    return " ".join(text.split())


def read_classes(written: tuple[str, ...] | list[str]) -> ReadClass:
    """All lines together, doubles once.

    >>> len(read_classes(["H225", "Flam. Liq. 2 H225"]).hazards)
    1
    """
    read = [read_class(line) for line in written]
    hazards = dict.fromkeys(hazard for one in read for hazard in one.hazards)
    return ReadClass(tuple(hazards), tuple(dict.fromkeys(code for one in read for code in one.supplements)))


def _by_words(
    text: str, words: str, codes: list[str], organs: tuple[str, ...], in_brackets: str
) -> tuple[Hazard, ...]:
    family, rest = _family(text, words)
    category, rest = _category(text, family, rest)
    if family is Family.ACUTE_TOXICITY:
        return _acute(text, category, _routes(f"{rest} {in_brackets}"), codes)
    if _left_over(family, rest):
        raise Invalid(f"“{text}” is no hazard class: “{_left_over(family, rest)}” is not understood.")
    if family is Family.STOT_SINGLE and category == "3":
        effects = [code for code in codes if code in (RESPIRATORY, NARCOTIC)]
        if len(effects) != len(codes):
            raise _contradiction(text, f"{RESPIRATORY} or {NARCOTIC}")
        return tuple(Hazard(family, category, None, effect) for effect in effects or (RESPIRATORY, NARCOTIC))
    plain = Hazard(family, category, None, "", organs)
    found = []
    for code in codes:
        letters = code[4:]
        if code[:4] != plain.code and code not in _also(plain):
            raise _contradiction(text, plain.code)
        if code[:4] == plain.code:
            found.append(Hazard(family, category, None, letters, organs))
    return tuple(dict.fromkeys(found)) or (plain,)


def _acute(text: str, category: str, routes: tuple[Route, ...], codes: list[str]) -> tuple[Hazard, ...]:
    """Acute toxicity by every route that is named, in words or by its codes; "oral, dermal" is two."""
    hazards = [Hazard(Family.ACUTE_TOXICITY, category, route) for route in routes]
    if not hazards:
        by_code = {_ACUTE_ROUTE[code[2]] for code in codes if code[:2] == "H3" and code[2] in _ACUTE_ROUTE}
        hazards = [Hazard(Family.ACUTE_TOXICITY, category, route) for route in sorted(by_code)]
    if not hazards:
        raise Invalid(
            f"“{text}” does not say by which route. Add oral, dermal, vapour, dust_mist, gas or inhalation."
        )
    fits = {hazard.code for hazard in hazards}
    if not set(codes) <= fits:
        raise _contradiction(text, " or ".join(sorted(fits)))
    return tuple(hazards)


def _also(hazard: Hazard) -> frozenset[str]:
    """Codes that a class carries beside its own: a pressed can, and lactation with a reproductive class."""
    return frozenset({"H229"}) if hazard.family is Family.AEROSOL else frozenset()


def _contradiction(text: str, fits: str) -> Invalid:
    return Invalid(
        f"“{text}” contradicts itself: this class goes with {fits or 'no statement'}. Copy it again from "
        "section 2, one class to a line."
    )


def _family(text: str, words: str) -> tuple[Family, str]:
    plain = re.sub(r"[.\-]", " ", words)
    lowered = " ".join(plain.lower().split())
    for word, family in _WORDS.items():
        if lowered == word or lowered.startswith(word + " "):
            return family, " ".join(words.replace(". ", " ").replace("-", " ").split())[len(word) :].strip(
                " .,"
            )
    raise Invalid(f"“{text}” is no hazard class. Write one like Flam. Liq. 3 H226, or its H-code alone.")


def _category(text: str, family: Family, rest: str) -> tuple[str, str]:
    match = _CATEGORY.match(rest)
    name = match.group(1) if match else ""
    name = name.lower() if len(name) > 3 else name.upper()
    if (family, name) not in CATEGORIES:
        known = [one for kind, one in CATEGORIES if kind is family]
        raise Invalid(
            f"“{text}”: {family.value} has the categories {', '.join(filter(None, known)) or 'none'}."
        )
    if family is Family.SKIN and (("corr" in text.lower()) is not name.startswith("1")):
        raise Invalid(
            f"“{text}”: Skin Corr. is category 1, Skin Irrit. is 2 or 3. Copy it again from section 2."
        )
    if family is Family.EYE and (("dam" in text.lower()) is not (name == "1")):
        raise Invalid(f"“{text}”: Eye Dam. is category 1, Eye Irrit. is 2. Copy it again from section 2.")
    return name, rest[match.end() :].strip(" ,:;.") if match else rest


def _routes(text: str) -> tuple[Route, ...]:
    """Every route a text names; a form that is breathed makes the plain "inhalation" unnecessary.

    Raises Invalid for words that are no route.
    """
    found = [route for pattern, route in _ROUTES if pattern.search(text)]
    left = re.sub(r"\b(and|or|und|oder)\b", " ", _left_over(Family.ACUTE_TOXICITY, text))
    left = re.sub(r"[/,;+&:.]", " ", left).strip()
    if left:
        raise Invalid(f"“{text.strip()}” is no route: “{left}” is not understood.")
    if any(route in INHALED and route is not Route.INHALATION for route in found):
        found = [route for route in found if route is not Route.INHALATION]
    return tuple(found)


def _left_over(family: Family, rest: str) -> str:
    """What is left of a line when class and category are read; a word for the route or the gas is no
    riddle.
    """
    if family is Family.GAS_UNDER_PRESSURE:
        rest = re.sub(r"\b(compressed|comp|liquefied|liq|dissolved|diss)\b", " ", rest, flags=re.I)
    for pattern, _ in _ROUTES:
        rest = pattern.sub(" ", rest)
    return " ".join(rest.split()).strip(" ,;:.")


def _by_code(code: str, organs: tuple[str, ...]) -> tuple[Hazard, ...]:
    base, letters = code[:4], code[4:]
    if base in (RESPIRATORY, NARCOTIC):
        return (Hazard(Family.STOT_SINGLE, "3", None, base),)
    if base[:2] == "H3" and base[2] in _ACUTE_ROUTE and base[3] in "0123" and base not in ("H304", "H305"):
        category = {"0": "1", "1": "3", "2": "4", "3": "5"}[base[3]]
        return (Hazard(Family.ACUTE_TOXICITY, category, _ACUTE_ROUTE[base[2]]),)
    for (family, name), category_facts in CATEGORIES.items():
        if category_facts.code == base:
            plain = "1" if base in _PLAIN_ONE else name
            return (Hazard(family, plain, None, letters, organs),)
    raise Invalid(f"“{code}” is no hazard statement that this program knows. Copy it again from section 2.")
