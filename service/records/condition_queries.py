"""Which rule of a finding is in force in this shop, and what it was before."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from sqlmodel import Session, col, select

from service.core.conditions import MEASURED, ConditionRule, Consequence, Found
from service.core.materials import MaterialKind
from service.records.condition_rules import ConditionRuleRow
from service.records.knowledge_conditions import known_conditions
from service.records.materials import Material


def rule_for(session: Session, found: Found, kind: MaterialKind) -> ConditionRule:
    """The rule in force for a kind: the newest for the kind, else the newest for all, else the program's."""
    rows = history_of(session, found)
    own = next((row for row in rows if row.kind is kind), None)
    return _as_rule(own or next((row for row in rows if row.kind is None), None), found)


def rules_in_force(session: Session) -> list[ConditionRule]:
    """Every rule in force: for each finding that for all kinds, then those of single kinds."""
    newest: dict[tuple[str, MaterialKind | None], ConditionRuleRow] = {}
    for row in session.exec(select(ConditionRuleRow).order_by(col(ConditionRuleRow.id).desc())).all():
        newest.setdefault((row.found, row.kind), row)
    rules: list[ConditionRule] = []
    for found in Found:
        rules.append(_as_rule(newest.get((found.value, None)), found))
        kinds = [kind for kind in MaterialKind if (found.value, kind) in newest]
        rules += [_as_rule(newest[found.value, kind], found) for kind in kinds]
    return rules


def fits(rule: ConditionRule, material: Material, key: str | None = None, *, strip: bool) -> bool:
    """Whether a look at this material can find it. Of a peroxide former a strip tells, and no look does.

    ``key``: what it counts as where that is not the material's own key (`actions.key_of_content`).
    ``strip``: a strip tells of it (`actions.tell_of_peroxides`).
    """
    if rule.found is Found.PEROXIDE_OVER:
        return True  # A strip over the limit is believed of whatever it was held into.
    if rule.found in MEASURED or (rule.found is Found.SOUND and strip):
        return rule.found in MEASURED and strip
    return rule.fits(material.kind, key or material.known_key)


def fitting_rules(
    session: Session, material: Material, key: str | None = None, *, strip: bool
) -> list[ConditionRule]:
    """What a look at such a material can find, each with its rule in force; the rest as in `fits`."""
    found = [one for one, rule in known_conditions().items() if fits(rule, material, key, strip=strip)]
    own = {(rule.found, rule.kind): rule for rule in rules_in_force(session)}
    return [own.get((one, material.kind)) or own[one, None] for one in found]


def history_of(session: Session, found: Found) -> Sequence[ConditionRuleRow]:
    """Every rule a keeper ever set for a finding, the newest first."""
    wanted = select(ConditionRuleRow).where(col(ConditionRuleRow.found) == found.value)
    return session.exec(wanted.order_by(col(ConditionRuleRow.id).desc())).all()


def _as_rule(row: ConditionRuleRow | None, found: Found) -> ConditionRule:
    known = known_conditions()[found]
    if row is None:
        return known
    return replace(
        known,
        consequence=Consequence(row.consequence),
        what_to_do=row.what_to_do,
        source=row.source,
        grade=row.grade,
        house_policy=row.house_policy,
        kind=row.kind,
    )
