"""Materials that nobody linked to a published row, and whose name or number means one row all the same.

A can of turpentine that was typed by hand ages as turpentine does, not as any solvent; and how long solvents
keep says nothing of a liquid that no table knows by its name, its number or a link.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from functools import cache, lru_cache
from typing import Final

from sqlalchemy import bindparam
from sqlalchemy import select as columns_of
from sqlmodel import Session, col

from service.core.materials import MaterialKind
from service.core.mixed_things import plain_name, says_unknown
from service.core.written_numbers import cas_numbers
from service.records.kept_statements import batched, run
from service.records.knowledge import load_known_materials, named_exactly, read_rows
from service.records.knowledge_policies import known_policies
from service.records.materials import Material
from service.records.peroxide_formers import is_former


def implied_key(material: Material) -> str | None:
    """The key of the one published row of its kind that its CAS number, else its whole name, means."""
    return None if material.known_key else _implied(material.name, material.cas, material.kind)


def implied_keys(session: Session, material_ids: Iterable[int]) -> dict[int, str | None]:
    """The same for each of these materials that nobody linked, by its number; None where no row is meant."""
    found: dict[int, str | None] = {}
    for some in batched(material_ids):
        for number, name, cas, kind in run(session, _UNLINKED, numbers=some):
            found[number] = _implied(name, cas, kind)
    return found


_UNLINKED: Final = columns_of(
    *(col(column) for column in (Material.id, Material.name, Material.cas, Material.kind))
).where(col(Material.known_key).is_(None), col(Material.id).in_(bindparam("numbers", expanding=True)))


NOBODY_KNOWS: Final = "nobody-knows"
"""In place of a key: its own name says that nobody knows what it is, or no table knows this solvent."""
_TURPENTINE: Final = re.compile(
    r"^(?!.*(\b(substitute|replacement|mineral)\b|ersatz)).*"
    r"(\b(wood|gum|balsam)?(turpentin|terpentin)|\bturps\b|limonen"
    r"|\b(citrus|orange|pine) (terpene|solvent|oil)|\bdipentene?\b|\bterpenes?\b"
    r"|\b((alpha|beta|α|β|a|b) )?pinene?s?\b)"
)
"""Terpenes, which take up oxygen as turpentine does and keep as long as that (house policy)."""
_AGES_AS: Final = dict.fromkeys(("limonene_d", "pinene_alpha", "pinene_beta", "carene_3"), "turpentine")
_SAYS_LITTLE: Final = frozenset({"alcohol", "naphtha", "ether", "solvent naphtha"})
"""Names that mean a thing when they stand alone, and any of a family in a longer name."""


def key_of_life(key: str | None, kind: MaterialKind) -> str | None:
    """The key by whose row a linked solvent ages: that of turpentine for the terpenes, else its own.

    >>> key_of_life("limonene_d", MaterialKind.SOLVENT), key_of_life("acetone", MaterialKind.SOLVENT)
    ('turpentine', 'acetone')
    """
    return _AGES_AS.get(key, key) if key and kind is MaterialKind.SOLVENT else key


@lru_cache(maxsize=4096)
def _implied(name: str, cas: str, kind: MaterialKind) -> str | None:
    with_policy = {row.key for row in known_policies() if row.key}
    if not cas.strip() and says_unknown(name):
        return NOBODY_KNOWS
    numbers = set(cas_numbers(cas)) | set(cas_numbers(name))
    rows = [row for row in load_known_materials() if numbers & set(row.cas)] if numbers else []
    rows = rows or list(named_exactly(name))
    keys = {key_of_life(row.key, kind) or "" for row in rows if row.kind is kind}
    if len(keys) == 1 and keys <= with_policy:
        return next(iter(keys))
    if kind is not MaterialKind.SOLVENT:
        return None
    if not numbers and _TURPENTINE.search(plain_name(name)):
        return "turpentine"
    known = rows or is_former(name, cas) or numbers & _numbers_known() or _holds_a_name(plain_name(name))
    return None if known else NOBODY_KNOWS


@cache
def _numbers_known() -> frozenset[str]:
    """The CAS numbers of the published materials, and of what they are made of."""
    parts = {number for row in read_rows("compositions") for number in cas_numbers(row["cas"])}
    return frozenset(parts.union(*(row.cas for row in load_known_materials())))


def _holds_a_name(name: str) -> bool:
    """Whether a published solvent is named in it: "white spirit, can 5 l" is known, "thinner 7" is not."""
    words = [one for one in _WORDS.findall(name) if one not in _MEASURES and not one.isdecimal()]
    if words == ["alcohol"] or _CUTS.search(name):
        return True
    line = f" {' '.join(words)} "
    return any(f" {one} " in line or f" {one}s " in line for one in _solvent_names())


@cache
def _solvent_names() -> frozenset[str]:
    names: set[str] = set()
    for row in load_known_materials():
        if row.kind is MaterialKind.SOLVENT:
            spoken = re.sub(r"\([^)]*\)", "", row.name)
            names |= {" ".join(_WORDS.findall(plain_name(one))) for one in (spoken, *row.synonyms)}
    return frozenset(one for one in names - _SAYS_LITTLE if len(one) > 2)


_MEASURES: Final = frozenset({"l", "ml", "litre", "litres", "vol", "can", "tin", "bottle"})
_CUTS: Final = re.compile(
    r"\b(petrol(eum)? ?(ether|äther|aether)|ligroin|benzine|testbenzin|terpentinersatz)\b"
)
"""Cuts of petroleum by names that no row of the table has."""
_WORDS: Final = re.compile(r"\w+")
