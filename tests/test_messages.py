"""Messages of arrays: they come as they were sent, and nothing but numbers is ever taken."""

import io
import json
import pickle

import numpy as np
import pytest

from siteaxo.view.messages import receive, send

ARRAYS = {
    "level": np.array([0.1, -0.0, np.nan, np.inf, 5e-324]),
    "face": np.array([[1, 2], [3, 4]], dtype=np.int64)[:, ::-1],
    "part": np.array([7, 250], dtype=np.uint8),
    "flag": np.array([True, False]),
    "none": np.zeros((0, 3)),
    "one": np.array(4),
}


def sent(*messages):
    stream = io.BytesIO()
    for message in messages:
        send(stream, message)
    stream.seek(0)
    return stream


def test_arrays_come_as_they_were_sent_to_the_last_bit():
    stream = sent(ARRAYS, {}, {"more": np.arange(3)})
    came = receive(stream)
    assert list(came) == list(ARRAYS)
    for name, array in ARRAYS.items():
        assert (came[name].dtype, came[name].shape) == (array.dtype, array.shape)
        assert came[name].tobytes() == array.tobytes()
    assert receive(stream) == {}
    assert receive(stream)["more"].tolist() == [0, 1, 2]
    assert receive(stream) is None


@pytest.mark.parametrize("lost", [1, 40, 1000])
def test_half_a_message_is_none(lost):
    whole = sent(ARRAYS, {"more": np.arange(1000.0)}).getvalue()
    stream = io.BytesIO(whole[:-lost])
    receive(stream)
    with pytest.raises(ValueError, match="ends within 'more'"):
        receive(stream)


@pytest.mark.parametrize("kind", ["O", "V8", "S4", "U4", "M8[s]"])
def test_nothing_but_numbers_is_taken(kind):
    head = json.dumps([["name", kind, [1]]]).encode()
    with pytest.raises(ValueError, match="numbers only"):
        receive(io.BytesIO(head + b"\n" + bytes(64)))


@pytest.mark.parametrize("data", [b"hello\n", pickle.dumps(ARRAYS) + b"\n", b"\xff\xfe\n"])
def test_what_is_no_message_is_refused(data):
    with pytest.raises(ValueError):  # noqa: PT011
        receive(io.BytesIO(data))
