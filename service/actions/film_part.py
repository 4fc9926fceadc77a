"""One material of the shop as a part of a film: its own figures first, then those of the published tables.

What neither holds is a range from nothing to all and a finding, never a guess. Measured figures are floats
here.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from decimal import Decimal
from typing import Final

from service.core.film import NOTHING, OIL_DENSITY_G_ML, SOLIDS_HEAVIEST_G_ML, FilmPart, solids_density
from service.core.film_ranges import Span
from service.core.findings import Finding, note, unknown
from service.core.materials import Form, MaterialKind
from service.core.solvents.properties import DataUsed
from service.records.components import MaterialComponent
from service.records.film_facts import FilmFacts, Held, film_facts, film_facts_by_name
from service.records.materials import Material

ALL: Final[Span] = (100.0, 100.0)
ANYTHING: Final[Span] = (0.0, 100.0)
PASTES: Final = frozenset({MaterialKind.COLOUR_IN_OIL, MaterialKind.COLOUR_IN_JAPAN})
_MAY_HOLD_PIGMENT: Final = frozenset({MaterialKind.READY_MADE_FINISH, MaterialKind.MADE_MIX})
_UNNAMED_MAY: Final = frozenset({MaterialKind.SOLVENT, MaterialKind.OTHER_CHEMICAL})
_DRY: Final = frozenset({Form.POWDER, Form.SOLID})
OIL_MODEL: Final = "oil density of oil absorption, from memory (Patton)"


@dataclass
class Read:
    """What was found about one material while reading it."""

    material: Material
    held: FilmFacts | None
    pigment: FilmFacts | None
    findings: list[Finding] = field(default_factory=list)
    used: list[DataUsed] = field(default_factory=list)

    def own(self, value: Decimal | None, name: str, unit: str, source: str | None) -> Span | None:
        """A figure of the shop's own book, noted as used."""
        if value is None:
            return None
        self._use(name, f"{value:f}", unit, source or "this shop's book", "own")
        return float(value), float(value)

    def table(self, held: Held | None, name: str) -> Span | None:
        """A published figure, noted as used."""
        if held is None:
            return None
        low, high = held.span
        self._use(
            name, f"{low:g}" if low == high else f"{low:g} to {high:g}", held.unit, held.source, held.grade
        )
        return held.span

    def _use(self, name: str, value: str, unit: str, source: str, grade: str) -> None:
        self.used.append(DataUsed(self.material.name, name, value, unit, source, grade))

    def lacks(self, code: str, sentence: str) -> None:
        self.findings.append(unknown(code, sentence, about=self.material.name))


def read_material(material: Material) -> Read:
    """The tables' rows of a material and of its pigment."""
    held = film_facts(material.known_key) if material.known_key else None
    own_key = material.pigment_key or (held.key if held and held.table == "pigments" else None)
    return Read(material, held, film_facts(own_key) if own_key else None)


def part_of(read: Read, mass: Span, components: Sequence[MaterialComponent] = ()) -> FilmPart | None:
    """The material as a part of a film with its mass in g; ``None`` for sandpaper and the like."""
    material = read.material
    if material.form is Form.PIECES or material.kind is MaterialKind.CONSUMABLE:
        words = f"{material.name} is counted in pieces and left out of the film."
        read.findings.append(note("not-in-film", words, about=material.name))
        return None
    if material.kind is MaterialKind.DRY_PIGMENT:
        return _pigment(read, mass)
    if material.kind in PASTES:
        return _paste(read, mass)
    if _all_evaporates(read, components):
        return FilmPart(material.name, mass, volatile_density=density_of(read))
    if material.kind is MaterialKind.DYE and material.form in _DRY:
        words = f"{material.name} dissolves: it has no grains, so it counts neither as pigment nor as binder."
        read.findings.append(note("dye-has-no-grains", words, about=material.name))
        return FilmPart(material.name, mass, dissolved=True)
    return _binder(read, mass, components)


def density_of(read: Read) -> Span | None:
    """Of the material as it comes, in g/ml; none for loose powder, whose grains are told apart."""
    material = read.material
    own = read.own(material.density_g_ml, "density", "g/ml", material.density_source)
    same = read.held is not None and (read.held.table == "pigments") == (material.form in _DRY)
    return own or (read.table(read.held.density, "density") if read.held and same else None)


def _all_evaporates(read: Read, components: Sequence[MaterialComponent]) -> bool:
    """Told by its figure or by what it is; that somebody filed it under solvents tells nothing of it."""
    material = read.material
    if material.non_volatile_percent is not None:
        return material.non_volatile_percent == 0 and not material.pigment_percent
    solvent = read.held is not None and read.held.table == "solvents"
    named = material.kind is MaterialKind.SOLVENT and bool(material.cas or material.known_key or components)
    return solvent or named or material.not_stocked


def _pigment(read: Read, mass: Span) -> FilmPart:
    material = read.material
    density = read.own(material.density_g_ml, "density", "g/ml", material.density_source)
    density = density or (read.table(read.pigment.density, "density") if read.pigment else None)
    if density is None:
        read.lacks("pigment-density-not-known", f"How dense the grains of {material.name} are is not known. "
                   "Take it from its sheet, section 9.")  # fmt: skip
    return FilmPart(material.name, mass, pigment=ALL, pigment_density=density, oil_absorption=_absorbs(read))


def _absorbs(read: Read) -> Span | None:
    material = read.material
    ends = [end for end in (material.oil_absorption_low, material.oil_absorption_high) if end is not None]
    if ends:
        low = read.own(min(ends), "oil absorption", "g/100 g", material.film_source)
        high = (float(max(ends)), float(max(ends)))
        return (low or high)[0], high[1]
    told = read.table(read.pigment.oil_absorption, "oil absorption") if read.pigment else None
    if told is None:
        words = (
            f"How much oil {material.name} takes up (oil absorption) is not known, so whether the binder is "
        )
        read.lacks(
            "oil-absorption-not-known", words + "enough is not. Ask its supplier, or rub it out with oil."
        )
    return told


def _paste(read: Read, mass: Span) -> FilmPart:
    material, source = read.material, read.material.film_source
    in_oil = material.kind is MaterialKind.COLOUR_IN_OIL
    pigment = read.own(material.pigment_percent, "pigment", "%", source)
    stays = read.own(material.non_volatile_percent, "non-volatile", "%", source)
    oil = read.own(material.oil_share_percent, "oil share", "%", source)
    if pigment is None and in_oil and read.pigment and (paste := read.pigment.paste_oil):
        read.table(paste, "oil of a historic paste")
        pigment = 100 - paste.span[1], 100 - paste.span[0]
        oil = oil or paste.span
        words = f"The share of pigment in {material.name} is not told. A published paste of the same pigment "
        read.lacks("paste-not-told", words + "stands in for it; makers differ by a lot. Ask the supplier.")
    elif pigment is None:
        read.lacks("pigment-share-not-known", f"How much pigment {material.name} holds is not known. Ask its "
                   "supplier; until then it counts as anything from none to all.")  # fmt: skip
        pigment = ANYTHING
    binder = _binder_of_paste(read, pigment, stays, oil if in_oil else None)
    grains = read.table(read.pigment.density, "density of the pigment") if read.pigment else None
    if grains is None:
        _grains_untold(read)
    return FilmPart(
        material.name,
        mass,
        pigment=pigment,
        binder=binder,
        pigment_density=grains,
        binder_density=(OIL_DENSITY_G_ML, OIL_DENSITY_G_ML if in_oil else SOLIDS_HEAVIEST_G_ML),
        whole_density=density_of(read),
        oil_absorption=_absorbs(read),
    )


def _grains_untold(read: Read) -> None:
    words = f"Which pigment {read.material.name} holds is not told, so the density of its grains is not. "
    read.lacks("pigment-density-not-known", words + "A keeper can name it among its film figures.")


def _binder_of_paste(read: Read, pigment: Span, stays: Span | None, oil: Span | None) -> Span:
    if stays is not None:
        return max(0.0, stays[0] - pigment[1]), max(0.0, stays[1] - pigment[0])
    if oil is not None:
        return oil
    words = f"How much binder {read.material.name} holds, and how much of it evaporates, is not known."
    read.lacks("binder-share-not-known", words)
    return 0.0, 100 - pigment[0]


def _binder(read: Read, mass: Span, components: Sequence[MaterialComponent]) -> FilmPart:
    material = read.material
    stays = read.own(material.non_volatile_percent, "non-volatile", "%", material.film_source)
    if stays is None and material.oil_share_percent == 100:
        stays = read.own(material.oil_share_percent, "oil share", "%", material.film_source)
    if stays is None and read.held is not None:
        stays = read.table(read.held.non_volatile, "non-volatile")
    if stays is None:
        stays = _from_composition(components)
        words = (
            f"How much of {material.name} stays when it has dried is not known. Its sheet or its label gives "
        )
        read.lacks(
            "non-volatile-not-known", words + "the non-volatile share; until then it is taken as a range."
        )
    pigment = _pigment_inside(read)
    whole = density_of(read)
    if material.kind is MaterialKind.DYE:
        words = f"Whether {material.name} holds a binder beside the dye is not known."
        read.lacks("binder-share-not-known", words)
        stays = 0.0, stays[1]
    binder = (max(0.0, stays[0] - pigment[1]), max(0.0, stays[1] - pigment[0])) if pigment[1] else stays
    density = solids_density(whole, stays) if whole else None
    if whole is None:
        words = f"The density of {material.name} is not known. Take it from section 9 of its sheet."
        read.lacks("density-not-known", words)
    elif stays[0] < 100 and stays[1] > 0:
        words = f"What stays of {material.name} is heavier than the whole; how heavy is not known, so the "
        read.findings.append(note("solids-density-range", words + "figures are ranges.", about=material.name))
    grains = (
        read.table(read.pigment.density, "density of the pigment") if read.pigment and pigment[1] else None
    )
    if grains is None and pigment[1]:
        _grains_untold(read)
    return FilmPart(
        material.name,
        mass,
        pigment=pigment,
        binder=binder,
        pigment_density=grains,
        binder_density=density,
        whole_density=whole,
        oil_absorption=_absorbs(read) if pigment[1] else None,
    )


def _pigment_inside(read: Read) -> Span:
    material = read.material
    told = read.own(material.pigment_percent, "pigment", "%", material.film_source)
    if told is not None or not may_hold_pigment(read):
        return told or NOTHING
    words = f"Whether {material.name} holds pigment is not known. A keeper can write it (0 for a clear one)."
    read.lacks("pigment-share-not-known", words)
    return ANYTHING


def may_hold_pigment(read: Read) -> bool:
    """A finish or a mix may, and so may a chemical or a solvent of which nobody knows what it is."""
    material = read.material
    named = bool(material.cas or material.known_key) and material.kind in _UNNAMED_MAY
    return material.kind in (*_MAY_HOLD_PIGMENT, *_UNNAMED_MAY) and not named


def _from_composition(components: Sequence[MaterialComponent]) -> Span:
    """What its own sheet names as solvents leaves, and is not counted again."""
    gone = 0.0
    for one in components:
        held = film_facts_by_name(one.cas)
        if held is not None and held.table == "solvents" and one.low is not None:
            gone += float(one.low)
    return 0.0, max(0.0, 100 - gone)
