"""
Mutated files of every format, read in worker processes: ``fuzz.py [NUMBER] [FIRST SEED]``.

Prints how they ended; every seed that crashed a worker, hung for longer than eight seconds,
raised what is no error of ours, or lost something without a word is named.
"""

from __future__ import annotations

import json
import os
import queue
import subprocess
import sys
import tempfile
import threading
import time
from collections import Counter
from pathlib import Path
from typing import Any

BOUND_S = 8.0
BATCH = 200
TESTS = Path(__file__).parent.parent
sys.path.insert(0, str(TESTS))

import mutations  # noqa: E402 - it stands beside the tests


def work(originals: Path, first: int, count: int) -> list[dict[str, Any]]:
    """Run seeds in a worker, and in another after one that fell over it."""
    results: list[dict[str, Any]] = []
    seed, end = first, first + count
    while seed < end:
        command = [sys.executable, str(TESTS / "mutations.py"), str(originals), str(seed), str(end - seed)]
        with subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.DEVNULL, text=True) as run:
            lines: queue.Queue[str | None] = queue.Queue()
            threading.Thread(
                target=lambda r=run, q=lines: [*map(q.put, r.stdout), q.put(None)], daemon=True
            ).start()
            begun: dict[str, Any] = {}
            allowed = 60.0  # the first also imports everything
            while seed < end:
                try:
                    line = lines.get(timeout=allowed)
                except queue.Empty:
                    run.kill()
                    results.append(
                        {**begun, "outcome": "hang", "said": begun.get("begun", ""), "seconds": allowed}
                    )
                    seed += 1
                    break
                if line is None:
                    results.append(
                        {
                            "seed": seed,
                            "outcome": "crash",
                            "said": f"ended with {run.wait()}: {begun.get('begun')}",
                        }
                    )
                    seed += 1
                    break
                row = json.loads(line)
                if "begun" in row:
                    begun, allowed = row, BOUND_S
                    continue
                results.append({**begun, **row})
                seed = row["seed"] + 1
                allowed = 60.0
    return results


def main() -> None:
    """Run and print."""
    number = int(sys.argv[1]) if len(sys.argv) > 1 else 2000
    first = int(sys.argv[2]) if len(sys.argv) > 2 else 0
    start = time.monotonic()
    with tempfile.TemporaryDirectory() as name:
        mutations.make_originals(Path(name))
        batches = [(first + k, min(BATCH, number - k)) for k in range(0, number, BATCH)]
        results: list[dict[str, Any]] = []

        def run() -> None:
            while batches:
                begin, count = batches.pop(0)
                results.extend(work(Path(name), begin, count))
                print(f"\r{len(results)}", end="", file=sys.stderr, flush=True)

        threads = [threading.Thread(target=run) for _ in range(min(2, os.cpu_count() or 1))]
        for one in threads:
            one.start()
        for one in threads:
            one.join()
    table = Counter((mutations.KINDS[row["seed"] % len(mutations.KINDS)], row["outcome"]) for row in results)
    outcomes = ("read", "found", "refused", "lost", "hang", "crash")
    print(f"\n{'kind':9s}" + "".join(f"{name:>9s}" for name in outcomes))
    for kind in mutations.KINDS:
        print(f"{kind:9s}" + "".join(f"{table[kind, name]:9d}" for name in outcomes))
    slowest = max(results, key=lambda row: row.get("seconds", 0))
    spent = time.monotonic() - start
    worst = f"slowest {slowest.get('seconds')} s (seed {slowest['seed']})"
    print(f"{len(results)} files in {spent:.0f} s; {worst}")
    for row in results:
        if row["outcome"] in ("lost", "hang", "crash"):
            print(f"  seed {row['seed']} {row['outcome']}: {row.get('begun')} -> {row['said']}")


if __name__ == "__main__":
    main()
