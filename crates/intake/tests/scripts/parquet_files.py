"""Writes the small Parquet files of the tests: one invented export of six rows in the forms that writers use.

Python 3 with pyarrow 26.0.1 and polars 2.1.0:  python parquet_files.py ../parquet
"""

import datetime as dt
import decimal
import sys
from pathlib import Path

import polars as pl
import pyarrow as pa
import pyarrow.parquet as pq

OUT = Path(sys.argv[1])
DAY = dt.date
SEEN = [DAY(2025, 11, 3), DAY(2025, 11, 4), DAY(2025, 11, 5), DAY(2025, 11, 6), None, DAY(2025, 11, 7)]
PEOPLE = ["TW-00001", "TW-00002", "TW-00001", "TW-00003", "TW-00003", "TW-00002"]
LENGTHS = [12.0, None, 11.5, 7.25, None, None]
PRIOR = [True, None, True, False, False, None]
BORN = [1950, 1961, 1950, 1944, 1944, 1961]
TEXT = {
    "sex": ["F", "M", "F", None, None, "M"],
    "w1": ["A", None, "A", "B", None, None],
    "w1_side": ["L", None, "L", "R", None, None],
    "w1_state": ["O", None, "C", "O", None, None],
}


def table(**other):
    columns = {
        "pid": pa.array(PEOPLE),
        "yob": pa.array(BORN, pa.int32()),
        "prior": pa.array(PRIOR),
        "seen": pa.array(SEEN, pa.date32()),
        "w1_len": pa.array(LENGTHS, pa.float64()),
        **{name: pa.array(cells) for name, cells in TEXT.items()},
    }
    columns.update(other)
    return pa.table(columns)


def write(name, rows, **options):
    pq.write_table(rows, OUT / f"{name}.parquet", **options)


def moments(hour, zone=None):
    at = [None if day is None else dt.datetime(day.year, day.month, day.day, hour, 20, 0, 123456) for day in SEEN]
    return pa.array(at, pa.timestamp("us", zone))


# what any door reads
write("usual", table())
write("plain-gzip", table(), compression="gzip", use_dictionary=False)
write("second-pages", table(), compression="zstd", data_page_version="2.0", use_dictionary=["pid"])
write("bare", table(), compression="none", use_dictionary=False, write_statistics=False)
write("small-groups", table(), row_group_size=2, write_page_checksum=True)
write("moments", table(seen=moments(9)))
write("instants", table(seen=moments(22, "UTC")))
write("old-instants", table(seen=moments(22)), use_deprecated_int96_timestamps=True)
tenths = [None if length is None else decimal.Decimal(str(length)) for length in LENGTHS]
write(
    "narrow",
    table(
        w1_len=pa.array(tenths, pa.decimal128(6, 2)),
        yob=pa.array(BORN, pa.uint16()),
        pid=pa.array([name.encode() for name in PEOPLE], pa.binary()),
    ),
)
write("single", table(w1_len=pa.array(LENGTHS, pa.float32()), pid=pa.array(PEOPLE, pa.large_string())))
required = pa.schema([pa.field("pid", pa.string(), nullable=False), *list(table().schema)[1:]])
write("required", table().cast(required))
frame = pl.from_arrow(table())
frame.write_parquet(OUT / "polars.parquet")
frame.write_parquet(OUT / "polars-snappy.parquet", compression="snappy", row_group_size=4)
secret = "Zq7Vx9Kw"  # as in `hostile.rs`: no message may hold it
hidden = pa.array([secret] * 6)
write(
    "secret",
    table(sex=hidden, w1_state=hidden, w1_side=hidden, pid=pa.array([f"{secret}-{n // 2}" for n in range(6)])),
    use_dictionary=["sex", "pid"],
    row_group_size=3,
)

# what is refused
write("packed-lz4", table(), compression="lz4")
write("packed-brotli", table(), compression="brotli")
write("delta", table(), use_dictionary=False, column_encoding={"pid": "DELTA_BYTE_ARRAY"})
write("lists", table(seen=pa.array([[day] for day in SEEN])))
write("groups", table(w1=pa.array([{"label": "A"}] * 6)))
write("spans", table(w1_len=pa.array([dt.timedelta(1)] * 6).cast(pa.duration("us"))))
write("no-columns", pa.table({}))
write("no-rows", table().slice(0, 0))
double = pa.Table.from_arrays([pa.array(PEOPLE), pa.array(PEOPLE)], names=["pid", "pid"])
write("double", double)
