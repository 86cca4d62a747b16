"""Reference values for the checks of `prove`, by numpy, scipy and pvlib; run by hand, the printed values stand in the tests.

    pip install numpy scipy pvlib
    python tests/reference/prove_reference.py
"""

import numpy as np
import scipy
from scipy.optimize import least_squares

print("numpy", np.__version__, "scipy", scipy.__version__)

# --- 1. Three tests of one unit: the whole problem handed to a general solver -------------------------------------------
# Unknowns: U, eta_d, eta_c, d_ac, f_ac, g (one meter), d_dc, f_dc, eta_w, fall, and the steps at 120 and at 40 W. Same rows as src/study/prove/fit.rs, written anew.
Z = 1.959963984540054
RECT = 1 / np.sqrt(3.0)
REPEAT = 0.005
OWN = 3.0
q = 0.02 / 600.0
gain_sd = 0.01 * RECT

# outlet, watt-hours counted, hours, share, sd of share, sd of hours, sd of watt-hours by the counter
tests = [
    ("ac", 504.0, 4.20, 1.00, 0.0, np.sqrt(2) / 60 * RECT, 2.0 / Z),
    ("ac", 444.0, 11.10, 1.00, 0.0, np.sqrt(2) / 60 * RECT, 2.0 / Z),
    ("dc", 300.0, 6.00, 0.60, 0.05 / Z, np.sqrt(2) / 60 * RECT, 2.0 / Z),
    ("wall", 678.0, 4.10, 1.00, 0.0, np.sqrt(2) / 60 * RECT, 2.0 / Z),
]
prior = {1: (0.97, 0.02), 2: (0.97, 0.02), 3: (15.0, 12.0), 4: (1.07, 0.06), 5: (0.0, Z * gain_sd),
         6: (4.0, 3.0), 7: (1.075, 0.07), 8: (0.91, 0.05), 9: (0.04, 0.08)}

# A step of 4 +- 2 W (standard deviation) in four of five inverters, from somewhere between 5 and 35 % of 600 W on.
on = np.array([0.8 * np.clip((load / 600 - 0.05) / 0.3, 0, 1) for load in (120.0, 40.0)])
step_mean = 4.0 * on
square = 4.0**2 + 2.0**2
step_cov = np.array([[square * min(a, b) for b in on] for a in on]) - np.outer(step_mean, step_mean) + np.eye(2) * 0.2**2


def residuals(x, weights_at):
    rows = []
    for outlet, e, t, f, f_sd, t_sd, e_sd in tests:
        def parts(x):
            u, ed, ec, dac, fac, g, ddc, fdc, ew, fall, s120, s40 = x
            et = e * (1 - g)
            if outlet == "wall":
                return ed * ec * (ew * et - OWN * t) - f * u, ew * ed * ec, OWN
            factor, draw, quad = (fac, dac, q) if outlet == "ac" else (fdc, ddc, 0.0)
            step = 0.0 if outlet == "dc" else s120 if e / t > 80 else s40
            held = u * (1 - fall * (f / t - 0.2))
            return f * held - et * (factor + quad * et / t) - (draw + step) * t, factor + 2 * quad * e / t, draw
        _, per_wh, per_h = parts(weights_at)
        u = weights_at[0]
        sd = np.sqrt((u * f_sd) ** 2 + (u * f * REPEAT) ** 2 + (per_wh * e_sd) ** 2 + (per_h * t_sd) ** 2)
        rows.append(parts(x)[0] / sd)
    for k, (mean, half) in prior.items():
        rows.append((x[k] - mean) / (half / Z))
    white = np.linalg.solve(np.linalg.cholesky(step_cov), x[10:12] - step_mean)
    return np.array(rows + list(white))


x = np.array([600.0] + [prior[k][0] for k in range(1, 10)] + list(step_mean))
for _ in range(40):  # the weights follow the estimate
    weights_at = x.copy()
    scale = np.array([30.0] + [prior[k][1] / Z for k in range(1, 10)] + list(np.sqrt(np.diag(step_cov))))
    fit = least_squares(residuals, x, args=(weights_at,), x_scale=scale, method="lm", ftol=1e-15, xtol=1e-15, gtol=1e-15)
    x = fit.x
jac = np.array([(residuals(x + scale * 1e-4 * np.eye(12)[k], x) - residuals(x - scale * 1e-4 * np.eye(12)[k], x))
                / (2e-4 * scale[k]) for k in range(12)]).T
cov = np.linalg.inv(jac.T @ jac)
print("\nfit U, eta_d, eta_c, d_ac, f_ac, gain, d_dc, f_dc, eta_w, fall, step at 120 W, at 40 W")
for value, sd in zip(x, np.sqrt(np.diag(cov))):
    print(f"    ({value:.9}, {sd:.9}),")
print("correlation U with d_ac, f_ac:", cov[0, 3] / np.sqrt(cov[0, 0] * cov[3, 3]), cov[0, 4] / np.sqrt(cov[0, 0] * cov[4, 4]))

# --- 2. A line with three columns by numpy --------------------------------------------------------------------------------
a = np.array([[1, 0.2, 0.04], [1, 0.9, 0.81], [1, 1.7, 2.89], [1, 2.6, 6.76], [1, 3.1, 9.61], [1, 4.4, 19.36]])
b = np.array([2.1, 2.9, 4.4, 7.2, 9.3, 16.1])
values, ss, *_ = np.linalg.lstsq(a, b, rcond=None)
print("\nparabola", [f"{v:.12}" for v in values], "ss", ss[0])
print(np.array2string(np.linalg.inv(a.T @ a), precision=12))

# --- 3. NIST StRD Longley, from memory; certified values beside -----------------------------------------------------------
longley = np.array([
    [60323, 83.0, 234289, 2356, 1590, 107608, 1947], [61122, 88.5, 259426, 2325, 1456, 108632, 1948],
    [60171, 88.2, 258054, 3682, 1616, 109773, 1949], [61187, 89.5, 284599, 3351, 1650, 110929, 1950],
    [63221, 96.2, 328975, 2099, 3099, 112075, 1951], [63639, 98.1, 346999, 1932, 3594, 113270, 1952],
    [64989, 99.0, 365385, 1870, 3547, 115094, 1953], [63761, 100.0, 363112, 3578, 3350, 116219, 1954],
    [66019, 101.2, 397469, 2904, 3048, 117388, 1955], [67857, 104.6, 419180, 2822, 2857, 118734, 1956],
    [68169, 108.4, 442769, 2936, 2798, 120445, 1957], [66513, 110.8, 444546, 4681, 2637, 121950, 1958],
    [68655, 112.6, 482704, 3813, 2552, 123366, 1959], [69564, 114.2, 502601, 3931, 2514, 125368, 1960],
    [69331, 115.7, 518173, 4806, 2572, 127852, 1961], [70551, 116.9, 554894, 4007, 2827, 130081, 1962]])
from fractions import Fraction
rows = [[Fraction(1)] + [Fraction(str(v)) for v in r[1:]] for r in longley]
y = [Fraction(str(r[0])) for r in longley]
n = 7
normal = [[sum(r[i] * r[j] for r in rows) for j in range(n)] + [sum(r[i] * v for r, v in zip(rows, y))] for i in range(n)]
for i in range(n):  # exact elimination in fractions
    pivot = normal[i][i]
    normal[i] = [v / pivot for v in normal[i]]
    for k in range(n):
        if k != i:
            factor = normal[k][i]
            normal[k] = [p - factor * v for p, v in zip(normal[k], normal[i])]
print("\nLongley, exact fractions:", [float(row[n]) for row in normal])

# --- 4. GUM H.2 (JCGM 100:2008): resistance and reactance from voltage, current, phase ------------------------------------
V = np.array([5.007, 4.994, 5.005, 4.990, 4.999])
I = np.array([19.663, 19.639, 19.640, 19.685, 19.678]) * 1e-3
P = np.array([1.0456, 1.0438, 1.0468, 1.0428, 1.0433])
m = np.array([V.mean(), I.mean(), P.mean()])
c = np.cov(np.array([V, I, P])) / 5
v, i, p = m
jac = np.array([[np.cos(p) / i, -v * np.cos(p) / i**2, -v * np.sin(p) / i],
                [np.sin(p) / i, -v * np.sin(p) / i**2, v * np.cos(p) / i], [1 / i, -v / i**2, 0]])
out = jac @ c @ jac.T
sd = np.sqrt(np.diag(out))
print("\nH.2 R, X, Z:", v / i * np.cos(p), v / i * np.sin(p), v / i, "u:", sd,
      "r:", out[0, 1] / sd[0] / sd[1], out[0, 2] / sd[0] / sd[2], out[1, 2] / sd[1] / sd[2])
print("means", m, "u", np.sqrt(np.diag(c)))

# --- 5. A panel at four o'clock, by pvlib -----------------------------------------------------------------------------------
import pandas as pd
import pvlib

print("\npvlib", pvlib.__version__)


def panel(when, lat, lon, alt, turbidity, air, wind, tilt, facing, albedo, rated, gamma, arrives):
    t = pd.DatetimeIndex([when])
    sun = pvlib.solarposition.get_solarposition(t, lat, lon, altitude=0, pressure=101325, temperature=12)
    z, az, app = sun["zenith"].iloc[0], sun["azimuth"].iloc[0], sun["apparent_zenith"].iloc[0]
    doy = t.day_of_year[0]
    extra = 1361.0 * pvlib.irradiance.get_extra_radiation(doy, solar_constant=1.0, method="spencer")
    pressure = pvlib.atmosphere.alt2pres(alt)
    am = pvlib.atmosphere.get_absolute_airmass(pvlib.atmosphere.get_relative_airmass(app, "kastenyoung1989"), pressure)
    sky = pvlib.clearsky.ineichen(app, am, turbidity, altitude=alt, dni_extra=extra, perez_enhancement=False)
    tilt, facing = (z, az) if tilt is None else (tilt, facing)
    aoi = pvlib.irradiance.aoi(tilt, facing, z, az)
    parts = pvlib.irradiance.haydavies(tilt, facing, sky["dhi"], sky["dni"], extra, z, az, return_components=True)
    iam = pvlib.iam.physical(aoi, n=1.526, K=4.0, L=0.002)
    marion = pvlib.iam.marion_diffuse("physical", tilt, n=1.526, K=4.0, L=0.002)
    beam = sky["dni"] * max(0, np.cos(np.radians(aoi)))
    ground = pvlib.irradiance.get_ground_diffuse(tilt, sky["ghi"], albedo)
    poa = ((beam + parts["poa_circumsolar"]) * iam + parts["poa_isotropic"] * marion["sky"]
           + ground * (marion["ground"] if tilt > 0 else 0))
    cell = pvlib.temperature.faiman(poa, air, wind, 25.0, 6.84)
    watts = rated * poa / 1000 * (1 + gamma * (cell - 25)) * arrives
    return 90 - app, az, float(poa), float(cell), float(watts)


# 14 March 2027, 16:00 EDT = 20:00 UTC; fixed 45 degrees to the south, and aimed at the sun; the same at 13:00 EDT.
for when in ("2027-03-14T20:00Z", "2027-03-14T17:00Z"):
    for tilt, facing in ((45.0, 180.0), (None, None)):
        print(when, tilt, panel(when, 44.2, -72.6, 350.0, 3.0, 6.0, 1.5, tilt, facing, 0.2, 100.0, -0.004, 0.93))
