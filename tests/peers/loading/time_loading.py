"""Load and check simulated exports, and scan and group the same files with polars alone, in one run.

    cargo build --release
    python3 -m venv target/peers/venv && target/peers/venv/bin/pip install polars==2.1.0
    target/peers/venv/bin/python tests/peers/loading/time_loading.py --patients 6640 66400

A patient has about sixteen rows. `--copies 10` joins so many copies of the largest delimited file, each with ids of its own.
"""

import argparse
import os
import subprocess
import sys
import time
from pathlib import Path

ROOT = Path(__file__).resolve().parents[3]
PROGRAM = ROOT / "target/release/limbledger"
PIPELINE = """title = "Loading"
practice = "Made-up"
[export]
layout = "{layout}"
[[export.file]]
path = "{file}"
[known]
data_start = 2023-01-01
cut_off = 2025-12-31
[report]
quarter = "2025Q4"
audiences = ["clinic"]
"""


def timed(words, name):
    """Runs a program; wall seconds, CPU seconds and greatest memory of that one child."""
    wall = time.perf_counter()
    child = subprocess.Popen(words, stdout=subprocess.PIPE, stderr=subprocess.DEVNULL, text=True)
    said = child.stdout.read()
    _, status, usage = os.wait4(child.pid, 0)
    if os.waitstatus_to_exitcode(status) not in (0, 1):
        sys.exit(f"{name} failed")
    wall = time.perf_counter() - wall
    print(f"{name}: {wall:.2f} s, {usage.ru_utime + usage.ru_stime:.2f} CPU s, {usage.ru_maxrss / 1024:.0f} MiB", flush=True)
    return said


def copied(source, folder, n_copies):
    """One file of several copies, each with patients of its own."""
    to = folder / "tarnwick-visits.csv"
    with open(source, "rb") as rows, open(to, "wb") as out:
        out.write(rows.readline())
        start = rows.tell()
        for copy in range(n_copies):
            rows.seek(start)
            for row in rows:
                out.write(row.replace(b"TW-", b"TW-%d" % copy, 1))
    return to


def compare(file, folder):
    form = file.suffix.removeprefix(".")
    pipeline = folder / f"{form}.toml"
    layout = ROOT / "pipelines/layouts/tarnwick-wide.toml"
    pipeline.write_text(PIPELINE.format(layout=layout, file=file))
    timed([PROGRAM, "check", pipeline], f"limbledger check, {form}, {file.stat().st_size >> 20} MiB")
    peer = Path(__file__).with_name("peer.py")
    for more in ([], ["columns"]):
        said = subprocess.run([sys.executable, peer, file, *more], capture_output=True, text=True, check=True)
        print(said.stdout.strip() + (" (two columns only)" if more else ""), flush=True)


def main():
    arguments = argparse.ArgumentParser(description=__doc__)
    arguments.add_argument("--patients", type=int, nargs="+", default=[6640, 66400])
    arguments.add_argument("--copies", type=int, default=0)
    arguments.add_argument("--folder", type=Path, default=ROOT / "target/peers/loading")
    asked = arguments.parse_args()
    for n in asked.patients:
        made = asked.folder / f"patients-{n}"
        if not made.exists():
            asked.folder.mkdir(parents=True, exist_ok=True)
            words = [PROGRAM, "simulate", "--seed", "3", "--patients", str(n), "--parquet", "--out", made]
            subprocess.run(words, check=True, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
        for file in (made / "tarnwick-visits.csv", made / "parquet/tarnwick-visits.parquet"):
            compare(file, asked.folder)
    if asked.copies:
        folder = asked.folder / f"copies-{asked.copies}"
        folder.mkdir(parents=True, exist_ok=True)
        compare(copied(made / "tarnwick-visits.csv", folder, asked.copies), folder)


if __name__ == "__main__":
    main()
