"""`/labels`: choosing labels, printing them on roll or sheet, fresh codes, a page to check with."""

from typing import Annotated, Any

from fastapi import APIRouter, Query, Request
from fastapi.responses import Response
from sqlmodel import Session, col, select

from service.actions.give_codes import fresh_code
from service.config import Settings
from service.core.findings import Invalid, NotFound
from service.core.shelf_codes import normalise, show_code
from service.outreach.label_faces import blank_faces, container_face, place_face
from service.outreach.labels import NUDGES, STOCKS, LabelFace, LabelStock, lay_out, mm, page_css, ruler_page
from service.records.material_search import active_places, all_places, newest_containers, path_of
from service.records.places import Place
from service.records.stock import Container
from service.records.stock_queries import Held, material_of
from service.web.access_gate import Signed
from service.web.deps import Config, Data, Now, Secrets, shop_today
from service.web.forms import Posted, filled
from service.web.render import page

router = APIRouter(prefix="/labels", include_in_schema=False)

MOST = 400
Code = Annotated[str, Query(min_length=1, max_length=120)]
Codes = Annotated[list[Code], Query(max_length=MOST)]
StockKey = Annotated[str, Query(pattern="^(roll-62x29|sheet-24|sheet-14)$")]
Nudge = Annotated[str, Query(pattern=r"^-?[0-5](\.[05])?$")]
First = Annotated[int, Query(ge=1, le=24)]
_NUDGE_CHOICES = [(mm(tenths), f"{mm(tenths)} mm".replace("-", "−")) for tenths in NUDGES]


@router.get("")
def choose(request: Request, data: Data, actor: Signed) -> Response:
    """What came last, every place, and a box for codes."""
    p = filled(stock="roll-62x29", x="0", y="0", first=1)
    with data.reading() as session:
        return _choose(request, session, p)


def _choose(request: Request, session: Session, p: Posted[Any], status: int = 200) -> Response:
    places = all_places(session)
    context = {
        "p": p,
        "stocks": [(stock.key, stock.words) for stock in STOCKS.values()],
        "nudges": _NUDGE_CHOICES,
        "newest": [
            (box.code, f"{show_code(box.code)} {material.name}")
            for box, material in newest_containers(session)
        ],
        "places": [
            (one.code, f"{show_code(one.code)} {path_of(one, places)}") for one in active_places(session, 200)
        ],
    }
    return page(request, "labels/choose.html", context, status, section="labels", scan=True)


@router.get("/print")
def show(
    request: Request, data: Data, now: Now, actor: Signed, settings: Config,
    c: Codes = [], p: Codes = [], codes: Annotated[str, Query(max_length=4000)] = "",  # noqa: B006
    stock: StockKey = "roll-62x29", x: Nudge = "0", y: Nudge = "0", first: First = 1,
) -> Response:  # fmt: skip
    """The labels, ready for the browser's own print command at 100 %."""
    typed = filled(c=c, p=p, codes=codes, stock=stock, x=x, y=y, first=first)
    with data.reading() as session:
        try:
            wanted = [*c, *p, *(part for part in codes.replace(",", "\n").splitlines() if part.strip())]
            faces = [_face(session, code, now, settings) for code in dict.fromkeys(wanted)]
        except (Invalid, NotFound) as wrong:
            typed.refuse("codes", wrong.sentence)
            return _choose(request, session, typed, 422)
        if not faces:
            typed.refuse("codes", "Choose a container or place, or enter codes.")
            return _choose(request, session, typed, 422)
    return _sheet(request, faces, STOCKS[stock], (x, y), first)


def _face(session: Session, text: str, now: Now, settings: Settings) -> LabelFace:
    code = normalise(text)
    if code is None:
        raise Invalid(f"“{text.strip()[:40]}” is not a shelf code. Check the signs on its label.")
    box = session.exec(select(Container).where(col(Container.code) == code)).one_or_none()
    if box is not None:
        held = Held(box, material_of(session, box))
        return container_face(session, held, shop_today(session, now), settings.base_url)
    place = session.exec(select(Place).where(col(Place.code) == code)).one_or_none()
    if place is None:
        raise NotFound(f"Nothing in the book has the code {show_code(code)}.")
    return place_face(path_of(place, all_places(session)), place, settings.base_url)


def _sheet(
    request: Request, faces: list[LabelFace], stock: LabelStock, nudge: tuple[str, str], first: int
) -> Response:
    pages = lay_out(faces, stock, (_tenths(nudge[0]), _tenths(nudge[1])), first)
    many = f"{len(faces)} label{'s' if len(faces) != 1 else ''}"
    if stock.on_page > 1:
        many += f" on {len(pages)} page{'s' if len(pages) != 1 else ''}"
    context = {"pages": pages, "stock": stock, "many": many}
    return page(request, "labels/print.html", context, section="labels")


def _tenths(text: str) -> int:
    """Millimetres by halves as tenths.

    >>> _tenths("-0.5"), _tenths("3")
    (-5, 30)
    """
    sign = -1 if text.startswith("-") else 1
    whole, _, half = text.lstrip("-").partition(".")
    return sign * (int(whole) * 10 + int(half or 0))


@router.get("/ahead")
def ahead(
    request: Request, data: Data, actor: Signed, settings: Config, secret: Secrets,
    stock: StockKey = "sheet-24", x: Nudge = "0", y: Nudge = "0",
    count: Annotated[int, Query(ge=1, le=240)] = 24,
) -> Response:  # fmt: skip
    """Labels with codes that nothing has yet. They stand in no book until one is scanned in a stock-take."""
    with data.reading() as session:
        codes = dict.fromkeys(fresh_code(session, secret) for _ in range(count))
    return _sheet(request, blank_faces(codes, settings.base_url), STOCKS[stock], (x, y), 1)


@router.get("/ruler")
def ruler(
    request: Request, actor: Signed, stock: StockKey = "roll-62x29", x: Nudge = "0", y: Nudge = "0"
) -> Response:
    """The outlines of every label and a line of 50 mm."""
    pages = [ruler_page(STOCKS[stock], (_tenths(x), _tenths(y)))]
    context = {"pages": pages, "stock": STOCKS[stock], "many": "A page to hold against a ruler"}
    return page(request, "labels/print.html", context, section="labels")


@router.get("/page.css")
def paper(actor: Signed, stock: StockKey = "roll-62x29") -> Response:
    """The paper size of a stock."""
    return Response(page_css(STOCKS[stock]), media_type="text/css; charset=utf-8")
