//! What is said of cells, inverter and meter, and what a simulation takes of an inverter's steps, at both sides of each boundary.

use super::super::fade::fade;
use super::super::parts::{MeterVerdict, PartVerdict, Parts, parts};
use super::*;
use crate::scenario::record::FigureKind;

const HEAD: &str =
    "[unit]\nrated_capacity = \"700 Wh\"\ninverter = \"450 W\"\n[[meter]]\nname = \"m\"\naccuracy = \"1 %\"\n";

/// Discharges from full to empty at these loads \[W\] and hours; the bench load is 140 W.
fn record(head: &str, runs: &[(f64, f64)]) -> Record {
    let run = |&(load_w, hours): &(f64, f64)| {
        let wh = load_w * hours;
        format!("[[capacity]]\nlasted = \"{hours} h\"\nfrom = \"100 %\"\nto = \"0 %\"\nenergy = \"{wh} Wh\"\n")
    };
    read(&format!("{head}{}", runs.iter().map(run).collect::<String>()))
}

/// A fit in which all is known: so much of each unknown that is named, and no doubt.
fn known(record: &Record, values: &[(Unknown, f64)]) -> Fit {
    let mut fit = fit(record).unwrap().unwrap();
    fit.covariance.iter_mut().for_each(|x| *x = 0.0);
    (fit.widened, fit.untypical) = (None, false);
    for (unknown, value) in values {
        // A step goes by its load, which is worked out of what was read.
        let alike = |other: &Unknown| match (other, unknown) {
            (Unknown::Step(a), Unknown::Step(b)) => (a - b).abs() < 1e-6,
            _ => other == unknown,
        };
        let places: Vec<usize> = (0..fit.unknowns.len()).filter(|k| alike(&fit.unknowns[*k])).collect();
        assert!(!places.is_empty(), "{unknown:?} of {:?}", fit.unknowns);
        places.into_iter().for_each(|place| fit.values[place] = *value);
    }
    fit
}

/// Sound cells hold 97 − 8 % of their label at least, lead two thirds of that in five hours; a typical inverter of 450 W draws
/// 12 ± 9.6 W and takes 1.07 ± 0.06 for each watt, a fan under the bench load counted. A draw below that is doubted.
#[test]
fn parts_are_judged_by_the_ends_of_what_is_typical() {
    let ac = OutletKind::Ac;
    let judged = |cells: f64, draw_w: f64, factor: f64, lead: bool| {
        let head =
            HEAD.replace("inverter", &format!("chemistry = \"{}\"\ninverter", if lead { "lead-acid" } else { "lfp" }));
        let record = record(&head, &[(140.0, if lead { 3.0 } else { 4.0 })]);
        let fit = known(
            &record,
            &[
                (Unknown::Usable, cells * 700.0 * 0.95),
                (Unknown::Discharge, 0.95),
                (Unknown::Draw(ac), draw_w),
                (Unknown::Factor(ac), factor - 0.02),
                (Unknown::Step(140.0), 2.8),
            ],
        );
        parts(&record, &fit, Verdict::Open)
    };
    let of = |parts: &Parts| (parts.cells.2, parts.draw.unwrap().2, parts.factor.unwrap().2);
    use PartVerdict::{Doubtful, Sound, Weak};
    for (cells, draw_w, factor, expected) in [
        (0.891, 12.0, 1.07, (Sound, Sound, Sound)),
        (0.889, 12.0, 1.07, (Weak, Sound, Sound)),
        (1.049, 12.0, 1.07, (Sound, Sound, Sound)),
        (1.051, 12.0, 1.07, (Doubtful, Sound, Sound)),
        (0.95, 2.3, 1.07, (Sound, Doubtful, Sound)),
        (0.95, 2.5, 1.07, (Sound, Sound, Sound)),
        (0.95, 21.5, 1.07, (Sound, Sound, Sound)),
        (0.95, 21.7, 1.07, (Sound, Weak, Sound)),
        (0.95, 12.0, 1.129, (Sound, Sound, Sound)),
        (0.95, 12.0, 1.131, (Sound, Sound, Weak)),
        (0.95, 12.0, 1.00, (Sound, Sound, Sound)),
    ] {
        let parts = judged(cells, draw_w, factor, false);
        assert_eq!(of(&parts), expected, "{cells} {draw_w} {factor}");
        near(parts.cells.0.value, cells, 1e-9);
        near(parts.cells.1, 0.89, 1e-12);
        near(parts.draw.unwrap().1, 21.6, 1e-9);
        near(parts.factor.unwrap().0.value, factor, 1e-9);
        near(parts.factor.unwrap().1, 1.13, 1e-12);
        assert_eq!(parts.all_sound(), expected == (Sound, Sound, Sound));
    }
    near(judged(0.6, 12.0, 1.07, true).cells.1, 0.89 * 0.66, 1e-12);
    assert_eq!(of(&judged(0.588, 12.0, 1.07, true)).0, Sound);
    assert_eq!(of(&judged(0.587, 12.0, 1.07, true)).0, Weak);
}

/// An interval that holds both is open; what the tests leave as typical as it was is not told.
#[test]
fn a_part_whose_interval_holds_both_is_open() {
    let ac = OutletKind::Ac;
    let record = record(HEAD, &[(140.0, 4.0)]);
    let mut fit = known(&record, &[(Unknown::Usable, 0.89 * 700.0 * 0.95), (Unknown::Discharge, 0.95)]);
    let n = fit.values.len();
    let place = |fit: &Fit, wanted: Unknown| fit.unknowns.iter().position(|unknown| *unknown == wanted).unwrap();
    let (draw, factor) = (place(&fit, Unknown::Draw(ac)), place(&fit, Unknown::Factor(ac)));
    fit.values[draw] = 21.6;
    fit.values[factor] = 1.13 - fit.values[place(&fit, Unknown::Step(140.0))] / 140.0;
    (fit.covariance[0], fit.covariance[draw * n + draw], fit.covariance[factor * n + factor]) = (400.0, 4.0, 1e-4);
    let open = parts(&record, &fit, Verdict::Open);
    let verdicts = (open.cells.2, open.draw.unwrap().2, open.factor.unwrap().2);
    assert_eq!(verdicts, (PartVerdict::Open, PartVerdict::Open, PartVerdict::Open));
    fit.covariance[draw * n + draw] = 24.0;
    fit.covariance[factor * n + factor] = 9.2e-4;
    let untold = parts(&record, &fit, Verdict::Open);
    assert_eq!((untold.draw.unwrap().2, untold.factor.unwrap().2), (PartVerdict::NotTold, PartVerdict::NotTold));
}

#[test]
fn a_meter_is_believed_as_far_as_its_tests_let_it() {
    let ac = OutletKind::Ac;
    let check = "[[meter_check]]\nread = \"100 W\"\nknown = \"99.4 W ± 0.5 W\"\n";
    let (plain, checked) = (record(HEAD, &[(140.0, 4.0)]), record(&format!("{HEAD}{check}"), &[(140.0, 4.0)]));
    let of = |record: &Record, fit: &Fit, verdict: Verdict| parts(record, fit, verdict).meter;
    let fit = known(&plain, &[(Unknown::Draw(ac), 12.0)]);
    for verdict in [Verdict::Healthy, Verdict::Weak, Verdict::Low, Verdict::Open] {
        assert_eq!(of(&plain, &fit, verdict), MeterVerdict::Limits, "{verdict:?}");
    }
    for verdict in [Verdict::TooGood, Verdict::High] {
        assert_eq!(of(&plain, &fit, verdict), MeterVerdict::Doubtful, "{verdict:?}");
    }
    let mut widened = fit.clone();
    widened.widened = Some(2.5);
    assert_eq!(of(&plain, &widened, Verdict::Open), MeterVerdict::Contradicted(2.5));
    let (none, some) = (known(&plain, &[(Unknown::Draw(ac), 0.0)]), known(&plain, &[(Unknown::Draw(ac), 0.1)]));
    assert_eq!((of(&plain, &none, Verdict::Open), no_draw(&none)), (MeterVerdict::Doubtful, Some(0.0)));
    assert_eq!((of(&plain, &some, Verdict::Open), no_draw(&some)), (MeterVerdict::Limits, None));
    let fit = known(&checked, &[(Unknown::Draw(ac), 12.0), (Unknown::Gain("m".into()), 0.006)]);
    let error = Estimate { value: 0.006, standard: 0.0 };
    assert_eq!(of(&checked, &fit, Verdict::Open), MeterVerdict::Checked(vec![("m".into(), error)]));
}

/// The inverter's steps as a simulation takes them, by hand. From nothing they rise to one of the loads and from there by the steepest line to
/// a larger one; of several ways the one that rises least beyond; where none holds all that was found, a line from nothing does.
#[test]
fn steps_at_three_loads_become_one_step_and_a_slope() {
    let record = record(HEAD, &[(35.0, 12.0), (280.0, 1.9), (142.0, 3.7)]);
    let ac = OutletKind::Ac;
    let of = |at_35: f64, at_bench: f64, at_280: f64| {
        let steps = [(35.0, at_35), (140.0, at_bench), (280.0, at_280), (142.0, 9.0)];
        let mut values: Vec<(Unknown, f64)> = steps.iter().map(|(load, step)| (Unknown::Step(*load), *step)).collect();
        values.extend([(Unknown::Factor(ac), 1.06), (Unknown::Draw(ac), 11.0), (Unknown::Fall, 0.05)]);
        let kit = known(&record, &values).kit(&record);
        let step = kit.get(FigureKind::Step).map(|(step, _)| step).zip(kit.step_from.map(|from| from.0));
        near(kit.get(FigureKind::Draw(ac)).unwrap().0, 11.0, 1e-12);
        near(kit.get(FigureKind::RateLoss).unwrap().0, 0.05, 1e-12);
        (step, 1.0 / kit.get(FigureKind::Conversion(ac)).unwrap().0 - 1.06)
    };
    let holds = |found: (Option<(f64, f64)>, f64), step: Option<(f64, f64)>, slope: f64| {
        near(found.1, slope, 1e-9);
        match (found.0, step) {
            (Some(found), Some(step)) => {
                near(found.0, step.0, 1e-9);
                near(found.1, step.1, 1e-9);
            }
            (found, step) => assert_eq!(found, step),
        }
    };
    // 1 W at 35 W lies below the line to 5 W at 140 W; from there 1 W more for 140 W more.
    holds(of(1.0, 5.0, 6.0), Some((5.0 - 1.0, 140.0)), 1.0 / 140.0);
    // 4 W at 35 W: by 5 W at 140 W a W for 105 W, steeper than to 6 W at 280 W.
    holds(of(4.0, 5.0, 6.0), Some((4.0 - 35.0 / 105.0, 35.0)), 1.0 / 105.0);
    // The steepest is to the largest load where the step there has grown most.
    holds(of(4.0, 4.2, 9.0), Some((4.0 - 35.0 * 5.0 / 245.0, 35.0)), 5.0 / 245.0);
    // All the same: a step and no slope.
    holds(of(4.0, 4.0, 4.0), Some((4.0, 35.0)), 0.0);
    // More than in proportion to the load: a line from nothing to the largest holds all.
    holds(of(1.3, 5.0, 11.0), None, 11.0 / 280.0);
}

/// Weighted least squares of a line by its normal equations (Gauss), and an error that all points share: it moves the start alone.
#[test]
fn capacity_over_years_is_a_weighted_line() {
    let base = record(HEAD, &[(140.0, 4.0)]);
    let proof = prove(&base).unwrap();
    let n = proof.fit.as_ref().unwrap().values.len();
    let at = |days: i64, wh: f64, standard: f64, cycles: u32| {
        let (mut record, mut proof) = (base.clone(), proof.clone());
        let start = jiff::civil::date(2027, 3, 1).at(10, 0, 0, 0).saturating_add(jiff::Span::new().days(days));
        record.capacities[0].run.start = Some(start);
        record.unit.cycles = Some(cycles);
        proof.bench = Some((Estimate { value: wh, standard }, true));
        // No meter has a part in it.
        let fit = proof.fit.as_mut().unwrap();
        fit.covariance = vec![0.0; n * n];
        (record, proof)
    };
    let made = [at(1461, 540.0, 4.0, 300), at(0, 600.0, 3.0, 20), at(2922, 500.0, 6.0, 700)];
    let pairs: Vec<_> = made.iter().map(|(record, proof)| (record, proof)).collect();
    let found = fade(&pairs).unwrap().unwrap();
    let check = |line: &super::super::fade::Line, x: [f64; 3]| {
        let (y, w) = ([600.0, 540.0, 500.0], [1.0 / 9.0, 1.0 / 16.0, 1.0 / 36.0]);
        let sum = |of: &dyn Fn(usize) -> f64| (0..3).map(|k| w[k] * of(k)).sum::<f64>();
        let (s, sx, sy, sxx, sxy) =
            (sum(&|_| 1.0), sum(&|k| x[k]), sum(&|k| y[k]), sum(&|k| x[k] * x[k]), sum(&|k| x[k] * y[k]));
        let determinant = s * sxx - sx * sx;
        let (start, slope) = ((sxx * sy - sx * sxy) / determinant, (s * sxy - sx * sy) / determinant);
        near(line.start.value, start, 1e-6);
        near(line.slope.value, slope, 1e-6 * slope.abs());
        near(line.start.standard, (sxx / determinant).sqrt(), 1e-6);
        near(line.slope.standard, (s / determinant).sqrt(), 1e-6);
        near(line.relative.value, slope / start, 1e-9);
        let (by_slope, by_start) = (1.0 / start, -slope / (start * start));
        let variance =
            (by_slope * by_slope * s + by_start * by_start * sxx - 2.0 * by_slope * by_start * sx) / determinant;
        near(line.relative.standard / variance.sqrt(), 1.0, 1e-5);
        (start, slope)
    };
    // Years of 365.25 days: four and eight.
    let (start, slope) = check(&found.by_years, [0.0, 4.0, 8.0]);
    check(&found.by_cycles.unwrap(), [0.0, 280.0, 680.0]);
    near(found.years_to_four_fifths.unwrap().value, -0.2 * start / slope, 1e-6);
    assert_eq!(
        found.points.iter().map(|point| point.cycles).collect::<Vec<_>>(),
        [Some(20.0), Some(300.0), Some(700.0)]
    );
    // Cycles that do not differ, or that not all records tell, are no line; nor is one day, or one record.
    let same = [at(0, 600.0, 3.0, 20), at(1461, 540.0, 4.0, 20)];
    let pairs: Vec<_> = same.iter().map(|(record, proof)| (record, proof)).collect();
    assert!(fade(&pairs).unwrap().unwrap().by_cycles.is_none());
    let day = [at(0, 600.0, 3.0, 20), at(0, 540.0, 4.0, 90)];
    let pairs: Vec<_> = day.iter().map(|(record, proof)| (record, proof)).collect();
    assert!(fade(&pairs).unwrap().is_none() && fade(&pairs[..1]).unwrap().is_none());
    // 5 Wh less with 4 and 6 Wh of doubt are no fade yet.
    let doubtful = [at(0, 545.0, 4.0, 20), at(1461, 540.0, 6.0, 90)];
    let pairs: Vec<_> = doubtful.iter().map(|(record, proof)| (record, proof)).collect();
    assert!(fade(&pairs).unwrap().unwrap().years_to_four_fifths.is_none());
}
