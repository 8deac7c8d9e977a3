"""Load and check simulated exports, and scan and group the same files with polars alone, in one run.

    cargo build --release
    python3 -m venv target/peers/venv && target/peers/venv/bin/pip install polars==2.1.0
    target/peers/venv/bin/python tests/peers/loading/time_loading.py --patients 6640 66400

A patient has about sixteen rows. Beyond `MOST_IN_MEMORY` patients polars only reads in pieces, since the whole would not fit.
`--run` also times a whole run, from the delimited file to the clinic's page with twelve quarters of trend.
"""

import argparse
import os
import shutil
import subprocess
import sys
import time
from pathlib import Path

MOST_IN_MEMORY = 100_000
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
trend_quarters = 12
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


def compare(file, folder, n_patients, is_run):
    form = file.suffix.removeprefix(".")
    pipeline = folder / f"{form}.toml"
    layout = ROOT / "pipelines/layouts/tarnwick-wide.toml"
    pipeline.write_text(PIPELINE.format(layout=layout, file=file))
    size = f"{form}, {file.stat().st_size >> 20} MiB"
    timed([PROGRAM, "check", pipeline], f"limbledger check, {size}")
    if is_run and form == "csv":
        out = folder / "out"
        timed([PROGRAM, "run", pipeline, "--out", out], f"limbledger run, {size}")
        shutil.rmtree(out)
    peer = Path(__file__).with_name("peer.py")
    ways = [["stream"], ["columns"]]
    if n_patients <= MOST_IN_MEMORY:
        ways.insert(0, [])
    for way in ways:
        said = subprocess.run([sys.executable, peer, file, *way], capture_output=True, text=True, check=True)
        print(said.stdout.strip(), *way, flush=True)


def main():
    arguments = argparse.ArgumentParser(description=__doc__)
    arguments.add_argument("--patients", type=int, nargs="+", default=[6640, 66400])
    arguments.add_argument("--run", action="store_true")
    arguments.add_argument("--folder", type=Path, default=ROOT / "target/peers/loading")
    asked = arguments.parse_args()
    for n in asked.patients:
        made = asked.folder / f"patients-{n}"
        if not made.exists():
            asked.folder.mkdir(parents=True, exist_ok=True)
            words = [PROGRAM, "simulate", "--seed", "3", "--patients", str(n), "--parquet", "--out", made]
            subprocess.run(words, check=True, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
        for file in (made / "tarnwick-visits.csv", made / "parquet/tarnwick-visits.parquet"):
            compare(file, asked.folder, n, asked.run)


if __name__ == "__main__":
    main()
