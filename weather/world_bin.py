"""Read world.bin and interpolate it as src/weather/world.rs does, for the fitting scripts. pip install numpy."""

import zlib
from pathlib import Path

import numpy as np

from build_world import LAPSE_K_PER_M, LEVELS

MEAN_STEP = 0.002           # of the stored mean clearness; 0 where there is none
LAND_BYTES = 721 * 1440 // 8


def base_payload(path):
    """The payload without the monthly means: what build_world.py wrote, but for the version."""
    data = zlib.decompress(Path(path).read_bytes())
    _, levels, cells, nodes, _ = np.frombuffer(data, "<u2", 5, 8).tolist()
    return data[:18 + 2 * cells + 2 * levels * 12 * cells + 29 * nodes + LAND_BYTES]


def plain(data, at, count):
    """16-bit values, low bytes before high bytes; and where they end."""
    low = np.frombuffer(data, np.uint8, count, at).astype(np.int64)
    return low + (np.frombuffer(data, np.uint8, count, at + count).astype(np.int64) << 8), at + 2 * count


def differences(data, at, count):
    """16-bit values stored as differences, the sign in the lowest bit; and where they end."""
    coded, end = plain(data, at, count)
    return (np.cumsum((coded >> 1) ^ -(coded & 1)) & 0xFFFF).astype(np.uint16), end


def land_mask(path=Path(__file__).with_name("world.bin")):
    """Whether boxes of 0.25 degrees hold land: 721 rows from 90 S, 1440 columns from 180 W."""
    data = zlib.decompress(Path(path).read_bytes())
    at = len(data) - 24 * int(np.frombuffer(data, "<u2", 5, 8)[3]) - LAND_BYTES
    return np.unpackbits(np.frombuffer(data, np.uint8, LAND_BYTES, at)).reshape(721, 1440)


class World:
    """The unpacked table."""

    def __init__(self, path=Path(__file__).with_name("world.bin")):
        data = zlib.decompress(Path(path).read_bytes())
        assert data[:8] == b"TIDEWRLD"
        version, levels, cells, nodes, _ = np.frombuffer(data, "<u2", 5, 8).tolist()
        assert version in (4, 5) and levels == len(LEVELS)
        rows, columns = np.frombuffer(data, np.uint8, 2 * cells, 18).reshape(2, cells).astype(int)
        rises, at = plain(data, 18 + 2 * cells, levels * 12 * cells)
        steps = np.cumsum(rises.reshape(cells, 12, levels), axis=2)
        self.sun = {(3.0 * r - 90.0, 3.0 * c - 180.0): 0.002 * s for r, c, s in zip(rows, columns, steps)}
        node_rows = np.frombuffer(data, np.uint8, nodes, at).astype(int)
        lon, at = differences(data, at + nodes, nodes)
        height, at = differences(data, at, nodes)
        change, at = differences(data, at, 12 * nodes)
        tenths = np.cumsum(change.reshape(12, nodes), axis=0, dtype=np.uint64).astype(np.uint16).astype(np.int16).T
        self.air = {(float(r - 90), float(x)): (float(h), 0.1 * t) for r, x, h, t in
                    zip(node_rows, lon.astype(np.int16), height.astype(np.int16), tenths)}
        self.means = {}
        if version == 5:
            change, at = differences(data, at + LAND_BYTES, 12 * nodes)
            steps = np.cumsum(change.reshape(12, nodes), axis=0, dtype=np.uint64).astype(np.uint16).T
            self.means = dict(zip(self.air, MEAN_STEP * steps))
            assert at == len(data)

    @staticmethod
    def corners(grid, step, latitude_deg, longitude_deg):
        """The grid's entries around a place with weights that sum to 1."""
        south, west = np.floor(latitude_deg / step) * step, np.floor(longitude_deg / step) * step
        up, right = (latitude_deg - south) / step, (longitude_deg - west) / step
        found = []
        for lat, wy in ((south, 1.0 - up), (south + step, up)):
            for lon, wx in ((west, 1.0 - right), (west + step, right)):
                entry = grid.get((lat, (lon + 180.0) % 360.0 - 180.0))
                if entry is not None and 0.0 < wy * wx:
                    found.append((entry, wy * wx))
        total = sum(weight for _, weight in found)
        return [(entry, weight / total) for entry, weight in found]

    def clearness(self, latitude_deg, longitude_deg):
        """Raw clearness, 12 months x levels."""
        return sum(entry * weight for entry, weight in self.corners(self.sun, 3.0, latitude_deg, longitude_deg))

    def mean_clearness(self, latitude_deg, longitude_deg):
        """Twelve means of the layer, NaN where it has none."""
        corners = self.corners(self.means, 1.0, latitude_deg, longitude_deg)
        total = sum(weight * (mean > 0.0) for mean, weight in corners)
        return np.where(total > 0.0, sum(weight * mean for mean, weight in corners) / np.maximum(total, 1e-9), np.nan)

    def air_c(self, latitude_deg, longitude_deg, height_m=None):
        """Twelve monthly means at a height, or at the mean height of the land around."""
        corners = self.corners(self.air, 1.0, latitude_deg, longitude_deg)
        around = sum(h * weight for (h, _), weight in corners)
        sea = sum((t + LAPSE_K_PER_M * h) * weight for (h, t), weight in corners)
        return sea - LAPSE_K_PER_M * (around if height_m is None else height_m)


def mean_below(quantiles, top=1.0):
    """Mean of the distribution up to a probability, its quantile function linear between LEVELS."""
    total = 0.0
    for k in range(1, len(LEVELS)):
        low, high = LEVELS[k - 1], min(LEVELS[k], top)
        if low < high:
            slope = (quantiles[k] - quantiles[k - 1]) / (LEVELS[k] - low)
            total += (high - low) * (quantiles[k - 1] + 0.5 * slope * (high - low))
    return total / top
