#!/usr/bin/env python3
"""Fit the correction of the world table's clearness to the open records, and judge it on sites left out.

    pip install numpy
    TIDEOVER_RECORDS=... python3 fit_correction.py [--left-out ../tests/data/world_left_out.csv]

Prints the constants for src/weather/world/correction.rs and the tables of README.md. Records of daily sums before
1990 and with fewer than five years since are left out: they are of other decades than the table's 2011-2015, and
mean sun has changed since (Wild et al. 2005, Science 308, 847). Typical years are judged but not fitted to: their
months are chosen for being ordinary, and have fewer dark days than real ones.
"""

import csv
import sys

import numpy as np

from build_world import LEVELS
from records import SITES, read
from world_bin import World, mean_below

WEIGHTS = np.gradient(LEVELS) / np.gradient(LEVELS).sum()
# Sites within 300 km of each other are left out together.
NEIGHBOURS = {"wageningen-nl": "netherlands", "de-bilt-nl": "netherlands", "vlissingen-nl": "netherlands",
              "de-kooy-nl": "netherlands", "denver-co": "colorado", "table-mountain-co": "colorado",
              "san-francisco-ca": "california", "sacramento-ca": "california", "reno-nv": "california",
              "phoenix-az": "arizona", "tucson-az": "arizona"}
AIR_RANGE_C = (-12.0, 34.0)     # of the records: no extrapolation beyond
MEAN_RANGE = (0.26, 0.77)
DARKEST = 0.02                  # no day is made darker than this (unless it was)


def correct(constants, quantiles, air_c):
    """The corrected quantiles of one month; `quantiles` as interpolated from the table."""
    mean = np.clip(mean_below(quantiles), *MEAN_RANGE)
    changed = features(quantiles, mean, np.clip(air_c, *AIR_RANGE_C)) @ constants
    return np.minimum(np.maximum.accumulate(np.maximum(changed, DARKEST)), quantiles)


def features(quantiles, mean, air_c):
    """What a quantile's correction is made of: itself, the month's mean clearness, the month's air."""
    x, one = quantiles - 0.5, np.ones_like(quantiles)
    return np.stack([one, x, x * x, one * (mean - 0.5), one * air_c / 30.0, one * max(air_c - 20.0, 0.0) / 30.0], -1)


def months():
    """All site-months with at least 20 days."""
    world, found = World(), []
    for name in dict.fromkeys(site.name for site in SITES if site.fitted):
        parts = [site for site in SITES if site.name == name]
        kinds = {site.kind for site in parts}
        if kinds != {"typical"}:
            parts = [site for site in parts if site.kind != "typical"]
        parts = [read(site) for site in parts]
        days = [d for site in parts for d in site.days if np.isfinite(d.clearness)]
        if "daily" in kinds:
            days = [d for d in days if 1990 <= d.date.year]
            if len({d.date.year for d in days}) < 5:
                continue
        site = parts[0]
        table = world.clearness(site.latitude_deg, site.longitude_deg)
        air = world.air_c(site.latitude_deg, site.longitude_deg)
        for month in range(12):
            k = np.sort([d.clearness for d in days if d.month == month])
            if len(k) < 20:
                continue
            years = len({d.date.year for d in days if d.month == month})
            found.append(dict(
                site=name, typical=kinds == {"typical"}, group=NEIGHBOURS.get(name, name), month=month, days=len(k), years=years,
                table=table[month], air_c=air[month], record=np.quantile(k, np.clip(LEVELS, 0.001, 0.999)),
                mean=k.mean(), dark=k[: max(1, round(len(k) / 10))].mean(), spread=k.std()))
    return found


def fit(rows):
    """Least squares over all levels; a month weighs less the fewer years it has (8 % scatter of a month's mean)."""
    gram, right = np.zeros((6, 6)), np.zeros(6)
    for row in (row for row in rows if not row["typical"]):
        x = features(row["table"], mean_below(row["table"]), row["air_c"])
        w = WEIGHTS / (0.06**2 + 0.08**2 / row["years"])
        gram += (x * w[:, None]).T @ x
        right += (x * w[:, None]).T @ row["record"]
    return np.linalg.solve(gram + 1e-5 * np.trace(gram) / 6.0 * np.diag([0, 0, 1, 1, 1, 1]), right)


def cautious(rows):
    """The constants, lowered by the standard error of their level: the scatter of the places' mean errors, each judged
    by constants fitted without it, over the square root of their number."""
    rows = [row for row in rows if not row["typical"]]
    error = {}
    for group in {row["group"] for row in rows}:
        without = fit([row for row in rows if row["group"] != group])
        of_group = [row for row in rows if row["group"] == group]
        error[group] = np.mean([mean_below(correct(without, r["table"], r["air_c"])) - r["mean"] for r in of_group])
    level = np.std(list(error.values()), ddof=1) / np.sqrt(len(error))
    return fit(rows) - level * np.eye(6)[0], level


def judge(label, rows, predicted):
    """Print bias and scatter; give the logarithms of predicted over measured monthly means."""
    ratio = np.array([mean_below(q) / row["mean"] for q, row in zip(predicted, rows)])
    dark = np.array([mean_below(q, 0.1) - row["dark"] for q, row in zip(predicted, rows)])
    names = [row["site"] for row in rows]
    by_site = {s: [k for k, n in enumerate(names) if n == s] for s in dict.fromkeys(names)}
    whole = np.array([row["years"] > 1 for row in rows])
    site_sd = np.std([ratio[k].mean() for k in by_site.values()])
    print(f"{label}: {len(by_site)} sites, {len(rows)} months: ratio {ratio.mean():.3f}, sd {ratio.std():.3f} "
          f"(site means {site_sd:.3f}); darkest tenth {dark.mean():+.3f}, sd {dark.std():.3f}; records of several years alone: "
          f"{whole.sum()} months: ratio {ratio[whole].mean():.3f}, sd {ratio[whole].std():.3f}, "
          f"darkest tenth {dark[whole].mean():+.3f}")
    return ratio, dark, by_site


def write_left_out(path, left_out, everything):
    """The constants for each record's place, fitted without it and its neighbours."""
    with open(path, "w", newline="") as file:
        out = csv.writer(file, lineterminator="\n")
        out.writerow(["site", "a", "b", "c", "d", "e", "f"])
        for name in dict.fromkeys(site.name for site in SITES):
            constants = left_out.get(NEIGHBOURS.get(name, name), everything)
            out.writerow([name, *(f"{c:.5f}" for c in constants)])


def main():
    rows = months()
    judge("raw", rows, [row["table"] for row in rows])
    judge("fitted, not yet cautious", rows, [correct(fit(rows), row["table"], row["air_c"]) for row in rows])
    constants, level = cautious(rows)
    judge(f"fitted and lowered by {level:.4f}", rows, [correct(constants, row["table"], row["air_c"]) for row in rows])
    left_out = {g: cautious([row for row in rows if row["group"] != g])[0] for g in {row["group"] for row in rows}}
    predicted = [correct(left_out[row["group"]], row["table"], row["air_c"]) for row in rows]
    ratio, dark, by_site = judge("site left out", rows, predicted)
    lone = np.array([row["site"] != "sand-point-ak" for row in rows])
    print(f"  without Sand Point, whose twelve months are of one year each: sd {ratio[lone].std():.3f}")
    logs = np.log(ratio)
    # Scatter of the record's own mean: days correlated by 0.3 count (1 + 0.3) / (1 - 0.3) less.
    scatter = np.array([(row["spread"] / row["mean"]) ** 2 * 1.86 / row["days"] for row in rows])
    print(f"  sd of the logarithm {logs.std():.3f}, of which the records' own scatter {np.sqrt(scatter.mean()):.3f}; "
          f"the table's {np.sqrt(max(logs.var() - scatter.mean(), 0.0)):.3f}")
    pairs = [(logs[a], logs[b]) for k in by_site.values() for a, b in zip(k, k[1:] + k[:1])]
    print(f"  correlation of neighbouring months {np.corrcoef(np.array(pairs).T)[0, 1]:.2f}")
    means = np.array([mean_below(q) for q in predicted])
    for low, high in ((0.0, 0.4), (0.4, 0.5), (0.5, 0.6), (0.6, 1.0)):
        band = (low <= means) & (means < high)
        own = np.sqrt(max(logs[band].var() - scatter[band].mean(), 0.0))
        print(f"  predicted {low} to {high}: {band.sum()} months, ratio {ratio[band].mean():.3f}, sd of the logarithm "
              f"{logs[band].std():.3f} (the table's own {own:.3f}), in clearness {(logs[band] * means[band]).std():.3f}")
    print("| site | years | raw ratio | corrected, site left out | darkest tenth |\n| --- | --- | --- | --- | --- |")
    for name, k in by_site.items():
        raw = np.mean([mean_below(rows[i]["table"]) / rows[i]["mean"] for i in k])
        print(f"| {name} | {rows[k[0]]['years']} | {raw:.2f} | {ratio[k].mean():.2f} ({ratio[k].min():.2f} to "
              f"{ratio[k].max():.2f}) | {dark[k].mean():+.3f} |")
    print("const FITTED: [f64; 6] = [" + ", ".join(f"{c:.5f}" for c in constants) + "];")
    if sys.argv[1:2] == ["--left-out"]:
        write_left_out(sys.argv[2], left_out, constants)


if __name__ == "__main__":
    main()
