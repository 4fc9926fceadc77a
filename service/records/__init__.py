"""What we remember: tables, queries and migrations."""
