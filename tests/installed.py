"""A venv that sees what this one sees, with plug-ins installed in it by hand."""

from __future__ import annotations

import os
import shutil
import site
import subprocess
import sys
import sysconfig
import tomllib
import venv
from pathlib import Path
from types import SimpleNamespace

import siteaxo

EXAMPLE = Path(__file__).parent / "plugin_example"


def install(source: Path, folder: Path) -> None:
    """Copy a package into a folder with the metadata that an installer would write for it."""
    project = tomllib.loads((source / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    name = project["name"].replace("-", "_")
    shutil.copytree(source / name, folder / name, ignore=shutil.ignore_patterns("__pycache__"))
    record = folder / f"{name}-{project['version']}.dist-info"
    record.mkdir()
    (record / "METADATA").write_text(
        f"Metadata-Version: 2.1\nName: {project['name']}\nVersion: {project['version']}\n", encoding="utf-8"
    )
    groups = [
        f"[{group}]\n" + "".join(f"{key} = {value}\n" for key, value in entries.items())
        for group, entries in project["entry-points"].items()
    ]
    (record / "entry_points.txt").write_text("\n".join(groups), encoding="utf-8")


def make_plug_in(folder: Path, name: str, code: str, entries: dict[str, dict[str, str]]) -> None:
    """Install a one-file plug-in that is written on the spot."""
    source = folder / f"source_{name}"
    (source / name).mkdir(parents=True)
    (source / name / "__init__.py").write_text(code, encoding="utf-8")
    tables = [
        f'[project.entry-points."{group}"]\n' + "".join(f'"{key}" = "{v}"\n' for key, v in rows.items())
        for group, rows in entries.items()
    ]
    head = f'[project]\nname = "{name}"\nversion = "1.0"\n'
    (source / "pyproject.toml").write_text(head + "\n".join(tables), encoding="utf-8")
    install(source, folder)


def venv_with(folder: Path, *sources: Path) -> Path:
    """Make a venv with packages in it, and return its Python."""
    venv.create(folder, with_pip=False, symlinks=os.name == "posix")
    scripts = "Scripts" if os.name == "nt" else "bin"
    python = folder / scripts / Path(sys.executable).name
    home = SimpleNamespace(base=str(folder))
    packages = Path(sysconfig.get_path("purelib", "venv", vars={"base": home.base, "platbase": home.base}))
    seen = [*site.getsitepackages(), str(Path(siteaxo.__file__).parent.parent)]
    (packages / "shared.pth").write_text("\n".join(seen) + "\n", encoding="utf-8")
    for source in sources:
        install(source, packages)
    return python


def output_of(python: Path, *words: str, status: int = 0) -> str:
    """What a Python says when it is run with some words."""
    plain = {key: value for key, value in os.environ.items() if key != "PYTHONPATH"}
    done = subprocess.run([str(python), *words], capture_output=True, text=True, env=plain, check=False)
    assert done.returncode == status, done.stderr + done.stdout
    return done.stdout + done.stderr
