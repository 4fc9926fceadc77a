"""From amounts as they are written to moles, grams and millilitres of each component.

Doors: core/solvents/room_judgement.py.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import product
from typing import Final

from service.core.findings import Finding, Invalid, unknown
from service.core.solvents.properties import Component, ShareKind

MOST_RANGES: Final = 6
_ONE: Final = {
    ShareKind.MOLE_FRACTION: 1.0,
    ShareKind.MASS_FRACTION: 1.0,
    ShareKind.VOLUME_FRACTION: 1.0,
    ShareKind.PERCENT: 100.0,
}
_TOLERANCE: Final = 0.005


@dataclass(frozen=True)
class Amount:
    """A component in one reading of the mix. What a missing density or molar mass leaves open is ``None``.

    Of a mix given in fractions the grams, millilitres and moles are of one gram, millilitre or mole of it.
    """

    component: Component
    grams: float | None
    millilitres: float | None
    moles: float | None


def readings(components: Sequence[Component]) -> Iterator[tuple[Amount, ...]]:
    """Every corner of the written ranges as one reading; without ranges there is one.

    Of more than six ranges: all low, all high, and each of them alone high or low.

    Where the upper ends of ranges and the single figures beside them come to more than the whole, the single
    figures give way.

    Raises Invalid for no component, a component without an amount, fractions of different kinds, a sum over
    the whole, each naming the component and the mend.
    """
    ranged = [n for n, one in enumerate(components) if one.share is not None and one.share.is_range]
    _refuse(components)
    for corner in _corners(len(ranged)):
        high = dict(zip(ranged, corner, strict=True))
        written = [_end(one, bool(high.get(n))) for n, one in enumerate(components)]
        written = _give_way(components, written)
        yield tuple(_amount(one, value) for one, value in zip(components, written, strict=True))


def missing_share(components: Sequence[Component]) -> float:
    """The part of a mix in fractions, 0 to 1, that even the high ends leave untold; 0 for absolute amounts.

    >>> from service.core.solvents.properties import Share
    >>> round(missing_share([Component("a", Share(ShareKind.PERCENT, 60, 70))]), 2)
    0.3
    """
    kinds = {one.share.kind for one in components if one.share is not None}
    if not kinds <= set(_ONE):
        return 0.0
    told = sum(one.share.high / _ONE[one.share.kind] for one in components if one.share is not None)
    return max(0.0, 1.0 - told) if told < 1 - _TOLERANCE else 0.0


def moles_of(amounts: Sequence[Amount]) -> tuple[list[float] | None, list[Finding]]:
    """Moles of each, or ``None`` with a finding for each component whose molar mass or density is missing."""
    return _all(amounts, "moles", "a molar mass, and a density where its amount is a volume")


def grams_of(amounts: Sequence[Amount]) -> tuple[list[float] | None, list[Finding]]:
    """Grams of each, or ``None`` with a finding for each component that cannot be weighed on paper."""
    return _all(amounts, "grams", "a density where its amount is a volume, a molar mass where it is in moles")


def millilitres_of(amounts: Sequence[Amount]) -> tuple[list[float] | None, list[Finding]]:
    """Millilitres of each, or ``None`` with a finding for each component without a density."""
    return _all(amounts, "millilitres", "a density")


def _all(amounts: Sequence[Amount], what: str, needs: str) -> tuple[list[float] | None, list[Finding]]:
    values = [getattr(one, what) for one in amounts]
    findings = [
        unknown(
            f"{what}-not-known",
            f"The {what} of {one.component.name} cannot be worked out: it needs {needs}. "
            "Take it from section 9 of its data sheet.",
            about=one.component.name,
        )
        for one, value in zip(amounts, values, strict=True)
        if value is None
    ]
    return (None if findings else values), findings


def _corners(count: int) -> Iterator[tuple[int, ...]]:
    if count <= MOST_RANGES:
        yield from product((0, 1), repeat=count)
        return
    for others in (0, 1):
        yield (others,) * count
        for n in range(count):
            yield tuple(1 - others if m == n else others for m in range(count))


def _refuse(components: Sequence[Component]) -> None:
    if not components:
        raise _about("Name at least one component with its amount.")
    for one in components:
        if one.share is None:
            raise _about(
                f"{one.name}: its amount is missing. Give one of mole_fraction, mass_fraction, "
                "volume_fraction, percent, mass_g or volume_ml."
            )
        if one.share.low < 0 or one.share.high < one.share.low:
            raise _about(f"{one.name}: an amount is zero or more, a range is written low end first.")
    kinds = {one.share.kind for one in components if one.share is not None}
    parts = kinds & set(_ONE)
    if parts and (len(kinds) > 1 and kinds != {ShareKind.MASS_FRACTION, ShareKind.PERCENT}):
        words = ", ".join(sorted(kind.value for kind in kinds))
        raise _about(f"The amounts are written in different ways ({words}). Write all of them in one way.")
    if parts:
        told = sum(one.share.low / _ONE[one.share.kind] for one in components if one.share is not None)
        if told > 1 + _TOLERANCE:
            raise _about(
                f"The shares add up to {told * 100:.4g} %, more than the whole. Correct the largest of them."
            )
    if sum(one.share.high for one in components if one.share is not None) <= 0:
        raise _about("Every amount is zero. Give at least one that is not.")


def _about(sentence: str) -> Invalid:
    return Invalid(sentence, {"components": sentence})


def _end(component: Component, high: bool) -> float:
    share = component.share
    assert share is not None
    return (share.high if high else share.low) / _ONE.get(share.kind, 1.0)


def _give_way(components: Sequence[Component], written: list[float]) -> list[float]:
    """Where the upper ends of ranges take more than is left, the single figures beside them shrink."""
    shares = [one.share for one in components if one.share is not None]
    over = sum(written) - 1
    ranged = sum(value for value, share in zip(written, shares, strict=True) if share.is_range)
    single = sum(written) - ranged
    if shares[0].kind not in _ONE or over <= _TOLERANCE or ranged <= 0 or single <= 0:
        return written
    factor = max(0.0, (1 - ranged) / single)
    return [
        value if share.is_range else value * factor for value, share in zip(written, shares, strict=True)
    ]


def _amount(component: Component, value: float) -> Amount:
    """Zero of something is zero of it by any measure, also where its density is not known."""
    if value == 0:
        return Amount(component, 0.0, 0.0, 0.0)
    molar = component.molar_mass.value if component.molar_mass else None
    density = component.density.value if component.density else None
    share = component.share
    assert share is not None
    if share.kind in (ShareKind.VOLUME_ML, ShareKind.VOLUME_FRACTION):
        grams = None if density is None else value * density
        return Amount(component, grams, value, None if grams is None or molar is None else grams / molar)
    if share.kind is ShareKind.MOLE_FRACTION:
        grams = None if molar is None else value * molar
        return Amount(component, grams, None if grams is None or density is None else grams / density, value)
    return Amount(
        component,
        value,
        None if density is None else value / density,
        None if molar is None else value / molar,
    )
