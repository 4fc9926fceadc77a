"""Writing down a material: from scratch, or picked from the published facts.

Facts that can make a rule milder are the keeper's. What a finisher writes down has its facts not known, and
counts as such, until a keeper fills them in or takes the published ones over.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import datetime
from typing import Any

from sqlmodel import Session, col, select

from service.actions.note_change import note_change
from service.actions.settle import Act, Sent, Settled, settle
from service.core.access import Actor, Permission, may, require
from service.core.findings import Finding, Invalid, NotFound, note, warn
from service.core.material_entry import (
    Description,
    KeeperFacts,
    columns,
    judge_description,
    judge_facts,
    judge_no,
    plain_columns,
)
from service.core.material_facts import MaterialFacts
from service.core.materials import Form
from service.core.sources import GRADE_WORDS
from service.core.written_signs import compared
from service.records.knowledge import Figure, KnownMaterial, known
from service.records.knowledge import facts_of as published_facts
from service.records.material_queries import counts_self_heating, facts_of
from service.records.materials import Material


@dataclass(frozen=True)
class MaterialAsked:
    """A new material.

    Args:
        facts: what only a keeper may give. None = not known, or with ``known_key`` the published ones.
        known_key: the row of the published facts it was picked from.
    """

    once: str
    said: Description
    facts: KeeperFacts | None = None
    known_key: str | None = None
    happened_at: datetime | None = None
    late_reason: str = ""

    def sent(self) -> Sent:
        facts = plain_columns(columns(self.facts)) if self.facts is not None else None
        body = {
            "said": plain_columns(columns(self.said)),
            "facts": facts,
            "known": self.known_key,
            "happened_at": self.happened_at.isoformat() if self.happened_at else None,
        }
        return Sent(self.once, "describe-material", body, self.happened_at, late_reason=self.late_reason)


def describe_material(session: Session, actor: Actor, now: datetime, asked: MaterialAsked) -> Settled:
    """Write down a new material; answers ``material`` (its number), ``name``, ``version`` and findings.

    Raises:
        NotAllowed: the role may not, or gave facts that are a keeper's.
        NotFound: no published row has this key.
        Invalid: a field cannot be used; a "no" to self-heating without a reason.
    """
    require(actor, Permission.DESCRIBE_MATERIAL)
    if asked.facts is not None:
        require(actor, Permission.MATERIAL_FACTS)
    return settle(session, actor, asked.sent(), now, lambda act: describe_within(act, asked))


def describe_within(act: Act, asked: MaterialAsked) -> dict[str, Any]:
    """`describe_material` as a part of a larger act, such as taking in a stock list."""
    said = tidy(asked.said)
    judge_description(said)
    row = _published(asked.known_key)
    if row is not None and row.kind is not said.kind:
        # How long it lasts goes by the row, and anybody who takes stock in may choose one.
        words = f"{row.name} of the published facts is another kind. Choose its own kind, or no row."
        raise Invalid(words, {"kind": words})
    facts, took = facts_for(act.actor, asked.facts, row)
    judge_facts(facts)
    judge_no(facts, None, published=took, kind_changed=False)
    twin_rows = twins(act.session, said.name, said.maker)
    material = Material(
        **columns(said), **columns(facts), known_key=row.key if row else None, created_at=act.recorded_at
    )
    act.session.add(material)
    act.session.flush()
    checked(act.session, material)
    note_change(act.session, act.actor, act.recorded_at, ("material", material.id), "name", None, said.name)
    act.note(*twin_findings(act.session, material, twin_rows))
    if row is not None and not took and asked.facts is None:
        words = f"The published facts of {row.name} were not taken over: a keeper does that on its page."
        act.note(note("published-facts-wait", words, about=material.name))
    return {"material": material.id, "name": material.name, "version": material.version}


def _published(key: str | None) -> KnownMaterial | None:
    if key is None:
        return None
    row = known(key)
    if row is None:
        raise NotFound("There is no such row in the published facts. Search for it again.")
    return row


def facts_for(
    actor: Actor, given: KeeperFacts | None, row: KnownMaterial | None
) -> tuple[KeeperFacts, bool]:
    """The facts to keep, and whether they are the published ones as they stand."""
    if given is not None:
        return given, row is not None and given == published_entry(row)
    if row is not None and may(actor.role, Permission.MATERIAL_FACTS):
        return published_entry(row), True
    return KeeperFacts(), False


def tidy(said: Description) -> Description:
    """The description with single spaces."""
    return replace(
        said,
        name=" ".join(said.name.split()),
        maker=" ".join(said.maker.split()),
        ci_name=" ".join(said.ci_name.split()),
        cas=" ".join(said.cas.split()),
        note=said.note.strip(),
    )


def checked(session: Session, material: Material) -> MaterialFacts:
    """The facts as the rules read them; what contradicts itself is refused.

    Raises:
        Invalid: such as oil in a kind that holds none; `errors` names a field.
    """
    try:
        return facts_of(session, material)
    except Invalid as wrong:
        if not wrong.errors:
            wrong.errors["kind" if "kind" in wrong.sentence else "no_flash_reason"] = wrong.sentence
        raise


def published_description(row: KnownMaterial) -> Description:
    """A published row as a description to start from."""
    return Description(
        name=row.name[:120],
        kind=row.kind,
        form=row.form,
        ci_name="; ".join(row.ci_generic)[:60],
        cas="; ".join(row.cas)[:60],
    )


def published_entry(row: KnownMaterial) -> KeeperFacts:
    """A published row as a keeper's facts, with where each figure comes from. Hazard classes stay not known:
    they are the supplier's, and come from the sheet.
    """
    facts = published_facts(row)
    low, high = facts.bulk_density_g_ml or (None, None)
    return KeeperFacts(
        density_g_ml=facts.density_g_ml,
        density_source=whence(row, "density_g_ml") if facts.density_g_ml is not None else "",
        bulk_low_g_ml=low,
        bulk_high_g_ml=high,
        bulk_source=whence(row, "loose_bulk_density_g_ml") if low is not None else "",
        oil_share_percent=facts.oil_share_percent,
        binder=facts.binder or "",
        has_drier=facts.has_drier,
        flash_point_c=facts.flash_point_c,
        flash_point_method=facts.flash_method.value if facts.flash_method else "",
        no_flash_reason=facts.flash_not_applicable or "",
        toxic_metals=facts.toxic_metals,
        self_heating=facts.self_heating,
    )


def whence(row: KnownMaterial, prop: str) -> str:
    """Where the published figures of one property come from, with their grades, for people."""
    rows: tuple[Figure, ...] = row.figures_of(prop)
    said = dict.fromkeys(f"{'; '.join(f.source)} ({GRADE_WORDS[f.grade]})" for f in rows)
    return ("published: " + ", ".join(said))[:200] if said else ""


def twins(session: Session, name: str, maker: str, but: int | None = None) -> list[Material]:
    """Materials that carry the same name and maker already, however they are written."""
    rows = session.exec(select(Material).where(col(Material.active).is_(True))).all()
    wanted = (compared(name), compared(maker))
    return [row for row in rows if row.id != but and (compared(row.name), compared(row.maker)) == wanted]


def twin_findings(session: Session, material: Material, rows: list[Material]) -> list[Finding]:
    """A warning for each twin; a sharper one where the new one would escape the oily-rag rules."""
    found = []
    milder = not counts_self_heating(session, material)
    for row in rows:
        words = f"There is a material called {row.name} of the same maker already (number {row.id})."
        found.append(warn("twin-material", f"{words} Use that one unless they differ.", about=row.name))
        if milder and counts_self_heating(session, row):
            words = f"{row.name} (number {row.id}) counts as self-heating, this one does not. One is wrong."
            found.append(warn("twin-without-flag", f"{words} A keeper puts it right.", about=row.name))
    return found


__all__ = [
    "Description",
    "Form",
    "KeeperFacts",
    "MaterialAsked",
    "checked",
    "describe_material",
    "published_description",
    "published_entry",
    "tidy",
    "twin_findings",
    "twins",
    "whence",
]
