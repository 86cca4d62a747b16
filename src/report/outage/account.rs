//! Where the energy of a mean outage comes from, and where it goes.

use crate::calendar::clock;
use crate::engine::ledger::Flow;
use crate::engine::{Ledger, Plan};
use crate::report::document::{Cell, Column, Table};
use crate::report::words::{energy, percent};
use crate::scenario::model::{Gives, Scenario, SecondStation};

/// What energy comes from beside the battery and the panels, as table and picture call it.
pub struct Sources {
    /// What is plugged into the wall charger.
    pub at_the_charger: &'static str,
    /// Car, water and wind.
    pub others: &'static str,
}

impl Sources {
    /// Of a scenario.
    #[must_use]
    pub fn of(scenario: &Scenario, plan: &Plan) -> Sources {
        let any = |of: fn(&Gives) -> bool| plan.sources.iter().any(|source| of(&source.gives));
        let car = any(|gives| matches!(gives, Gives::Car { .. }));
        let water = any(|gives| matches!(gives, Gives::Water { .. }));
        let wind = any(|gives| matches!(gives, Gives::Wind { .. }));
        Sources {
            at_the_charger: match (plan.second.is_some(), plan.mains.is_empty(), scenario.generator.is_some()) {
                (true, ..) => "second station",
                (_, true, _) => "generator",
                (_, false, false) => "wall between cuts",
                (_, false, true) => "wall and generator",
            },
            others: match (car, water, wind) {
                (true, false, false) => "car",
                (false, true, false) => "running water",
                (false, false, true) => "wind",
                _ => "car, water and wind",
            },
        }
    }

    /// The same behind "from".
    fn from(&self) -> [String; 2] {
        let article = if matches!(self.others, "car" | "wind") { "the " } else { "" };
        [format!("from the {}", self.at_the_charger), format!("from {article}{}", self.others)]
    }
}

/// A line of the account: `+` or `-`, what, and how much \[Wh\].
type AccountRow = (&'static str, String, f64);

/// The account of a mean outage, what is next to nothing left out, and its turnover \[Wh\].
fn account_rows(mean: &Ledger, sources: &Sources) -> (Vec<AccountRow>, f64) {
    let [charger, others] = sources.from();
    let into = [
        ("in the battery at the start", mean[Flow::Start]),
        ("sun on the panels could give", mean[Flow::Solar]),
        (&charger, mean[Flow::Wall]),
        (&others, mean[Flow::Source]),
    ];
    let full_wh = mean[Flow::Curtailed] - mean[Flow::Clipped] - mean[Flow::Barred];
    let out = [
        ("to the AC outlet", mean[Flow::ServedAc]),
        ("to the DC outlet", mean[Flow::ServedDc]),
        ("to USB", mean[Flow::ServedUsb]),
        ("lost in the inverter", mean[Flow::AcLoss]),
        ("lost in the DC converter", mean[Flow::DcLoss]),
        ("lost in the USB converter", mean[Flow::UsbLoss]),
        ("lost charging and discharging", mean[Flow::ChargingLoss] + mean[Flow::DischargingLoss]),
        ("lost in the solar input", mean[Flow::SolarInputLoss]),
        ("lost in the wall charger", mean[Flow::WallLoss]),
        ("lost on the way from car, water or wind", mean[Flow::SourceLoss]),
        ("warming the cells", mean[Flow::Heater]),
        ("drawn by the station itself", mean[Flow::OwnDraw]),
        ("lost by the cells standing", mean[Flow::SelfDischarge]),
        ("sun outside the input's volts, amps or watts", mean[Flow::Clipped]),
        ("sun refused by cells too cold or too hot", mean[Flow::Barred]),
        ("sun left over (battery full or charging slowly)", full_wh),
        ("left in the battery at the end", mean[Flow::End]),
    ];
    let total: f64 = into.iter().map(|(_, wh)| wh).sum();
    let rows = [("+", &into[..]), ("-", &out[..])]
        .into_iter()
        .flat_map(|(sign, parts)| parts.iter().map(move |&(what, wh)| (sign, what.to_string(), wh)))
        .filter(|(_, _, wh)| *wh >= 0.05)
        .collect();
    (rows, total)
}

/// The account as a table.
pub(super) fn account(mean: &Ledger, sources: &Sources) -> Table {
    let (rows, total) = account_rows(mean, sources);
    let row = |(sign, what, wh): AccountRow| {
        let share = wh / total.max(1e-9);
        [
            Cell::from(format!("{sign}  {what}")),
            energy(wh).into(),
            format!("{:.1} %", 100.0 * share).into(),
            Cell::Bar(share),
        ]
    };
    let columns = [Column::left("where"), Column::right("energy"), Column::right("share"), Column::left("")];
    Table::new(columns).bare().rows(rows.into_iter().map(row))
}

/// What the second station brought in a mean outage.
pub(super) fn brought(second: &SecondStation, wall_wh: f64) -> String {
    let full_wh = second.rated_capacity.0 * second.delivers.value.0;
    let given = format!(
        "In a mean outage the second station gives the first {} at its plug; full it gives {}. It refills the first one as soon as \
         there is room and it is there; loads of its own are not reckoned.",
        energy(wall_wh),
        energy(full_wh)
    );
    match &second.trips {
        None => format!("{given} It stays, and is charged by nothing."),
        Some(trips) => format!(
            "{given} {} it is away from {} to {} and is taken to come back {} full every time: whoever charges it must be there, \
             have power, and the road be open.",
            if trips.every_days == 1 { "Every day".to_string() } else { format!("Every {} days", trips.every_days) },
            clock(trips.away.from_minute),
            clock(trips.away.to_minute % 1440),
            percent(trips.returns_at.0)
        ),
    }
}
