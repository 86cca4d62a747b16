//! What a variant costs more than the kit as it is, by the prices that `size` chooses from.

use super::changes::Costs;
use crate::scenario::model::{Choice, Generator, Load, Panel, Priority, Scenario, Station};

/// Price of so much among things to choose from: between two that have one, in proportion; none beyond the least and the most.
fn priced(choices: &[Choice], amount: f64) -> Option<f64> {
    let above = choices.iter().position(|choice| amount <= choice.amount)?;
    let high = &choices[above];
    if high.amount == amount {
        return high.price;
    }
    let low = &choices[above.checked_sub(1)?];
    let (from, to) = (low.price?, high.price?);
    Some(from + (to - from) * (amount - low.amount) / (high.amount - low.amount))
}

/// What a variant costs beyond the scenario, in the money of its prices; negative where it saves. `None` where battery and
/// panels are the same, so that nothing with a price is bought, or where a price is missing.
#[must_use]
pub fn more_to_pay(scenario: &Scenario, variant: &Scenario) -> Option<f64> {
    let size = scenario.size.as_ref()?;
    let battery = |scenario: &Scenario| scenario.station.rated_capacity.value.0;
    let count = |scenario: &Scenario| scenario.panels.first().map_or(0.0, |panel| f64::from(panel.count()));
    // A panel of another size, or another group of panels, has no price here.
    let others = |scenario: &Scenario| -> Vec<(f64, u32)> {
        let kind = |(k, panel): (usize, &Panel)| (panel.rated.value.0, if k == 0 { 0 } else { panel.count() });
        scenario.panels.iter().enumerate().map(kind).collect()
    };
    let same_kinds = variant.panels.is_empty() || scenario.panels.is_empty() || others(scenario) == others(variant);
    let more = |choices: &[Choice], of: &dyn Fn(&Scenario) -> f64| {
        let (now, then) = (of(scenario), of(variant));
        if now == then { Some(0.0) } else { Some(priced(choices, then)? - priced(choices, now)?) }
    };
    let moved = battery(scenario) != battery(variant) || count(scenario) != count(variant);
    if !same_kinds || !moved {
        return None;
    }
    Some(more(&size.batteries, &battery)? + more(&size.panels, &count)?)
}

/// What it takes to turn the kit as it is into a variant: nothing, where what there is is set, placed or used in another way.
#[must_use]
pub fn costs(scenario: &Scenario, variant: &Scenario) -> Costs {
    if bought(scenario, variant) && more_to_pay(scenario, variant).is_none_or(|more| more > 0.0) {
        return Costs::Money;
    }
    let burns = |generator: &Generator| -> (f64, f64) {
        (generator.hours.iter().map(|window| window.hours().0).sum(), generator.fuel.map_or(f64::INFINITY, |l| l.0))
    };
    let fuel = scenario.generator.as_ref().zip(variant.generator.as_ref()).is_some_and(|(now, then)| {
        let (now, then) = (burns(now), burns(then));
        then.0 > now.0 || then.1 > now.1
    });
    let kept = |load: &Load| {
        load.priority != Priority::Vital
            || variant.loads.iter().any(|then| then.name == load.name && then.priority == Priority::Vital)
    };
    match (fuel, scenario.loads.iter().all(kept)) {
        (true, _) => Costs::Fuel,
        (false, false) => Costs::GivesUp,
        (false, true) => Costs::Nothing,
    }
}

/// Whether something in a variant is to be bought: more or another battery, panels, inputs, chargers, sources, appliances.
fn bought(scenario: &Scenario, variant: &Scenario) -> bool {
    let station = |s: &Station| {
        let inverter = s.inverter.as_ref().map(|inverter| (inverter.rated, inverter.surge));
        let inputs: Vec<_> =
            s.solar_inputs.iter().map(|input| (input.limit, input.volts_max, input.amps_max)).collect();
        let outlets = [&s.dc_outlet, &s.usb].map(|outlet| outlet.as_ref().map(|outlet| (outlet.limit, outlet.cable)));
        let charger = s.wall_charger.map(|charger| charger.limit);
        (s.rated_capacity.value, s.chemistry, s.packs.clone(), s.self_heating, inverter, inputs, outlets, charger)
    };
    let panels = |s: &Scenario| -> Vec<_> {
        s.panels.iter().map(|panel| (panel.rated.value, panel.count(), panel.cable)).collect()
    };
    let sources = |s: &Scenario| {
        let generator = s.generator.as_ref().map(|generator| generator.limit);
        (generator, s.second_station.as_ref().map(|second| second.rated_capacity), s.sources.len())
    };
    // Another appliance at the same outlet, one that there was not, or another supply of a device that a person's health hangs on.
    let load = |then: &Load| match scenario.loads.iter().find(|now| now.name == then.name) {
        None => true,
        Some(now) if now.outlet == then.outlet => now.watts.value != then.watts.value || now.count < then.count,
        Some(now) => now.medical,
    };
    station(&scenario.station) != station(&variant.station)
        || panels(scenario) != panels(variant)
        || sources(scenario) != sources(variant)
        || variant.loads.iter().any(load)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn choice(amount: f64, price: Option<f64>) -> Choice {
        Choice { name: String::new(), amount, price, weight_kg: None }
    }

    #[test]
    fn a_price_between_two_lies_in_proportion_and_beyond_them_there_is_none() {
        let choices = [choice(1000.0, Some(700.0)), choice(2000.0, Some(1300.0)), choice(4000.0, None)];
        assert_eq!(priced(&choices, 2000.0), Some(1300.0));
        assert_eq!(priced(&choices, 1500.0), Some(1000.0));
        for beyond in [500.0, 3000.0, 4000.0, 5000.0] {
            assert_eq!(priced(&choices, beyond), None, "{beyond}");
        }
    }
}
