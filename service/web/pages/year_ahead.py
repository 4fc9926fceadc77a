"""`/year-ahead`: how many containers end in this month and each of the next twelve, as picture and table."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Final

from fastapi import APIRouter, Request
from fastapi.responses import Response

from service.core.year_ahead import MonthOfStore, YearAhead, year_ahead
from service.records.use_first_queries import ends_of_store
from service.web.access_gate import Signed
from service.web.deps import Data, Now, shop_today
from service.web.render import day, page

router = APIRouter(include_in_schema=False)

TOP: Final = 20
FLOOR: Final = 170
STEP: Final = 27
FIRST: Final = 6
WIDTH: Final = 20
COLUMNS: Final = [
    {"key": "month", "label": "Month"},
    {"key": "look_first", "label": "Look first today", "number": True},
    {"key": "in_date", "label": "In date today", "number": True},
    {"key": "count", "label": "Together", "number": True},
]


@dataclass(frozen=True)
class Column:
    """One month of the picture, in its units: the part to look at first stands on the floor."""

    x: float
    middle: float
    label: str
    year: str
    count: str
    look_y: float
    look_height: float
    fine_y: float
    fine_height: float


@router.get("/year-ahead")
def ahead(request: Request, data: Data, now: Now, actor: Signed) -> Response:
    """The store's next twelve months."""
    with data.reading() as session:
        today = shop_today(session, now)
        year = year_ahead(ends_of_store(session, today), today)
    rows: list[dict[str, Any]] = [
        {"month": m.name, "look_first": str(m.look_first), "in_date": str(m.in_date), "count": str(m.count)}
        for m in year.months
    ]
    context = {
        "on": day(today),
        "year": year,
        "bars": drawn(year),
        "said": said(year),
        "columns": COLUMNS,
        "rows": rows,
        "floor": FLOOR,
        "width": WIDTH,
        "span": f"{year.months[0].name} to {year.months[-1].name}",
        "beside": [
            ("Past already", str(year.past), "not in the picture; on the shelf still, to be discarded"),
            ("Not known", str(year.not_known), "not in the picture; any of them may be over"),
            ("End later", str(year.later), ""),
            ("Without an end", str(year.no_end), "by the policy of their material"),
        ],
    }
    return page(request, "use_first/year.html", context, section="store")


def drawn(year: YearAhead) -> list[Column]:
    """The columns to scale: the highest month takes the whole height."""
    scale = (FLOOR - TOP) / max(1, year.highest)
    return [_column(n, month, scale) for n, month in enumerate(year.months)]


def _column(n: int, month: MonthOfStore, scale: float) -> Column:
    x = FIRST + n * STEP
    look, fine = round(month.look_first * scale, 1), round(month.in_date * scale, 1)
    return Column(
        x=x,
        middle=x + WIDTH / 2,
        label=month.name[:3],
        year=str(month.year) if n == 0 or month.month == 1 else "",
        count=_short(month.count),
        look_y=round(FLOOR - look, 1),
        look_height=look,
        fine_y=round(FLOOR - look - fine, 1),
        fine_height=fine,
    )


def _short(count: int) -> str:
    """
    >>> _short(0), _short(950), _short(12_300)
    ('', '950', '12k')
    """
    if count == 0:
        return ""
    return str(count) if count < 1000 else f"{count // 1000}k"


def said(year: YearAhead) -> str:
    """The picture in one sentence for those who do not see it."""
    full = [f"{month.name} {month.count}" for month in year.months if month.count]
    if not full:
        return "No container is known to end in these months."
    return f"Containers in date until a day of: {', '.join(full)}."
