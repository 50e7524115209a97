"""
What every benchmark needs: the facts of the machine, peaks of memory, and child processes.

Each measurement runs in a process of its own, so that its peak of memory is its own.
"""

from __future__ import annotations

import json
import os
import platform
import re
import resource
import subprocess
import sys
from collections.abc import Sequence
from importlib import metadata
from pathlib import Path
from typing import Any

import shapely

LIBRARIES = ("numpy", "shapely", "pandas", "geopandas", "pyogrio", "cadquery-ocp", "cadquery-ocp-novtk")


def print_facts() -> None:
    """Print cores, processor, load, Python and library versions."""
    cores = len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count()
    load = f", load {os.getloadavg()[0]:.1f} at the start" if hasattr(os, "getloadavg") else ""
    print(f"Machine: {cores} cores, {_processor()}, {_memory_gib():.0f} GiB{load}")
    versions = [f"{name} {version}" for name in LIBRARIES if (version := _version(name))]
    geos = ".".join(map(str, shapely.geos_version))
    print(f"Python {platform.python_version()}; {', '.join(versions)}; GEOS {geos}", flush=True)


def peak_gib() -> float:
    """Most memory this process has held so far, or since :func:`forget_peak` [GiB]."""
    status = Path("/proc/self/status")
    if status.exists() and (found := re.search(r"VmHWM:\s+(\d+) kB", status.read_text())):
        return int(found[1]) / 2**20
    unit = 1 if sys.platform == "darwin" else 1024
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss * unit / 2**30


def children_peak_gib() -> float:
    """Most memory that the processes started by this one have held, added up; 0 where nobody tells [GiB]."""
    total = 0
    for status in Path("/proc").glob("[0-9]*/status"):
        try:
            text = status.read_text()
        except OSError:  # it has ended
            continue
        peak = re.search(r"VmHWM:\s+(\d+) kB", text)
        if peak and re.search(rf"PPid:\s+{os.getpid()}\n", text):
            total += int(peak[1])
    return total / 2**20


def children_seconds() -> float:
    """Seconds of the processor that processes started by this one took, as far as they have ended."""
    used = resource.getrusage(resource.RUSAGE_CHILDREN)
    return used.ru_utime + used.ru_stime


def forget_peak() -> None:
    """Have the peak of memory count anew from here, where the system can."""
    clear = Path("/proc/self/clear_refs")
    if clear.exists():
        clear.write_text("5")


def child(script: str, *words: str, timeout: float | None = None) -> dict[str, Any] | None:
    """
    Run a script of this folder in a process of its own.

    Parameters
    ----------
    script : str
        Path of the script.
    *words : str
        Its arguments; it prints one line of JSON at the end.
    timeout : float, optional
        When to end it [s].

    Returns
    -------
    dict or None
        What the last line says; None when time ran out.

    Raises
    ------
    RuntimeError
        If the script failed.
    """
    root = str(Path(__file__).resolve().parents[2])
    path = os.pathsep.join(filter(None, [os.environ.get("PYTHONPATH", ""), root]))
    command = [sys.executable, script, *words]
    try:
        done = subprocess.run(
            command, capture_output=True, text=True, timeout=timeout, env={**os.environ, "PYTHONPATH": path}
        )
    except subprocess.TimeoutExpired:
        return None
    if done.returncode:
        raise RuntimeError(f"{' '.join(command)} failed with {done.returncode}:\n{done.stderr[-2000:]}")
    result: dict[str, Any] = json.loads(done.stdout.strip().splitlines()[-1])
    return result


def print_table(head: Sequence[str], rows: Sequence[Sequence[object]]) -> None:
    """Print rows in columns as wide as they need."""
    cells = [list(map(str, row)) for row in (head, *rows)]
    widths = [max(map(len, column)) for column in zip(*cells, strict=True)]
    for row in cells:
        print("  ".join(cell.rjust(width) for cell, width in zip(row, widths, strict=True)))
    print(flush=True)


def _version(name: str) -> str:
    try:
        return metadata.version(name)
    except metadata.PackageNotFoundError:
        return ""


def _processor() -> str:
    info = Path("/proc/cpuinfo")
    if info.exists():
        names = [
            line.split(":", 1)[1].strip() for line in info.read_text().splitlines() if "model name" in line
        ]
        if names:
            return names[0]
    return platform.processor() or platform.machine()


def _memory_gib() -> float:
    return os.sysconf("SC_PAGE_SIZE") * os.sysconf("SC_PHYS_PAGES") / 2**30
