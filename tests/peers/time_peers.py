"""Times the estimators of the crate `survival` beside general-purpose libraries of R and Python, on the same tables in one run.

    python3 tests/peers/time_peers.py --sizes 10000 100000 1000000

See README.md beside this file. Libraries that are not installed are skipped and said so; nothing is installed.
"""

import argparse
import importlib.metadata
import json
import math
import random
import shutil
import subprocess
import sys
from pathlib import Path

HERE = Path(__file__).resolve().parent
ROOT = HERE.parent.parent
OURS = "ours"

# library -> language and methods, the slow ones last since a limit ends a process; the scripts beside this file say how each is called
PEERS = {
    "survival": ("R", ["kaplan-meier", "nelson-aalen", "log-rank", "cumulative-incidence", "cox", "cox-with-delayed-entry",
                       "concordance", "proportional-hazards-test", "interval-regression", "kaplan-meier-by-cluster",
                       "cumulative-incidence-by-cluster", "cox-by-cluster", "bootstrap-of-a-median", "npmle", "fine-gray"]),
    "stats": ("R", ["logistic"]),
    "cmprsk": ("R", ["cumulative-incidence", "gray", "fine-gray"]),
    "lifelines": ("Python", ["kaplan-meier", "nelson-aalen", "log-rank", "cox", "interval-regression", "cox-with-delayed-entry",
                             "cox-by-cluster", "cumulative-incidence"]),
    "scikit-survival": ("Python", ["kaplan-meier", "nelson-aalen", "log-rank", "cumulative-incidence", "cox"]),
    "statsmodels": ("Python", ["kaplan-meier", "log-rank", "cumulative-incidence", "cox", "cox-with-delayed-entry", "logistic"]),
}


def make_table(path, n, seed):
    """Two causes, clusters of three with a shared frailty, four covariates, whole days, visits every one to eight weeks."""
    draw = random.Random(seed * 1_000_003 + n)
    frailty = 1.0
    with open(path, "w") as file:
        file.write("entry,exit,cause,group,cluster,lower,upper,x1,x2,x3,x4\n")
        for row in range(n):
            if row % 3 == 0:
                frailty = draw.gammavariate(2, 0.5)
            group = int(draw.random() < 0.5)
            x = [draw.gauss(0, 1), float(draw.random() < 0.4), draw.random(), draw.gauss(0, 1)]
            risk = math.exp(0.5 * x[0] - 0.3 * x[1] + 0.1 * group) * frailty
            event, other = draw.expovariate(risk / 200), draw.expovariate(1 / 600)
            censored = draw.uniform(30, 720)
            end = min(event, other, censored)
            cause = 1 if end == event else 2 if end == other else 0
            exit_day = math.ceil(end)
            late = draw.random() < 0.3
            entry = math.floor(0.5 * exit_day * draw.random()) if late else 0
            lower, visit = 0, 0
            while visit < event and visit < censored:
                lower, visit = visit, visit + draw.randint(7, 56)
            upper = visit if visit >= event else ""
            lower = lower if upper != "" else visit
            cells = [entry, exit_day, cause, group, row // 3, lower, upper] + [f"{value:.4f}" for value in x]
            file.write(",".join(map(str, cells)) + "\n")


def version_of(library):
    """The version installed, or None."""
    language, _ = PEERS[library]
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

    versions = {library: version_of(library) for library in PEERS}
    for library, version in versions.items():
        print(f"{library} ({PEERS[library][0]}): {version or 'not installed, skipped'}")
    tools = {"R": ["Rscript", str(HERE / "peer.R")], "Python": [sys.executable, str(HERE / "peer.py")]}
    methods = list(dict.fromkeys(method for _, known in PEERS.values() for method in known))
    methods = [method for method in methods if not asked.methods or method in asked.methods]

    print(f"\n| {'method':<31} | {'n':>8} | {'library':<23} | {'seconds':>10} | {'ours is':>8} | {'unlike ours by':>14} |")
    print("|" + "-" * 33 + "|" + "-" * 10 + "|" + "-" * 25 + "|" + "-" * 12 + "|" + "-" * 10 + "|" + "-" * 16 + "|")
    measured, slow = {}, set()
    for n in sorted(asked.sizes):
        path = asked.folder / f"table-{n}.csv"
        make_table(path, n, asked.seed)
        runs = [(OURS, [str(timing), str(path)], methods)]
        for library, (language, known) in PEERS.items():
            if versions[library]:
                runs.append((library, tools[language] + [str(path), library], [m for m in known if m in methods]))
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
                name = library if library == OURS else f"{library} {versions[library]}"
                if isinstance(own, str):
                    print(f"| {method:<31} | {n:>8} | {name:<23} | {own:>10} | {'-':>8} | {'-':>14} |", flush=True)
                    continue
                measured.setdefault((method, name), []).append((n, own["seconds"]))
                ratio = "-" if ours is None or library == OURS else f"{own['seconds'] / ours['seconds']:.1f}x"
                far = "-" if ours is None or library == OURS else unlike(own["figure"], ours["figure"])
                print(f"| {method:<31} | {n:>8} | {name:<23} | {own['seconds']:>10.5f} | {ratio:>8} | {far:>14} |", flush=True)

    fitted = {key: exponent(points) for key, points in measured.items()}
    if any(slope is not None for slope in fitted.values()):
        print(f"\n| {'method':<31} | {'library':<23} | seconds grow as n to the |\n|" + "-" * 33 + "|" + "-" * 25 + "|" + "-" * 26 + "|")
        for (method, name), slope in fitted.items():
            if slope is not None:
                print(f"| {method:<31} | {name:<23} | {slope:>24.2f} |")


if __name__ == "__main__":
    main()
