"""Level 3: numba as a careful practitioner writes it.

Trials that start on the same day are taken in blocks of `LANES`, and the innermost loops run over the lanes of a block,
without calls or branches, so that LLVM makes vectors of them. Random numbers are a hash of (trial, count), normals come
from them by Box & Muller's formula with polynomials (those of Cephes, Moshier 1989) in single precision. State lies in
flat arrays, one row of lanes after the other at fixed places, so that LLVM sees that rows do not overlap.

`build(weather, energy)` makes the simulation in one of three precisions.
"""

import math
from functools import lru_cache

import numba
import numpy as np
from numba import njit, prange

import short
from short import FOLLOWED_H
from slice_tables import *

# Fewer pay more for each loop, more leave the fastest cache.
LANES = 128
f32, i32, u32, u64 = np.float32, np.int32, np.uint32, np.uint64
FAST = dict(fastmath=True, error_model="numpy", nogil=True)
INLINE = dict(FAST, inline="always")

GOLDEN = u64(0x9E3779B97F4A7C15)
STEP, M1, M2, M3 = u32(0x9E3779B9), u32(0xED5AD4BB), u32(0xAC4C1B51), u32(0x31848BAB)


def rows(count):
    """Where rows of lanes begin in a flat array."""
    return range(0, count * LANES, LANES)


# Rows of the weather's scratch, and of the energy's.
(R_SPELL, R_SLOW, R_AIR, R_WANTED, R_SUN, R_BEFORE, R_NOW, R_AFTER, R_SWING, R_SPREAD, R_DISTURBANCE, R_TOTAL, R_REACHED,
 R_TARGET, R_SHARE, WEATHER_END) = rows(16)
(R_CHARGE, R_PER_CHARGE, R_DISCHARGE, R_PER_DISCHARGE, R_CAPACITY, R_FLOOR, R_FULL, R_MOST_INTO, R_TAPER, R_STORED,
 R_LOWEST, R_MADE, R_CLIPPED, R_USED, R_INTO, R_OUT, R_LOST, R_MISSED, R_VITAL, R_AVAILABLE, R_FLOW, R_BUS,
 ENERGY_END) = rows(23)


@njit(**INLINE)
def mix64(z):
    z = (z ^ (z >> u64(30))) * u64(0xBF58476D1CE4E5B9)
    z = (z ^ (z >> u64(27))) * u64(0x94D049BB133111EB)
    return z ^ (z >> u64(31))


@njit(**INLINE)
def word(count, key, other):
    """32 random bits: a hash of a count under a key of 64 bits."""
    x = u32(count ^ key)
    x = u32((x ^ (x >> u32(17))) * M1)
    x = u32(x + other)
    x = u32((x ^ (x >> u32(11))) * M2)
    x = u32((x ^ (x >> u32(15))) * M3)
    return u32(x ^ (x >> u32(14)))


@njit(**INLINE)
def log(x):
    bits = f32(x).view(i32)
    power = i32(i32(bits - i32(0x3F3504F3)) >> i32(23))
    f = i32(bits - i32(power << i32(23))).view(f32) - f32(1.0)
    e = f32(power)
    z = f * f
    y = f32(7.0376836e-2)
    y = y * f - f32(0.1151461)
    y = y * f + f32(0.11676999)
    y = y * f - f32(0.12420141)
    y = y * f + f32(0.14249323)
    y = y * f - f32(0.16668058)
    y = y * f + f32(0.20000715)
    y = y * f - f32(0.25)
    y = y * f + f32(0.3333333)
    return f + (y * f * z - f32(2.1219444e-4) * e - f32(0.5) * z) + f32(0.6933594) * e


@njit(**INLINE)
def normals(count, key, other):
    """Two standard normal numbers."""
    size, turn = word(count, key, other), word(u32(count + STEP), key, other)
    u = (f32(i32(size >> u32(1))) + f32(0.5)) * f32(1.0 / 2147483648.0)
    square = f32(-2.0) * log(u)
    radius = f32(math.sqrt(square if square > f32(0.0) else f32(0.0)))
    quarter = u32(u32(turn + u32(1 << 29)) >> u32(30))
    x = f32(i32(u32(turn - u32(quarter << u32(30))))) * f32(math.pi / 2 / 1073741824.0)
    z = x * x
    sin = ((f32(-1.9515296e-4) * z + f32(8.332161e-3)) * z - f32(0.16666655)) * z * x + x
    cos = ((f32(2.4433157e-5) * z - f32(1.3887316e-3)) * z + f32(4.1666646e-2)) * z * z - f32(0.5) * z + f32(1.0)
    odd = (quarter & u32(1)) != u32(0)
    a, b = (sin if odd else cos), (cos if odd else sin)
    a = -a if (u32(quarter + u32(1)) & u32(2)) != u32(0) else a
    b = -b if (quarter & u32(2)) != u32(0) else b
    return radius * a, radius * b


@njit(**FAST)
def fill(n, keys, others, count, pairs):
    """Fills rows of normal numbers, two at a time; returns where the count has got to."""
    for j in range(pairs):
        a, b = n[2 * j], n[2 * j + 1]
        for l in range(LANES):
            a[l], b[l] = normals(count, keys[l], others[l])
        count = u32(count + u32(2) * STEP)
    return count


@lru_cache(maxsize=None)
def build(W, E):
    """The simulation with weather in one type of number and energies in another."""

    @njit(**INLINE)
    def less(a, b):
        return a if a < b else b

    @njit(**INLINE)
    def more(a, b):
        return a if b < a else b

    zero, one, half = W(0.0), W(1.0), W(0.5)

    @njit(**FAST)
    def step(d, table, w, n):
        """Steps the latent weather to a day, by the first three rows of numbers."""
        rest, air_rest, a_spell, a_sky, a_own = d[PHI_REST], d[AIR_REST], d[A_SPELL], d[A_SKY], d[A_OWN]
        phi, b, w_spell, w_slow, w_own = d[PHI], d[AIR_B], d[W_SPELL], d[W_SLOW], d[W_OWN]
        mean, sd = d[AIR_MEAN], d[AIR_SD]
        for l in range(LANES):
            fresh, own, luck = W(n[0, l]), W(n[1, l]), W(n[2, l])
            spell = phi * w[R_SPELL + l] + rest * fresh
            air = b * w[R_AIR + l] + air_rest * (a_spell * fresh + a_sky * own + a_own * luck)
            w[R_SPELL + l], w[R_AIR + l] = spell, air
            w[R_AFTER + l] = mean + sd * air
            z = w_spell * spell + w_slow * w[R_SLOW + l] + w_own * own
            x = (less(more(z, W(-EDGE)), W(EDGE)) + W(EDGE)) * W(NODES_PER_UNIT)
            k = i32(less(x, W(NODES - 2)))
            low = table[k]
            w[R_WANTED + l] = low + (x - W(k)) * (table[k + 1] - low)

    @njit(**FAST)
    def hours_of(d, hour, begin, end, w, n, hours):
        """Clearness of a day's hours with light, before what the ceiling cuts off is given back; the day's swing."""
        spread, per_cloudless = d[SPREAD], d[PER_CLOUDLESS]
        for l in range(LANES):
            best = w[R_WANTED + l]
            wanted = less(more(best * w[R_SUN + l], less(best, W(0.012))), more(best, W(0.86)))
            x = (less(more(wanted * per_cloudless, zero), W(0.97)) - half) * W(math.pi)
            z = x * x
            y = W(1.0 / 20922789888000.0) - z * W(1.0 / 6402373705728000.0)
            y = y * z - W(1.0 / 87178291200.0)
            y = y * z + W(1.0 / 479001600.0)
            y = y * z - W(1.0 / 3628800.0)
            y = y * z + W(1.0 / 40320.0)
            y = y * z - W(1.0 / 720.0)
            y = y * z + W(1.0 / 24.0)
            y = y * z - half
            w[R_SPREAD + l] = spread * (y * z + one)
            w[R_WANTED + l] = wanted
            w[R_DISTURBANCE + l], w[R_TOTAL + l], w[R_REACHED + l] = zero, zero, zero
        memory, rest = zero, one
        for h in range(begin, end):
            light, profile, ceiling = hour[h, LIGHT], hour[h, PROFILE], hour[h, CEILING]
            c, luck = hours[h], n[3 + h - begin]
            for l in range(LANES):
                disturbance = memory * w[R_DISTURBANCE + l] + rest * W(luck[l])
                w[R_DISTURBANCE + l] = disturbance
                mean = less(w[R_WANTED + l] * profile, ceiling)
                room = less(W(0.9) * mean, ceiling - mean)
                clearness = mean + less(more(w[R_SPREAD + l] * disturbance, -room), room)
                c[l] = clearness
                w[R_TOTAL + l] += clearness * light
            memory, rest = d[MEMORY], d[MEMORY_REST]
        total, brightest, per_mean, swing = d[TOTAL], d[BRIGHTEST], d[PER_MEAN], d[SWING]
        per_total = one / total
        for l in range(LANES):
            target = less(more(w[R_WANTED + l] * total, zero), brightest)
            w[R_TARGET + l] = target
            w[R_TOTAL + l] = target / w[R_TOTAL + l] if w[R_TOTAL + l] > zero else zero
            w[R_SWING + l] = swing * less(more(W(0.3) + W(0.7) * (target * per_total * per_mean), W(0.4)), W(1.6))
        for h in range(begin, end):
            light, ceiling = hour[h, LIGHT], hour[h, CEILING]
            c = hours[h]
            for l in range(LANES):
                clearness = less(c[l] * w[R_TOTAL + l], ceiling)
                c[l] = clearness
                w[R_REACHED + l] += clearness * light
        for l in range(LANES):
            target, reached = w[R_TARGET + l], w[R_REACHED + l]
            lacks = target - reached
            some = lacks > W(1e-13) * target and w[R_TOTAL + l] > zero
            w[R_SHARE + l] = lacks / more(brightest - reached, W(1e-6)) if some else zero

    grow, ahead, settle = short.build(njit(**FAST))

    @njit(**FAST)
    def shortage(bus, e):
        """What the lanes miss whose cells are empty within the hour: until then everything runs, then what the sun feeds."""
        below, everything = E(0.0), bus[BUS + 2]
        for c in range(3):
            upto, asked = bus[BUS + c], bus[ASKED + c]
            per_width = E(1.0) / max(upto - below, E(1e-6))
            for l in range(LANES):
                flow = e[R_FLOW + l]
                lasts = less((e[R_AVAILABLE + l] - flow) / more(everything - flow, E(1e-6)), E(1.0))
                share = less(more((flow - below) * per_width, E(0.0)), E(1.0))
                lacking = asked * (E(1.0) - lasts) * (E(1.0) - share)
                e[R_MISSED + l] += lacking
                e[R_VITAL + l] += lacking if c == 0 else E(0.0)
            below = upto

    @njit(**INLINE)
    def fixed(q, pw):
        """What is the same in all lanes of an hour's light."""
        return (q[LIGHT], q[PER_OUTSIDE], q[RATIO], q[DOME], q[GROUND], q[MIDDLE], q[AIR_SHAPE],
                pw[RATED_W] * W(0.001) * q[KEPT], pw[RISE], pw[PER_K], pw[STRING_V], pw[VOLTS_MIN], q[CEILING])

    @njit(**INLINE)
    def panel(of, clearness, share, temperatures, swing):
        """What the panels give and what of it lies within the input's volts [W]."""
        light, per_outside, ratio, dome, ground, middle, shape, rated_kept, rise, per_k, string_v, volts_min, ceiling = of
        before, now, after = temperatures
        change = (now - before) if middle < zero else (after - now)
        air = now + middle * change + swing * shape
        ghi = (clearness + share * (ceiling - clearness)) * light
        k = less(more(ghi * per_outside, zero), one)
        between = W(0.9511) + k * (W(-0.1604) + k * (W(4.388) + k * (W(-16.638) + k * W(12.336))))
        share = (one - W(0.09) * k) if k <= W(0.22) else (W(0.165) if k > W(0.80) else between)
        diffuse = ghi * share
        beam = ghi - diffuse
        around = less(beam * per_outside, one)
        poa = beam * ratio + diffuse * (around * ratio + (one - around) * dome) + ghi * ground
        warmth = more(one + per_k * (air + poa * rise - W(25.0)), zero)
        watts = E(rated_kept * poa * warmth)
        return watts, watts if string_v * warmth >= volts_min else E(0.0)

    @njit(**FAST)
    def any_low(bus_w, fall, discharge_w, e, active):
        """Whether any lane's cells could not carry the hour without its sun; writes what is asked for."""
        some = False
        for l in range(LANES):
            bus = bus_w * E(active[l])
            e[R_BUS + l] = bus
            left = e[R_STORED + l] * (E(1.0) - fall)
            some |= less(more(left - e[R_FLOOR + l], E(0.0)) * e[R_DISCHARGE + l], discharge_w) < bus
        return some

    @njit(**FAST)
    def late(h, lit, hour, hours, w, pw, here, pe, e):
        """Settles what lanes are served whose cells are empty before the sun of one of the first hours of light is there."""
        for l in range(LANES):
            left = e[R_STORED + l] * (E(1.0) - pe[SELF_DISCHARGE])
            cells = less(more(left - e[R_FLOOR + l], E(0.0)) * e[R_DISCHARGE + l], pe[DISCHARGE_W])
            bus = e[R_BUS + l]
            if cells >= bus:
                continue
            suns = (E(0.0), E(0.0), E(0.0))
            for at in range(max(h - 1, lit[0]), min(h + 2, lit[1])):
                temperatures = w[R_BEFORE + l], w[R_NOW + l], w[R_AFTER + l]
                _, usable = panel(fixed(hour[at], pw), hours[at, l], w[R_SHARE + l], temperatures, w[R_SWING + l])
                sun = less(usable, pe[SOLAR_W]) * pe[SOLAR_EFFICIENCY]
                suns = (suns[0] if at != h - 1 else sun, suns[1] if at != h else sun, suns[2] if at != h + 1 else sun)
            dark, start, slope = grow(*suns)
            if ahead(dark, start, slope, bus) > cells:
                missed, vital, served = settle(dark, start, slope, cells, here, BUS, ASKED)
                e[R_MISSED + l] += missed
                e[R_VITAL + l] += vital
                e[R_BUS + l] = less(served, suns[1] + cells)

    def hour_loops(masked, followed):
        """The balance of an hour, of a day that lies within every outage or (`masked`) only partly within some; in the hours in
        which the sun is followed it is settled what the lanes are served."""

        @njit(**FAST)
        def dark(bus_w, fall, discharge_w, e, active):
            some = False
            for l in range(LANES):
                on = E(active[l]) if masked else E(1.0)
                bus = bus_w * on
                before = e[R_STORED + l]
                left = before - before * (fall * on)
                available = less(more(left - e[R_FLOOR + l], E(0.0)) * e[R_DISCHARGE + l], discharge_w)
                short = available < bus
                some |= short
                e[R_AVAILABLE + l], e[R_FLOW + l] = available if short else E(1e9), E(0.0)
                out = (available if short else bus) * e[R_PER_DISCHARGE + l]
                stored = more(left - out, E(0.0))
                e[R_LOST + l] += before - left
                e[R_STORED + l] = stored
                e[R_LOWEST + l] = less(stored, e[R_LOWEST + l])
                e[R_OUT + l] += out
            return some

        @njit(**FAST)
        def lit(q, c, w, pw, bus_w, fall, discharge_w, solar_w, efficiency, e, active):
            of = fixed(q, pw)
            some = False
            for l in range(LANES):
                temperatures = w[R_BEFORE + l], w[R_NOW + l], w[R_AFTER + l]
                watts, usable = panel(of, c[l], w[R_SHARE + l], temperatures, w[R_SWING + l])
                on = E(active[l]) if masked else E(1.0)
                taken = less(usable, solar_w) * on
                made = watts * on
                sun = taken * efficiency

                bus = e[R_BUS + l] if followed else bus_w * on
                before = e[R_STORED + l]
                left = before - before * (fall * on)
                available = sun + less(more(left - e[R_FLOOR + l], E(0.0)) * e[R_DISCHARGE + l], discharge_w)
                if not followed:
                    short = available < bus
                    some |= short
                    e[R_AVAILABLE + l], e[R_FLOW + l] = available if short else E(1e9), sun
                bus = less(bus, available)
                out = more(bus - sun, E(0.0)) * e[R_PER_DISCHARGE + l]
                surplus = more(sun - bus, E(0.0))
                room = less(more(e[R_FULL + l] - left, E(0.0)), e[R_MOST_INTO + l])
                accepted = less(room, more(e[R_CAPACITY + l] - left, E(0.0)) * e[R_TAPER + l])
                into = less(surplus, accepted * e[R_PER_CHARGE + l])
                stored = more(left + into * e[R_CHARGE + l] - out, E(0.0))
                e[R_LOST + l] += before - left
                e[R_STORED + l] = stored
                e[R_LOWEST + l] = less(stored, e[R_LOWEST + l])
                e[R_MADE + l] += made
                e[R_CLIPPED + l] += made - taken
                e[R_USED + l] += sun - (surplus - into)
                e[R_INTO + l] += into
                e[R_OUT + l] += out
            return some

        return dark, lit

    dark_whole, lit_whole = hour_loops(False, False)
    dark_partly, lit_partly = hour_loops(True, False)
    _, first_whole = hour_loops(False, True)
    _, first_partly = hour_loops(True, True)

    @njit(**FAST)
    def block(tables, s, first, keys, others, count, results):
        day, hour, clearness, lit, bus, pw, pe, link, first_row, steps, days = tables
        w, e, n = np.empty(WEATHER_END, W), np.zeros(ENERGY_END, E), np.empty((30, LANES), f32)
        hours, active = np.empty((24, LANES), W), np.empty(LANES, f32)
        begun = np.empty(LANES, E)
        counter = fill(n, keys, others, u32(0), 4)
        row = first_row + s
        rest = W(math.sqrt(one - link[s] * link[s]))
        for l in range(LANES):
            w[R_SUN + l] = math.exp(pw[SUN_SD] * W(n[0, l]))
            charge = less(more(pe[CHARGE] + pe[CHARGE_SD] * E(n[1, l]), E(0.3)), E(1.0))
            discharge = less(more(pe[DISCHARGE] + pe[DISCHARGE_SD] * E(n[2, l]), E(0.3)), E(1.0))
            size = pe[CAPACITY] * pe[DISCHARGE] * (E(1.0) + pe[CAPACITY_SD] * E(n[3, l])) / discharge
            begun[l] = less(more(pe[START] + pe[START_SD] * E(n[4, l]), E(0.0)), E(1.0)) * size
            x = pe[TAPER_RATE] * size * charge
            e[R_CHARGE + l], e[R_PER_CHARGE + l] = charge, E(1.0) / charge
            e[R_DISCHARGE + l], e[R_PER_DISCHARGE + l] = discharge, E(1.0) / discharge
            e[R_CAPACITY + l], e[R_FLOOR + l], e[R_FULL + l] = size, pe[FLOOR] * size, pe[CEILING_SHARE] * size
            e[R_MOST_INTO + l], e[R_TAPER + l] = pe[CHARGE_RATE] * size * charge, x / (pe[TAPER] * size + x)
            e[R_STORED + l], e[R_LOWEST + l] = begun[l], begun[l]
            w[R_SPELL + l], w[R_SLOW + l] = W(n[5, l]), W(n[6, l])
            air = link[s] * W(n[5, l]) + rest * W(n[7, l])
            w[R_AIR + l] = air
            w[R_NOW + l] = day[row - 1, AIR_MEAN] + day[row - 1, AIR_SD] * air
        counter = fill(n, keys, others, counter, 2)
        step(day[row], clearness[row], w, n)
        for k in range(days):
            row = first_row + s + k
            begin, end = lit[row, 0], lit[row, 1]
            # Numbers for the next day's sky, then for this day's hours.
            counter = fill(n, keys, others, counter, (3 + end - begin + 1) // 2)
            hours_of(day[row], hour[row], begin, end, w, n, hours)
            for l in range(LANES):
                w[R_BEFORE + l] = w[R_NOW + l]
                w[R_NOW + l] = w[R_AFTER + l]
            step(day[row + 1], clearness[row + 1], w, n)
            whole = k > 0 and (k + 1) * 24 <= steps
            for h in range(24):
                here = bus[h]
                for l in range(LANES):
                    active[l] = f32(1.0) if whole or first[l] <= 24 * k + h < first[l] + steps else f32(0.0)
                bus_w, fall, most = here[BUS + 2], pe[SELF_DISCHARGE], pe[DISCHARGE_W]
                some = False
                if begin <= h < end:
                    light = (hour[row, h], hours[h], w, pw, bus_w, fall, most, pe[SOLAR_W], pe[SOLAR_EFFICIENCY], e, active)
                    if h < begin + FOLLOWED_H:
                        if any_low(bus_w, fall, most, e, active):
                            late(h, lit[row], hour[row], hours, w, pw, here, pe, e)
                        if whole:
                            first_whole(*light)
                        else:
                            first_partly(*light)
                    elif whole:
                        some = lit_whole(*light)
                    else:
                        some = lit_partly(*light)
                elif whole:
                    some = dark_whole(bus_w, fall, most, e, active)
                else:
                    some = dark_partly(bus_w, fall, most, e, active)
                if some:
                    shortage(here, e)
        for l in range(count):
            r = results[l]
            r[MISSED], r[VITAL], r[SOLAR] = e[R_MISSED + l], e[R_VITAL + l], e[R_MADE + l]
            r[CURTAILED] = e[R_MADE + l] - e[R_USED + l] / pe[SOLAR_EFFICIENCY]
            r[CLIPPED], r[LOWEST] = e[R_CLIPPED + l], e[R_LOWEST + l] / e[R_CAPACITY + l]
            r[IMBALANCE] = begun[l] + e[R_INTO + l] * e[R_CHARGE + l] - e[R_OUT + l] - e[R_LOST + l] - e[R_STORED + l]

    @njit(parallel=True, **FAST)
    def run(tables, starts, trials, seed):
        # Trials in the order of their first days, each day's in blocks.
        keys, begins = np.empty(trials, u64), np.empty(trials, i32)
        for trial in prange(trials):
            keys[trial] = mix64(mix64(u64(seed) + GOLDEN) ^ (u64(trial) * GOLDEN))
            begins[trial] = i32(((mix64(keys[trial] + GOLDEN) >> u64(32)) * u64(starts * 24)) >> u64(32))
        places = np.zeros(starts + 1, np.int64)
        for trial in range(trials):
            places[begins[trial] // 24 + 1] += 1
        blocks = 0
        for s in range(starts):
            blocks += (places[s + 1] + LANES - 1) // LANES
            places[s + 1] += places[s]
        order, filled = np.empty(trials, np.int64), places.copy()
        for trial in range(trials):
            s = begins[trial] // 24
            order[filled[s]] = trial
            filled[s] += 1
        of_block, from_block, b = np.empty(blocks, np.int64), np.empty(blocks, np.int64), 0
        for s in range(starts):
            for place in range(places[s], places[s + 1], LANES):
                of_block[b], from_block[b] = s, place
                b += 1
        results = np.empty((trials, OUTCOMES))
        for b in prange(blocks):
            s, place = of_block[b], from_block[b]
            count = min(places[s + 1] - place, LANES)
            key, other, first = np.empty(LANES, u32), np.empty(LANES, u32), np.empty(LANES, i32)
            for l in range(LANES):
                trial = order[place + min(l, count - 1)]
                key[l], other[l] = u32(keys[trial]), u32(keys[trial] >> u64(32))
                first[l] = begins[trial] % 24
            block(tables, s, first, key, other, count, results[place:place + count])
        return results

    def simulate(t, trials, seed, threads):
        """What each trial comes to."""
        numba.set_num_threads(threads)
        weather = [x.astype(W) for x in (t.day, t.hour, t.clearness)]
        tables = (*weather, t.lit, t.bus.astype(E), t.plain.astype(W), t.plain.astype(E), t.link.astype(W), t.first,
                  t.hours, t.days)
        return run(tables, t.starts, trials, seed)

    return simulate
