"""`python -m shimopt`, and the `shimopt` on the path: from its first moment on, Ctrl-C ends it quietly."""

import gc
import os
import signal

__all__ = ["main"]

_INTERRUPTED = 130


def main() -> None:
    """Load the command line and run it."""
    listens = signal.getsignal(signal.SIGINT) is signal.default_int_handler
    if listens:
        # while it is being loaded there is nothing to put in order
        signal.signal(signal.SIGINT, lambda *_: os._exit(_INTERRUPTED))
    # what is loaded stays loaded: it is looked through for garbage less often
    gc.set_threshold(50_000, 20, 20)
    from shimopt.cli.main import main as run

    if listens:
        signal.signal(signal.SIGINT, signal.default_int_handler)
    run()


if __name__ == "__main__":
    main()
