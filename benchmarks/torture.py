"""`make torture`: see `benchmarks/tables.py`."""

from benchmarks.tables import print_tables

if __name__ == "__main__":
    print_tables("torture")
