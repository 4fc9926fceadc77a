"""Shelf codes nobody has yet, for containers and places alike. Chance is handed in, never asked for here."""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Iterable

from sqlmodel import Session, col, select

from service.core.findings import Invalid
from service.core.shelf_codes import SPACE, make_code, near_codes, normalise, show_code
from service.records.places import Place
from service.records.stock import Container

Chance = Callable[[], str]
"""Gives a fresh unguessable text each time it is called, such as ``clock.new_secret``."""
_TRIES = 50
_AT_ONCE = 500


def number_of(text: str) -> int:
    """A number below `SPACE` from a chance text, spread evenly.

    >>> 0 <= number_of("abc") < SPACE
    True
    """
    digest = hashlib.sha256(text.encode()).digest()
    number: int = int.from_bytes(digest[:16], "big") % SPACE
    return number


def taken_by(session: Session, code: str) -> Container | Place | None:
    """What has this code already: containers and places share one set of codes."""
    container = session.exec(select(Container).where(col(Container.code) == code)).one_or_none()
    return container or session.exec(select(Place).where(col(Place.code) == code)).one_or_none()


def fresh_code(session: Session, chance: Chance) -> str:
    """A code that nothing in the book has, in capitals.

    Two writers on PostgreSQL could still meet in one code (one in 17 million); the unique column refuses the
    second, which then sends again.

    Raises:
        RuntimeError: fifty in a row were taken, which no honest source of chance brings about.
    """
    for _ in range(_TRIES):
        code = make_code(number_of(chance()))
        if taken_by(session, code) is None:
            return code
    raise RuntimeError("no free shelf code was found; the source of chance repeats itself")


def fresh_codes(session: Session, chance: Chance, number: int) -> list[str]:
    """So many codes that nothing in the book has, by few questions to it.

    Raises:
        RuntimeError: no free ones were found.
    """
    found: list[str] = []
    for _ in range(_TRIES):
        drawn = list(dict.fromkeys(make_code(number_of(chance())) for _ in range(number - len(found))))
        taken = codes_in_use(session, drawn).keys() | set(found)
        found += [code for code in drawn if code not in taken]
        if len(found) >= number:
            return found
    raise RuntimeError("no free shelf codes were found; the source of chance repeats itself")


def codes_in_use(session: Session, codes: Iterable[str]) -> dict[str, str]:
    """Those of these codes that something in the book has already, each with what has it."""
    wanted = sorted(set(codes))
    found: dict[str, str] = {}
    for start in range(0, len(wanted), _AT_ONCE):
        some = wanted[start : start + _AT_ONCE]
        for code in session.exec(select(Container.code).where(col(Container.code).in_(some))).all():
            found[code] = "a container"
        for code in session.exec(select(Place.code).where(col(Place.code).in_(some))).all():
            found[code] = "a place"
    return found


def wanted_code(session: Session, text: str, field: str = "code") -> str:
    """A code from a label that was printed ahead and is being stuck on now.

    Raises:
        Invalid: it is no code, or something has it already.
    """
    code = normalise(text)
    if code is None:
        near = ", ".join(show_code(one) for one in near_codes(text)[:3])
        words = "That is not a shelf code. Scan the label again" + (f" (near it: {near})." if near else ".")
        raise Invalid(words, {field: words})
    holder = taken_by(session, code)
    if holder is not None:
        kind = "place" if isinstance(holder, Place) else "container"
        words = f"{show_code(code)} is in the book already, on another {kind}. Take the next label."
        raise Invalid(words, {field: words})
    return code
