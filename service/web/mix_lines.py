"""The lines of a form that asks about a mix: a material and how much of it, each line with its number.

Every press sends the whole form and gets it back.
"""

from __future__ import annotations

import re
from typing import Any, Final

from sqlmodel import Session

from service.actions.mix_of_materials import material_of_published
from service.actions.read_recipe import LineAsked, LineRead, read_line_of
from service.core.access import Actor
from service.core.findings import Invalid
from service.core.materials import Basis
from service.records.knowledge import load_known_materials
from service.records.knowledge_compositions import composition_of
from service.records.materials import Material
from service.records.mixing_queries import choosable_materials, lines_of, the_recipe, the_version
from service.web.forms import Posted

MOST_LINES: Final = 60
_PARTS: Final = ("material", "amount")


def names_of_materials(session: Session) -> dict[str, Material | str]:
    """Every material that may be chosen by the words shown for it; a text is the key of a published row.

    Of two that are called alike each gets its maker, and if that does not part them its number.
    """
    rows = list(choosable_materials(session))
    found: dict[str, Material | str] = {}
    for words in (
        lambda m: m.name,
        lambda m: f"{m.name}, {m.maker or 'maker not known'}",
        lambda m: f"{m.name}, number {m.id}",
    ):
        called: dict[str, list[Material]] = {}
        for material in rows:
            called.setdefault(words(material), []).append(material)
        found |= {name: alike[0] for name, alike in called.items() if len(alike) == 1}
        rows = [material for alike in called.values() if len(alike) > 1 for material in alike]
    for row in load_known_materials():
        if composition_of(row.key):
            found[f"{row.name} (published facts)"] = row.key
    return found


def read_lines(session: Session, actor: Actor, p: Posted[Any], lines: list[dict[str, str]]) -> list[LineRead]:
    """The lines as read; a sentence stands beside each that cannot be."""
    names = {" ".join(name.casefold().split()): one for name, one in names_of_materials(session).items()}
    read: list[LineRead] = []
    if not lines:
        p.refuse("material_0", "Name the first material.")
    for at, line in enumerate(lines):
        called = " ".join(line["material"].casefold().split())
        chosen = names.get(called) or names.get(f"{called} (published facts)")
        if chosen is None:
            p.refuse(f"material_{at}", "Choose a material from the list.")
            continue
        if not line["amount"] or len(line["amount"]) > 200:
            p.refuse(f"amount_{at}", "Write how much, such as 250 g, 100 ml, 3 parts, 12 % or to suit.")
            continue
        try:
            material = chosen if isinstance(chosen, Material) else material_of_published(chosen)
            read.append(read_line_of(session, actor, material, LineAsked(0, line["amount"])))
        except Invalid as wrong:
            p.refuse(f"amount_{at}", wrong.sentence, wrong.readings)
    return read


def recipe_form_lines(session: Session, recipe_id: int) -> list[dict[str, str]]:
    """The lines of a recipe as this form writes them: by volume is said where it is not by mass."""
    version = the_version(session, the_recipe(session, recipe_id))
    names = {one.id: name for name, one in names_of_materials(session).items() if isinstance(one, Material)}
    by = " by volume" if version.shares_by is Basis.VOLUME else ""
    return [
        {
            "material": names.get(row.material_id, material.name),
            "amount": row.written if row.share_high is None or "by " in row.written else f"{row.written}{by}",
        }
        for row, material in lines_of(session, version.id or 0)
    ]


def written_lines(p: Posted[Any], *, empty_too: bool = False) -> list[dict[str, str]]:
    found = (re.fullmatch(r"(?:material|amount)_([0-9]{1,3})", name, re.ASCII) for name in p.raw)
    numbers = sorted({int(match[1]) for match in found if match})
    rows = [{part: p.text(f"{part}_{n}").strip() for part in _PARTS} for n in numbers]
    return [row for row in rows if empty_too or row["material"] or row["amount"]][:MOST_LINES]


def number_lines(p: Posted[Any], lines: list[dict[str, str]]) -> None:
    for name in [n for n in p.raw if re.fullmatch(r"(material|amount)_[0-9]+", n)]:
        del p.raw[name]
    for at, line in enumerate(lines):
        for part in _PARTS:
            p.raw[f"{part}_{at}"] = line.get(part, "")
    p.raw["lines"] = str(len(lines))


def moved_lines(lines: list[dict[str, str]], step: str) -> list[dict[str, str]]:
    match = re.fullmatch(r"out-([0-9]{1,3})", step, re.ASCII)
    if match and int(match[1]) < len(lines):
        lines.pop(int(match[1]))
    if step == "line" or not lines:
        lines.append({})
    return lines[:MOST_LINES]
