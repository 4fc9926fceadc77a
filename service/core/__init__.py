"""What we know and how we decide: pure rules, no framework, no table, no clock, no input or output."""
