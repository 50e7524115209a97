"""
The last few results of costly work, each under what it follows from.

What is drawn again in another style, at another scale or on another sheet is not resolved again.
"""

from __future__ import annotations

from collections.abc import Callable
from threading import Lock
from typing import Any, Final, TypeVar, cast

MOST: Final = 8  # results that are kept at once
ROOM: Final = 250_000  # and how large they are together [faces]
T = TypeVar("T")


class Recent:
    """
    A few results, the oldest given up first.

    Parameters
    ----------
    most : int
        How many are kept.
    room : int
        How large they may be together; what is larger by itself is not kept.

    Examples
    --------
    >>> recent, site = Recent(most=1), object()
    >>> recent.made(("sum", 2), lambda: 5), recent.made(("sum", 2), lambda: 6)
    (5, 5)
    >>> recent.made(("of", 2), lambda: 7, within=(site,)), recent.made(("sum", 2), lambda: 6)
    (7, 6)
    """

    def __init__(self, *, most: int = MOST, room: int = ROOM) -> None:
        self._most, self._room = most, room
        self._lock = Lock()
        self._kept: list[tuple[Any, tuple[Any, ...], int, Any]] = []

    def __reduce__(self) -> tuple[type[Recent], tuple[()]]:
        """Copies of a model in other processes begin with nothing kept."""
        return type(self), ()

    def made(
        self,
        key: tuple[Any, ...] | str | int,
        make: Callable[[], T],
        *,
        within: tuple[Any, ...] = (),
        size: int = 0,
    ) -> T:
        """
        Return the result of a key, made when it is not kept.

        Parameters
        ----------
        key : tuple, str or int
            Values that the result follows from, told from others by being equal.
        make : callable
            Makes it; what it raises is passed on, and nothing is kept.
        within : tuple of object
            Further inputs, told from others as objects; nobody may change them.
        size : int
            How large the result is, in the units of *room*.

        Returns
        -------
        object
            The result; nobody may change it.
        """
        with self._lock:
            for row, (known, inputs, _, result) in enumerate(self._kept):
                if known == key and _same(inputs, within):
                    self._kept.append(self._kept.pop(row))
                    return cast(T, result)
        result = make()
        if size > self._room:
            return result
        with self._lock:
            self._kept.append((key, within, size, result))
            while len(self._kept) > self._most or sum(one[2] for one in self._kept) > self._room:
                self._kept.pop(0)
        return result


def _same(one: tuple[Any, ...], other: tuple[Any, ...]) -> bool:
    """Whether two sets of inputs are the very same objects."""
    return len(one) == len(other) and all(a is b for a, b in zip(one, other, strict=True))
