"""What groups leave open for the storage tables: classes of the fire code nobody told, kinds without a row.

Doors: core/storage_items.py, core/storage_limits.py, core/storage_pairs.py, core/store_pairs.py.

A group is what a thing is kept apart as, and what its hazard classes say it is. A row counts classes of the
fire code; what a group says and no class settles is never within any row.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from typing import Final

from service.core.findings import Finding, unknown

FLAMMABLE: Final = "flammable_liquid"
"""Told as such, whatever its flash point says."""
_SETTLED: Final[Mapping[str, str]] = {
    "corrosive": "corrosive",
    "nitric_acid": "corrosive",
    "pyrophoric": "pyrophoric",
    "flammable_solid": "flammable-solid",
}
_ASKED: Final[Mapping[str, tuple[str, str]]] = {
    "oxidizer": ("oxidizer-", "oxidiser"),
    "water_reactive": ("water-reactive-", "reacts with water"),
    "energetic": ("organic-peroxide-", "organic peroxide or self-reactive"),
    "organic_peroxide": ("organic-peroxide-", "organic peroxide"),
    "toxic": ("toxic highly-toxic", "toxic"),
    "highly_toxic": ("highly-toxic", "very toxic"),
}
_NO_ROW: Final[Mapping[str, str]] = {
    "aerosol": "a spray can",
    "flammable_gas": "a flammable gas",
    "gas": "a gas under pressure",
    "explosive": "an explosive",
    "self_heating": "a substance that heats itself",
}
_KEPT_APART_ONLY: Final = frozenset({"acid", FLAMMABLE})
"""Words for pairs: of an acid the rows ask whether it is corrosive, of a liquid its flash point."""


def classes_settled(groups: Iterable[str]) -> frozenset[str]:
    """The classes of the fire code that groups settle by themselves.

    >>> sorted(classes_settled({"corrosive", "oxidizer"}))
    ['corrosive']
    """
    return frozenset(_SETTLED[group] for group in groups if group in _SETTLED)


def about_groups(name: str, groups: Iterable[str], told: str | None) -> Iterator[Finding]:
    """What no row could be judged for: a class nobody told, or a kind of thing that no row held here counts.

    Args:
        told: the class of the fire code somebody told, if any.

    >>> [one.code for one in about_groups("bleach", {"oxidizer", "aerosol"}, None)]
    ['no-row-held', 'fire-code-class-not-known']
    >>> list(about_groups("bleach", {"oxidizer"}, "oxidizer-1"))
    []
    """
    for group in sorted(groups):
        if group in _SETTLED or group in _KEPT_APART_ONLY:
            continue
        if group not in _ASKED:
            words = (
                f"{name}: {_NO_ROW.get(group, group.replace('_', ' '))}. No row held here counts that, so "
                "nothing is said of how much of it may stand there. Ask the fire code official."
            )
            yield unknown("no-row-held", words, "", name)
            continue
        stems, says = _ASKED[group]
        if told is not None and any(told.startswith(stem) for stem in stems.split()):
            continue
        words = (
            f"{name}: {says}. Its class in the fire code is not known, and no row of the code for it could "
            "be judged. Write the class down as its category (under Storage on the page of the material)."
        )
        yield unknown("fire-code-class-not-known", words, "IFC Table 5003.1.1", name)
