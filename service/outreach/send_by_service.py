"""One message by a notification service (ntfy, Gotify, Matrix …) through the library that speaks to them."""

from __future__ import annotations

import logging
import threading
from typing import Any, Final

from service.core.channel_addresses import read_service
from service.core.findings import Invalid
from service.core.mail_addresses import one_line
from service.outreach.envelope import Envelope, NotSent

STEP_S: Final = 10.0
SEND_WITHIN_S: Final = 60.0


def is_understood(address: str) -> bool:
    """Whether the library can use an address; nothing is sent."""
    return _service(address, STEP_S) is not None


def _service(address: str, step_s: float) -> Any:
    # Loaded when first needed: most shops have mail only, and the library takes a while to load.
    from apprise import Apprise, AppriseAsset

    logging.getLogger("apprise").setLevel(logging.CRITICAL + 1)  # its lines hold parts of the address
    asset = AppriseAsset(app_id="Umberkeep", app_desc="Umberkeep", app_url="", async_mode=False)
    made = Apprise.instantiate(address, asset=asset, suppress_exceptions=True)
    if made is None:
        return None
    made.socket_connect_timeout = made.socket_read_timeout = step_s
    return made


def send_by_service(
    envelope: Envelope, *, step_s: float = STEP_S, within_s: float = SEND_WITHIN_S
) -> None:
    """Send one message.

    Raises:
        NotSent: the address is not understood, or the service did not take it in time. The library tells no
            more, and what it knows would show parts of the secret.
    """
    try:
        service = _service(read_service(envelope.to), step_s)
    except Invalid as error:
        raise NotSent("address", error.sentence) from None
    if service is None:
        raise NotSent("address", "The notification library does not understand this address.")
    outcome: list[bool] = []

    def tell() -> None:
        try:
            text = f"{envelope.text}\n\n{envelope.message_id.strip('<>')}"
            sent = service.notify(title=one_line(envelope.subject), body=text, body_format="text")
            outcome.append(bool(sent))
        except Exception:
            outcome.append(False)

    # The library bounds each step, not the whole: a service that answers a letter at a time is left behind.
    thread = threading.Thread(target=tell, name="notification", daemon=True)
    thread.start()
    thread.join(within_s)
    if not outcome:
        raise NotSent("way", "The service did not answer in time.")
    if not outcome[0]:
        raise NotSent("way", "The service did not take the message, or could not be reached.")
