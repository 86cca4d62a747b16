//! Stochastic days and hours for several trials side by side, one lane each, a day at a time.
//!
//! The trials of a sequence begin on the same day of the year, so that everything about day and hour is common to all
//! lanes and only chance differs. Nothing crosses from lane to lane, and a lane draws in an order that does not depend on how
//! long the histories are: a trial has the same weather alone as in company, and its days do not change with their number.

mod days;
mod hours;
mod opening;

pub(crate) use days::Days;
pub(super) use days::{Asked, Known, Replayed, flatten};
use hours::Draw;
pub(super) use hours::{Disturbance, Single, hourly_clearness};

use super::bend::{self, Climates};
use super::seasons::{Day, Seasons};
use super::sun::SkyTable;
use super::{Lean, Leaned, Opening};
use crate::random::lanes::Lanes;
use crate::random::polynomials::{less, more};
use crate::random::real::Real;
use opening::Limits;

/// Days before a history over which the link between spells and air is built up.
const WARM_UP: usize = 5;

/// One day of weather of `L` trials. Reused from day to day.
#[derive(Debug, Clone, PartialEq)]
pub struct DaySky<R, const L: usize> {
    /// Global horizontal irradiance \[W/m²\], by step.
    pub ghi_w_m2: Vec<[R; L]>,
    /// Diffuse horizontal irradiance \[W/m²\] by step where a record has it, not a number in steps in which it is missing;
    /// empty where none has.
    pub dhi_w_m2: Vec<[R; L]>,
    /// Steps in which there can be light in any history, so that nothing hangs on a lane's neighbours.
    pub lit: Vec<bool>,
    /// Clearness of the day \[–\].
    pub clearness: [R; L],
    /// Air temperature by step \[°C\] where it is told; empty where it follows from the days'.
    pub(super) told_air_c: Vec<[R; L]>,
    /// Mean air temperature of the day before, the day and the day after \[°C\].
    air_c: [[R; L]; 3],
    /// Range of the day's air temperature \[K\].
    swing_k: [R; L],
    /// Clearness of the hours of the day, where there is light.
    hours: [[R; L]; 24],
}

impl<R: Real, const L: usize> Default for DaySky<R, L> {
    fn default() -> DaySky<R, L> {
        let zero = [R::default(); L];
        DaySky {
            ghi_w_m2: Vec::new(),
            dhi_w_m2: Vec::new(),
            lit: Vec::new(),
            clearness: zero,
            told_air_c: Vec::new(),
            air_c: [zero; 3],
            swing_k: zero,
            hours: [zero; 24],
        }
    }
}

impl<R: Real, const L: usize> DaySky<R, L> {
    /// Sets the air of a day from the scores of the day before, the day and the day after.
    ///
    /// * `warmer_k` — the drawn climates' air above the best estimate's \[K].
    #[inline(always)]
    pub(super) fn set_air(&mut self, days: [&Day; 3], scores: [&[R; L]; 3], warmer_k: &[R; L]) {
        for ((air_c, day), score) in self.air_c.iter_mut().zip(days).zip(scores) {
            let (mean, sd) = (R::of(day.air_mean_c), R::of(day.air_sd_k));
            for l in 0..L {
                air_c[l] = mean + sd * score[l] + warmer_k[l];
            }
        }
        // A clear day swings more than a dull one, in proportion between half and half again the month's mean.
        let day = days[1];
        let per_mean = R::of(1.0 / day.mean_clearness.max(0.05));
        let (still, moved, least, most) = (R::of(0.3), R::of(0.7), R::of(0.4), R::of(1.6));
        let mean = R::of(day.air_swing_k);
        for l in 0..L {
            self.swing_k[l] = mean * less(more(still + moved * (self.clearness[l] * per_mean), least), most);
        }
    }

    /// Air temperature \[°C\] in one step of the day.
    ///
    /// * `middle` — middle of the step as a share of the day, -0.5 to 0.5; `shape` — the day's course there.
    #[inline(always)]
    pub(super) fn air_c(&self, step: usize, (middle, shape): (f64, f64)) -> [R; L] {
        if let Some(told) = self.told_air_c.get(step) {
            return *told;
        }
        let [before, now, after] = &self.air_c;
        let (from, to) = if middle < 0.0 { (before, now) } else { (now, after) };
        let (middle, shape) = (R::of(middle), R::of(shape));
        let mut out = [R::default(); L];
        for l in 0..L {
            out[l] = now[l] + middle * (to[l] - from[l]) + self.swing_k[l] * shape;
        }
        out
    }
}

/// The latent state of the weather: spells, slow part and air temperature.
#[derive(Debug, Clone, Copy)]
struct State<R, const L: usize> {
    spell: [R; L],
    slow: [R; L],
    air: [R; L],
    /// The fresh number behind the last day's spell, and the day's own number.
    drawn: [[R; L]; 2],
}

/// Standard normal numbers from lanes, one at a time.
#[derive(Debug)]
struct Normals<const L: usize> {
    lanes: Lanes<L>,
    pair: [[f32; L]; 2],
    /// Which of the pair was given out last.
    last: usize,
}

impl<const L: usize> Normals<L> {
    #[inline(always)]
    fn new(keys: &[u64; L]) -> Normals<L> {
        Normals { lanes: Lanes::new(keys), pair: [[0.0; L]; 2], last: 1 }
    }
}

impl<const L: usize> Draw<L> for Normals<L> {
    #[inline(always)]
    fn draw(&mut self) -> &[f32; L] {
        self.last ^= 1;
        if self.last == 0 {
            let [first, second] = &mut self.pair;
            self.lanes.normals(first, second);
        }
        &self.pair[self.last]
    }
}

impl<R: Real, const L: usize> State<R, L> {
    /// The state on the day before a history, whose spells and air have correlation `link`; the slow part's number is drawn
    /// around the mean `slow`.
    #[inline(always)]
    fn start(rng: &mut Normals<L>, link: f64, slow: f64) -> State<R, L> {
        let (a, b, c) = (*rng.draw(), *rng.draw(), *rng.draw());
        let (link, rest, slow) = (R::of(link), R::of((1.0 - link * link).sqrt()), R::of(slow));
        let zero = [R::default(); L];
        let mut state = State { spell: zero, slow: zero, air: zero, drawn: [zero; 2] };
        for l in 0..L {
            state.spell[l] = R::of_single(a[l]);
            state.slow[l] = R::of_single(b[l]) + slow;
            state.air[l] = link * R::of_single(a[l]) + rest * R::of_single(c[l]);
        }
        state
    }

    /// Steps to the next day, whose statistics are `day`; returns its latent score. Its spell's fresh number and its own
    /// number are drawn around the means `lean`.
    #[inline(always)]
    fn step(
        &mut self,
        day: &Day,
        rng: &mut Normals<L>,
        lean: (f64, f64),
        (of_spells, of_own): (&[R; L], &[R; L]),
    ) -> [R; L] {
        let (fresh, own, air) = (*rng.draw(), *rng.draw(), *rng.draw());
        let b = day.air_persistence;
        let (unit, b) = (R::of((1.0 - b * b).sqrt()), R::of(b));
        let [spells, sky, rng_of_air] = day.air_weights.map(R::of);
        let (lean_fresh, lean_own) = (R::of(lean.0), R::of(lean.1));
        let (phi, of_fresh) = (R::of(day.phi), R::of(day.fresh));
        for l in 0..L {
            let (fresh, own) = (R::of_single(fresh[l]) + lean_fresh, R::of_single(own[l]) + lean_own);
            (self.drawn[0][l], self.drawn[1][l]) = (fresh, own);
            self.spell[l] = phi * self.spell[l] + of_fresh * fresh;
            let rng = spells * fresh + sky * own + rng_of_air * R::of_single(air[l]);
            self.air[l] = b * self.air[l] + unit * rng;
        }
        let shaped = day.shape.lanes(&self.spell);
        let slow: R = R::of(day.weights[1]);
        let mut z = [R::default(); L];
        for l in 0..L {
            z[l] = of_spells[l] * shaped[l] + slow * self.slow[l] + of_own[l] * self.drawn[1][l];
        }
        z
    }

    /// Takes lane `l` from another state's lane `from`.
    fn take<const M: usize>(&mut self, l: usize, other: &State<R, M>, from: usize) {
        (self.spell[l], self.slow[l], self.air[l]) = (other.spell[from], other.slow[from], other.air[from]);
    }
}

/// Correlation of spells and air on the day before a history that begins on day `first`: both run for some days before it,
/// beginning unrelated. Drawing the two at once from their joint distribution takes the place of drawing those days.
fn link_before(seasons: &Seasons, first: usize) -> f64 {
    (0..WARM_UP).fold(0.0, |link, k| {
        let day = seasons.day((first + 365 + k - WARM_UP) % 365);
        let b = day.air_persistence;
        day.phi * b * link + day.fresh * (1.0 - b * b).sqrt() * day.air_weights[0]
    })
}

/// Clearness and air score of the days of an opening.
type Told<R, const L: usize> = Vec<([R; L], [R; L])>;

/// What is asked of a [`Sequence`], the same for all lanes.
#[derive(Debug, Clone, Copy)]
pub(super) struct Ask {
    /// Day of the year at whose midnight the histories begin.
    pub first: usize,
    /// Days of the longest; of all of them where they lean.
    pub days: usize,
    /// How they begin.
    pub opening: Opening,
    /// Days that are told, [`Opening::told`] of each history's length.
    pub told: usize,
    /// Means of the days' numbers, where they lean; not of the days told, which decide which attempts are kept.
    pub lean: Option<Lean>,
}

/// Histories side by side, drawn day after day.
#[derive(Debug)]
pub struct Sequence<'a, R, const L: usize> {
    seasons: &'a Seasons,
    sky: &'a SkyTable,
    ask: Ask,
    /// The next day to be handed out, counted from the first.
    next: usize,
    rng: Normals<L>,
    state: State<R, L>,
    told: Told<R, L>,
    climates: Climates<'a, L>,
    /// The climates on the day in hand.
    climate: bend::Lanes<R, L>,
    /// Clearness of the next day, before the clear sky's ceiling.
    wanted: [R; L],
    /// Air scores of the day before the next and of the next.
    air: [[R; L]; 2],
    /// What each lane's days were made of; empty where they do not lean.
    leaned: Vec<Leaned>,
}

/// Every lane times a factor.
#[inline(always)]
fn times<R: Real, const L: usize>(of: &[R; L], factor: R, out: &mut [R; L]) {
    for l in 0..L {
        out[l] = of[l] * factor;
    }
}

impl<'a, R: Real, const L: usize> Sequence<'a, R, L> {
    /// Draws what comes before the first day.
    ///
    /// * `keys` — the chance of each lane; `climates` — its climate.
    #[inline(always)]
    pub(super) fn new(
        seasons: &'a Seasons,
        sky: &'a SkyTable,
        ask: &Ask,
        keys: &[u64; L],
        climates: Climates<'a, L>,
    ) -> Sequence<'a, R, L> {
        let mut rng = Normals::new(keys);
        let link = link_before(seasons, ask.first);
        let lean = ask.lean.unwrap_or_default();
        let mut before: State<R, L> = State::start(&mut rng, link, if ask.told == 0 { lean.slow } else { 0.0 });
        let mut state = before;
        let zero = [R::default(); L];
        let mut told: Told<R, L> = vec![(zero, zero); ask.told];
        if ask.told > 0 {
            let limits = Limits::new(seasons, ask, link);
            for l in 0..L {
                limits.open(seasons, ask.first, keys[l], l, (&mut before, &mut state, &mut told));
            }
        }
        let slow = |l: usize| Leaned { slow: (state.slow[l].wide(), ask.told == 0), ..Leaned::default() };
        let leaned = if ask.lean.is_some() { (0..L).map(slow).collect() } else { Vec::new() };
        let mut sequence = Sequence {
            seasons,
            sky,
            ask: *ask,
            next: 0,
            rng,
            state,
            told,
            climates,
            climate: bend::Lanes::new(&climates.on(ask.first)),
            wanted: zero,
            air: [zero, before.air],
            leaned,
        };
        sequence.draw_day();
        sequence
    }

    /// What each lane's days were made of, for importance sampling.
    pub(super) fn leaned(&self) -> &[Leaned] {
        &self.leaned
    }

    fn day_of_year(&self, k: usize) -> usize {
        (self.ask.first + k) % 365
    }

    /// Takes the climates of a day of the year in hand.
    #[inline(always)]
    fn climate_of(&mut self, day: usize) {
        if let Climates::Monthly(_) = self.climates {
            self.climate = bend::Lanes::new(&self.climates.on(day));
        }
    }

    /// Draws clearness and air score of day `next`.
    #[inline(always)]
    fn draw_day(&mut self) {
        let k = self.next;
        let at = self.day_of_year(k);
        let day = self.seasons.day(at);
        self.climate_of(at);
        self.air[0] = self.air[1];
        match self.told.get(k) {
            Some((clearness, air)) => (self.wanted, self.air[1]) = (*clearness, *air),
            None => {
                // The day after the last one only bears on the air of the last evening: it does not lean.
                let leans = k < self.ask.days;
                let lean =
                    self.ask.lean.and_then(|lean| lean.days.get(k).copied()).filter(|_| leans).unwrap_or_default();
                let (share, slow) = (day.shares[0], day.shares[1]);
                let (of_spells, own) = self.climate.weights(share, slow, day.share_per_change);
                let z = self.state.step(day, &mut self.rng, lean, (&of_spells, &own));
                for (l, leaned) in self.leaned.iter_mut().enumerate() {
                    if let Some(place) = leaned.days.get_mut(k).filter(|_| leans) {
                        *place = (self.state.drawn[0][l].wide(), self.state.drawn[1][l].wide(), true);
                    }
                }
                self.air[1] = self.state.air;
                self.wanted = day.clearness_lanes(&z);
            }
        }
    }

    /// The next day; may be asked for as often as there are days.
    #[inline(always)]
    pub fn next_day(&mut self, out: &mut DaySky<R, L>) {
        let k = self.next;
        let at = self.day_of_year(k);
        let (day, sky) = (self.seasons.day(at), self.sky.day(at));
        self.climate_of(at);
        let of_trial = self.climate.bend(&day.bend, &self.wanted);
        let warmer_k = *self.climate.air_k();
        let how = (&Disturbance::of(day), self.climate.unrest());
        let course = (&day.profile, &day.ceiling);
        out.clearness = hourly_clearness(course, &sky, &of_trial, how, &mut self.rng, &mut out.hours);
        out.ghi_w_m2.resize(sky.steps.len(), [R::default(); L]);
        out.dhi_w_m2.clear();
        out.told_air_c.clear();
        out.lit.clear();
        out.lit.extend(sky.steps.iter().map(|light| *light > 0.0));
        let a_hour = self.sky.steps_per_hour();
        let (from, to) = sky.light;
        for (hour, clearness) in out.hours.iter().enumerate() {
            let steps = hour * a_hour..(hour + 1) * a_hour;
            if hour < from || to <= hour {
                out.ghi_w_m2[steps].fill([R::default(); L]);
                continue;
            }
            for (ghi, light) in out.ghi_w_m2[steps.clone()].iter_mut().zip(&sky.steps[steps]) {
                times(clearness, R::of(*light), ghi);
            }
        }
        let days = [k + 364, k, k + 1].map(|k| self.seasons.day(self.day_of_year(k)));
        let (before, now) = (self.air[0], self.air[1]);
        self.next += 1;
        self.draw_day();
        out.set_air(days, [&before, &now, &self.air[1]], &warmer_k);
    }
}
