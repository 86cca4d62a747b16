//! A controller that holds panels at the battery's voltage: watts are the panel's current times that voltage.

use tideover::engine::{Observer, StepView};

use crate::common::{plan_of, scenario_of};
use crate::{FIRST, one_trial};

/// What the panels could give, and what is usable of it, hour by hour \[W\].
#[derive(Default)]
struct Hours(Vec<(f64, f64)>);

impl Observer for Hours {
    fn step(&mut self, _: usize, view: &StepView<'_>) {
        self.0.push((view.supply.panel_w, view.supply.usable_w));
    }
}

fn hours(input: &str, volts: &str) -> Vec<(f64, f64)> {
    let text = format!(
        "[site]\nlatitude = 44.2\nlongitude = -72.6\n[outage]\nstart = \"2027-07-10T00:00\"\nlasts = \"5 days\"\n[station]\n\
         rated_capacity = \"5 kWh\"\n[station.dc_outlet]\nlimit = \"120 W\"\n[station.solar_input]\nlimit = \"900 W\"\n{input}\n\
         [[panel]]\nrated = \"100 W\"\ntilt = \"30°\"\nfacing = \"south\"\nmax_power_voltage = \"{volts}\"\n\
         [[load]]\nname = \"lamp\"\noutlet = \"dc\"\npriority = \"vital\"\nwatts = \"10 W\"\n"
    );
    let plan = plan_of(&scenario_of(&text), 60);
    let mut hours = Hours::default();
    one_trial(&plan, FIRST, &mut hours);
    hours.0
}

#[test]
fn watts_are_current_times_the_batterys_volts() {
    let (searching, twelve, twenty_four) =
        (hours("", "18 V"), hours("pwm_at = \"13 V\"", "18 V"), hours("pwm_at = \"13 V\"", "36 V"));
    let mut lit = 0;
    for ((best, held), other) in searching.iter().zip(&twelve).zip(&twenty_four) {
        // Single precision: a part in a million.
        let near = |a: f64, b: f64| (a - b).abs() <= 2e-6 * b.abs().max(1.0);
        assert!(near(held.0, best.0) && near(best.1, best.0), "{best:?} {held:?}");
        // The same watts at twice the volts are half the current.
        assert!(near(2.0 * other.1, held.1), "{held:?} {other:?}");
        if best.0 > 1.0 {
            lit += 1;
            // 13 V over 18 V at 25 °C: 72 %. Cells between -5 °C and 70 °C have 1.1 to 0.84 of their volts at 0.35 %/K.
            let share = held.1 / held.0;
            assert!((13.0 / 18.0 / 1.11..13.0 / 18.0 / 0.83).contains(&share), "{share}");
        }
    }
    assert!(lit > 40, "{lit}");
    // A panel of fewer volts than the battery's charges nothing.
    assert!(hours("pwm_at = \"13 V\"", "9 V").iter().all(|(_, usable_w)| *usable_w == 0.0));
}

/// The chord from the best voltage to the open-circuit voltage is this project's cautious choice: a panel's curve bends downwards and
/// lies above it (textbook, e.g. Luque & Hegedus, from memory).
#[test]
fn above_their_best_volts_panels_give_current_along_a_straight_line_to_nothing() {
    // The same cells behind 36 V tell how warm they are: their share of 36 V is w. Those of 14 V and 17 V in the sun have 14 w and 17 w.
    let (warm, held) =
        (hours("pwm_at = \"13 V\"", "36 V"), hours("pwm_at = \"13 V\"", "14 V\"\nopen_circuit_voltage = \"17 V"));
    let (mut above, mut least) = (0, 1.0_f64);
    for ((best_w, cool_w), (_, usable_w)) in warm.into_iter().zip(held).filter(|((best_w, _), _)| *best_w > 1.0) {
        let w = 13.0 / 36.0 * best_w / cool_w;
        let (best_v, open_v) = (14.0 * w, 17.0 * w);
        let share = if best_v >= 13.0 { 1.0 } else { (open_v - 13.0) / (open_v - best_v) };
        let expected = 13.0 * best_w / best_v * share;
        assert!((usable_w - expected).abs() < 1e-5 * best_w, "{usable_w} W, not {expected} W, at {w}");
        // No more than there is, and never a jump to nothing: a volt over the battery's are worth something at open circuit.
        assert!(usable_w > 0.0 && usable_w <= best_w * (1.0 + 1e-6), "{usable_w} of {best_w} W");
        above += u32::from(share < 1.0);
        least = least.min(share);
    }
    assert!(above > 20 && least < 0.8, "{above} hours, at least {least}");
}

#[test]
fn a_drop_in_the_cable_lifts_the_panels_and_costs_current() {
    // 100 W at 14 V are 7.14 A; a drop of r times that lifts them above 14 V w from 13 V on, where I = I_best (V_open - 13)/(V_open -
    // V_best + I_best r): Ohm's law and the straight line.
    let cable =
        "14 V\"\nopen_circuit_voltage = \"17 V\"\ncable = { length = \"10 m\", gauge = \"4 mm²\" }\nsoiling = \"0 %";
    let bare = "36 V\"\ncable_loss = \"0 %\"\nsoiling = \"0 %";
    let (warm, held, lost) = (hours("pwm_at = \"13 V\"", bare), hours("pwm_at = \"13 V\"", cable), hours("", cable));
    let mut seen = 0;
    for ((warm, held), lost) in warm.iter().zip(&held).zip(&lost).filter(|((warm, _), _)| warm.0 > 40.0) {
        let w = 13.0 / 36.0 * warm.0 / warm.1;
        let (best_v, open_v, amps) = (14.0 * w, 17.0 * w, warm.0 / (14.0 * w));
        // What a searching controller loses in the cable tells its resistance.
        let drop_v = (1.0 - lost.1 / warm.0) * best_v;
        let share = ((open_v - 13.0) / (open_v - best_v + drop_v)).min(1.0);
        assert!((held.1 - 13.0 * amps * share).abs() < 1e-4 * warm.0, "{held:?} {w} {drop_v}");
        assert!(drop_v > 0.0);
        seen += u32::from(share < 1.0);
    }
    assert!(seen > 10, "{seen}");
}
