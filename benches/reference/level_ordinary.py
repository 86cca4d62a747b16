"""Level 2: numba as it is ordinarily written: a parallel loop over trials, each hour by hour, numbers from np.random."""

import math

import numba
import numpy as np
from numba import njit, prange

import short
from short import FOLLOWED_H
from slice_tables import *

grow, ahead, settle = short.build(njit(fastmath=True))


@njit(fastmath=True)
def clip(x, low, high):
    return min(max(x, low), high)


@njit(fastmath=True)
def day_of(day, clearness, row, spell, slow, air):
    """Steps the latent weather to a day; returns it and the day's clearness."""
    d = day[row]
    fresh, own, luck = np.random.standard_normal(), np.random.standard_normal(), np.random.standard_normal()
    spell = d[PHI] * spell + d[PHI_REST] * fresh
    air = d[AIR_B] * air + d[AIR_REST] * (d[A_SPELL] * fresh + d[A_SKY] * own + d[A_OWN] * luck)
    z = d[W_SPELL] * spell + d[W_SLOW] * slow + d[W_OWN] * own
    x = (clip(z, -EDGE, EDGE) + EDGE) * NODES_PER_UNIT
    k = min(int(x), NODES - 2)
    return spell, air, clearness[row, k] + (x - k) * (clearness[row, k + 1] - clearness[row, k])


@njit(fastmath=True)
def bent(wanted, factor):
    """A day in a climate with another level of sun: no darker and no brighter than days are, unless it was."""
    return min(max(wanted * factor, min(wanted, 0.012)), max(wanted, 0.86))


@njit(fastmath=True)
def hours_of(d, hour, begin, end, wanted, hours):
    """Clearness of a day's hours with light; returns the day's."""
    spread = d[SPREAD] * math.sin(math.pi * clip(wanted * d[PER_CLOUDLESS], 0.0, 0.97))
    disturbance, total = 0.0, 0.0
    for h in range(begin, end):
        z = np.random.standard_normal()
        disturbance = z if h == begin else d[MEMORY] * disturbance + d[MEMORY_REST] * z
        ceiling = hour[h, CEILING]
        mean = min(wanted * hour[h, PROFILE], ceiling)
        room = min(0.9 * mean, ceiling - mean)
        hours[h] = mean + clip(spread * disturbance, -room, room)
        total += hours[h] * hour[h, LIGHT]
    target = clip(wanted * d[TOTAL], 0.0, d[BRIGHTEST])
    if total > 0.0:
        factor, reached = target / total, 0.0
        for h in range(begin, end):
            hours[h] = min(hours[h] * factor, hour[h, CEILING])
            reached += hours[h] * hour[h, LIGHT]
        if target - reached > 1e-13 * target:
            share = (target - reached) / (d[BRIGHTEST] - reached)
            for h in range(begin, end):
                hours[h] += share * (hour[h, CEILING] - hours[h])
    return target / d[TOTAL]


@njit(fastmath=True)
def panel(p, q, c, air):
    """What the panels give and what of it lies within the input's volts [W]."""
    ghi = c * q[LIGHT]
    k = clip(ghi * q[PER_OUTSIDE], 0.0, 1.0)
    if k <= 0.22:
        share = 1.0 - 0.09 * k
    elif k > 0.80:
        share = 0.165
    else:
        share = 0.9511 + k * (-0.1604 + k * (4.388 + k * (-16.638 + k * 12.336)))
    diffuse = ghi * share
    beam = ghi - diffuse
    around = min(beam * q[PER_OUTSIDE], 1.0)
    poa = beam * q[RATIO] + diffuse * (around * q[RATIO] + (1.0 - around) * q[DOME]) + ghi * q[GROUND]
    warmth = max(1.0 + p[PER_K] * (air + poa * p[RISE] - 25.0), 0.0)
    watts = p[RATED_W] * (poa * 0.001 * warmth * q[KEPT])
    return watts, watts if p[STRING_V] * warmth >= p[VOLTS_MIN] else 0.0


@njit(parallel=True, fastmath=True, error_model="numpy")
def run(day, hour, clearness, lit, bus, p, link, first_row, starts, steps, days, trials):
    results = np.empty((trials, OUTCOMES))
    for trial in prange(trials):
        at = np.random.randint(0, starts * 24)
        s, first = at // 24, at % 24
        systematic = math.exp(p[SUN_SD] * np.random.standard_normal())
        charge = clip(p[CHARGE] + p[CHARGE_SD] * np.random.standard_normal(), 0.3, 1.0)
        discharge = clip(p[DISCHARGE] + p[DISCHARGE_SD] * np.random.standard_normal(), 0.3, 1.0)
        capacity = p[CAPACITY] * p[DISCHARGE] * (1.0 + p[CAPACITY_SD] * np.random.standard_normal()) / discharge
        begun = clip(p[START] + p[START_SD] * np.random.standard_normal(), 0.0, 1.0) * capacity
        floor, full = p[FLOOR] * capacity, p[CEILING_SHARE] * capacity
        most_into = p[CHARGE_RATE] * capacity * charge
        x = p[TAPER_RATE] * capacity * charge
        taper = x / (p[TAPER] * capacity + x)

        spell, slow = np.random.standard_normal(), np.random.standard_normal()
        air = link[s] * spell + math.sqrt(1.0 - link[s] ** 2) * np.random.standard_normal()
        row = first_row + s
        before = day[row - 1, AIR_MEAN] + day[row - 1, AIR_SD] * air
        spell, air, wanted = day_of(day, clearness, row, spell, slow, air)
        now = day[row, AIR_MEAN] + day[row, AIR_SD] * air
        hours, made_w, taken_w = np.zeros(24), np.zeros(24), np.zeros(24)
        stored = lowest = begun
        made_sum = clipped = used = into_sum = out_sum = lost = missed = vital = 0.0
        for k in range(days):
            row = first_row + s + k
            d = day[row]
            reached = hours_of(d, hour[row], lit[row, 0], lit[row, 1], bent(wanted, systematic), hours)
            swing = d[SWING] * clip(0.3 + 0.7 * reached * d[PER_MEAN], 0.4, 1.6)
            spell, air, wanted = day_of(day, clearness, row + 1, spell, slow, air)
            after = day[row + 1, AIR_MEAN] + day[row + 1, AIR_SD] * air
            begin, end = lit[row, 0], lit[row, 1]
            made_w[:], taken_w[:] = 0.0, 0.0
            for h in range(begin, end):
                q = hour[row, h]
                course = q[MIDDLE] * ((now - before) if q[MIDDLE] < 0.0 else (after - now))
                made_w[h], usable = panel(p, q, hours[h], now + course + swing * q[AIR_SHAPE])
                taken_w[h] = min(usable, p[SOLAR_W])
            for h in range(max(first - 24 * k, 0), min(first + steps - 24 * k, 24)):
                left = stored - stored * p[SELF_DISCHARGE]
                lost += stored - left
                made, taken, followed = made_w[h], taken_w[h], begin <= h < begin + FOLLOWED_H
                sun = taken * p[SOLAR_EFFICIENCY]
                cells = min(max(left - floor, 0.0) * discharge, p[DISCHARGE_W])
                bus_w = bus[h, BUS + 2]
                if cells < bus_w and (followed or sun + cells < bus_w):
                    dark, start, slope = 0.0, sun, 0.0
                    if followed:
                        dark, start, slope = grow(taken_w[h - 1] * p[SOLAR_EFFICIENCY], sun, taken_w[h + 1] * p[SOLAR_EFFICIENCY])
                    if ahead(dark, start, slope, bus_w) > cells:
                        lacking, of_vital, bus_w = settle(dark, start, slope, cells, bus[h], BUS, ASKED)
                        missed += lacking
                        vital += of_vital
                        bus_w = min(bus_w, sun + cells)
                if sun > bus_w:
                    room = min(max(full - left, 0.0), most_into)
                    accepted = min(room, max(capacity - left, 0.0) * taper)
                    into = min(sun - bus_w, accepted / charge)
                    stored = left + into * charge
                    into_sum += into
                    used += bus_w + into
                else:
                    out = (bus_w - sun) / discharge
                    stored = max(left - out, 0.0)
                    out_sum += out
                    used += sun
                made_sum += made
                clipped += made - taken
                lowest = min(lowest, stored)
            before, now = now, after
        results[trial, MISSED], results[trial, VITAL], results[trial, SOLAR] = missed, vital, made_sum
        results[trial, CURTAILED] = made_sum - used / p[SOLAR_EFFICIENCY]
        results[trial, CLIPPED], results[trial, LOWEST] = clipped, lowest / capacity
        results[trial, IMBALANCE] = begun + into_sum * charge - out_sum - lost - stored
    return results


def simulate(t, trials, seed, threads):
    """What each trial comes to. The numbers of np.random in numba's threads are not repeatable: `seed` is not used."""
    numba.set_num_threads(threads)
    return run(t.day, t.hour, t.clearness, t.lit, t.bus, t.plain, t.link, t.first, t.starts, t.hours, t.days, trials)
