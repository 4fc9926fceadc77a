"""The facts of one material and what is missing in them: one finding for each fact not known.

Doors: records/knowledge.py, records/materials.py, actions/describe_material.py, web/pages/materials.py.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from enum import StrEnum
from typing import Final

from service.core.findings import Finding, Invalid, Verdict, note, unknown, warn
from service.core.materials import Basis, Form, MaterialKind, SelfHeating, Unknown
from service.core.sources import cite

K = MaterialKind

NO_BINDER_BY_KIND: Final = frozenset({K.DRY_PIGMENT, K.SOLVENT, K.CONSUMABLE})
ALWAYS_SELF_HEATING: Final = frozenset({K.COLOUR_IN_OIL, K.COLOUR_IN_JAPAN})
NEEDS_CI_NAME: Final = frozenset({K.DRY_PIGMENT, K.COLOUR_IN_OIL, K.COLOUR_IN_JAPAN, K.DYE})
SEVERAL_SUBSTANCES: Final = frozenset(
    {K.COLOUR_IN_OIL, K.COLOUR_IN_JAPAN, K.READY_MADE_FINISH, K.CONSUMABLE, K.MADE_MIX}
)
OIL_MAY_BE_IN: Final = frozenset(
    {K.BINDER, K.COLOUR_IN_OIL, K.COLOUR_IN_JAPAN, K.DRIER, K.RESIN, K.READY_MADE_FINISH, K.MADE_MIX}
)
_OIL_WORDS: Final = re.compile(r"oil|alkyd|varnish|japan|linseed|tung|standoil", re.IGNORECASE)
_CMR: Final = re.compile(
    r"H3(40|41|50|51|60|61)|\b(carc|muta|repr)|cancer|genetic|fertility|unborn", re.IGNORECASE
)
_KEEPER_METALS: Final = re.compile(
    r"\b(pb|lead|cd|cadmium|cr|chromium|as|arsenic|hg|mercury)\b|chromate", re.IGNORECASE
)
_CHROMIUM_III: Final = re.compile(r"(cr|chromium) ?\(iii\)", re.IGNORECASE)


class FlashMethod(StrEnum):
    """How a flash point was found. A calculated one is never shown as measured."""

    CLOSED_CUP = "closed-cup"
    OPEN_CUP = "open-cup"
    CALCULATED = "calculated"


@dataclass(frozen=True)
class SheetFacts:
    """What is known about a safety data sheet; each ``None`` is a finding of its own.

    ``copied_whole``: sections 2, 3 and 9 were copied whole. ``regime``: ``un-ghs``, ``eu-clp`` or ``us-hcs``.
    """

    date: date | None = None
    regime: str | None = None
    copied_whole: bool | None = None


@dataclass(frozen=True)
class MaterialFacts:
    """What is known of one material. ``None`` and ``not-known`` mean exactly that, never zero or harmless.

    Densities in g/ml at room temperature, ``oil_share_percent`` by mass 0-100, flash point in °C.
    ``supplier_classes`` and ``toxic_metals``: ``None`` = not known, ``()`` = examined and none.
    ``keeper_only``: a keeper's own decision, ``None`` = not decided, the default rule holds.
    Raises Invalid for a flash point together with a reason why there is none, for oil in a kind that holds
    none (dry pigment, solvent, consumable), and for impossible numbers.
    """

    name: str
    kind: MaterialKind
    form: Form | None = None
    basis: Basis | None = None
    density_g_ml: Decimal | None = None
    bulk_density_g_ml: tuple[Decimal, Decimal] | None = None
    oil_share_percent: Decimal | None = None
    binder: str | None = None
    has_drier: Unknown = Unknown.NOT_KNOWN
    self_heating: SelfHeating = SelfHeating.NOT_KNOWN
    not_self_heating_because: str = ""
    flash_point_c: Decimal | None = None
    flash_method: FlashMethod | None = None
    flash_not_applicable: str | None = None
    supplier_classes: tuple[str, ...] | None = None
    ventilation_class: int | None = None
    ci_generic: str | None = None
    cas: str | None = None
    sheet: SheetFacts | None = None
    has_ageing_policy: bool = False
    toxic_metals: tuple[str, ...] | None = None
    keeper_only: bool | None = None

    def __post_init__(self) -> None:
        if self.flash_point_c is not None and self.flash_not_applicable:
            raise Invalid("Give the flash point, or the reason why there is none, not both.")
        if self.ventilation_class is not None and self.ventilation_class not in (1, 2, 3, 4):
            raise Invalid("The ventilation class is 1, 2, 3 or 4.")
        if self.oil_share_percent is not None and not 0 <= self.oil_share_percent <= 100:
            raise Invalid("The oil share lies between 0 and 100 per cent.")
        if self.density_g_ml is not None and self.density_g_ml <= 0:
            raise Invalid("A density is more than 0.")
        if self.bulk_density_g_ml and not 0 < self.bulk_density_g_ml[0] <= self.bulk_density_g_ml[1]:
            raise Invalid("Write the bulk density as a low and a high figure, both more than 0.")
        if self.kind in NO_BINDER_BY_KIND and has_oil(self):
            # else blanking the binder of a "solvent" full of oil would clear it
            raise Invalid("This kind holds no oil. Choose another kind, or answer yes to self-heating.")


def counts_as_self_heating(
    kind: MaterialKind,
    *,
    binder_known: bool,
    has_oil: bool | None,
    flag: SelfHeating,
    keeper_reason: str = "",
) -> bool:
    """Whether rags with this material fall under the oily-rag rules. Everything not known counts as yes.

    Yes: a flag of yes or not known, every colour in oil or japan, anything with a drying oil, anything
    that could hold a binder while its binder or its oil is not known. A flag of no with a keeper's written
    reason is the only way round these.

    >>> no = SelfHeating.NO
    >>> counts_as_self_heating(MaterialKind.BINDER, binder_known=True, has_oil=None, flag=no)
    True
    >>> counts_as_self_heating(MaterialKind.SOLVENT, binder_known=True, has_oil=None, flag=no)
    False
    """
    if flag is not SelfHeating.NO:
        return True
    if keeper_reason.strip():
        return False
    if kind in ALWAYS_SELF_HEATING or has_oil is True:
        return True
    if kind in NO_BINDER_BY_KIND:
        return False
    return not binder_known or has_oil is None


def has_oil(facts: MaterialFacts) -> bool | None:
    """Whether it holds a drying oil: by its oil share, or by the words of its binder; ``None`` = not known.

    A binder named without any oil word proves nothing: only an oil share of 0 does.

    >>> has_oil(MaterialFacts("x", MaterialKind.READY_MADE_FINISH, binder="alkyd varnish"))
    True
    """
    if facts.binder and _OIL_WORDS.search(facts.binder):
        return True
    if facts.oil_share_percent is not None:
        return facts.oil_share_percent > 0
    return None


def facts_self_heating(facts: MaterialFacts) -> bool:
    """``counts_as_self_heating`` for a whole set of facts."""
    return counts_as_self_heating(
        facts.kind,
        binder_known=bool(facts.binder and facts.binder.strip()),
        has_oil=has_oil(facts),
        flag=facts.self_heating,
        keeper_reason=facts.not_self_heating_because,
    )


def keeper_only_by_default(facts: MaterialFacts) -> bool:
    """Whether only a keeper may draw it, before anyone decided otherwise.

    Yes for carcinogenic, mutagenic and reproductive classes (H340, H341, H350, H351, H360, H361), lead,
    cadmium, chromate, arsenic and mercury, driers, and whatever of this is not known.

    >>> keeper_only_by_default(MaterialFacts("x", MaterialKind.SOLVENT, supplier_classes=(), toxic_metals=()))
    False
    """
    return bool(_keeper_reasons(facts))


def is_keeper_only(facts: MaterialFacts) -> bool:
    """The keeper's decision where there is one, else the default rule."""
    return keeper_only_by_default(facts) if facts.keeper_only is None else facts.keeper_only


def review(
    facts: MaterialFacts, *, regime: str | None = None, sheet_not_before: date | None = None
) -> Verdict:
    """Everything that is missing or worrying about a material, in the order of weight.

    One ``unknown`` per missing fact that matters for the kind; ``warn`` for what a fact says. Taking a fact
    away never removes a finding code and never lightens one. ``regime`` is the shop's, ``sheet_not_before``
    the day before which a sheet is old; each is left out of the review when not given.
    """
    found = [_lack(facts, rule) for rule in _LACKS if rule.missing(facts)]
    found += _sheet_findings(facts, regime, sheet_not_before)
    if facts_self_heating(facts):
        found.append(_self_heating_finding(facts))
    source = cite("keeper-only-words")
    found += [_about(facts, warn("keeper-only", why, source)) for why in _keeper_reasons(facts)]
    if facts.keeper_only is False and keeper_only_by_default(facts):
        text = f"A keeper opened {facts.name} to others, although the list says keeper only."
        found.append(_about(facts, note("keeper-only-lifted", text)))
    return Verdict.of(found)


@dataclass(frozen=True)
class _Lack:
    """One fact that can be missing: when it is, and what that blocks and how to mend it."""

    code: str
    missing: Callable[[MaterialFacts], bool]
    what: str
    blocks: str
    mend: str
    source: str = ""


def _lack(facts: MaterialFacts, rule: _Lack) -> Finding:
    text = f"{rule.what.format(facts.name)} is not known. {rule.blocks} {rule.mend}"
    return _about(facts, unknown(rule.code, text, cite(rule.source) if rule.source else ""))


def _about(facts: MaterialFacts, finding: Finding) -> Finding:
    return Finding(finding.severity, finding.code, finding.sentence, finding.source, facts.name)


def _may_flash(facts: MaterialFacts) -> bool:
    return facts.form not in (Form.POWDER, Form.SOLID, Form.PIECES) and not facts.flash_not_applicable


def _not_pieces(facts: MaterialFacts) -> bool:
    return facts.form is not Form.PIECES


_LACKS: Final = (
    _Lack("form-not-known", lambda f: f.form is None, "The form of {}", "Spoons and ounces cannot be read.",
          "Say whether it is a liquid, paste, powder, solid or pieces."),
    _Lack("basis-not-known", lambda f: f.basis is None, "How {} is counted", "No amount is booked yet.",
          "The first delivery settles it: by weight, by volume or in pieces."),
    _Lack("density-not-known", lambda f: f.density_g_ml is None and _not_pieces(f), "The density of {}",
          "Weight and volume cannot be turned into each other.",
          "Take it from section 9 of the sheet, or fill a known volume and weigh it."),
    _Lack("bulk-density-not-known", lambda f: f.bulk_density_g_ml is None and f.form in (Form.POWDER, None),
          "The loose bulk density of {}", "Spoons and cups cannot be turned into weight.",
          "Weigh ten level spoons and enter the result."),
    _Lack("oil-share-not-known", lambda f: f.oil_share_percent is None and f.kind not in NO_BINDER_BY_KIND,
          "The oil share of {}", "The oil on the rags cannot be worked out, so it counts as oily.",
          "Ask the supplier, or enter 0 when there is no oil."),
    _Lack("binder-not-known", lambda f: not f.binder and f.kind not in NO_BINDER_BY_KIND, "The binder of {}",
          "It counts as self-heating until the binder is known.", "Read the can or ask the supplier.",
          "self-heating-words"),
    _Lack("drier-not-known", lambda f: f.has_drier is Unknown.NOT_KNOWN and f.kind in OIL_MAY_BE_IN,
          "Whether {} holds a drier", "It counts as if there were: rags heat sooner.",
          "Read the can or ask the supplier."),
    _Lack("self-heating-not-known", lambda f: f.self_heating is SelfHeating.NOT_KNOWN,
          "Whether rags with {} can heat by themselves", "It counts as yes.",
          "A keeper answers yes, or no with the reason.", "self-heating-words"),
    _Lack("flash-point-not-known", lambda f: f.flash_point_c is None and _may_flash(f),
          "The flash point of {}", "It counts in the most restrictive storage row.",
          "Take it from section 9 of the sheet, with the method."),
    _Lack("flash-method-not-known",
          lambda f: _may_flash(f) and f.flash_method is None,
          "The method behind the flash point of {}", "An open cup reads higher than a closed cup.",
          "Look for \"closed cup\" or \"open cup\" in section 9 of the sheet."),
    _Lack("classes-not-known", lambda f: f.supplier_classes is None, "The hazard class of {}",
          "No label, mix or ventilation class can be trusted.",
          "Copy section 2 of the sheet, or record that it was examined and not classified."),
    _Lack("ventilation-class-not-known", lambda f: f.ventilation_class is None, "The ventilation class of {}",
          "No room counts as enough.", "Enter 1 to 4 from the sheet and the banding table."),
    _Lack("colour-index-not-known", lambda f: not f.ci_generic and f.kind in NEEDS_CI_NAME,
          "The Colour Index name of {}", "A trade name alone does not say which pigment it is.",
          "Read it on the label, such as PBr7."),
    _Lack("cas-not-known", lambda f: not f.cas and f.kind not in SEVERAL_SUBSTANCES, "The CAS number of {}",
          "Published hazards cannot be looked up.", "Take it from section 3 of the sheet."),
    _Lack("ageing-policy-not-known", lambda f: not f.has_ageing_policy, "How long {} keeps",
          "Every container stands as not known: look before use.", "Enter an ageing policy."),
    _Lack("toxic-metals-not-known", lambda f: f.toxic_metals is None, "The metal content of {}",
          "It counts as if lead, cadmium or chromate were in it.",
          "Read section 3 of the sheet; record \"none\" when it lists none.", "keeper-only-words"),
)  # fmt: skip


def _sheet_findings(facts: MaterialFacts, regime: str | None, not_before: date | None) -> list[Finding]:
    """All under one code, so that losing the sheet never hides what was wrong with it."""
    code, source, sheet = "sheet-not-whole", cite("1910.1200-g"), facts.sheet
    name, copy = facts.name, "What it leaves out is not known."
    if sheet is None:
        none = f"There is no safety data sheet for {name}. Ask the supplier for it before the can is opened."
        unread = f"Sections 2, 3 and 9 of a sheet for {name} were not copied. {copy}"
        return [
            _about(facts, unknown("sheet-not-known", none, source)),
            _about(facts, unknown(code, unread, source)),
        ]
    lacks: list[str] = []
    if not sheet.copied_whole:
        lacks.append(f"Sections 2, 3 and 9 of the sheet for {name} were not copied whole. {copy}")
    if sheet.date is None:
        lacks.append(f"The date of the sheet for {name} is not known. Read it on the first page.")
    elif not_before is not None and sheet.date < not_before:
        lacks.append(f"The sheet for {name} is of {sheet.date.isoformat()}: ask for a newer one.")
    if sheet.regime is None:
        lacks.append(f"It is not known under which law the sheet for {name} was written. Enter it.")
    elif regime is not None and sheet.regime != regime:
        lacks.append(f"The sheet for {name} follows {sheet.regime}, this shop follows {regime}. {copy}")
    return [_about(facts, unknown(code, text, source)) for text in lacks]


def _self_heating_finding(facts: MaterialFacts) -> Finding:
    text = f"Rags with {facts.name} count as oily rags: they can heat and catch fire by themselves."
    return _about(facts, warn("self-heating", text, cite("self-heating-words")))


def _keeper_reasons(facts: MaterialFacts) -> list[str]:
    """Why only a keeper may draw it, one sentence for each fact; none for a material open to others."""
    name, reasons = facts.name, []
    if facts.supplier_classes is None:
        reasons.append(f"{name} is for keepers only while its hazard classes are not known.")
    elif worst := [c for c in facts.supplier_classes if _CMR.search(c)]:
        reasons.append(f"{name} is for keepers only: {', '.join(worst)}.")
    if facts.toxic_metals is None:
        reasons.append(f"{name} is for keepers only while its metal content is not known.")
    elif metals := [m for m in facts.toxic_metals if _is_keeper_metal(m)]:
        reasons.append(f"{name} is for keepers only: it contains {', '.join(metals)}.")
    if facts.kind is K.DRIER:
        reasons.append(f"{name} is for keepers only: drier concentrate.")
    return reasons


def _is_keeper_metal(text: str) -> bool:
    return bool(_KEEPER_METALS.search(text)) and not _CHROMIUM_III.fullmatch(text.strip())
