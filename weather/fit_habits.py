#!/usr/bin/env python3
"""Fit what the world table does not hold (persistence, air temperature's swing, spread, link to the sun, record lows)
to the open records by rules in what it does hold, and judge them on sites left out.

    pip install numpy scipy
    TIDEOVER_RECORDS=... python3 fit_habits.py

Prints the constants for src/weather/world/habits.rs and the errors for README.md. Left out: Mumbai altogether (its
record is of 1-degree cells, which makes neighbouring days too much alike), Miami's air (its cell is sea) and La
Estanzuela's (its air shows no link to its sun, and night frosts in midsummer: the days seem to be mixed up).
"""

from datetime import timedelta

import numpy as np
from scipy.stats import norm, rankdata

from fit_cold import design_c, land_share
from fit_correction import NEIGHBOURS, cautious, correct, months
from records import FOLDER, SITES, read
from world_bin import World, land_mask, mean_below

NO_SUN, NO_AIR = {"mumbai-in"}, {"mumbai-in", "miami-fl", "la-estanzuela-uy"}


def scores(values):
    """Normal scores, NaN kept."""
    out, known = np.full(len(values), np.nan), np.isfinite(values)
    out[known] = norm.ppf((rankdata(values[known]) - 0.5) / known.sum())
    return out


def correlation(a, b):
    known = np.isfinite(a) & np.isfinite(b)
    return (np.corrcoef(a[known], b[known])[0, 1], known.sum()) if 18 < known.sum() else (np.nan, 0)


def measured(days, month):
    """The month's figures of one record."""
    days = [d for d in days if d.month == month]
    following = np.array([k for k in range(len(days) - 1) if days[k + 1].date - days[k].date == timedelta(days=1)], int)
    if len(following) < 20:
        return None
    sun = np.array([d.clearness for d in days])
    air = np.array([d.mean_c for d in days])
    z = scores(sun) if 20 < np.isfinite(sun).sum() else np.full(len(days), np.nan)
    out = {}
    out["persistence"], out["pairs"] = correlation(z[following], z[following + 1])
    if 20 < np.isfinite(air).sum():
        out["swing"] = np.nanmean([d.max_c - d.min_c for d in days])
        out["spread"] = np.nanstd(air)
        out["air_persistence"], _ = correlation(air[following], air[following + 1])
        out["link"], _ = correlation(z, scores(air))
        out["mean_c"] = np.nanmean(air)
        out["low_c"] = np.nanmin([d.min_c for d in days])
        out["years"] = len({d.date.year for d in days if np.isfinite(d.mean_c)})
    return out


def rows():
    """Measured figures of all site-months with what the table says there."""
    world, constants, found = World(), cautious(months())[0], []
    for site in SITES:
        site.days.clear()
    for name in dict.fromkeys(site.name for site in SITES if site.fitted):
        parts = [read(site) for site in SITES if site.name == name]
        place = parts[0].latitude_deg, parts[0].longitude_deg
        air = world.air_c(*place)
        for month in range(12):
            out = measured([d for site in parts for d in site.days], month)
            if out is None:
                continue
            k = mean_below(correct(constants, world.clearness(*place)[month], air[month]))
            found.append(out | dict(
                site=name, group=NEIGHBOURS.get(name, name), month=month, k=k, air=air[month],
                range=air.max() - air.min(), warmer=air[month] - air.mean(), latitude=abs(place[0])))
    return found


RULES = {
    "persistence": (["1", "T"], NO_SUN, lambda r: 1.0 / (0.08**2 + 1.0 / max(r["pairs"], 5))),
    "swing": (["1", "K", "T", "R"], NO_AIR, lambda r: 1.0 / (0.15 + 1.0 / r["years"])),
    "spread": (["1", "R", "W"], NO_AIR, lambda r: 1.0 / (0.15 + 1.0 / r["years"])),
    "air_persistence": (["1"], NO_AIR, lambda r: 1.0 / (0.15 + 1.0 / r["years"])),
    "link": (["1", "W", "L"], NO_AIR, lambda r: 1.0 / (0.15 + 1.0 / r["years"])),
}
TERMS = {
    "1": lambda r: 1.0,
    "K": lambda r: r["k"] - 0.5,                             # corrected mean clearness
    "T": lambda r: np.clip(r["air"], -12.0, 34.0) / 30.0,    # monthly mean air [C]
    "R": lambda r: min(r["range"], 36.0) / 20.0,             # warmest less coldest month [K]
    "W": lambda r: np.clip(r["warmer"], -18.0, 18.0) / 10.0,  # month less year [K]
    "L": lambda r: min(r["latitude"], 60.0) / 45.0,          # distance from the equator [deg]
}


def solve(rows, key):
    terms, _, weight = RULES[key]
    x = np.array([[TERMS[t](r) for t in terms] for r in rows])
    w = np.array([weight(r) for r in rows])
    return np.linalg.solve((x * w[:, None]).T @ x, (x * w[:, None]).T @ np.array([r[key] for r in rows]))


def value(constants, key, row):
    return float(np.dot(constants, [TERMS[t](row) for t in RULES[key][0]]))


def judge(all_rows, key):
    terms, without, weight = RULES[key]
    rows = [r for r in all_rows if r["site"] not in without and np.isfinite(r.get(key, np.nan))]
    y, w = np.array([r[key] for r in rows]), np.array([weight(r) for r in rows])
    left_out = {g: solve([r for r in rows if r["group"] != g], key) for g in {r["group"] for r in rows}}
    error = np.array([value(left_out[r["group"]], key, r) for r in rows]) - y
    w = w / w.sum()
    flat = np.sqrt((w * (y - (w * y).sum()) ** 2).sum())
    sites = [np.mean(error[[k for k, r in enumerate(rows) if r["site"] == s]]) for s in {r["site"] for r in rows}]
    print(f"{key}: {len(sites)} sites, {len(rows)} months; site left out: bias {(w * error).sum():+.3f}, rms "
          f"{np.sqrt((w * error**2).sum()):.3f} (one figure for all: {flat:.3f}), site means sd {np.std(sites):.3f}")
    constants = solve(rows, key)
    print(f"    {' '.join(terms)}: " + ", ".join(f"{c:.3f}" for c in constants))
    return constants


def record_lows(all_rows, constants):
    """How the rule for the design cold (fit_cold.py) stands to records of ten years and more."""
    world, mask, gaps, yearly = World(), land_mask(), [], {}
    for site in {site.name: site for site in SITES}.values():
        rows = sorted((r for r in all_rows if r["site"] == site.name and r["site"] not in NO_AIR and r.get("years", 0) >= 10),
                      key=lambda r: r["month"])
        if len(rows) < 12:
            continue
        at = site.latitude_deg, site.longitude_deg
        swing, spread = (np.array([value(constants[k], k, r) for r in rows]) for k in ("swing", "spread"))
        rule = design_c(world.air_c(*at), np.array([r["mean_c"] for r in rows]), swing, spread, land_share(mask, *at), *at)
        low = np.array([r["low_c"] for r in rows])
        gaps += [(gap, site.name, month + 1) for month, gap in enumerate(low - rule)]
        yearly[site.name] = low.min(), rule.min()
    gap = np.array([a for a, _, _ in gaps])
    print(f"record low: {len(gap)} months of records of 10 years and more: coldest less rule {gap.mean():+.1f} K, "
          f"{gap.min():+.1f} to {gap.max():+.1f}; colder than the rule in {(gap < 0).mean():.0%}: "
          + ", ".join(f"{s} {m}: {a:+.1f}" for a, s, m in gaps if a < 0))
    print("    whole year, record and rule: " + "; ".join(f"{s} {a:.0f} {b:.0f}" for s, (a, b) in yearly.items()))


def air_means(all_rows):
    """The table's monthly means against the records and against an independent reanalysis."""
    world = World()
    sites = {site.name: site for site in SITES}
    gaps = {}
    for r in all_rows:
        if "mean_c" in r and 2 < r["years"]:
            site = sites[r["site"]]
            here = world.air_c(site.latitude_deg, site.longitude_deg, site.height_m)[r["month"]]
            gaps.setdefault(r["site"], []).append(here - r["mean_c"])
    print("air mean, table less record: " + "; ".join(f"{s} {np.mean(g):+.1f} ({np.std(g):.1f})" for s, g in gaps.items()))
    lines = (FOLDER / "world_air_temperature.csv").read_text().splitlines()[1:]
    other = np.array([[float(x) for x in line.split(",")] for line in lines])
    gap, edge = [], []
    for lat, lon, *air in other:
        corners = world.corners(world.air, 1.0, lat, lon)
        if corners:
            gap.append(world.air_c(lat, lon) - air)
            edge.append(corners[0][0][0])
    gap, height = np.array(gap), np.array(edge)
    for label, part in (("all", height > -999.0), ("below 500 m", height < 500.0), ("above 1500 m", height > 1500.0)):
        g = gap[part]
        print(f"air mean, table less NCEP-NCAR reanalysis 1, {label}: {len(g)} cells: {g.mean():+.2f} K, sd {g.std():.2f}, "
              f"within 3 K {np.mean(np.abs(g) < 3.0):.0%}")


def main():
    all_rows = rows()
    constants = {key: judge(all_rows, key) for key in RULES}
    record_lows(all_rows, constants)
    air_means(all_rows)


if __name__ == "__main__":
    main()
