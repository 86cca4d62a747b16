//! Whole civil days out of a record, and histories made of them.

mod gaps;

use super::bend::Drawn;
use super::doubt::Doubt;
use super::fit::INSTRUMENT_UNCERTAINTY;
use super::lanes::DaySky;
use super::record::{HourlyRecord, Reading, Stretch};
use super::sun::SkyTable;
use super::{Calendar, Opening, WeatherError};
use crate::calendar::{DAYS_A_YEAR, year_and_day};
use crate::random::Stream;
use crate::random::polynomials::exp;
use crate::random::real::Real;
use gaps::{LONGEST_AIR_GAP_MINUTES, LONGEST_SUN_GAP_MINUTES, bridge_air, bridge_sun};

/// Days to either side of the date from which stretches are taken: first choice, and where that finds none.
const WINDOWS: [usize; 2] = [7, 15];
/// Days of a stretch whose brightness tells it from others: outages last some days.
const STRETCH_DAYS: usize = 4;
/// Brightness of a stretch is cut here \[standard deviations of its season].
const BRIGHTEST_STRETCH: f64 = 2.5;
/// Stretches that a tilted choice refuses at most.
const MOST_REFUSED: usize = 200;
/// Attempts at finding a stretch that is long (and dark) enough.
const ATTEMPTS: usize = 400;

/// One civil day of a record.
#[derive(Debug, Clone)]
pub(super) struct RecordDay {
    /// Days since 1 January 1970.
    pub number: i64,
    /// Day of the year, 0 to 364.
    pub day: usize,
    /// Clearness \[–\]; NaN where the sun has unbridged gaps or does not rise.
    pub clearness: f64,
    /// Whole in everything that is needed.
    pub usable: bool,
    /// Usable days in a row that begin here.
    run: usize,
    /// Share of the season's days (15 days to either side, all years) that are darker, 0..1.
    rank: f64,
    /// How bright the stretch of days is that begins here, in standard deviations of the season's, within [`BRIGHTEST_STRETCH`].
    stretch: f64,
}

/// How a record is cut into days.
struct Cut<'a> {
    calendar: &'a Calendar,
    sky: &'a SkyTable,
    /// Step of the record \[min\].
    step: usize,
    needs_air: bool,
}

/// The days of a record on the steps of a calendar.
#[derive(Debug, Clone)]
pub(super) struct Days {
    steps: usize,
    pub days: Vec<RecordDay>,
    pub readings: Vec<Reading>,
    starts: Vec<Vec<u32>>,
    has_split: bool,
    /// See [`Days::lit`].
    lit: Vec<bool>,
    /// Steps of the record whose sun was bridged.
    pub bridged: usize,
}

impl Days {
    /// Cuts a record into civil days. Short gaps are bridged; days with longer ones are not usable.
    pub(super) fn new(
        record: &HourlyRecord,
        calendar: &Calendar,
        sky: &SkyTable,
        needs_air: bool,
    ) -> Result<Days, WeatherError> {
        let mut days = Days::cut(record, calendar, sky, needs_air);
        days.rank_and_run();
        days.brighten();
        days.lit = (0..365).flat_map(|day| sky.day(day).steps.iter().map(|light| *light > 0.0)).collect();
        for (day, readings) in days.days.iter().zip(days.readings.chunks_exact(days.steps)) {
            for (lit, reading) in days.lit[day.day * days.steps..].iter_mut().zip(readings) {
                *lit |= reading.ghi_w_m2 > 0.0;
            }
        }
        let usable = days.usable();
        let lacking = (0..365).find(|&day| days.candidates(day, WINDOWS[1]) == 0);
        match lacking {
            Some(day) => Err(WeatherError::NoDays { name: record.name().to_owned(), day: day as u32 + 1, usable }),
            None => Ok(days),
        }
    }

    /// What so few years leave open, of a place of which nothing else is taken to be known.
    pub(super) fn doubt(&self) -> Doubt {
        Doubt::of_replay(self.usable() as f64 / DAYS_A_YEAR, INSTRUMENT_UNCERTAINTY)
    }

    /// How many of the days are whole.
    pub(super) fn usable(&self) -> usize {
        self.days.iter().filter(|d| d.usable).count()
    }

    /// The civil days alone, for statistics: no demand on how many there are.
    pub(super) fn cut(record: &HourlyRecord, calendar: &Calendar, sky: &SkyTable, needs_air: bool) -> Days {
        let steps = sky.steps_per_day();
        let mut days = Days {
            steps,
            days: Vec::new(),
            readings: Vec::new(),
            starts: vec![Vec::new(); 365],
            has_split: record.has_split(),
            lit: Vec::new(),
            bridged: 0,
        };
        let how = Cut { calendar, sky, step: record.step_minutes() as usize, needs_air };
        for stretch in record.stretches() {
            days.cut_stretch(stretch, &how);
        }
        days
    }

    fn cut_stretch(&mut self, stretch: &Stretch, how: &Cut<'_>) {
        let step = how.step;
        let mut minutes = Vec::new();
        let mut readings = stretch.readings.clone();
        bridge_air(&mut readings, LONGEST_AIR_GAP_MINUTES / step);
        let end = stretch.start_minute + (readings.len() * step) as i64;
        let offset_of = |day: usize| i64::from(how.calendar.utc_offset_minutes[day]);
        let mut number = (stretch.start_minute + offset_of(0)).div_euclid(1440) - 1;
        loop {
            let (_, day) = year_and_day(number);
            let begin = number * 1440 - offset_of(day);
            if begin + 1440 > end {
                return;
            }
            if stretch.start_minute <= begin {
                let skipped = (begin - stretch.start_minute) as usize;
                // Cells of the record from the one that holds midnight to the one that holds the last minute.
                let lead = skipped % step;
                let cells = &readings[skipped / step..(skipped + 1440).div_ceil(step).min(readings.len())];
                how.sky.minutes(how.calendar, day, &mut minutes);
                self.push_day((number, day), cells, lead, &minutes, how);
            }
            number += 1;
        }
    }

    /// Adds one civil day from the cells that cover it; the first begins `lead` minutes before midnight.
    fn push_day(
        &mut self,
        (number, day): (i64, usize),
        cells: &[Reading],
        lead: usize,
        minutes: &[f64],
        how: &Cut<'_>,
    ) {
        let step = how.step;
        let light: Vec<f64> = (0..cells.len())
            .map(|cell| {
                let lit = |m: usize| minutes[(cell * step + m + 1440 - lead) % 1440];
                (0..step).map(lit).sum::<f64>() / step as f64
            })
            .collect();
        let mut cells = cells.to_vec();
        let bridged = bridge_sun(&mut cells, &light, LONGEST_SUN_GAP_MINUTES / step);
        let begin = self.readings.len();
        let width = 1440 / self.steps;
        if width == step && lead == 0 {
            self.readings.extend_from_slice(&cells);
        } else {
            for target in 0..self.steps {
                let mut sum = Reading { ghi_w_m2: 0.0, dni_w_m2: 0.0, dhi_w_m2: 0.0, air_c: 0.0 };
                for (minute, lit) in minutes.iter().enumerate().skip(target * width).take(width) {
                    let cell = (minute + lead) / step;
                    // Inside a cell the sun is spread like the light outside the atmosphere.
                    let share = if light[cell] > 0.0 { lit / light[cell] } else { 1.0 };
                    sum.ghi_w_m2 += cells[cell].ghi_w_m2 * share;
                    sum.dhi_w_m2 += cells[cell].dhi_w_m2 * share;
                    sum.dni_w_m2 += cells[cell].dni_w_m2;
                    sum.air_c += cells[cell].air_c;
                }
                let n = width as f64;
                self.readings.push(Reading {
                    ghi_w_m2: sum.ghi_w_m2 / n,
                    dni_w_m2: sum.dni_w_m2 / n,
                    dhi_w_m2: sum.dhi_w_m2 / n,
                    air_c: sum.air_c / n,
                });
            }
        }
        let of_day = &self.readings[begin..];
        let sum_wh_m2 = of_day.iter().map(|r| r.ghi_w_m2).sum::<f64>() * width as f64 / 60.0;
        let total_wh_m2 = how.sky.day(day).total_wh_m2;
        let clearness = if total_wh_m2 > 0.0 { sum_wh_m2 / total_wh_m2 } else { f64::NAN };
        let whole = !sum_wh_m2.is_nan() && (!how.needs_air || of_day.iter().all(|r| !r.air_c.is_nan()));
        // A day brighter than the clear sky is a fault of the record, except where there is hardly any light.
        let believable = total_wh_m2 < 200.0 || clearness <= 1.0;
        self.bridged += bridged;
        self.days.push(RecordDay {
            number,
            day,
            clearness,
            usable: whole && believable,
            run: 0,
            rank: 1.0,
            stretch: 0.0,
        });
    }

    fn rank_and_run(&mut self) {
        for k in (0..self.days.len()).rev() {
            let next = self.days.get(k + 1);
            let joined = next.is_some_and(|next| next.number == self.days[k].number + 1);
            let after = if joined { self.days[k + 1].run } else { 0 };
            let day = &mut self.days[k];
            if day.usable {
                day.run = after + 1;
                self.starts[day.day].push(k as u32);
            }
        }
        for starts in &mut self.starts {
            starts.reverse();
        }
        let mut season = Vec::new();
        for day in 0..365 {
            season.clear();
            for offset in 0..31 {
                let of_day = &self.starts[(day + 365 + offset - 15) % 365];
                season.extend(of_day.iter().map(|&k| self.days[k as usize].clearness).filter(|c| !c.is_nan()));
            }
            season.sort_by(f64::total_cmp);
            for index in 0..self.starts[day].len() {
                let k = self.starts[day][index] as usize;
                let clearness = self.days[k].clearness;
                let darker = season.partition_point(|&other| other < clearness);
                self.days[k].rank = if season.is_empty() { 0.0 } else { darker as f64 / season.len() as f64 };
            }
        }
    }

    /// Finds how bright the stretches are that begin on each day.
    fn brighten(&mut self) {
        let mean_of = |days: &[RecordDay], k: usize| {
            let run = days[k].run.clamp(1, STRETCH_DAYS);
            let lit = days[k..k + run].iter().map(|day| day.clearness).filter(|clearness| !clearness.is_nan());
            let (sum, count) = lit.fold((0.0, 0.0), |(sum, count), clearness| (sum + clearness, count + 1.0));
            if count > 0.0 { sum / count } else { f64::NAN }
        };
        let mut stretches = vec![0.0; self.days.len()];
        for day in 0..365 {
            let season = (0..31).flat_map(|offset| &self.starts[(day + 365 + offset - 15) % 365]);
            let means = season.map(|&k| mean_of(&self.days, k as usize)).filter(|mean| !mean.is_nan());
            let (sum, squares, count) =
                means.fold((0.0, 0.0, 0.0), |(s, q, n), mean| (s + mean, q + mean * mean, n + 1.0));
            let mean = sum / f64::max(count, 1.0);
            let sd = (squares / f64::max(count, 1.0) - mean * mean).max(0.0).sqrt();
            for &k in &self.starts[day] {
                let off = (mean_of(&self.days, k as usize) - mean) / sd;
                if off.is_finite() {
                    stretches[k as usize] = off.clamp(-BRIGHTEST_STRETCH, BRIGHTEST_STRETCH);
                }
            }
        }
        for (day, stretch) in self.days.iter_mut().zip(stretches) {
            day.stretch = stretch;
        }
    }

    /// Usable days within `window` days of a day of the year.
    fn candidates(&self, day: usize, window: usize) -> usize {
        (0..=2 * window).map(|k| self.starts[(day + 365 + k - window) % 365].len()).sum()
    }

    /// One of the usable days near `day`, each equally likely; `None` if there is none.
    fn pick(&self, day: usize, rng: &mut Stream) -> Option<usize> {
        let window = WINDOWS.into_iter().find(|&window| self.candidates(day, window) > 0)?;
        let count = self.candidates(day, window);
        let mut index = ((rng.uniform() * count as f64) as usize).min(count - 1);
        for k in 0..=2 * window {
            let starts = &self.starts[(day + 365 + k - window) % 365];
            match starts.get(index) {
                Some(&start) => return Some(start as usize),
                None => index -= starts.len(),
            }
        }
        None
    }

    /// As [`Days::pick`], brighter stretches e^tilt times as likely a standard deviation.
    fn pick_tilted(&self, day: usize, tilt: f64, rng: &mut Stream) -> Option<usize> {
        let mut picked = self.pick(day, rng)?;
        if tilt != 0.0 {
            for _ in 0..MOST_REFUSED {
                let kept = exp(tilt * self.days[picked].stretch - tilt.abs() * BRIGHTEST_STRETCH);
                if rng.uniform() < kept {
                    break;
                }
                picked = self.pick(day, rng)?;
            }
        }
        Some(picked)
    }

    /// A start near `day` with `days` usable days ahead, the first ones within their bands of the season; the best one met
    /// if none is found.
    fn find(&self, (day, tilt): (usize, f64), days: usize, told: &[(f64, f64)], rng: &mut Stream) -> Option<usize> {
        let mut best = None;
        let mut best_score = f64::NEG_INFINITY;
        for _ in 0..ATTEMPTS {
            let start = self.pick_tilted(day, tilt, rng)?;
            let run = self.days[start].run.min(days);
            let opening = &self.days[start..start + run.min(told.len())];
            let outside =
                opening.iter().zip(told).map(|(d, (low, high))| (d.rank - high).max(low - d.rank)).fold(0.0, f64::max);
            if run == days && outside <= 0.0 {
                return Some(start);
            }
            let score = run as f64 / days as f64 - 4.0 * outside;
            if best_score < score {
                (best, best_score) = (Some(start), score);
            }
        }
        best
    }

    /// The days of a history, real stretches one after the other.
    ///
    /// * `tilt` — of the climate on a day of the year.
    pub(super) fn stretches(
        &self,
        (first, days): (usize, usize),
        opening: &Opening,
        tilt: impl Fn(usize) -> f64,
        rng: &mut Stream,
    ) -> Vec<u32> {
        let (told, bands) = opening.told(days);
        let mut sources = Vec::with_capacity(days);
        while sources.len() < days {
            let done = sources.len();
            let begin = (first + done) % 365;
            // There are days near every day of the year.
            let Some(start) = self.find((begin, tilt(begin)), days - done, &bands[done.min(told)..told], rng) else {
                break;
            };
            let run = self.days[start].run.clamp(1, days - done);
            sources.extend(start as u32..(start + run) as u32);
        }
        sources
    }

    /// Whether the record has diffuse light of its own.
    pub(super) fn has_split(&self) -> bool {
        self.has_split
    }

    /// Whether there can be light in each step of a day of the year: in the model of the sun, or in the record of that date.
    pub(super) fn lit(&self, day: usize) -> &[bool] {
        &self.lit[day * self.steps..(day + 1) * self.steps]
    }

    /// Puts a record's day at a day of the year into a lane, bent by a drawn climate: where that is the best estimate, as it is
    /// on its own date, with the same clearness on another.
    pub(super) fn lay<R: Real, const L: usize>(
        &self,
        (day, source): (usize, usize),
        sky: &SkyTable,
        drawn: &Drawn,
        l: usize,
        out: &mut DaySky<R, L>,
    ) {
        let readings = &self.readings[source * self.steps..(source + 1) * self.steps];
        let from = self.days[source].day;
        let (there, here) = (sky.day(from), sky.day(day));
        let per_hour = sky.steps_per_hour();
        let moved = |step: usize| {
            if from == day {
                1.0
            } else if there.steps[step] > 5.0 {
                (here.steps[step] / there.steps[step]).min(2.0)
            } else {
                f64::from(u8::from(here.steps[step] > 0.0))
            }
        };
        let sum: f64 = readings.iter().enumerate().map(|(step, reading)| reading.ghi_w_m2 * moved(step)).sum();
        let wanted = self.days[source].clearness * here.total_wh_m2 * per_hour as f64;
        let kept = if from != day && sum > 0.0 && wanted.is_finite() { wanted / sum } else { 1.0 };
        let mut total = 0.0;
        for (step, reading) in readings.iter().enumerate() {
            let there_to_here = moved(step) * kept;
            let ghi = reading.ghi_w_m2 * there_to_here;
            let ceiling = here.ceiling[step / per_hour] * here.steps[step];
            let biased = (ghi * drawn.factor).min(ghi.max(ceiling));
            out.ghi_w_m2[step][l] = R::of(biased);
            if let Some(air_c) = out.told_air_c.get_mut(step) {
                air_c[l] = R::of(reading.air_c + drawn.air_k);
            }
            total += biased;
            if let Some(dhi) = out.dhi_w_m2.get_mut(step) {
                let bias = if ghi > 0.0 { biased / ghi } else { 1.0 };
                dhi[l] = R::of(reading.dhi_w_m2 * there_to_here * bias);
            }
        }
        let wh_m2 = total / per_hour as f64;
        out.clearness[l] = R::of(if here.total_wh_m2 > 0.0 { wh_m2 / here.total_wh_m2 } else { 0.0 });
    }
}

#[cfg(test)]
mod tests;
