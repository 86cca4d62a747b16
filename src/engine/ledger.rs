//! Where the energy came from and where it went.

use std::ops::{Index, IndexMut};

use serde::ser::{Serialize, SerializeMap, Serializer};

/// An entry of the account \[Wh\].
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Flow {
    /// In the cells at the start.
    Start,
    /// What the panels could have given, after temperature, dirt and cable.
    Solar,
    /// Of that, what was not taken, for whatever reason: the sum of the next two and what a full battery left over.
    Curtailed,
    /// Of the curtailed: outside the input's volts, amps or watts.
    Clipped,
    /// Of the curtailed: refused while the cells were too cold or too hot to be charged at all.
    Barred,
    /// Drawn from the wall or a generator, for the station or straight for loads.
    Wall,
    /// Lost in the wall charger.
    WallLoss,
    /// Given by a car, water or the wind.
    Source,
    /// Lost between these and the bus.
    SourceLoss,
    /// Drawn by the heater that warms cold cells.
    Heater,
    /// Delivered at the AC outlet, and by a generator straight to AC loads.
    ServedAc,
    /// Delivered at the DC outlet.
    ServedDc,
    /// Delivered at the USB outlet.
    ServedUsb,
    /// Lost between panel terminals and bus.
    SolarInputLoss,
    /// Lost on the way into the cells.
    ChargingLoss,
    /// Lost on the way out of the cells.
    DischargingLoss,
    /// Lost in the inverter, idle draw included.
    AcLoss,
    /// Lost in the DC converter, idle draw included.
    DcLoss,
    /// Lost in the USB converter, idle draw included.
    UsbLoss,
    /// Drawn by the station's own electronics.
    OwnDraw,
    /// Lost by the cells by themselves.
    SelfDischarge,
    /// In the cells at the end.
    End,
}

/// Entries of the account.
pub const FLOWS: usize = 22;

/// The side of the account that an entry stands on.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Side {
    Into,
    Served,
    Lost,
    /// Left over, or left in the cells.
    Left,
    /// Part of another entry.
    Part,
}

impl Flow {
    /// All entries, in the order in which they are told.
    pub const ALL: [Flow; FLOWS] = [
        Flow::Start,
        Flow::Solar,
        Flow::Curtailed,
        Flow::Clipped,
        Flow::Barred,
        Flow::Wall,
        Flow::WallLoss,
        Flow::Source,
        Flow::SourceLoss,
        Flow::Heater,
        Flow::ServedAc,
        Flow::ServedDc,
        Flow::ServedUsb,
        Flow::SolarInputLoss,
        Flow::ChargingLoss,
        Flow::DischargingLoss,
        Flow::AcLoss,
        Flow::DcLoss,
        Flow::UsbLoss,
        Flow::OwnDraw,
        Flow::SelfDischarge,
        Flow::End,
    ];
    /// Delivered at each outlet.
    pub const SERVED: [Flow; 3] = [Flow::ServedAc, Flow::ServedDc, Flow::ServedUsb];
    /// Lost in each outlet's converter.
    pub const OUTLET_LOSS: [Flow; 3] = [Flow::AcLoss, Flow::DcLoss, Flow::UsbLoss];

    /// Name, with its unit at the end, and side.
    const fn facts(self) -> (&'static str, Side) {
        match self {
            Flow::Start => ("start_wh", Side::Into),
            Flow::Solar => ("solar_wh", Side::Into),
            Flow::Curtailed => ("curtailed_wh", Side::Left),
            Flow::Clipped => ("clipped_wh", Side::Part),
            Flow::Barred => ("barred_wh", Side::Part),
            Flow::Wall => ("wall_wh", Side::Into),
            Flow::WallLoss => ("wall_loss_wh", Side::Lost),
            Flow::Source => ("source_wh", Side::Into),
            Flow::SourceLoss => ("source_loss_wh", Side::Lost),
            Flow::Heater => ("heater_wh", Side::Lost),
            Flow::ServedAc => ("served_ac_wh", Side::Served),
            Flow::ServedDc => ("served_dc_wh", Side::Served),
            Flow::ServedUsb => ("served_usb_wh", Side::Served),
            Flow::SolarInputLoss => ("solar_input_loss_wh", Side::Lost),
            Flow::ChargingLoss => ("charging_loss_wh", Side::Lost),
            Flow::DischargingLoss => ("discharging_loss_wh", Side::Lost),
            Flow::AcLoss => ("ac_loss_wh", Side::Lost),
            Flow::DcLoss => ("dc_loss_wh", Side::Lost),
            Flow::UsbLoss => ("usb_loss_wh", Side::Lost),
            Flow::OwnDraw => ("own_draw_wh", Side::Lost),
            Flow::SelfDischarge => ("self_discharge_wh", Side::Lost),
            Flow::End => ("end_wh", Side::Left),
        }
    }

    /// Its name in tables, with its unit at the end.
    #[must_use]
    pub const fn name(self) -> &'static str {
        self.facts().0
    }
}

/// Energy account of a trial \[Wh\]. `solar + wall + source + start = served + losses + curtailed + end` in every trial.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Ledger([f64; FLOWS]);

impl Index<Flow> for Ledger {
    type Output = f64;

    fn index(&self, flow: Flow) -> &f64 {
        &self.0[flow as usize]
    }
}

impl IndexMut<Flow> for Ledger {
    fn index_mut(&mut self, flow: Flow) -> &mut f64 {
        &mut self.0[flow as usize]
    }
}

impl Serialize for Ledger {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        let mut map = serializer.serialize_map(Some(FLOWS))?;
        for (flow, wh) in self.entries() {
            map.serialize_entry(flow.name(), &wh)?;
        }
        map.end()
    }
}

impl Ledger {
    /// An account that begins with so much in the cells \[Wh\].
    #[must_use]
    pub fn starting_with(start_wh: f64) -> Ledger {
        let mut ledger = Ledger::default();
        ledger[Flow::Start] = start_wh;
        ledger
    }

    /// All entries in order.
    pub fn entries(&self) -> impl Iterator<Item = (Flow, f64)> {
        Flow::ALL.into_iter().zip(self.0)
    }

    fn sum(&self, side: Side) -> f64 {
        self.entries().filter(|(flow, _)| flow.facts().1 == side).map(|(_, wh)| wh).sum()
    }

    /// Delivered at all outlets \[Wh\].
    #[must_use]
    pub fn delivered_wh(&self) -> f64 {
        Flow::SERVED.map(|flow| self[flow]).iter().sum()
    }

    /// All losses \[Wh\], curtailed energy not among them.
    #[must_use]
    pub fn losses_wh(&self) -> f64 {
        self.sum(Side::Lost)
    }

    /// What the account fails to balance by, as a share of its turnover \[–\]; rounding alone leaves about 1e-15 a step.
    #[must_use]
    pub fn imbalance(&self) -> f64 {
        let into = self.sum(Side::Into);
        let out = self.delivered_wh() + self.losses_wh() + self.sum(Side::Left);
        (into - out).abs() / into.max(1.0)
    }

    /// Adds another account to this one.
    pub fn add(&mut self, other: &Ledger) {
        for (sum, wh) in self.0.iter_mut().zip(other.0) {
            *sum += wh;
        }
    }

    /// Books what a generator gave straight to AC loads \[Wh\].
    pub(super) fn add_direct(&mut self, direct_wh: f64) {
        self[Flow::Wall] += direct_wh;
        self[Flow::ServedAc] += direct_wh;
    }

    /// Every entry times `factor`.
    #[must_use]
    pub fn scaled(&self, factor: f64) -> Ledger {
        Ledger(self.0.map(|wh| wh * factor))
    }

    /// What was added to the account since another time.
    #[must_use]
    pub fn since(&self, before: &Ledger) -> Ledger {
        Ledger(std::array::from_fn(|k| self.0[k] - before.0[k]))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn entries_stand_where_their_names_are() {
        for (place, flow) in Flow::ALL.into_iter().enumerate() {
            assert_eq!(flow as usize, place, "{}", flow.name());
        }
        for (served, lost) in Flow::SERVED.into_iter().zip(Flow::OUTLET_LOSS) {
            assert_eq!(served.name().replace("served_", "").replace("_wh", "_loss_wh"), lost.name());
        }
    }
}
