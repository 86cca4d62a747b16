//! Sun that comes late within a step.
//!
//! A step's sun is known as its mean. In the hours after sunrise that hides something: what is asked for before the light is there
//! must come out of the cells, and where they are empty by then, no sun of the same hour brings it back. Within such a step
//! the light is taken to be nothing for a while and then to grow evenly, so that its mean is kept and the hours before and after are
//! met.

use crate::random::polynomials::less;

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

    /// Its mean over the step \[W\].
    fn mean_w(&self) -> f64 {
        let lit = 1.0 - self.dark;
        (self.from_w + 0.5 * self.slope_w * lit) * lit
    }

    /// As the step begins \[W\].
    fn first_w(&self) -> f64 {
        if self.dark > 0.0 { 0.0 } else { self.from_w }
    }

    /// For which share of the step a steady power can be drawn before so much energy, as a mean over the step, is gone \[W\];
    /// all of it where the sun is there in time.
    fn lasts(&self, bus_w: f64, energy_w: f64) -> f64 {
        if energy_w < self.dark * bus_w {
            return energy_w / bus_w;
        }
        let over_w = bus_w - self.from_w;
        let left_w = energy_w - self.dark * bus_w;
        let most_w2 = over_w * over_w - 2.0 * self.slope_w * left_w;
        if over_w <= 0.0 || most_w2 < 0.0 {
            return 1.0;
        }
        // over u - slope u²/2 = left, the sooner of the two; written so that nothing is divided by no slope.
        (self.dark + 2.0 * left_w / (over_w + most_w2.sqrt())).min(1.0)
    }

    /// The sun of what is left of the step after a share of it, as a step of its own.
    fn after(&self, share: f64) -> Dawn {
        let left = 1.0 - share;
        if left <= 0.0 {
            let end_w = self.from_w + self.slope_w * (1.0 - self.dark);
            return Dawn { dark: 0.0, from_w: end_w, slope_w: 0.0 };
        }
        let lit = (share - self.dark).max(0.0);
        Dawn {
            dark: (self.dark - share).max(0.0) / left,
            from_w: self.from_w + self.slope_w * lit,
            slope_w: self.slope_w * left,
        }
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

/// What the bus can have in a step \[W\].
#[derive(Debug, Clone, Copy)]
pub(super) struct Available<const B: usize> {
    /// The most: from cells, sun and wall.
    pub most_w: [f64; B],
    /// Energy in the cells that can be let out, as a mean over the step.
    pub energy_w: [f64; B],
    /// The most that the cells give at any moment.
    pub gives_w: [f64; B],
    /// From sun and wall.
    pub flow_w: [f64; B],
    /// Of that, from the wall.
    pub wall_w: [f64; B],
    /// How the sun grows, where it is followed.
    pub dawn: Option<[Dawn; B]>,
}

impl<const B: usize> Available<B> {
    /// Nothing.
    pub(super) const fn none() -> Available<B> {
        let zero = [0.0; B];
        Available { most_w: zero, energy_w: zero, gives_w: zero, flow_w: zero, wall_w: zero, dawn: None }
    }

    /// What there is for so much \[W\]: what the cells cannot give ahead of the sun is missing, however much sun comes later.
    #[inline(always)]
    pub(super) fn of(&self, l: usize, bus_w: f64) -> f64 {
        let Some(dawn) = &self.dawn else { return self.most_w[l] };
        let cells_w = less(self.energy_w[l], self.gives_w[l]);
        let lacks_w = dawn[l].ahead_w((bus_w - self.wall_w[l]).max(0.0)) - cells_w;
        if lacks_w > 0.0 { self.most_w[l].min(bus_w - lacks_w).max(0.0) } else { self.most_w[l] }
    }

    /// While there is something in the cells.
    #[inline(always)]
    pub(super) fn while_cells_last(&self) -> Available<B> {
        let mut now = *self;
        for l in 0..B {
            if let Some(dawn) = &mut now.dawn {
                if self.gives_w[l] <= self.energy_w[l] {
                    // They last for the whole step.
                    continue;
                }
                // The sun comes later: at the beginning there is no more of it than this.
                let first_w = dawn[l].first_w();
                dawn[l] = Dawn { dark: 0.0, from_w: first_w, slope_w: 0.0 };
                now.flow_w[l] = self.wall_w[l] + first_w;
            }
            now.energy_w[l] = self.gives_w[l];
            now.most_w[l] = self.gives_w[l] + now.flow_w[l];
        }
        now
    }

    /// For which share of the step the cells last under so much \[W\].
    #[inline(always)]
    pub(super) fn lasts(&self, l: usize, bus_w: f64) -> f64 {
        let Some(dawn) = &self.dawn else {
            let drawn_w = bus_w - self.flow_w[l];
            return if self.energy_w[l] < drawn_w { self.energy_w[l] / drawn_w } else { 1.0 };
        };
        if self.gives_w[l] <= self.energy_w[l] { 1.0 } else { dawn[l].lasts(bus_w - self.wall_w[l], self.energy_w[l]) }
    }

    /// Once the cells are empty, for the rest of the step.
    ///
    /// * `after` — the share of the step that they lasted.
    #[inline(always)]
    pub(super) fn once_empty(&self, after: &[f64; B]) -> Available<B> {
        let mut rest = Available { flow_w: self.flow_w, wall_w: self.wall_w, dawn: self.dawn, ..Available::none() };
        if let Some(dawn) = &mut rest.dawn {
            for l in 0..B {
                dawn[l] = dawn[l].after(after[l]);
                rest.flow_w[l] = rest.wall_w[l] + dawn[l].mean_w();
            }
        }
        rest.most_w = rest.flow_w;
        rest
    }
}

#[cfg(test)]
mod tests {
    use super::{Available, Dawn};

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
        for dawn in [Dawn::new(0.0, 10.0, 90.0), Dawn::new(20.0, 60.0, 90.0), Dawn::new(60.0, 40.0, 10.0)] {
            for (bus_w, energy_w) in [(90.0, 20.0), (70.0, 5.0), (45.0, 3.0), (300.0, 100.0), (30.0, 1e4)] {
                // The first of many small steps by whose end the cells are empty; from there on the sun goes on as it was.
                const N: usize = 100_000;
                let sun_w = |t: f64| if t < dawn.dark { 0.0 } else { dawn.from_w + dawn.slope_w * (t - dawn.dark) };
                let moments = (0..N).map(|k| (k as f64 + 0.5) / N as f64);
                let drawn = moments.clone().scan(0.0, |sum, t| {
                    *sum += (bus_w - sun_w(t)) / N as f64;
                    Some(*sum)
                });
                let empty =
                    drawn.into_iter().position(|drawn_w| drawn_w > energy_w).map_or(1.0, |k| k as f64 / N as f64);
                let lasts = dawn.lasts(bus_w, energy_w);
                assert!((lasts - empty).abs() < 1e-4, "{dawn:?}, {bus_w} W of {energy_w}: {lasts}, {empty}");
                if lasts < 1.0 {
                    let rest = dawn.after(lasts);
                    let mean_w = moments.filter(|t| *t > lasts).map(sun_w).sum::<f64>() / N as f64 / (1.0 - lasts);
                    assert!(
                        (rest.mean_w() - mean_w).abs() < 1e-3 * mean_w.max(1.0) / (1.0 - lasts),
                        "{dawn:?}: {rest:?}"
                    );
                }
            }
        }
        // Light that comes at half past grows through the next hour: means of slope times 1/8 and 1.
        let dawn = Dawn::new(0.0, 10.0, 80.0);
        assert!((dawn.dark - 0.5).abs() < 1e-12 && (dawn.slope_w - 80.0).abs() < 1e-9, "{dawn:?}");
    }

    /// Cells of 30 W on average and 50 W at most, 10 W of the wall; dark for half of the step, then light that grows by 80 W a step.
    fn available(energy_w: f64, gives_w: f64, dawn: Option<Dawn>) -> Available<1> {
        Available {
            most_w: [100.0],
            energy_w: [energy_w],
            gives_w: [gives_w],
            flow_w: [20.0],
            wall_w: [10.0],
            dawn: dawn.map(|dawn| [dawn]),
        }
    }

    const LATE: Dawn = Dawn { dark: 0.5, from_w: 0.0, slope_w: 80.0 };

    #[test]
    fn what_the_cells_cannot_give_ahead_of_the_sun_is_missing() {
        let of = |now: &Available<1>, bus_w: f64| now.of(0, bus_w);
        // 60 W are 50 of the cells: 25 before the light and (50 - 20) / 2 in it, 40 W ahead of the sun, 10 more than there are.
        let late = available(30.0, 50.0, Some(LATE));
        assert!((of(&late, 60.0) - 50.0).abs() < 1e-12);
        assert!((of(&available(30.0, 20.0, Some(LATE)), 60.0) - 40.0).abs() < 1e-12);
        assert!((of(&available(39.0, 50.0, Some(LATE)), 60.0) - 59.0).abs() < 1e-12);
        assert_eq!(of(&Available { most_w: [45.0], ..late }, 60.0), 45.0);
        // 40 W are 30 of the cells: 15 before the light, 30² / 160 in it; and what the wall gives the cells need not.
        assert_eq!([of(&late, 40.0), of(&late, 5.0), of(&available(30.0, 50.0, None), 60.0)], [100.0; 3]);
        assert!((of(&available(20.0, 50.0, Some(LATE)), 40.0) - 39.375).abs() < 1e-12);
    }

    #[test]
    fn until_the_cells_are_empty_and_after_is_worked_out_apart() {
        let steady = Dawn { dark: 0.0, from_w: 15.0, slope_w: 30.0 };
        // While they last, what they give at a time counts, and of the sun what there is at first.
        let now = available(30.0, 50.0, None).while_cells_last();
        assert_eq!((now.energy_w, now.flow_w, now.most_w), ([50.0], [20.0], [70.0]));
        for (dawn, first_w) in [(LATE, 0.0), (steady, 15.0)] {
            let now = available(30.0, 50.0, Some(dawn)).while_cells_last();
            assert_eq!((now.energy_w, now.flow_w, now.most_w), ([50.0], [10.0 + first_w], [60.0 + first_w]));
            assert_eq!(now.dawn, Some([Dawn { dark: 0.0, from_w: first_w, slope_w: 0.0 }]));
            // Cells that last for the whole step are left as they are.
            let lasts = available(50.0, 50.0, Some(dawn)).while_cells_last();
            assert_eq!((lasts.energy_w, lasts.flow_w, lasts.most_w), ([50.0], [20.0], [100.0]));
            assert_eq!(lasts.dawn, Some([dawn]));
        }
        // 80 W are 60 beside the flow: 30 last half of the step.
        let lasts = |energy_w: f64, dawn: Option<Dawn>, bus_w: f64| available(energy_w, 50.0, dawn).lasts(0, bus_w);
        assert_eq!([lasts(30.0, None, 80.0), lasts(60.0, None, 80.0), lasts(30.0, None, 10.0)], [0.5, 1.0, 1.0]);
        // Before the light 10 of 50 W: a fifth of it; where it is all they can give they last.
        assert_eq!([lasts(10.0, Some(LATE), 60.0), lasts(50.0, Some(LATE), 600.0)], [0.2, 1.0]);
        let empty = available(30.0, 50.0, None).once_empty(&[0.5]);
        assert_eq!((empty.energy_w, empty.gives_w, empty.flow_w, empty.most_w), ([0.0], [0.0], [20.0], [20.0]));
        // Empty as the light begins: 40 W at the end, 20 on average, beside the wall.
        let empty = available(30.0, 50.0, Some(LATE)).once_empty(&[0.5]);
        assert_eq!((empty.flow_w, empty.most_w, empty.wall_w), ([30.0], [30.0], [10.0]));
    }
}
