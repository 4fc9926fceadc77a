"""Hazards in words and rows, for the page of a material, of a mix and of a recipe.

What nobody has said is "not known" in every cell, never empty and never "none".
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from decimal import Decimal
from typing import Any, Final

from service.actions.judge_hazards import JudgedHazards, Part
from service.actions.label_judged import label_of_judged
from service.core.component_lines import Component
from service.core.findings import Severity, Verdict
from service.core.hazards.classes import Hazard
from service.core.hazards.filled_gaps import filled
from service.core.hazards.label import LabelFor
from service.core.hazards.mix import HUNDRED, Audience
from service.core.hazards.reasons import Because, shown
from service.core.hazards.regimes import RULES, Regime
from service.core.hazards.statements import Statement
from service.core.sources import GRADE_WORDS, Provenance
from service.records.knowledge import load_sources
from service.records.knowledge_compositions import CompositionLine, Role
from service.records.substance_facts import listed
from service.web.render import number

LAW_WORDS: Final = {
    Regime.US_HCS: "US law (29 CFR 1910.1200)",
    Regime.EU_CLP: "EU law (CLP)",
    Regime.UN_GHS: "UN GHS itself",
}
COMPARED: Final = [
    {"key": "counts", "label": "What counts"},
    {"key": "supplier", "label": "Supplier's sheet"},
    {"key": "ours", "label": "Our calculation"},
    {"key": "how", "label": "Difference"},
]
REASONS: Final = [
    {"key": "rule", "label": "Rule"},
    {"key": "paragraph", "label": "Paragraph"},
    {"key": "ingredients", "label": "From"},
    {"key": "sum", "label": "Sum or figure", "number": True},
    {"key": "limit", "label": "Limit", "number": True},
]
ESTIMATES: Final = [
    {"key": "route", "label": "Way into the body"},
    {"key": "value", "label": "Estimate of the whole", "number": True},
    {"key": "entries", "label": "From: share / estimate"},
    {"key": "unknown", "label": "Not known", "number": True},
]
PARTS: Final = [
    {"key": "name", "label": "Substance"},
    {"key": "cas", "label": "CAS number"},
    {"key": "share", "label": "Per cent by mass", "number": True},
    {"key": "classes", "label": "Classes, and who says so"},
    {"key": "source", "label": "Source of the share"},
]
MIX_PARTS: Final = [
    {"key": "name", "label": "Substance"},
    {"key": "cas", "label": "CAS number"},
    {"key": "share", "label": "Per cent of the mix", "number": True},
    {"key": "classes", "label": "Classes that were reckoned with"},
]
MIX_ROWS: Final = [
    {"key": "name", "label": "Material"},
    {"key": "written", "label": "As written"},
    {"key": "share", "label": "Per cent by mass", "number": True},
]
MIX_COLUMNS: Final = {"reasons": REASONS, "estimates": ESTIMATES, "parts": MIX_PARTS, "rows": MIX_ROWS}
_ROUTES: Final = {
    "oral": "swallowed",
    "dermal": "through the skin",
    "gas": "gas, breathed in",
    "vapour": "vapour, breathed in",
    "dust_mist": "dust or mist, breathed in",
    "inhalation": "breathed in",
}
_ROLES: Final = {
    Role.IMPURITY: "an impurity",
    Role.ONE_OF: "one of several; nobody says which",
    Role.WITHIN: "inside the main substance, not added",
}


@dataclass(frozen=True)
class HazardView:
    """What a page shows of judged hazards; ``lacks`` counts what is missing, 0 only when complete."""

    law: str
    lacks: int
    verdict: Verdict
    signal: str
    pictograms: tuple[str, ...]
    statements: tuple[Statement, ...]
    precautions: tuple[Statement, ...]
    supplemental: tuple[Statement, ...]
    contains: tuple[str, ...]
    says: str
    compared: list[dict[str, Any]]
    differences: int
    reasons: list[dict[str, Any]]
    below: list[dict[str, Any]]
    estimates: list[dict[str, Any]]
    parts: list[dict[str, Any]]

    @property
    def complete(self) -> bool:
        return self.lacks == 0


def view_hazards(judged: JudgedHazards, *, whole: bool) -> HazardView:
    """Judged hazards as a page shows them.

    Args:
        whole: a material as bought, with its supplier's view beside ours; False: a mix.
    """
    label = label_of_judged(judged, volume_ml=None, audience=Audience.PUBLIC, label_for=LabelFor.SUPPLY)
    lacks = sum(one.severity is Severity.UNKNOWN for one in judged.verdict)
    codes = [one.code for one in label.hazard_statements]
    return HazardView(
        law=RULES[judged.regime].title,
        lacks=lacks,
        verdict=Verdict.of(replace(one, about="") for one in judged.verdict) if whole else judged.verdict,
        signal=label.signal_word.value if label.signal_word else "",
        pictograms=label.pictograms,
        statements=label.hazard_statements,
        precautions=tuple(filled(one, codes) for one in label.precautionary_statements),
        supplemental=label.supplemental,
        contains=label.contains,
        says=_says(judged, lacks, whole=whole),
        compared=_compared(judged) if whole else [],
        differences=len(judged.differences),
        reasons=[_reason(judged, one.hazard, one.because, whole=whole) for one in judged.classes],
        below=[_because(one) for one in judged.ours.below],
        estimates=[
            {
                "route": _ROUTES[one.route.value],
                "value": None if one.value is None else f"{number(one.value)} {one.unit}",
                "entries": {"lines": [
                    f"{name}: {_percent(share)} / {number(to_read(ate))}" for name, share, ate in one.entries
                ]},
                "unknown": _percent(one.unknown_percent),
            }
            for one in judged.ours.acute.estimates
        ],
        parts=_parts(judged) if whole else _mix_parts(judged),
    )  # fmt: skip


def class_words(hazard: Hazard) -> str:
    """A class as a page writes it.

    >>> from service.core.hazards.read_class import read_class
    >>> class_words(read_class("Acute Tox. 3 dust_mist").hazards[0])
    'Acute Tox. 3 dust or mist H331'
    """
    return plain_class(hazard.text)


def plain_class(words: str) -> str:
    """A written class or rule in words of the bench."""
    return words.replace("dust_mist", "dust or mist")


def _says(judged: JudgedHazards, lacks: int, *, whole: bool) -> str:
    """The first sentence of the page. Without a class it never reads as harmless."""
    if judged.classes:
        return "" if not lacks else "This is what is known so far. What is missing below can add to it."
    if lacks:
        return "No hazard class is known. That is not the same as none: read below what is missing."
    if whole and any(one.code == "composition-not-known" for one in judged.verdict):
        return "The sheet names no hazard class. What it is made of is not known: nothing was worked out."
    if whole:
        return "The supplier's sheet names no hazard class, and our calculation found none."
    return "Our calculation found no hazard class for this mix."


def _compared(judged: JudgedHazards) -> list[dict[str, Any]]:
    theirs = {hazard.kind: hazard for hazard in reversed(judged.supplier or ())}
    mine = {one.hazard.kind: one.hazard for one in judged.ours.classes}
    hows = {(d.supplier or d.ours).kind: d for d in judged.differences if d.supplier or d.ours}  # type: ignore[union-attr]
    # Who says nothing of a kind has said "none" only where that side knows everything.
    no_supplier = None if judged.supplier is None else "not named"
    no_ours = "not reached" if judged.ours.verdict.complete else None
    rows = []
    for one in judged.classes:
        kind = one.hazard.kind
        told, counted, how = theirs.get(kind), mine.get(kind), hows.get(kind)
        told = how.supplier if how and how.supplier else told
        rows.append(
            {
                "counts": class_words(one.hazard),
                "supplier": class_words(told) if told else no_supplier,
                "ours": class_words(counted) if counted else no_ours,
                "how": how.how.value if how else "none",
            }
        )
    return rows


def _reason(
    judged: JudgedHazards, hazard: Hazard, because: Sequence[Because], *, whole: bool
) -> dict[str, Any]:
    return {
        "title": class_words(hazard),
        "whose": _whose(judged, hazard) if whole else "calculated",
        "rows": [_because(one) for one in because],
    }


def _whose(judged: JudgedHazards, hazard: Hazard) -> str:
    told = any(one.kind == hazard.kind for one in judged.supplier or ())
    counted = any(one.kind == hazard.kind for one in judged.ours.hazards)
    if told and counted:
        return "supplier's and calculated"
    return "supplier's" if told else "calculated"


def _because(one: Because) -> dict[str, Any]:
    unverified = (
        "" if one.provenance is Provenance.READ else f" ({one.provenance.value}, not read in the source)"
    )
    return {
        "rule": plain_class(one.rule),
        "paragraph": f"{one.paragraph}{unverified}" or "–",
        "ingredients": {"lines": list(one.ingredients)} if one.ingredients else "–",
        "sum": _figure(one.sum, one.unit, one.limit),
        "limit": _figure(one.limit, one.unit),
    }


def _figure(value: Decimal | None, unit: str, beside: Decimal | None = None) -> str:
    if value is None:
        return "–"
    return f"{number(to_read(value, beside))} {unit}".rstrip()


def _percent(value: Decimal) -> str:
    return f"{number(to_read(value))} %"


def to_read(value: Decimal, beside: Decimal | None = None) -> Decimal:
    """A figure in three digits; in more where rounding would put it on ``beside``, or past it.

    >>> to_read(Decimal("69.3704")), to_read(Decimal("0.55032138")), to_read(Decimal("12500"))
    (Decimal('69.4'), Decimal('0.55'), Decimal('12500'))
    >>> to_read(Decimal("4.9996"), Decimal(5))
    Decimal('4.9996')
    """
    whole = shown(value)
    assert whole is not None
    if not whole:
        return whole
    short = round(whole, max(2 - whole.adjusted(), 0))
    if beside is not None and (short >= beside, short > beside) != (value >= beside, value > beside):
        return whole
    return short.normalize() if short != short.to_integral() else Decimal(int(short))


def share_words(low: Decimal | None, high: Decimal | None) -> str | None:
    """A share in words; None = not known.

    >>> share_words(Decimal(5), Decimal(10)), share_words(None, Decimal(5)), share_words(None, None)
    ('5 to 10 %', 'at most 5 %', None)
    """
    if high is None or (low is None and high == 100):
        return None if low is None else f"{number(low)} % or more"
    if low is None:
        return f"at most {number(high)} %"
    return f"{number(low)} %" if low == high else f"{number(low)} to {number(high)} %"


def _parts(judged: JudgedHazards) -> list[dict[str, Any]]:
    return [_part(line, judged.regime) for line in judged.composition.lines]


def _part(line: CompositionLine, regime: Regime) -> dict[str, Any]:
    note = _ROLES.get(line.role, "")
    source = "; ".join(_source(key) for key in line.source)
    grade = GRADE_WORDS[line.grade]
    return {
        "name": {"lines": [line.substance, *([note] if note else [])]},
        "cas": line.cas,
        "share": share_words(line.low, line.high),
        "classes": _classes(line, regime),
        "source": {"lines": [f"{source} ({grade})", *([line.note] if line.note else [])]},
    }


def _classes(line: CompositionLine, regime: Regime) -> dict[str, Any] | str | None:
    """What its sheet and the lists say of one substance; None = nobody says anything."""
    sheet = [f"{plain_class(words)}: its sheet" for words in line.classes or ()]
    if line.classes == ():
        sheet = ["examined, none: its sheet"]
    said_of = Component(line.substance, limits=line.limits, m_acute=line.m_acute, m_chronic=line.m_chronic,
                        ate=dict(line.ate))  # fmt: skip
    sheet += [f"{words}: its sheet" for words in said_of.own_words]
    said = listed(line.cas, regime).classes if line.cas else None
    if said == () and not sheet:
        return "examined, none"
    lists = [f"{class_words(one.hazard)}: {'; '.join(one.lists)}" for one in said or ()]
    return {"lines": [*sheet, *lists]} if sheet or lists else None


def mix_rows(parts: Sequence[Part], written: Sequence[str]) -> list[dict[str, Any]]:
    """The materials of a mix, each with what was written and its share; rounded for reading only."""
    return [
        {
            "name": {"href": f"/materials/{part.material.id}/hazards", "words": part.material.name}
            if part.material.id
            else f"{part.material.name} (published facts)",
            "written": words,
            "share": _span(part.low, part.high),
        }
        for part, words in zip(parts, written, strict=True)
    ]


def _span(low: Decimal, high: Decimal) -> str | None:
    if low == 0 and high == HUNDRED:
        return None
    return share_words(to_read(low), to_read(high))


def _mix_parts(judged: JudgedHazards) -> list[dict[str, Any]]:
    return [
        {
            "name": one.name,
            "cas": one.cas or None,
            "share": _span(one.low, one.high),
            "classes": None
            if one.hazards is None
            else {"lines": list(dict.fromkeys(class_words(hazard) for hazard in one.hazards))}
            if one.hazards
            else "none named",
        }
        for one in judged.composition.ingredients
    ]


def _source(key: str) -> str:
    source = load_sources().get(key)
    return source.what if source else key
