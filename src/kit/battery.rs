//! What cells can do when they are cold, hot or nearly full.
//!
//! * Usable energy falls with cold. Lead-acid: the inverse of the temperature correction factors for cell sizing of
//!   IEEE 485, table 1 (figures from memory; the table's range, −3.9 to 51.7 °C about 25 °C, seen second hand), below
//!   that range on the same slope. LFP and NMC: makers' and sellers' sheets give about 80 % at 0 °C and 60 to 70 % at
//!   −20 °C (typical, no source; the lower end is taken). Energy that the cold locks in is not lost: it comes back with
//!   warmth. Above room temperature nothing is added.
//! * Power falls with cold and near the upper limits: typical, no source; see the tables below.
//! * Lithium cells are not charged below 0 °C: metallic lithium would plate the anode (common knowledge of the trade;
//!   every maker's manual forbids it).

use crate::math;
use crate::scenario::model::Chemistry;
use crate::units::Celsius;

/// What is assumed of cells that nothing is said about. Typical figures without a source, but for what the module says.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Habits {
    /// Most charging power over capacity \[W/Wh\], where no limit is given.
    pub charge_c_rate: f64,
    /// Heat that warms a station by a kelvin, over the energy on its label \[1/K\].
    pub heat_capacity_per_k: f64,
    /// Hours in which a station makes up 63 % of a difference to what is around it: its heat capacity over its loss \[h\].
    /// Typical of some ten kilograms in a plastic case; no source.
    pub lag_h: f64,
    usable: &'static [(f64, f64)],
    charge: &'static [(f64, f64)],
    discharge: &'static [(f64, f64)],
}

/// Share of the energy in a warm room that can be drawn, by temperature \[°C\].
const LFP_USABLE: &[(f64, f64)] = &[(-40.0, 0.30), (-20.0, 0.60), (0.0, 0.80), (10.0, 0.92), (20.0, 1.0)];
const NMC_USABLE: &[(f64, f64)] = &[(-40.0, 0.35), (-20.0, 0.65), (0.0, 0.85), (10.0, 0.94), (20.0, 1.0)];
/// IEEE 485: 1/1.520 at 25 °F, 1/1.430 at 30 °F, 1/1.300 at 40 °F, 1/1.190 at 50 °F, 1/1.110 at 60 °F, 1/1.040 at 70 °F.
const LEAD_USABLE: &[(f64, f64)] = &[
    (-40.0, 0.10),
    (-3.9, 0.658),
    (-1.1, 0.699),
    (4.4, 0.769),
    (10.0, 0.840),
    (15.6, 0.901),
    (21.1, 0.962),
    (25.0, 1.0),
];
/// Share of the charging limit, by temperature \[°C\].
const LITHIUM_CHARGE: &[(f64, f64)] = &[(0.0, 0.1), (10.0, 0.3), (20.0, 1.0), (40.0, 1.0), (45.0, 0.5), (60.0, 0.1)];
const LEAD_CHARGE: &[(f64, f64)] = &[(-20.0, 0.2), (0.0, 0.6), (15.0, 1.0), (40.0, 1.0), (50.0, 0.5)];
/// Share of the discharging limit, by temperature \[°C\].
const LITHIUM_DISCHARGE: &[(f64, f64)] = &[(-20.0, 0.3), (-10.0, 0.6), (5.0, 1.0), (45.0, 1.0), (60.0, 0.4)];
const LEAD_DISCHARGE: &[(f64, f64)] = &[(-20.0, 0.5), (0.0, 0.8), (15.0, 1.0), (50.0, 1.0), (60.0, 0.5)];

/// Specific heat of a station \[Wh/(kg K)\]: that of its cells, 1 kJ/(kg K). A lithium-ion cell measured has 0.96 to 1.04
/// kJ/(kg K) from empty to nearly full (Maleki et al. 1999, J. Electrochem. Soc. 146, 947). Lead-acid: about the same, from memory.
const WH_PER_KG_K: f64 = 1.0 / 3.6;
/// Weight of a station over the energy on its label \[kg/Wh\]: 14.4 kg for each kWh of lithium, 30 kg of lead. Typical, no source.
const LITHIUM_KG_PER_WH: f64 = 0.0144;
const LEAD_KG_PER_WH: f64 = 0.030;

/// Peukert's exponent of lead-acid cells: common practice, no source (1.05 to 1.15 for sealed mats, 1.2 to 1.3 for flooded
/// plates). 1.2 leaves 79 % of the 20-hour capacity in 5 hours and 61 % in one; makers' sheets give 80 to 85 and 55 to 60 %.
pub const PEUKERT: f64 = 1.2;
/// Hours of the discharge behind the capacity on the label of lead-acid cells (the trade's 20-hour rate).
pub const RATED_HOURS: f64 = 20.0;

/// Share of the capacity that comes out when a day's powers flow instead of a reference power: by Peukert (1897) a power `P`
/// empties the cells as fast as `P (P / reference)^(k - 1)` at the reference. Below the reference nothing is gained.
///
/// * `day_w` — powers of equal steps \[W\]; `reference_w` — the power at which the capacity holds \[W\], above 0.
#[must_use]
pub fn rate_share(day_w: &[f64], reference_w: f64) -> f64 {
    let asked: f64 = day_w.iter().sum();
    let costs: f64 = day_w.iter().map(|w| w * math::pow((w / reference_w).max(1.0), PEUKERT - 1.0)).sum();
    if costs > 0.0 { asked / costs } else { 1.0 }
}

/// The rate that a proved energy is meant for \[C\]: empty in five hours, as the trade's bench load does.
pub const PROVED_RATE: f64 = 0.2;

/// What lithium cells that nobody has tested are expected to lose of their energy for each C beyond [`PROVED_RATE`], and its
/// standard deviation: makers' sheets give 95 to 98 % at 1 C of what comes out at 0.2 C, at which IEC 61960 rates a cell (from memory).
pub const LITHIUM_LOSS_PER_C: (f64, f64) = (0.04, 0.08);

/// The same of lithium cells: a watt-hour drawn at a rate r costs `k (r − r₀)` more; at least 0.3 is left. Below r₀ nothing is gained.
///
/// * `usable_wh` — energy at the rate r₀ \[Wh\], above 0; `loss_per_c` — k, 0 or more; `from_rate` — r₀ \[C\].
#[must_use]
pub fn lithium_rate_share(day_w: &[f64], usable_wh: f64, loss_per_c: f64, from_rate: f64) -> f64 {
    let asked: f64 = day_w.iter().sum();
    if asked <= 0.0 {
        return 1.0;
    }
    let cost: f64 = day_w.iter().map(|w| w * loss_per_c * (w / usable_wh - from_rate).max(0.0)).sum();
    (1.0 - cost / asked).max(0.3)
}

impl Habits {
    /// The habits of a kind of cells.
    #[must_use]
    pub fn of(chemistry: Chemistry) -> Habits {
        let lithium = Habits {
            charge_c_rate: 1.0,
            heat_capacity_per_k: LITHIUM_KG_PER_WH * WH_PER_KG_K,
            lag_h: 3.0,
            usable: LFP_USABLE,
            charge: LITHIUM_CHARGE,
            discharge: LITHIUM_DISCHARGE,
        };
        match chemistry {
            Chemistry::Lfp => lithium,
            Chemistry::Nmc => Habits { usable: NMC_USABLE, ..lithium },
            Chemistry::LeadAcid => Habits {
                charge_c_rate: 0.2,
                heat_capacity_per_k: LEAD_KG_PER_WH * WH_PER_KG_K,
                usable: LEAD_USABLE,
                charge: LEAD_CHARGE,
                discharge: LEAD_DISCHARGE,
                ..lithium
            },
        }
    }
}

/// What cells can do at one temperature, as shares of what they can do in a warm room, 0 to 1.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Fitness {
    /// Of the energy, what can be drawn.
    pub usable: f64,
    /// Of the charging limit.
    pub charge: f64,
    /// Of the discharging limit.
    pub discharge: f64,
    /// Whether the station works at all.
    pub works: bool,
}

/// Coldest temperature of the table \[°C\].
const COLDEST_C: f64 = -50.0;
/// Lines of the table in each kelvin.
const LINES_A_KELVIN: f64 = 4.0;
/// Lines: −50 to 90 °C.
const LINES: usize = 561;

/// [`Fitness`] by temperature, in lines of a quarter of a kelvin.
#[derive(Debug, Clone, PartialEq)]
pub struct FitnessTable {
    lines: Vec<Fitness>,
}

/// Freezing point of the acid of lead-acid cells over their state of charge \[°C\]. Handbooks of batteries have it by the acid's
/// density: -7 °C at 1.10 kg/l, -15 °C at 1.15, -27 °C at 1.20, -52 °C at 1.25 (Linden and Reddy, Handbook of Batteries; from
/// memory). The density goes from about 1.10 in flat cells to 1.265 in full ones (common practice, no source).
const ACID_FREEZES: [(f64, f64); 5] = [(0.0, -7.0), (0.30, -15.0), (0.61, -27.0), (0.91, -52.0), (1.0, -59.0)];

/// Temperature at which the acid of lead-acid cells freezes \[°C\], -59 to -7.
///
/// * `charge` — state of charge, 0 to 1.
#[must_use]
pub fn acid_freezes_c(charge: f64) -> f64 {
    math::along(&ACID_FREEZES, charge)
}

/// Share of the energy of a warm room that cells of a kind give at a temperature \[°C\], 0 to 1.
#[must_use]
pub fn usable_share(chemistry: Chemistry, cell_c: f64) -> f64 {
    math::along(Habits::of(chemistry).usable, cell_c)
}

impl FitnessTable {
    /// Cells that do not mind.
    #[must_use]
    pub fn indifferent() -> FitnessTable {
        FitnessTable { lines: vec![Fitness { usable: 1.0, charge: 1.0, discharge: 1.0, works: true }; LINES] }
    }

    /// The table of a kind of cells within its station's limits.
    #[must_use]
    pub fn new(
        chemistry: Chemistry,
        charges_between: (Celsius, Celsius),
        works_between: (Celsius, Celsius),
    ) -> FitnessTable {
        let habits = Habits::of(chemistry);
        let within = |c: f64, (low, high): (Celsius, Celsius)| low.0 <= c && c <= high.0;
        let line = |k: usize| {
            let c = COLDEST_C + k as f64 / LINES_A_KELVIN;
            let works = within(c, works_between);
            Fitness {
                usable: math::along(habits.usable, c),
                charge: if works && within(c, charges_between) { math::along(habits.charge, c) } else { 0.0 },
                discharge: if works { math::along(habits.discharge, c) } else { 0.0 },
                works,
            }
        };
        FitnessTable { lines: (0..LINES).map(line).collect() }
    }

    /// What the cells can do at a temperature \[°C\]: the line at or below it, the first or last line beyond the table.
    #[must_use]
    pub fn at(&self, cell_c: f64) -> Fitness {
        let line = ((cell_c - COLDEST_C) * LINES_A_KELVIN).clamp(0.0, (LINES - 1) as f64) as usize;
        self.lines[line]
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn table(chemistry: Chemistry) -> FitnessTable {
        let (charges, works) = match chemistry {
            Chemistry::LeadAcid => ((-20.0, 50.0), (-20.0, 50.0)),
            _ => ((0.0, 45.0), (-20.0, 60.0)),
        };
        let span = |(low, high)| (Celsius(low), Celsius(high));
        FitnessTable::new(chemistry, span(charges), span(works))
    }

    #[test]
    fn lithium_is_not_charged_below_freezing_and_lead_is() {
        for chemistry in [Chemistry::Lfp, Chemistry::Nmc] {
            let cells = table(chemistry);
            assert_eq!(cells.at(-0.01).charge, 0.0);
            assert!(cells.at(0.0).charge > 0.0);
            assert_eq!(cells.at(45.3).charge, 0.0);
            assert_eq!((cells.at(-20.3).discharge, cells.at(60.3).discharge), (0.0, 0.0));
            assert_eq!([-20.3, -19.9, 59.9, 60.3].map(|c| cells.at(c).works), [false, true, true, false]);
        }
        assert!(table(Chemistry::LeadAcid).at(-10.0).charge > 0.0);
    }

    #[test]
    fn lead_acid_follows_the_sizing_factors_of_ieee_485() {
        // Table 1 of IEEE 485, from memory: factors on the cell size at 25, 40, 50, 60 and 77 °F.
        for (fahrenheit, factor) in [(25.0, 1.520), (40.0, 1.300), (50.0, 1.190), (60.0, 1.110), (77.0, 1.000)] {
            let c: f64 = (fahrenheit - 32.0) / 1.8;
            // A line of the table lies up to a quarter of a kelvin off, at 1.5 % a kelvin.
            assert!((1.0 / table(Chemistry::LeadAcid).at(c).usable - factor).abs() < 0.012, "{fahrenheit} °F");
        }
    }

    #[test]
    fn a_steady_power_empties_lead_acid_in_the_hours_of_peukert() {
        // t = H (C / (P H))^k, Peukert (1897), with the 20-hour capacity.
        for (watts, hours) in [(50.0, 20.0), (100.0, 20.0 * math::pow(0.5, 1.2)), (1000.0, 20.0 * math::pow(0.05, 1.2))]
        {
            let share = rate_share(&[watts; 24], 1000.0 / RATED_HOURS);
            assert!((1000.0 * share / watts - hours).abs() < 1e-9, "{watts} W");
        }
        // At the 5-hour rate, over its own hours, about 80 % are left (common practice, no source).
        let five_hours = 1000.0 * math::pow(0.25, 1.0 / 6.0);
        assert!((five_hours * 0.2 * 5.0 / 1000.0 - 0.8).abs() < 0.02);
        assert_eq!(rate_share(&[10.0, 0.0], 50.0), 1.0);
        assert_eq!(rate_share(&[0.0], 50.0), 1.0);
    }

    #[test]
    fn a_lithium_battery_loses_by_the_rate_beyond_that_of_its_label() {
        // 1 kWh under 600 W is 0.4 C beyond 0.2 C: at 5 % a C 2 % less, in one hour of a day as in all.
        for day_w in [vec![600.0; 24], vec![600.0, 0.0, 0.0]] {
            assert!((lithium_rate_share(&day_w, 1000.0, 0.05, PROVED_RATE) - 0.98).abs() < 1e-12);
        }
        // Half of the energy at 600 W, half at a rate that costs nothing.
        assert!((lithium_rate_share(&[600.0, 200.0, 200.0, 200.0], 1000.0, 0.05, PROVED_RATE) - 0.99).abs() < 1e-12);
        // Held against a test at 0.5 C.
        assert!((lithium_rate_share(&[600.0], 1000.0, 0.05, 0.5) - 0.995).abs() < 1e-12);
        assert_eq!(lithium_rate_share(&[150.0], 1000.0, 0.05, PROVED_RATE), 1.0);
    }

    /// 1 kJ/(kg K) is 0.2778 Wh/(kg K): of 14.4 kg for each kWh 4 Wh/K, of 30 kg of lead 8.33 Wh/K. Lithium takes its capacity in an hour,
    /// lead in five (typical, no source).
    #[test]
    fn what_is_assumed_of_cells_is_what_the_trade_says() {
        for (chemistry, wh_per_k, rate) in
            [(Chemistry::Lfp, 4.0, 1.0), (Chemistry::Nmc, 4.0, 1.0), (Chemistry::LeadAcid, 30.0 / 3.6, 0.2)]
        {
            let habits = Habits::of(chemistry);
            assert!((1000.0 * habits.heat_capacity_per_k - wh_per_k).abs() < 1e-9, "{chemistry:?}");
            assert_eq!((habits.charge_c_rate, habits.lag_h), (rate, 3.0), "{chemistry:?}");
        }
        // Sheets: LFP about 80 % at 0 °C and 60 % at -20 °C, straight between; a warm room adds nothing.
        for (chemistry, cell_c, share) in [
            (Chemistry::Lfp, 0.0, 0.80),
            (Chemistry::Lfp, -20.0, 0.60),
            (Chemistry::Lfp, -5.0, 0.75),
            (Chemistry::Lfp, 35.0, 1.0),
            (Chemistry::Nmc, -10.0, 0.75),
            (Chemistry::LeadAcid, 30.0, 1.0),
        ] {
            assert!((usable_share(chemistry, cell_c) - share).abs() < 1e-12, "{chemistry:?} at {cell_c} °C");
        }
    }

    /// Handbooks of batteries, from memory: flat acid freezes at -7 °C, a full one below -50 °C; straight between the lines of the table.
    #[test]
    fn acid_freezes_the_sooner_the_flatter_the_cells() {
        for (charge, freezes_c) in
            [(0.0, -7.0), (0.15, -11.0), (0.30, -15.0), (0.61, -27.0), (0.76, -39.5), (0.91, -52.0), (1.0, -59.0)]
        {
            assert!((acid_freezes_c(charge) - freezes_c).abs() < 1e-9, "{charge}");
        }
    }

    /// Lines of a quarter of a kelvin from -50 to 90 °C, the one at or below; the ends beyond them, and cells that do not mind.
    #[test]
    fn the_table_holds_its_curve_at_each_quarter_of_a_kelvin() {
        for chemistry in [Chemistry::Lfp, Chemistry::LeadAcid] {
            let (cells, habits) = (table(chemistry), Habits::of(chemistry));
            for quarter in -200..=360 {
                let c = 0.25 * f64::from(quarter);
                let (at, later) = (cells.at(c), cells.at(c + 0.2499));
                assert_eq!((at.usable, at), (math::along(habits.usable, c), later), "{c} °C");
                let works = if chemistry == Chemistry::LeadAcid {
                    (-20.0..=50.0).contains(&c)
                } else {
                    (-20.0..=60.0).contains(&c)
                };
                assert_eq!(at.works, works, "{c} °C");
                assert_eq!(at.discharge, if works { math::along(habits.discharge, c) } else { 0.0 }, "{c} °C");
                let charges = if chemistry == Chemistry::LeadAcid { works } else { (0.0..=45.0).contains(&c) };
                assert_eq!(at.charge, if charges { math::along(habits.charge, c) } else { 0.0 }, "{c} °C");
            }
            assert_eq!((cells.at(-300.0), cells.at(500.0)), (cells.at(-50.0), cells.at(90.0)));
        }
        let indifferent = FitnessTable::indifferent();
        for c in [-300.0, -50.0, 20.0, 90.0, 500.0] {
            assert_eq!(indifferent.at(c), Fitness { usable: 1.0, charge: 1.0, discharge: 1.0, works: true });
        }
        // A station that stops charging before it stops working.
        let narrow = FitnessTable::new(Chemistry::Lfp, (Celsius(-30.0), Celsius(80.0)), (Celsius(5.0), Celsius(50.0)));
        assert_eq!([4.75, 5.0, 50.0, 50.25].map(|c| narrow.at(c).charge > 0.0), [false, true, true, false]);
    }

    /// What comes out is what was asked for over what it costs: at 1 C of 1 kWh, with a loss of 90 % a C beyond 0.2 C, 28 % would be left; three
    /// tenths are.
    #[test]
    fn no_haste_costs_lithium_more_than_seven_tenths() {
        assert!((lithium_rate_share(&[900.0], 1000.0, 0.9, PROVED_RATE) - 0.37).abs() < 1e-12);
        assert_eq!(lithium_rate_share(&[1000.0], 1000.0, 0.9, PROVED_RATE), 0.3);
        assert_eq!(lithium_rate_share(&[0.0, 0.0], 1000.0, 0.9, PROVED_RATE), 1.0);
    }

    #[test]
    fn warmth_never_makes_cells_bigger_and_cold_never_makes_them_fitter() {
        for chemistry in [Chemistry::Lfp, Chemistry::Nmc, Chemistry::LeadAcid] {
            let cells = table(chemistry);
            for c in -60..100 {
                let (now, next) = (cells.at(f64::from(c)), cells.at(f64::from(c + 1)));
                assert!(now.usable <= next.usable && next.usable <= 1.0);
                if c < 15 {
                    assert!(now.charge <= next.charge && now.discharge <= next.discharge, "{chemistry:?} at {c} °C");
                }
            }
        }
    }
}
