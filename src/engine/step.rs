//! One step of one kit alone: the outlets' demand is turned into bus power; what cannot be served is missed, spare loads first,
//! vital loads last (`engine::outlets`); then cells, sun and wall give it (`engine::cells`).

use super::cells::{Cells, Lane};
use super::ledger::Ledger;
use super::outlets::{Outlets, Wanted};
use super::rig::{CLASSES, Limits, OUTLETS, Rig};
use super::sources::Plugged;
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

/// What comes in during one step.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Supply {
    /// What the panels could give at the input's terminals \[W\].
    pub panel_w: f64,
    /// Of that, what lies within the input's volts and amps \[W\]; its watts are cut here.
    pub usable_w: f64,
    /// What the wall charger may draw from the plug \[W\].
    pub wall_w: f64,
    /// What a car, water or the wind give.
    pub sources: Plugged,
    /// What is usable in the steps before and after \[W\], where the sun is followed within the step; `None` where it is taken
    /// to be steady.
    pub around_w: Option<[f64; 2]>,
}

impl Supply {
    /// Sun alone, all of it within the input's volts and amps.
    #[must_use]
    pub fn sun(panel_w: f64) -> Supply {
        Supply { panel_w, usable_w: panel_w, ..Supply::default() }
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
    /// Mean power delivered at each outlet \[W\].
    pub delivered_w: [f64; OUTLETS],
    /// What warmed the cells \[W\]: their own losses, some of the electronics', and the heater.
    pub heat_w: f64,
}

/// Bus power of everything asked for \[W\].
pub(super) fn bus_w(rig: &Rig, demand: &Demand) -> f64 {
    let mut outlets = Outlets::default();
    outlets.set(std::slice::from_ref(rig));
    outlets.bus_w(&Wanted::from(demand))[0]
}

/// A kit alone whose cells keep their temperature, ready for steps of one length.
#[derive(Debug, Clone)]
pub struct Unit {
    /// The kit.
    pub rig: Rig,
    cells: Cells<1>,
    outlets: Outlets<1>,
    step_h: f64,
}

impl Unit {
    /// * `limits` — what the cells allow at their temperature, see [`Rig::limits_at`].
    /// * `step_h` — length of a step \[h\].
    #[must_use]
    pub fn new(rig: Rig, limits: &Limits, step_h: f64) -> Unit {
        let (mut cells, mut outlets) = (Cells::default(), Outlets::default());
        cells.set(std::slice::from_ref(&rig), std::slice::from_ref(limits), step_h);
        outlets.set(std::slice::from_ref(&rig));
        Unit { rig, cells, outlets, step_h }
    }

    /// Takes one step.
    ///
    /// * `stored_wh` — energy in the cells before \[Wh\]; `supply` — what could come in.
    /// * `ledger` — where the step's flows are added, where they are wanted (all but what is in the cells at the start and the
    ///   end).
    pub fn step(&mut self, stored_wh: f64, supply: Supply, demand: &Demand, ledger: Option<&mut Ledger>) -> Balance {
        let plug_w = if supply.sources.bus_w > 0.0 {
            self.cells.plug_in(0, supply.wall_w * self.rig.wall_efficiency + supply.sources.bus_w);
            1.0
        } else {
            self.cells.share_wall(std::slice::from_ref(&self.rig), &[1.0]);
            supply.wall_w
        };
        let sources = (&[supply.usable_w], plug_w);
        let available = self.cells.supplied(&[stored_wh], sources, supply.around_w.map(|around_w| [around_w]).as_ref());
        let served = self.outlets.serve(&available, &mut Wanted::from(demand));
        let bus = served.bus();
        self.cells.electronics_w = [bus.electronics_w()];
        let mut lane = Lane::<1>::default();
        lane.stored_wh = [stored_wh];
        let at_input = AtInput { panel_w: [supply.panel_w], usable_w: [supply.usable_w], amps: [0.0] };
        lane.step::<f64, true, true, true>(&self.cells, (&served.bus_w, plug_w), &at_input, &[0], &mut [0]);
        if let Some(ledger) = ledger {
            let taken = supply.sources.of(lane.wall_sum()[0]);
            ledger.add(&lane.sums(0, &self.cells, true).account(&self.rig, &bus, &taken, self.step_h));
        }
        Balance {
            stored_wh: lane.stored_wh[0],
            served: served.shares(),
            all_served: served.all[0] != 0,
            delivered_w: bus.delivered_w,
            heat_w: lane.heat_w[0],
        }
    }
}

/// Takes one step of a kit, see [`Unit`].
pub fn step(
    rig: &Rig,
    limits: &Limits,
    stored_wh: f64,
    supply: Supply,
    demand: &Demand,
    step_h: f64,
    ledger: &mut Ledger,
) -> Balance {
    Unit::new(rig.clone(), limits, step_h).step(stored_wh, supply, demand, Some(ledger))
}
