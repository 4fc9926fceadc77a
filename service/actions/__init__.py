"""What people do: one function is one transaction's worth of work. Actions never commit."""
