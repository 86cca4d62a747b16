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
