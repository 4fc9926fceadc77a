"""Which Colour Index names and CAS numbers stand in any table: only those tell what a thing is.

Doors: actions/read_mixed_things.py.
"""

from __future__ import annotations

from functools import cache, lru_cache

from service.core.mixed_things import plain_name
from service.core.written_numbers import cas_numbers, ci_names, ci_numbers
from service.records.knowledge import load_known_materials, named_exactly, read_rows
from service.records.knowledge_compositions import compositions
from service.records.knowledge_never_with import never_with
from service.records.knowledge_substances import substance_rows


@lru_cache(maxsize=4096)
def known_ci(text: str, is_name: bool = False) -> frozenset[str]:
    """The Colour Index names that a text gives, by name or constitution number, as far as a table has them.

    ``is_name``: the text is a material's name, in which a bare number may be a lot or a size.

    >>> sorted(known_ci("C.I. Pigment Blue 27")), sorted(known_ci("77510")), known_ci("PB999")
    (['pb27'], ['pb27'], frozenset())
    """
    found = set(ci_names(text)) & _names()
    for number in ci_numbers(text, bare=not is_name):
        found |= _by_number().get(number, frozenset())
    if not found and not is_name:
        found |= {name for row in named_exactly(text) for one in row.ci_generic for name in ci_names(one)}
    return frozenset(found)


@lru_cache(maxsize=4096)
def known_cas(text: str) -> frozenset[str]:
    """The CAS numbers of a text whose last digit fits and that some table has.

    >>> sorted(known_cas("14038 43 8")), known_cas("14038-43-9"), known_cas("99999-99-4")
    (['14038-43-8'], frozenset(), frozenset())
    """
    return frozenset(cas for cas in cas_numbers(text) if cas in _numbers() or substance_rows(cas))


def known_trade_name(text: str) -> bool:
    """Whether a whole name is one that the trade has for one thing (``trade_names.csv``).

    >>> known_trade_name("Titanium White"), known_trade_name("titanium white substitute")
    (True, False)
    """
    return " ".join(plain_name(text).split()) in _trade_names()


@cache
def _trade_names() -> frozenset[str]:
    return frozenset(plain_name(row["name"]) for row in read_rows("trade_names"))


@cache
def _names() -> frozenset[str]:
    listed = {name for row in load_known_materials() for one in row.ci_generic for name in ci_names(one)}
    return frozenset(listed).union(*(side.names.ci for row in never_with() for side in (row.a, row.b)))


@cache
def _by_number() -> dict[str, frozenset[str]]:
    """The names behind each constitution number; those of a colour of several numbers only where no other
    colour has the number alone, as one part of chrome green is iron blue.
    """
    alone: dict[str, frozenset[str]] = {}
    among: dict[str, frozenset[str]] = {}
    for row in load_known_materials():
        names = frozenset(name for one in row.ci_generic for name in ci_names(one))
        held = alone if len(row.ci_number) == 1 else among
        for number in (number for text in row.ci_number for number in ci_numbers(text)):
            held[number] = held.get(number, frozenset()) | names
    return among | alone


@cache
def _numbers() -> frozenset[str]:
    listed = {cas for row in load_known_materials() for cas in row.cas}
    listed |= {line.cas for line in compositions() if line.cas}
    return frozenset(listed).union(*(side.names.cas for row in never_with() for side in (row.a, row.b)))
