"""Scan and group an export with polars alone: python peer.py FILE [columns]

With the word `columns` only the two columns that are grouped are read.
"""

import resource
import sys
import time

import polars as pl

path = sys.argv[1]
by = ["pat_ref", "vis_date"]
wall, cpu = time.perf_counter(), time.process_time()
if path.endswith(".parquet"):
    frame = pl.scan_parquet(path)
else:
    frame = pl.scan_csv(path, infer_schema=False)
if sys.argv[2:] == ["columns"]:
    frame = frame.select(by)
frame = frame.collect()
groups = frame.group_by(by).len()
print(
    f"polars: {frame.height} rows, {groups.height} groups: {time.perf_counter() - wall:.2f} s, "
    f"{time.process_time() - cpu:.2f} CPU s, {resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024:.0f} MiB"
)
