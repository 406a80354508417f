"""The command ``leadline``, and ``python -m registry``."""

import signal
import sys


def main() -> None:
    """Run the command and leave with its exit code."""
    try:
        from registry.cli.main import run

        code = run()
        # What is left is only to leave: a key pressed now would be told as a fault of the interpreter.
        signal.signal(signal.SIGINT, signal.SIG_IGN)
    except KeyboardInterrupt:
        # Pressed before or after the command itself; nothing was begun, or all was done.
        raise SystemExit(_stopped()) from None
    raise SystemExit(code)


def _stopped() -> int:
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    from registry.cli.stopping import EXIT_STOPPED, STOPPED

    sys.stderr.write(f"{STOPPED}\n")
    return EXIT_STOPPED


if __name__ == "__main__":
    main()
