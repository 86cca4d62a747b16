"""What is served in an hour that cannot have everything, and how the sun grows in the first hours of light.

Written for NumPy's arrays; numba compiles the same text for a trial alone. docs/model.md, section 10, has the rules: nobody
foresees the moment at which the cells are empty, and sun that comes late in an hour does not help its beginning.
"""

import numpy as np

# For so long after the first light of a day the sun is followed within the hour [h].
FOLLOWED_H = 4
# Divides where the result is not used.
TINY = 1e-12


def choice(of, yes, no):
    """As `np.where`, of plain numbers."""
    return yes if of else no


def build(compiled=None):
    """The functions `grow`, `ahead` and `settle`, of arrays or as they are compiled."""
    choose = compiled(choice) if compiled else np.where
    compiled = compiled or (lambda function: function)

    @compiled
    def grow(before, mean, after):
        """Sun within an hour, from the means of three [W]: nothing for a share of it, then from a power on, by a slope."""
        ratio = choose(after > 0.0, mean / np.maximum(after, TINY), 1.0)
        lit = np.maximum(np.minimum(ratio + np.sqrt(ratio * ratio + ratio), 1.0), TINY)
        half = 0.5 * (before + mean)
        steady, first = mean <= before, before <= 0.0
        dark = choose(steady, 0.0, choose(first, 1.0 - lit, 0.0))
        start = choose(steady, mean, choose(first, 0.0, half))
        slope = choose(steady, 0.0, choose(first, 2.0 * mean / (lit * lit), 2.0 * (mean - half)))
        return dark, start, slope

    @compiled
    def ahead(dark, start, slope, bus):
        """The most that the cells have given at any moment, ahead of the sun, as a mean over the hour [W]."""
        over, lit = bus - start, 1.0 - dark
        until = choose(slope * lit > over, over / np.maximum(slope, TINY), lit)
        return choose(over <= 0.0, 0.0, dark * bus + (over - 0.5 * slope * until) * until)

    @compiled
    def lasting(dark, start, slope, bus, energy):
        """For which share of the hour the cells last."""
        over, left = bus - start, energy - dark * bus
        square = over * over - 2.0 * slope * left
        late = np.minimum(dark + 2.0 * left / np.maximum(over + np.sqrt(np.maximum(square, 0.0)), TINY), 1.0)
        late = choose(over <= 0.0, 1.0, choose(square < 0.0, 1.0, late))
        return choose(left < 0.0, energy / np.maximum(bus, TINY), late)

    @compiled
    def settle(dark, start, slope, energy, here, bus_at, asked_at):
        """Unmet energy, that of vital loads [Wh], and the mean power that the bus has [W].

        * `energy`: what the cells can let out, as a mean over the hour [W]; `here`: the hour's row of the table of demand, in which
          the columns from `bus_at` and `asked_at` on are of the three classes.
        """
        everything = here[bus_at + 2]
        lasts = lasting(dark, start, slope, everything, energy)
        # Once the cells are empty there is the rest of the sun alone.
        left, lit = np.maximum(1.0 - lasts, TINY), np.maximum(lasts - dark, 0.0)
        dark, start, slope = np.maximum(dark - lasts, 0.0) / left, start + slope * lit, slope * left
        flow = (start + 0.5 * slope * (1.0 - dark)) * (1.0 - dark)
        whole, below, missed, vital, bus = 1.0, 0.0, 0.0, 0.0, everything
        for c in range(3):
            upto = here[bus_at + c]
            lacks = ahead(dark, start, slope, upto)
            there = choose(lacks > 0.0, np.maximum(np.minimum(flow, upto - lacks), 0.0), flow)
            fits = upto <= there
            part = choose(fits, 1.0, np.maximum((there - below) / max(upto - below, 1e-9), 0.0))
            lacking = here[asked_at + c] * (1.0 - lasts) * (1.0 - part * whole)
            missed = missed + lacking
            vital = vital + (lacking if c == 0 else 0.0)
            bus = choose(fits, bus, choose(whole > 0.0, there, bus))
            whole = choose(fits, whole, 0.0)
            below = upto
        return missed, vital, lasts * everything + (1.0 - lasts) * bus

    return grow, ahead, settle
