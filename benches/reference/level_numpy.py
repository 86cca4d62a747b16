"""Level 1: NumPy across trials, a loop over hours. Double precision throughout."""

from concurrent.futures import ThreadPoolExecutor

import numpy as np

import short
from slice_tables import *

grow, ahead, settle = short.build()


def clip(x, low, high):
    return np.minimum(np.maximum(x, low), high)


class State:
    """Latent weather of the trials: spells, slow part, air temperature."""

    def __init__(self, t, rng, s, n):
        self.t, self.rng = t, rng
        a, self.slow, c = rng.standard_normal((3, n))
        self.spell = a
        self.air = t.link[s] * a + np.sqrt(1.0 - t.link[s] ** 2) * c

    def step(self, row):
        """Steps to a day; returns its clearness."""
        d = self.t.day[row]
        fresh, own, luck = self.rng.standard_normal((3, len(self.slow)))
        self.spell = d[PHI] * self.spell + d[PHI_REST] * fresh
        self.air = d[AIR_B] * self.air + d[AIR_REST] * (d[A_SPELL] * fresh + d[A_SKY] * own + d[A_OWN] * luck)
        z = d[W_SPELL] * self.spell + d[W_SLOW] * self.slow + d[W_OWN] * own
        x = (clip(z, -EDGE, EDGE) + EDGE) * NODES_PER_UNIT
        k = np.minimum(x.astype(np.int64), NODES - 2)
        table = self.t.clearness[row]
        return table[k] + (x - k) * (table[k + 1] - table[k])


def bent(wanted, factor):
    """A day in a climate with another level of sun: no darker and no brighter than days are, unless it was."""
    return np.minimum(np.maximum(wanted * factor, np.minimum(wanted, 0.012)), np.maximum(wanted, 0.86))


def hours_of(t, rng, row, wanted):
    """Clearness of a day's hours with light, and of the day."""
    d, (begin, end) = t.day[row], t.lit[row]
    spread = d[SPREAD] * np.sin(np.pi * clip(wanted * d[PER_CLOUDLESS], 0.0, 0.97))
    disturbance, memory, rest, total = 0.0, 0.0, 1.0, 0.0
    hours = {}
    for h in range(begin, end):
        light, profile, ceiling = t.hour[row, h, :3]
        disturbance = memory * disturbance + rest * rng.standard_normal(len(wanted))
        mean = np.minimum(wanted * profile, ceiling)
        room = np.minimum(0.9 * mean, ceiling - mean)
        hours[h] = mean + clip(spread * disturbance, -room, room)
        total = total + hours[h] * light
        memory, rest = d[MEMORY], d[MEMORY_REST]
    target = clip(wanted * d[TOTAL], 0.0, d[BRIGHTEST])
    factor = np.where(total > 0.0, target / np.maximum(total, 1e-300), 0.0)
    reached = 0.0
    for h in range(begin, end):
        hours[h] = np.minimum(hours[h] * factor, t.hour[row, h, CEILING])
        reached = reached + hours[h] * t.hour[row, h, LIGHT]
    lacks = target - reached
    some = (lacks > 1e-13 * target) & (total > 0.0)
    if some.any():
        share = np.where(some, lacks / np.where(some, d[BRIGHTEST] - reached, 1.0), 0.0)
        for h in range(begin, end):
            hours[h] += share * (t.hour[row, h, CEILING] - hours[h])
    return hours, target / d[TOTAL]


def panel(t, c, air, q):
    """What the panels give and what of it lies within the input's volts [W]."""
    p = t.plain
    ghi = c * q[LIGHT]
    k = clip(ghi * q[PER_OUTSIDE], 0.0, 1.0)
    between = 0.9511 + k * (-0.1604 + k * (4.388 + k * (-16.638 + k * 12.336)))
    diffuse = ghi * np.where(k <= 0.22, 1.0 - 0.09 * k, np.where(k > 0.80, 0.165, between))
    beam = ghi - diffuse
    around = np.minimum(beam * q[PER_OUTSIDE], 1.0)
    poa = beam * q[RATIO] + diffuse * (around * q[RATIO] + (1.0 - around) * q[DOME]) + ghi * q[GROUND]
    warmth = np.maximum(1.0 + p[PER_K] * (air + poa * p[RISE] - 25.0), 0.0)
    watts = p[RATED_W] * (poa * 0.001 * warmth * q[KEPT])
    return watts, np.where(p[STRING_V] * warmth >= p[VOLTS_MIN], watts, 0.0)


def group(t, s, first, rng):
    """Trials that start on day `s` of the month, each in its hour of the day `first`."""
    p, n = t.plain, len(first)
    end = first + t.hours
    systematic = np.exp(p[SUN_SD] * rng.standard_normal(n))
    z = rng.standard_normal((4, n))
    charge = clip(p[CHARGE] + p[CHARGE_SD] * z[0], 0.3, 1.0)
    discharge = clip(p[DISCHARGE] + p[DISCHARGE_SD] * z[1], 0.3, 1.0)
    capacity = p[CAPACITY] * p[DISCHARGE] * (1.0 + p[CAPACITY_SD] * z[2]) / discharge
    begun = stored = clip(p[START] + p[START_SD] * z[3], 0.0, 1.0) * capacity
    floor, full = p[FLOOR] * capacity, p[CEILING_SHARE] * capacity
    most_into = p[CHARGE_RATE] * capacity * charge
    x = p[TAPER_RATE] * capacity * charge
    taper = x / (p[TAPER] * capacity + x)

    state = State(t, rng, s, n)
    row = t.first + s
    before = t.day[row - 1, AIR_MEAN] + t.day[row - 1, AIR_SD] * state.air
    wanted = state.step(row)
    now = t.day[row, AIR_MEAN] + t.day[row, AIR_SD] * state.air
    lowest = stored
    solar_sum, clipped, used, into_sum, out_sum, lost, missed, vital = (np.zeros(n) for _ in range(8))
    for k in range(t.days):
        row = t.first + s + k
        hours, reached = hours_of(t, rng, row, bent(wanted, systematic))
        d = t.day[row]
        swing = d[SWING] * clip(0.3 + 0.7 * reached * d[PER_MEAN], 0.4, 1.6)
        wanted = state.step(row + 1)
        after = t.day[row + 1, AIR_MEAN] + t.day[row + 1, AIR_SD] * state.air
        made_w, taken_w, none = {}, {}, np.zeros(n)
        for h in hours:
            q = t.hour[row, h]
            course = q[MIDDLE] * ((now - before) if q[MIDDLE] < 0.0 else (after - now))
            made_w[h], usable = panel(t, hours[h], now + course + swing * q[AIR_SHAPE], q)
            taken_w[h] = np.minimum(usable, p[SOLAR_W])
        whole = k > 0 and (k + 1) * 24 <= t.hours
        for h in range(24):
            active = 1.0 if whole else ((first <= 24 * k + h) & (24 * k + h < end)).astype(float)
            bus = t.bus[h, BUS + 2] * active
            left = stored - stored * (p[SELF_DISCHARGE] * active)
            from_cells = np.minimum(np.maximum(left - floor, 0.0) * discharge, p[DISCHARGE_W])
            sun = 0.0
            if h in hours:
                made, taken = made_w[h] * active, taken_w[h] * active
                sun = taken * p[SOLAR_EFFICIENCY]
            followed = h in hours and h - min(hours) < short.FOLLOWED_H
            lacks = np.flatnonzero(from_cells < bus if followed else sun + from_cells < bus)
            if len(lacks):
                steady = np.broadcast_to(sun, n)[lacks]
                light = np.zeros(len(lacks)), steady, np.zeros(len(lacks))
                if followed:
                    around = [taken_w.get(at, none)[lacks] * p[SOLAR_EFFICIENCY] for at in (h - 1, h + 1)]
                    light = grow(around[0], steady, around[1])
                    late = ahead(*light, t.bus[h, BUS + 2]) > from_cells[lacks]
                    lacks, light = lacks[late], [of[late] for of in light]
                settled = settle(*light, from_cells[lacks], t.bus[h], BUS, ASKED)
                missed[lacks] += settled[0]
                vital[lacks] += settled[1]
                bus = np.array(np.broadcast_to(bus, n))
                bus[lacks] = np.minimum(settled[2], (sun + from_cells)[lacks])
            out = np.maximum(bus - sun, 0.0) / discharge
            lost += stored - left
            if h in hours:
                surplus = np.maximum(sun - bus, 0.0)
                room = np.minimum(np.maximum(full - left, 0.0), most_into)
                accepted = np.minimum(room, np.maximum(capacity - left, 0.0) * taper)
                into = np.minimum(surplus, accepted / charge)
                solar_sum += made
                clipped += made - taken
                used += sun - (surplus - into)
                into_sum += into
                left = left + into * charge
            stored = np.maximum(left - out, 0.0)
            lowest = np.minimum(lowest, stored)
            out_sum += out
        before, now = now, after
    curtailed = solar_sum - used / p[SOLAR_EFFICIENCY]
    imbalance = begun + into_sum * charge - out_sum - lost - stored
    return np.stack([missed, vital, solar_sum, curtailed, clipped, lowest / capacity, imbalance], axis=1)


def simulate(t, trials, seed, threads):
    """What each trial comes to."""
    rng = np.random.default_rng(seed)
    start = rng.integers(t.starts * 24, size=trials)
    work = [(t, s, start[start // 24 == s] % 24, child) for s, child in enumerate(rng.spawn(t.starts))]
    with ThreadPoolExecutor(threads) as pool:
        return np.concatenate(list(pool.map(lambda w: group(*w), work)))
