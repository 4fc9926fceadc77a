"""What of a pot became waste when its batch ended: all of one given up, of a finished one what made nothing.

Doors: records/pot_waste.py, actions/finish_batch.py, actions/drop_batch.py, actions/tell_rest.py,
web/pages/finish_batch.py.

What nobody says of is waste of a destination not known, unless somebody says that it evaporated or went onto
the work. An amount that cannot be worked out is not known, never nothing.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from enum import StrEnum
from fractions import Fraction
from typing import Final

from service.core.ledger import DESTINATIONS, Destination
from service.core.materials import Basis


class PotWentTo(StrEnum):
    """Where what was in a pot may have gone. No supplier takes a mix back."""

    WASTE_DRUM = "waste-drum"
    HAULER = "hauler"
    COLLECTION_POINT = "collection-point"
    RAG_CAN = "rag-can"
    DRY_REFUSE = "dry-refuse"
    EVAPORATED = "evaporated"
    ON_THE_WORK = "on-the-work"


NO_WASTE: Final = frozenset({PotWentTo.EVAPORATED, PotWentTo.ON_THE_WORK})
POT_WENT: Final[dict[str, str]] = {
    **{one: DESTINATIONS[Destination(one)] for one in PotWentTo if one not in NO_WASTE},
    PotWentTo.EVAPORATED: "evaporated while it was worked with",
    PotWentTo.ON_THE_WORK: "onto the work",
}
"""The same in words."""
NAME_THE_DRUM: Final = (
    "It counts as waste of this month, and stands in no drum yet: say on the page of waste drums which one."
)
REST_NOT_TOLD: Final = "pot-rest-not-told"
_WORDS: Final = {words: str(value) for value, words in POT_WENT.items()} | {
    DESTINATIONS[Destination.RETURNED_TO_SUPPLIER]: Destination.RETURNED_TO_SUPPLIER.value
}
_REST: Final = "; what is in no jar: "
_SLIPS: Final = 100
"""A hundredth of what went in may be a slip of the scale, where nobody speaks of a loss."""
MOST_NOTE: Final = 2000


def note_of(words: str, went_to: str) -> str:
    """The note that a batch keeps: what somebody wrote, and where it went, which is never cut off.

    >>> note_of("too red", "into the waste drum"), note_of("", "")
    ('too red (into the waste drum)', '')
    """
    end = f" ({went_to})" if went_to else ""
    return f"{words.strip()[: MOST_NOTE - len(end)]}{end}".strip()


def rest_not_told(batch_id: int) -> str:
    """What is said where an ended batch left something in no jar, and nobody said where it went."""
    return (
        f"Nobody said where all of batch {batch_id} that is in no jar went. It counts as waste of its month, "
        f"and in the storage sums, until somebody says on the page of batch {batch_id} where it went."
    )


def went_to_of(note: str) -> str | None:
    """Where a note says that it went, as a key of `POT_WENT`; None: nobody said.

    >>> went_to_of("too red (into the waste drum)"), went_to_of("poured into the waste drum")
    ('waste-drum', None)
    """
    return _told(note)[0]


def rest_of(note: str) -> str | None:
    """Where a note says that went of which it was not said at first, as a key of `POT_WENT`.

    >>> rest_of("too red (into the waste drum; what is in no jar: onto the work)"), rest_of("(onto the work)")
    ('on-the-work', None)
    """
    return _told(note)[1]


def _told(note: str) -> tuple[str | None, str | None]:
    told = note.rpartition("(")[2]
    first, _, rest = told[:-1].partition(_REST)
    if not told.endswith(")") or first not in _WORDS:
        return None, None
    return _WORDS[first], _WORDS.get(rest)


def note_later(note: str, where: PotWentTo) -> str | None:
    """The note once somebody said later where it went; None: it cannot be said so.

    What was told at first stays. Beside waste that went elsewhere nothing goes into a waste drum by this:
    which part of the pot it was would be in no book.

    >>> note_later("too red", PotWentTo.WASTE_DRUM)
    'too red (into the waste drum)'
    >>> note_later("too red (into the waste drum)", PotWentTo.ON_THE_WORK)
    'too red (into the waste drum; what is in no jar: onto the work)'
    >>> note_later("too red (handed to the hauler)", PotWentTo.WASTE_DRUM) is None
    True
    """
    first, rest = _told(note)
    if first is None:
        return note_of(note, POT_WENT[where])
    may_be_drum = first in NO_WASTE or first == PotWentTo.WASTE_DRUM
    if rest is not None or (where is PotWentTo.WASTE_DRUM and not may_be_drum):
        return None
    words, _, told = note.rpartition("(")
    return note_of(words, f"{told[:-1]}{_REST}{POT_WENT[where]}")


@dataclass(frozen=True)
class PotPart:
    """One thing in a pot, in smallest units; ``density_g_ml`` of itself, without air between grains."""

    material_id: int
    amount: int | None
    basis: Basis
    density_g_ml: Fraction | None = None

    @property
    def mg(self) -> Fraction | None:
        return self._in(Basis.MASS)

    @property
    def ul(self) -> Fraction | None:
        return self._in(Basis.VOLUME)

    def _in(self, wanted: Basis) -> Fraction | None:
        if self.amount is None or self.basis is Basis.PIECES:
            return None
        if self.basis is wanted or not self.amount:
            return Fraction(self.amount)
        if not self.density_g_ml:
            return None
        told = Fraction(self.amount)
        return told * self.density_g_ml if wanted is Basis.MASS else told / self.density_g_ml


@dataclass(frozen=True, kw_only=True)
class PotEnd:
    """How a batch ended. ``made`` and ``lost`` None: nobody told; with an amount None: not known.

    ``jars``: what stands in jars of it.
    """

    given_up: bool
    note: str = ""
    made: PotPart | None = None
    lost: PotPart | None = None
    jars: tuple[PotPart, ...] = ()


def left_over(parts: Sequence[PotPart], back: Sequence[tuple[int, int | None]]) -> list[PotPart]:
    """What is in the pot without what was put back of it, by material; of an unknown amount all counts.

    >>> left_over([PotPart(1, 500, Basis.MASS), PotPart(1, 300, Basis.MASS)], [(1, 400)])[1].amount
    0
    """
    returned: dict[int, int] = {}
    for number, amount in back:
        returned[number] = returned.get(number, 0) + (amount or 0)
    found = []
    for part in reversed(parts):
        less = min(returned.get(part.material_id, 0), part.amount or 0)
        returned[part.material_id] = returned.get(part.material_id, 0) - less
        found.append(part if part.amount is None else replace(part, amount=part.amount - less))
    return found[::-1]


def wasted_share(parts: Sequence[PotPart], end: PotEnd) -> Fraction | None:
    """What share of a pot became waste, 0 to 1; None: not known, as where nobody told anything.

    >>> pot = [PotPart(1, 20_000, Basis.VOLUME)]
    >>> made, lost = PotPart(0, 5_000, Basis.VOLUME), PotPart(0, 10_000, Basis.VOLUME)
    >>> wasted_share(pot, PotEnd(given_up=False, made=made)), wasted_share(pot, PotEnd(given_up=False))
    (Fraction(3, 4), None)
    >>> wasted_share(pot, PotEnd(given_up=False, lost=lost)), wasted_share(pot, PotEnd(given_up=True))
    (Fraction(1, 2), Fraction(1, 1))
    """
    if end.given_up:
        return Fraction(1)
    lost = None if end.lost is None else _lost_share(parts, end.lost, end.made)
    made = None if end.made is None else _kept_share(parts, end, end.made)
    missing = None if made is None else max(Fraction(0), 1 - made)
    if went_to_of(end.note) in NO_WASTE:
        if missing is None or end.lost is None:
            return Fraction(0)
        if rest_of(end.note) in NO_WASTE:
            return Fraction(0)
        rest = missing - (lost or 0)
        return rest if rest > Fraction(1, _SLIPS) else Fraction(0)
    if end.lost is not None:
        if lost is None or missing is None:
            return lost
        return missing if missing > lost + Fraction(1, _SLIPS) else min(lost, Fraction(1))
    if end.made is None:
        return None
    if missing is None or end.note:
        return missing
    return missing if missing > Fraction(1, _SLIPS) else Fraction(0)


def may_be_more(end: PotEnd) -> bool:
    """Whether some of what a pot made is in no jar, and nobody said where it is.

    >>> made, jar = PotPart(0, 8_000, Basis.VOLUME), PotPart(0, 1_000, Basis.VOLUME)
    >>> may_be_more(PotEnd(given_up=False, made=made, jars=(jar,)))
    True
    >>> may_be_more(PotEnd(given_up=False, made=made, jars=(jar, jar), note="(onto the work)"))
    False
    """
    if end.given_up or end.made is None or went_to_of(end.note) in NO_WASTE:
        return False
    if _rest_went_there(end) or rest_of(end.note) in NO_WASTE:
        return False
    for way in ("mg", "ul"):
        made, each = getattr(end.made, way), [getattr(jar, way) for jar in end.jars]
        if made is not None and None not in each:
            return bool(made - sum(each, Fraction(0)) > made / _SLIPS)
    return True


def _rest_went_there(end: PotEnd) -> bool:
    """Whether a place of waste was told of all that is in no jar, and not of a loss alone."""
    told = went_to_of(end.note)
    all_of_it = end.lost is None or rest_of(end.note) == told
    return all_of_it and told is not None and told not in NO_WASTE


def _kept_share(parts: Sequence[PotPart], end: PotEnd, made: PotPart) -> Fraction | None:
    """What share did not become waste, as far as it is told."""
    share = _share(parts, made)
    if share is None or not _rest_went_there(end):
        return share
    each = [_share(parts, jar) for jar in end.jars]
    known = [one for one in each if one is not None]
    return min(share, sum(known, Fraction(0))) if len(known) == len(each) else None


def _share(parts: Sequence[PotPart], one: PotPart) -> Fraction | None:
    """What share of the whole pot an amount of its mix is, by what both are known in."""
    ways = (("mg", "ul") if one.basis is Basis.MASS else ("ul", "mg")) if one.amount is not None else ()
    for way in ways:
        all_of_it = [getattr(part, way) for part in parts]
        some = getattr(one, way)
        if some is not None and None not in all_of_it:
            whole = sum(all_of_it, Fraction(0))
            return min(Fraction(1), some / whole) if whole else Fraction(0)
    return None


def _lost_share(parts: Sequence[PotPart], lost: PotPart, made: PotPart | None) -> Fraction | None:
    found = _share(parts, lost)
    if found is not None or made is None or made.basis is not lost.basis:
        return found
    if made.amount is None or lost.amount is None or not made.amount + lost.amount:
        return None
    return Fraction(lost.amount, made.amount + lost.amount)


def share_of(amount: int | None, share: Fraction | None) -> int | None:
    """So much of an amount, rounded up; None where either is not known.

    >>> share_of(100, Fraction(1, 3)), share_of(100, None), share_of(None, Fraction(1))
    (34, None, None)
    """
    if amount is None or share is None:
        return None
    return -(-amount * share.numerator // share.denominator)
