"""Which Colour Index names and CAS numbers stand in any table: only those tell what a thing is.

Doors: actions/read_mixed_things.py, records/drum_codes.py.
"""

from __future__ import annotations

import re
from functools import cache, lru_cache

from service.core.mixed_things import plain_name
from service.core.waste_metals import metals_named
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


@lru_cache(maxsize=4096)
def metals_by_number(text: str, is_name: bool = False) -> tuple[tuple[str, str], ...]:
    """The metals of the leaching test in colours that a text gives by Colour Index name or number or by CAS
    number, each with the name or number; what the tables of colours and of what is never mixed say.

    >>> metals_by_number("PY34 and water"), metals_by_number("Pigment Green 22"), metals_by_number("PB27")
    ((('chromium', 'PY34'), ('lead', 'PY34')), (('arsenic', 'PG22'),), ())
    """
    found: dict[str, str] = {}
    told = [(name, name.upper()) for name in sorted(known_ci(text, is_name))]
    for one, shown in (*told, *((cas, cas) for cas in sorted(known_cas(text)))):
        for metal in sorted(_metals().get(one, ())):
            found.setdefault(metal, shown)
    return tuple(found.items())


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
def _metals() -> dict[str, frozenset[str]]:
    """By Colour Index name and CAS number; symbols only where a table means symbols."""
    found: dict[str, frozenset[str]] = {}
    for row in load_known_materials():
        named = metals_named(" ".join(row.toxic_metals or ()), symbols=True)
        for key in (*(name for one in row.ci_generic for name in ci_names(one)), *row.cas):
            found[key] = found.get(key, frozenset()) | named.keys()
    for side in {side.key: side for row in never_with() for side in (row.a, row.b)}.values():
        # The words of a side may list several things: what each of them names is in all.
        each = re.split(r",| or ", re.sub(r"\([^)]*\)", "", side.words))
        in_all = frozenset.intersection(*(frozenset(metals_named(one)) for one in each))
        in_all |= metals_named(" ".join(side.metals), symbols=True).keys()
        for key in side.names.ci | side.names.cas:
            found[key] = found.get(key, frozenset()) | in_all
    return found


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
