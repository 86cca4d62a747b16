//! Openings as told: the first days lie in bands of their season's days.

use super::{Ask, Normals, State, Told};
use crate::random::real::Real;
use crate::statistics::normal_quantile;
use crate::weather::MOST_TOLD_DAYS;
use crate::weather::seasons::Seasons;

/// Attempts at an opening as told that are made side by side.
const ABREAST: usize = 16;
/// Rounds of attempts at an opening as told before the days are cut to their bands instead.
const ROUNDS: usize = 125;

/// The bands of clearness that the first days are told to lie in.
pub(super) struct Limits {
    told: usize,
    bands: [(f64, f64); MOST_TOLD_DAYS],
    link: f64,
}

impl Limits {
    /// * `link` — correlation of spells and air on the day before.
    pub(super) fn new(seasons: &Seasons, ask: &Ask, link: f64) -> Limits {
        let (_, mut bands) = ask.opening.told(ask.told);
        for (k, (low, high)) in bands.iter_mut().enumerate().take(ask.told) {
            let day = seasons.day((ask.first + k) % 365);
            *low = if *low > 0.0 { day.clearness_at_score(normal_quantile(low.max(1e-9))) } else { 0.0 };
            *high = day.clearness_at_score(normal_quantile(high.min(1.0 - 1e-9)));
        }
        Limits { told: ask.told, bands, link }
    }

    /// Draws one trial's opening until all of its days lie in their bands, and puts it into lane `l`.
    #[inline(always)]
    pub(super) fn open<R: Real, const L: usize>(
        &self,
        seasons: &Seasons,
        first: usize,
        key: u64,
        l: usize,
        (before, after, told): (&mut State<R, L>, &mut State<R, L>, &mut Told<R, L>),
    ) {
        let mut rng: Normals<ABREAST> = Normals::new(&std::array::from_fn(|lane| key ^ ((lane as u64 + 1) << 32)));
        let zero = [R::default(); ABREAST];
        let mut days = [(zero, zero); MOST_TOLD_DAYS];
        let bands = self.bands.map(|(low, high)| (R::of(low), R::of(high)));
        for round in 1..=ROUNDS {
            let start = State::start(&mut rng, self.link, 0.0);
            let mut state = start;
            let mut as_told = [true; ABREAST];
            for k in 0..self.told {
                let day = seasons.day((first + k) % 365);
                let (of_spells, own) = (day.shares[0].sqrt(), (1.0 - day.shares[0] - day.shares[1]).max(0.0).sqrt());
                let weights = (&[R::of(of_spells); ABREAST], &[R::of(own); ABREAST]);
                let clearness = day.clearness_lanes(&state.step(day, &mut rng, (0.0, 0.0), weights));
                for lane in 0..ABREAST {
                    as_told[lane] &= bands[k].0 <= clearness[lane] && clearness[lane] <= bands[k].1;
                }
                days[k] = (clearness, state.air);
            }
            if let Some(lane) = as_told.iter().position(|&told| told).or((round == ROUNDS).then_some(0)) {
                before.take(l, &start, lane);
                after.take(l, &state, lane);
                for k in 0..self.told {
                    let c = days[k].0[lane];
                    told[k].0[l] = if c < bands[k].0 {
                        bands[k].0
                    } else if bands[k].1 < c {
                        bands[k].1
                    } else {
                        c
                    };
                    told[k].1[l] = days[k].1[lane];
                }
                return;
            }
        }
    }
}
