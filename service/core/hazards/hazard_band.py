"""Hazard groups A to E of control banding from hazard statements, and the flag S for skin and eyes.

Doors: core/hazards/ventilation_class.py.

Sources: HSE, COSHH essentials 2017 and the ILO toolkit; the H-statement table is derived from the R-phrase
table that was read (risk_phrases.py) by the translation of CLP Annex VII; rows of ``_MEMORY`` and the skin
list are from memory. Cut-offs: the lower ones of UN GHS table 1.5.1 and CLP table 1.1, from memory.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from enum import StrEnum
from typing import Final

from service.core.findings import Finding, Severity, note, unknown
from service.core.hazards.classes import INHALED, Hazard, Route
from service.core.hazards.risk_phrases import GROUP_OF_PHRASE, SKIN_PHRASES, STRICT_PHRASES
from service.core.hazards.ventilation_reasons import GTZ, HSE, ILO, OURS, About, Reason
from service.core.sources import Provenance


class Group(StrEnum):
    """A is the least, E the most severe."""

    A = "A"
    B = "B"
    C = "C"
    D = "D"
    E = "E"


class Scheme(StrEnum):
    """Which published scheme bands the statements. They differ in H336 alone; ``worse``: the stricter."""

    HSE_2017 = "hse2017"
    ILO_ICCT = "ilo_icct"
    WORSE = "worse"


_BY_GROUP: Final = {
    Group.A: "H303 H304 H305 H313 H315 H316 H319 H320 H333 H336 EUH066 EUH070",
    Group.B: "H302 H312 H332 H371",
    Group.C: "H301 H311 H314 H317 H318 H331 H335 H370 H373 EUH071",
    Group.D: "H300 H310 H330 H351 H360 H361 H362 H372",
    Group.E: "H334 H340 H341 H350",
}
GROUP_OF_STATEMENT: Final = {code: group for group, line in _BY_GROUP.items() for code in line.split()}
ILO_INSTEAD: Final = {"H336": Group.B}
_LISTS: Final = {
    "memory": "H303 H305 H313 H316 H318 H320 H333 H336 H370 H373",
    "skin": "H310 H311 H312 H314 H315 H317 H318 H319 EUH066 EUH070",
    "skin by route": "H370 H371 H372 H373",
    "strict": "H300 H310 H330 H301 H311 H331 H334 H317 H340 H341 H350 H351 H360 H361 H362",
    # Physical, environmental and labelling statements: they are told elsewhere and band nothing.
    "no band": "EUH001 EUH006 EUH014 EUH018 EUH019 EUH044 EUH059 EUH201 EUH201A EUH202 EUH203 EUH204 EUH205 "
    "EUH206 EUH207 EUH208 EUH209 EUH209A EUH210 EUH211 EUH212 EUH401 EUH430 EUH431 EUH440 EUH441 EUH450 "
    "EUH451",
}
_MEMORY, _SKIN, _SKIN_BY_ROUTE, _STRICT, _NO_BAND = (frozenset(line.split()) for line in _LISTS.values())
_OWN: Final = frozenset({"EUH070", "EUH071"})
_GIVES_OFF: Final = {
    "EUH029": "contact with water frees toxic gas",
    "EUH031": "contact with acids frees toxic gas",
    "EUH032": "contact with acids frees very toxic gas",
    "EUH206": "it may free chlorine: never together with other products",
}
CUT_OFF_SOURCE: Final = "UN GHS table 1.5.1, CLP Annex I table 1.1"


@dataclass(frozen=True)
class Statements:
    """What is said of the hazards of one thing. A thing of which nobody knows them has none of these.

    Args:
        codes: H- and EUH-statements, letters after them allowed; empty with ``complete``: examined, none.
        by_skin, by_other: STOT statements of which a sheet says that they come through the skin, or by
            another way alone.
        brought_by: of a mix, which of its substances bring a statement.
        complete: False where a part of what is known is missing; then it is a lower bound.
    """

    codes: tuple[str, ...] = ()
    phrases: tuple[str, ...] = ()
    by_skin: frozenset[str] = frozenset()
    by_other: frozenset[str] = frozenset()
    complete: bool = True
    brought_by: tuple[tuple[str, str], ...] = ()


@dataclass(frozen=True)
class Banded:
    """``group`` None: not known; ``at_least`` is then C or worse. ``skin`` None: not known."""

    group: Group | None
    at_least: Group
    skin: bool | None
    because: tuple[Reason, ...]
    findings: tuple[Finding, ...] = ()


def statements_of(
    hazards: Sequence[Hazard], supplements: Sequence[str] = (), phrases: Sequence[str] = ()
) -> Statements:
    """Hazard classes as the banding reads them: their codes, and by which way the STOT classes come."""
    codes = tuple(dict.fromkeys([*(one.code for one in hazards if one.code), *supplements]))
    by_skin = frozenset(one.code for one in hazards if one.route is Route.DERMAL)
    others = {Route.ORAL, *INHALED}
    return Statements(codes, tuple(phrases), by_skin, frozenset(h.code for h in hazards if h.route in others))


def rank(group: Group) -> int:
    """0 for A to 4 for E."""
    return "ABCDE".index(group.value)


def worse_group(*groups: Group) -> Group:
    """The most severe of several.

    >>> worse_group(Group.A, Group.D, Group.B).value
    'D'
    """
    return max(groups, key=rank)


def cut_off_percent(code: str) -> float:
    """From which share by mass a statement of a component counts for the mix.

    >>> cut_off_percent("H350i"), cut_off_percent("H302")
    (0.1, 1.0)
    """
    return 0.1 if stem(code) in _STRICT or code in STRICT_PHRASES else 1.0


def stem(code: str) -> str:
    """The statement without the letters after it: H361fd is H361, EUH066 stays.

    >>> stem("H360Fd"), stem("EUH066")
    ('H360', 'EUH066')
    """
    return code[:4] if code.startswith("H") else code


def band(said: Statements | None, scheme: Scheme, name: str, share: float | None = None) -> Banded:
    """The group of one thing by its most severe statement, as section 2.6 of the schemes has it.

    Args:
        share: upper per cent by mass in the mix; statements below their cut-off do not count. None: it is the
            whole, or its share cannot be worked out; everything counts.

    >>> band(Statements(("H361d", "H336")), Scheme.HSE_2017, "toluene").group.value
    'D'
    """
    if said is None:
        sentence = (
            f"The hazards of {name} are not known. They count as group C at the least, and give no class: "
            "copy section 2 of its sheet, “examined, none” is an answer too."
        )
        missing = Reason(About.GROUP, sentence, OURS, Provenance.DERIVED, component=name)
        return Banded(
            None, Group.C, None, (missing,), (unknown("hazards-not-known", sentence, OURS, about=name),)
        )
    groups = [Group.A]
    because: list[Reason] = []
    findings: list[Finding] = []
    strange = False
    for code in (*said.codes, *said.phrases):
        if share is not None and share < cut_off_percent(code):
            because.append(_below(code, name, share))
            continue
        mapped, reason, lack = _of_code(code, scheme, name)
        findings += lack
        strange = strange or any(one.severity is Severity.UNKNOWN for one in lack)
        if mapped is not None and reason is not None:
            groups.append(mapped)
            because.append(_with_bringer(reason, said, name))
    group = worse_group(*groups)
    skin, skin_reasons = _skin(said, name)
    kept = [one for one in because if one.cell == group.value or not one.cell]
    if len(groups) == 1:
        kept.append(_catch_all(name))
    if strange or not said.complete:
        findings += _partly(said, name)
        kept.append(Reason(About.GROUP, _PART_KNOWN.format(name), OURS, Provenance.DERIVED, component=name))
        known = group if group is Group.E else None
        return Banded(
            known, worse_group(group, Group.C), skin or None, (*kept, *skin_reasons), tuple(findings)
        )
    return Banded(group, group, skin, (*kept, *skin_reasons), tuple(findings))


_PART_KNOWN: Final = "Not all that is dangerous in {0} is known: it counts as group C at the least."


def _partly(said: Statements, name: str) -> list[Finding]:
    if said.complete:
        return []
    sentence = _PART_KNOWN.format(name) + " A class is given when the rest is known."
    return [unknown("hazards-not-all-known", sentence, OURS, about=name)]


def _of_code(code: str, scheme: Scheme, name: str) -> tuple[Group | None, Reason | None, list[Finding]]:
    """The group a code maps to. A code of no table gives a finding and nothing else; one that does not band
    gives nothing."""
    bare = stem(code)
    if code in GROUP_OF_PHRASE:
        group = Group(GROUP_OF_PHRASE[code])
        return group, _mapped(code, group, name, GTZ, Provenance.READ), []
    if bare in GROUP_OF_STATEMENT:
        return _of_statement(code, bare, scheme, name)
    if bare in _GIVES_OFF:
        sentence = f"{name} carries {code}: {_GIVES_OFF[bare]}. No hazard group tells of that gas."
        return None, None, [note("gives-off-gas", sentence, OURS, about=name)]
    if code.startswith("R") or bare[:2] in ("H2", "H4") or bare in _NO_BAND:
        return None, None, []
    sentence = f"{name} carries {code}, which stands in no table of hazard groups. Ask somebody who knows."
    return None, None, [unknown("statement-not-banded", sentence, HSE, about=name)]


def _of_statement(code: str, bare: str, scheme: Scheme, name: str) -> tuple[Group, Reason, list[Finding]]:
    hse = GROUP_OF_STATEMENT[bare]
    ilo = ILO_INSTEAD.get(bare, hse)
    group = {Scheme.HSE_2017: hse, Scheme.ILO_ICCT: ilo}.get(scheme, worse_group(hse, ilo))
    grade = Provenance.MEMORY if bare in _MEMORY else Provenance.DERIVED
    if bare in _OWN:
        return group, _mapped(code, group, name, OURS, Provenance.DERIVED), []
    source = ILO if scheme is Scheme.ILO_ICCT else HSE
    reason = _mapped(code, group, name, source, grade)
    if hse is not ilo and scheme is Scheme.WORSE:
        words = f"{code} of {name} is group {hse} by HSE, {ilo} by the ILO toolkit (R67): the worse counts."
        reason = Reason(About.GROUP, words, f"{HSE}; {GTZ}", grade, code, name, cell=group.value)
    return group, reason, []


def _mapped(code: str, group: Group, name: str, source: str, grade: Provenance) -> Reason:
    words = f"{code} of {name} is hazard group {group}."
    return Reason(About.GROUP, words, source, grade, code, name, cell=group.value)


def _with_bringer(reason: Reason, said: Statements, name: str) -> Reason:
    """A statement of a mix also names the substance that brings it."""
    by = dict(said.brought_by).get(reason.statement, "")
    if not by or by == name:
        return reason
    mine = f"{reason.statement} of {name}"
    words = reason.sentence.replace(mine, f"{mine}, brought by {by},", 1)
    return replace(reason, sentence=words, component=by)


def _catch_all(name: str) -> Reason:
    words = f"No statement of {name} puts it in another group: all other dusts and vapours are group A."
    return Reason(About.GROUP, words, GTZ, Provenance.READ, component=name, cell=Group.A.value)


def _below(code: str, name: str, share: float) -> Reason:
    words = (
        f"{code} of {name} does not count: {share:.3g} % is below its cut-off of {cut_off_percent(code):g} %."
    )
    return Reason(
        About.GROUP, words, CUT_OFF_SOURCE, Provenance.MEMORY, code, name, "share", round(share, 6), "%"
    )


def _skin(said: Statements, name: str) -> tuple[bool | None, list[Reason]]:
    """Every statement counts, whatever its share: gloves cost little."""
    stems = {code: stem(code) for code in said.codes}
    driving = [code for code, bare in stems.items() if bare in _SKIN or code in said.by_skin]
    driving += [phrase for phrase in said.phrases if phrase in SKIN_PHRASES]
    if driving:
        words = f"{', '.join(driving)} of {name}: skin and eyes need protection of their own."
        return True, [Reason(About.SKIN, words, HSE, Provenance.MEMORY, driving[0], name)]
    silent = [c for c, bare in stems.items() if bare in _SKIN_BY_ROUTE and c not in said.by_other]
    if silent:
        words = (
            f"{', '.join(silent)} of {name} does not say by which way: whether skin counts is not known. "
            "Wear gloves."
        )
        return None, [Reason(About.SKIN, words, HSE, Provenance.MEMORY, silent[0], name)]
    return False, []
