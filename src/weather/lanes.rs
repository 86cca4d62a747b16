//! Stochastic days and hours for several trials side by side, one lane each.
//!
//! The trials of a block begin on the same day of the year, so that everything about day and hour is common to all lanes
//! and only luck differs. Nothing crosses from lane to lane, and a lane draws in an order that does not depend on how long
//! the histories are: a trial has the same weather alone as in company, and its days do not change with their number.

use super::seasons::{Day, Seasons};
use super::spells::normal_quantile;
use super::sun::{SkyDay, SkyTable, graham_hollands_spread};
use super::{Lean, Leaned, MOST_TOLD_DAYS, Opening, stochastic};
use crate::random::lanes::Lanes;
use crate::random::polynomials::{less, more};

/// Attempts at an opening as told that are made side by side.
const ABREAST: usize = 16;
/// Rounds of attempts at an opening as told before the days are cut to their bands instead.
const ROUNDS: usize = 125;

/// Days before a history over which the link between spells and air is built up.
const WARM_UP: usize = 5;

/// Weather of `L` trials. Reused from block to block, so that nothing is allocated once it has grown.
#[derive(Debug, Clone, PartialEq)]
pub struct Block<const L: usize> {
    /// Global horizontal irradiance \[W/m²\], by step from the first midnight on.
    pub ghi_w_m2: Vec<[f64; L]>,
    /// Clearness of each day \[–\].
    pub daily_clearness: Vec<[f64; L]>,
    /// Daily mean air temperature from the day before to the day after \[°C\].
    day_air_c: Vec<[f64; L]>,
    /// Range of each day's air temperature \[K\].
    swing_k: Vec<[f64; L]>,
}

impl<const L: usize> Default for Block<L> {
    fn default() -> Block<L> {
        Block { ghi_w_m2: Vec::new(), daily_clearness: Vec::new(), day_air_c: Vec::new(), swing_k: Vec::new() }
    }
}

impl<const L: usize> Block<L> {
    /// Forgets what was there.
    pub(super) fn begin(&mut self) {
        self.ghi_w_m2.clear();
        self.daily_clearness.clear();
        self.day_air_c.clear();
        self.swing_k.clear();
    }

    /// Adds a day's mean air temperature, from its score; the first is that of the day before the histories.
    #[inline(always)]
    pub(super) fn push_air(&mut self, day: &Day, score: &[f64; L]) {
        let mut air_c = [0.0; L];
        for l in 0..L {
            air_c[l] = day.air_mean_c + day.air_sd_k * score[l];
        }
        self.day_air_c.push(air_c);
    }

    /// Adds the range of a day's air temperature: a clear day swings more than a dull one, in proportion between half and
    /// half again the month's mean.
    #[inline(always)]
    pub(super) fn push_swing(&mut self, day: &Day, clearness: &[f64; L]) {
        let per_mean = 1.0 / day.mean_clearness.max(0.05);
        let mut swing = [0.0; L];
        for l in 0..L {
            swing[l] = day.air_swing_k * less(more(0.3 + 0.7 * (clearness[l] * per_mean), 0.4), 1.6);
        }
        self.swing_k.push(swing);
    }

    /// Air temperature \[°C\] in one step of a day.
    ///
    /// * `middle` — middle of the step as a share of the day, -0.5 to 0.5; `shape` — the day's course there.
    #[inline(always)]
    pub(super) fn air_c(&self, day: usize, middle: f64, shape: f64) -> [f64; L] {
        let now = &self.day_air_c[day + 1];
        let (from, to) = if middle < 0.0 { (&self.day_air_c[day], now) } else { (now, &self.day_air_c[day + 2]) };
        let swing = &self.swing_k[day];
        let mut out = [0.0; L];
        for l in 0..L {
            out[l] = now[l] + middle * (to[l] - from[l]) + swing[l] * shape;
        }
        out
    }
}

/// The latent state of the weather: spells, slow part and air temperature.
#[derive(Debug, Clone, Copy)]
struct State<const L: usize> {
    spell: [f64; L],
    slow: [f64; L],
    air: [f64; L],
    /// The fresh number behind the last day's spell, and the day's own number.
    drawn: [[f64; L]; 2],
}

/// Standard normal numbers from lanes, one at a time.
struct Normals<const L: usize> {
    lanes: Lanes<L>,
    spare: Option<[f32; L]>,
}

impl<const L: usize> Normals<L> {
    #[inline(always)]
    fn new(keys: &[u64; L]) -> Normals<L> {
        Normals { lanes: Lanes::new(keys), spare: None }
    }

    #[inline(always)]
    fn draw(&mut self) -> [f32; L] {
        match self.spare.take() {
            Some(spare) => spare,
            None => {
                let (first, second) = self.lanes.normals();
                self.spare = Some(second);
                first
            }
        }
    }
}

impl<const L: usize> State<L> {
    /// The state on the day before a history, whose spells and air have correlation `link`; the slow part's number is drawn
    /// around the mean `slow`.
    #[inline(always)]
    fn start(luck: &mut Normals<L>, link: f64, slow: f64) -> State<L> {
        let (a, b, c) = (luck.draw(), luck.draw(), luck.draw());
        let rest = (1.0 - link * link).sqrt();
        let mut state = State { spell: [0.0; L], slow: [0.0; L], air: [0.0; L], drawn: [[0.0; L]; 2] };
        for l in 0..L {
            state.spell[l] = f64::from(a[l]);
            state.slow[l] = f64::from(b[l]) + slow;
            state.air[l] = link * f64::from(a[l]) + rest * f64::from(c[l]);
        }
        state
    }

    /// Steps to the next day, whose statistics are `day`; returns its latent score. Its spell's fresh number and its own
    /// number are drawn around the means `lean`.
    #[inline(always)]
    fn step(&mut self, day: &Day, luck: &mut Normals<L>, lean: (f64, f64)) -> [f64; L] {
        let (fresh, own, air) = (luck.draw(), luck.draw(), luck.draw());
        let b = day.air_persistence;
        let unit = (1.0 - b * b).sqrt();
        let [spells, sky, luck_of_air] = day.air_weights;
        for l in 0..L {
            let (fresh, own, air) = (f64::from(fresh[l]) + lean.0, f64::from(own[l]) + lean.1, f64::from(air[l]));
            (self.drawn[0][l], self.drawn[1][l]) = (fresh, own);
            self.spell[l] = day.phi * self.spell[l] + day.fresh * fresh;
            self.air[l] = b * self.air[l] + unit * (spells * fresh + sky * own + luck_of_air * air);
        }
        let shaped = day.shape.lanes(&self.spell);
        let [share, slow, rest] = day.weights;
        let mut z = [0.0; L];
        for l in 0..L {
            z[l] = share * shaped[l] + slow * self.slow[l] + rest * self.drawn[1][l];
        }
        z
    }

    /// Takes lane `l` from another state's lane `from`.
    fn take<const M: usize>(&mut self, l: usize, other: &State<M>, from: usize) {
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
type Told<const L: usize> = [([f64; L], [f64; L]); MOST_TOLD_DAYS];

/// What is asked of [`fill`], the same for all lanes.
#[derive(Debug, Clone, Copy)]
pub(super) struct Ask {
    /// Day of the year at whose midnight the histories begin.
    pub first: usize,
    /// Days of the longest.
    pub days: usize,
    /// How they begin.
    pub opening: Opening,
    /// Days that are told, [`Opening::told`] of each history's length.
    pub told: usize,
    /// Means of the days' numbers; not of the days told, which decide which attempts are kept.
    pub lean: Lean,
}

/// The bands of clearness that the first days are told to lie in.
struct Limits {
    told: usize,
    bands: [(f64, f64); MOST_TOLD_DAYS],
    link: f64,
}

impl Limits {
    fn new(seasons: &Seasons, ask: &Ask) -> Limits {
        let (_, mut bands) = ask.opening.told(ask.told);
        for (k, (low, high)) in bands.iter_mut().enumerate().take(ask.told) {
            let day = seasons.day((ask.first + k) % 365);
            *low = if *low > 0.0 { day.clearness_at_score(normal_quantile(low.max(1e-9))) } else { 0.0 };
            *high = day.clearness_at_score(normal_quantile(high.min(1.0 - 1e-9)));
        }
        Limits { told: ask.told, bands, link: link_before(seasons, ask.first) }
    }

    /// Draws one trial's opening until all of its days lie in their bands, and puts it into lane `l`.
    fn open<const L: usize>(
        &self,
        seasons: &Seasons,
        first: usize,
        key: u64,
        l: usize,
        (before, after, told): (&mut State<L>, &mut State<L>, &mut Told<L>),
    ) {
        let mut luck: Normals<ABREAST> = Normals::new(&std::array::from_fn(|lane| key ^ ((lane as u64 + 1) << 32)));
        let mut days: Told<ABREAST> = [([0.0; ABREAST], [0.0; ABREAST]); MOST_TOLD_DAYS];
        for round in 1..=ROUNDS {
            let start = State::start(&mut luck, self.link, 0.0);
            let mut state = start;
            let mut as_told = [true; ABREAST];
            for k in 0..self.told {
                let day = seasons.day((first + k) % 365);
                let clearness = day.clearness_lanes(&state.step(day, &mut luck, (0.0, 0.0)));
                for lane in 0..ABREAST {
                    as_told[lane] &= self.bands[k].0 <= clearness[lane] && clearness[lane] <= self.bands[k].1;
                }
                days[k] = (clearness, state.air);
            }
            if let Some(lane) = as_told.iter().position(|&told| told).or((round == ROUNDS).then_some(0)) {
                before.take(l, &start, lane);
                after.take(l, &state, lane);
                for k in 0..self.told {
                    told[k].0[l] = days[k].0[lane].clamp(self.bands[k].0, self.bands[k].1);
                    told[k].1[l] = days[k].1[lane];
                }
                return;
            }
        }
    }
}

/// Fills a block; returns what the first lane's days were made of, for importance sampling.
///
/// * `keys` — the luck of each lane; `systematic` — its factor on the sun \[–\].
#[inline(always)]
pub(super) fn fill<const L: usize>(
    seasons: &Seasons,
    sky: &SkyTable,
    ask: &Ask,
    keys: &[u64; L],
    systematic: &[f64; L],
    out: &mut Block<L>,
) -> Leaned {
    let n = sky.steps_per_day();
    out.begin();
    out.ghi_w_m2.resize(ask.days * n, [0.0; L]);
    let mut luck = Normals::new(keys);
    let limits = Limits::new(seasons, ask);
    let mut before = State::start(&mut luck, limits.link, if ask.told == 0 { ask.lean.slow } else { 0.0 });
    let mut leaned = Leaned { slow: (before.slow[0], ask.told == 0), ..Leaned::default() };
    let mut state = before;
    let mut told: Told<L> = [([0.0; L], [0.0; L]); MOST_TOLD_DAYS];
    if ask.told > 0 {
        for l in 0..L {
            limits.open(seasons, ask.first, keys[l], l, (&mut before, &mut state, &mut told));
        }
    }
    out.push_air(seasons.day((ask.first + 364) % 365), &before.air);
    for k in 0..=ask.days {
        let at = (ask.first + k) % 365;
        let day = seasons.day(at);
        let wanted = match told[..ask.told].get(k) {
            Some((clearness, air)) => {
                out.push_air(day, air);
                *clearness
            }
            None => {
                let z = state.step(day, &mut luck, ask.lean.days.get(k).copied().unwrap_or_default());
                if let Some(place) = leaned.days.get_mut(k).filter(|_| k < ask.days) {
                    *place = (state.drawn[0][0], state.drawn[1][0], true);
                }
                out.push_air(day, &state.air);
                day.clearness_lanes(&z)
            }
        };
        if k == ask.days {
            break;
        }
        let mut of_trial = [0.0; L];
        for l in 0..L {
            of_trial[l] = wanted[l] * systematic[l];
        }
        let mut hours = [[0.0; L]; 24];
        let how = stochastic::Disturbance::of(day);
        let reached =
            hourly_clearness((&day.profile, &day.ceiling), &sky.day(at), &of_trial, &how, || luck.draw(), &mut hours);
        let steps = out.ghi_w_m2[k * n..].iter_mut().zip(sky.day(at).steps);
        for (step, (ghi, light)) in steps.enumerate() {
            let clearness = &hours[step / sky.steps_per_hour()];
            for l in 0..L {
                ghi[l] = clearness[l] * light;
            }
        }
        out.push_swing(day, &reached);
        out.daily_clearness.push(reached);
    }
    leaned.slow.0 = state.slow[0];
    leaned
}

/// Draws the clearness of a day's hours from the course of the day and below its ceiling; returns the day's, which is the
/// wanted one unless the clear sky allows less.
#[inline(always)]
pub(super) fn hourly_clearness<const L: usize>(
    (profile, ceiling): (&[f64; 24], &[f64; 24]),
    sky: &SkyDay<'_>,
    wanted: &[f64; L],
    how: &stochastic::Disturbance,
    mut normals: impl FnMut() -> [f32; L],
    hours: &mut [[f64; L]; 24],
) -> [f64; L] {
    let (from, to) = sky.light;
    let mut day = [0.0; L];
    if to <= from {
        for l in 0..L {
            day[l] = less(more(wanted[l], 0.0), 1.0);
        }
        return day;
    }
    let mut spread = [0.0; L];
    for l in 0..L {
        spread[l] = graham_hollands_spread(wanted[l], how.cloudless) * how.spread;
    }
    let (mut memory, mut fresh) = (0.0, 1.0);
    let mut disturbance = [0.0; L];
    let (mut sum, mut brightest) = ([0.0; L], 0.0);
    for hour in from..to {
        let z = normals();
        let (light, profile, ceiling) = (sky.hours[hour], profile[hour], ceiling[hour]);
        let clearness = &mut hours[hour];
        for l in 0..L {
            disturbance[l] = memory * disturbance[l] + fresh * f64::from(z[l]);
            let mean = less(wanted[l] * profile, ceiling);
            // Cut to both sides alike, so that the mean course stays what it is.
            let room = less(0.9 * mean, ceiling - mean);
            let c = mean + less(more(spread[l] * disturbance[l], -room), room);
            clearness[l] = c;
            sum[l] += c * light;
        }
        brightest += ceiling * light;
        (memory, fresh) = (how.persistence, (1.0 - how.persistence * how.persistence).sqrt());
    }
    // Every hour is multiplied alike; what the ceiling cuts off comes back as the same share of the room that is left in
    // every hour. The day's sum is met exactly and no hour leaves its bounds.
    let (mut target, mut factor, mut reached) = ([0.0; L], [0.0; L], [0.0; L]);
    for l in 0..L {
        target[l] = less(more(wanted[l] * sky.total_wh_m2, 0.0), brightest);
        factor[l] = if 0.0 < sum[l] { target[l] / sum[l] } else { 0.0 };
        day[l] = target[l] / sky.total_wh_m2;
    }
    for hour in from..to {
        let (light, ceiling, clearness) = (sky.hours[hour], ceiling[hour], &mut hours[hour]);
        for l in 0..L {
            let c = less(clearness[l] * factor[l], ceiling);
            clearness[l] = c;
            reached[l] += c * light;
        }
    }
    let (mut share, mut any) = ([0.0; L], 0.0);
    for l in 0..L {
        let lacks = target[l] - reached[l];
        share[l] = if 1e-13 * target[l] < lacks && 0.0 < sum[l] { lacks / (brightest - reached[l]) } else { 0.0 };
        any += share[l];
    }
    if any > 0.0 {
        for hour in from..to {
            let (ceiling, clearness) = (ceiling[hour], &mut hours[hour]);
            for l in 0..L {
                clearness[l] += share[l] * (ceiling - clearness[l]);
            }
        }
    }
    day
}
