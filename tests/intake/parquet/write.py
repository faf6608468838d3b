"""Writes reeds.csv of this folder as Parquet, as three programs do it by default.

Written with Python 3, pyarrow 26.0.1 (Snappy), pandas 2.3.3 (Snappy; categories, times for dates, an index) and
polars 2.1.0 (Zstandard). Nothing in the table is a measurement: it is made up to hold every type that a log may have.
"""

import pathlib

import pandas
import polars
import pyarrow
import pyarrow.csv
import pyarrow.parquet

here = pathlib.Path(__file__).parent
columns = {
    "reed": pyarrow.string(),
    "lot": pyarrow.dictionary(pyarrow.int32(), pyarrow.string()),
    "started_on": pyarrow.date32(),
    "hardness": pyarrow.float32(),
    "gouge_center_mm": pyarrow.float64(),
    "shape": pyarrow.string(),
    "forming_days": pyarrow.int8(),
    "anchor": pyarrow.bool_(),
    "hours_played": pyarrow.decimal128(5, 1),
    "rating": pyarrow.float64(),
    "note": pyarrow.string(),
}
table = pyarrow.csv.read_csv(
    here / "reeds.csv",
    convert_options=pyarrow.csv.ConvertOptions(
        column_types={name: kind for name, kind in columns.items() if name != "lot"},
        null_values=[""],
        strings_can_be_null=True,
    ),
)
table = table.set_column(1, "lot", table["lot"].dictionary_encode())

pyarrow.parquet.write_table(table, here / "pyarrow.parquet")

frame = table.to_pandas()
frame["started_on"] = pandas.to_datetime(frame["started_on"])

frame.index = pandas.Index([100 + row * row for row in range(len(frame))])
frame.to_parquet(here / "pandas.parquet")

polars.from_arrow(table).write_parquet(here / "polars.parquet")

reeds = pyarrow.array(["R1", "R2"])
ratings = pyarrow.array([[7.0, 6.5], []])
pyarrow.parquet.write_table(pyarrow.table({"reed": reeds, "ratings": ratings}), here / "nested.parquet")

# as many equal cells as one likes take a few bytes
zeros = pyarrow.repeat(pyarrow.scalar(0, pyarrow.int8()), 20_000_000)
pyarrow.parquet.write_table(
    pyarrow.table({"reed": zeros}),
    here / "many_rows.parquet",
    compression="zstd",
    row_group_size=len(zeros),
    data_page_size=1 << 30,
    max_rows_per_page=len(zeros),
)
