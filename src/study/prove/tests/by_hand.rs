//! One test and one unknown at a time, by closed forms.

use super::super::rows::{Model, Prior, contradicts};
use super::*;

const Z: f64 = 1.959963984540054;

/// The unit and meter of these tests; the meter's limits are 2 %.
const HEAD: &str = "[unit]\nrated_capacity = \"700 Wh\"\ninverter = \"450 W\"\n[[meter]]\nname = \"m\"\naccuracy = \"2 %\"\n\
                    last_digit = \"1 W\"\n";

/// 330 Wh in six hours through the 12 V outlet, from full to 40 %.
const PARTLY: &str =
    "[[capacity]]\noutlet = \"dc\"\nlasted = \"6 h\"\nfrom = \"100 %\"\nto = \"40 %\"\nenergy = \"330 Wh ± 4 Wh\"\n";

/// The meter read 100 W where 98 W ± 0.5 W flowed.
const CHECK: &str = "[[meter_check]]\nread = \"100 W\"\nknown = \"98 W ± 0.5 W\"\n";

/// Root of a sum of squares.
fn root(parts: &[f64]) -> f64 {
    parts.iter().map(|part| part * part).sum::<f64>().sqrt()
}

/// The meter's error by its limits (2 %, a constant density) and by the check, as inverse variances.
fn checked_gain() -> (f64, f64) {
    let limits = 3.0 / (0.02 * 0.02);
    let by_check = 1e4 / (0.25 / Z / Z + 0.25 / 3.0);
    (by_check * 0.02 / (limits + by_check), (limits + by_check).sqrt().recip())
}

/// JCGM 100:2008, 4.3.7 and 5.1.2: what one discharge says alone, and the parts of its doubt. 40 % on a display are ± 5 points, full is an
/// event; one discharge differs from the next by 0.5 %.
#[test]
fn the_parts_of_a_discharge_add_up_as_squares() {
    for (text, (gain, gain_standard)) in
        [(format!("{HEAD}{PARTLY}"), (0.0, 0.02 / 3.0_f64.sqrt())), (format!("{HEAD}{CHECK}{PARTLY}"), checked_gain())]
    {
        let proof = proved(&text);
        let [one] = &proof.delivered[..] else { panic!("{:?}", proof.delivered) };
        let wh = 330.0 * (1.0 - gain);
        near(one.measured.value, wh, 1e-6);
        near(one.measured.standard, root(&[4.0 / Z, gain_standard * wh]), 1e-5);
        near(one.full.value, wh / 0.6, 1e-5);
        near(one.load_w, wh / 6.0, 1e-6);
        near(one.share, 0.6, 1e-12);
        assert!(!one.idle);
        let expected = [
            ("charge on the display", wh / 0.6 * 0.05 / Z / 0.6),
            ("meter's accuracy", gain_standard * wh / 0.6),
            ("counter as stated", 4.0 / Z / 0.6),
            ("one full discharge to the next", wh / 0.6 * 0.005),
        ];
        assert_eq!(one.causes.len(), expected.len());
        for (name, standard) in expected {
            let found = one.causes.iter().find(|cause| cause.0 == name).unwrap_or_else(|| panic!("{name}: {one:?}"));
            near(found.1, standard, 1e-4);
        }
        assert!(one.causes.windows(2).all(|pair| pair[1].1 <= pair[0].1), "{:?}", one.causes);
        near(one.full.standard, root(&expected.map(|(_, standard)| standard)), 1e-4);
    }
}

/// One discharge leaves all that is typical as it was, and tells the energy: f U (1 − k (f/t − 0.2)) = E (1 − g) c + d t, without the
/// square and the fan of an inverter at the 12 V outlet.
#[test]
fn one_discharge_tells_the_energy_and_nothing_else() {
    for (text, (gain, gain_standard)) in
        [(format!("{HEAD}{PARTLY}"), (0.0, 0.02 / 3.0_f64.sqrt())), (format!("{HEAD}{CHECK}{PARTLY}"), checked_gain())]
    {
        let fit = proved(&text).fit.unwrap();
        let dc = OutletKind::Dc;
        let typical = [
            (Unknown::Gain("m".into()), gain, Z * gain_standard),
            (Unknown::Draw(dc), 4.0, 3.0),
            (Unknown::Factor(dc), 1.075, 0.07),
            (Unknown::Fall, 0.04, 0.08),
            (Unknown::Discharge, 0.97, 0.02),
            (Unknown::Charge, 0.97, 0.02),
        ];
        for (unknown, mean, half) in typical {
            let found = fit.get(&unknown).unwrap();
            near(found.value, mean, 1e-7 * mean.max(1.0));
            near(found.plus_minus(), half, 1e-6 * half);
        }
        let usable = (330.0 * (1.0 - gain) * 1.075 + 4.0 * 6.0) / (0.6 * (1.0 - 0.04 * (0.1 - 0.2)));
        near(fit.get(&Unknown::Usable).unwrap().value, usable, 1e-5);
        near(fit.cells().value, usable / 0.97, 1e-5);
        assert_eq!((fit.widened, fit.untypical, fit.used[0].misses_by.abs() < 1e-6), (None, false, true));
    }
}

/// What AC would give where it was not tested: t B = U (1 − k (1/t − 0.2)) with typical figures, by hand of an inverter of 450 W under
/// 140 W: 1.07 ± 0.06, twice a hundredth of the load's square over the rating, 12 ± 9.6 W, and a fan of 3 W. It is on by a chance that goes
/// from nothing at 5 % of the rating to all of 80 % at 35 %, as likely of half as much more or less power, and takes 5 % more or less
/// from one run to the next. Doubts by implicit derivatives.
#[test]
fn an_untested_inverter_is_taken_as_a_typical_one() {
    let proof = proved(&format!("{HEAD}{PARTLY}"));
    let (fit, (bench, tested)) = (proof.fit.as_ref().unwrap(), proof.bench.unwrap());
    assert!(!tested);
    let on = 0.8 * (140.0 / 450.0 - 0.05) / 0.3;
    let variance = 9.0 * 1.25 * on - math::powi(3.0 * on, 2) + math::powi(0.15, 2);
    let bus_w = 140.0 * (1.07 + 0.02 / 450.0 * 140.0) + 12.0 + 3.0 * on;
    let (usable, fall) = (fit.get(&Unknown::Usable).unwrap(), fit.get(&Unknown::Fall).unwrap());
    let (u, k, t) = (usable.value, fall.value, bench.value / 140.0);
    near(t * bus_w, u * (1.0 - k * (1.0 / t - 0.2)), 1e-8 * u);
    let slope = bus_w - u * k / (t * t);
    let by_watt = t / slope;
    let parts = [
        t * bus_w / u / slope * usable.standard,
        u * (0.2 - 1.0 / t) / slope * fall.standard,
        by_watt * 140.0 * 0.06 / Z,
        by_watt * 9.6 / Z,
        by_watt * variance.sqrt(),
    ];
    near(bench.standard / (140.0 * root(&parts)), 1.0, 1e-5);
    near(proof.share.unwrap().value, bench.value / 700.0, 1e-12);
}

/// t B = U (1 − k (1/t − 0.2)), put in anew; without k it is U / B, and at a fifth it is five hours whatever k is.
#[test]
fn the_hours_of_a_load_hold_the_energy_at_their_own_rate() {
    for (u, k, b) in [(600.0, 0.04, 150.0), (900.0, 0.6, 100.0), (500.0, 0.3, 390.0)] {
        let t = fit::lasts_h(u, k, b);
        near(t * b, u * (1.0 - k * (1.0 / t - 0.2)), 1e-9 * u);
        near(fit::lasts_h(u, 0.0, b), u / b, 1e-12);
        near(fit::lasts_h(u, k, u / 5.0), 5.0, 1e-9);
    }
}

/// A quotient of two measurements: relative uncertainties add as squares (JCGM 100:2008, 5.1.6). The meter at the wall has no error here.
#[test]
fn a_round_trip_is_as_doubtful_as_what_went_in_and_what_came_out() {
    let text = format!(
        "{HEAD}[[meter]]\nname = \"w\"\naccuracy = \"0 %\"\n[[capacity]]\nmeter = \"m\"\nlasted = \"4 h\"\nfrom = \"100 %\"\nto = \
         \"0 %\"\nenergy = \"560 Wh\"\n[[wall]]\nmeter = \"w\"\nlasted = \"5 h\"\nfrom = \"20 %\"\nto = \"90 %\"\nenergy = \"540 \
         Wh ± 20 Wh\"\n"
    );
    let proof = proved(&text);
    let [charged] = &proof.charged[..] else { panic!("{:?}", proof.charged) };
    let own = root(&[20.0 / Z / 540.0, root(&[0.05, 0.05]) / Z / 0.7]);
    near(charged.full.value, 540.0 / 0.7, 1e-9);
    near(charged.full.standard, 540.0 / 0.7 * own, 1e-9);
    near(charged.watts, 108.0, 1e-9);
    near(charged.hours_to_full, 5.0 / 0.7, 1e-9);
    let (out, trip) = (proof.bench.unwrap().0, charged.round_trip.unwrap());
    near(trip.value, out.value / (540.0 / 0.7), 1e-9);
    near(trip.standard, trip.value * root(&[out.standard / out.value, own]), 1e-7);
}

/// The error of one meter at both ends goes out of their ratio; those of two do not. It stays in what went in, either way.
#[test]
fn one_meter_for_both_ends_cancels() {
    let of = |wall: &str| {
        let proof = proved(&format!(
            "[unit]\nrated_capacity = \"700 Wh\"\ninverter = \"450 W\"\n[[meter]]\nname = \"a\"\naccuracy = \"10 %\"\n[[meter]]\nname = \
             \"b\"\naccuracy = \"10 %\"\n[[capacity]]\nmeter = \"a\"\nlasted = \"4 h\"\nfrom = \"100 %\"\nto = \"0 %\"\nenergy = \
             \"560 Wh\"\n[[wall]]\nmeter = \"{wall}\"\nlasted = \"5 h\"\nfrom = \"0 %\"\nto = \"100 %\"\nenergy = \"760 Wh\"\n"
        ));
        proof.charged[0].clone()
    };
    let (same, other) = (of("a"), of("b"));
    for charged in [&same, &other] {
        near(charged.full.standard, 760.0 * 0.10 / 3.0_f64.sqrt(), 1e-9);
        near(charged.full.value, 760.0, 1e-9);
    }
    let relative = |charged: &Charged| charged.round_trip.map(|trip| trip.standard / trip.value).unwrap();
    assert!(relative(&same) < 0.5 * relative(&other), "{} {}", relative(&same), relative(&other));
}

/// A night alone tells nothing of the energy: it is that of a unit nobody has tested, 97 ± 8 % of the label in the cells and 97 ± 2 % of
/// that at the bus (of lead 90 ± 5 %). Of a product the relative uncertainties add as squares (JCGM 100:2008, 5.1.6).
#[test]
fn a_night_alone_leaves_the_energy_as_nobody_knows_it() {
    for (chemistry, one_way, half) in [("lfp", 0.97, 0.02), ("lead-acid", 0.90, 0.05)] {
        let record = read(&format!(
            "[unit]\nrated_capacity = \"700 Wh\"\ninverter = \"450 W\"\nchemistry = \"{chemistry}\"\n[[capacity]]\nlasted = \"12 h\"\n\
             from = \"100 %\"\nto = \"75 %\"\nload = \"0 W\"\n"
        ));
        let mean = 700.0 * 0.97 * one_way;
        let relative = root(&[0.08 / 0.97, half / one_way]);
        let prior = Prior::of(&record, &[Unknown::Usable], true, |_| (0.0, 1.0));
        near(prior.means[0], mean, 1e-9);
        near(prior.standards[0].unwrap(), mean * relative / Z, 1e-9);
        let proof = prove(&record).unwrap();
        near(proof.fit.as_ref().unwrap().before[0].unwrap(), mean * relative, 1e-9);
        assert!(proof.share.is_none() && proof.verdict.is_none() && proof.delivered.iter().all(|test| test.idle));
        // Where a run tells it nothing is known of it before.
        assert_eq!(Prior::of(&record, &[Unknown::Usable], false, |_| (0.0, 1.0)).standards[0], None);
    }
}

/// What is typical is widened, and what a meter's limits, a fan and the cold are is not.
#[test]
fn a_unit_far_from_typical_has_no_worse_meter() {
    let record = read(&format!("{HEAD}{PARTLY}"));
    let unknowns = [Unknown::Wall, Unknown::Gain("m".into()), Unknown::Cold, Unknown::Step(60.0), Unknown::Fall];
    let prior = Prior::of(&record, &unknowns, false, |_| (0.0, 0.01));
    let wide = prior.wider(&unknowns, 3.0);
    let factors: Vec<f64> = prior.standards.iter().zip(&wide.standards).map(|(a, b)| b.unwrap() / a.unwrap()).collect();
    for (found, expected) in factors.iter().zip([3.0, 1.0, 1.0, 1.0, 3.0]) {
        near(*found, expected, 1e-12);
    }
    assert_eq!(prior.means, wide.means);
}

/// The 95 % points of chi-squared for 1 to 4 and 10 degrees of freedom: 3.841, 5.991, 7.815, 9.488, 18.307 (any handbook's table).
#[test]
fn tests_contradict_each_other_where_one_in_twenty_would() {
    for (degrees, point) in [(1, 3.841), (2, 5.991), (3, 7.815), (4, 9.488), (10, 18.307)] {
        assert!(!contradicts(point - 1e-3, degrees) && contradicts(point + 1e-3, degrees), "{degrees}");
    }
    assert!(!contradicts(1e9, 0));
}

/// Standard uncertainty of what a run misses the model by, by hand: the display, one discharge to the next, what was read, and the clock, which
/// moves the energy of a steady load and the draw together.
#[test]
fn a_misses_own_doubt_counts_the_clock_once() {
    let text = format!(
        "{HEAD}[[capacity]]\nlasted = \"6 h\"\nclock = \"6 min\"\nfrom = \"100 %\"\nto = \"40 %\"\nload = \"45 W\"\n[[wall]]\nlasted = \
         \"5 h\"\nclock = \"6 min\"\nfrom = \"20 %\"\nto = \"100 %\"\nload = \"110 W\"\n"
    );
    let fit = proved(&text).fit.unwrap();
    let model = Model { unknowns: &fit.unknowns, quadratic_per_w: fit.quadratic_per_w };
    near(fit.quadratic_per_w, 0.02 / 450.0, 1e-15);
    let at = |unknown: &Unknown| fit.get(unknown).unwrap().value;
    let (third, ac) = (3.0_f64.sqrt(), OutletKind::Ac);
    let hours = 2.0_f64.sqrt() * 0.1 / third;
    let usable = at(&Unknown::Usable);
    let per_wh = at(&Unknown::Factor(ac)) + 2.0 * 0.02 / 450.0 * 45.0;
    let own = root(&[0.5 / third * 6.0, 0.05 * 45.0 * 6.0 / Z]);
    let out = [usable * 0.05 / Z, usable * 0.6 * 0.005, per_wh * own, (per_wh * 45.0 + at(&Unknown::Draw(ac))) * hours];
    near(model.standard(&fit.values, &fit.used[0]), root(&out), 1e-9);
    let per_wh = at(&Unknown::Wall) * at(&Unknown::Discharge) * at(&Unknown::Charge);
    let own = root(&[0.5 / third * 5.0, 0.05 * 110.0 * 5.0 / Z]);
    let into = [usable * 0.05 / Z, usable * 0.8 * 0.005, per_wh * own, (per_wh * 110.0 + 3.0) * hours];
    near(model.standard(&fit.values, &fit.used[1]), root(&into), 1e-9);
    // What a test misses by is counted in these.
    for used in &fit.used {
        let misses_by = model.residual(&fit.values, used) / model.standard(&fit.values, used);
        near(used.misses_by, misses_by, 1e-12);
    }
}

/// Well told is what the tests leave less than half of, not told what they leave nine tenths of; of the energy a tenth of itself counts as
/// half, by its interval of 95 %.
#[test]
fn how_well_an_unknown_is_told_goes_by_what_is_left_of_its_doubt() {
    let mut fit = proved(&format!("{HEAD}{PARTLY}")).fit.unwrap();
    let n = fit.values.len();
    let draw = fit.unknowns.iter().position(|unknown| *unknown == Unknown::Draw(OutletKind::Dc)).unwrap();
    for (left, told) in [(0.49, Told::Well), (0.51, Told::Partly), (0.89, Told::Partly), (0.91, Told::NotAtAll)] {
        // The typical draw is known to 3 W.
        fit.covariance[draw * n + draw] = math::powi(left * 3.0 / Z, 2);
        assert_eq!(fit.told(&Unknown::Draw(OutletKind::Dc)), told, "{left}");
        fit.covariance[0] = math::powi(left * 0.2 * fit.values[0] / Z, 2);
        assert_eq!(fit.told(&Unknown::Usable), told, "{left}");
    }
    assert_eq!(fit.told(&Unknown::Wall), Told::NotAtAll);
    fit.covariance[draw] = 0.6 * (fit.covariance[0] * fit.covariance[draw * n + draw]).sqrt();
    fit.covariance[draw * n] = fit.covariance[draw];
    near(fit.correlation(0, draw), 0.6, 1e-12);
    near(fit.correlation(draw, 0), 0.6, 1e-12);
}

/// The upper end of what cells hold of a label is 97 + 8 %; the ± of tests and label, as shares, widen it as the root of their squares.
#[test]
fn cells_may_hold_so_much_of_their_label() {
    let cells = |value: f64| Estimate { value, standard: 0.05 * value / Z };
    let label = Uncertain::new(crate::units::WattHours(600.0), 12.0);
    let most = 1.05 * 600.0 * (1.0 + root(&[0.05, 0.02]));
    assert_eq!(more_than_the_label(&cells(most - 0.1), &label), None);
    near(more_than_the_label(&cells(most + 0.1), &label).unwrap(), most, 1e-9);
}

/// Two functions of two correlated quantities (JCGM 100:2008, equation F.2), by hand.
#[test]
fn covariances_go_through_both_slopes() {
    let covariance = [4.0, 1.5, 1.5, 9.0];
    near(uncertainty::joint(&[2.0, 3.0], &[5.0, -7.0], &covariance), 40.0 + 1.5 * (15.0 - 14.0) - 189.0, 1e-12);
    let found = uncertainty::propagate(|x| x[0] * x[0] * x[1], &[3.0, 5.0], &covariance);
    near(found.value, 45.0, 1e-12);
    near(found.standard, (900.0 * 4.0 + 2.0 * 30.0 * 9.0 * 1.5 + 81.0 * 9.0_f64).sqrt(), 1e-6);
    let turned = found.scaled(-2.0);
    near(turned.value, -90.0, 1e-12);
    near(turned.standard, 2.0 * found.standard, 1e-12);
    near(found.high() - found.low(), 2.0 * Z * found.standard, 1e-9);
}
