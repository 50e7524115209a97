"""
Bad input, faults and hostile files, counted: ``hardness.py [ROW ...]``.

Rows are inputs, mutations, kills, faults, crowd, reach, labels, validator, properties, exact,
stop and memory; all of them where none is named. Traffic goes to the loopback interface only,
and every process that is started ends by itself. Figures of a row are printed as it ends.
"""

from __future__ import annotations

import contextlib
import io
import os
import re
import signal
import subprocess
import sys
import tempfile
import time
import warnings
from collections import Counter
from pathlib import Path

HERE = Path(__file__).parent
TESTS = HERE.parent
sys.path[:0] = [str(TESTS), str(HERE)]
MUTATIONS = int(os.environ.get("MUTATIONS", "20000"))
EXAMPLES = int(os.environ.get("EXAMPLES", "10000"))
VALIDATOR = os.environ.get("VALIDATOR", "")
"""Path of validate_gpkg.py of gdal-utils, installed in an environment of its own."""


def inputs() -> str:
    """Every kind of bad input, and how it ended."""
    from hostile import lies, shapefiles, sites, tables, unlucky
    from hostile.making import CASES, judge

    assert lies
    assert shapefiles
    assert unlucky
    assert sites
    assert tables
    wrong, slow = [], (0.0, "")
    for one in CASES.values():
        with tempfile.TemporaryDirectory() as name:
            start = time.process_time()
            said = judge(one, Path(name))
            slow = max(slow, (time.process_time() - start, one.name))
        wrong += [f"{one.name}: {said}"] if said else []
    refused = sum(bool(one.refused) for one in CASES.values())
    return "\n".join(
        [
            f"{len(CASES)} kinds: {refused} refused, {len(CASES) - refused} read or named in findings; "
            f"{len(wrong)} otherwise; slowest {slow[0]:.1f} s of processor time ({slow[1]})",
            *wrong,
        ]
    )


def mutations() -> str:
    """Mutated files of every format."""
    run = subprocess.run(
        [sys.executable, str(HERE / "fuzz.py"), str(MUTATIONS), "10000"],
        stdout=subprocess.PIPE,
        text=True,
        check=False,
    )
    return run.stdout


def kills() -> str:
    """Kills at random and at every call that writes."""
    import faults

    return faults.with_counter(["kills", "60", "gpkg"]) + faults.with_counter(
        ["kills", "20", "pdf", "svg", "png"]
    )


def faults() -> str:
    """Full disk, no permission, an exception half-way and an interrupt, for five formats."""
    return _faults("faults")


def crowd() -> str:
    """Eight writers and a reader."""
    return _faults("crowd", "8", "5")


def _faults(*words: str) -> str:
    command = [sys.executable, str(TESTS / "faults.py"), *words]
    return subprocess.run(command, stdout=subprocess.PIPE, text=True, check=False).stdout


def reach() -> str:
    """Paths and files that try to reach addresses and other files."""
    from hostile.reaching import SECRET, attempts, listener, secrets, tried

    disclosed = requests = 0
    with tempfile.TemporaryDirectory() as name, listener() as (url, asked):
        outside = secrets(Path(name))
        made = attempts()
        for number, attempt in enumerate(made.values()):
            folder = Path(name) / f"site {number}"
            folder.mkdir()
            disclosed += SECRET in tried(attempt, folder, url, outside)
        requests = len(asked)
    return f"{len(made)} attempts: {requests} requests, {disclosed} disclosures"


def labels() -> str:
    """Hostile labels on sheets and in tables."""
    return _pytest("test_hostile_labels.py", EVERY_LABEL="1")


def validator() -> str:
    """GeoPackages checked by a validator written by others."""
    import faults
    import handmade

    from siteaxo.export.gpkg import write_gpkg

    if not VALIDATOR:
        return "not run: say VALIDATOR=path of validate_gpkg.py"
    found = []
    with tempfile.TemporaryDirectory() as name:
        paths = [Path(name) / "sheet.gpkg", Path(name) / "map.gpkg", Path(name) / "empty.gpkg"]
        write_gpkg(handmade.terraces(view=handmade.view_record(30.0)), paths[0])
        write_gpkg(handmade.terraces(view=handmade.view_record(30.0)), paths[1], frame="map")
        write_gpkg(handmade.without_rows(handmade.terraces()), paths[2])
        for path in paths:
            assert faults.sound(path) or path.stem == "empty"
            run = subprocess.run(
                [sys.executable, VALIDATOR, "-v", str(path)], capture_output=True, text=True, check=False
            )
            said = (run.stdout + run.stderr).strip().splitlines()
            found.append(f"{path.stem}: {'no defect' if run.returncode == 0 else said[-8:]}")
    return "\n".join(found)


def properties() -> str:
    """Property tests: area balance, affine changes, order."""
    count = (TESTS / "test_invariance.py").read_text(encoding="utf-8").count("\n@FEW\n")
    said = _pytest("test_invariance.py", "--hypothesis-seed=0", EXAMPLES=str(-(-EXAMPLES // count)))
    return f"{count} properties, {-(-EXAMPLES // count)} examples each: {said}"


def exact() -> str:
    """Scenes against rational arithmetic."""
    import numpy as np
    import test_rational as rational

    worst = redone = 0.0
    count = 0
    for batch in range(8):
        for seed in range(63):
            rng = np.random.default_rng(1000 * batch + seed)
            drawing, owner = (
                rational.boxes(rng, 4) if seed >= 50 else rational.sheets(rng, int(rng.integers(3, 7)))
            )
            worst = max(worst, float(rational.worst_error(drawing, owner)))
            redone += drawing.report["overlays_redone"]
            count += 1
    return f"{count} scenes, worst error of an area {worst:.1e} m², {redone:g} overlays redone"


def stop() -> str:
    """How soon a command ends that is interrupted, at random moments."""
    spent, statuses = [], Counter()
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        _district(folder, 10_000)
        for wait in (2.5, 5.0, 8.0, 12.0, 16.0):
            command = [
                sys.executable,
                "-m",
                "siteaxo",
                "draw",
                str(folder / "site.toml"),
                "--out",
                str(folder / "out"),
            ]
            with subprocess.Popen(command, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL) as run:
                time.sleep(wait)
                start = time.monotonic()
                run.send_signal(signal.SIGINT)
                run.wait()
                spent.append(time.monotonic() - start)
                statuses[run.returncode] += 1
        left = [p.name for p in (folder / "out").glob(".*")] if (folder / "out").exists() else []
    return f"longest {max(spent):.2f} s of {len(spent)}; exit statuses {dict(statuses)}; left behind: {left}"


def memory() -> str:
    """Memory of the whole command for ten thousand footprints, on the usual sheet and on the largest."""
    return "\n".join(f"{sheet}: {_used(sheet)}" for sheet in ("A3", "A0"))


def _used(sheet: str) -> str:
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        _district(folder, 10_000)
        code = (
            "import resource, sys; from siteaxo.cli import main; status = main(sys.argv[1:]); "
            "print('peak', resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024, status)"
        )
        words = ["draw", str(folder / "site.toml"), "--out", str(folder / "out"), "--quiet"]
        words += ["--sheet", sheet, "--scale", "fit"]
        start = time.monotonic()
        run = subprocess.run(
            [sys.executable, "-c", code, *words], capture_output=True, text=True, check=False
        )
        spent = time.monotonic() - start
    peak = re.search(r"peak ([\d.]+) (\d)", run.stdout)
    return (
        f"{float(peak[1]):.0f} MiB, {spent:.0f} s, status {peak[2]}"
        if peak
        else run.stdout[-300:] + run.stderr[-500:]
    )


def _district(folder: Path, count: int) -> None:
    """A site of many footprints in a GeoPackage."""
    import geopandas as gpd
    import numpy as np
    import shapely

    rng = np.random.default_rng(0)
    side = int(np.ceil(np.sqrt(count)))
    x, y = 20.0 * (np.arange(count) % side) + 5e5, 20.0 * (np.arange(count) // side) + 57e5
    w, d = rng.uniform(5, 14, (2, count))
    frame = gpd.GeoDataFrame(
        {"top": rng.uniform(3, 25, count)}, geometry=shapely.box(x, y, x + w, y + d), crs="EPSG:25832"
    )
    frame.to_file(folder / "blocks.gpkg", engine="pyogrio")
    (folder / "site.toml").write_text(
        '[[layer]]\nname = "blocks"\nsource = "blocks.gpkg"\nrole = "structure"\nbase = 0\ntop = "top"\n'
        '[sheet]\nsize = "A3"\nscale = "fit"\n'
    )


def _pytest(name: str, *options: str, **environment: str) -> str:
    command = [sys.executable, "-m", "pytest", "-q", "-p", "no:cacheprovider", str(TESTS / name), *options]
    run = subprocess.run(
        command,
        stdout=subprocess.PIPE,
        text=True,
        check=False,
        env={**os.environ, **environment},
        cwd=TESTS.parent,
    )
    return run.stdout.strip().splitlines()[-1]


ROWS = (
    *(inputs, mutations, kills, faults, crowd, reach, labels, validator),
    *(properties, exact, stop, memory),
)


def main() -> None:
    """Print the rows asked for."""
    warnings.simplefilter("ignore")
    wanted = sys.argv[1:] or [row.__name__ for row in ROWS]
    for row in ROWS:
        if row.__name__ in wanted:
            start = time.monotonic()
            with contextlib.redirect_stderr(io.StringIO()):
                said = row()
            words = (row.__doc__ or "").strip().splitlines()[0]
            print(f"{row.__name__}: {words} [{time.monotonic() - start:.0f} s]")
            print("\n".join(f"  {line.strip()}" for line in said.strip().splitlines()), flush=True)


if __name__ == "__main__":
    main()
