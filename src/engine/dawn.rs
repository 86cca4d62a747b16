//! Sun that comes late within a step.
//!
//! A step's sun is known as its mean. In the hours after sunrise that hides something: what is asked for before the light is there
//! must come out of the cells, and where they are empty by then, no sun of the same hour brings it back. Within such a step
//! the light is taken to be nothing for a while and then to grow evenly, so that its mean is kept and the hours before and after are
//! met.

/// For so long after the first light of a day the sun is followed within the step \[h\].
pub(super) const FOLLOWED_H: f64 = 4.0;

/// How the sun grows within a step: nothing for a share of it, then from a power on, evenly.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub(super) struct Dawn {
    dark: f64,
    from_w: f64,
    slope_w: f64,
}

impl Dawn {
    /// From the mean powers of the step before, of this and of the next \[W\].
    ///
    /// With nothing before, light that grows evenly from a moment on, for a share u of this step and through the next, has
    /// means s u²/2 and s u + s/2, whose ratio r gives u = r + √(r² + r). Otherwise it grows from half way between the steps'
    /// means; where it does not grow it is steady.
    pub(super) fn new(before_w: f64, mean_w: f64, after_w: f64) -> Dawn {
        if mean_w <= before_w {
            return Dawn { dark: 0.0, from_w: mean_w, slope_w: 0.0 };
        }
        if before_w > 0.0 {
            let from_w = 0.5 * (before_w + mean_w);
            return Dawn { dark: 0.0, from_w, slope_w: 2.0 * (mean_w - from_w) };
        }
        let ratio = if after_w > 0.0 { mean_w / after_w } else { 1.0 };
        let lit = (ratio + (ratio * ratio + ratio).sqrt()).min(1.0);
        Dawn { dark: 1.0 - lit, from_w: 0.0, slope_w: 2.0 * mean_w / (lit * lit) }
    }

    /// The most that a steady power has taken out of the cells at any moment of the step, ahead of the sun, as a mean over the
    /// step \[W\]: no less than what the step's sun leaves to them.
    pub(super) fn ahead_w(&self, bus_w: f64) -> f64 {
        let over_w = bus_w - self.from_w;
        if over_w <= 0.0 {
            return 0.0;
        }
        let lit = 1.0 - self.dark;
        let until = if self.slope_w * lit > over_w { over_w / self.slope_w } else { lit };
        self.dark * bus_w + (over_w - 0.5 * self.slope_w * until) * until
    }
}

/// What the bus can have in a step, where it hangs on how much it is asked for \[W\].
#[derive(Debug, Clone, Copy)]
pub(super) struct Available<const B: usize> {
    /// The most: from cells, sun and wall.
    pub most_w: [f64; B],
    /// Of that, from the cells and from the wall.
    pub cells_w: [f64; B],
    pub wall_w: [f64; B],
    /// How the sun grows, where it is followed.
    pub dawn: Option<[Dawn; B]>,
}

impl<const B: usize> Available<B> {
    /// Where all of it is there for the whole step.
    pub(super) fn steadily(most_w: [f64; B]) -> Available<B> {
        Available { most_w, cells_w: [0.0; B], wall_w: [0.0; B], dawn: None }
    }

    /// What there is for so much \[W\]: what the cells cannot give ahead of the sun is missing, however much sun comes later.
    #[inline(always)]
    pub(super) fn of(&self, l: usize, bus_w: f64) -> f64 {
        let Some(dawn) = &self.dawn else { return self.most_w[l] };
        let lacks_w = dawn[l].ahead_w((bus_w - self.wall_w[l]).max(0.0)) - self.cells_w[l];
        if lacks_w > 0.0 { self.most_w[l].min(bus_w - lacks_w).max(0.0) } else { self.most_w[l] }
    }
}

#[cfg(test)]
mod tests {
    use super::Dawn;

    /// The deepest that the cells have been drawn, by a thousand small steps of the sun as it is described.
    fn deepest_w(bus_w: f64, dark: f64, from_w: f64, slope_w: f64) -> (f64, f64) {
        const N: usize = 100_000;
        let (mut sum, mut most, mut mean) = (0.0, 0.0_f64, 0.0);
        for k in 0..N {
            let t = (k as f64 + 0.5) / N as f64;
            let sun_w = if t < dark { 0.0 } else { from_w + slope_w * (t - dark) };
            mean += sun_w / N as f64;
            sum += (bus_w - sun_w) / N as f64;
            most = most.max(sum);
        }
        (most, mean)
    }

    #[test]
    fn the_deepest_draw_is_what_small_steps_add_up_to() {
        for (before_w, mean_w, after_w) in [
            (0.0, 10.0, 90.0),
            (0.0, 40.0, 100.0),
            (0.0, 1.0, 60.0),
            (0.0, 50.0, 20.0),
            (20.0, 60.0, 90.0),
            (60.0, 40.0, 10.0),
        ] {
            let dawn = Dawn::new(before_w, mean_w, after_w);
            for bus_w in [0.0, 1.0, 5.0, 20.0, 45.0, 70.0, 300.0] {
                let (most, mean) = deepest_w(bus_w, dawn.dark, dawn.from_w, dawn.slope_w);
                assert!((mean - mean_w).abs() < 1e-3 * mean_w, "{dawn:?}: a mean of {mean}");
                assert!((dawn.ahead_w(bus_w) - most).abs() < 2e-3 * bus_w.max(1.0), "{dawn:?}, {bus_w} W: {most}");
                assert!(dawn.ahead_w(bus_w) >= bus_w - mean_w - 1e-9);
            }
        }
        // Light that comes at half past grows through the next hour: means of slope times 1/8 and 1.
        let dawn = Dawn::new(0.0, 10.0, 80.0);
        assert!((dawn.dark - 0.5).abs() < 1e-12 && (dawn.slope_w - 80.0).abs() < 1e-9, "{dawn:?}");
    }
}
