"""Materials that nobody linked to a published row, and whose name or number means one row all the same.

A can of turpentine that was typed by hand ages as turpentine does, not as any solvent.
"""

from __future__ import annotations

from collections.abc import Iterable
from functools import lru_cache
from typing import Final

from sqlalchemy import bindparam
from sqlalchemy import select as columns_of
from sqlmodel import Session, col

from service.core.materials import MaterialKind
from service.core.mixed_things import says_unknown
from service.core.written_numbers import cas_numbers
from service.records.kept_statements import batched, run
from service.records.knowledge import load_known_materials, named_exactly
from service.records.knowledge_policies import known_policies
from service.records.materials import Material


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
"""In place of a key: its own name says that nobody knows what it is, and no number tells."""


@lru_cache(maxsize=4096)
def _implied(name: str, cas: str, kind: MaterialKind) -> str | None:
    with_policy = {row.key for row in known_policies() if row.key}
    if not cas.strip() and says_unknown(name):
        return NOBODY_KNOWS
    numbers = set(cas_numbers(cas)) | set(cas_numbers(name))
    rows = [row for row in load_known_materials() if numbers & set(row.cas)] if numbers else []
    rows = rows or list(named_exactly(name))
    keys = {row.key for row in rows if row.kind is kind}
    return next(iter(keys)) if len(keys) == 1 and keys <= with_policy else None
