"""Times the estimators of the crate `survival` beside general-purpose libraries of R and Python, on the same tables in one run.

    python3 tests/peers/time_peers.py --sizes 10000 100000 1000000

See README.md beside this file. Libraries that are not installed are skipped and said so; nothing is installed.
"""

import argparse
import importlib.metadata
import json
import math
import os
import shutil
import subprocess
import sys
from pathlib import Path

HERE = Path(__file__).resolve().parent
ROOT = HERE.parent.parent
OURS = "ours"

# (language, library) -> methods, the slow ones last since a limit ends a process; the scripts beside this file say how each is called
PEERS = {
    ("R", "survival"): ["kaplan-meier", "nelson-aalen", "log-rank", "cumulative-incidence", "cox", "cox-with-delayed-entry",
                        "cox-of-ten", "cox-of-ten-with-delayed-entry", "concordance", "proportional-hazards-test",
                        "interval-regression", "kaplan-meier-by-cluster", "cumulative-incidence-by-cluster", "cox-by-cluster",
                        "cox-of-ten-by-cluster", "bootstrap-of-a-median", "npmle", "fine-gray"],
    ("R", "stats"): ["logistic"],
    ("R", "cmprsk"): ["cumulative-incidence", "gray", "fine-gray"],
    ("Python", "lifelines"): ["kaplan-meier", "nelson-aalen", "log-rank", "cox", "cox-of-ten", "interval-regression",
                              "cox-with-delayed-entry", "cox-by-cluster", "cumulative-incidence"],
    ("Python", "scikit-survival"): ["kaplan-meier", "nelson-aalen", "log-rank", "cumulative-incidence", "cox", "cox-of-ten"],
    ("Python", "statsmodels"): ["kaplan-meier", "log-rank", "cumulative-incidence", "cox", "cox-of-ten",
                                "cox-with-delayed-entry", "logistic"],
    ("Python", "comprisk"): ["cumulative-incidence", "gray", "fine-gray"],
    ("Python", "survival"): ["kaplan-meier", "log-rank", "cumulative-incidence", "cox", "cox-with-delayed-entry", "cox-of-ten",
                             "cox-of-ten-with-delayed-entry", "cox-by-cluster", "cox-of-ten-by-cluster", "concordance",
                             "proportional-hazards-test", "kaplan-meier-by-cluster", "bootstrap-of-a-median",
                             "cumulative-incidence-by-cluster"],
    # another way into the same library
    ("Python", "survival/bare"): ["cox", "cox-with-delayed-entry", "cox-of-ten", "cox-of-ten-with-delayed-entry"],
}

# at least so many times as fast as the fastest library
FASTER = {"kaplan-meier": 5, "log-rank": 5, "cumulative-incidence": 5, "gray": 5, "npmle": 5, "bootstrap-of-a-median": 5, "cox": 4,
          "cox-of-ten": 4, "fine-gray": 3, "interval-regression": 5, "concordance": 5, "proportional-hazards-test": 5}

# at most so many times the seconds of our plain method
DEARER = {"kaplan-meier-by-cluster": ("kaplan-meier", 3), "cumulative-incidence-by-cluster": ("cumulative-incidence", 3),
          "cox-with-delayed-entry": ("cox", 1.5), "cox-of-ten-with-delayed-entry": ("cox-of-ten", 1.5),
          "cox-by-cluster": ("cox", 1.3), "cox-of-ten-by-cluster": ("cox-of-ten", 1.3)}

# n log n from 10 000 to 1 000 000 has the exponent 1.09; the rest is room for noise and for tables that outgrow a cache
STEEPEST = 1.2

# methods that need no covariates and no intervals: a table for these alone is a small one
CURVES = {"kaplan-meier", "kaplan-meier-by-cluster", "nelson-aalen", "log-rank", "cumulative-incidence",
          "cumulative-incidence-by-cluster", "gray", "bootstrap-of-a-median"}


def version_of(language, library):
    """The version installed, or None."""
    library = library.partition("/")[0]
    if language == "Python":
        try:
            return importlib.metadata.version(library)
        except importlib.metadata.PackageNotFoundError:
            return None
    if shutil.which("Rscript") is None:
        return None
    code = f'if (requireNamespace("{library}", quietly = TRUE)) cat(as.character(packageVersion("{library}")))'
    return subprocess.run(["Rscript", "-e", code], capture_output=True, text=True).stdout.strip() or None


def timed(command, limit):
    """Lines that the command printed before its end or the limit, and a word for what is missing from them."""
    try:
        done = subprocess.run(command, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True, timeout=limit)
    except subprocess.TimeoutExpired as stopped:
        printed, missing = stopped.stdout or "", f"over {limit:.0f} s"
        printed = printed.decode() if isinstance(printed, bytes) else printed
    else:
        printed, missing = done.stdout, "failed"
        if done.returncode != 0:
            print(done.stderr.strip().splitlines()[-1:], file=sys.stderr)
    lines = [json.loads(line) for line in printed.splitlines() if line.endswith("}")]
    return {line["method"]: line for line in lines}, missing


def exponent(points):
    """Slope of the logarithm of the seconds over that of n, by least squares; None with fewer than two sizes."""
    if len({n for n, _ in points}) < 2:
        return None
    logs = [(math.log(n), math.log(seconds)) for n, seconds in points]
    mean_x, mean_y = (sum(values) / len(logs) for values in zip(*logs))
    return sum((a - mean_x) * (b - mean_y) for a, b in logs) / sum((a - mean_x) ** 2 for a, _ in logs)


def verdicts(measured, fitted):
    """Lines of (method, n, what is aimed at, what was found, whether it is met)."""
    seconds = {(method, library, n): own for (method, library), points in measured.items() for n, own in points}
    for method, factor in FASTER.items():
        sizes = [n for found, library, n in seconds if found == method and library == OURS]
        # a fit that stops at coefficients and covariance does less than ours: it has a line of its own
        for kind in ("", "/bare"):
            others = {(n, library): own for (found, library, n), own in seconds.items()
                      if found == method and library != OURS and ("/bare" in library) == bool(kind) and n in sizes}
            if others:
                n = max(n for n, _ in others)
                library, own = min(((library, own) for (size, library), own in others.items() if size == n), key=lambda pair: pair[1])
                ratio = own / seconds[method, OURS, n]
                yield method, n, f"{factor}x as fast as any library", f"{ratio:.1f}x {library}", ratio >= factor
    for method, (plain, factor) in DEARER.items():
        sizes = {n for found, library, n in seconds if found == method and library == OURS}
        sizes &= {n for found, library, n in seconds if found == plain and library == OURS}
        if sizes:
            n = max(sizes)
            ratio = seconds[method, OURS, n] / seconds[plain, OURS, n]
            yield method, n, f"at most {factor}x {plain}", f"{ratio:.2f}x", ratio <= factor
    for (method, library), slope in fitted.items():
        if library == OURS and slope is not None:
            yield method, max(n for n, _ in measured[method, library]), "grows as n log n", f"n to the {slope:.2f}", slope <= STEEPEST


def unlike(figure, ours):
    """How far a figure lies from ours, relative to ours."""
    if figure is None or ours is None:
        return "-"
    return f"{abs(figure - ours) / max(abs(ours), 1e-12):.0e}"


def main():
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--sizes", type=int, nargs="+", default=[10_000, 100_000, 1_000_000], metavar="N")
    parser.add_argument("--methods", nargs="+", metavar="METHOD", help="only these")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--limit", type=float, default=120, metavar="SECONDS", help="for one library on one table, reading included")
    parser.add_argument("--folder", type=Path, default=ROOT / "target" / "peers", help="where the tables are made")
    parser.add_argument("--timing", type=Path, help="the example `timing`, already built in release; otherwise cargo builds it")
    asked = parser.parse_args()
    asked.folder.mkdir(parents=True, exist_ok=True)

    timing = asked.timing
    if timing is None:
        build = ["cargo", "build", "--release", "--quiet", "-p", "survival", "--example", "timing", "--message-format", "json"]
        built = subprocess.run(build, cwd=ROOT, check=True, stdout=subprocess.PIPE, text=True).stdout.splitlines()
        found = [json.loads(line).get("executable") for line in built if '"executable":"' in line]
        timing = Path(found[-1])

    versions = {peer: version_of(*peer) for peer in PEERS}
    print(f"Python {sys.version.split()[0]}; {os.cpu_count()} cores, load {' '.join(f'{load:.1f}' for load in os.getloadavg())}")
    for (language, library), version in versions.items():
        print(f"{library} ({language}): {version or 'not installed, skipped'}")
    tools = {"R": ["Rscript", str(HERE / "peer.R")], "Python": [sys.executable, str(HERE / "peer.py")]}
    methods = list(dict.fromkeys(method for known in PEERS.values() for method in known))
    methods = [method for method in methods if not asked.methods or method in asked.methods]

    print(f"\n| {'method':<31} | {'n':>8} | {'library':<32} | {'seconds':>10} | {'ours is':>8} | {'unlike ours by':>14} |")
    print("|" + "-" * 33 + "|" + "-" * 10 + "|" + "-" * 34 + "|" + "-" * 12 + "|" + "-" * 10 + "|" + "-" * 16 + "|")
    measured, slow = {}, set()
    for n in sorted(asked.sizes):
        path = asked.folder / f"table-{n}.csv"
        only_curves = ["curves"] if CURVES.issuperset(methods) else []
        subprocess.run([str(timing), "make", str(path), str(n), str(asked.seed), *only_curves], check=True)
        runs = [(OURS, [str(timing), str(path)], methods)]
        for (language, library), known in PEERS.items():
            if version := versions[language, library]:
                name = f"{library} {version} ({language})"
                runs.append((name, tools[language] + [str(path), library], [m for m in known if m in methods]))
        found = {}
        for library, command, known in runs:
            # what was too slow or failed on a smaller table is not tried on a larger one
            tried = [method for method in known if (library, method) not in slow]
            lines, missing = timed(command + [",".join(tried)], asked.limit) if tried else ({}, "")
            for method in known:
                found[method, library] = lines.get(method, missing if method in tried else "not tried")
            # a process that is stopped has not come to what follows
            slow.update((library, method) for method in tried if method not in lines)
        for method in methods:
            ours = found.get((method, OURS))
            ours = None if isinstance(ours, str) else ours
            for library, _, known in runs:
                if method not in known:
                    continue
                own = found[method, library]
                if isinstance(own, str):
                    print(f"| {method:<31} | {n:>8} | {library:<32} | {own:>10} | {'-':>8} | {'-':>14} |", flush=True)
                    continue
                measured.setdefault((method, library), []).append((n, own["seconds"]))
                ratio = "-" if ours is None or library == OURS else f"{own['seconds'] / ours['seconds']:.1f}x"
                far = "-" if ours is None or library == OURS else unlike(own["figure"], ours["figure"])
                print(f"| {method:<31} | {n:>8} | {library:<32} | {own['seconds']:>10.5f} | {ratio:>8} | {far:>14} |", flush=True)

    fitted = {key: exponent(points) for key, points in measured.items()}
    if any(slope is not None for slope in fitted.values()):
        print(f"\n| {'method':<31} | {'library':<32} | seconds grow as n to the |\n|" + "-" * 33 + "|" + "-" * 34 + "|" + "-" * 26 + "|")
        for (method, library), slope in fitted.items():
            if slope is not None:
                print(f"| {method:<31} | {library:<32} | {slope:>24.2f} |")
    print(f"\n| {'method':<31} | {'n':>8} | {'aim':<32} | {'found':<42} | {'met':<4} |")
    print("|" + "-" * 33 + "|" + "-" * 10 + "|" + "-" * 34 + "|" + "-" * 44 + "|" + "-" * 6 + "|")
    for method, n, aim, found, is_met in verdicts(measured, fitted):
        print(f"| {method:<31} | {n:>8} | {aim:<32} | {found:<42} | {'yes' if is_met else 'no':<4} |")


if __name__ == "__main__":
    main()
