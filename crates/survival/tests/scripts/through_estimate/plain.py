"""What plain_curves.py and plain_counts.py share: the program on one table, and the comparison of its numbers."""

import csv
import json
import pathlib
import subprocess


class Comparison:
    """Counts what was compared, and keeps what differs."""

    def __init__(self):
        self.n, self.unlike = {}, {}

    def __call__(self, name, ours, plain, place, tolerance=1e-8):
        self.n[name] = self.n.get(name, 0) + 1
        if ours is None and plain is None:
            return
        if ours is None or plain is None or abs(ours - plain) > tolerance * (1 + abs(plain)):
            self.unlike.setdefault(name, []).append((place, ours, plain))

    def report(self):
        for name, n in self.n.items():
            unlike = self.unlike.get(name, [])
            print(f"{name}: {n} compared, {len(unlike)} differ", *unlike[:3], sep="\n    " if unlike else "")
        return bool(self.unlike)


class Program:
    def __init__(self, path, folder):
        self.path, self.file = path, pathlib.Path(folder) / "table.csv"

    def write(self, columns):
        with self.file.open("w", newline="") as out:
            csv.writer(out).writerows([list(columns), *zip(*columns.values())])

    def __call__(self, method, *options):
        command = [self.path, "estimate", method, self.file, *map(str, options), "--json"]
        done = subprocess.run(command, capture_output=True, text=True)
        if done.returncode:
            raise SystemExit(f"{method} {options}: {done.stderr}")
        return json.loads(done.stdout)
