"""What a material is for the storage tables: class, groups, and amounts read back as written.

Doors: actions/judge_store.py, actions/stored_kind.py, actions/store_in_use.py, web/store_view.py,
web/pages/storage_facts.py.

Amounts come in whole microlitres and milligrams. A can of 5 gal is written as 18927059 µl, a hair more than
5 gal: it is read back as the measure it came from, or a full can would be over a limit of its own size.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from fractions import Fraction
from typing import Final

from service.core.storage_rules import KG_PER_POUND, LITRES_PER_GALLON

_PARTS: Final = 128
"""A US fluid ounce is a 128th of a gallon; an ounce of mass is a 16th of a pound."""
_UL_PER_GALLON: Final = LITRES_PER_GALLON * 1_000_000
_MG_PER_POUND: Final = KG_PER_POUND * 1_000_000
_GROUPS: Final = (
    (re.compile(r"H27[012]"), "oxidizer"),
    (re.compile(r"H26[01]"), "water_reactive"),
    (re.compile(r"H24[0-2]"), "energetic"),
    (re.compile(r"H314|H290"), "corrosive"),
    (re.compile(r"^Ox\. ?(Liq|Sol|Gas)"), "oxidizer"),
    (re.compile(r"^Water-?react", re.IGNORECASE), "water_reactive"),
    (re.compile(r"^(Org\. ?Perox|Self-?react|Expl)", re.IGNORECASE), "energetic"),
    (re.compile(r"^(Skin Corr|Met\. ?Corr)", re.IGNORECASE), "corrosive"),
    (re.compile(r"(?<!EU)H20[0-8]|^(Unst\. ?)?Expl|^Desen", re.IGNORECASE), "explosive"),
    (re.compile(r"H22[239]|^Aerosol", re.IGNORECASE), "aerosol"),
    (re.compile(r"H22[01]|H23[0-2]|^(Flam\. ?Gas|Chem\. ?Unst)", re.IGNORECASE), "flammable_gas"),
    (re.compile(r"H270|H28[0-4]|^(Press\. ?Gas|Ox\. ?Gas|Chem\. ?under)", re.IGNORECASE), "gas"),
    (re.compile(r"H250|^Pyr\. ?(Liq|Sol)", re.IGNORECASE), "pyrophoric"),
    (re.compile(r"H25[12]|^Self-?heat", re.IGNORECASE), "self_heating"),
    (re.compile(r"H300|H310|H330|^Acute Tox\.? ?[12]\b", re.IGNORECASE), "highly_toxic"),
    (re.compile(r"H301|H311|H331|^Acute Tox\.? ?3\b", re.IGNORECASE), "toxic"),
)
_FLAMMABLE_SOLID: Final = re.compile(r"H228|^Flam\. ?Sol", re.IGNORECASE)
_FLAMMABLE: Final = tuple(
    (re.compile(rf"{code}|^Flam\.? ?Liq\.? ?{number}\b", re.IGNORECASE), word)
    for number, (code, word) in enumerate(
        (("H224", "H224"), ("H225", "H225"), ("H226", "H226"), ("H227", "4")), start=1
    )
)
GROUP_WORDS: Final = {
    "oxidizer": "oxidiser",
    "water_reactive": "reacts with water",
    "energetic": "organic peroxide or self-reactive",
    "corrosive": "corrosive",
    "acid": "acid",
    "nitric_acid": "nitric acid",
}


def litres(microlitres: int) -> Fraction:
    """Litres of so many whole microlitres, read back as whole US fluid ounces where they were written so.

    >>> litres(18927059) / LITRES_PER_GALLON, litres(1_000_000)
    (Fraction(5, 1), Fraction(1, 1))
    """
    return _as_written(microlitres, _UL_PER_GALLON / _PARTS) / 1_000_000


def kilograms(milligrams: int) -> Fraction:
    """Kilograms of so many whole milligrams, read back as whole ounces where they were written so.

    >>> kilograms(2267962) / KG_PER_POUND
    Fraction(5, 1)
    """
    return _as_written(milligrams, _MG_PER_POUND / 16) / 1_000_000


def _as_written(smallest: int, part: Fraction) -> Fraction:
    parts = round(smallest / part)
    exact = parts * part
    return exact if abs(exact - smallest) <= Fraction(1, 2) else Fraction(smallest)


def groups_by_classes(classes: Iterable[str]) -> frozenset[str]:
    """What a thing is kept apart as, by its hazard classes.

    >>> sorted(groups_by_classes(["Ox. Sol. 2 H272", "Acute Tox. 4 oral H302"]))
    ['oxidizer']
    """
    return frozenset(
        group for written in classes for pattern, group in _GROUPS if pattern.search(written.strip())
    )


def class_by_classes(classes: Iterable[str]) -> str | None:
    """The class of the fire code that hazard classes settle by themselves: a flammable solid. Others do not:
    a GHS oxidiser may be any of four."""
    return "flammable-solid" if any(_FLAMMABLE_SOLID.search(one.strip()) for one in classes) else None


def flammable_class(classes: Iterable[str]) -> str | None:
    """The worst category of flammable liquids that hazard classes name, as a word of `told_categories`.

    >>> flammable_class(["Flam. Liq. 3 H226", "Flam. Liq. 2"]), flammable_class(["Flam. Liq. 4 H227"])
    ('H225', '4')
    >>> flammable_class(["Flam. Sol. 2 H228"]) is None
    True
    """
    held = [one.strip() for one in classes]
    return next((word for pattern, word in _FLAMMABLE if any(pattern.search(one) for one in held)), None)


_WORDS: Final = {
    "none": "no flammable liquid", "below-140F": "flashes below 140 °F",
    "140F-up": "flashes at 140 °F or above", "high": "highly flammable",
    "other": "flammable, the milder kind",
    "organic-peroxide-detonable": "organic peroxide that can detonate",
}  # fmt: skip
_CLASSED: Final = {
    "oxidizer": "oxidiser", "organic-peroxide": "organic peroxide", "water-reactive": "reacts with water",
}  # fmt: skip


def category_words(name: str) -> str:
    """A storage category or class of the fire code as people say it.

    >>> category_words("2"), category_words("IB"), category_words("oxidizer-2"), category_words("H225")
    ('category 2', 'Class IB', 'oxidiser, class 2', 'H225')
    """
    if name in _WORDS:
        return _WORDS[name]
    if name.isdecimal():
        return f"category {name}"
    if name.startswith("I"):
        return f"Class {name}"
    stem, _, number = name.rpartition("-")
    if stem in _CLASSED:
        return f"{_CLASSED[stem]}, class {number}"
    return name.replace("-", " ")
