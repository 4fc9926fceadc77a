"""Reading colour samples, and which recipe version was written from which batch."""

from collections.abc import Iterable, Sequence

from sqlmodel import Session, col, select

from service.core.findings import NotFound
from service.core.ledger import MovementKind
from service.records.mixing import AsMade, Batch, Recipe, RecipeVersion
from service.records.samples import ColourSample
from service.records.stock import Movement


def the_sample(session: Session, sample_id: int, *, lock: bool = False) -> ColourSample:
    """One colour sample; ``lock`` to change it.

    Raises:
        NotFound: there is none with this number.
    """
    query = select(ColourSample).where(col(ColourSample.id) == sample_id)
    if lock:
        query = query.with_for_update().execution_options(populate_existing=True)
    found = session.exec(query).one_or_none()
    if found is None:
        raise NotFound(f"There is no colour sample number {sample_id}.")
    return found


def sample_of_batch(session: Session, batch_id: int) -> ColourSample | None:
    """The colour sample a batch was mixed for, if it was."""
    return session.exec(select(ColourSample).where(col(ColourSample.batch_id) == batch_id)).one_or_none()


def newest_samples(
    session: Session, limit: int = 50, offset: int = 0
) -> Sequence[tuple[ColourSample, Batch, Recipe]]:
    """Colour samples with batch and recipe, the newest first."""
    return session.exec(
        select(ColourSample, Batch, Recipe)
        .join(Batch, col(Batch.id) == col(ColourSample.batch_id))
        .join(Recipe, col(Recipe.id) == col(Batch.recipe_id))
        .order_by(col(ColourSample.id).desc())
        .limit(limit)
        .offset(offset)
    ).all()


def versions_made_of(session: Session, batch_id: int) -> Sequence[RecipeVersion]:
    """The recipe versions that were written from a batch, the newest first."""
    return session.exec(
        select(RecipeVersion)
        .join(AsMade, col(AsMade.version_id) == col(RecipeVersion.id))
        .where(col(AsMade.batch_id) == batch_id)
        .order_by(col(RecipeVersion.number).desc())
    ).all()


def batches_of_recipe(session: Session, recipe_id: int, limit: int = 100) -> Sequence[Batch]:
    """The batches of a recipe, the newest first."""
    return session.exec(
        select(Batch).where(col(Batch.recipe_id) == recipe_id).order_by(col(Batch.id).desc()).limit(limit)
    ).all()


def received_into(session: Session, container_ids: Iterable[int]) -> dict[int, Movement]:
    """The movement by which each of these containers came, where it stands; made or poured ones have none."""
    ids = sorted(set(container_ids))
    rows = session.exec(
        select(Movement)
        .where(col(Movement.container_id).in_(ids), col(Movement.kind) == MovementKind.RECEIVE)
        .order_by(col(Movement.id))
    ).all()
    undone = set(
        session.exec(
            select(Movement.reverses_id).where(col(Movement.reverses_id).in_([row.id for row in rows]))
        ).all()
    )
    return {row.container_id: row for row in rows if row.id not in undone}
