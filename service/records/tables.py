"""Every table module, imported once so that the metadata is whole (migrations, tests)."""

from service.records import (
    checks,
    components,
    condition_rules,
    duties,
    jobs,
    materials,
    mixing,
    notices,
    orders,
    outbox,
    people,
    places,
    plans,
    rags,
    rooms,
    samples,
    shop,
    stock,
    stock_lists,
    store_storage,
    waste_drums,
)

MODULES = (
    checks, components, condition_rules, duties, jobs, materials, mixing, notices, orders, outbox, people,
    places, plans, rags, rooms, samples, shop, stock, stock_lists, store_storage,
    waste_drums,
)  # fmt: skip
