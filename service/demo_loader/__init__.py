"""The demo: an invented shop, played through the same acts as a real one, by a clock that walks up to now.

Its words and figures stand in ``seed_data/demo``. Nothing is written past the acts, so nothing in it can be
what the service itself would refuse.
"""

from service.demo_loader.load import load, load_demo

__all__ = ["load", "load_demo"]
