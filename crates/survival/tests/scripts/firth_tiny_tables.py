"""Firth's penalised logistic fit on random tiny tables, through `limbledger estimate`, against a plain maximiser.

The maximiser knows nothing of the program: it walks downhill (Nelder and Mead, from three starts) on minus the penalised log
likelihood of Firth, Biometrika 1993;80:27-38, written out below. Tables have three to eight rows, one or two covariates,
separation complete and quasi, weights whole, fractional, tiny and 0.

    python3 crates/survival/tests/scripts/firth_tiny_tables.py PATH/TO/limbledger [TABLES [SEED]]

Needs numpy and scipy (tried with 2.4 and 1.17).
"""

import json
import pathlib
import subprocess
import sys
import tempfile

import numpy as np
from scipy.optimize import minimize


def table(draw):
    rows, terms = draw.integers(3, 9), draw.integers(1, 3)
    kind = draw.integers(0, 4)
    whole = draw.integers(0, 3, (rows, terms)).astype(float)
    mixed = np.where(draw.random((rows, terms)) < 0.5, whole % 2, np.round(2 * draw.normal(size=(rows, terms)), 2))
    x = mixed if kind < 2 else whole
    y = (x[:, 0] > np.median(x[:, 0])).astype(int) if kind == 3 else draw.integers(0, 2, rows)
    weights = [
        np.ones(rows),
        np.round(2 * draw.random(rows), 2),
        np.round(0.2 * draw.random(rows), 3),
        draw.choice([0, 0.25, 1, 3, 10.0], rows),
    ]
    return x, y, weights[draw.integers(0, 4)]


def penalised(beta, design, y, weight):
    eta = design @ beta
    chance = 1 / (1 + np.exp(-eta))
    information = (design * (weight * chance * (1 - chance))[:, None]).T @ design
    sign, log_determinant = np.linalg.slogdet(information)
    value = np.sum(weight * (y * eta - np.logaddexp(0, eta))) + 0.5 * log_determinant
    return value if sign > 0 and np.isfinite(value) else -1e10


def largest(design, y, weight, draw):
    starts = [np.zeros(design.shape[1])] + [2 * draw.normal(size=design.shape[1]) for _ in range(2)]
    settings = dict(xatol=1e-9, fatol=1e-13, maxiter=4000, maxfev=8000)
    found = [
        minimize(lambda beta: -penalised(beta, design, y, weight), start, method="Nelder-Mead", options=settings)
        for start in starts
    ]
    return min(found, key=lambda one: one.fun)


def ours(program, folder, x, y, weight):
    names = [f"x{place}" for place in range(x.shape[1])]
    lines = [",".join(["y", "w"] + names)]
    lines += [",".join(str(cell) for cell in [*row]) for row in zip(y, weight, *x.T)]
    file = folder / "table.csv"
    file.write_text("\n".join(lines) + "\n")
    call = [program, "estimate", "logistic", file, "--cause", "y", "--covariates", ",".join(names)]
    done = subprocess.run(call + ["--weight", "w", "--firth", "--json"], capture_output=True, text=True)
    return json.loads(done.stdout) if done.returncode == 0 else done.stderr.strip()


def main():
    program = sys.argv[1]
    n_tables = int(sys.argv[2]) if len(sys.argv) > 2 else 500
    draw = np.random.default_rng(int(sys.argv[3]) if len(sys.argv) > 3 else 1)
    n_done = n_unlike = 0
    furthest = 0.0
    with tempfile.TemporaryDirectory() as folder:
        while n_done < n_tables:
            x, y, weight = table(draw)
            counts = weight > 0
            design, outcome = np.c_[np.ones(counts.sum()), x[counts]], y[counts]
            if counts.sum() < 2 or outcome.min() == outcome.max() or np.linalg.matrix_rank(design) < design.shape[1]:
                continue
            n_done += 1
            best = largest(design, outcome, weight[counts], draw)
            answer = ours(program, pathlib.Path(folder), x, y, weight)
            if isinstance(answer, str):
                n_unlike += 1
                print(f"table {n_done}: {answer}\n{np.c_[y, weight, x]}")
                continue
            estimates = np.array([term["estimate"] for term in answer["model"]["terms"]], dtype=float)
            value = penalised(estimates, design, outcome, weight[counts])
            furthest = max(furthest, float(np.max(np.abs(estimates - best.x))))
            if not value >= -best.fun - 1e-8:
                n_unlike += 1
                print(f"table {n_done}: {value} of ours is less than {-best.fun}\n{np.c_[y, weight, x]}")
    print(f"{n_done} tables, {n_unlike} unlike; coefficients differ by {furthest:.1e} at most")
    sys.exit(n_unlike > 0)


main()
