"""`/records/csv/…`: stock, ledger, events and rag log as files to save."""

from collections.abc import Callable, Iterator, Sequence
from typing import Any

from fastapi import APIRouter
from fastapi.responses import Response
from sqlmodel import Session

from service.outreach.csv_tables import event_rows, ledger_rows, rag_log_rows, stock_rows, written
from service.web.access_gate import Signed
from service.web.csv_answers import as_csv
from service.web.deps import Data, Now, shop_today

router = APIRouter(prefix="/records/csv", include_in_schema=False)


def _saved(data: Data, name: str, rows: Callable[[Session], Iterator[Sequence[Any]]]) -> Response:
    with data.reading() as session:
        return as_csv(name, written(rows(session)))


@router.get("/stock.csv")
def stock(data: Data, now: Now, actor: Signed) -> Response:
    """What is in the store; a list that can be read back."""
    return _saved(data, "stock.csv", lambda session: stock_rows(session, shop_today(session, now)))


@router.get("/ledger.csv")
def ledger(data: Data, actor: Signed) -> Response:
    """Every movement."""
    return _saved(data, "ledger.csv", ledger_rows)


@router.get("/events.csv")
def events(data: Data, actor: Signed) -> Response:
    """Every opening, move, check and the like."""
    return _saved(data, "events.csv", event_rows)


@router.get("/rag-log.csv")
def rag_log(data: Data, actor: Signed) -> Response:
    """The rag log with the text that was hashed and the hashes."""
    return _saved(data, "rag-log.csv", rag_log_rows)
