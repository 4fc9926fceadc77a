-- What the service's role may do; run as the owner after each `umberkeep migrate` (see setup.sql).
-- Entries of the books are read and added, never changed or removed.

\set service :shop _service

GRANT SELECT, INSERT, UPDATE, DELETE ON ALL TABLES IN SCHEMA public TO :"service";
GRANT USAGE, SELECT ON ALL SEQUENCES IN SCHEMA public TO :"service";
REVOKE UPDATE, DELETE, TRUNCATE ON
    posting, posting_result, movement, container_event, rag_log, witnessed_head, override, override_use,
    recipe_version, recipe_line, as_made, addition, change, rag_hand, day_closing, condition_rule,
    check_done, training, waste_drum, waste_drum_entry, waste_site
    FROM :"service";
REVOKE INSERT, UPDATE, DELETE, TRUNCATE ON alembic_version FROM :"service";
