"""Colour samples: how a board came out, and what stands on it, step by step.

Doors: records/samples.py, actions/start_sample.py, actions/judge_sample.py, web/pages/samples.py.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import ROUND_HALF_UP, Decimal
from enum import StrEnum
from fractions import Fraction
from typing import Final

from service.core.batch import Part, mass_of
from service.core.findings import Invalid
from service.core.materials import Basis, Unknown

MOST_COATS: Final = 20


class SampleVerdict(StrEnum):
    """How the dry board came out beside the target. A person says it; nothing here measures a colour."""

    MATCH = "match"
    CLOSE = "close"
    OFF = "off"


VERDICT_WORDS: Final = {
    SampleVerdict.MATCH: "It matches",
    SampleVerdict.CLOSE: "Close",
    SampleVerdict.OFF: "Off",
}


@dataclass(frozen=True)
class Board:
    """The piece of wood. ``grit`` is the last it was sanded with, as written; ``coats`` None = not said."""

    wood: str
    grit: str = ""
    sealed: Unknown = Unknown.NOT_KNOWN
    sealed_with: str = ""
    coats: int | None = None


def judge_board(board: Board) -> Board:
    """The board as it is kept: spaces tidied, nothing guessed.

    Raises Invalid (fields ``wood``, ``sealed_with``, ``coats``, ``grit``): no wood, a sealer on bare wood,
    more than 20 coats.

    >>> judge_board(Board(" ash ", "P180", Unknown.YES, "thin shellac")).wood
    'ash'
    """
    wood, grit, sealer = (" ".join(text.split()) for text in (board.wood, board.grit, board.sealed_with))
    errors: dict[str, str] = {}
    if not 0 < len(wood) <= 120:
        errors["wood"] = "Say which wood the board is, in at most 120 letters."
    if len(grit) > 40:
        errors["grit"] = "Write the last grit in at most 40 letters, like P180."
    if len(sealer) > 120:
        errors["sealed_with"] = "Say in at most 120 letters what it is sealed with."
    if sealer and board.sealed is not Unknown.YES:
        errors["sealed_with"] = "Say that the board is sealed, or leave this empty."
    if board.coats is not None and not 1 <= board.coats <= MOST_COATS:
        errors["coats"] = f"Enter the coats from 1 to {MOST_COATS}, or leave it empty."
    if errors:
        raise Invalid(next(iter(errors.values())), errors)
    return Board(wood, grit, board.sealed, sealer, board.coats)


def board_words(board: Board) -> str:
    """The board in one line.

    >>> board_words(Board("ash", "P180", Unknown.NO, coats=2))
    'ash, sanded to P180, not sealed, 2 coats'
    """
    said = [board.wood, f"sanded to {board.grit}" if board.grit else "grit not known"]
    if board.sealed is Unknown.YES:
        said.append(f"sealed with {board.sealed_with}" if board.sealed_with else "sealed")
    else:
        said.append("not sealed" if board.sealed is Unknown.NO else "sealed or not is not known")
    if board.coats is None:
        said.append("coats not known")
    else:
        said.append("1 coat" if board.coats == 1 else f"{board.coats} coats")
    return ", ".join(said)


def name_of(target: str) -> str:
    """The name of the recipe that a sample becomes: its target, at most 120 letters, cut between words.

    >>> name_of("door of the walnut chest")
    'door of the walnut chest'
    """
    bare = " ".join(target.split())
    if not bare or len(target) > 500:
        words = "Say in at most 500 letters what colour is to be met."
        raise Invalid(words, {"target": words})
    if len(bare) <= 120:
        return bare
    cut = bare[:119].rsplit(" ", 1)[0]
    return f"{cut}…"


@dataclass(frozen=True)
class Step:
    """One addition as it went in. ``mass_mg`` None: its mass is not known.

    ``total_mg`` is what is known of everything up to here; ``at_least`` when something in it is not known.
    ``percent`` is this addition's share of the whole by mass, one decimal; None while anything is not known.
    """

    mass_mg: int | None
    total_mg: int
    at_least: bool
    percent: Decimal | None


def steps(parts: Sequence[Part]) -> list[Step]:
    """The additions in their order, each with the running total and its share of the whole by mass.

    >>> oil = Part("oil", 1000, Basis.VOLUME, Decimal("0.9"))
    >>> [(s.total_mg, s.percent) for s in steps([oil, Part("umber", 100, Basis.MASS)])]
    [(900, Decimal('90.0')), (1000, Decimal('10.0'))]
    """
    masses = [None if part.basis is Basis.PIECES else mass_of(part) for part in parts]
    whole = sum(mass or 0 for mass in masses)
    complete = whole > 0 and None not in masses
    found, total, at_least = [], 0, False
    for mass in masses:
        total, at_least = total + (mass or 0), at_least or mass is None
        share = percent_of(Fraction(mass, whole)) if complete and mass is not None else None
        found.append(Step(mass, total, at_least, share))
    return found


def percent_of(share: Fraction) -> Decimal:
    """A share of the whole in per cent, to one decimal, halves up; below one per cent to two figures.

    >>> percent_of(Fraction(1, 3)), percent_of(Fraction(1, 1500))
    (Decimal('33.3'), Decimal('0.067'))
    """
    exact = share * 100
    places = 1
    while 0 < abs(exact) * 10**places < 10 and places < 6:
        places += 1
    figure = Decimal(exact.numerator) / Decimal(exact.denominator)
    return figure.quantize(Decimal(1).scaleb(-places), rounding=ROUND_HALF_UP)
