"""The command ``stemwright``: arguments, exit status."""


def main() -> int:
    """Run the command line and return the exit status."""
    raise SystemExit("not there yet")
