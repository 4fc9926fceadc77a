"""F codes: spent solvent, by what was in it before it was used.

Doors: core/waste_codes.py.

F001, F002, F004 and F005 from 10 % by volume together; F003 where nothing else was in it, or with those 10 %.
A share that is not told, a rest that is not told and a name we do not know may each be a listed solvent.
"""

from __future__ import annotations

from collections.abc import Iterable
from fractions import Fraction
from typing import Final

from service.core.waste_rules import CodeRow, Test, WasteTables, plain
from service.core.waste_streams import Code, Stream, figure, say_span

_MOST_PERCENT: Final = Fraction(100)


def solvent_codes(tables: WasteTables, stream: Stream) -> Iterable[Code]:
    """F codes: only of spent solvent, by what was in it before use."""
    share_row, only_row = tables.tests(Test.SOLVENT_SHARE)[0], tables.tests(Test.SOLVENT_ONLY)[0]
    everything = (*share_row.codes, *only_row.codes)
    if stream.spent is False:
        why = "It is no spent solvent: what a paint or another product holds is not listed by this."
        for code in everything:
            yield Code(code, False, why, (share_row,))
        return
    if not stream.parts:
        if stream.spent:
            for code in everything:
                yield Code(code, None, "What it held before use is not known.", (share_row,))
        return
    yield from _by_share(tables, stream, share_row, only_row)


def _by_share(tables: WasteTables, stream: Stream, share: CodeRow, only: CodeRow) -> Iterable[Code]:
    bound = figure(share)
    low, high = _sums(stream, share)
    for code in share.codes:
        named = [one for one in stream.parts if code in one.codes]
        may = bool(named) or _rest_open(stream)
        meets: bool | None = False
        if may and high >= bound:
            meets = True if named and low >= bound else None
        yield _spent(
            code, meets, stream, f"Listed solvents were {say_span(low, high)} % of it before use.", share
        )
    yield _spent(
        only.codes[0], _f003(stream, only, bound, low, high), stream, "By what it held before use.", only
    )


def _f003(stream: Stream, only: CodeRow, bound: Fraction, low: Fraction, high: Fraction) -> bool | None:
    """Only solvents of F003 (water aside), or some of them with 10 % or more of the others listed."""
    mine = [one for one in stream.parts if only.codes[0] in one.codes]
    others = [one for one in stream.parts if one not in mine and one.high > 0 and plain(one.name) != "water"]
    open_end = _rest_open(stream)
    alone: bool | None = bool(mine)
    if any(one.known and one.low > 0 for one in others):
        alone = False
    elif others or open_end:
        alone = None
    present = True if any(one.low > 0 for one in mine) else None if mine or open_end else False
    share = True if low >= bound else None if high >= bound else False
    both = False if False in (present, share) else None if None in (present, share) else True
    return True if True in (alone, both) else None if None in (alone, both) else False


def _spent(code: str, meets: bool | None, stream: Stream, why: str, row: CodeRow) -> Code:
    if stream.spent is None and meets is not False:
        return Code(code, None, f"{why} Whether it was used as a solvent is not known.", (row,))
    return Code(code, meets, why, (row,))


def _sums(stream: Stream, share: CodeRow) -> tuple[Fraction, Fraction]:
    """The least and most of the solvents that count toward 10 %; what is not told may be one of them."""
    counted = [one for one in stream.parts if one.codes & set(share.codes)]
    low, high = (
        sum((one.low for one in counted), Fraction(0)),
        sum((one.high for one in counted), Fraction(0)),
    )
    high += sum((one.high for one in stream.parts if not one.known), Fraction(0))
    rest = _MOST_PERCENT - sum((one.low for one in stream.parts), Fraction(0))
    return low, min(_MOST_PERCENT, high + max(Fraction(0), rest - _spread(stream)))


def _spread(stream: Stream) -> Fraction:
    """How much the told parts themselves may take up above their least."""
    return sum((one.high - one.low for one in stream.parts), Fraction(0))


def _rest_open(stream: Stream) -> bool:
    """Whether a part is of a name we do not know, or less than 100 % was told."""
    told = sum((one.high for one in stream.parts), Fraction(0))
    return told < _MOST_PERCENT or any(not one.known for one in stream.parts)
