"""Commands that are told to stop, and those that take too long or too much."""

import os
import signal
import subprocess
import sys
import time

import pytest

from siteaxo.errors import LimitError
from siteaxo.limits import Limits
from siteaxo.shell.watch import GRACE_S, Watch, memory_used

STUBBORN = """
import signal, time
from siteaxo.limits import Limits
from siteaxo.shell.watch import Watch
signal.signal(signal.SIGINT, lambda *_: None)
with Watch(Limits(OPTIONS)) as watch:
    print("x", flush=True)
    end = time.monotonic() + 30
    while time.monotonic() < end:
        time.sleep(0.1)
"""
posix = pytest.mark.skipif(os.name != "posix", reason="signals as POSIX has them")


def stubborn(**limits):
    code = STUBBORN.replace("OPTIONS", ", ".join(f"{key}={value}" for key, value in limits.items()))
    return subprocess.Popen(
        [sys.executable, "-c", code], stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True
    )


@posix
def test_what_does_not_end_by_itself_is_ended_within_two_seconds():
    with stubborn() as run:
        run.stdout.read(1)
        start = time.monotonic()
        run.send_signal(signal.SIGINT)
        said = run.communicate(timeout=20)[1]
    assert time.monotonic() - start < 2
    assert run.returncode == 130
    assert said == "siteaxo: stopped; nothing was left half-written.\n"


@posix
@pytest.mark.parametrize(("limit", "value"), [("seconds", 0.3), ("memory_mb", 5)])
def test_limits_are_kept(limit, value):
    with stubborn(**{limit: value}) as run:
        said = run.communicate(timeout=20)[1]
    assert run.returncode == 2
    assert f"the limit {limit} is" in said
    assert f"--limit {limit}=" in said


def test_one_that_ends_is_left_alone():
    with Watch(Limits()) as watch:
        time.sleep(0.01)
    assert watch.problem is None
    assert not watch.thread.is_alive()


@posix
def test_an_interrupt_is_an_interrupt(request):
    before = signal.signal(signal.SIGINT, signal.default_int_handler)  # which may have been to ignore it
    request.addfinalizer(lambda: signal.signal(signal.SIGINT, before))

    def interrupted():
        with Watch(Limits()):
            signal.raise_signal(signal.SIGINT)
            time.sleep(GRACE_S / 4)

    with pytest.raises(KeyboardInterrupt):
        interrupted()


def test_memory():
    assert 10e6 < memory_used() < 1e11


@pytest.mark.parametrize("value", [0, -1, float("nan"), True, "9"])
def test_limits_are_numbers_above_zero(value):
    with pytest.raises(LimitError, match="records must be a number above zero") as caught:
        Limits(records=value)
    assert caught.value.code == "limit-value"


def test_the_message_says_how_to_raise_a_limit():
    Limits().check("records", 500_000, what="it has too many records")
    with pytest.raises(LimitError, match=r"'a': it has.*12345.*--limit records=13000") as caught:
        Limits(records=10).check("records", 12_345, what="it has too many records", layer="a")
    assert (caught.value.field, caught.value.value) == ("records", "12345")
