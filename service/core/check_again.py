"""Whether an earlier stock check still holds: stale means an allocation no longer holds, or it got worse.

Doors: actions/make_batch.py, records/mixing.py, web/pages/check_mix.py.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping
from dataclasses import asdict
from typing import Any, Final

from service.core.findings import Finding, Findings, Severity, Verdict, stop
from service.core.materials import Basis
from service.core.recipe import ByHand, Need
from service.core.shelf_codes import show_code
from service.core.stock_check import Allocation, Shortage, StockCheck

_WEIGHT: Final = {Severity.NOTE: 0, Severity.WARN: 1, Severity.UNKNOWN: 2, Severity.STOP: 3}


def still_holds(old: StockCheck, new: StockCheck) -> Verdict:
    """Empty when ``old`` still holds; else a stop for each allocation, finding or need that does not.

    ``new`` is the check run again inside the transaction with ``prefer=old.allocations``, so that a tin which
    came in meanwhile changes nothing. Notes are for information and make nothing stale. Codes:
    ``allocation-gone``, ``finding-new``, ``finding-worse``, ``more-missing``, ``needs-changed``.
    """
    found = Findings()
    if sorted(map(_need_key, old.needs)) != sorted(map(_need_key, new.needs)):
        found.add(stop("needs-changed", "The recipe or the amount was changed since. Check the stock again."))
    codes = {a.container_id: a.code for a in old.allocations}
    for container_id, amount in _per_container(old.allocations).items():
        if new.usable.get(container_id, 0) < amount:
            code = codes[container_id]
            sentence = f"{show_code(code)} no longer holds what was set aside from it. Check the stock again."
            found.add(stop("allocation-gone", sentence, about=code))
    before = {s.material_id: s.missing for s in old.shortages}
    for short in new.shortages:
        if short.missing > before.get(short.material_id, 0):
            sentence = f"More {short.name} is missing than before. Check the stock again."
            found.add(stop("more-missing", sentence, about=short.name))
    found.add(*_worse(old.verdict, new.verdict))
    return found.verdict()


def _worse(old: Verdict, new: Verdict) -> list[Finding]:
    before = _heaviest(old)
    found = []
    for key, finding in _heaviest(new).items():
        if finding.severity is Severity.NOTE:
            continue
        known = before.get(key)
        if known is None:
            found.append(stop("finding-new", f"New since the check: {finding.sentence}", about=finding.about))
        elif _WEIGHT[finding.severity] > _WEIGHT[known.severity]:
            found.append(
                stop("finding-worse", f"Worse since the check: {finding.sentence}", about=finding.about)
            )
    return found


def _heaviest(verdict: Verdict) -> dict[tuple[str, str], Finding]:
    heaviest: dict[tuple[str, str], Finding] = {}
    for finding in verdict:
        key = (finding.code, finding.about)
        if key not in heaviest or _WEIGHT[finding.severity] > _WEIGHT[heaviest[key].severity]:
            heaviest[key] = finding
    return heaviest


def _per_container(allocations: Iterable[Allocation]) -> Counter[int]:
    amounts: Counter[int] = Counter()
    for one in allocations:
        amounts[one.container_id] += one.amount
    return amounts


def _need_key(need: Need) -> tuple[int, str, int, int]:
    return (
        need.material_id,
        need.basis or "",
        -1 if need.low is None else need.low,
        -1 if need.high is None else need.high,
    )


def summary(check: StockCheck) -> dict[str, Any]:
    """A check as plain data, to be kept with the batch and read back by `from_summary`."""
    return {
        "fingerprint": check.fingerprint,
        "needs": [
            {
                "material_id": n.material_id,
                "name": n.name,
                "basis": n.basis.value if n.basis else None,
                "low": n.low,
                "high": n.high,
                "unit_written": n.unit_written,
                "draw": n.draw,
                "why": n.why,
            }
            for n in check.needs
        ],
        "allocations": [
            {
                "container_id": a.container_id,
                "code": a.code,
                "material_id": a.material_id,
                "amount": a.amount,
                "place": a.place,
                "draw": a.draw,
                "why": a.why,
            }
            for a in check.allocations
        ],
        "shortages": [
            {
                "material_id": s.material_id,
                "name": s.name,
                "basis": s.basis.value if s.basis else None,
                "needed": s.needed,
                "missing": s.missing,
                "unit_written": s.unit_written,
            }
            for s in check.shortages
        ],
        "findings": check.verdict.as_list(),
        "usable": {str(key): value for key, value in check.usable.items()},
        "by_hand": [asdict(one) | {"basis": one.basis.value if one.basis else None} for one in check.by_hand],
    }


def from_summary(data: Mapping[str, Any]) -> StockCheck:
    """The check that `summary` wrote. Raises ``KeyError`` or ``ValueError`` when it is not one.

    >>> from datetime import date
    >>> from service.core.access import Role
    >>> from service.core.stock_check import check
    >>> done = check([Need(1, "ochre", Basis.MASS, 5, 5)], [], actor_role=Role.KEEPER, today=date(2026, 3, 2))
    >>> from_summary(summary(done)) == done
    True
    """
    return StockCheck(
        needs=tuple(Need(**{**one, "basis": _basis(one)}) for one in data["needs"]),
        allocations=tuple(Allocation(**one) for one in data["allocations"]),
        shortages=tuple(Shortage(**{**one, "basis": _basis(one)}) for one in data["shortages"]),
        verdict=Verdict.of(
            Finding(**{**one, "severity": Severity(one["severity"])}) for one in data["findings"]
        ),
        fingerprint=str(data["fingerprint"]),
        usable={int(key): int(value) for key, value in data["usable"].items()},
        # What was kept before there was such a list has none.
        by_hand=tuple(ByHand(**{**one, "basis": _basis(one)}) for one in data.get("by_hand", ())),
    )


def _basis(one: Mapping[str, Any]) -> Basis | None:
    return None if one["basis"] is None else Basis(one["basis"])
