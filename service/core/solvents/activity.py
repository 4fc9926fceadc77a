"""Activity coefficients of a liquid mixture by group contribution, both variants, from a maintained library.

Doors: core/solvents/flash_point.py, core/solvents/phases.py, core/solvents/vapour_activity.py.

Traps of the library `thermo`: a pair of groups for which nobody has fitted an interaction counts there as not
interacting, without a word, so such a pair is refused here; it is imported when first asked for, because a
start should not pay for it (a quarter of a second and 40 MiB).
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from enum import StrEnum
from functools import cache
from typing import Any, Final

from service.core.solvents.properties import Component, Groups

Gammas = Callable[[float], Sequence[float]]
"""Activity coefficients in the order of the components at a temperature in K."""


class Variant(StrEnum):
    """UNIFAC as first published, and as modified (Dortmund)."""

    ORIGINAL = "original"
    DORTMUND = "dortmund"


_VERSION: Final = {Variant.ORIGINAL: 0, Variant.DORTMUND: 1}


def groups_of(component: Component, variant: Variant) -> Groups | None:
    """The groups of a component in one variant; ``None``: nobody assigned them."""
    return component.groups_original if variant is Variant.ORIGINAL else component.groups_dortmund


def missing_for(components: Sequence[Component], variant: Variant) -> str:
    """Why one variant cannot be used for these liquids, as the end of a sentence; empty when it can.

    Raises nothing: a liquid without groups, a group the library does not hold and a pair of groups without
    fitted interaction are all reasons.
    """
    assigned = [groups_of(one, variant) for one in components]
    without = [one.name for one, groups in zip(components, assigned, strict=True) if groups is None]
    if without:
        return f"no groups are assigned to {', '.join(without)}"
    for one, mine in zip(components, assigned, strict=True):
        for other, theirs in zip(components, assigned, strict=True):
            for first, _ in mine or ():
                for second, _ in theirs or ():
                    if not _interact(first, second, variant):
                        return f"no interaction of {one.name} with {other.name} was ever fitted"
    return ""


def coefficients(components: Sequence[Component], fractions: Sequence[float], variant: Variant) -> Gammas:
    """Activity coefficients as a function of temperature in K, at fixed mole fractions that add up to 1.

    Every component needs groups (ask ``missing_for`` first). Raises ValueError otherwise.

    Source: UNIFAC, Fredenslund 1975 and Gmehling 1993 with the published parameter tables in `thermo`.
    """
    groups = [groups_of(one, variant) for one in components]
    if any(one is None for one in groups):
        raise ValueError("A component without groups has no activity coefficient.")
    model = _library().UNIFAC.from_subgroups(
        T=300.0,
        xs=list(fractions),
        chemgroups=[dict(one or ()) for one in groups],
        version=_VERSION[variant],
    )

    def at(kelvin: float) -> Sequence[float]:
        # The groups and their counts are kept; only what hangs on temperature is worked out anew.
        return model.to_T_xs(kelvin, model.xs).gammas()  # type: ignore[no-any-return]

    return at


def ideal(components: Sequence[Component]) -> Gammas:
    """Every coefficient 1: shown beside the others, never used to decide (it errs to the unsafe side)."""
    ones = [1.0] * len(components)
    return lambda _kelvin: ones


@cache
def _library() -> Any:
    import thermo.unifac

    thermo.unifac.load_unifac_ip()
    return thermo.unifac


@cache
def _interact(first: int, second: int, variant: Variant) -> bool:
    library = _library()
    original = variant is Variant.ORIGINAL
    subgroups = library.UFSG if original else library.DOUFSG
    fitted = library.UFIP if original else library.DOUFIP2016
    if first not in subgroups or second not in subgroups:
        return False
    one, other = subgroups[first].main_group_id, subgroups[second].main_group_id
    return one == other or other in fitted.get(one, ())
