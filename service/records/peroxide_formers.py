"""Which materials form peroxides (``peroxide_formers.csv``), for one and for many containers."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace
from decimal import Decimal
from functools import cache, lru_cache
from typing import Any, Final

from sqlalchemy import BindParameter, bindparam, or_
from sqlalchemy import select as columns_of
from sqlmodel import Session, col

from service.core.materials import MaterialKind
from service.core.mixed_things import plain_name
from service.core.peroxides import Former, FormerRow, PeroxideLife, is_trace, life_of_former, strictest
from service.core.written_numbers import cas_numbers
from service.records.components import MaterialComponent
from service.records.kept_statements import batched, run
from service.records.knowledge import known, read_rows
from service.records.materials import Material

TABLE: Final = "peroxide_formers"
KINDS: Final = frozenset({MaterialKind.SOLVENT, MaterialKind.OTHER_CHEMICAL})
"""Kinds under which a bought solvent is filed, known by its own name or number; of any kind a composition
tells. A mix takes its dates from what went into it."""
_CODE: Final = re.compile(r"\bEUH ?019\b")


@cache
def former_rows() -> tuple[FormerRow, ...]:
    """The rows in the order of the table. ``ValueError`` names a line that cannot be read."""
    return read_formers(read_rows(TABLE))


def read_formers(rows: Sequence[Mapping[str, str]]) -> tuple[FormerRow, ...]:
    """The rows; ``ValueError`` names the line that cannot be read."""
    found = []
    for number, row in enumerate(rows, start=2):
        try:
            keys = _list(row["keys"])
            missing = [key for key in keys if known(key) is None]
            wrong = [text for text in _list(row["cas"]) if cas_numbers(text) != (text,)]
            if missing or wrong or not row["source"] or not row["grade"]:
                raise ValueError(f"unknown keys {missing}, wrong numbers {wrong}, or no source")
            named = re.compile(row["named"], re.IGNORECASE) if row["named"] else None
            found.append(
                FormerRow(
                    Former(row["former"]), frozenset(keys), frozenset(_list(row["cas"])), named,
                    frozenset(_list(row["codes"])), row["source"],
                )
            )  # fmt: skip
        except Exception as trouble:
            raise ValueError(f"{TABLE}.csv line {number}: {trouble}") from trouble
    return tuple(found)


def former_of(session: Session, material: Material) -> PeroxideLife | None:
    """How long a material is kept at most because it forms peroxides; None where it is not known as one.

    By what it is, or by any peroxide former that its told composition names and that is no trace in it.
    """
    own = _itself(material.kind, material.known_key, material.cas, material.name, material.hazards)
    if material.id is None:
        return own
    rows = run(session, _PARTS, numbers=[material.id])
    return strictest([own, *(_of_part(*part) for _, *part in rows)])


def is_former(name: str, cas: str) -> bool:
    """Whether a name or a CAS number alone means a peroxide former."""
    return _former("", cas, name, ()) is not None


def former_of_key(key: str | None) -> PeroxideLife | None:
    """The same for a row of the published facts."""
    return _former(key or "", "", "", ())


_NUMBERS: Final[BindParameter[Any]] = bindparam("numbers", expanding=True)
_PARTS: Final = (
    columns_of(
        *(getattr(MaterialComponent, name) for name in ("material_id", "name", "cas", "high", "hazards"))
    )
    .where(col(MaterialComponent.material_id).in_(_NUMBERS))
    .order_by(col(MaterialComponent.material_id), col(MaterialComponent.position))
)
_MAY_FORM: Final = (
    columns_of(
        *(getattr(Material, name) for name in ("id", "kind", "known_key", "cas", "name", "hazards")),
        *(
            getattr(MaterialComponent, name).label(f"part_{name}")
            for name in ("name", "cas", "high", "hazards")
        ),
    )
    .outerjoin(MaterialComponent, col(MaterialComponent.material_id) == col(Material.id))
    .where(
        col(Material.id).in_(_NUMBERS),
        or_(col(Material.kind).in_(KINDS), col(MaterialComponent.id).is_not(None)),
    )
    .order_by(col(Material.id), col(MaterialComponent.position))
)
"""A material with each line of its composition, or once without one."""


def formers_among(session: Session, material_ids: Iterable[int]) -> dict[int, PeroxideLife]:
    """The same for those of these materials that form peroxides, by their number."""
    found: dict[int, PeroxideLife] = {}
    for some in batched(material_ids):
        for number, kind, key, cas, name, hazards, *part in run(session, _MAY_FORM, numbers=some):
            told = _of_part(*part) if part[0] is not None else None
            life = strictest([found.get(number), _itself(kind, key, cas, name, hazards), told])
            if life is not None:
                found[number] = life
    return found


def _itself(
    kind: MaterialKind, key: str | None, cas: str, name: str, hazards: Iterable[Any] | None
) -> PeroxideLife | None:
    if kind not in KINDS:
        return None
    return _former(key or "", cas, name, tuple(str(one) for one in hazards or ()))


def _of_part(name: str, cas: str, high: Decimal | None, hazards: Iterable[Any] | None) -> PeroxideLife | None:
    life = None if is_trace(high) else _former("", cas, name, tuple(str(one) for one in hazards or ()))
    return replace(life, because=f"{life.because}; its composition names {name}") if life else None


@lru_cache(maxsize=4096)
def _former(key: str, cas: str, name: str, hazards: tuple[str, ...]) -> PeroxideLife | None:
    published = known(key) if key else None
    numbers = {*cas_numbers(cas), *cas_numbers(name), *(published.cas if published else ())}
    codes = {"EUH019"} if any(_CODE.search(one.upper()) for one in hazards) else set()
    return life_of_former(former_rows(), key, numbers, plain_name(name), codes)


def _list(text: str) -> list[str]:
    return [part.strip() for part in text.split(";") if part.strip()]
