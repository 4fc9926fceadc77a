"""What the form of a delivery knows already when it is of a line of an order."""

from __future__ import annotations

from sqlmodel import Session

from service.core.costs import coins
from service.core.findings import NotFound
from service.records.order_queries import supplier_names, the_line, the_order
from service.records.shop import ShopProfile


def of_order(session: Session, line_id: int, material_id: int) -> dict[str, str]:
    """Amount in each, supplier and price of an ordered line, as the form takes them.

    Raises:
        NotFound: there is no such line, or it is of another material.
    """
    line = the_line(session, line_id)
    if line.material_id != material_id:
        raise NotFound("This line of the order is of another material.")
    supplier = supplier_names(session).get(the_order(session, line.order_id).supplier_id or 0, "")
    known = {"order_line": str(line_id), "amount": line.pack_written, "supplier": supplier}
    shop = session.get(ShopProfile, 1)
    if line.price_minor is not None and line.currency == (shop.currency if shop else None):
        places = coins(line.currency)
        whole, rest = divmod(line.price_minor, 10**places)
        known["price"] = f"{whole}.{rest:0{places}}" if places else str(whole)
    return known
