"""What a name or a number means that keeps less long once it is dissolved (``dissolving_names.csv``)."""

from __future__ import annotations

import re
from functools import cache, lru_cache
from typing import Final, NamedTuple

from service.core.mixed_things import plain_name
from service.core.written_numbers import cas_numbers
from service.records.knowledge import read_rows
from service.records.knowledge_policies import known_policies

TABLE: Final = "dissolving_names"


class NameRow(NamedTuple):
    """One row: what is so called or numbered goes by the policy of ``solution`` once it is dissolved."""

    solution: str
    cas: frozenset[str]
    named: re.Pattern[str]
    source: str
    grade: str


@cache
def dissolving_rows() -> tuple[NameRow, ...]:
    """The rows of the table. ``ValueError`` names a line that cannot be read."""
    kept = {row.key for row in known_policies() if row.key}
    found = []
    for number, row in enumerate(read_rows(TABLE), start=2):
        numbers = [one.strip() for one in row["cas"].split(";") if one.strip()]
        wrong = [one for one in numbers if cas_numbers(one) != (one,)]
        if wrong or row["solution"] not in kept or not row["named"] or not row["source"] or not row["grade"]:
            raise ValueError(f"{TABLE}.csv line {number}: wrong numbers {wrong}, no policy, or no source")
        named = re.compile(row["named"], re.IGNORECASE)
        found.append(NameRow(row["solution"], frozenset(numbers), named, row["source"], row["grade"]))
    return tuple(found)


@lru_cache(maxsize=4096)
def solutions_named(name: str, cas: str) -> frozenset[str]:
    """The keys of the solutions that a material of this name or number becomes, whatever its kind.

    >>> sorted(solutions_named("Fischleim", "")), sorted(solutions_named("Lac", "9000-59-3"))
    (['hide_glue_mixed'], ['shellac_cut'])
    """
    plain, numbers = plain_name(name), {*cas_numbers(cas), *cas_numbers(name)}
    return frozenset(
        row.solution for row in dissolving_rows() if numbers & row.cas or row.named.search(plain)
    )
