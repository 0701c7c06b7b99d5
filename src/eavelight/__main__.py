"""`python -m eavelight` is the same as the `eavelight` command."""

from eavelight.cli import main

if __name__ == "__main__":
    raise SystemExit(main())
