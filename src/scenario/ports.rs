//! Devices that charge from less than they would draw: at an outlet's limit, or at the ports of the USB outlet.

use super::amount::Amount;
use super::checks::outlet_limit;
use super::fields::Findings;
use super::forms::Form;
use super::forms::{Custom, Fault, Item};
use super::model::{Load, OutletKind, Pattern, Scenario, Station};
use super::problem::Problem;
use crate::units::{Uncertain, Watts};
use serde_json::json;

/// The most that each port gives.
pub(super) const PORTS: Custom<Vec<Watts>> = Custom {
    allowed: "a list of watts, one for each port, like [\"60 W\", \"18 W\"]",
    example: "[\"60 W\", \"18 W\"]",
    read: read_ports,
    json: || json!({ "type": "array", "items": watts().json(), "minItems": 1 }),
};

fn watts() -> Amount<Watts> {
    Amount::positive()
}

fn read_ports(item: &Item) -> Result<Vec<Watts>, Fault> {
    let entries = item.entries().filter(|entries| !entries.is_empty() && entries.len() <= 64);
    let entries =
        entries.ok_or_else(|| Fault::new("must be a list of watts").help("write ports = [\"60 W\", \"18 W\"]"))?;
    let read: Vec<Option<Watts>> = entries.iter().map(|entry| entry.read(&watts())).collect();
    read.into_iter().collect::<Option<_>>().ok_or_else(Fault::told)
}

/// Whether a load is a device with a battery of its own.
pub(super) fn charges(load: &Load) -> bool {
    matches!(load.pattern, Pattern::Charge(_))
}

/// Lets devices with a battery of their own charge as slowly as outlet and ports make them, and says so.
pub(super) fn slow_down(scenario: &mut Scenario, findings: &Findings) {
    for (k, load) in scenario.loads.iter_mut().enumerate().filter(|(_, load)| charges(load)) {
        let Some((limit, key)) = outlet_limit(&scenario.station, load.outlet) else { continue };
        if limit < load.watts.value {
            slower(k, load, (limit, key, "the outlet's limit"), findings);
        }
    }
    if !scenario.station.usb_ports.is_empty() {
        ports(&scenario.station, &mut scenario.loads, findings);
    }
}

/// A device gets less than it would draw.
fn slower(k: usize, load: &mut Load, (limit, key, what): (Watts, &str, &str), findings: &Findings) {
    let warning = Problem::warning(format!("load.{k}.watts"), "is more than it can have here: it charges slower")
        .found(load.watts.value.to_string())
        .allowed(format!("{limit:.1}, which the answer counts"))
        .help("some devices do not charge at all from less: try yours")
        .against(key, what);
    findings.push(warning);
    load.watts = Uncertain::exact(limit);
}

/// Puts the devices on USB to its ports: what has no battery first, then those that draw most, each to the strongest port that is
/// left. Where more are to be charged than there are ports left, they take turns.
fn ports(station: &Station, loads: &mut [Load], findings: &Findings) {
    const KEY: &str = "station.usb.ports";
    let mut ports = station.usb_ports.clone();
    ports.sort_by(|a, b| b.0.total_cmp(&a.0));
    let mut devices: Vec<(usize, f64, bool)> = Vec::new();
    for (k, load) in loads.iter().enumerate().filter(|(_, load)| load.outlet == OutletKind::Usb) {
        let one_w = load.watts.value.0 / f64::from(load.count.max(1));
        devices.extend((0..load.count).map(|_| (k, one_w, charges(load))));
    }
    devices.sort_by(|a, b| a.2.cmp(&b.2).then(b.1.total_cmp(&a.1)).then_with(|| loads[a.0].name.cmp(&loads[b.0].name)));
    let steady = devices.iter().filter(|(_, _, charges)| !charges).count();
    for (at, (k, watts, _)) in devices.iter().enumerate().take(steady) {
        let port = ports.get(at).copied().unwrap_or_default();
        // The watts of several are a sum: what rounding leaves is no more than a port gives.
        if port.0 * (1.0 + 1e-9) < *watts {
            let weak = Problem::error(format!("load.{k}.watts"), "finds no port that gives so much")
                .found(Watts(*watts).to_string())
                .allowed(if at < ports.len() {
                    format!("up to {port} at the port left")
                } else {
                    "no port is left".into()
                })
                .help("feed it from another outlet, or leave something out")
                .against(KEY, "the ports");
            findings.push(weak);
            return;
        }
    }
    let (left, charging) = (&ports[steady.min(ports.len())..], &devices[steady..]);
    let Some((first, ..)) = charging.first() else { return };
    if left.is_empty() {
        let none =
            Problem::error(format!("load.{first}.outlet"), "finds no port: all are taken by what has no battery")
                .help("feed it from another outlet, or leave something out")
                .against(KEY, "the ports");
        findings.push(none);
        return;
    }
    let turns = (left.len() as f64 / charging.len() as f64).min(1.0);
    let mut given_w = vec![0.0; loads.len()];
    for (at, (k, watts, _)) in charging.iter().enumerate() {
        let port = if turns < 1.0 { at * left.len() / charging.len() } else { at };
        given_w[*k] += watts.min(left[port].0) * turns;
    }
    for (k, load) in loads.iter_mut().enumerate() {
        if load.outlet == OutletKind::Usb && charges(load) && given_w[k] < load.watts.value.0 * (1.0 - 1e-9) {
            let what = if turns < 1.0 { "the ports, fewer than devices: they take turns" } else { "the ports" };
            slower(k, load, (Watts(given_w[k]), KEY, what), findings);
        }
    }
}

#[cfg(test)]
mod tests {
    use crate::scenario::{Level, Problem, Source, read};

    /// Watts of all loads on USB of a station with these ports, and what is told.
    fn told(ports: &str, loads: &[(&str, f64, u32, bool)]) -> Result<(Vec<f64>, usize), String> {
        let mut text = format!(
            "[site]\nlatitude = 44.2\nlongitude = -72.6\n[outage]\nmonth = \"May\"\nlasts = \"2 days\"\n[station]\nrated_capacity = \
             \"600 Wh\"\n[station.usb]\nlimit = \"200 W\"\n{ports}\n"
        );
        for (name, watts, count, charges) in loads {
            let more = if *charges { "energy_a_day = \"10 Wh\"\n" } else { "" };
            text += &format!(
                "[[load]]\nname = \"{name}\"\noutlet = \"usb\"\npriority = \"vital\"\nwatts = \"{watts} W\"\ncount = {count}\n{more}"
            );
        }
        let error = |problems: Vec<Problem>| {
            let error = problems.into_iter().find(|problem| problem.level == Level::Error);
            error.map_or(String::new(), |error| error.what)
        };
        let told = read(&Source::new("test.toml", text)).map_err(error)?;
        let slower = told.2.iter().filter(|problem| problem.what.contains("slower")).count();
        Ok((told.0.loads.iter().map(|load| load.watts.value.0).collect(), slower))
    }

    const THREE: &str = "ports = [\"18 W\", \"60 W\", \"18 W\"]";

    #[test]
    fn each_device_has_a_port_and_charges_as_that_lets_it() {
        // The laptop has the strong port, phones of 20 W have 18 each.
        let all = [("phones", 20.0, 2, true), ("laptop", 50.0, 1, true)];
        assert_eq!(told(THREE, &all), Ok((vec![36.0, 50.0], 1)));
        assert_eq!(told("", &all), Ok((vec![40.0, 50.0], 0)));
        // A lamp without a battery comes first, at the strongest port.
        let lamp = [("lamp", 25.0, 1, false), ("laptop", 50.0, 1, true)];
        assert_eq!(told(THREE, &lamp), Ok((vec![25.0, 18.0], 1)));
        // Without ports what is more than the outlet gives charges at that.
        assert_eq!(told("", &[("laptop", 240.0, 1, true)]), Ok((vec![200.0], 1)));
    }

    #[test]
    fn more_devices_than_ports_take_turns() {
        // Six phones of 15 W at three ports: half of the time each.
        assert_eq!(told(THREE, &[("phones", 15.0, 6, true)]), Ok((vec![45.0], 1)));
        // Four of 30 W: at 60, 60, 18 and 18 W by turns of three quarters, no more than the ports give together.
        let (watts, _) = told(THREE, &[("phones", 30.0, 4, true)]).unwrap();
        assert!((watts[0] - 0.75 * (30.0 + 30.0 + 18.0 + 18.0)).abs() < 1e-9, "{watts:?}");
    }

    #[test]
    fn what_has_no_battery_needs_its_watts() {
        assert!(told(THREE, &[("lamp", 61.0, 1, false)]).unwrap_err().contains("no port"));
        assert!(told(THREE, &[("lamps", 10.0, 4, false)]).unwrap_err().contains("no port"));
        assert!(told(THREE, &[("lamps", 10.0, 3, false), ("phone", 5.0, 1, true)]).unwrap_err().contains("no port"));
        assert_eq!(told(THREE, &[("lamps", 18.0, 3, false)]), Ok((vec![54.0], 0)));
    }
}
