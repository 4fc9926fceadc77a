"""Alembic migrations; `migrate.py` beside this folder runs them."""
