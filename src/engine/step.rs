//! What is served of what is asked for in one step, and that step for one kit alone.
//!
//! The outlets' demand is turned into bus power; what cannot be served is missed, spare loads first, vital loads last. The rest
//! of the balance is that of [`super::cells`].

use super::cells::{Cells, FromBus, Lane};
use super::ledger::Ledger;
use super::load::LoadPlan;
use super::rig::{CLASSES, Limits, OUTLETS, Rig};
use super::wiring::AtInput;

/// What is asked for in one step.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Demand {
    /// Mean power by class and outlet \[W\].
    pub watts: [[f64; OUTLETS]; CLASSES],
    /// Variance of AC power within the step, by class \[W²\].
    pub variance_w2: [f64; CLASSES],
    /// Whether a load of the class is plugged in and switched on at the outlet, drawing or not.
    pub plugged: [[bool; OUTLETS]; CLASSES],
}

impl Demand {
    /// Adds what a load asks for on a day of the week (0 for Monday) in a step of it, times a factor.
    pub(super) fn add(&mut self, load: &LoadPlan, (weekday, at): (usize, usize), factor: f64) {
        let profile = load.day(weekday);
        self.watts[load.class][load.outlet] += profile.watts[at] * factor;
        self.plugged[load.class][load.outlet] = true;
        if load.outlet == 0 {
            self.variance_w2[load.class] += profile.variance_w2[at] * factor * factor;
        }
    }
}

/// What comes in during one step.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Supply {
    /// What the panels could give at the input's terminals \[W\].
    pub panel_w: f64,
    /// Of that, what lies within the input's volts and amps \[W\]; its watts are cut here.
    pub usable_w: f64,
    /// What the wall charger may draw from the plug \[W\].
    pub wall_w: f64,
}

impl Supply {
    /// Sun alone, all of it within the input's volts and amps.
    #[must_use]
    pub fn sun(panel_w: f64) -> Supply {
        Supply { panel_w, usable_w: panel_w, wall_w: 0.0 }
    }
}

/// What one step did.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Balance {
    /// Energy in the cells afterwards \[Wh\].
    pub stored_wh: f64,
    /// Share of the demand served, by class and outlet, 0 to 1.
    pub served: [[f64; OUTLETS]; CLASSES],
    /// Whether everything asked for was served.
    pub all_served: bool,
    /// What warmed the cells \[W\]: their own losses, some of the electronics', and the heater.
    pub heat_w: f64,
}

/// What the first classes ask for, one class after the other.
#[derive(Default)]
struct Classes {
    delivered_w: [f64; OUTLETS],
    on: [bool; OUTLETS],
    variance_w2: f64,
}

impl Classes {
    /// Adds a class.
    fn add(&mut self, demand: &Demand, class: usize) {
        self.variance_w2 += demand.variance_w2[class];
        for outlet in 0..OUTLETS {
            self.delivered_w[outlet] += demand.watts[class][outlet];
            self.on[outlet] |= demand.plugged[class][outlet];
        }
    }

    /// What running them for the whole step takes.
    fn running(&self, rig: &Rig) -> FromBus {
        let mut bus = FromBus { delivered_w: self.delivered_w, own_w: rig.own_draw_w, ..FromBus::default() };
        for outlet in (0..OUTLETS).filter(|&outlet| self.on[outlet]) {
            let (watts, variance_w2) = (self.delivered_w[outlet], if outlet == 0 { self.variance_w2 } else { 0.0 });
            if outlet != 0 || !rig.inverter_sleeps || 0.0 < watts {
                bus.lost_w[outlet] = rig.curve(outlet).lost_w(watts, variance_w2);
            }
        }
        bus
    }
}

/// Running everything asked for.
fn running(rig: &Rig, demand: &Demand) -> FromBus {
    let mut classes = Classes::default();
    for class in 0..CLASSES {
        classes.add(demand, class);
    }
    classes.running(rig)
}

/// Bus power of everything asked for \[W\].
pub(super) fn bus_w(rig: &Rig, demand: &Demand) -> f64 {
    running(rig, demand).total_w()
}

/// Cuts the demand at each outlet to the outlet's limit, spare loads first. Returns the share that is left of each.
#[inline(never)]
fn cut_to_outlet_limits(rig: &Rig, demand: &Demand) -> (Demand, [[f64; OUTLETS]; CLASSES]) {
    let mut cut = *demand;
    let mut left = [[1.0; OUTLETS]; CLASSES];
    for outlet in 0..OUTLETS {
        let mut room = rig.outlet_limit_w[outlet];
        for class in 0..CLASSES {
            let asked = demand.watts[class][outlet];
            let given = asked.min(room);
            if given < asked {
                left[class][outlet] = given / asked;
                cut.watts[class][outlet] = given;
                if outlet == 0 {
                    cut.variance_w2[class] *= left[class][outlet];
                }
            }
            room -= given;
        }
    }
    (cut, left)
}

/// What is served of a step's demand.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Served {
    /// Share of the demand served, by class and outlet, 0 to 1.
    pub share: [[f64; OUTLETS]; CLASSES],
    /// Whether everything asked for was served.
    pub all: bool,
    /// What that takes, means over the step.
    pub bus: FromBus,
    /// The sum of it: no more than was there, to the last bit.
    pub bus_w: f64,
}

/// Settles what is served of a demand with so much power at the bus \[W\].
///
/// Shortage is shared out in time: with enough for the vital loads but not for all, the spare ones run for the part of
/// the step that the energy lasts. Loads of one class share alike, so their order does not matter.
pub(super) fn serve(rig: &Rig, available_w: f64, demand: &Demand) -> Served {
    let (mut asked, mut everything) = (demand, running(rig, demand));
    let limited;
    let mut left = None;
    if (0..OUTLETS).any(|outlet| everything.delivered_w[outlet] > rig.outlet_limit_w[outlet]) {
        limited = cut_to_outlet_limits(rig, demand);
        (asked, left, everything) = (&limited.0, Some(&limited.1), running(rig, &limited.0));
    }
    // Share of the step in which exactly the first 0, 1, 2, 3 classes run.
    let mut served = [1.0; CLASSES];
    let (mut bus, mut bus_w) = (everything, everything.total_w());
    if available_w < bus_w {
        (served, bus, bus_w) = ([0.0; CLASSES], FromBus::default(), available_w);
        let mut before = FromBus::default();
        let mut classes = Classes::default();
        for class in 0..CLASSES {
            classes.add(asked, class);
            let with = if class + 1 == CLASSES { everything } else { classes.running(rig) };
            if with.total_w() <= available_w {
                served[class] = 1.0;
                before = with;
                continue;
            }
            // f of the time with this class, 1 - f without it and all below it.
            let f = (available_w - before.total_w()) / (with.total_w() - before.total_w());
            served[class] = f;
            let part = |with: f64, before: f64| f * with + (1.0 - f) * before;
            for outlet in 0..OUTLETS {
                bus.delivered_w[outlet] = part(with.delivered_w[outlet], before.delivered_w[outlet]);
                bus.lost_w[outlet] = part(with.lost_w[outlet], before.lost_w[outlet]);
            }
            bus.own_w = part(with.own_w, before.own_w);
            break;
        }
    }
    let all = left.is_none() && served.iter().all(|&s| s >= 1.0);
    let of = |class: usize, outlet: usize| served[class] * left.map_or(1.0, |left| left[class][outlet]);
    let share = std::array::from_fn(|class| std::array::from_fn(|outlet| of(class, outlet)));
    Served { share, all, bus, bus_w }
}

/// Takes one step.
///
/// * `limits` — what the cells allow at their temperature, see [`Rig::limits_at`].
/// * `stored_wh` — energy in the cells before \[Wh\].
/// * `supply` — what could come in.
/// * `step_h` — length of the step \[h\].
/// * `ledger` — the step's flows are added to it (all but what is in the cells at the start and the end).
pub fn step(
    rig: &Rig,
    limits: &Limits,
    stored_wh: f64,
    supply: Supply,
    demand: &Demand,
    step_h: f64,
    ledger: &mut Ledger,
) -> Balance {
    let (mut cells, mut lane) = (Cells::<1>::default(), Lane::<1>::default());
    cells.set(std::slice::from_ref(rig), std::slice::from_ref(limits), step_h);
    let (_, _, available_w) = cells.available::<true, true>(0, stored_wh, (supply.usable_w, supply.wall_w));
    let served = serve(rig, available_w, demand);
    cells.electronics_w = [served.bus.electronics_w()];
    lane.stored_wh = [stored_wh];
    let at_input = AtInput { panel_w: [supply.panel_w], usable_w: [supply.usable_w], amps: [0.0] };
    lane.step::<f64, true, true, true>(&cells, (&[served.bus_w], supply.wall_w), &at_input, &[0], &mut [0]);
    ledger.add(&lane.sums(0, &cells, true).account(rig, &served.bus, step_h));
    Balance { stored_wh: lane.stored_wh[0], served: served.share, all_served: served.all, heat_w: lane.heat_w[0] }
}
