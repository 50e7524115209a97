"""Whatever goes wrong while a file is overwritten, the old one or the new one stands whole."""

import os
import re
import subprocess
import sys
from pathlib import Path

import pytest

pytestmark = pytest.mark.skipif(not hasattr(os, "fork"), reason="needs forks")


def said(*words):
    """What tests/faults.py prints; a process of its own, since it forks."""
    command = [sys.executable, "-W", "ignore", str(Path(__file__).parent / "faults.py"), *map(str, words)]
    path = os.pathsep.join(filter(None, sys.path))
    done = subprocess.run(
        command, capture_output=True, text=True, check=True, env={**os.environ, "PYTHONPATH": path}
    )
    return done.stdout


def test_a_full_disk_a_forbidden_folder_an_exception_and_an_interrupt_in_five_formats():
    assert said("faults").strip() == "20/20 old files intact"


def test_kills_at_random():
    """The script tests/benchmarks/hardness.py kills more often, and at every call that writes."""
    text = said("kills", 8, "gpkg", "pdf")
    assert re.findall(r"(\d+)/8 whole", text) == ["8", "8"], text


def test_writers_and_a_reader_at_once():
    writes, reads, bad = map(
        int, re.findall(r"(\d+) files .* (\d+) readings, (\d+) bad", said("crowd", 4, 2))[0]
    )
    assert writes >= 4, "each writes one at least, however busy the machine is"
    assert reads > 0
    assert bad == 0
