"""Keep C libraries from writing to the terminal beside the one sentence of an error."""

import os
from collections.abc import Iterator
from contextlib import contextmanager
from threading import Lock

STANDARD_ERROR = 2  # file descriptor
ONE_AT_A_TIME = Lock()


@contextmanager
def silent_terminal() -> Iterator[None]:
    """Send standard error nowhere for a while, for the whole process."""
    with ONE_AT_A_TIME, open(os.devnull, "wb") as nowhere:  # noqa: PTH123 no path
        try:
            terminal = os.dup(STANDARD_ERROR)
        except OSError:  # there is none
            yield
            return
        try:
            os.dup2(nowhere.fileno(), STANDARD_ERROR)
            yield
        finally:
            os.dup2(terminal, STANDARD_ERROR)
            os.close(terminal)
