//! The wear of one battery as its charge moves.

use super::model::Model;
use super::rainflow::{Cycle, Rainflow};
use super::trade::WORN_OUT;
use super::{arrhenius, lfp};
use crate::math;
use crate::units::Celsius;

/// Steps of charge between the nodes of the tables.
const NODES: usize = 200;

/// Most models that are followed at once.
const MOST_MODELS: usize = 3;

/// Years beyond which nothing is foretold: no test of a cell lasted nearly as long.
pub const LONGEST_YEARS: f64 = 40.0;

/// Charge moved so far, noted beside each turning point so that a cycle knows how fast it went.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Moved {
    /// Σ |Δs|, in full charges.
    total: f64,
    /// Σ |Δs| × |Δs/Δt| \[1/h\].
    by_rate: f64,
}

impl Moved {
    /// Mean rate at which the charge moved between two notes \[1/h\], weighted by the charge that moved; rests do not
    /// count.
    #[must_use]
    pub fn rate_per_h(from: Moved, to: Moved) -> f64 {
        let total = to.total - from.total;
        if total > 0.0 { (to.by_rate - from.by_rate) / total } else { 0.0 }
    }
}

/// What surrounds the battery: the factors that its temperature puts on rest, worked out once.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Surroundings {
    kelvin: f64,
    rest: [f64; MOST_MODELS],
    resistance: f64,
}

/// The models that are followed, with their laws of rest as tables over charge.
#[derive(Debug, Clone, PartialEq)]
pub struct WearTables {
    models: Vec<Model>,
    /// Damage of an hour's rest at 25 °C, [`MOST_MODELS`] a node.
    rest_per_h: Vec<[f64; MOST_MODELS]>,
    /// Rise of the resistance in an hour's rest at 25 °C, where it is followed.
    resistance_per_h: Option<Vec<f64>>,
}

impl WearTables {
    /// Tables for some models, at most three.
    ///
    /// * `resistance_grows` — whether the rise of the resistance is followed (LFP's published law).
    #[must_use]
    pub fn new(models: &[Model], resistance_grows: bool) -> WearTables {
        let models: Vec<Model> = models.iter().copied().take(MOST_MODELS).collect();
        let charge = |node: usize| node as f64 / NODES as f64;
        let row = |node: usize| {
            let mut row = [0.0; MOST_MODELS];
            for (damage, model) in row.iter_mut().zip(&models) {
                *damage = model.rest_damage_per_h(charge(node));
            }
            row
        };
        let resistance = |node: usize| 3600.0 * lfp::calendar::resistance_per_second(charge(node));
        WearTables {
            rest_per_h: (0..=NODES).map(row).collect(),
            resistance_per_h: resistance_grows.then(|| (0..=NODES).map(resistance).collect()),
            models,
        }
    }

    /// The models, in order.
    #[must_use]
    pub fn models(&self) -> &[Model] {
        &self.models
    }

    /// What a temperature of the cells does.
    #[must_use]
    pub fn surroundings(&self, cells: Celsius) -> Surroundings {
        let kelvin = cells.0 + 273.15;
        let mut rest = [1.0; MOST_MODELS];
        for (factor, model) in rest.iter_mut().zip(&self.models) {
            *factor = model.rest_factor(kelvin);
        }
        Surroundings { kelvin, rest, resistance: arrhenius(lfp::calendar::RESISTANCE_ACTIVATION_J_MOL, kelvin) }
    }
}

/// Damage under one model; see [`super`] for what that means.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Damage {
    /// Of standing at a charge.
    pub rest: f64,
    /// Of moving it.
    pub cycles: f64,
}

impl Damage {
    /// Share of the capacity lost \[–\].
    #[must_use]
    pub fn loss(&self, model: Model) -> f64 {
        self.loss_after(model, 1.0)
    }

    /// The same had the damage so far been done `times` over.
    fn loss_after(&self, model: Model, times: f64) -> f64 {
        let (rest, cycles) = model.exponents();
        let part = |damage: f64, exponent: f64| if damage > 0.0 { math::pow(damage * times, exponent) } else { 0.0 };
        part(self.rest, rest) + part(self.cycles, cycles)
    }

    /// Years until 20 % is lost if life goes on as in the `years` that did this damage; at most [`LONGEST_YEARS`].
    #[must_use]
    pub fn years_to_worn_out(&self, model: Model, years: f64) -> f64 {
        let worn = |at: f64| self.loss_after(model, at / years) >= WORN_OUT;
        if !worn(LONGEST_YEARS) {
            return LONGEST_YEARS;
        }
        let (mut low, mut high) = (0.0, LONGEST_YEARS);
        for _ in 0..50 {
            let middle = 0.5 * (low + high);
            if worn(middle) {
                high = middle;
            } else {
                low = middle;
            }
        }
        high
    }
}

/// The wear of one battery, from new, under all models at once.
#[derive(Debug, Clone)]
pub struct Wear {
    rainflow: Rainflow<Moved>,
    moved: Moved,
    charge: f64,
    damage: [Damage; MOST_MODELS],
    resistance_rise: f64,
    full_cycles: f64,
}

impl Wear {
    /// A new battery at a state of charge, 0 to 1.
    #[must_use]
    pub fn new(charge: f64) -> Wear {
        let mut wear = Wear::blank(charge);
        wear.start(charge);
        wear
    }

    fn blank(charge: f64) -> Wear {
        Wear {
            rainflow: Rainflow::new(),
            moved: Moved::default(),
            charge,
            damage: [Damage::default(); MOST_MODELS],
            resistance_rise: 0.0,
            full_cycles: 0.0,
        }
    }

    fn start(&mut self, charge: f64) {
        self.rainflow.push(charge, Moved::default(), &mut |_| {});
    }

    /// Makes it new again, keeping its room.
    pub fn renew(&mut self, charge: f64) {
        let mut rainflow = std::mem::take(&mut self.rainflow);
        rainflow.clear();
        *self = Wear { rainflow, ..Wear::blank(charge) };
        self.start(charge);
    }

    /// Stands still at its charge for some hours.
    pub fn rest(&mut self, tables: &WearTables, hours: f64, around: &Surroundings) {
        self.rest_at(tables, self.charge, hours, around);
    }

    fn rest_at(&mut self, tables: &WearTables, charge: f64, hours: f64, around: &Surroundings) {
        let x = charge.clamp(0.0, 1.0) * NODES as f64;
        let k = (x as usize).min(NODES - 1);
        let part = x - k as f64;
        let (low, high) = (&tables.rest_per_h[k], &tables.rest_per_h[k + 1]);
        for index in 0..tables.models.len() {
            let per_h = low[index] + part * (high[index] - low[index]);
            self.damage[index].rest += per_h * around.rest[index] * hours;
        }
        if let Some(table) = &tables.resistance_per_h {
            self.resistance_rise += (table[k] + part * (table[k + 1] - table[k])) * around.resistance * hours;
        }
    }

    /// Moves to a charge within some hours, standing on the way at the middle of the two.
    ///
    /// * `charge` — where to, 0 to 1; `hours` — how long it takes, above 0: it sets the rate.
    pub fn go(&mut self, tables: &WearTables, charge: f64, hours: f64, around: &Surroundings) {
        self.rest_at(tables, 0.5 * (self.charge + charge), hours, around);
        let step = (charge - self.charge).abs();
        if step == 0.0 {
            return;
        }
        self.moved.total += step;
        self.moved.by_rate += step * step / hours;
        self.full_cycles += 0.5 * step;
        self.charge = charge;
        let Wear { rainflow, damage, resistance_rise, .. } = self;
        rainflow.push(charge, self.moved, &mut |cycle| add(tables, &cycle, around, damage, resistance_rise));
    }

    /// The state of charge, 0 to 1.
    #[must_use]
    pub fn charge(&self) -> f64 {
        self.charge
    }

    /// Charge moved so far in full equivalent cycles.
    #[must_use]
    pub fn full_cycles(&self) -> f64 {
        self.full_cycles
    }

    /// Counts what is still open as half cycles: the end of the record.
    pub fn finish(&mut self, tables: &WearTables, around: &Surroundings) {
        let Wear { rainflow, damage, resistance_rise, .. } = self;
        rainflow.finish(&mut |cycle| add(tables, &cycle, around, damage, resistance_rise));
    }

    /// Damage under the model at an index.
    #[must_use]
    pub fn damage(&self, index: usize) -> Damage {
        self.damage[index]
    }

    /// Share of the capacity lost under each model, in order.
    pub fn losses<'a>(&'a self, tables: &'a WearTables) -> impl Iterator<Item = f64> + 'a {
        tables.models.iter().zip(&self.damage).map(|(&model, damage)| damage.loss(model))
    }

    /// Relative rise of the resistance; 0 where it is not followed.
    #[must_use]
    pub fn resistance_rise(&self) -> f64 {
        self.resistance_rise
    }
}

fn add(
    tables: &WearTables,
    cycle: &Cycle<Moved>,
    around: &Surroundings,
    damage: &mut [Damage; MOST_MODELS],
    resistance_rise: &mut f64,
) {
    for (damage, model) in damage.iter_mut().zip(&tables.models) {
        damage.cycles += model.cycle_damage(cycle, around.kelvin);
    }
    if tables.resistance_per_h.is_some() {
        let rate = Moved::rate_per_h(cycle.from, cycle.to);
        *resistance_rise += lfp::cycle::resistance_per_cycle(rate, cycle.range) * cycle.range * cycle.count;
    }
}

#[cfg(test)]
mod tests;
