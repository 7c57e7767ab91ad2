"""Figures of general-purpose statistics libraries that the progress mathematics is held against.

    python3 -m venv /tmp/reference
    /tmp/reference/bin/pip install numpy==2.4.6 scipy==1.17.1 statsmodels==0.15.0 pymannkendall==1.4.3
    /tmp/reference/bin/python tests/reference/progress.py            # writes progress.json anew
    /tmp/reference/bin/python tests/reference/progress.py --check    # compares it with a fresh run

The series are drawn from a fixed seed: with and without ties in values, with and without ties in days,
level and rising, few and many. The Rust test (crates/casefile/tests/casefile/reference.rs) reads the
written file and needs no Python.
"""

import json
import sys
from pathlib import Path

import numpy as np
import pymannkendall
from scipy import stats
from statsmodels.stats.multitest import multipletests

OUT = Path(__file__).with_suffix(".json")
SEED = 19_450_713


def trend(days, values):
    """One series with what the libraries make of it."""
    line = stats.theilslopes(values, days, 0.95)
    mann_kendall = pymannkendall.original_test(values)
    tied_days = len(set(days)) < len(days)
    tied_values = len(set(values)) < len(values)
    found = {
        "days": days,
        "values": values,
        "slope": float(line.slope),
        "intercept": float(line.intercept),
        "low": float(line.low_slope),
        "high": float(line.high_slope),
    }
    if not tied_days:
        # pymannkendall takes values in order and knows no days.
        found["s"] = float(mann_kendall.s)
        found["variance"] = float(mann_kendall.var_s)
        found["z"] = float(mann_kendall.z)
        found["p"] = float(mann_kendall.p)
    if not tied_days and not tied_values:
        exact = stats.kendalltau(days, values, method="exact")
        found["exactP"] = float(exact.pvalue)
    # Without continuity correction, ties on both sides allowed; undefined where all values are one.
    plain = stats.kendalltau(days, values, method="asymptotic")
    found["plainP"] = float(plain.pvalue) if np.isfinite(plain.pvalue) else None
    return found


def series(dice):
    """Some dozens of series."""
    for pages in [3, 4, 5, 6, 7, 8, 9, 10, 12, 15, 20, 30, 40, 80]:
        for rise in [0.0, 0.08]:
            for decimals in [6, 0]:
                for tied_days in [False, True]:
                    days = np.cumsum(dice.integers(1, 15, pages))
                    if tied_days:
                        days = days // 10
                    values = 3 + rise * np.arange(pages) + dice.normal(size=pages)
                    values = np.round(values, decimals)
                    if len(set(days.tolist())) > 1:
                        yield days.astype(float).tolist(), values.tolist()


def pairs(dice):
    """Values before and after, and the share of pairs that rise, by the U of Mann & Whitney."""
    for before, after in [(3, 5), (4, 8), (10, 11), (6, 7), (12, 20)]:
        for decimals in [4, 0]:
            a = np.round(dice.normal(size=before), decimals)
            b = np.round(dice.normal(0.7, size=after), decimals)
            u = stats.mannwhitneyu(b, a).statistic
            yield {
                "before": a.tolist(),
                "after": b.tolist(),
                "share": float(u) / (before * after),
            }


def corrections(dice):
    """Probabilities, and the same after Holm."""
    for count in [1, 2, 5, 17, 51]:
        chances = np.round(dice.uniform(size=count) ** 3, 6)
        adjusted = multipletests(chances, method="holm")[1]
        yield {"given": chances.tolist(), "adjusted": adjusted.tolist()}


def everything():
    dice = np.random.default_rng(SEED)
    return {
        "trends": [trend(days, values) for days, values in series(dice)],
        "pairs": list(pairs(dice)),
        "holm": list(corrections(dice)),
    }


def written():
    return json.dumps(everything(), indent=None, separators=(",", ":")).replace("},{", "},\n{") + "\n"


if __name__ == "__main__":
    if "--check" in sys.argv:
        if OUT.read_text() != written():
            sys.exit(f"{OUT} differs from a fresh run")
    else:
        OUT.write_text(written())
