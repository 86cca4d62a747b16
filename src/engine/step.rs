//! One energy balance.
//!
//! In this order: the cells lose a little by themselves; the sun's power is cut to what the input takes; the outlets'
//! demand is turned into bus power; the sun serves it directly, then the wall, and the cells give what is missing or take
//! what is left, from the sun first; sun that does not fit is curtailed; what cannot be served is missed, spare loads
//! first, vital loads last.

use super::ledger::{Flow, Ledger};
use super::load::LoadPlan;
use super::rig::{CLASSES, Limits, OUTLETS, Rig};
use super::warmth::FROM_ELECTRONICS;

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

/// Bus power of running some classes for the whole step.
#[derive(Clone, Copy, Default)]
struct Running {
    bus_w: f64,
    delivered_w: [f64; OUTLETS],
    lost_w: [f64; OUTLETS],
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

    /// What running them takes.
    fn running(&self, rig: &Rig) -> Running {
        let delivered_w = self.delivered_w;
        let mut lost_w = [0.0; OUTLETS];
        if self.on[0] && (!rig.inverter_sleeps || 0.0 < delivered_w[0]) {
            let beyond_idle = rig.inverter.drawn_beyond_idle(delivered_w[0], self.variance_w2);
            lost_w[0] = rig.inverter.idle_w + beyond_idle - delivered_w[0];
        }
        for outlet in 1..OUTLETS {
            if self.on[outlet] {
                let converter = &rig.converter[outlet];
                lost_w[outlet] =
                    converter.idle_w + converter.drawn_beyond_idle(delivered_w[outlet], 0.0) - delivered_w[outlet];
            }
        }
        let bus_w = rig.own_draw_w + delivered_w.iter().sum::<f64>() + lost_w.iter().sum::<f64>();
        Running { bus_w, delivered_w, lost_w }
    }
}

/// Running everything asked for.
fn running(rig: &Rig, demand: &Demand) -> Running {
    let mut classes = Classes::default();
    for class in 0..CLASSES {
        classes.add(demand, class);
    }
    classes.running(rig)
}

/// Bus power of everything asked for \[W\].
pub(super) fn bus_w(rig: &Rig, demand: &Demand) -> f64 {
    running(rig, demand).bus_w
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

/// Whether cells can take in anything: a heater does not warm full ones. More than rounding leaves.
#[inline(always)]
pub(super) fn has_room(ceiling_wh: f64, stored_wh: f64) -> bool {
    stored_wh < ceiling_wh * (1.0 - 1e-9)
}

/// Energy that the cells can take in during a step \[Wh\].
///
/// Near full the power falls in proportion to the room that is left, as under constant voltage: from `taper_from_w` where
/// the taper begins to nothing at full. Solved backwards (implicit Euler), so that a long step charges less than a short
/// one, never more: with `x = power × step`, the room shrinks from `gap` to `gap × taper / (taper + x)`.
fn accepted_wh(rig: &Rig, limits: &Limits, stored_wh: f64, step_h: f64) -> f64 {
    let room_wh = (rig.ceiling_wh - stored_wh).max(0.0);
    let limit_wh = limits.charge_w * rig.charge_efficiency * step_h;
    let accepted_wh = room_wh.min(limit_wh);
    if rig.taper_wh > 0.0 {
        let x = limits.taper_from_w * rig.charge_efficiency * step_h;
        accepted_wh.min((rig.capacity_wh - stored_wh).max(0.0) * x / (rig.taper_wh + x))
    } else {
        accepted_wh
    }
}

/// Takes one step.
///
/// * `limits` — what the cells allow at their temperature, see [`Rig::limits_at`].
/// * `stored_wh` — energy in the cells before \[Wh\].
/// * `supply` — what could come in.
/// * `step_h` — length of the step \[h\].
/// * `ledger` — the step's flows are added to it (all but `start_wh` and `end_wh`).
///
/// Shortage is shared out in time: with enough for the vital loads but not for all, the spare ones run for the part of
/// the step that the energy lasts. Loads of one class share alike, so their order does not matter.
pub fn step(
    rig: &Rig,
    limits: &Limits,
    stored_wh: f64,
    supply: Supply,
    demand: &Demand,
    step_h: f64,
    ledger: &mut Ledger,
) -> Balance {
    let self_discharge_wh = stored_wh * (rig.self_discharge_per_h * step_h).min(1.0);
    let mut stored_wh = stored_wh - self_discharge_wh;

    let taken_w = supply.usable_w.min(rig.solar_limit_w);
    let solar_w = taken_w * rig.solar_efficiency;
    let wall_w = supply.wall_w * rig.wall_efficiency;

    let (mut asked, mut everything) = (demand, running(rig, demand));
    let limited;
    let mut left = None;
    if (0..OUTLETS).any(|outlet| everything.delivered_w[outlet] > rig.outlet_limit_w[outlet]) {
        limited = cut_to_outlet_limits(rig, demand);
        (asked, left, everything) = (&limited.0, Some(&limited.1), running(rig, &limited.0));
    }

    let from_cells_w =
        ((stored_wh - limits.floor_wh).max(0.0) * rig.discharge_efficiency / step_h).min(limits.discharge_w);
    let available_w = if limits.works { solar_w + wall_w + from_cells_w } else { 0.0 };

    // Share of the step in which exactly the first 0, 1, 2, 3 classes run.
    let mut served = [1.0; CLASSES];
    let (mut delivered_w, mut lost_w, mut own_w) = (everything.delivered_w, everything.lost_w, rig.own_draw_w);
    let mut bus_w = everything.bus_w;
    if available_w < everything.bus_w {
        served = [0.0; CLASSES];
        (delivered_w, lost_w, own_w, bus_w) = ([0.0; OUTLETS], [0.0; OUTLETS], 0.0, 0.0);
        let (mut before, mut own_before) = (Running::default(), 0.0);
        let mut classes = Classes::default();
        for class in 0..CLASSES {
            classes.add(asked, class);
            let with = if class + 1 == CLASSES { everything } else { classes.running(rig) };
            if with.bus_w <= available_w {
                served[class] = 1.0;
                before = with;
                own_before = rig.own_draw_w;
                continue;
            }
            // f of the time with this class, 1 - f without it and all below it.
            let f = (available_w - before.bus_w) / (with.bus_w - before.bus_w);
            served[class] = f;
            for outlet in 0..OUTLETS {
                delivered_w[outlet] = f * with.delivered_w[outlet] + (1.0 - f) * before.delivered_w[outlet];
                lost_w[outlet] = f * with.lost_w[outlet] + (1.0 - f) * before.lost_w[outlet];
            }
            own_w = f * rig.own_draw_w + (1.0 - f) * own_before;
            bus_w = available_w;
            break;
        }
    }

    // The sun serves first, then the wall, then the cells; what the sun leaves over charges first, then what the wall does.
    let missing_w = (bus_w - solar_w).max(0.0);
    let surplus_w = (solar_w - bus_w).max(0.0);
    let wall_serves_w = missing_w.min(wall_w);
    let out_wh = (missing_w - wall_serves_w) / rig.discharge_efficiency * step_h;
    let wall_left_w = wall_w - wall_serves_w;

    let offered_w = surplus_w + wall_left_w;
    let (mut into_w, mut heater_w) = (0.0, 0.0);
    if offered_w > 0.0 {
        let accepted_w = accepted_wh(rig, limits, stored_wh, step_h) / (rig.charge_efficiency * step_h);
        heater_w = if has_room(rig.ceiling_wh, stored_wh) { limits.heater_w.min(offered_w) } else { 0.0 };
        into_w = (offered_w - heater_w).min(accepted_w);
    }
    let from_sun_w = (into_w + heater_w).min(surplus_w);
    stored_wh = (stored_wh + into_w * rig.charge_efficiency * step_h - out_wh).max(0.0);

    let mut electronics_w = own_w + lost_w.iter().sum::<f64>();
    if supply.panel_w > 0.0 {
        let unused_w = surplus_w - from_sun_w;
        let used_solar_w = solar_w - unused_w;
        let drawn_w = used_solar_w / rig.solar_efficiency;
        ledger[Flow::Solar] += supply.panel_w * step_h;
        ledger[Flow::Curtailed] += (supply.panel_w - drawn_w) * step_h;
        ledger[Flow::Clipped] += (supply.panel_w - taken_w) * step_h;
        if limits.charge_w == 0.0 {
            ledger[Flow::Barred] += unused_w / rig.solar_efficiency * step_h;
        }
        electronics_w += drawn_w - used_solar_w;
        ledger[Flow::SolarInputLoss] += (drawn_w - used_solar_w) * step_h;
    }
    if supply.wall_w > 0.0 {
        let from_wall_w = wall_serves_w + (into_w + heater_w - from_sun_w);
        let drawn_w = from_wall_w / rig.wall_efficiency;
        ledger[Flow::Wall] += drawn_w * step_h;
        ledger[Flow::WallLoss] += (drawn_w - from_wall_w) * step_h;
    }
    let (charging_loss_w, discharging_loss_wh) =
        (into_w * (1.0 - rig.charge_efficiency), out_wh * (1.0 - rig.discharge_efficiency));
    let heat_w = FROM_ELECTRONICS * electronics_w + charging_loss_w + discharging_loss_wh / step_h + heater_w;
    ledger[Flow::Heater] += heater_w * step_h;
    ledger[Flow::ChargingLoss] += charging_loss_w * step_h;
    ledger[Flow::DischargingLoss] += discharging_loss_wh;
    ledger[Flow::OwnDraw] += own_w * step_h;
    ledger[Flow::SelfDischarge] += self_discharge_wh;
    for outlet in 0..OUTLETS {
        ledger[Flow::SERVED[outlet]] += delivered_w[outlet] * step_h;
        ledger[Flow::OUTLET_LOSS[outlet]] += lost_w[outlet] * step_h;
    }

    let mut share = [[1.0; OUTLETS]; CLASSES];
    let all_served = left.is_none() && served.iter().all(|&s| s >= 1.0);
    if !all_served {
        for class in 0..CLASSES {
            for outlet in 0..OUTLETS {
                share[class][outlet] = served[class] * left.map_or(1.0, |left| left[class][outlet]);
            }
        }
    }
    Balance { stored_wh, served: share, all_served, heat_w }
}
