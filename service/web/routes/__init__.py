"""The table of who may use which address, one small file per subject; route_table.py joins them."""
