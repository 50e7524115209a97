"""
How far work has come, on a terminal that somebody is watching.
"""

from __future__ import annotations

import sys
from collections.abc import Callable
from typing import Any

Progress = Callable[[str, float], None]


class ProgressLine:
    """
    Say which stage is under way: as a bar where tqdm is installed, else in words; nothing if nobody watches.

    Parameters
    ----------
    quiet : bool
        Say nothing at all.

    Examples
    --------
    >>> with ProgressLine(True) as progress:
    ...     progress("solids", 0.4)
    """

    def __init__(self, quiet: bool) -> None:
        self.quiet = quiet or not sys.stderr.isatty()
        self.bar: Any = None

    def __enter__(self) -> Progress:
        if not self.quiet:
            try:
                from tqdm import tqdm
            except ImportError:
                pass
            else:
                self.bar = tqdm(total=100, leave=False, bar_format="{desc:<22}{bar}| {elapsed}")
        return self._say

    def _say(self, stage: str, share: float) -> None:
        if self.bar is not None:
            self.bar.set_description_str(stage, refresh=False)
            self.bar.n = round(100 * share)
            self.bar.refresh()
        elif not self.quiet:
            self._write(f"{stage:<22.22} {share:4.0%}")

    def _write(self, words: str) -> None:
        sys.stderr.write(f"\r{words}")
        sys.stderr.flush()

    def __exit__(self, *_: object) -> None:
        if self.bar is not None:
            self.bar.close()
        elif not self.quiet:
            self._write(" " * 28 + "\r")
