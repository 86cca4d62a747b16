//! What a variant costs more than the kit as it is, by the prices that `size` chooses from.

use crate::scenario::model::{Choice, Panel, Scenario};

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
