"""A ventilation class in words and rows, for the pages of a material, a container, a recipe and a batch."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from service.actions.judge_ventilation import CardVentilation
from service.core.findings import Finding, Severity
from service.core.hazards.amount_band import AmountBand
from service.core.hazards.ventilation_class import HEALTH_ONLY, RESPIRATOR, VentilationClass
from service.core.hazards.ventilation_reasons import OURS, About, Reason
from service.core.sources import Provenance

CLASS_WORDS: Final = {1: "general ventilation", 2: "local exhaust", 3: "containment", 4: "specialist advice"}
MEANS: Final = {
    1: "Open windows and doors, or a fan that brings clean air from outside.",
    2: "Work at a bench or booth that draws the vapour or dust away where it rises.",
    3: "Keep it enclosed: closed vessels, a glove box, a closed cabinet with its own exhaust.",
    4: "Ask somebody who knows before it is used. First ask what could take its place.",
}
_HEAVY: Final = 3
AMOUNT_WORDS: Final = {
    AmountBand.SMALL: "Small, below 1 l or 1 kg",
    AmountBand.MEDIUM: "Medium, from 1 l or 1 kg",
    AmountBand.LARGE: "Large, from 1000 l or 1000 kg",
}
_GRADES: Final = {
    Provenance.READ: "read",
    Provenance.MEMORY: "from memory, check first",
    Provenance.DERIVED: "derived from what was read",
}
_STEPS: Final = {
    About.GROUP: "Hazard group",
    About.SKIN: "Skin and eyes",
    About.VOLATILITY: "How volatile",
    About.DUSTINESS: "How dusty",
    About.AMOUNT: "How much",
    About.TEMPERATURE: "How warm",
    About.MATRIX: "Table",
    About.RULE: "Rule",
}


@dataclass(frozen=True)
class VentilationView:
    """What a page shows. ``sizes``: the answers by amount, of a material card; ``known`` False: no class."""

    head: str
    means: str
    known: bool
    for_amount: str
    sizes: tuple[tuple[str, str], ...]
    skin: bool | None
    written: str
    lacking: tuple[Finding, ...]
    reasons: tuple[tuple[str, str, str], ...]
    cautions: tuple[str, ...] = (HEALTH_ONLY, RESPIRATOR)
    look: str = "unknown"


def view_card(
    card: CardVentilation | None, warm: tuple[str, float] | None = None
) -> VentilationView | None:
    """Of a material or a container: the headline is for its size; none known: a medium amount.

    Args:
        warm: the room it was judged for, where that is warmer than usual.
    """
    if card is None:
        return None
    band = card.headline or AmountBand.MEDIUM
    size = _small(AMOUNT_WORDS[band])
    told = f"For this amount: {size}."
    if card.headline is None:
        told = f"No size is known, so for this amount: {size}."
    if warm is not None:
        told += f" At {warm[1]:g} °C, as written down for {warm[0]}."
    sizes = tuple((AMOUNT_WORDS[one], short_words(found)) for one, found in card.by_amount.items())
    return _view(card.by_amount[band], told, sizes, card)


def view_mix(found: VentilationClass) -> VentilationView:
    """Of a recipe or a batch."""
    size = _small(AMOUNT_WORDS[found.amount]) if found.amount else ""
    told = f"For the whole batch, {size}." if size else "How much is made is not told."
    return _view(found, told, (), None)


def view_not_known(sentence: str) -> VentilationView:
    """Where the hazards could not be reckoned with at all."""
    head = "Ventilation class not known; treat it as 4: specialist advice"
    return VentilationView(head, sentence, False, "", (), None, "", (), ())


def short_words(found: VentilationClass) -> str:
    """One line: the class, or the least it can be.

    Never shorter than that: "not known" without "at least" reads like harmless.
    """
    if found.number is None:
        return f"not known, {found.at_least} {_or_worse(found.at_least)}: {CLASS_WORDS[found.at_least]}"
    return f"{found.number}: {CLASS_WORDS[found.number]}"


def _small(words: str) -> str:
    return words[:1].lower() + words[1:]


def _or_worse(number: int) -> str:
    return "or worse" if number < max(CLASS_WORDS) else "until it is known"


def _view(
    found: VentilationClass, told: str, sizes: tuple[tuple[str, str], ...], card: CardVentilation | None
) -> VentilationView:
    number, at_least, written = found.number, found.at_least, ""
    if card is not None and card.written is not None:
        written = f"In the book stands class {card.written}: {CLASS_WORDS[card.written]}"
        written += f" ({card.written_source})." if card.written_source else "."
        if card.written > at_least:
            number = None if number is None else card.written
            at_least = card.written
            written += " It is the stricter and counts."
    head = f"Ventilation class {at_least}: {CLASS_WORDS[at_least]}"
    if number is None:
        head = f"Ventilation class not known. Treat it as {at_least} {_or_worse(at_least)}: "
        head += CLASS_WORDS[at_least]
    lacking = tuple(one for one in found.verdict if one.severity is Severity.UNKNOWN)
    return VentilationView(
        head=head,
        means=MEANS[at_least],
        known=number is not None,
        for_amount=told,
        sizes=sizes,
        skin=found.skin,
        written=written,
        lacking=lacking,
        reasons=tuple(_row(one) for one in found.because),
        look="unknown" if number is None else "warn" if number >= _HEAVY else "note",
    )


def _row(one: Reason) -> tuple[str, str, str]:
    source = one.source if one.source == OURS else f"{one.source} ({_GRADES[one.grade]})"
    return _STEPS[one.about], one.sentence, source
