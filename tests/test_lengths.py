"""Numbers as surveys write them, in metres."""

import decimal

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from siteaxo.errors import FieldError, LevelError
from siteaxo.source.lengths import read_lengths


def read(values, *, unit="m", dtype=object, **options):
    array = np.array(values, dtype=dtype)
    ids = np.array([f"t{i}" for i in range(len(array))], dtype=object)
    return read_lengths(array, layer="walls", field="fin_lvl", ids=ids, unit=unit, **options)


@pytest.mark.parametrize(
    ("text", "metres"),
    [
        ("12.5", 12.5),
        ("12,5", 12.5),
        (" 12.5 ", 12.5),
        ("+0.5", 0.5),
        ("-3", -3.0),
        ("\N{MINUS SIGN}3", -3.0),
        ("3.2 m", 3.2),
        ("3.2m", 3.2),
        ("3,2 M", 3.2),
        (".5", 0.5),
        ("7.", 7.0),
        ("1.25E+02", 125.0),
        ("12.5\N{NO-BREAK SPACE}", 12.5),
        ("10 ft", 3.048),
        ("1000 ft-us", 1000 * 1200 / 3937),
    ],
)
def test_texts_that_are_levels(text, metres):
    lengths, findings = read([text])
    assert lengths.tolist() == pytest.approx([metres], rel=1e-15)
    assert findings == []


@pytest.mark.parametrize(
    "text",
    [
        *("1_000", "inf", "-inf", "nan", "Infinity", "0x10", "1e", "e5", "1.2.3", "1,250.5", "1.250,5"),
        *("twelve", "12 km", "3 '", "12 5", "--3", "+", ".", ",", "m", "١٢", "1e99999", "12.5;"),
    ],
)
def test_texts_that_are_none_name_layer_field_id_and_value(text):
    with pytest.raises(LevelError) as caught:
        read(["1.0", text])
    for part in ("'walls'", "'fin_lvl'", "t1", repr(text), "Write numbers such as"):
        assert part in str(caught.value)


def test_sizes_raise_the_error_they_are_asked_to():
    with pytest.raises(FieldError, match="no numbers"):
        read(["wide"], error=FieldError)


def test_objects_of_several_kinds():
    values = [1, 2.5, np.float32(0.25), decimal.Decimal("4.75"), "6", None, float("nan")]
    lengths, findings = read(values)
    assert lengths[:5].tolist() == [1.0, 2.5, 0.25, 4.75, 6.0]
    assert np.isnan(lengths[5:]).all()
    assert [finding.code for finding in findings] == ["missing-level", "missing-level"]


@pytest.mark.parametrize("value", [True, False, object(), b"12"])
def test_objects_that_are_no_numbers(value):
    with pytest.raises(LevelError, match="no numbers"):
        read([value])


@pytest.mark.parametrize("dtype", ["bool", "datetime64[s]"])
def test_fields_of_another_kind(dtype):
    with pytest.raises(LevelError, match=r"holds .*, no numbers"):
        read([0, 1], dtype=dtype)


@pytest.mark.parametrize("value", [-9999, -1000, 1e30, -1e30, 3.4e38, -1.7976931348623157e308])
@pytest.mark.parametrize("as_text", [False, True])
def test_sentinels_are_missing_and_reported(value, as_text):
    # common practice: written where there is no level
    values = [1.0, value]
    lengths, findings = read([str(v) for v in values]) if as_text else read(values, dtype=float)
    assert lengths[0] == 1.0
    assert np.isnan(lengths[1])
    (finding,) = findings
    assert (finding.severity, finding.code, finding.source_id) == ("warning", "sentinel-level", "t1")
    assert (finding.layer, finding.field) == ("walls", "fin_lvl")
    assert float(finding.value) == value


@pytest.mark.parametrize("value", [-999, -9998.9, 9999, 1000, -1000.5, 9.9e29, 0])
def test_numbers_that_only_look_like_sentinels(value):
    lengths, findings = read([value], dtype=float)
    assert lengths.tolist() == [value]
    assert findings == []


def test_sentinels_are_told_before_feet_become_metres():
    lengths, findings = read([-9999.0, 100.0], dtype=float, unit="ft")
    assert np.isnan(lengths[0])
    assert lengths[1] == pytest.approx(30.48, rel=1e-15)
    assert len(findings) == 1


@pytest.mark.parametrize("empty", [None, "", "   ", float("nan")])
def test_empty_is_missing_and_reported(empty):
    lengths, (finding,) = read([empty, "3"])
    assert np.isnan(lengths[0])
    assert lengths[1] == 3
    assert (finding.code, finding.source_id, finding.value) == ("missing-level", "t0", "")


def test_nan_in_numbers_is_missing():
    lengths, (finding,) = read([np.nan, 2.0], dtype=float)
    assert np.isnan(lengths[0])
    assert finding.code == "missing-level"


@pytest.mark.parametrize("value", [np.inf, -np.inf])
def test_infinity_is_an_error(value):
    with pytest.raises(LevelError, match=r"infinite values in 1 features \(ids t1"):
        read([0.0, value], dtype=float)


def test_a_number_too_long_is_infinite():
    with pytest.raises(LevelError, match="infinite"):
        read(["9" * 400])


@pytest.mark.parametrize(
    ("unit", "metres"),
    [("m", 1.0), ("ft", 0.3048), ("ft-us", 1200 / 3937)],
)
def test_units_are_exact(unit, metres):
    # 85 FR 62698: 0.3048 m exactly; 1200/3937 m
    assert read([1, 2], dtype=int, unit=unit)[0].tolist() == [metres, 2 * metres]


def test_the_two_feet_over_two_million():
    # 85 FR 62698: 2,000,000 ft differ by 4.000008 ft
    survey, international = (read([2e6], dtype=float, unit=unit)[0][0] for unit in ("ft-us", "ft"))
    assert (survey - international) / 0.3048 == pytest.approx(4.000008, abs=1e-6)


def test_a_comma_before_three_digits_is_reported_where_nothing_decides():
    lengths, (finding,) = read(["1,250", "2,000 m", "7"])
    assert lengths.tolist() == [1.25, 2.0, 7.0]
    assert (finding.code, finding.value) == ("comma-level", "1,250")


@pytest.mark.parametrize("decisive", ["12,5", "0,450", "1234,567"])
def test_another_decimal_comma_decides(decisive):
    assert read(["1,250", decisive])[1] == []


@settings(derandomize=True, database=None, deadline=None)
@given(st.floats(min_value=-900, max_value=9000, allow_subnormal=False), st.sampled_from([".", ","]))
def test_any_number_reads_back(number, mark):
    lengths, _ = read([f"{number!r}".replace(".", mark), "0,5"])
    assert lengths[0] == number
