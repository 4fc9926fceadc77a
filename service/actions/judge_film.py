"""The film of a mix of the shop's materials, and when to stir it again.

Nothing assumes oil: what a shellac, a glue size or a dye stain has not got is said in words that fit.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from sqlmodel import Session

from service.actions.film_part import (
    OIL_MODEL,
    PASTES,
    Read,
    density_of,
    may_hold_pigment,
    part_of,
    read_material,
)
from service.actions.mix_of_materials import weights_of
from service.actions.mixes_inside import what_is_in_lines
from service.actions.read_recipe import LineRead
from service.core.film import OIL_DENSITY_G_ML, Film, FilmPart, film_of
from service.core.film_ranges import Span
from service.core.film_reading import ROUGH, loading_of, reading_of
from service.core.findings import Finding, Verdict, note, unknown, warn
from service.core.hazards.lead_in_paint import SOURCE as LEAD_SOURCE
from service.core.hazards.lead_in_paint import most_mg_per_kg
from service.core.materials import Basis, Form, MaterialKind
from service.core.settling import ESTIMATE, FALL_MM, fall_mm_per_h, stir_again_min
from service.core.solvents.properties import DataUsed
from service.records.components import components_of_all

_ENDLESS: Final = float("inf")
_GLUED: Final = frozenset({MaterialKind.RESIN, MaterialKind.GLUE_OR_SIZE})


@dataclass(frozen=True)
class JudgedFilm:
    """The film of a mix: figures as ranges, what they mean in words, and what is missing.

    ``reading``: how the pigment is held; ``loading``: what its share means for the grain, roughly. Both
    ``None`` where they are not known.
    """

    film: Film
    reading: str | None
    loading: str | None
    verdict: Verdict
    data_used: tuple[DataUsed, ...]


@dataclass(frozen=True)
class StirAgain:
    """When to stir: an estimate. ``mm_per_h`` and ``minutes`` are slowest/fastest and soonest/latest.

    ``minutes`` None: not known, or nothing sinks (``nothing_sinks``). The latest may be endless.
    """

    mm_per_h: Span | None
    minutes: Span | None
    fall_mm: float
    nothing_sinks: bool
    words: str
    verdict: Verdict
    data_used: tuple[DataUsed, ...]


def judge_film(session: Session, lines: Sequence[LineRead], shares_by: Basis | None = None) -> JudgedFilm:
    """The film of these lines; an amount nobody knows counts as anything from nothing to all.

    A made mix among them is looked into here; lines that were looked into already may be given too.

    Args:
        shares_by: how parts and per cent are measured where a line does not say it; None = by mass.
    """
    lines = _looked_into(session, lines)
    reads = [read_material(line.material) for line in lines]
    masses, findings = _masses(lines, reads, shares_by)
    inside = components_of_all(session, [r.material.id for r in reads if r.material.id is not None])
    parts: list[FilmPart] = []
    for read, mass in zip(reads, masses, strict=True):
        made = part_of(read, mass, inside.get(read.material.id or 0, ()))
        parts += [made] if made is not None else []
    film = film_of(parts)
    findings += [finding for read in reads for finding in read.findings]
    findings += [*_said(film, reads), *_lead(reads)]
    used = [one for read in reads for one in read.used]
    if film.cpvc is not None:
        used.append(DataUsed("linseed oil", "density", OIL_DENSITY_G_ML, "g/ml", OIL_MODEL, "memory"))
    reading, loading = reading_of(film), loading_of(film)
    return JudgedFilm(film, reading, loading, Verdict.of(findings), tuple(dict.fromkeys(used)))


def stir_again(session: Session, lines: Sequence[LineRead], shares_by: Basis | None = None) -> StirAgain:
    """When the upper 10 mm of a mix are clear of pigment: the largest and heaviest grains decide.

    The thinnest liquid of the mix carries it, so the answer comes rather too soon than too late.
    """
    lines = _looked_into(session, lines)
    reads = [read_material(line.material) for line in lines]
    masses, _ = _masses(lines, reads, shares_by)
    there = [read for read, mass in zip(reads, masses, strict=True) if mass[1] > 0]
    grains = [read for read in there if _brings_grains(read)]
    if not grains:
        words = "No pigment is known to be in it, so nothing is known to settle."
        return StirAgain(None, None, FALL_MM, True, words, Verdict(), ())
    findings: list[Finding] = [note("stokes-estimate", ESTIMATE)]
    sizes = [_grain(read, findings) for read in grains]
    liquid = _carrier([read for read in there if _carries(read)], findings)
    used = tuple(dict.fromkeys(one for read in there for one in read.used))
    told = [one for one in sizes if one is not None]
    if liquid is None or len(told) < len(sizes):
        words = "When to stir again is not known. Stir before each dip."
        return StirAgain(None, None, FALL_MM, False, words, Verdict.of(findings), used)
    density, thick = liquid
    falls = [fall_mm_per_h(um, _per_m3(heavy), _per_m3(density), thick) for um, heavy in told]
    fall = max(low for low, _ in falls), max(high for _, high in falls)
    soon = stir_again_min(fall)
    return StirAgain(fall, soon, FALL_MM, soon is None, _stir_words(soon), Verdict.of(findings), used)


def _stir_words(soon: Span | None) -> str:
    if soon is None:
        return "By these figures the pigment does not sink. Stir before each dip all the same."
    first = max(1, int(soon[0]))
    latest = "longer than a day" if soon[1] > 1440 else f"{int(soon[1])} min"
    said = f"{first} min" if int(soon[1]) <= first else f"{first} min (coarse grains) to {latest} (fine ones)"
    return f"Estimate: the upper {FALL_MM:g} mm are clear after about {said}. Stir sooner than that."


def _looked_into(session: Session, lines: Sequence[LineRead]) -> list[LineRead]:
    """A made mix as what went into it, once.

    Looking into one may leave the mix itself in as one more line, which only carries its written hazards: for
    a film it would count everything twice.
    """
    found: list[LineRead] = []
    for line in lines:
        if line.material.kind is not MaterialKind.MADE_MIX:
            found.append(line)
        elif not _only_hazards(line):
            made = what_is_in_lines(session, [line])
            found += [one for one in made if made == [line] or not _only_hazards(one)]
    return found


def _only_hazards(line: LineRead) -> bool:
    written = line.written.startswith("in ") and line.written.endswith(f" of {line.material.name}")
    return line.material.kind is MaterialKind.MADE_MIX and line.low == 0 and written


def _masses(
    lines: Sequence[LineRead], reads: Sequence[Read], shares_by: Basis | None
) -> tuple[list[Span], list[Finding]]:
    """Grams of each line, or parts where shares were written; the high end endless where nobody knows it."""
    if not lines:
        return [], []
    weights, findings = weights_of(lines, shares_by)
    masses: list[Span] = []
    for line, read, weight in zip(lines, reads, weights, strict=True):
        if weight is not None:
            masses.append((float(weight[0]) / 1000, float(weight[1]) / 1000))
            continue
        found = _by_published_density(line, read)
        masses.append(found or (0.0, _ENDLESS))
        if found is not None:
            gone = ("density-not-known", line.material.name)
            findings = [one for one in findings if (one.code, one.about) != gone]
    return masses, findings


def _by_published_density(line: LineRead, read: Read) -> Span | None:
    """A liquid measured by volume whose density only the tables hold."""
    if line.basis is not Basis.VOLUME or line.high is None or line.share is not None:
        return None
    if line.material.form not in (Form.LIQUID, Form.PASTE) or (density := density_of(read)) is None:
        return None
    low = 0 if line.to_suit else line.low if line.low is not None else line.high
    return low * density[0] / 1000, line.high * density[1] / 1000


def _said(film: Film, reads: Sequence[Read]) -> list[Finding]:
    found: list[Finding] = []
    if film.pigment_g[1] == 0:
        dye = any(one.material.kind is MaterialKind.DYE for one in reads)
        words = (
            "No pigment is in it: the colour is a dye's, which fades sooner."
            if dye
            else "No pigment is in it."
        )
        found.append(note("no-pigment", words))
    elif film.binder_g[1] == 0:
        words = "No binder is in it: the pigment will rub off. Add the binder, or seal it at once."
        found.append(warn("no-binder", words))
    elif film.reduced_pvc is not None and film.reduced_pvc[1] > 1.1:
        words = (
            "It may hold more pigment than its binder can hold: it then rubs off on a rag. Try it on a board."
        )
        found.append(warn("may-be-under-bound", words))
    if film.pigment_g[1] > 0:
        found.append(note("loading-is-rough", ROUGH))
    other = [one.material.name for one in reads if one.material.kind in _GLUED]
    if other and film.reduced_pvc is not None:
        names = ", ".join(dict.fromkeys(other))
        words = f"Oil absorption is measured with linseed oil. With {names} the reading "
        found.append(note("binder-is-not-oil", words + "is rougher still."))
    return found


def _lead(reads: Sequence[Read]) -> list[Finding]:
    """A lead colour put in on purpose is over the limit of 0.009 % in every mix it can be seen in."""
    found: list[Finding] = []
    for read in reads:
        held = read.pigment.lead_percent if read.pigment else None
        if held is not None and held.span[1] > 0:
            most = most_mg_per_kg(held.span[1])
            words = f"{read.material.name} is a lead colour. US law bars paints with more than 0.009 % of "
            words += f"lead in what dries from goods for the home and toys: {most:.0f} mg of it to 1 kg."
            found.append(warn("lead-over-limit", words, LEAD_SOURCE, about=read.material.name))
    return found


def _brings_grains(read: Read) -> bool:
    kind, share = read.material.kind, read.material.pigment_percent
    if share is None:
        return kind is MaterialKind.DRY_PIGMENT or kind in PASTES or may_hold_pigment(read)
    return kind is MaterialKind.DRY_PIGMENT or share != 0


def _carries(read: Read) -> bool:
    return read.material.form is Form.LIQUID


def _grain(read: Read, findings: list[Finding]) -> tuple[Span, Span] | None:
    name = read.material.name
    size = read.table(read.pigment.particle_um, "grain") if read.pigment else None
    own = read.material.kind is MaterialKind.DRY_PIGMENT
    heavy = density_of(read) if own else None
    heavy = heavy or (read.table(read.pigment.density, "density of the pigment") if read.pigment else None)
    if size is None or heavy is None:
        lack = "size" if size is None else "density"
        words = f"The {lack} of the grains of {name} is not known, so when to stir again is not."
        findings.append(unknown(f"grain-{lack}-not-known", words, about=name))
        return None
    return size, heavy


def _carrier(liquids: Sequence[Read], findings: list[Finding]) -> tuple[Span, Span] | None:
    """Density in g/ml and viscosity in mPa·s over all liquids of the mix, thinnest to thickest."""
    told: list[tuple[Span, Span]] = []
    for read in liquids:
        density = density_of(read)
        thick = read.table(read.held.viscosity_mpa_s, "viscosity") if read.held else None
        if density is not None and thick is not None:
            told.append((density, thick))
            continue
        lack = "viscosity" if density is not None else "density"
        words = f"The {lack} of {read.material.name} is not known, so when to stir again is not."
        findings.append(unknown(f"carrier-{lack}-not-known", words, about=read.material.name))
    if not told or len(told) < len(liquids):
        if not liquids:
            findings.append(
                unknown("no-carrier", "No liquid carrier is named, so when to stir again is not known.")
            )
        return None
    ends = [end for pair in told for end in pair[0]], [end for pair in told for end in pair[1]]
    return (min(ends[0]), max(ends[0])), (min(ends[1]), max(ends[1]))


def _per_m3(g_ml: Span) -> Span:
    return g_ml[0] * 1000, g_ml[1] * 1000
