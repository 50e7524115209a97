"""
Good files with bytes changed at random: each is read, and what came of it is judged.

The judge knows what the good file holds. A mutated file must end in a full reading, in a
reading with findings, or in an error of ours; what is read without a word must be what
can be read from the bytes.
"""

from __future__ import annotations

import json
import re
import shutil
import signal
import sqlite3
import sys
import time
import warnings
from contextlib import closing
from pathlib import Path

import geopandas as gpd
import numpy as np
import shapely

BOUND_S = 8.0
"""Processor time of one file, after which it counts as hanging [s]."""
X, Y, COUNT = 500_000.0, 5_700_000.0, 12
KINDS = (".shp", ".gpkg", ".geojson", ".fgb", ".gml", ".zip", ".toml", ".asc")
_PARTS = (".shp", ".shx", ".dbf", ".prj", ".cpg")
_DRIVERS = {
    ".shp": "ESRI Shapefile",
    ".gpkg": "GPKG",
    ".geojson": "GeoJSON",
    ".fgb": "FlatGeobuf",
    ".gml": "GML",
}
NUMBERS = (
    "1e999",
    "-1e999",
    "NaN",
    "null",
    "1_000",
    "0",
    "-1",
    "9" * 400,
    "1e30",
    "-9999",
    "0x1F",
    "1,5",
    "",
)
TOKENS = (
    '"',
    "{",
    "}",
    "[",
    "]",
    "<",
    ">",
    "</",
    "&",
    "null",
    "true",
    "\\u0000",
    "<!--",
    "]]>",
    "#",
    "=",
    "\n",
)
SITE = (
    '[[layer]]\nname = "beds"\nsource = "{}"\nrole = "structure"\nid = "nr"\nbase = 0\ntop = "lvl"\n'
    'material = "mat"\n'
)
GRID = '[[layer]]\nname = "hill"\nsource = "beds.asc"\nrole = "spot level"\ncrs = "EPSG:25832"\n'
GROUND = '[[layer]]\nname = "ground"\nsource = "beds.shp"\nrole = "ground"\ntop = "survey"\n'


def make_originals(folder: Path) -> None:
    """Write a good file of every kind."""
    shapes = [shapely.box(X + 10 * i, Y, X + 10 * i + 5, Y + 5 + i) for i in range(COUNT)]
    shapes[3] = shapely.difference(shapes[3], shapes[3].centroid.buffer(1, quad_segs=3))
    data = {
        "nr": list(range(11, 11 + COUNT)),
        "lvl": [1.5 + i for i in range(COUNT)],
        "mat": [f"grès {i}" for i in range(COUNT)],
    }
    frame = gpd.GeoDataFrame(data, geometry=shapes, crs="EPSG:25832")
    for suffix, driver in _DRIVERS.items():
        made = frame.to_crs("EPSG:4326") if suffix == ".geojson" else frame
        made.to_file(folder / f"beds{suffix}", driver=driver, engine="pyogrio")
    (folder / "beds.xsd").unlink(missing_ok=True)
    import zipfile

    with zipfile.ZipFile(folder / "beds.zip", "w", zipfile.ZIP_DEFLATED) as archive:
        for suffix in _PARTS:
            archive.write(folder / f"beds{suffix}", f"beds{suffix}")
    rows = "\n".join(" ".join(f"{5 + (i + j) / 10:.2f}" for j in range(14)) for i in range(8))
    (folder / "beds.asc").write_text(
        f"ncols 14\nnrows 8\nxllcorner {X}\nyllcorner {Y}\ncellsize 10\nnodata_value -9999\n{rows}\n"
    )
    (folder / "site.toml").write_text(SITE.format("beds.gpkg"))


def mutate(originals: Path, folder: Path, seed: int) -> str:
    """
    Copy a good file of a kind that the seed picks, with bytes changed as the seed says.

    Returns
    -------
    str
        Kind, file and change in short.
    """
    rng = np.random.default_rng(seed)
    kind = KINDS[seed % len(KINDS)]
    names = [f"beds{part}" for part in _PARTS] if kind == ".shp" else [f"beds{kind}"]
    if kind == ".toml":
        names = ["site.toml", "beds.gpkg"]
    if kind == ".asc":
        names = ["beds.asc", *[f"beds{part}" for part in _PARTS]]
    for name in names:
        shutil.copy(originals / name, folder / name)
    if kind != ".toml":
        text = GRID + GROUND if kind == ".asc" else SITE.format(f"beds{kind}")
        (folder / "site.toml").write_text(text)
    victim = folder / (names[int(rng.integers(3))] if kind == ".shp" else names[0])
    words = kind in (".geojson", ".gml", ".toml", ".asc") and rng.random() < 0.75
    content, what = (reworded if words else changed)(bytearray(victim.read_bytes()), rng)
    victim.write_bytes(content)
    return f"{victim.name}: {what}"


def reworded(content: bytearray, rng: np.random.Generator) -> tuple[bytes, str]:
    """One of six ways to spoil text, such that it stays text."""
    text = content.decode("utf-8")
    way, at = int(rng.integers(6)), int(rng.integers(len(text)))
    if way == 0:
        places = np.flatnonzero([one.isdigit() for one in text])
        at = int(rng.choice(places))
        return (
            text[:at] + str(rng.choice(list("0123456789-.eE,_ "))) + text[at + 1 :]
        ).encode(), f"digit {at}"
    if way == 1:
        return (text[:at] + chr(int(rng.integers(32, 127))) + text[at + 1 :]).encode(), f"letter at {at}"
    if way == 2:
        lines = text.splitlines(keepends=True)
        row = int(rng.integers(len(lines)))
        lines[row : row + 1] = lines[row : row + 1] * int(rng.choice([0, 2, 3]))
        return "".join(lines).encode(), f"line {row}"
    if way == 3:
        token = str(rng.choice(TOKENS))
        return (text[:at] + token + text[at:]).encode(), f"{token} in at {at}"
    if way == 4:
        words = re.findall(r"\w+|\W", text)
        row, other = rng.integers(len(words), size=2)
        words[row] = words[other]
        return "".join(words).encode(), f"word {row} is word {other}"
    numbers = list(re.finditer(r"-?[0-9]+\.?[0-9]*", text))
    one = numbers[int(rng.integers(len(numbers)))]
    put = str(rng.choice(NUMBERS))
    return (text[: one.start()] + put + text[one.end() :]).encode(), f"{put} for {one.group()[:20]}"


def changed(content: bytearray, rng: np.random.Generator) -> tuple[bytes, str]:
    """One of nine ways to spoil bytes."""
    size = len(content)
    way = int(rng.integers(9))
    at = int(rng.integers(size)) if rng.random() < 0.7 else int(rng.integers(min(size, 256)))
    if way == 0:
        for one in rng.integers(size, size=int(rng.integers(1, 9))):
            content[one] ^= 1 << int(rng.integers(8))
        return bytes(content), "bits"
    if way == 1:
        content[at : at + 1] = bytes([int(rng.integers(256))])
        return bytes(content), f"byte at {at}"
    if way == 2:
        return bytes(content[:at]), f"cut at {at}"
    if way == 3:
        length = int(rng.integers(1, 64))
        del content[at : at + length]
        return bytes(content), f"{length} out at {at}"
    if way == 4:
        put = rng.integers(0, 256, int(rng.integers(1, 32)), dtype=np.uint8).tobytes()
        return bytes(content[:at]) + put + bytes(content[at:]), f"{len(put)} in at {at}"
    if way == 5:
        length = int(rng.integers(1, 200))
        content[at : at + length] = bytes(len(content[at : at + length]))
        return bytes(content), f"{length} zeros at {at}"
    if way == 6:
        number = rng.choice([0, -1, 2**31 - 1, -(2**31), 2**30, 65536, 1])
        end = min(at + 4, size)
        content[at:end] = int(number).to_bytes(4, rng.choice(["little", "big"]), signed=True)[: end - at]
        return bytes(content), f"{number} at {at}"
    if way == 7:
        number = np.array([rng.choice([np.nan, np.inf, -np.inf, 1e308, 1e-308, 0.0])]).tobytes()
        content[at : min(at + 8, size)] = number[: min(8, size - at)]
        return bytes(content), f"double at {at}"
    length, other = int(rng.integers(1, 100)), int(rng.integers(size))
    content[at : at + length] = content[other : other + len(content[at : at + length])]
    return bytes(content), f"{length} copied from {other} to {at}"


def held(folder: Path) -> set[str] | None:
    """Ids that can be told from the file by other means, None where they cannot."""
    source = next((p for p in (folder / "beds.geojson", folder / "beds.gpkg") if p.exists()), None)
    if source is None or 'id = "nr"' not in (folder / "site.toml").read_text("utf-8", "replace"):
        return None
    try:
        if source.suffix == ".geojson":
            top = json.loads(source.read_text("utf-8-sig"))
            return {str(one["properties"]["nr"]) for one in top["features"]}
        with closing(sqlite3.connect(f"{source.as_uri()}?mode=ro", uri=True)) as base:
            return {str(nr) for (nr,) in base.execute("SELECT nr FROM beds NOT INDEXED")}
    except Exception:
        return None


def judged(folder: Path) -> tuple[str, str]:
    """
    Read and stack what lies in a folder.

    Returns
    -------
    outcome : str
        "read", "found" (read, with findings), "refused", "lost" or "crash".
    said : str
        What an error said, or what was lost.
    """
    import siteaxo
    from siteaxo.errors import SiteaxoError

    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            model = siteaxo.read_site(folder / "site.toml").stack()
    except SiteaxoError as error:
        return "refused", f"[{error.code}] {error}"
    except Exception as fault:
        return "crash", f"{type(fault).__name__}: {fault}"
    features = model.stack.features
    said = {str(code) for code in model.findings["code"]}
    if not (np.isfinite(features.base).all() and np.isfinite(features.top).all()):
        return "lost", "levels that are not finite"
    told = [f for f in model.findings.itertuples() if f.severity in ("warning", "error")]
    there = held(folder)
    if there is not None and not told:
        missing = there - {one.removesuffix(".0") for one in features.source_id}
        if missing:
            return "lost", f"features {sorted(missing)[:5]} without a word"
    shapefile = (folder / "beds.shp").exists() and not (folder / "beds.asc").exists()
    if shapefile and not told and len(features) < COUNT:
        return "lost", f"{COUNT - len(features)} features without a word"
    return ("found", ", ".join(sorted(said))) if told else ("read", "")


def main(arguments: list[str]) -> None:
    """
    Work through seeds given as first and number, and print one line of JSON for each.

    A file that takes more processor time than `BOUND_S` ends the process by SIGPROF.
    """
    originals, first, count = Path(arguments[0]), int(arguments[1]), int(arguments[2])
    import tempfile

    import siteaxo.verbs.sites  # beforehand, so that the time for it counts for no file

    assert siteaxo.verbs.sites

    for seed in range(first, first + count):
        with tempfile.TemporaryDirectory() as name:
            folder = Path(name)
            what = mutate(originals, folder, seed)
            print(json.dumps({"seed": seed, "begun": what}), flush=True)
            signal.setitimer(signal.ITIMER_PROF, BOUND_S)
            start = time.process_time()
            outcome, said = judged(folder)
            spent = time.process_time() - start
            signal.setitimer(signal.ITIMER_PROF, 0)
            line = {"seed": seed, "outcome": outcome, "said": said[:300], "seconds": round(spent, 3)}
            print(json.dumps(line), flush=True)


if __name__ == "__main__":
    main(sys.argv[1:])
