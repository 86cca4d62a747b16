"""Station tables that the layer of monthly means is built from, and how they were gathered. pip install numpy.

* `stations_sunshine.csv.gz`: mean sunshine (hours over the length of the day) by month, 2003-2021, 2,179 stations outside
  the United States and Canada, and the years each month rests on. From the monthly CLIMAT reports.
  Source: Deutscher Wetterdienst, CC BY 4.0, changed (hours made fractions, means taken).
* `stations_clearness.csv.gz`: monthly mean clearness of 30 open records and of 133 stations of the US Solar Radiation Data
  Manual 1961-1990 (NREL, US public data; modelled from cloud observations, calibrated to measurements).

    TIDEOVER_RECORDS=... python3 stations.py FOLDER     # gathers both anew from the open data in FOLDER and the records
"""

import csv
import gzip
import io
import sys
from dataclasses import dataclass
from pathlib import Path

import numpy as np

SUNSHINE = Path(__file__).with_name("stations_sunshine.csv.gz")
CLEARNESS = Path(__file__).with_name("stations_clearness.csv.gz")
MONTHS = [f"{m:02d}" for m in range(1, 13)]


@dataclass
class Stations:
    """Stations as columns; `value` and `years` are station x month, NaN and 0 where a month is absent."""

    name: list
    kind: np.ndarray
    latitude_deg: np.ndarray
    longitude_deg: np.ndarray
    height_m: np.ndarray
    value: np.ndarray
    years: np.ndarray


def read(path):
    """The stations of one of the two tables."""
    rows = list(csv.DictReader(io.StringIO(gzip.decompress(Path(path).read_bytes()).decode())))
    column = lambda name: np.array([float(row[name] or "nan") for row in rows])
    table = lambda letter: np.stack([column(letter + m) for m in MONTHS], axis=1)
    return Stations([row["name"] for row in rows], np.array([row["kind"] for row in rows]), column("latitude_deg"),
                    column("longitude_deg"), column("height_m"), table("v"), np.nan_to_num(table("y")))


def write(path, rows):
    """Rows of name, kind, latitude, longitude, height, twelve values, twelve years; the same rows give the same file."""
    text = io.StringIO()
    out = csv.writer(text, lineterminator="\n")
    out.writerow(["name", "kind", "latitude_deg", "longitude_deg", "height_m", *("v" + m for m in MONTHS),
                  *("y" + m for m in MONTHS)])
    out.writerows(rows)
    Path(path).write_bytes(gzip.compress(text.getvalue().encode(), 9, mtime=0))


def by_station(path):
    """Rows of a long table (one month a row) by station."""
    found = {}
    with gzip.open(path, "rt") as file:
        for row in csv.DictReader(file):
            found.setdefault(row["id"], {})[int(row["month"])] = row
    return found


def sunshine_rows(folder):
    """Sunshine fractions of the CLIMAT reports."""
    for name, months in sorted(by_station(folder / "climat_sunshine_fraction.csv.gz").items()):
        one = next(iter(months.values()))
        get = lambda m, key: months[m][key] if m in months else ""
        yield [name, "climat", one["lat"], one["lon"], one["elev"],
               *(f"{float(get(m, 'sunshine_fraction')):.3f}" if m in months else "" for m in range(1, 13)),
               *(get(m, "years") for m in range(1, 13))]


def clearness_rows(folder):
    """Mean clearness: the shared records' days, and the stations of the US manual."""
    from records import SITES, read as read_site
    for name in dict.fromkeys(site.name for site in SITES if site.kind != "typical"):
        parts = [read_site(site) for site in SITES if site.name == name and site.kind != "typical"]
        site, values, years = parts[0], [], []
        for month in range(12):
            k = [d.clearness for part in parts for d in part.days if d.month == month and np.isfinite(d.clearness)]
            values.append(f"{np.mean(k):.4f}" if 20 <= len(k) else "")
            years.append(f"{len(k) / 30.4:.1f}" if 20 <= len(k) else "")
        kind = "satellite" if site.kind == "satellite" else "measured"
        yield [name, kind, site.latitude_deg, site.longitude_deg, site.height_m, *values, *years]
    for name, months in sorted(by_station(folder / "station_monthly.csv.gz").items()):
        if name.startswith("rb-"):
            one = months[1]
            yield [name[3:].lower(), "manual", one["lat"], one["lon"], one["elev"],
                   *(months[m]["clearness"] for m in range(1, 13)), *[30] * 12]


def main():
    folder = Path(sys.argv[1])
    write(SUNSHINE, sunshine_rows(folder))
    write(CLEARNESS, clearness_rows(folder))
    for path in (SUNSHINE, CLEARNESS):
        print(f"{path.name}: {len(read(path).name)} stations, {path.stat().st_size} bytes")


if __name__ == "__main__":
    main()
