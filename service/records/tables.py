"""Every table module, imported once so that the metadata is whole (migrations, tests)."""

from service.records import (
    components,
    duties,
    jobs,
    materials,
    mixing,
    outbox,
    people,
    places,
    rags,
    rooms,
    samples,
    shop,
    stock,
    stock_lists,
)

MODULES = (
    components, duties, jobs, materials, mixing, outbox, people, places, rags, rooms, samples, shop,
    stock, stock_lists,
)  # fmt: skip
