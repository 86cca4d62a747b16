//! Rooms that cool once the outage takes the heating, by Newton's law of cooling (Incropera & DeWitt, Fundamentals of Heat and Mass
//! Transfer, chapter on transient conduction: the lumped capacitance), and boxes that the sun warms.

use tideover::engine::{Observer, StepView};

use crate::common::{plan_of, scenario_of};
use crate::{FIRST, one_trial};

/// A light station that has the temperature around it at once, in January under sun, from midnight on.
fn scenario(site: &str, more: &str) -> String {
    format!(
        "[site]\nlatitude = 52.0\nlongitude = 10.0\n{site}\n[outage]\nstart = \"2027-01-12T00:00\"\nlasts = \"72 h\"\n[station]\n\
         rated_capacity = \"1000 Wh ± 0 %\"\nheat_capacity = \"0.1 Wh/K\"\nheat_loss = \"500 W/K\"\n[station.inverter]\nrated = \"300 W\"\n\
         [station.dc_outlet]\nlimit = \"120 W\"\n[station.solar_input]\nlimit = \"400 W\"\n[[panel]]\nrated = \"300 W\"\ntilt = \"60°\"\n\
         facing = \"south\"\n[[load]]\nname = \"lamp\"\noutlet = \"dc\"\npriority = \"vital\"\nwatts = \"5 W\"\n{more}"
    )
}

#[derive(Default)]
struct Seen {
    cell_c: Vec<f64>,
    stored_wh: Vec<f64>,
}

impl Observer for Seen {
    fn step(&mut self, _: usize, view: &StepView<'_>) {
        self.cell_c.push(view.cell_c);
        self.stored_wh.push(view.balance.stored_wh);
    }
}

fn seen(text: &str, step: u32) -> (Seen, f64) {
    let plan = plan_of(&scenario_of(text), step);
    let mut seen = Seen::default();
    let (_, loads) = one_trial(&plan, FIRST, &mut seen);
    (seen, loads.last().expect("a load").asked_wh)
}

#[test]
fn a_room_falls_by_newtons_law() {
    let text = scenario("room = { falls_to = \"8 °C\", in = \"24 h\" }", "");
    for step in [60, 5] {
        let cell_c = seen(&text, step).0.cell_c;
        for (k, cell_c) in cell_c.iter().enumerate() {
            let hours = (k + 1) as f64 * f64::from(step) / 60.0;
            // T = 8 + 12 exp(-t ln 20 / 24 h): half of the way after 5.55 h, 95 % after 24 h.
            let expected = 8.0 + 12.0 * 0.05_f64.powf(hours / 24.0);
            // The cells are warmer by their losses over 500 W/K.
            assert!((cell_c - expected).abs() < 0.05, "{step} minutes, after {hours} h: {cell_c}, {expected}");
        }
    }
}

#[test]
fn a_frozen_room_bars_charging_and_a_warm_one_does_not() {
    let warm = seen(&scenario("", ""), 60).0;
    let frozen = seen(&scenario("room = { falls_to = \"-8 °C\", in = \"6 h\" }", ""), 60).0;
    let rises = |seen: &Seen| seen.stored_wh.windows(2).filter(|pair| pair[1] > pair[0] + 1e-9).count();
    assert!(rises(&warm) > 5 && rises(&frozen) == 0, "{} {}", rises(&warm), rises(&frozen));
    // Without `falls_to` it comes to the air outdoors: here below 20 °C on all three days.
    let outdoors = seen(&scenario("room = { in = \"12 h\" }", ""), 60).0;
    assert!(outdoors.cell_c.last().is_some_and(|c| *c < 15.0), "{:?}", outdoors.cell_c);
}

#[test]
fn a_cooler_in_a_cold_room_asks_for_less() {
    let fridge = "[[load]]\nlike = \"fridge, 200 litres\"\npriority = \"vital\"\nroom = \"indoors\"\n";
    let warm = seen(&scenario("", fridge), 60).1;
    let cold = seen(&scenario("room = { falls_to = \"8 °C\", in = \"6 h\" }", fridge), 60).1;
    // Held at 4 °C or so, its heat falls from 16 K to 4 K in the long run.
    assert!(0.1 * warm < cold && cold < 0.6 * warm, "{cold} {warm}");
}

/// In full sun 22 K above mild air (McLaren, Null & Quinn 2005) and 40 K above warm air (Grundstein et al. 2009), both from memory; how
/// the two join, from 10 to 25 °C, is this project's own rule.
#[test]
fn a_closed_box_warms_as_parked_cars_do() {
    let of = |month: u32, stands: &str| {
        let text = format!(
            "[site]\nlatitude = 44.2\nlongitude = -72.6\n[outage]\nstart = \"2027-{month:02}-10T00:00\"\nlasts = \"5 days\"\n\
             [station]\nrated_capacity = \"5 kWh\"\nown_draw = \"0 W\"\nstands = \"{stands}\"\nheat_capacity = \"0.01 Wh/K\"\n\
             heat_loss = \"1000 W/K\"\n[station.dc_outlet]\nlimit = \"120 W\"\n\
             [[load]]\nname = \"lamp\"\noutlet = \"dc\"\npriority = \"vital\"\nwatts = \"0.01 W\"\n"
        );
        seen(&text, 60).0.cell_c
    };
    for (month, bright) in [(1, 8.0), (7, 20.0)] {
        let (air, sun, boxed) = (of(month, "outdoors"), of(month, "in the sun"), of(month, "in a closed box"));
        let mut most = 0.0_f64;
        for ((air_c, sun_c), box_c) in air.into_iter().zip(sun).zip(boxed) {
            // 25 K in full sun on the open case tell how bright it is.
            let full = (sun_c - air_c) / 25.0;
            let [low, high] = [air_c + 22.0 * full, air_c + 40.0 * full];
            let expected = low + (high - low) * ((low - 10.0) / 15.0).clamp(0.0, 1.0);
            assert!(
                (box_c - expected).abs() < 0.01,
                "{box_c} °C, not {expected} °C: {air_c} °C and {full} of full sun"
            );
            most = most.max(box_c - air_c);
        }
        assert!(most > bright, "{most} K in month {month}");
    }
}
