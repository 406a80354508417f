"""The command ``leadline``, and ``python -m registry``."""

from registry.cli.main import run


def main() -> None:
    """Run the command and leave with its exit code."""
    raise SystemExit(run())


if __name__ == "__main__":
    main()
