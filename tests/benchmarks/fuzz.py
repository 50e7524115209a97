"""
Mutated files of every format, read in worker processes: ``fuzz.py [NUMBER] [FIRST SEED]``.

Prints how they ended, every few hundred files and at the end, so that a run that is stopped
still counts. Every seed that crashed a worker, hung, raised what is no error of ours, or lost
something without a word is named. A file hangs if it takes more than eight seconds of
processor time, however busy the machine is, or a minute by the clock, as one that waits does.
"""

from __future__ import annotations

import json
import os
import queue
import signal
import subprocess
import sys
import tempfile
import threading
import time
from collections import Counter
from collections.abc import Iterator
from pathlib import Path
from typing import Any

WAIT_S = 60.0
BATCH = 100
EVERY = 300
OUTCOMES = ("read", "found", "refused", "lost", "hang", "crash")
TESTS = Path(__file__).parent.parent
sys.path.insert(0, str(TESTS))

import mutations  # noqa: E402 - it stands beside the tests


def work(originals: Path, first: int, count: int) -> Iterator[dict[str, Any]]:
    """Run seeds in a worker, and in another after one that fell over it."""
    seed, end = first, first + count
    while seed < end:
        command = [sys.executable, str(TESTS / "mutations.py"), str(originals), str(seed), str(end - seed)]
        with subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.DEVNULL, text=True) as run:
            for row in followed(run, seed, end):
                yield row
                seed = row["seed"] + 1


def followed(run: subprocess.Popen[str], seed: int, end: int) -> Iterator[dict[str, Any]]:
    """Rows of a worker until it has done all seeds or fallen over one."""
    lines: queue.Queue[str | None] = queue.Queue()
    threading.Thread(target=lambda: [*map(lines.put, run.stdout or ()), lines.put(None)], daemon=True).start()
    begun: dict[str, Any] = {}
    while seed < end:
        try:
            line = lines.get(timeout=WAIT_S)
        except queue.Empty:
            run.kill()
            yield {"seed": seed, **begun, "outcome": "hang", "said": f"nothing for {WAIT_S} s"}
            return
        if line is None:
            status = run.wait()
            outcome = "hang" if status == -signal.SIGPROF else "crash"
            yield {"seed": seed, **begun, "outcome": outcome, "said": f"ended with {status}"}
            return
        row = json.loads(line)
        if "begun" in row:
            begun = row
            continue
        yield {**begun, **row}
        seed, begun = row["seed"] + 1, {}


def table(results: list[dict[str, Any]], spent: float) -> str:
    """Kinds of files, how they ended, and every seed that ended badly."""
    kinds, number = mutations.KINDS, len(mutations.KINDS)
    ended = Counter((kinds[row["seed"] % number], row["outcome"]) for row in results)
    slowest = max(results, key=lambda row: row.get("seconds", 0))
    bad = [row for row in results if row["outcome"] in ("lost", "hang", "crash")]
    return "\n".join(
        [
            f"{'kind':9s}" + "".join(f"{name:>9s}" for name in OUTCOMES),
            *(f"{kind:9s}" + "".join(f"{ended[kind, name]:9d}" for name in OUTCOMES) for kind in kinds),
            f"{len(results)} files in {spent:.0f} s; slowest {slowest.get('seconds')} s of processor time "
            f"(seed {slowest['seed']})",
            *(f"  seed {row['seed']} {row['outcome']}: {row.get('begun')} -> {row['said']}" for row in bad),
        ]
    )


def main() -> None:
    """Run and print."""
    number = int(sys.argv[1]) if len(sys.argv) > 1 else 2000
    first = int(sys.argv[2]) if len(sys.argv) > 2 else 0
    start = time.monotonic()
    results: list[dict[str, Any]] = []
    told = threading.Lock()

    def run(folder: Path) -> None:
        while batches:
            for row in work(folder, *batches.pop(0)):
                with told:
                    results.append(row)
                    if len(results) % EVERY == 0 or len(results) == number:
                        print(table(results, time.monotonic() - start), flush=True)

    with tempfile.TemporaryDirectory() as name:
        mutations.make_originals(Path(name))
        batches = [(first + k, min(BATCH, number - k)) for k in range(0, number, BATCH)]
        threads = [
            threading.Thread(target=run, args=(Path(name),)) for _ in range(min(2, os.cpu_count() or 1))
        ]
        for one in threads:
            one.start()
        for one in threads:
            one.join()


if __name__ == "__main__":
    main()
