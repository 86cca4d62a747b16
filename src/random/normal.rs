//! Standard normal numbers by the ziggurat method: Marsaglia & Tsang (2000), Journal of Statistical Software 5(8), in the form
//! of Doornik (2005), "An improved ziggurat method to generate normal random samples".

use std::sync::LazyLock;

use super::Stream;
use crate::math::{exp, ln};

/// Layers of equal area.
const LAYERS: usize = 256;
/// Where the lowest layer's tail begins, and what each layer holds: Marsaglia & Tsang (2000), for 256 layers.
const TAIL: f64 = 3.654_152_885_361_009;
const AREA: f64 = 0.004_928_673_233_99;

struct Layers {
    /// Right edges, falling to 0; the lowest as wide as its area with the tail is.
    edges: [f64; LAYERS + 1],
    /// Height of the curve e^(−x²/2) there.
    heights: [f64; LAYERS + 1],
}

static TABLES: LazyLock<Layers> = LazyLock::new(|| {
    let curve = |x: f64| exp(-0.5 * x * x);
    let mut edges = [0.0; LAYERS + 1];
    (edges[0], edges[1]) = (AREA / curve(TAIL), TAIL);
    for k in 2..LAYERS {
        edges[k] = (-2.0 * ln(AREA / edges[k - 1] + curve(edges[k - 1]))).sqrt();
    }
    Layers { edges, heights: edges.map(curve) }
});

/// The next standard normal number of a stream.
#[inline]
pub fn next(stream: &mut Stream) -> f64 {
    let Layers { edges, heights } = &*TABLES;
    loop {
        let bits = stream.key();
        let layer = (bits & 0xff) as usize;
        // 52 bits as a number from -1 to 1.
        let u = f64::from_bits((bits >> 12) | 0x4000_0000_0000_0000) - 3.0;
        let x = u * edges[layer];
        if x.abs() < edges[layer + 1] {
            return x;
        }
        if layer == 0 {
            return tail(stream).copysign(u);
        }
        let height = heights[layer + 1] + (heights[layer] - heights[layer + 1]) * stream.uniform();
        if height < exp(-x * x / 2.0) {
            return x;
        }
    }
}

/// A number beyond the tail's beginning (Marsaglia 1964).
fn tail(stream: &mut Stream) -> f64 {
    // Never 0, so that the logarithm is a number.
    let mut open = || f64::from_bits((stream.key() >> 12) | 0x3ff0_0000_0000_0000) - (1.0 - f64::EPSILON / 2.0);
    loop {
        let (x, y) = (ln(open()) / TAIL, ln(open()));
        if -2.0 * y >= x * x {
            return TAIL - x;
        }
    }
}
