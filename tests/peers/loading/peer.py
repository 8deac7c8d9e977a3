"""Scan and group an export with polars alone: python peer.py FILE [columns | stream]

Without a second word every column is read into memory as text and rows are counted by patient and day. With `columns` only
these two columns are read. With `stream` the file is read in pieces and the cells of every column are counted by patient,
which also works where the whole would not fit.
"""

import resource
import sys
import time

import polars as pl

path, how = sys.argv[1], sys.argv[2:]
by = ["pat_ref", "vis_date"]
wall, cpu = time.perf_counter(), time.process_time()
if path.endswith(".parquet"):
    frame = pl.scan_parquet(path)
else:
    frame = pl.scan_csv(path, infer_schema=False)
if how == ["stream"]:
    person = by[0]
    counted = frame.group_by(person).agg(pl.len().alias("rows"), pl.exclude(person).count())
    groups = counted.collect(engine="streaming")
    n_rows = groups["rows"].sum()
else:
    if how == ["columns"]:
        frame = frame.select(by)
    frame = frame.collect()
    groups = frame.group_by(by).len()
    n_rows = frame.height
print(
    f"polars: {n_rows} rows, {groups.height} groups: {time.perf_counter() - wall:.2f} s, "
    f"{time.process_time() - cpu:.2f} CPU s, {resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024:.0f} MiB"
)
