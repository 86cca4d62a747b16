"""Read the open weather records that lie beside the project (`../shared/weather-data`, or TIDEOVER_RECORDS).

Days are counted by local mean solar time. A day counts when under 3 % of its extraterrestrial energy is unread
(unread hours are then bridged by the day's own clearness). pip install numpy.
"""

import csv
import gzip
import os
import sys
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from pathlib import Path

import numpy as np

from build_world import daily_h0_w_m2

FOLDER = Path(os.environ.get("TIDEOVER_RECORDS", Path(__file__).parents[1] / ".." / "shared" / "weather-data"))


@dataclass
class Site:
    """A place with its records: files, and what kind of figures they hold."""

    name: str
    latitude_deg: float
    longitude_deg: float
    height_m: float
    files: list
    kind: str  # "measured", "satellite", "typical" or "daily"
    fitted: bool = True  # whether the correction and the rules may be fitted to it, or it only judges
    days: list = field(default_factory=list)


SITES = [
    Site("bondville-il", 40.05, -88.37, 213, ["bondville-il-typical"], "typical"),
    Site("greensboro-nc", 36.10, -79.95, 273, ["greensboro-nc-typical"], "typical"),
    Site("penn-state-pa", 40.72, -77.93, 376, ["penn-state-pa-typical"], "typical"),
    Site("sand-point-ak", 55.317, -160.517, 7, ["sand-point-ak-typical"], "typical"),
    Site("sioux-falls-sd", 43.73, -96.62, 473, ["sioux-falls-sd-typical"], "typical"),
    Site("table-mountain-co", 40.125, -105.24, 1689, ["table-mountain-co-typical"], "typical"),
    Site("desert-rock-nv", 36.624, -116.019, 1007, ["desert-rock-nv-2018-2023-2024"], "measured"),
    Site("fort-peck-mt", 48.308, -105.102, 634, ["fort-peck-mt-2018-2023-2024"], "measured"),
    Site("goodwin-creek-ms", 34.255, -89.873, 98, ["goodwin-creek-ms-2018-2023-2024"], "measured"),
    Site("desert-rock-nv", 36.624, -116.019, 1007, ["desert-rock-nv-typical"], "typical"),
    Site("fort-peck-mt", 48.308, -105.102, 634, ["fort-peck-mt-typical"], "typical"),
    Site("goodwin-creek-ms", 34.255, -89.873, 98, ["goodwin-creek-ms-typical"], "typical"),
    Site("de-bilt-nl", 52.10, 5.18, 2, ["de-bilt-nl-2004-2010", "de-bilt-nl-2011-2025"], "measured"),
    Site("lyngby-dk", 55.79064, 12.52505, 40, ["lyngby-2015-2018"], "measured"),
    Site("langtjern-no", 60.37, 9.73, 516, ["langtjern-no-2013-2018"], "measured"),
    Site("curitiba-br", -25.449, -49.231, 924, ["curitiba-br-2007-2025"], "measured"),
    Site("manaus-br", -3.103, -60.016, 61, ["manaus-br-2006-2019", "manaus-br-2020-2024"], "measured"),
    Site("irece-br", -11.329, -41.864, 768, ["irece-br-2020-2024"], "measured"),
    Site("phoenix-az", 33.49, -112.06, 343, ["phoenix-az-2008-2023"], "satellite"),
    Site("denver-co", 39.73, -104.98, 1607, ["denver-co-2008-2023"], "satellite"),
    Site("san-francisco-ca", 37.77, -122.42, 32, ["san-francisco-ca-2008-2023"], "satellite"),
    Site("miami-fl", 25.77, -80.18, 7, ["miami-fl-2008-2023"], "satellite"),
    Site("new-york-ny", 40.81, -73.94, 19, ["new-york-us-2017-2019"], "satellite"),
    Site("mumbai-in", 19.076, 72.878, 10, ["mumbai-in-2022-2025"], "satellite"),
    Site("wageningen-nl", 52.0, 5.7, 10, ["daily-wageningen-nl"], "daily"),
    Site("gainesville-fl", 29.63, -82.37, 50, ["daily-gainesville-fl"], "daily"),
    Site("la-estanzuela-uy", -34.3, -57.7, 70, ["daily-la-estanzuela-uy"], "daily"),
    Site("carrington-nd", 47.51, -99.13, 476, ["daily-carrington-nd"], "daily"),
    Site("lubbock-tx", 33.57, -101.86, 983, ["lubbock-hourly"], "satellite", fitted=False),
    Site("reno-nv", 39.53, -119.82, 1404, ["reno-hourly"], "satellite", fitted=False),
    Site("tucson-az", 32.25, -110.94, 741, ["tucson-hourly"], "satellite", fitted=False),
    Site("sacramento-ca", 38.65, -121.46, 12, ["sacramento-hourly"], "satellite", fitted=False),
    Site("vlissingen-nl", 51.442, 3.596, 8, ["vlissingen-hourly"], "measured", fitted=False),
    Site("de-kooy-nl", 52.928, 4.781, 1, ["de-kooy-hourly"], "measured", fitted=False),
    Site("sao-paulo-br", -23.496, -46.620, 786, ["sao-paulo-hourly"], "measured", fitted=False),
    Site("porto-alegre-br", -30.054, -51.175, 41, ["porto-alegre-hourly"], "measured", fitted=False),
    Site("cuiaba-br", -15.607, -56.061, 184, ["cuiaba-hourly"], "measured", fitted=False),
    Site("rio-branco-br", -9.959, -67.869, 163, ["rio-branco-hourly"], "measured", fitted=False),
    Site("rio-jacarepagua-br", -22.940, -43.403, 20, ["rio-jacarepagua-hourly"], "measured", fitted=False),
]


@dataclass
class Day:
    """One whole day: clearness, means and extremes of air temperature (NaN where unread)."""

    date: datetime
    clearness: float
    h0_wh_m2: float
    mean_c: float
    max_c: float
    min_c: float

    @property
    def month(self):
        return self.date.month - 1


def number(text):
    return float(text) if text.strip() else np.nan


def cos_zenith(latitude_deg, longitude_deg, times):
    """Cosine of the zenith distance at UTC times; Spencer 1971 for declination and equation of time."""
    day = np.array([t.timetuple().tm_yday for t in times])
    hour = np.array([t.hour + t.minute / 60.0 for t in times])
    g = 2.0 * np.pi * (day - 1 + (hour - 12.0) / 24.0) / 365.0
    eot = 229.18 * (0.000075 + 0.001868 * np.cos(g) - 0.032077 * np.sin(g) - 0.014615 * np.cos(2 * g)
                    - 0.040849 * np.sin(2 * g))
    dec = (0.006918 - 0.399912 * np.cos(g) + 0.070257 * np.sin(g) - 0.006758 * np.cos(2 * g)
           + 0.000907 * np.sin(2 * g) - 0.002697 * np.cos(3 * g) + 0.00148 * np.sin(3 * g))
    angle = np.radians(15.0 * (hour + longitude_deg / 15.0 + eot / 60.0 - 12.0))
    phi = np.radians(latitude_deg)
    return np.sin(phi) * np.sin(dec) + np.cos(phi) * np.cos(dec) * np.cos(angle)


def hourly_days(site, path):
    """The whole days of an hourly record."""
    times, ghi, temp = [], [], []
    with gzip.open(path, "rt") as file:
        for row in csv.DictReader(file):
            times.append(datetime.fromisoformat(row["time_utc"].rstrip("Z")).replace(tzinfo=None))
            ghi.append(number(row["ghi_w_m2"]))
            temp.append(number(row["temp_c"]))
    ghi, temp = np.array(ghi), np.array(temp)
    light = np.mean([np.maximum(cos_zenith(site.latitude_deg, site.longitude_deg, [t + timedelta(minutes=m)
                     for t in times]), 0.0) for m in (7.5, 22.5, 37.5, 52.5)], axis=0)
    local = [t + timedelta(minutes=30, hours=site.longitude_deg / 15.0) for t in times]
    by_day = {}
    for k, t in enumerate(local):
        by_day.setdefault(t.date(), []).append(k)
    days = []
    for date, hours in sorted(by_day.items(), key=lambda item: item[0]):
        k = np.array(hours)
        if len(k) != 24:
            continue
        read = np.isfinite(ghi[k])
        whole = light[k].sum()
        seen = light[k][read].sum()
        date = datetime(date.year, date.month, date.day)
        h0 = 24.0 * daily_h0_w_m2(site.latitude_deg, date.timetuple().tm_yday)
        good = whole > 0.0 and 0.97 * whole <= seen and 100.0 < h0
        clearness = ghi[k][read].sum() / (h0 * seen / whole) if good else np.nan
        t = temp[k]
        some = np.isfinite(t).all()
        days.append(Day(date, clearness, h0, t.mean() if some else np.nan, t.max() if some else np.nan,
                        t.min() if some else np.nan))
    return days


def daily_days(site, path):
    """The days of a daily record; clearness above 0.9 is a reading error and left out."""
    days = []
    with gzip.open(path, "rt") as file:
        for row in csv.DictReader(file):
            date = datetime.fromisoformat(row["date"])
            h0 = 24.0 * daily_h0_w_m2(site.latitude_deg, date.timetuple().tm_yday)
            k = number(row["ghi_kwh_m2_day"]) * 1000.0 / h0
            hot, cold = number(row["temp_max_c"]), number(row["temp_min_c"])
            days.append(Day(date, k if 0.0 < k <= 0.9 else np.nan, h0, 0.5 * (hot + cold), hot, cold))
    return days


def read(site):
    """Fill a site's days."""
    for name in site.files:
        path = FOLDER / f"{name}.csv.gz"
        site.days += daily_days(site, path) if site.kind == "daily" else hourly_days(site, path)
    return site


def main():
    """Print monthly means of the public-domain typical years as CSV (NREL TMY3 and NSRDB), for the tests."""
    out = csv.writer(sys.stdout, lineterminator="\n")
    out.writerow(["site", "latitude_deg", "longitude_deg", "height_m", "month", "ghi_kwh_m2_day", "clearness",
                  "darkest_tenth", "air_c"])
    for site in SITES:
        if site.kind != "typical":
            continue
        read(site)
        for month in range(12):
            days = [d for d in site.days if d.month == month and np.isfinite(d.clearness)]
            k = np.array([d.clearness for d in days])
            sun = np.mean([d.clearness * d.h0_wh_m2 for d in days]) / 1000.0
            dark = np.sort(k)[: max(1, round(len(k) / 10))].mean()
            out.writerow([site.name, site.latitude_deg, site.longitude_deg, site.height_m, month + 1, f"{sun:.3f}",
                          f"{k.mean():.4f}", f"{dark:.4f}", f"{np.nanmean([d.mean_c for d in days]):.2f}"])


if __name__ == "__main__":
    main()
