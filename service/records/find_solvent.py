"""Which liquid of the tables a CAS number or a name means, and what is doubtful about that."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from service.core.findings import Finding, note, unknown
from service.core.solvents.properties import Component
from service.records.knowledge import KnownMaterial, find_known, known
from service.records.solvent_facts import component_of


@dataclass(frozen=True)
class Found:
    """What a name or CAS number was found to mean. ``component`` None: nothing is held, or too much."""

    component: Component | None
    findings: tuple[Finding, ...] = ()


def find_solvent(cas: str, *names: str) -> Found:
    """The published facts of a liquid by CAS number, else by the first name that is held.

    A name that may mean several liquids settles nothing; a CAS number that stands for several grades of a
    petroleum cut gives the one with the lowest flash point, and says so.
    """
    clash = _clash(cas, names)
    if clash is not None:
        return Found(None, (clash,))
    for text in (cas, *names):
        if not text.strip():
            continue
        met = [one for one in find_known(text) if not cas or text != cas or cas in one.cas]
        exact = [one for one in met if _is_called(one, text)]
        met = exact or (met if text == cas else [])
        if text == cas and len(met) > 1:
            return _lowest_grade(met, cas)
        if len(met) > 1:
            called = ", ".join(one.name for one in met[:6])
            sentence = f"{text} may mean several things: {called}. Give the CAS number or the full name."
            return Found(None, (unknown("name-means-several", sentence, about=text),))
        if met:
            return Found(component_of(met[0].key), _grade_findings(met[0]))
    return Found(None)


def _clash(cas: str, names: tuple[str, ...]) -> Finding | None:
    """A name that is held for one liquid beside the CAS number of another: neither is believed."""
    by_number = [one.key for one in find_known(cas) if cas in one.cas] if cas else []
    for name in names:
        called = [one for one in find_known(name) if _is_called(one, name)] if by_number and name else []
        if called and not any(one.key in by_number or cas in one.cas or not one.cas for one in called):
            other = known(by_number[0])
            sentence = (
                f"The name says {called[0].name} ({called[0].cas[0]}), the number {cas} is "
                f"{other.name if other else 'something else'}. Correct one of them; until then nothing is "
                "taken from the tables."
            )
            return unknown("name-and-number-differ", sentence, about=name)
    return None


def _is_called(material: KnownMaterial, text: str) -> bool:
    names = (material.key, material.name, *material.synonyms, *material.cas)
    return _plain(text) in {_plain(name) for name in names}


def _lowest_grade(met: Iterable[KnownMaterial], cas: str) -> Found:
    made = [one for one in (component_of(m.key) for m in met) if one is not None and one.flash_point]
    if not made:
        return Found(None)
    lowest = min(made, key=lambda one: one.flash_point.value if one.flash_point else float("inf"))
    sentence = (
        f"CAS {cas} stands for several grades. The figures of the one with the lowest flash point are used "
        f"({lowest.name}). Give the flash point of your product's data sheet."
    )
    return Found(lowest, (note("lowest-grade-used", sentence, about=lowest.name),))


def _grade_findings(material: KnownMaterial) -> tuple[Finding, ...]:
    rows = [row for row in material.figures_of("flash_point_c") if row.method == "closed-cup"]
    if not material.is_petroleum_cut or not any(row.low != row.high for row in rows):
        return ()
    sentence = (
        f"The flash point of {material.name} differs by grade; the lowest published one is used. "
        "Give the one of your product's data sheet."
    )
    return (note("lowest-grade-used", sentence, about=material.name),)


def _plain(text: str) -> str:
    return "".join(sign for sign in text.casefold() if sign.isalnum())
