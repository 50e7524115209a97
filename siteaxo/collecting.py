"""
Work during which Python does not look for garbage.

Python frees what nothing refers to at once, and now and then looks through all objects for those that
only refer to one another. A drawing makes some hundred thousand geometries that stay, and hardly any
such circles: looking through them again and again takes a tenth of the time and finds nothing.
"""

from __future__ import annotations

import gc
from collections.abc import Iterator
from contextlib import contextmanager


@contextmanager
def uncollected() -> Iterator[None]:
    """
    Put off looking for garbage until the work is done, unless that is put off already.

    Examples
    --------
    >>> with uncollected():
    ...     print(gc.isenabled())
    False
    >>> gc.isenabled()
    True
    """
    collects = gc.isenabled()
    gc.disable()
    try:
        yield
    finally:
        if collects:
            gc.enable()
