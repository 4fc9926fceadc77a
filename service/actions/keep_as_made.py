"""What a batch was really made of: held against the plan, and kept as the next version of its recipe."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from typing import Any

from sqlmodel import Session

from service.actions.check_mix import MixAsked, check_mix, keep_check
from service.actions.grow_recipe import grow
from service.actions.meet_amount import meet_amount
from service.actions.read_amount import shop_system
from service.actions.read_recipe import LineAsked, LineRead, read_line_of
from service.actions.settle import Act, Sent, Settled, settle
from service.actions.what_went_in import WentIn, all_stuff, what_went_in
from service.actions.write_recipe import MOST_LINES, line_row
from service.core.access import Actor, Permission, require
from service.core.as_made import Compared, MadeLine, Makes, Planned, compare, what_it_makes, without_weight
from service.core.bench_writing import amount_as_written
from service.core.findings import Finding, Findings, Invalid, Refused, Stale, Verdict, note, stop, unknown
from service.core.materials import Basis
from service.core.quantities import show_amount
from service.core.recipe import YieldNotSaid
from service.core.recipe_amounts import HowMuch, read_how_much
from service.records.mixing import BATCH_WORDS, AsMade, Batch, BatchState, Recipe, RecipeVersion
from service.records.mixing_queries import lines_of, the_batch, the_recipe
from service.records.sample_queries import the_sample, versions_made_of

AS_MADE_STATES = (BatchState.RUNNING, BatchState.FINISHED)
"""A batch that was given up is no proportion to make again; one set aside has nothing in it."""


@dataclass(frozen=True)
class AsMadeSeen:
    """A batch held against its plan; ``kept`` are the versions written from it, the newest first."""

    batch: Batch
    recipe: Recipe
    plan_number: int
    lines: tuple[Compared, ...]
    went_in: WentIn
    makes: Makes | None
    kept: tuple[RecipeVersion, ...]
    findings: tuple[Finding, ...]

    @property
    def kept_now(self) -> RecipeVersion | None:
        """The newest version written from it."""
        return self.kept[0] if self.kept else None


def look_at_as_made(session: Session, batch: Batch) -> AsMadeSeen:
    """The plan grown to this batch, what went in, and how they differ. Reads only."""
    assert batch.id is not None
    recipe = the_recipe(session, batch.recipe_id)
    version = session.get_one(RecipeVersion, batch.recipe_version_id)
    rows = lines_of(session, batch.recipe_version_id)
    went_in = what_went_in(session, batch.id)
    found = Findings(list(went_in.made.findings))
    plan = _plan(session, batch, version, rows, found)
    stuff = all_stuff(material for _, material in rows) | went_in.stuff
    makes = what_it_makes(went_in.made.lines, went_in.stuff, _yield_of(batch))
    found.add(_said_makes(makes, went_in))
    return AsMadeSeen(
        batch, recipe, version.number, tuple(compare(plan, went_in.made.lines, stuff)), went_in, makes,
        tuple(versions_made_of(session, batch.id)), tuple(dict.fromkeys(found.items)),
    )  # fmt: skip


def _plan(
    session: Session, batch: Batch, version: RecipeVersion, rows: Any, found: Findings
) -> list[Planned]:
    if not rows:
        return []
    try:
        met, _ = meet_amount(version, rows, _how_much(session, batch))
        lines, _, lacking = grow(rows, version, met)
    except Invalid:
        found.add(unknown("plan-not-known", "How much of each was planned for this batch is not known."))
        return [Planned(row.material_id, m.name, None, None, None, row.to_suit) for row, m in rows]
    found.add(*lacking)
    return [
        Planned(line.material_id, line.name, line.low, line.high, line.basis, row.to_suit)
        for line, (row, _) in zip(lines, rows, strict=True)
    ]


def _how_much(session: Session, batch: Batch) -> HowMuch:
    return read_how_much(batch.wanted_written, system=shop_system(session))


def _yield_of(batch: Batch) -> tuple[int, Basis, str] | None:
    if batch.yield_amount is None or batch.yield_basis is None:
        return None
    return batch.yield_amount, batch.yield_basis, batch.yield_how or ""


def _said_makes(makes: Makes | None, went_in: WentIn) -> Finding:
    if makes is not None:
        sentence = f"It counts as making {show_amount(makes.amount, makes.basis)}: {makes.because}."
        return note("makes", sentence)
    if any(line.unmeasured for line in went_in.made.lines):
        sentence = "How much it made is not known: not all of it was measured. Ask for so many times of it."
    else:
        names = ", ".join(without_weight(went_in.made.lines, went_in.stuff))
        why = f"the density of {names} is missing" if names else "it cannot be added up"
        sentence = f"How much it made is not known: {why}. Ask for so many times of it, such as 4 times."
    return unknown("makes-not-known", sentence)


@dataclass(frozen=True, kw_only=True)
class AsMadeAsked:
    """Keep a batch as it was made; ``note`` says what is to be known of it."""

    once: str
    batch_id: int
    note: str = ""


def keep_as_made(session: Session, actor: Actor, now: datetime, asked: AsMadeAsked) -> Settled:
    """Write what really went into a batch as the next version of its recipe, which becomes the present one.

    Answers ``recipe``, ``name``, ``version_number``, ``version``, ``batch``, ``makes``.

    Raises:
        NotAllowed, NotFound.
        Stale: the batch is neither running nor finished.
        Refused: nothing went into it.
        Invalid: the note is too long, or more materials than a recipe holds.
    """
    require(actor, Permission.RECIPES)
    sent = Sent(asked.once, "keep-as-made", {"batch": asked.batch_id, "note": asked.note})
    return settle(session, actor, sent, now, lambda act: _keep(act, asked.batch_id, asked.note))


def _keep(act: Act, batch_id: int, remark: str) -> dict[str, Any]:
    if len(remark.strip()) > 2000:
        words = "Shorten the note to 2000 letters."
        raise Invalid(words, {"note": words})
    batch = the_batch(act.session, batch_id, lock=True)
    if batch.state not in AS_MADE_STATES:
        raise Stale(f"Batch {batch.id} is {BATCH_WORDS[batch.state]}. There is nothing made to keep.")
    recipe = the_recipe(act.session, batch.recipe_id, lock=True)
    went_in = what_went_in(act.session, batch_id)
    lines = _lines(act, went_in)
    makes = what_it_makes(went_in.made.lines, went_in.stuff, _yield_of(batch))
    act.note(*went_in.made.findings, _said_makes(makes, went_in))
    recipe.current_version += 1
    recipe.version += 1
    act.session.add(recipe)
    version = _version(act, recipe, batch, makes, remark.strip())
    for position, line in enumerate(lines, start=1):
        act.session.add(line_row(version, position, line))
    assert version.id is not None
    act.session.add(AsMade(version_id=version.id, batch_id=batch_id))
    act.session.flush()
    return {
        "recipe": recipe.id, "name": recipe.name, "version_number": version.number,
        "version": recipe.version, "batch": batch_id, "makes": version.makes_written,
    }  # fmt: skip


def _version(act: Act, recipe: Recipe, batch: Batch, makes: Makes | None, remark: str) -> RecipeVersion:
    planned = act.session.get_one(RecipeVersion, batch.recipe_version_id)
    assert recipe.id is not None
    version = RecipeVersion(
        recipe_id=recipe.id,
        number=recipe.current_version,
        makes_written=amount_as_written(makes.amount, makes.basis) if makes else "",
        makes_amount=makes.amount if makes else None,
        makes_basis=makes.basis if makes else None,
        note=f"As made in batch {batch.id}. {remark}".strip(),
        coverage_written=planned.coverage_written,
        coverage_low_m2_l=planned.coverage_low_m2_l,
        coverage_high_m2_l=planned.coverage_high_m2_l,
        person_id=act.actor.person_id,
        created_at=act.recorded_at,
    )
    act.session.add(version)
    act.session.flush()
    return version


def _lines(act: Act, went_in: WentIn) -> list[LineRead]:
    made = went_in.made.lines
    if not made:
        sentence = "Nothing is written down that went into it. Add what went in first."
        raise Refused(Verdict.of([stop("nothing-went-in", sentence)]))
    if len(made) > MOST_LINES:
        raise Invalid(f"A recipe holds at most {MOST_LINES} lines.")
    return [
        read_line_of(
            act.session, act.actor, went_in.materials[line.material_id],
            LineAsked(line.material_id, written_of(line)),
        )
        for line in made
    ]  # fmt: skip


def written_of(line: MadeLine) -> str:
    """A line as a recipe writes it.

    >>> written_of(MadeLine(1, Basis.MASS, 5000)), written_of(MadeLine(1, Basis.MASS, 0, True, 2500))
    ('5 g', 'to suit, at most 2.5 g')
    >>> written_of(MadeLine(1, Basis.MASS, 11_091, about=True, low=8_133))
    '8.13 g to 11.1 g'
    """
    if line.unmeasured:
        if not line.at_most or line.basis is None:
            return "to suit"
        return f"to suit, at most {amount_as_written(line.at_most, line.basis)}"
    assert line.basis is not None, "what was measured was measured in something"
    if line.low is not None and 0 < line.low < line.amount:
        low, high = _figures(line.low, up=False), _figures(line.amount, up=True)
        return f"{amount_as_written(low, line.basis)} to {amount_as_written(high, line.basis)}"
    return f"{'about ' if line.about else ''}{amount_as_written(line.amount, line.basis)}"


def _figures(smallest: int, *, up: bool) -> int:
    """To three figures, outward: a spoon is no balance.

    >>> _figures(11_091, up=True), _figures(8_133, up=False), _figures(75, up=True)
    (11100, 8130, 75)
    """
    step = int(10 ** max(0, len(str(smallest)) - 3))
    return -(-smallest // step) * step if up else smallest // step * step


def make_this_much(
    session: Session, actor: Actor, now: datetime, once: str, sample_id: int, amount: str
) -> Settled:
    """Check the stock for so much of a colour sample; what went into it is kept as a version first, unless
    that stands already. Answers ``recipe``, ``version_number``, ``check``, ``wrote``.

    Raises:
        As `keep_as_made` and `check_mix`; nothing is kept then.
    """
    require(actor, Permission.RECIPES)
    require(actor, Permission.BATCHES)
    sent = Sent(once, "make-of-sample", {"sample": sample_id, "amount": amount})
    return settle(session, actor, sent, now, lambda act: _make(act, sample_id, amount))


def _make(act: Act, sample_id: int, amount: str) -> dict[str, Any]:
    sample = the_sample(act.session, sample_id, lock=True)
    batch = the_batch(act.session, sample.batch_id)
    wrote = not stands_as_made(act.session, act.actor, batch)
    if wrote:
        _keep(act, sample.batch_id, "")
    try:
        mix = check_mix(act.session, act.actor, act.recorded_at, MixAsked(batch.recipe_id, amount))
    except YieldNotSaid as wrong:
        # The recipe was just written from the pot, so the reason is in the pot.
        words = _said_makes(None, what_went_in(act.session, sample.batch_id)).sentence
        raise Invalid(words, {"amount": words}) from wrong
    kept = keep_check(act.session, act.actor, act.recorded_at, mix)
    return {
        "recipe": batch.recipe_id, "version_number": mix.version.number, "check": kept.id, "wrote": wrote,
    }  # fmt: skip


def stands_as_made(session: Session, actor: Actor, batch: Batch) -> bool:
    """Whether the newest version written from a batch still says what went into it, and what it made."""
    assert batch.id is not None
    kept = versions_made_of(session, batch.id)
    if not kept:
        return False
    went_in = what_went_in(session, batch.id)
    makes = what_it_makes(went_in.made.lines, went_in.stuff, _yield_of(batch))
    now = [(line.material_id, written_of(line)) for line in went_in.made.lines]
    before = [(row.material_id, row.written) for row, _ in lines_of(session, kept[0].id or 0)]
    made = (makes.amount, makes.basis) if makes else (None, None)
    return now == before and made == (kept[0].makes_amount, kept[0].makes_basis)
