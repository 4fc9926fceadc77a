"""What people write about a material, before it is kept: the description, the keeper's facts, their limits.

Doors: actions/describe_material.py, actions/revise_material.py, web/pages/material_facts.py,
web/api/materials.py.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, fields
from decimal import Decimal
from typing import Any

from service.core.findings import Invalid
from service.core.material_facts import FlashMethod
from service.core.materials import Basis, Form, MaterialKind, SelfHeating, Unknown
from service.core.written_classes import read_classes, read_metals
from service.core.written_numbers import wrong_cas
from service.core.written_reason import A_SENTENCE, is_sentence


@dataclass(frozen=True)
class Description:
    """What anybody who writes down a material says of it. ``basis`` None: settled by the first movement."""

    name: str
    kind: MaterialKind
    form: Form
    maker: str = ""
    ci_name: str = ""
    cas: str = ""
    basis: Basis | None = None
    note: str = ""


@dataclass(frozen=True)
class KeeperFacts:
    """What only a keeper sets. None and not-known mean exactly that.

    Densities in g/ml, flash point in °C closed or open cup, oil share in per cent by mass. ``hazards`` and
    ``toxic_metals``: None = not known, () = examined and none.
    """

    density_g_ml: Decimal | None = None
    density_source: str = ""
    bulk_low_g_ml: Decimal | None = None
    bulk_high_g_ml: Decimal | None = None
    bulk_source: str = ""
    oil_share_percent: Decimal | None = None
    binder: str = ""
    has_drier: Unknown = Unknown.NOT_KNOWN
    flash_point_c: Decimal | None = None
    flash_point_method: str = ""
    no_flash_reason: str = ""
    hazards: tuple[str, ...] | None = None
    hazards_source: str = ""
    toxic_metals: tuple[str, ...] | None = None
    ventilation_class: int | None = None
    ventilation_source: str = ""
    self_heating: SelfHeating = SelfHeating.NOT_KNOWN
    self_heating_reason: str = ""
    keeper_only: bool | None = None
    keeper_only_reason: str = ""
    not_stocked: bool = False


def columns(entry: Description | KeeperFacts) -> dict[str, Any]:
    """The entry as column values; tuples become lists.

    >>> columns(KeeperFacts(hazards=()))["hazards"]
    []
    """
    values = {f.name: getattr(entry, f.name) for f in fields(entry)}
    return {k: list(v) if isinstance(v, tuple) else v for k, v in values.items()}


def plain_columns(values: Mapping[str, Any]) -> dict[str, Any]:
    """Column values as JSON data, for the hash of what was asked.

    >>> plain_columns({"a": Decimal("0.9300"), "b": Unknown.YES})
    {'a': '0.9300', 'b': 'yes'}
    """
    return {k: f"{v:f}" if isinstance(v, Decimal) else getattr(v, "value", v) for k, v in values.items()}


def judge_description(said: Description) -> None:
    """Refuse a description that cannot be kept; ``errors`` names the fields.

    Raises Invalid.

    >>> judge_description(Description("Raw umber", MaterialKind.DRY_PIGMENT, Form.POWDER))
    """
    errors: dict[str, str] = {}
    if not 1 <= len(said.name) <= 120:
        errors["name"] = "Enter a name of up to 120 signs, as it stands on the label."
    for name, most in (("maker", 120), ("ci_name", 60), ("cas", 60), ("note", 2000)):
        if len(getattr(said, name)) > most:
            errors[name] = f"Shorten this to {most} signs."
    if "cas" not in errors and (wrong := wrong_cas(said.cas)):
        errors["cas"] = wrong
    pieces = said.form is Form.PIECES
    if said.basis is not None and (said.basis is Basis.PIECES) != pieces:
        errors["basis"] = "What lies in pieces is counted in pieces, and nothing else is."
    _raise(errors)


def judge_facts(said: KeeperFacts) -> None:
    """Refuse facts that cannot be or that lack a reason; ``errors`` names the fields.

    Classes and metals are judged for their shape. Raises Invalid.

    >>> judge_facts(KeeperFacts(density_g_ml=Decimal("0.93")))
    """
    errors: dict[str, str] = {}
    for name in ("density_g_ml", "bulk_low_g_ml", "bulk_high_g_ml"):
        figure = getattr(said, name)
        if figure is not None and not (figure.is_finite() and Decimal("0.0001") <= figure <= 25):
            errors[name] = "Enter grams per millilitre between 0.0001 and 25."
    low, high = said.bulk_low_g_ml, said.bulk_high_g_ml
    if (low is None) != (high is None):
        errors.setdefault("bulk_high_g_ml", "Enter both a lowest and a highest figure; they may be alike.")
    elif low is not None and high is not None and not errors and low > high:
        errors["bulk_high_g_ml"] = "Enter a highest figure that is not below the lowest."
    share = said.oil_share_percent
    if share is not None and not (share.is_finite() and 0 <= share <= 100):
        errors["oil_share_percent"] = "Enter per cent between 0 and 100."
    if said.ventilation_class is not None and said.ventilation_class not in (1, 2, 3, 4):
        errors["ventilation_class"] = "Choose class 1, 2, 3 or 4."
    errors |= _flash_errors(said) | _length_errors(said) | _list_errors(said)
    if said.keeper_only is False and not is_sentence(said.keeper_only_reason):
        errors["keeper_only_reason"] = f"Write why students may draw it: {A_SENTENCE}."
    _raise(errors)


def _flash_errors(said: KeeperFacts) -> dict[str, str]:
    errors: dict[str, str] = {}
    flash = said.flash_point_c
    if flash is not None and not (flash.is_finite() and -120 <= flash <= 500):
        errors["flash_point_c"] = "Enter degrees Celsius between −120 and 500."
    if flash is not None and said.no_flash_reason:
        errors["no_flash_reason"] = "Give the flash point, or the reason why there is none, not both."
    if said.flash_point_method and said.flash_point_method not in {m.value for m in FlashMethod}:
        errors["flash_point_method"] = "Choose closed cup, open cup or calculated."
    elif said.flash_point_method and flash is None:
        errors["flash_point_c"] = "Enter the flash point that was found with this method."
    return errors


def _list_errors(said: KeeperFacts) -> dict[str, str]:
    errors: dict[str, str] = {}
    for name, read in (("hazards", read_classes), ("toxic_metals", read_metals)):
        for line in getattr(said, name) or ():
            try:
                if read(line) != (line,):
                    errors[name] = f"Write “{line[:60]}” as one entry, with single spaces."
            except Invalid as wrong:
                errors[name] = wrong.sentence
    return errors


def _length_errors(said: KeeperFacts) -> dict[str, str]:
    most = {
        "density_source": 200, "bulk_source": 200, "binder": 120, "no_flash_reason": 200,
        "hazards_source": 200, "ventilation_source": 200, "self_heating_reason": 2000,
        "keeper_only_reason": 2000,
    }  # fmt: skip
    return {k: f"Shorten this to {n} signs." for k, n in most.items() if len(getattr(said, k)) > n}


def judge_no(said: KeeperFacts, before: KeeperFacts | None, *, published: bool, kind_changed: bool) -> None:
    """A "no" to self-heating needs a written reason, and a new one when what it rested on has changed.

    The published tables may say no without one (the rules then still count an unknown binder or oil as yes).
    Raises Invalid, naming ``self_heating_reason``.

    >>> judge_no(KeeperFacts(self_heating=SelfHeating.YES), None, published=False, kind_changed=False)
    """
    if said.self_heating is not SelfHeating.NO:
        return
    words = f"Write why its rags cannot heat by themselves, who says so, and where: {A_SENTENCE}."
    stood = before is not None and before.self_heating is SelfHeating.NO
    rested = before is not None and not kind_changed and _rests_on(before) == _rests_on(said)
    if not said.self_heating_reason.strip():
        if published or (stood and rested and before is not None and not before.self_heating_reason):
            return
        raise Invalid(words, {"self_heating_reason": words})
    same_reason = before is not None and before.self_heating_reason == said.self_heating_reason
    if not is_sentence(said.self_heating_reason) and not (stood and rested and same_reason):
        raise Invalid(words, {"self_heating_reason": words})
    if stood and same_reason and not rested:
        words = (
            "The kind, binder or oil has changed. Write anew why its rags cannot heat, or answer not known."
        )
        raise Invalid(words, {"self_heating_reason": words})


def _rests_on(facts: KeeperFacts) -> tuple[object, ...]:
    return facts.binder.casefold().strip(), facts.oil_share_percent, facts.has_drier


def _raise(errors: Mapping[str, str]) -> None:
    if errors:
        raise Invalid(next(iter(errors.values())), errors)
