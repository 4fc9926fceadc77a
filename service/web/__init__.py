"""How people see it: pages, JSON, forms, guard."""
