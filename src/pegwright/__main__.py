"""`python -m pegwright`, and where the command `pegwright` begins."""

from __future__ import annotations

import gc
import os
import signal
import sys
from contextlib import suppress
from typing import NoReturn

_GARBAGE_AFTER = 100_000  # objects made, more than a start makes: modules that are loaded are no garbage to look for
_EXIT_INTERRUPTED = 130  # `errors.EXIT_INTERRUPTED`, which may not have been imported yet


def start() -> NoReturn:
    """Run the command line; Ctrl-C is one line from the first moment to the last."""
    try:
        gc.set_threshold(_GARBAGE_AFTER, *gc.get_threshold()[1:])
        leave_current_folder_out()
        from pegwright.cli.main import main  # noqa: PLC0415  # Ctrl-C may come while this is imported

        main()
    except KeyboardInterrupt:
        sys.stderr.write("pegwright: error: stopped\n")
        sys.exit(_EXIT_INTERRUPTED)
    finally:
        with suppress(ValueError, OSError):  # only the main thread can set that
            signal.signal(signal.SIGINT, signal.SIG_IGN)  # all has been said; Python itself ends now
        gc.freeze()  # and looks through all modules for garbage first, a tenth of the work of a small fit


def leave_current_folder_out() -> None:
    """Import nothing from the current folder, where `python -m` looks first and where there may be any files.

    Unless the package itself is there, as in a copy of its sources.
    """
    with suppress(OSError):  # the current folder is gone
        here = os.getcwd()  # noqa: PTH109  # as Python itself asks for it
        package_in = os.path.dirname(os.path.dirname(os.path.abspath(__file__)))  # noqa: PTH100, PTH120  # likewise
        if not sys.flags.safe_path and sys.path[0] in {"", here} and package_in != here:
            del sys.path[0]


if __name__ == "__main__":
    start()
