import csv
import io

import pandas as pd
import pytest

from siteaxo.errors import OutputError
from siteaxo.export.tables import write_csv


def rows_of(path):
    return list(csv.reader(io.StringIO(path.read_bytes().decode("utf-8"), newline="")))


def test_cells_come_back(tmp_path):
    frame = pd.DataFrame({"layer": ["höfe", 'a "b", c'], "value": [1.5, -2.0]})
    write_csv(frame, tmp_path / "t.csv")
    assert rows_of(tmp_path / "t.csv") == [["layer", "value"], ["höfe", "1.5"], ['a "b", c', "-2.0"]]


@pytest.mark.parametrize("text", ["=1+1", "+1", "-9999", "@sum", "\tx", "\rx", '=cmd("x")'])
def test_text_that_reads_as_a_formula_is_escaped(tmp_path, text):
    write_csv(pd.DataFrame({"value": [text, "plain"]}), tmp_path / "t.csv")
    assert rows_of(tmp_path / "t.csv") == [["value"], ["'" + text], ["plain"]]


def test_a_column_name_is_escaped_too(tmp_path):
    write_csv(pd.DataFrame({"=x": [1]}), tmp_path / "t.csv")
    assert rows_of(tmp_path / "t.csv") == [["'=x"], ["1"]]


def test_the_frame_is_left_as_it_was(tmp_path):
    frame = pd.DataFrame({"value": ["=1"]})
    write_csv(frame, tmp_path / "t.csv")
    assert frame["value"].tolist() == ["=1"]


def test_an_empty_table_has_its_heading(tmp_path):
    write_csv(pd.DataFrame(columns=["a", "b"]), tmp_path / "t.csv")
    assert rows_of(tmp_path / "t.csv") == [["a", "b"]]


def test_a_missing_folder_is_named(tmp_path):
    with pytest.raises(OutputError, match="does not exist"):
        write_csv(pd.DataFrame({"a": [1]}), tmp_path / "no" / "t.csv")
