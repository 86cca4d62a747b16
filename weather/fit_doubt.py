#!/usr/bin/env python3
"""Fit how days lie about a month's mean, and what the table leaves unknown of a climate, to the open records.

    pip install numpy scipy
    TIDEOVER_RECORDS=... python3 fit_doubt.py [--left-out ../tests/data/world_left_out_days.csv]

Prints the constants of src/weather/world/shape.rs and src/weather/doubt.rs. Every place is judged by means made without
it and all within 300 km (tests/data/world_left_out_means.csv, by build_means.py) and by a shape fitted without its group.
The model stands in README.md, "What is not known".
"""

import csv
import sys
from pathlib import Path

import numpy as np
from scipy.stats import norm

from build_world import LEVELS
from records import SITES, read
from world_bin import World

MEANS = Path(__file__).parents[1] / "tests" / "data" / "world_left_out_means.csv"
# Places that are left out together: within 300 km, or of one climate and one instrument's make.
GROUPS = {
    "netherlands": ["de-bilt-nl", "wageningen-nl", "vlissingen-nl", "de-kooy-nl"],
    "california": ["san-francisco-ca", "sacramento-ca", "reno-nv"],
    "arizona": ["phoenix-az", "tucson-az"],
    "southern-brazil": ["sao-paulo-br", "rio-jacarepagua-br", "curitiba-br"],
}
WEIGHTS = np.zeros(len(LEVELS))
WEIGHTS[:-1] += 0.5 * np.diff(LEVELS)
WEIGHTS[1:] += 0.5 * np.diff(LEVELS)
FEWEST_DAYS = 50                # of a month, over all years
DAYS_A_MONTH = 30.44
AIR_RANGE_C = (-12.0, 33.0)


def group(name):
    return next((label for label, names in GROUPS.items() if name in names), name)


def mean(quantiles):
    return quantiles @ WEIGHTS


def quantile_table(days):
    """As `quantile_table` of src/weather/fit.rs."""
    days = np.sort(days)
    n = len(days)
    table = np.interp(np.clip(LEVELS * n - 0.5, 0, n - 1), np.arange(n), days)

    def outer(values):
        taken = total = 0.0
        for value in values:
            part = min(0.01 * n - taken, 1.0)
            if part <= 0.0:
                break
            total, taken = total + part * value, taken + part
        return total / taken

    table[0] = np.clip(2.0 * outer(days) - table[1], days[0], table[1])
    table[-1] = np.clip(2.0 * outer(days[::-1]) - table[-2], table[-2], days[-1])
    return table


def dark_fifth(quantiles):
    """How far the darkest fifth of days lies below the mean."""
    return mean(quantiles) - np.interp(np.arange(0.005, 0.2, 0.01), LEVELS, quantiles).mean()


def features(row, level):
    x, air_c = level - 0.5, np.clip(row["air_c"], *AIR_RANGE_C)
    return np.array([1.0, x, x * x, air_c / 30.0, max(air_c - 20.0, 0.0) / 30.0, row["dark"] - 0.15])


def settled(quantiles, level):
    quantiles = np.maximum.accumulate(np.clip(quantiles, 0.012, 0.86))
    for _ in range(20):
        quantiles = np.clip(quantiles * (level / mean(quantiles)), 0.0, 0.86)
    return quantiles


def told(base, other):
    """Logarithm of the mean's ratio, s1 and s2: as `Bend::told_by` of src/weather/bend.rs."""
    level = mean(base)
    u = base - level
    sd = np.sqrt(mean(u * u))
    skew = mean((u / sd) ** 3)
    tail = (u / sd) ** 2 - 1.0 - skew * u / sd
    tail *= sd / np.sqrt(mean(tail * tail))
    ratio = mean(other) / level
    apart = other / ratio - base
    return np.array([np.log(ratio), mean(apart * u) / mean(u * u), mean(apart * tail) / mean(tail * tail)])


def months():
    """All months of all places with enough days."""
    left_out = {(row["place"], int(row["month"]) - 1): float(row["mean_left_out"]) for row in csv.DictReader(open(MEANS))}
    world, found = World(), []
    for site in (site for site in SITES if site.kind != "typical"):
        days = [day for day in read(site).days if np.isfinite(day.clearness)]
        raw, air = world.clearness(site.latitude_deg, site.longitude_deg), world.air_c(site.latitude_deg, site.longitude_deg)
        number = np.array([day.date.toordinal() for day in days])
        month, year = np.array([day.month for day in days]), np.array([day.date.year for day in days])
        clearness = np.array([day.clearness for day in days])
        score = np.zeros(len(days))
        for m in range(12):
            of = np.flatnonzero(month == m)
            score[of] = norm.ppf((np.argsort(np.argsort(clearness[of])) + 0.5) / max(len(of), 1))

        def figures(of, clearness=clearness, number=number, score=score):
            """Quantiles, and the inverse hyperbolic tangent of the persistence."""
            pairs = [k for k in of if k + 1 < len(number) and number[k + 1] == number[k] + 1]
            a, b = score[pairs], score[[k + 1 for k in pairs]]
            persistence = np.mean(a * b) / max(np.mean(a * a), 1e-9) if len(pairs) > 10 else np.nan
            return quantile_table(clearness[of]), np.arctanh(np.clip(persistence, -0.9, 0.9))

        for m in range(12):
            of = np.flatnonzero(month == m)
            if len(of) < FEWEST_DAYS:
                continue
            quantiles, persistence = figures(of)
            found.append(dict(
                site=site.name, file=site.files[0], group=group(site.name), latitude=site.latitude_deg, month=m,
                years=len(of) / DAYS_A_MONTH, quantiles=quantiles, persistence=persistence, air_c=air[m],
                dark=dark_fifth(raw[m]), predicted=left_out[site.name, m], of=of, year=year[of], figures=figures))
    return found


def weight(rows, half):
    """Months count by their years, and a group's months less the more of them there are."""
    count = {}
    for row in rows:
        count[row["group"]] = count.get(row["group"], 0) + 1
    return np.array([row["years"] / (row["years"] + half) / np.sqrt(max(count[row["group"]] / 12.0, 1.0)) for row in rows])


def shape(rows):
    """Least squares of every level on the features, the month's own mean among them."""
    w = weight(rows, 4.0)[:, None]
    x = np.array([features(row, mean(row["quantiles"])) for row in rows])
    y = np.array([row["quantiles"] for row in rows])
    return np.linalg.solve((x * w).T @ x + 1e-6 * np.eye(x.shape[1]), (x * w).T @ y)


def one_year(rows):
    """Covariance of a single year's month about the climate's, the mean's in units of the days' relative spread: jackknife over
    the years of places of ten years and more (Efron & Tibshirani 1993, An Introduction to the Bootstrap, chapter 11)."""
    found = []
    for row in rows:
        years = np.unique(row["year"])
        if len(years) < 10:
            continue
        without = []
        for year in years:
            quantiles, persistence = row["figures"](row["of"][row["year"] != year])
            without.append(np.append(told(row["base"], quantiles), persistence))
        off = np.array(without) - np.mean(without, axis=0)
        scale = np.array([row["relative"], 1.0, 1.0, 1.0])
        found.append((len(years) - 1) * off.T @ off / np.outer(scale, scale))
    return np.mean(found, axis=0)


def left_out_covariance(label, rows, chance):
    """Weighted second moment of the errors at places left out, less the records' own chance."""
    w = weight(rows, 2.0)
    errors = np.array([row["error"] for row in rows])
    total = sum(wi * (np.outer(e, e) - noise(row, chance)) for wi, e, row in zip(w, errors, rows)) / w.sum()
    print(f"{label}: {len(rows)} months, bias {np.round((w[:, None] * errors).sum(0) / w.sum(), 3)}, standard deviations "
          f"{np.round(np.sqrt(np.maximum(np.diag(total), 0.0)), 3)}")
    print("    lower triangle", np.round(np.linalg.cholesky(total), 3).tolist())


def noise(row, chance):
    scale = np.array([row["relative"], 1.0, 1.0, 1.0]) / np.sqrt(row["years"])
    return chance * np.outer(scale, scale)


def seasons(rows, chance):
    """How the errors of months hang together, by the months between."""
    for k, name in enumerate(("mean", "spread", "dark tail", "persistence")):
        product, count = np.zeros(7), np.zeros(7)
        for site in {row["site"] for row in rows}:
            of = [row for row in rows if row["site"] == site]
            for a in of:
                for b in of:
                    lag = min((a["month"] - b["month"]) % 12, (b["month"] - a["month"]) % 12)
                    w = a["years"] / (a["years"] + 2.0)
                    own = noise(a, chance)[k, k] if lag == 0 else 0.0
                    product[lag] += w * (a["error"][k] * b["error"][k] - own)
                    count[lag] += w
        print(f"    {name}: correlation over 0 to 6 months {np.round(product / count / (product[0] / count[0]), 2)}")


def main():
    rows = months()
    for label in {row["group"] for row in rows}:
        fitted = shape([row for row in rows if row["group"] != label])
        for row in (row for row in rows if row["group"] == label):
            row["base"] = settled(features(row, row["predicted"]) @ fitted, row["predicted"])
            row["true_mean"] = settled(features(row, mean(row["quantiles"])) @ fitted, mean(row["quantiles"]))
    for row in rows:
        own = row["quantiles"] - mean(row["quantiles"])
        row["relative"] = np.sqrt(mean(own * own)) / mean(row["quantiles"])
        rule = np.arctanh(0.277 + 0.131 * np.clip(row["air_c"], -12.0, 34.0) / 30.0)  # src/weather/world/habits.rs
        row["error"] = np.append(told(row["base"], row["quantiles"]), row["persistence"] - rule)
    print("const FITTED (shape.rs), fitted to all:")
    for levels in shape(rows):
        print("    [" + ", ".join(f"{x:.4f}" for x in levels) + "],")
    w = weight(rows, 2.0)
    dark = np.array([np.interp(0.3, row["true_mean"], LEVELS) - np.interp(0.3, row["quantiles"], LEVELS) for row in rows])
    low = np.array([mean(row["quantiles"]) < 0.4 for row in rows])
    print(f"share of days below 0.3, true means given, place left out: off by {np.sqrt((w * dark**2).sum() / w.sum()):.3f} "
          f"(root mean square), bias {(w * dark).sum() / w.sum():+.3f}, in months below 0.4 "
          f"{(w * dark)[low].sum() / w[low].sum():+.3f}")
    chance = one_year(rows)
    print("one year: standard deviations", np.round(np.sqrt(np.diag(chance)), 3))
    print("    lower triangle", np.round(np.linalg.cholesky(chance), 3).tolist())
    whole = [row for row in rows if np.isfinite(row["error"]).all()]
    outside = [row for row in whole if 23.5 < abs(row["latitude"])]
    left_out_covariance("outside the tropics", outside, chance)
    seasons(outside, chance)
    left_out_covariance("in the tropics", [row for row in whole if abs(row["latitude"]) <= 23.5], chance)
    if sys.argv[1:2] == ["--left-out"]:
        with open(sys.argv[2], "w", newline="") as file:
            out = csv.writer(file, lineterminator="\n")
            out.writerow(["record", "month", *(f"k{1000 * level:04.0f}" for level in LEVELS)])
            for row in rows:
                out.writerow([row["file"], row["month"] + 1, *(f"{x:.4f}" for x in row["base"])])


if __name__ == "__main__":
    main()
