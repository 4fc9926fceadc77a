"""Training: which groups of materials there are, whom a group is asked of, and who still lacks one.

Doors: actions/train.py, records/training_queries.py, web/pages/training.py.

No rule we know gives an interval: 29 CFR 1910.1200(h)(1), from memory, asks for it at the first assignment
and whenever a new hazard is brought in. So a material that came into a group after somebody was taught about
it is named beside them; whether its hazard is new, whoever teaches decides.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date
from enum import StrEnum
from typing import Final

from service.core.access import Permission, Role, may
from service.core.material_facts import MaterialFacts, is_keeper_only, keeper_only_by_default
from service.core.materials import MaterialKind

SOURCE: Final = "29 CFR 1910.1200(h)(1) (from memory)"


class Group(StrEnum):
    """What somebody is taught about."""

    GENERAL = "general"
    RAGS = "rags"
    TOXIC_METALS = "toxic-metals"
    CMR = "cmr"
    DRIERS = "driers"
    OTHER_KEEPER_ONLY = "other-keeper-only"
    FLAMMABLE = "flammable"
    STRONG = "strong"
    DUST = "dust"
    SPILL = "spill"


GROUP_WORDS: Final[dict[Group, str]] = {
    Group.GENERAL: "labels, sheets and the hazards of what is used here",
    Group.RAGS: "oily rags and what heats by itself",
    Group.TOXIC_METALS: "lead, cadmium, chromate, arsenic, mercury",
    Group.CMR: "what can cause cancer, change genes or harm the unborn",
    Group.DRIERS: "drier concentrates",
    Group.OTHER_KEEPER_ONLY: "what else is for keepers only",
    Group.FLAMMABLE: "flammable liquids",
    Group.STRONG: "acids, alkalis, bleach, stripper",
    Group.DUST: "dry pigments and dust",
    Group.SPILL: "spill, fire and first aid",
}
KEEPER_ONLY: Final = (Group.TOXIC_METALS, Group.CMR, Group.DRIERS, Group.OTHER_KEEPER_ONLY)
"""The groups that keeper-only materials fall into; what is not known of one counts as the worst."""
OF_EVERYBODY: Final = (Group.GENERAL, Group.RAGS)
"""Asked of everybody who may take material or hand in rags."""


def keeper_only_groups(facts: MaterialFacts) -> frozenset[Group]:
    """The groups a material falls into because only keepers may draw it; none for one open to others.

    What a keeper opened to others by a decision of their own is in none. What is not known counts in.

    >>> unknown = MaterialFacts("x", MaterialKind.SOLVENT)
    >>> sorted(keeper_only_groups(unknown))
    [<Group.CMR: 'cmr'>, <Group.TOXIC_METALS: 'toxic-metals'>]
    """
    if not is_keeper_only(facts):
        return frozenset()
    name, plain = facts.name, MaterialKind.SOLVENT
    found = set()
    if keeper_only_by_default(
        MaterialFacts(name, plain, supplier_classes=facts.supplier_classes, toxic_metals=())
    ):
        found.add(Group.CMR)
    if keeper_only_by_default(
        MaterialFacts(name, plain, supplier_classes=(), toxic_metals=facts.toxic_metals)
    ):
        found.add(Group.TOXIC_METALS)
    if facts.kind is MaterialKind.DRIER:
        found.add(Group.DRIERS)
    return frozenset(found or {Group.OTHER_KEEPER_ONLY})


def asked_of(role: Role, held: Iterable[Group]) -> tuple[Group, ...]:
    """The groups somebody of a role is asked for; ``held``: keeper-only groups that the shop has.

    >>> asked_of(Role.STUDENT, [Group.DRIERS]), asked_of(Role.READER, [])
    ((<Group.GENERAL: 'general'>, <Group.RAGS: 'rags'>), ())
    """
    if not may(role, Permission.DRAW):
        return ()
    more = set(held) if may(role, Permission.DRAW_KEEPER_ONLY) else set()
    return (*OF_EVERYBODY, *(one for one in KEEPER_ONLY if one in more))


@dataclass(frozen=True)
class Taught:
    """One entry that counts: who was taught about what, on which day."""

    person: int
    group: Group
    on: date


@dataclass(frozen=True)
class Need:
    """Somebody lacks a group (``last`` None), or a material, ``newer``, came into it after ``last``."""

    person: int
    group: Group
    last: date | None
    newer: str = ""


def needs(
    people: Mapping[int, Role],
    taught: Iterable[Taught],
    held: Mapping[Group, tuple[date, str]],
) -> list[Need]:
    """Who lacks what, in the order of ``people`` and of the groups.

    Args:
        held: the keeper-only groups of which the shop has a material, with the day the newest of them was
            written down and its name. One of the very day of the training counts as taught.

    >>> needs({1: Role.STUDENT}, [Taught(1, Group.GENERAL, date(2026, 3, 2))], {})
    [Need(person=1, group=<Group.RAGS: 'rags'>, last=None, newer='')]
    """
    last: dict[tuple[int, Group], date] = {}
    for one in taught:
        key = one.person, one.group
        last[key] = max(one.on, last.get(key, one.on))
    found = []
    for person, role in people.items():
        for group in asked_of(role, held):
            on = last.get((person, group))
            came, name = held.get(group, (None, ""))
            if on is None:
                found.append(Need(person, group, None))
            elif came is not None and came > on:
                found.append(Need(person, group, on, name))
    return found
