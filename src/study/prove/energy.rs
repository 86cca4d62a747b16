//! The energy of a run with everything that makes it uncertain (JCGM 100:2008, clauses 4 and 5).

use super::warnings::{Warning, Weakness};
use crate::math;
use crate::scenario::problem::Problem;
use crate::scenario::record::model::{Metered, ONE_READING, Reading, Run};

/// A step of a log this many times the usual one is a gap.
const GAP: f64 = 4.0;
/// Gaps above this share of the run make it useless.
const MOST_GAPS: f64 = 0.25;
/// A constant density between -a and a has the standard deviation a/√3 (JCGM 100:2008, 4.3.7).
const RECTANGLE: f64 = 0.577_350_269_189_625_8;
use crate::statistics::median;

/// One cause of doubt.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Cause {
    /// What it is.
    pub name: &'static str,
    /// What it adds to the standard uncertainty of the energy \[Wh\].
    pub standard_wh: f64,
}

/// A run's energy.
#[derive(Debug, Clone, PartialEq)]
pub struct Energy {
    /// Best estimate \[Wh\].
    pub wh: f64,
    /// How long it flowed \[h\].
    pub hours: f64,
    /// Standard uncertainty of that \[h\].
    pub hours_standard: f64,
    /// Causes of doubt that belong to this run alone.
    pub causes: Vec<Cause>,
    /// Standard uncertainty of the meter as a share of its reading; the same error in every run with that meter.
    pub gain_standard: f64,
    /// Warnings with the run's key.
    pub warnings: Vec<Warning>,
}

impl Energy {
    /// Standard uncertainty without the meter's own error \[Wh\].
    #[must_use]
    pub fn own_standard_wh(&self) -> f64 {
        self.causes.iter().map(|cause| cause.standard_wh * cause.standard_wh).sum::<f64>().sqrt()
    }

    /// Mean power \[W\].
    #[must_use]
    pub fn mean_w(&self) -> f64 {
        self.wh / self.hours
    }
}

/// Works out a run's energy.
///
/// * `key` — the run's dotted key, for warnings.
///
/// Power is taken to run straight from reading to reading, and to hold before the first and after the last. The meter's
/// limits are taken as a constant density (JCGM 100:2008, 4.3.7); so are its last digit and the clock.
///
/// # Errors
/// A log with more holes than readings can bridge.
pub fn energy(run: &Run, key: &str) -> Result<Energy, Box<Problem>> {
    let hours = run.lasted.0;
    let hours_standard = std::f64::consts::SQRT_2 * run.clock.0 * RECTANGLE;
    let mut warnings = Vec::new();
    let mut causes = Vec::new();
    let mut cause = |name, standard_wh: f64| {
        if standard_wh > 0.0 {
            causes.push(Cause { name, standard_wh });
        }
    };
    let digit = 0.5 * run.meter.last_digit.0 * RECTANGLE;
    let wh = match &run.metered {
        Metered::Counted(energy) => {
            cause("counter as stated", energy.standard());
            energy.value.0
        }
        Metered::Steady(watts) => {
            one_reading(&mut warnings, format!("{key}.load"), watts.0);
            cause("last digit", digit * hours);
            cause("clock", watts.0 * hours_standard);
            cause("one reading only", ONE_READING / crate::trials::interval::Z_95 * watts.0 * hours);
            watts.0 * hours
        }
        Metered::Readings(readings) => {
            let place = key.to_string();
            let wh = between_readings(readings, hours);
            let mean = wh / hours;
            cause("last digit", digit * hours);
            cause("clock", mean * hours_standard);
            if readings.len() == 1 {
                one_reading(&mut warnings, place, mean);
                cause("one reading only", ONE_READING / crate::trials::interval::Z_95 * mean * hours);
            } else {
                cause("between readings", scatter_w(readings) * hours / (readings.len() as f64).sqrt());
                let gaps = gaps_h(readings, hours);
                if MOST_GAPS * hours < gaps {
                    return Err(Box::new(
                        Problem::error(key, "has too many holes in its log")
                            .found(format!("{gaps:.2} h without readings out of {hours:.2} h"))
                            .allowed(format!("up to {:.0} % of the run", MOST_GAPS * 100.0))
                            .help("run the test again with the logger awake"),
                    ));
                }
                if gaps > 0.0 {
                    // The readings around a gap stand for it, as one reading does; what the load did elsewhere it may have done
                    // there.
                    let one = ONE_READING / crate::trials::interval::Z_95 * mean;
                    cause("gap in the log", gaps * math::hypot(one, 0.5 * usual_range_w(readings) * RECTANGLE));
                    warnings.push(Warning::new(place, Weakness::Gap { gap_h: gaps, plus_minus_share: ONE_READING }));
                }
            }
            wh
        }
    };
    Ok(Energy { wh, hours, hours_standard, causes, gain_standard: run.meter.accuracy.0 * RECTANGLE, warnings })
}

fn one_reading(warnings: &mut Vec<Warning>, key: String, watts: f64) {
    // With nothing plugged in there is nothing to read.
    if watts > 0.0 {
        warnings.push(Warning::new(key, Weakness::OneReading { watts, plus_minus_share: ONE_READING }));
    }
}

fn between_readings(readings: &[Reading], hours: f64) -> f64 {
    let (Some(first), Some(last)) = (readings.first(), readings.last()) else { return 0.0 };
    let ends = first.watts.0 * first.after.0 + last.watts.0 * (hours - last.after.0);
    let inner: f64 = readings
        .windows(2)
        .map(|pair| 0.5 * (pair[0].watts.0 + pair[1].watts.0) * (pair[1].after.0 - pair[0].after.0))
        .sum();
    ends + inner
}

/// Standard deviation of a reading about the straight line between its neighbours \[W\]: what a reading may miss. A slow
/// drift does not count; a load that cycles does.
fn scatter_w(readings: &[Reading]) -> f64 {
    if readings.len() < 3 {
        // Two readings: half their difference bounds what happened in between.
        return readings.windows(2).map(|pair| 0.5 * (pair[1].watts.0 - pair[0].watts.0).abs()).sum();
    }
    let squares: f64 = readings
        .windows(3)
        .map(|three| {
            let span = three[2].after.0 - three[0].after.0;
            let share = if span > 0.0 { (three[1].after.0 - three[0].after.0) / span } else { 0.5 };
            let line = three[0].watts.0 + share * (three[2].watts.0 - three[0].watts.0);
            // Independent errors of equal spread give the difference a variance of 1 + s² + (1 - s)² of one.
            math::powi(three[1].watts.0 - line, 2) / (1.0 + share * share + math::powi(1.0 - share, 2))
        })
        .sum();
    (squares / (readings.len() - 2) as f64).sqrt()
}

/// Between which powers nineteen of twenty readings lie \[W\]: the distance.
fn usual_range_w(readings: &[Reading]) -> f64 {
    let mut watts: Vec<f64> = readings.iter().map(|reading| reading.watts.0).collect();
    watts.sort_by(f64::total_cmp);
    // So many may lie outside at either end.
    let outside = (0.025 * watts.len() as f64).floor() as usize;
    watts[watts.len() - 1 - outside] - watts[outside]
}

/// Time within gaps \[h\], beyond the usual step each.
fn gaps_h(readings: &[Reading], hours: f64) -> f64 {
    let mut steps: Vec<f64> = readings.windows(2).map(|pair| pair[1].after.0 - pair[0].after.0).collect();
    steps.push(hours - readings.last().map_or(hours, |last| last.after.0));
    let usual = median(steps.clone());
    // What was missed before the first reading is as unknown as what was missed after the last.
    steps.push(readings.first().map_or(0.0, |first| first.after.0));
    steps.into_iter().filter(|step| GAP * usual < *step && usual > 0.0).map(|step| step - usual).sum()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::scenario::record::model::Meter;
    use crate::units::{Fraction, Hours, Uncertain, Watts};

    fn readings(of: &[(f64, f64)]) -> Vec<Reading> {
        of.iter().map(|&(after, watts)| Reading { after: Hours(after), watts: Watts(watts), charge: None }).collect()
    }

    /// What holds before the first and after the last, and runs straight between: 0.5 h of 40 W, 2 h of 50 W on the mean, 1 h
    /// of 30 W on the mean and 0.5 h of none.
    #[test]
    fn energy_is_the_area_under_the_readings() {
        let of = readings(&[(0.5, 40.0), (2.5, 60.0), (3.5, 0.0)]);
        assert!((between_readings(&of, 4.0) - (20.0 + 100.0 + 30.0)).abs() < 1e-12);
    }

    /// A straight drift has no scatter, however uneven its readings; of two readings it is half of their difference; and readings that
    /// jump by 2 a about a level are 2 a from the line between their neighbours, of variance 1 + 1/4 + 1/4 of one.
    #[test]
    fn scatter_is_about_the_line_between_neighbours() {
        assert!(scatter_w(&readings(&[(0.0, 100.0), (1.0, 90.0), (4.0, 60.0), (4.5, 55.0)])) < 1e-9);
        assert!((scatter_w(&readings(&[(0.0, 100.0), (1.0, 70.0)])) - 15.0).abs() < 1e-12);
        // Three have a middle one: on the line it misses nothing, 7 W off a line that it cuts in quarters 7 W by √(1 + 1/16 + 9/16).
        assert!(scatter_w(&readings(&[(0.0, 100.0), (1.0, 90.0), (4.0, 60.0)])) < 1e-9);
        let off = scatter_w(&readings(&[(0.0, 100.0), (1.0, 97.0), (4.0, 60.0)]));
        assert!((off - 7.0 / 1.625_f64.sqrt()).abs() < 1e-9, "{off}");
        // Two middle ones, 7 and 4 W off their lines: the mean of the squares.
        let two = scatter_w(&readings(&[(0.0, 100.0), (1.0, 97.0), (4.0, 60.0), (7.0, 31.0)]));
        let squares: [f64; 2] = [49.0 / 1.625, 16.0 / 1.5];
        assert!((two - (0.5 * (squares[0] + squares[1])).sqrt()).abs() < 1e-9, "{two}");
        let jumps: Vec<(f64, f64)> = (0..9).map(|k| (f64::from(k), 50.0 + 3.0 * f64::from(1 - 2 * (k % 2)))).collect();
        assert!((scatter_w(&readings(&jumps)) - 6.0 / 1.5_f64.sqrt()).abs() < 1e-9);
    }

    /// Of forty readings one may lie outside at either end; of fewer none.
    #[test]
    fn nineteen_of_twenty_readings_lie_in_the_usual_range() {
        let mut of: Vec<(f64, f64)> = (0..40).map(|k| (f64::from(k), 100.0 + f64::from(k))).collect();
        (of[0].1, of[39].1) = (5.0, 900.0);
        assert!((usual_range_w(&readings(&of)) - 37.0).abs() < 1e-12);
        assert!((usual_range_w(&readings(&of[1..39])) - 37.0).abs() < 1e-12);
    }

    /// Every quarter of an hour but for an hour and a half without: a gap of an hour and a quarter. Half an hour is none yet.
    #[test]
    fn a_gap_is_what_is_missing_of_the_usual_step() {
        let after = [0.0, 0.25, 0.5, 1.0, 1.25, 2.75, 3.0, 3.25];
        let of: Vec<(f64, f64)> = after.iter().map(|after| (*after, 80.0)).collect();
        assert!((gaps_h(&readings(&of), 3.5) - 1.25).abs() < 1e-12);
        // Four usual steps are none yet; more at either end are one.
        let steady = |first: f64| -> Vec<(f64, f64)> { (0..9).map(|k| (first + 0.25 * f64::from(k), 80.0)).collect() };
        assert_eq!(gaps_h(&readings(&steady(1.0)), 4.0), 0.0);
        assert_eq!(gaps_h(&readings(&steady(1.25)), 3.25), 1.0);
        assert_eq!(gaps_h(&readings(&steady(0.0)), 3.25), 1.0);
    }

    /// Before the first reading and after the last one its power is taken to hold, and nobody knows: 2 h of a log of ten-minute steps.
    #[test]
    fn a_log_that_begins_late_misses_as_much_as_one_that_ends_early() {
        let run = |first: f64| Run {
            start: None,
            lasted: Hours(10.0),
            clock: Hours(1.0 / 60.0),
            metered: Metered::Readings(readings(
                &(0..49).map(|k| (first + f64::from(k) / 6.0, 120.0)).collect::<Vec<_>>(),
            )),
            meter: Meter { name: "m".into(), accuracy: Fraction(0.01), last_digit: Watts(0.1) },
            charge: (Uncertain::exact(Fraction(1.0)), Uncertain::exact(Fraction(0.0))),
            ambient: None,
        };
        let [late, early] = [run(2.0), run(0.0)].map(|run| energy(&run, "capacity.0").unwrap());
        for (name, one) in [("late", &late), ("early", &early)] {
            assert!((one.wh - 1200.0).abs() < 1e-9, "{name}");
            let gap = one.causes.iter().find(|cause| cause.name == "gap in the log").unwrap().standard_wh;
            // 5 % of 120 W over what is missing beyond ten minutes, 95 %.
            let missing_h = 2.0 - 1.0 / 6.0;
            assert!((gap - 0.05 * 120.0 * missing_h / 1.959963984540054).abs() < 1e-9, "{name}: {gap}");
            assert!(matches!(one.warnings[..], [Warning { of: Weakness::Gap { .. }, .. }]), "{name}");
        }
        // A quarter of the run and more is too much.
        let mut three = run(2.7);
        three.lasted = Hours(10.7);
        assert!(energy(&three, "capacity.0").is_ok());
        let mut third = run(4.0);
        third.lasted = Hours(12.0);
        assert!(energy(&third, "capacity.0").unwrap_err().title().contains("has too many holes"));
    }

    /// JCGM 100:2008, 4.3.7 and 5.1.2, by hand: 95, 100 and 110 W on the mean for 1, 2 and 1 h.
    #[test]
    fn the_doubt_of_a_few_readings_is_that_of_digit_clock_and_scatter() {
        let run = Run {
            start: None,
            lasted: Hours(4.0),
            clock: Hours(0.05),
            metered: Metered::Readings(readings(&[(0.0, 100.0), (1.0, 90.0), (3.0, 110.0)])),
            meter: Meter { name: "m".into(), accuracy: Fraction(0.02), last_digit: Watts(0.4) },
            charge: (Uncertain::exact(Fraction(1.0)), Uncertain::exact(Fraction(0.0))),
            ambient: None,
        };
        let energy = energy(&run, "capacity.0").unwrap();
        assert!((energy.wh - 405.0).abs() < 1e-9 && (energy.mean_w() - 101.25).abs() < 1e-9);
        let third = 3.0_f64.sqrt();
        assert!((energy.gain_standard - 0.02 / third).abs() < 1e-12);
        assert!((energy.hours_standard - 2.0_f64.sqrt() * 0.05 / third).abs() < 1e-12);
        // 13.33 W off the line, by √(1 + 1/9 + 4/9), for 4 h and three readings.
        let scatter = 40.0 / 3.0 / f64::sqrt(14.0 / 9.0) * 4.0 / third;
        let expected = [
            ("last digit", 0.2 / third * 4.0),
            ("clock", 101.25 * energy.hours_standard),
            ("between readings", scatter),
        ];
        assert_eq!(energy.causes.len(), expected.len());
        let mut squares = 0.0;
        for (cause, (name, standard_wh)) in energy.causes.iter().zip(expected) {
            assert!(cause.name == name && (cause.standard_wh - standard_wh).abs() < 1e-9, "{cause:?} {standard_wh}");
            squares += standard_wh * standard_wh;
        }
        assert!((energy.own_standard_wh() - squares.sqrt()).abs() < 1e-9);
        assert!(energy.warnings.is_empty());
    }
}
