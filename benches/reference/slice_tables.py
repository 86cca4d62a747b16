"""The slice of the model that is compared, as arrays: what does not depend on luck.

Rows are days; trials that start on day `s` of the month begin in row `FIRST + s`, the rows before it settle the link
between spells and air. The figures come from the compiled plan (`cargo bench --bench slice -- --tables`).
"""

import json
from types import SimpleNamespace

import numpy as np

# Columns of `day`.
(PHI, PHI_REST, W_SPELL, W_SLOW, W_OWN, TOTAL, BRIGHTEST, PER_CLOUDLESS, SPREAD, MEMORY, MEMORY_REST, AIR_MEAN, AIR_SD,
 SWING, PER_MEAN, AIR_B, AIR_REST, A_SPELL, A_SKY, A_OWN) = range(20)
# Columns of `hour`.
LIGHT, PROFILE, CEILING, RATIO, PER_OUTSIDE, DOME, GROUND, KEPT, MIDDLE, AIR_SHAPE = range(10)
# Columns of `bus`: bus power of the first one, two and three classes; then what each class asks for [W].
BUS, ASKED = 0, 3
# Plain figures.
(CAPACITY, CAPACITY_SD, CHARGE, CHARGE_SD, DISCHARGE, DISCHARGE_SD, START, START_SD, FLOOR, CEILING_SHARE, TAPER,
 CHARGE_RATE, TAPER_RATE, DISCHARGE_W, SELF_DISCHARGE, SUN_SD, RATED_W, STRING_V, VOLTS_MIN, SOLAR_W, SOLAR_EFFICIENCY,
 RISE, PER_K, ALLOWED) = range(24)
# Columns of what a trial comes to; energies in Wh.
MISSED, VITAL, SOLAR, CURTAILED, CLIPPED, LOWEST, IMBALANCE = range(7)
OUTCOMES = 7

NODES, NODES_PER_UNIT, EDGE = 97, 8.0, 6.0


def load(text):
    """Turns the exported JSON into arrays."""
    given = json.loads(text)
    days, arrays, battery = given["weather"], given["geometry"], given["battery"]
    # The course of the spells is a straight line where the climate is not from an hourly record: no exponential a day.
    assert all(abs(day["settled"]) < 1e-9 for day in days)
    # While anything is in the cells they can give all that is asked for.
    assert max(power for hour in given["demand"]["bus_w"] for power in hour) <= battery["discharge_w"]
    rest = lambda x: np.sqrt(1.0 - x * x)
    day, hour = np.empty((len(days), 20)), np.empty((len(days), 24, 10))
    for row, (d, a) in enumerate(zip(days, arrays)):
        light, ceiling = np.array(d["light_w_m2"]), np.array(d["ceiling"])
        day[row] = (
            d["spell_persistence"], rest(d["spell_persistence"]), *d["weights"], d["total_wh_m2"], light @ ceiling,
            1.0 / max(d["cloudless"], 0.1), 0.16 * d["hourly_spread"], d["hourly_persistence"],
            rest(d["hourly_persistence"]), d["air_mean_c"], d["air_sd_k"], d["air_swing_k"],
            1.0 / max(d["mean_clearness"], 0.05), d["air_persistence"], rest(d["air_persistence"]), *d["air_weights"])
        middle = (np.arange(24) + 0.5) / 24 - 0.5
        hour[row] = np.array([light, d["profile"], ceiling, a["beam_ratio"], a["per_extraterrestrial"], a["dome"],
                              a["ground"], a["kept"], middle, d["air_shape"]]).T
    plain = np.array([
        battery["capacity_wh"], battery["capacity_sd"], battery["charge_efficiency"], battery["charge_efficiency_sd"],
        battery["discharge_efficiency"], battery["discharge_efficiency_sd"], battery["start"], battery["start_sd"],
        battery["floor"], battery["ceiling"], battery["taper"], battery["charge_per_h"], battery["taper_from_per_h"],
        battery["discharge_w"], battery["self_discharge_per_h"], given["sun_uncertainty"], given["panel"]["rated_w"],
        given["panel"]["string_v"], given["panel"]["volts_min"], given["solar"]["limit_w"],
        given["solar"]["efficiency"], arrays[0]["rise_k_per_w_m2"], arrays[0]["power_per_k"], given["allow_unmet_wh"]])
    first, starts = given["first_day"], given["start_days"]
    # Correlation of spells and air on the day before: both ran from unrelated beginnings.
    link = np.zeros(starts)
    for s in range(starts):
        for d in day[first + s - 5:first + s]:
            link[s] = d[PHI] * d[AIR_B] * link[s] + d[PHI_REST] * d[AIR_REST] * d[A_SPELL]
    return SimpleNamespace(
        day=day, hour=hour, plain=plain, link=link, first=first, starts=starts, hours=given["hours"],
        # An outage that begins within a day reaches into one day more.
        days=-(-(23 + given["hours"]) // 24),
        clearness=np.array([d["clearness"] for d in days]), lit=np.array([d["lit"] for d in days]),
        bus=np.hstack([np.array(given["demand"]["bus_w"]), np.array(given["demand"]["watts"])]))
