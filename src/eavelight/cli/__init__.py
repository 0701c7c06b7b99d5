"""The command line: one module per command, no logic of its own."""

__all__ = ["main"]


def main() -> int:
    """Run the command line and return its exit code."""
    from eavelight.cli.entry import run

    return run()
