"""Which US waste codes a stream of waste has, may have, and which were looked at and do not hold.

Doors: web/api/calc_waste.py.

A code holds, does not hold, or is not known; not known is never "does not". Flash points are compared in the
unit they were written in (60 °C, 140 °F); a calculated one counts 5 °C lower. A code whose row is from memory
says so: it is a reason to ask, and its absence proves nothing.
"""

from __future__ import annotations

from collections.abc import Iterable

from service.core.findings import Finding, note, unknown, warn
from service.core.material_facts import FlashMethod
from service.core.storage_categories import MARGIN_C
from service.core.storage_ladders import Temperature
from service.core.waste_metals import MAY_BE, NOT_TOLD, metal_rows, metals_named, say_run
from service.core.waste_rules import CodeRow, Test, WasteTables, plain
from service.core.waste_solvents import solvent_codes
from service.core.waste_streams import Code, JudgedStream, Screened, Stream, figure, say_number


def judge_stream(tables: WasteTables, stream: Stream) -> JudgedStream:
    """Every test that the stream's facts allow, and a finding for each fact that is missing.

    Raises:
        ValueError: a substance of the leaching test that no row is held for.
    """
    screened = tuple(_screened(tables, stream))
    solvent = solvent_codes(tables, stream)
    codes = _merged([
        *_ignitable(tables, stream), *_corrosive(tables, stream),
        *_leached(tables, stream, screened), *solvent,
    ])  # fmt: skip
    f_codes = [one.applies for one in codes if one.code.startswith("F")]
    listed = True if True in f_codes else None if None in f_codes else False
    return JudgedStream(stream, codes, screened, listed, tuple(_findings(stream, codes)))


def _merged(codes: Iterable[Code]) -> tuple[Code, ...]:
    """One answer for each code: it holds if any test says so, and does not only if all say so."""
    by_code: dict[str, list[Code]] = {}
    for one in codes:
        by_code.setdefault(one.code, []).append(one)
    found = []
    for code, many in sorted(by_code.items()):
        for applies in (True, None, False):
            these = [one for one in many if one.applies is applies]
            if these:
                rows = tuple(dict.fromkeys(row for one in these for row in one.rows))
                found.append(Code(code, applies, " ".join(dict.fromkeys(one.why for one in these)), rows))
                break
    return tuple(found)


def _ignitable(tables: WasteTables, stream: Stream) -> Iterable[Code]:
    if stream.liquid is not False:
        for row in tables.tests(Test.FLASH_BELOW):
            applies, why = _flash(row, stream)
            yield from _coded(row, applies, why)
    if stream.liquid is not True:
        for row in tables.tests(Test.BURNS_BY_ITSELF):
            said = stream.self_heating
            why = (
                "It can heat itself."
                if said
                else "It was not said whether it can heat itself or be lit by rubbing."
            )
            yield from _coded(row, said, why if said is not False else "It is said not to heat itself.")
    for row in tables.tests(Test.OXIDIZER):
        if stream.oxidizer:
            yield from _coded(row, True, "It is an oxidiser.")


def _flash(row: CodeRow, stream: Stream) -> tuple[bool | None, str]:
    limit = Temperature(figure(row), row.unit)
    if stream.no_flash_point:
        return False, "It was examined and has no flash point."
    if stream.flash is None:
        return None, "Its flash point is not known."
    flash, said = stream.flash, _degrees(stream.flash)
    if stream.flash_method is FlashMethod.CALCULATED:
        flash, said = flash.lowered_c(MARGIN_C), f"{said} by calculation, 5 °C taken off"
    bound = _degrees(Temperature(limit.in_unit(flash.unit), flash.unit))
    if flash.value < limit.in_unit(flash.unit):
        return True, f"Its flash point ({said}) is below {bound}."
    if stream.flash_method is FlashMethod.OPEN_CUP:
        return (
            None,
            f"Its flash point ({said}) is by open cup, which reads higher than the closed cup asked for.",
        )
    return False, f"Its flash point ({said}) is not below {bound}."


def _corrosive(tables: WasteTables, stream: Stream) -> Iterable[Code]:
    for row in (*tables.tests(Test.PH_MOST), *tables.tests(Test.PH_LEAST)):
        bound = figure(row)
        if stream.liquid is False:
            yield from _coded(row, False, "It is no liquid.")
            continue
        if stream.ph is None:
            yield from _coded(row, None, "Its pH is not known.")
            continue
        meets = stream.ph <= bound if row.test is Test.PH_MOST else stream.ph >= bound
        yield from _coded(row, meets, f"Its pH is {say_number(stream.ph)}.")


def _screened(tables: WasteTables, stream: Stream) -> Iterable[Screened]:
    share = next(iter(tables.tests(Test.SCREEN)))
    for name, content in stream.content.items():
        row = leaching_row(tables, name)
        if content is not None:
            most = content / figure(share)
            yield Screened(row.substance, most, most >= figure(row), row.codes[0])


def _leached(tables: WasteTables, stream: Stream, screened: tuple[Screened, ...]) -> Iterable[Code]:
    """A measured leachate decides; without one the whole content may rule a code out, never in."""
    measured = set()
    for name, found in stream.leached.items():
        row = leaching_row(tables, name)
        measured.add(row.substance)
        if found is None:
            yield from _coded(row, None, f"{row.substance.capitalize()} in the leachate is not known.")
            continue
        limit = f"{say_number(figure(row))} mg/l"
        meets = found >= figure(row)
        yield from _coded(
            row, meets, f"{row.substance.capitalize()} {say_number(found)} mg/l against {limit}."
        )
    by_name = {one.substance: one for one in screened}
    for name in stream.content:
        row = leaching_row(tables, name)
        one = by_name.get(row.substance)
        if row.substance in measured:
            continue
        if one is None:
            yield from _coded(row, None, f"How much {row.substance} is in it is not known.")
        elif one.can_fail:
            why = f"Its {row.substance} could reach {say_number(one.most_mg_l)} mg/l. Have it leached."
            yield from _coded(row, None, why)
        else:
            why = f"Its {row.substance} cannot reach more than {say_number(one.most_mg_l)} mg/l."
            yield Code(row.codes[0], False, why, (row, *tables.tests(Test.SCREEN)))
    told = measured | {leaching_row(tables, name).substance for name in stream.content}
    yield from _metals_not_told(tables, stream, told)


def _metals_not_told(tables: WasteTables, stream: Stream, told: set[str]) -> Iterable[Code]:
    """Metals of which nobody gave a figure: words that name one count against a word that none is in it."""
    parts = " ".join(one.name for one in stream.parts)
    named = metals_named(f"{stream.name} {stream.words} {parts}")
    for row in metal_rows(tables):
        if row.substance in told:
            continue
        word = named.get(row.substance)
        if word is not None:
            yield from _coded(row, None, f"“{word}” may stand for {row.substance}. Have it leached.")
        elif stream.metals is False:
            yield from _coded(row, False, "It is said to hold no metals of pigments or driers.")
        else:
            yield from _coded(row, None, NOT_TOLD if stream.metals is None else MAY_BE)


def leaching_row(tables: WasteTables, name: str) -> CodeRow:
    """The row of a substance of the leaching test, by its name, symbol or CAS number."""
    for row in tables.tests(Test.TCLP):
        if plain(name) in row.also:
            return row
    raise ValueError(f"no row of the leaching test is held for {name[:60]}")


def _findings(stream: Stream, codes: tuple[Code, ...]) -> Iterable[Finding]:
    about = stream.name
    missing = [
        words
        for words, told in (
            ("whether it is a liquid", stream.liquid is not None or stream.flash is not None),
            ("its flash point", stream.flash is not None or stream.no_flash_point or stream.liquid is False),
            ("whether it is spent solvent", stream.spent is not None),
            ("its pH", stream.ph is not None or stream.liquid is False),
            (
                "metals by the leaching test",
                bool(stream.leached or stream.content) or stream.metals is False,
            ),
        )
        if not told
    ]
    if missing:
        words = (
            f"{about}: {', '.join(missing)} not told, so codes of it were not judged. No code is no proof."
        )
        yield unknown("waste-not-judged", words, about=about)
    unsure: dict[tuple[str, str], list[str]] = {}
    for one in codes:
        if one.applies is None:
            cited = "; ".join(dict.fromkeys(row.citation for row in one.rows))
            unsure.setdefault((one.why, cited), []).append(one.code)
    for (why, cited), many in unsure.items():
        are = "is" if len(many) == 1 else "are"
        words = f"{about}: {say_run(many)} {are} not known. {why}"
        yield unknown("waste-code-not-known", words, cited, about)
    for one in codes:
        cited = "; ".join(dict.fromkeys(row.citation for row in one.rows))
        if one.applies and not one.read:
            words = f"{about}: {one.code}. {one.why} The row of this code is from memory: check it."
            yield warn("waste-code-from-memory", words, cited, about)
        elif one.applies:
            yield note("waste-code", f"{about}: {one.code}. {one.why}", cited, about)
    if stream.spent is False:
        words = f"{about}: solvent in a paint or other product is not spent solvent; it may still be D001."
        yield note("waste-paint-not-spent", words, "EPA letter, 1985", about)


def _coded(row: CodeRow, applies: bool | None, why: str) -> Iterable[Code]:
    yield Code(row.codes[0], applies, why, (row,))


def _degrees(told: Temperature) -> str:
    return f"{say_number(told.value)} °{told.unit}"
