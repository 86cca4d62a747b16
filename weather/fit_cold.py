#!/usr/bin/env python3
"""Fit the design cold, the coldest air to reckon with at a place, to the coldest ever measured in or beside towns
(../tests/data/coldest_measured.csv) by what world.bin holds, and judge it on towns and regions left out.

    pip install numpy
    python3 fit_cold.py

Prints the constants for src/weather/world/cold.rs and the figures of README.md.
"""

import csv
from pathlib import Path

import numpy as np

from world_bin import World, land_mask

TOWNS = Path(__file__).parents[1] / "tests" / "data" / "coldest_measured.csv"
NEAR_KM = 300.0             # land within this distance counts
MARGIN_K = 3.0              # for caution: below the middle of the fit
SPREADS, LEAST_GAP_K = 3.0, 5.0
CONSTANTS = [-9.86, 1.081, -0.612, -11.12, 0.411, -0.647, -5.64, 3.15]  # as built in
SCATTERED = {"Lima"}        # its air is read 9 K too warm from the heights behind it: judged, not fitted to


def ramp(value, none, whole):
    return float(np.clip((value - none) / (whole - none), 0.0, 1.0))


def land_share(mask, latitude_deg, longitude_deg):
    """Share of land in the boxes of 0.25 degrees within NEAR_KM, by area."""
    rows = np.arange(721) / 4.0 - 90.0
    near = np.abs(rows - latitude_deg) * 111.2 <= NEAR_KM + 20.0
    lat, lon = np.radians(np.meshgrid(rows[near], np.arange(1440) / 4.0 - 180.0, indexing="ij"))
    here, east = np.radians(latitude_deg), np.radians(longitude_deg)
    cosine = np.sin(lat) * np.sin(here) + np.cos(lat) * np.cos(here) * np.cos(lon - east)
    weight = np.cos(lat) * (6371.0 * np.arccos(np.clip(cosine, -1.0, 1.0)) <= NEAR_KM)
    return (weight * mask[near]).sum() / weight.sum()


def terms(around_c, here_c, share, latitude_deg, longitude_deg):
    coldest, span = here_c.min(), min(np.ptp(around_c), 36.0)
    open_north = ramp(longitude_deg, -120, -112) * ramp(-longitude_deg, 50, 60) * ramp(latitude_deg, 20, 25)
    tropics = 1.0 - ramp(abs(latitude_deg), 5, 25)
    return [1.0, min(coldest, 25.0), min(coldest + 10.0, 0.0), share, span, span * abs(latitude_deg) / 45.0, open_north,
            tropics]


def design_c(around_c, here_c, swing_k, spread_k, share, latitude_deg, longitude_deg):
    """Twelve months of the rule as it is built in."""
    coldest = int(np.argmin(here_c))
    middle = np.dot(CONSTANTS, terms(around_c, here_c, share, latitude_deg, longitude_deg))
    shape = 0.5 * swing_k + SPREADS * spread_k
    gap = max(here_c[coldest] - middle + MARGIN_K, LEAST_GAP_K) * shape / shape[coldest]
    return here_c - np.maximum(gap, LEAST_GAP_K)


def region(latitude_deg, longitude_deg):
    """Coarse regions that are left out together."""
    west, middle = longitude_deg < -30.0, longitude_deg < 60.0
    if latitude_deg < 0.0:
        return "south " + ("America" if west else "Africa" if middle else "Australia")
    if west:
        return "America " + ("above 38 N" if 38.0 < latitude_deg else "to 38 N")
    if latitude_deg < 15.0:
        return "tropics"
    if middle:
        return ("Europe, 46 N and more" if 46.0 < latitude_deg else "around the Mediterranean")
    return "Asia " + ("above 40 N" if 40.0 < latitude_deg else "to 40 N")


def main():
    world, mask = World(), land_mask()
    with TOWNS.open(encoding="utf-8") as file:
        towns = list(csv.DictReader(file, delimiter=";"))
    x, y, where = [], [], []
    for town in towns:
        at = float(town["latitude"]), float(town["longitude"])
        height = float(town["height_m"]) if town["height_m"] else None
        x.append(terms(world.air_c(*at), world.air_c(*at, height), land_share(mask, *at), *at))
        y.append(float(town["coldest_c"]))
        where.append(region(*at))
    x, y, where = np.array(x), np.array(y), np.array(where)
    fitted = np.array([town["place"].split(",")[0] not in SCATTERED for town in towns])
    solve = lambda keep: np.linalg.lstsq(x[keep], y[keep], rcond=None)[0]
    constants = solve(fitted)
    print("1, coldest month, below -10, land, range, range x latitude, America, tropics: " + ", ".join(f"{c:.3f}" for c in constants))
    alone = np.array([x[k] @ solve(fitted & (np.arange(len(y)) != k)) - y[k] for k in range(len(y))])[fitted]
    apart = np.concatenate([x[where == r] @ solve(fitted & (where != r)) - y[where == r] for r in sorted(set(where))])
    print(f"root mean square: town left out {np.sqrt((alone**2).mean()):.2f} K, region left out {np.sqrt((apart**2).mean()):.2f} K")
    gaps = x @ constants - MARGIN_K - y
    print(f"{len(y)} towns, margin taken: more than 2 K warmer than ever measured at {(2.0 < gaps).sum()}, by {gaps.max():.1f} K at "
          f"most; more than 8 K colder at {(gaps < -8.0).sum()}, by {-gaps.min():.1f} K at most")
    for town, gap in zip(towns, gaps):
        print(f"    {town['place']:32} {gap:+5.1f}")


if __name__ == "__main__":
    main()
