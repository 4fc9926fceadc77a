"""That a rag duty stands after something was tried, as it stood before."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager

import pytest

from service.actions.rag_duty import blocked_by
from service.core.findings import Refused
from tests.rag_shop import RagShop, codes_of


@contextmanager
def stands(shop: RagShop, load_id: int = 1) -> Iterator[None]:
    """The duty of a load stands after what is done inside as it stood before."""
    before = shop.load(load_id).row
    yield
    after = shop.load(load_id)
    assert not after.state.ended and after.row.ended_at is None
    assert after.row.contain_by <= before.contain_by and after.row.remove_by <= before.remove_by
    with shop.database.reading() as session:
        assert blocked_by(session, shop.now).codes == {"rags-overdue"}
    with pytest.raises(Refused) as refused:
        shop.draw()
    assert "rags-overdue" in codes_of(refused.value)
