"""What a hazard label says, part by part, before anybody asks where it stands.

An incomplete verdict is said in plain words near the top, white on black: a label with little on it must
never look like one of a harmless thing.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from enum import StrEnum
from typing import Final

from service.core.findings import Invalid
from service.core.hazards.filled_gaps import WASTE_WORDS, filled
from service.core.hazards.label import Label, LabelFor
from service.core.hazards.regimes import Regime
from service.core.hazards.statements import Statement
from service.core.materials import Form

_LAW: Final = {Regime.UN_GHS: "UN GHS", Regime.EU_CLP: "EU CLP", Regime.US_HCS: "US HCS"}
_TO_WRITE: Final = "____________________"
_PHONE: Final = "Tel.\N{NO-BREAK SPACE}"
"""A line never ends between the sign and the number."""
_NAMED: Final = 4
_MET: Final = "Do not open, do not shut tight, keep away; ask who made it."


class Basis(StrEnum):
    """Where the classes come from."""

    CALCULATED = "calculated"
    SUPPLIER = "supplier"


_BASIS_WORDS: Final = {
    Basis.CALCULATED: "Calculated from the composition",
    Basis.SUPPLIER: "From the supplier's data sheet",
}


@dataclass(frozen=True)
class Maker:
    """Who answers for the label. What is empty becomes a line to write on; the law asks for all three."""

    name: str
    address: str = ""
    phone: str = ""


@dataclass(frozen=True, kw_only=True)
class HazardLabelAsked:
    """What a hazard label is printed from.

    Args:
        volume: as people read it, "1 l"; ``volume_ml`` decides on the size (None: the caller chooses it).
        complete: whether every part of the mix was examined; there is no default.
        not_known: the parts whose hazards are not known; may stay empty where not even those are known.
        not_tested: what tests alone could tell of the whole, "thinner: Flammable liquid and vapour".
        met: what stands in it together and never should, in sentences; printed in alarm.
        oily: rags with it count as oily rags; no hazard class says that.
        form: None = not told; then everything that may be breathed is named.
        waste: after "Dispose of contents and container to".
    """

    product: str
    maker: Maker
    code: str
    volume: str
    volume_ml: Decimal | None
    label: Label
    regime: Regime
    basis: Basis
    complete: bool
    printed_on: date
    not_known: tuple[str, ...] = ()
    not_tested: tuple[str, ...] = ()
    met: tuple[str, ...] = ()
    oily: bool = False
    label_for: LabelFor = LabelFor.SUPPLY
    form: Form | None = None
    waste: str = WASTE_WORDS

    def __post_init__(self) -> None:
        if not self.product.strip():
            raise Invalid("A label needs the name of what is in the container.", {"product": "Empty."})
        if self.complete and self.not_known:
            raise Invalid(
                f"The hazards of {self.not_known[0]} are not known, so the verdict cannot be complete.",
                {"complete": "Not with parts that are not known."},
            )
        if self.complete and self.not_tested:
            raise Invalid(
                "What was not tested on the whole is not known, so the verdict cannot be complete.",
                {"complete": "Not with what was not tested."},
            )
        if self.label_for is LabelFor.WORKPLACE and self.met:
            raise Invalid(
                "Things that should never meet stand in it together, so it gets no short label.",
                {"label_for": "Not with what should never have met."},
            )
        if self.label_for is LabelFor.WORKPLACE and self.regime is not Regime.US_HCS:
            raise Invalid(
                "Only US law knows the short label for a workplace container (29 CFR 1910.1200(f)(6)(ii)). "
                "Take the whole label.",
                {"label_for": "Only with us-hcs."},
            )


@dataclass(frozen=True)
class Part:
    """A paragraph; ``scale`` in hundredths of the letters of the text, ``alarm``: white on black."""

    words: str
    bold: bool = False
    scale: int = 100
    alarm: bool = False


def parts_of(asked: HazardLabelAsked, *, hint: bool) -> list[Part]:
    """Every paragraph in its order; ``hint`` is the small front of a fold-out, which says so."""
    if hint:
        return _front(asked)
    label = asked.label
    parts = [
        Part(asked.product, bold=True, scale=140),
        Part(_joined(" · ", asked.code, asked.volume)),
        *_signal(asked),
        Part(_not_tested(asked.not_tested), bold=True),
    ]
    if label.contains:
        parts.append(Part(f"Contains: {', '.join(label.contains)}."))
    parts.append(Part(_run(label.hazard_statements)))
    if asked.label_for is LabelFor.SUPPLY:
        codes = [one.code for one in label.hazard_statements]
        liquid = None if asked.form is None else asked.form in (Form.LIQUID, Form.PASTE)
        said = [
            filled(one, codes, liquid=liquid, waste=asked.waste) for one in label.precautionary_statements
        ]
        parts.append(Part(_run(said)))
        if label.without_advice:
            named = ", ".join(hazard.text for hazard in label.without_advice)
            parts.append(Part(f"No advice is held here for {named}: read the data sheet."))
    parts.append(Part(_run(label.supplemental)))
    silent = not (label.hazard_statements or label.supplemental or label.pictograms or asked.met)
    if asked.complete and silent:
        parts.append(Part(_no_class(asked)))
    if asked.oily:
        parts.append(Part("Oily rags: rags with it can ignite by themselves.", bold=True))
    if asked.label_for is LabelFor.WORKPLACE:
        parts.append(Part("For use in this workplace only. Read the safety data sheet."))
    parts += [Part(who_answers(asked.maker)), Part(_foot(asked))]
    return [part for part in parts if part.words]


def _front(asked: HazardLabelAsked) -> list[Part]:
    """Identifier, signal word, who answers: what CLP 1.5.1 and 29 CFR 1910.1200(f)(12) leave there."""
    maker = asked.maker
    parts = [
        Part(asked.product, bold=True, scale=110),
        *_signal(asked, scale=110),
        Part(_joined(" · ", asked.code, asked.volume)),
        Part(_joined(", ", maker.name or _TO_WRITE, _phone(maker))),
        Part("All else: see fold-out.", bold=True),
    ]
    return [part for part in parts if part.words]


def _signal(asked: HazardLabelAsked, scale: int = 150) -> list[Part]:
    word = asked.label.signal_word
    parts = [Part(word.value.capitalize(), bold=True, scale=scale)] if word else []
    if asked.met:
        parts.append(Part(f"Should never have met: {' '.join(asked.met)} {_MET}", bold=True, alarm=True))
    if not asked.complete:
        # With nothing else to see, the alarm is the largest thing on the label.
        parts.append(Part(not_complete(asked.not_known), bold=True, scale=100 if word else 150, alarm=True))
    return parts


def not_complete(names: tuple[str, ...]) -> str:
    """The warning of an incomplete verdict.

    >>> not_complete(("Old varnish",))
    'Not complete: hazards of Old varnish not known. Treat as dangerous.'
    """
    if not names:
        return "Not complete: not all hazards are known. Treat as dangerous."
    more = f" and {len(names) - _NAMED} more" if len(names) > _NAMED else ""
    return f"Not complete: hazards of {', '.join(names[:_NAMED])}{more} not known. Treat as dangerous."


def who_answers(maker: Maker) -> str:
    """Name, address, telephone; a line to write on for what is not recorded.

    >>> who_answers(Maker("Elm Yard Finishing", "2 Elm Yard", "555 0100"))
    'Elm Yard Finishing, 2 Elm Yard. Tel.\\xa0555\\xa00100'
    """
    return f"{maker.name or _TO_WRITE}, {maker.address or _TO_WRITE}. {_phone(maker)}"


def _phone(maker: Maker) -> str:
    return _PHONE + ("\N{NO-BREAK SPACE}".join(maker.phone.split()) or _TO_WRITE[:14])


def _not_tested(said: tuple[str, ...]) -> str:
    """What ingredients bring and nobody tested on the whole: the label has no class of it, and says so."""
    if not said:
        return ""
    more = f" and {len(said) - _NAMED} more" if len(said) > _NAMED else ""
    return f"Not tested on the whole: {'; '.join(said[:_NAMED])}{more}. Treat it as that."


def _no_class(asked: HazardLabelAsked) -> str:
    law = _LAW[asked.regime]
    who = "Examined by the supplier" if asked.basis is Basis.SUPPLIER else "Worked out from its composition"
    return f"{who} under {law}: no class. That does not mean harmless."


def _foot(asked: HazardLabelAsked) -> str:
    day = f"{asked.printed_on.day} {asked.printed_on:%b} {asked.printed_on.year}"
    return f"{_BASIS_WORDS[asked.basis]}, {_LAW[asked.regime]}, {day}. The data sheet decides."


def _run(statements: Iterable[Statement]) -> str:
    """Sentences one after another, each with its full stop."""
    texts = [one.text.strip() for one in statements]
    return " ".join(text if text.endswith((".", "!", "?")) else f"{text}." for text in texts if text)


def _joined(between: str, *words: str) -> str:
    return between.join(word for word in words if word)
