"""Progress on a terminal: a bar, words where there is no tqdm, nothing where nobody watches."""

import io
import sys

import pytest

from siteaxo.shell.progress import ProgressLine


class Terminal(io.StringIO):
    """A stream that says that somebody is watching."""

    def isatty(self):
        return True


def shown(monkeypatch, stream, *, quiet=False):
    """What work with two stages writes to a stream."""
    monkeypatch.setattr(sys, "stderr", stream)
    monkeypatch.setenv("COLUMNS", "80")
    with ProgressLine(quiet) as progress:
        progress("solids", 0.4)
        progress("a stage with a name that is very long", 1.0)
    return stream.getvalue()


def test_in_words_without_tqdm_and_the_line_is_cleared(monkeypatch):
    monkeypatch.setitem(sys.modules, "tqdm", None)  # as if it were not installed
    written = shown(monkeypatch, Terminal()).split("\r")
    assert written[1:3] == [f"{'solids':<22}  40%", "a stage with a name th 100%"]
    assert written[-2:] == [" " * 28, ""]


def test_a_bar_with_tqdm(monkeypatch):
    pytest.importorskip("tqdm")
    written = shown(monkeypatch, Terminal())
    assert "solids" in written
    assert "40%" not in written


def test_quiet_when_asked_or_when_nobody_watches(monkeypatch):
    assert shown(monkeypatch, Terminal(), quiet=True) == ""
    assert shown(monkeypatch, io.StringIO()) == ""
