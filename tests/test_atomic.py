import os
import stat
import subprocess
import sys
import threading
import time

import pytest

from siteaxo.errors import OutputError, SheetError
from siteaxo.export.atomic import replacing, write_bytes

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
