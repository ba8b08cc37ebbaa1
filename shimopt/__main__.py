"""`python -m shimopt`, and the `shimopt` on the path: from its first moment on, Ctrl-C ends it quietly."""

import gc
import os
import signal
import sys
import time

_BEGUN = time.monotonic()


def main() -> None:
    """Load the command line and run it."""
    # where somebody made us deaf to it (as `nohup` does), we stay so
    hears = signal.getsignal(signal.SIGINT) is signal.default_int_handler
    if hears:
        signal.signal(signal.SIGINT, lambda *_: os._exit(130))
    # what is loaded, and the rows of a large drawer, stay: they are looked through for garbage less often
    gc.set_threshold(200_000, 20, 20)
    from shimopt.cli import stopping
    from shimopt.cli.main import main as run
    from shimopt.cli.main import told

    stopping.listen(_BEGUN, lambda give: told(give, sys.argv[1:]), hears=hears)
    try:
        run()
    finally:
        # the process ends: to look through all that was loaded for garbage once more would take a fifth of its time
        gc.freeze()
        if hears:
            # all is said and done: what comes now changes nothing
            signal.signal(signal.SIGINT, signal.SIG_IGN)


if __name__ == "__main__":
    main()
