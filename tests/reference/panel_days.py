#!/usr/bin/env python3
"""Days of a panel by a general-purpose reference library, minute by minute, for tests/data/panel_days.csv.

    pip install pvlib==0.16.1
    python3 panel_days.py > ../data/panel_days.csv

Every hour has the same clearness, so that the hourly global light is a share of the extraterrestrial. From there on all is
the library's: position of the sun (SPA), split (Erbs), plane of array (Hay & Davies), glass (physical, diffuse by Marion), cells
(Faiman, 1 m/s), power (linear in light and temperature).
"""

import numpy as np
import pandas as pd
import pvlib

LATITUDE, LONGITUDE = 44.2, -72.6
ALBEDO, WIND, SOLAR_CONSTANT = 0.2, 1.0, 1361.0
GLASS = dict(n=1.526, K=4.0, L=0.002)
DAYS = ["2027-01-15", "2027-03-21", "2027-06-21", "2027-10-15"]
PLANES = [(60.0, 180.0), (40.0, 220.0), (0.0, 180.0)]
SKIES = [(0.82, 25.0, -0.0040), (0.65, -10.0, -0.0040), (0.15, 5.0, -0.0030)]


def hours(date, clearness):
    """Minutes of a day with the sun's place, and the light of each on the level and outside."""
    times = pd.date_range(date, periods=1440, freq="1min", tz="Etc/GMT+5") + pd.Timedelta(seconds=30)
    sun = pvlib.solarposition.get_solarposition(times, LATITUDE, LONGITUDE, method="nrel_numpy")
    outside = np.asarray(pvlib.irradiance.get_extra_radiation(times, SOLAR_CONSTANT, method="nrel"))
    up = np.maximum(np.cos(np.radians(sun["zenith"].to_numpy())), 0.0)
    return sun, outside, up, clearness * outside * up


def energy(date, clearness, air_c, gamma, tilt, facing):
    """Watt-hours of a day for each rated watt."""
    sun, outside, up, ghi = hours(date, clearness)
    zenith, azimuth = sun["zenith"].to_numpy(), sun["azimuth"].to_numpy()
    dhi = erbs(clearness) * ghi
    dni = np.where(up > 0.0, (ghi - dhi) / np.maximum(up, 1e-9), 0.0)
    aoi = pvlib.irradiance.aoi(tilt, facing, zenith, azimuth)
    parts = pvlib.irradiance.haydavies(tilt, facing, dhi, dni, outside, zenith, azimuth, return_components=True)
    sky, around = np.asarray(parts["poa_isotropic"]), np.asarray(parts["poa_circumsolar"])
    beam = np.where(up > 0.0, dni * np.maximum(np.cos(np.radians(aoi)), 0.0), 0.0)
    ground = pvlib.irradiance.get_ground_diffuse(tilt, ghi, ALBEDO)
    modifier = pvlib.iam.physical(aoi, **GLASS)
    diffuse = pvlib.iam.marion_diffuse("physical", tilt, **GLASS)
    of_ground = 0.0 if tilt == 0.0 else float(diffuse["ground"])
    poa = (beam + around) * modifier + sky * float(diffuse["sky"]) + np.nan_to_num(ground * of_ground)
    poa = np.where(up > 0.0, np.nan_to_num(poa), 0.0)
    cell_c = pvlib.temperature.faiman(poa, air_c, WIND, u0=25.0, u1=6.84)
    watts = pvlib.pvsystem.pvwatts_dc(poa, cell_c, 1.0, gamma)
    return float(np.maximum(watts, 0.0).sum() / 60.0)


def erbs(clearness):
    """The library's diffuse share of an hour of this clearness: overhead sun, so that global light is told by clearness alone."""
    day = 94  # the sun at its mean distance
    outside = pvlib.irradiance.get_extra_radiation(day)
    return float(pvlib.irradiance.erbs(clearness * outside, 0.0, day)["dhi"] / (clearness * outside))


if __name__ == "__main__":
    print("date,clearness,air_c,gamma_per_k,tilt_deg,facing_deg,energy_wh_per_w," + ",".join(f"ghi_{h:02}" for h in range(24)))
    for date in DAYS:
        for clearness, air_c, gamma in SKIES:
            _, _, _, ghi = hours(date, clearness)
            light = ",".join(f"{x:.3f}" for x in ghi.reshape(24, 60).mean(axis=1))
            for tilt, facing in PLANES:
                wh = energy(date, clearness, air_c, gamma, tilt, facing)
                print(f"{date},{clearness},{air_c},{gamma},{tilt},{facing},{wh:.4f},{light}")
