import contextlib
import os
import sqlite3
import stat
import subprocess
import sys
import threading
import time

import pytest

from siteaxo.errors import OutputError, SheetError
from siteaxo.export.atomic import remove_own, replacing, write_bytes

KILLED = """
import sys, time
from siteaxo.export.atomic import replacing
with replacing(sys.argv[1]) as path:
    path.write_bytes(b"half")
    print("x", flush=True)
    time.sleep(60)
"""


def names(folder):
    return sorted(one.name for one in folder.iterdir())


def test_a_new_file_is_made(tmp_path):
    write_bytes(tmp_path / "a.txt", b"new")
    assert (tmp_path / "a.txt").read_bytes() == b"new"
    assert names(tmp_path) == ["a.txt"]


def test_an_old_file_is_replaced_and_keeps_its_permissions(tmp_path):
    target = tmp_path / "a.txt"
    target.write_bytes(b"old")
    target.chmod(0o640)
    write_bytes(target, b"new")
    assert target.read_bytes() == b"new"
    assert stat.S_IMODE(target.stat().st_mode) == 0o640


def test_the_temporary_path_is_beside_the_target_and_has_its_suffix(tmp_path):
    with replacing(tmp_path / "a.gpkg") as temporary:
        assert temporary.parent == tmp_path.resolve()
        assert temporary.suffix == ".gpkg"
        assert not temporary.exists()
        temporary.write_bytes(b"x")
        assert not (tmp_path / "a.gpkg").exists()
    assert names(tmp_path) == ["a.gpkg"]


@pytest.mark.parametrize("error", [ValueError, KeyboardInterrupt, SheetError])
def test_a_failure_half_way_leaves_the_old_file(tmp_path, error):
    target = tmp_path / "a.txt"
    target.write_bytes(b"old")

    def fail():
        with replacing(target) as temporary:
            temporary.write_bytes(b"half")
            temporary.with_name(temporary.name + "-journal").write_bytes(b"j")
            raise error("stop")

    with pytest.raises(error):
        fail()
    assert target.read_bytes() == b"old"
    assert names(tmp_path) == ["a.txt"]


def test_an_error_of_the_disk_says_what_to_do(tmp_path):
    target = tmp_path / "a.txt"
    target.write_bytes(b"old")

    def fail():
        with replacing(target):
            raise OSError(28, "No space left on device")

    with pytest.raises(OutputError, match=r"No space left.*untouched.*disk"):
        fail()
    assert target.read_bytes() == b"old"


def test_writing_nothing_is_an_error(tmp_path):
    with pytest.raises(OutputError), replacing(tmp_path / "a.txt"):
        pass
    assert names(tmp_path) == []


def test_a_symbolic_link_is_followed_and_stays(tmp_path):
    (tmp_path / "store").mkdir()
    real = tmp_path / "store" / "real.txt"
    real.write_bytes(b"old")
    link = tmp_path / "link.txt"
    link.symlink_to(real)
    write_bytes(link, b"new")
    assert link.is_symlink()
    assert real.read_bytes() == b"new"
    assert names(tmp_path / "store") == ["real.txt"]


def test_a_loop_of_links_is_refused(tmp_path):
    (tmp_path / "a").symlink_to(tmp_path / "b")
    (tmp_path / "b").symlink_to(tmp_path / "a")
    with pytest.raises(OutputError):
        write_bytes(tmp_path / "a", b"x")


def test_a_folder_is_refused(tmp_path):
    (tmp_path / "a").mkdir()
    with pytest.raises(OutputError, match="a folder"):
        write_bytes(tmp_path / "a", b"x")
    assert (tmp_path / "a").is_dir()


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="no pipes with names here")
def test_a_pipe_is_refused(tmp_path):
    os.mkfifo(tmp_path / "a")
    with pytest.raises(OutputError, match="not a regular file"):
        write_bytes(tmp_path / "a", b"x")
    assert stat.S_ISFIFO((tmp_path / "a").stat().st_mode)


def test_a_missing_folder_is_named(tmp_path):
    with pytest.raises(OutputError, match=r"'.*no'.*does not exist. Make it first"):
        write_bytes(tmp_path / "no" / "a.txt", b"x")


def test_a_read_only_folder_is_said_before_any_work(tmp_path, monkeypatch):
    """The system's answer is given by hand, since the superuser may write anywhere."""
    target = tmp_path / "a.txt"
    target.write_bytes(b"old")
    worked = []

    def refuse(path, *args, **options):
        raise PermissionError(13, "Permission denied", str(path))

    def work():
        with replacing(target):
            worked.append(True)

    monkeypatch.setattr("pathlib.Path.open", refuse)
    with pytest.raises(OutputError, match=r"Permission denied.*untouched"):
        work()
    monkeypatch.undo()
    assert not worked
    assert target.read_bytes() == b"old"


@pytest.mark.skipif(
    not hasattr(os, "geteuid") or os.geteuid() == 0, reason="the superuser may write anywhere"
)
def test_a_folder_without_write_permission(tmp_path):
    target = tmp_path / "a.txt"
    target.write_bytes(b"old")
    tmp_path.chmod(0o555)
    try:
        with pytest.raises(OutputError, match="untouched"):
            write_bytes(target, b"new")
    finally:
        tmp_path.chmod(0o755)
    assert target.read_bytes() == b"old"


def test_what_a_killed_run_left_is_swept_after_a_day_and_not_before(tmp_path):
    target = tmp_path / "a.txt"
    target.write_bytes(b"old")
    with subprocess.Popen([sys.executable, "-c", KILLED, str(target)], stdout=subprocess.PIPE) as run:
        run.stdout.read(1)
        run.kill()
    assert target.read_bytes() == b"old"
    (left,) = [one for one in tmp_path.iterdir() if one != target]
    write_bytes(target, b"new")
    assert left.exists()
    yesterday = time.time() - 2 * 86400
    os.utime(left, (yesterday, yesterday))
    write_bytes(target, b"newer")
    assert names(tmp_path) == ["a.txt"]


def test_several_writers_and_a_reader_never_see_a_part(tmp_path):
    target = tmp_path / "a.bin"
    contents = [bytes([number]) * 200_000 for number in range(4)]
    write_bytes(target, contents[0])
    writers = [
        threading.Thread(target=lambda one=one: [write_bytes(target, one) for _ in range(10)])
        for one in contents
    ]
    for writer in writers:
        writer.start()
    seen = set()
    while any(writer.is_alive() for writer in writers):
        seen.add(target.read_bytes())
    for writer in writers:
        writer.join()
    assert seen <= set(contents)
    assert target.read_bytes() in contents
    assert names(tmp_path) == ["a.bin"]


def test_inputs_are_not_written_onto(tmp_path):
    (tmp_path / "in.gpkg").write_bytes(b"levels")
    os.link(tmp_path / "in.gpkg", tmp_path / "same.gpkg")
    (tmp_path / "link.gpkg").symlink_to(tmp_path / "in.gpkg")
    for name in ("in.gpkg", "same.gpkg", "link.gpkg", "../" + tmp_path.name + "/in.gpkg"):
        with pytest.raises(OutputError, match="is an input") as caught:
            write_bytes(tmp_path / name, b"x", inputs=[tmp_path / "in.gpkg"])
        assert caught.value.code == "output-is-input"
    with pytest.raises(OutputError, match="is an input"):
        write_bytes(tmp_path / "terraces.dbf", b"x", inputs=[tmp_path / "terraces.shp"])
    write_bytes(tmp_path / "out.gpkg", b"x", inputs=[tmp_path / "in.gpkg", "a\0b"])
    assert (tmp_path / "in.gpkg").read_bytes() == b"levels"


def test_only_our_own_left_overs_are_swept(tmp_path):
    target = tmp_path / "a.gpkg"
    mark = "0123456789abcdef"
    ours = [f".a.part-{mark}.gpkg{end}" for end in ("", "-journal", "-wal", "-shm")]
    others = [f".a.part-{mark}.gpkg.bak", ".a.part-notes.gpkg", f".b.part-{mark}.gpkg", f"a.part-{mark}.gpkg"]
    for name in (*ours, *others):
        (tmp_path / name).write_bytes(b"x")
        os.utime(tmp_path / name, (0, 0))
    (tmp_path / f".a.part-{mark[::-1]}.gpkg").mkdir()
    os.utime(tmp_path / f".a.part-{mark[::-1]}.gpkg", (0, 0))
    write_bytes(target, b"new")
    assert names(tmp_path) == sorted([*others, f".a.part-{mark[::-1]}.gpkg", "a.gpkg"])


def test_what_a_process_leaves_can_be_removed_before_it_ends(tmp_path):
    with replacing(tmp_path / "a.gpkg") as temporary:
        temporary.write_bytes(b"half")
        temporary.with_name(temporary.name + "-journal").write_bytes(b"j")
        (tmp_path / ".b.part-00000001deadbeef.gpkg").write_bytes(b"of another process")
        remove_own(tmp_path)
        assert names(tmp_path) == [".b.part-00000001deadbeef.gpkg"]
        temporary.write_bytes(b"whole")


def test_long_names(tmp_path):
    name = "ä" * 120 + ".txt"
    write_bytes(tmp_path / name, b"x")
    assert names(tmp_path) == [name]


UNFINISHED = """
import sqlite3, os, sys
base = sqlite3.connect(sys.argv[1], isolation_level=None)
base.execute(f"PRAGMA journal_mode = {sys.argv[2]}")
base.execute("PRAGMA cache_size = 1")
base.execute("BEGIN")
base.execute("UPDATE t SET a = a + 1000")
if sys.argv[2] == "WAL":
    base.execute("COMMIT")
os._exit(9)
"""


def database(path, first):
    with contextlib.closing(sqlite3.connect(path)) as base:
        base.execute("CREATE TABLE t (a INTEGER, b TEXT)")
        base.executemany("INSERT INTO t VALUES (?, ?)", [(first + i, "x" * 500) for i in range(400)])
        base.commit()
    return path


@pytest.mark.parametrize("mode", ["DELETE", "WAL"])
def test_what_another_program_left_unfinished_is_not_played_into_the_new_file(tmp_path, mode):
    target = database(tmp_path / "a.gpkg", 0)
    new = database(tmp_path / "new.gpkg", 50_000).read_bytes()
    subprocess.run([sys.executable, "-c", UNFINISHED, str(target), mode], check=False)
    assert (tmp_path / ("a.gpkg-wal" if mode == "WAL" else "a.gpkg-journal")).stat().st_size > 0
    write_bytes(target, new)
    with contextlib.closing(sqlite3.connect(target)) as base:
        assert base.execute("PRAGMA integrity_check").fetchone() == ("ok",)
        assert base.execute("SELECT min(a) FROM t").fetchone() == (50_000,)


def test_a_file_that_another_program_is_writing_to_is_left_alone(tmp_path):
    target = database(tmp_path / "a.gpkg", 0)
    with contextlib.closing(sqlite3.connect(target, isolation_level=None)) as base:
        base.execute("PRAGMA cache_size = 1")
        base.execute("BEGIN")
        base.execute("UPDATE t SET a = a + 1")
        with pytest.raises(OutputError, match="another program") as caught:
            write_bytes(target, b"new")
        base.execute("COMMIT")
        assert base.execute("SELECT min(a) FROM t").fetchone() == (1,)
    assert caught.value.code == "output-busy"
