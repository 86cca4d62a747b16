//! What is judged of a kit: each matter with its numbers. Words are made of them in [`crate::report::judged`].

use serde::Serialize;

/// What loads that run together can be too much for.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Source {
    /// The AC outlet.
    Inverter,
    /// The 12 V outlet.
    DcOutlet,
    /// The USB outlet.
    UsbOutlet,
    /// The station's cells, with all losses.
    Station,
}

impl Source {
    /// The key of the scenario that says what it gives.
    #[must_use]
    pub fn limit_key(self) -> &'static str {
        match self {
            Source::Inverter => "station.inverter.rated",
            Source::DcOutlet => "station.dc_outlet.limit",
            Source::UsbOutlet => "station.usb.limit",
            Source::Station => "station.discharge_limit",
        }
    }
}

/// How a string's volts on the coldest morning stand to what the solar input takes.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum ColdVolts {
    /// They destroy it.
    Destroy,
    /// They pass its limit by one of the two ways to reckon.
    PassByOneWay,
    /// They come close.
    Close,
    /// They stay below.
    Below,
}

/// How the volts at best power stand to what the solar input needs.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum StartVolts {
    /// It never starts.
    Never,
    /// It stops on hot days.
    NotWhenHot,
    /// It starts, hot or cold.
    Always,
}

/// How the watts of panels stand to what the solar input takes.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum PanelWatts {
    /// So many that a figure must be wrong.
    BeyondBelief,
    /// Part of full sun is not taken.
    Clipped,
    /// All is taken.
    Taken,
}

/// What the air, or the room, lets the cells do.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
#[allow(missing_docs, reason = "the words of each say it")]
pub enum CellsIn {
    Sun,
    ClosedBox,
    TooColdToWorkMostly,
    TooColdToWorkAtTimes,
    TooColdToCharge,
    FrostStopsCharging,
    ColdAtTimes,
    NeverCold,
    DoesNotWorkThere,
    NotChargedThere,
    WorksThere,
    HeatedRoom,
    WarmRoom,
    CoolingRoom,
    CoolingRoomStopsCharging,
}

/// Where a figure of an inverter's draw comes from.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum DrawFrom {
    /// It is written.
    Written,
    /// Bench tests tell it.
    Tests,
    /// Bench tests leave it at a typical figure.
    Typical,
}

/// An array and the volts of its strings at best power.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[allow(missing_docs, reason = "units at the ends of the names")]
pub struct ArrayVolts {
    pub array: String,
    pub best_v: f64,
}

/// A matter that is judged. Shares go from 0 to 1; times of day are those of the clock.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[serde(tag = "kind", rename_all = "snake_case")]
#[allow(missing_docs, reason = "the words of each say it; units at the ends of the names")]
pub enum Matter {
    /// A solar input whose greatest volts nobody knows.
    InputLimitUnknown { array: String },
    /// A panel whose volts nobody knows.
    PanelVoltsUnknown { array: String, limit_v: f64 },
    /// Volts on the coldest morning, by the panel's coefficient and by the code's table (none where it ends).
    ColdVolts {
        how: ColdVolts,
        array: String,
        series: u32,
        open_circuit_v: f64,
        cold_c: f64,
        per_k: f64,
        per_k_is_typical: bool,
        by_coefficient_v: f64,
        table_factor: Option<f64>,
        by_table_v: Option<f64>,
        limit_v: f64,
        most_in_series: f64,
    },
    /// Volts at best power, at 25 °C and hot.
    StartVolts { how: StartVolts, array: String, best_v: f64, hot_v: f64, hot_c: f64, least_v: f64 },
    /// What a cable takes at most; of an array, or of the 12 V outlet.
    CableLoss {
        array: Option<String>,
        amps: f64,
        length_m: f64,
        gauge: String,
        drop_v: f64,
        volts: f64,
        lost_w: f64,
        lost_share: f64,
        allowed_share: f64,
        enough: Option<String>,
    },
    /// Amps of the panels at full sun, at an input by its name; empty where it is the only one.
    InputAmps { input: String, amps: f64, limit_a: f64 },
    /// Watts of the panels at an input, or at all inputs together.
    InputWatts { how: PanelWatts, input: Option<String>, panels_w: f64, limit_w: f64 },
    /// Strings that want a fuse each.
    Fuses { strings: u32, unfused_strings: u32 },
    /// Arrays side by side on one input.
    UnequalArrays { input: String, arrays: Vec<ArrayVolts>, lost_share: f64, alike_share: f64 },
    /// Where the station stands. The air outside is the month's.
    Temperature {
        how: CellsIn,
        mean_c: f64,
        high_c: f64,
        low_c: f64,
        at_c: f64,
        usable_share: f64,
        heater_lift_k: f64,
        charges_between_c: [f64; 2],
        works_between_c: [f64; 2],
        lead_acid: bool,
    },
    /// Acid of lead-acid cells that freezes once they are flat; and as full as they are kept.
    AcidFreezes { coldest_c: f64, flat_c: f64, kept: f64, kept_c: f64 },
    /// Snow on the panels.
    Snow { mean_c: f64 },
    /// A bench test that no cells of the label could give.
    TestImpossible { least_wh: f64, hours: f64, most_wh: f64 },
    /// A bench test that asks for more cells than the label has, with losses that are assumed.
    TestBeyondAssumed { cells_wh: f64, most_wh: f64 },
    /// The same with losses that are written.
    TestBeyondWritten { cells_wh: f64, most_wh: f64 },
    /// What comes out at the rate of the loads, by bench tests.
    RateTested { share: f64 },
    /// The same of lithium cells that nobody has tested.
    RateOfLithium { share: f64 },
    /// The same of lead-acid cells, by Peukert's law.
    RateOfLead { share: f64, label_hours: f64, exponent: f64 },
    /// A load that the station cannot run.
    NeverRuns { load: String, watts: f64, bus_w: f64, gives_w: f64, outlet_w: f64, beyond_outlet: bool, at: Source },
    /// All that may run at once; with all losses where it is the cells'.
    AtOnce { at: Source, watts: f64, limit_w: f64, loads: Vec<String>, vital: bool, from: String },
    /// The start of a motor while the others run.
    Start { load: String, starting_w: f64, total_w: f64, from: String, surge_w: Option<f64>, rated_w: f64 },
    /// An inverter's draw beside what it serves, in a day.
    InverterDraw { draw_w: f64, by: DrawFrom, on_h: f64, draw_wh: f64, asked_wh: f64, movable: Vec<String> },
    /// AC loads too small for an inverter that sleeps.
    Sleeps { watts: f64, from: String, loads: Vec<String>, surely_w: f64, least_w: f64, assumed: bool },
    /// AC loads too small for an outlet that switches itself off.
    SwitchesOff {
        watts: f64,
        from: String,
        loads: Vec<String>,
        surely_w: f64,
        least_w: f64,
        assumed: bool,
        after_h: [f64; 2],
        somebody_home_is_told: bool,
    },
    /// AC loads that wait for a hand as the mains fails.
    SwitchedOver { loads: Vec<String> },
    /// A load on AC and the gap as the station takes over from the mains, where it does so by itself.
    SwitchOver { load: String, tolerates_ms: f64, ups: bool, switchover_ms: Option<f64> },
    /// A car that charges the station from its 12 V outlet.
    CarOutlet { source: String, watts: f64, outlet_w: f64 },
    /// Panels at the battery's volts.
    HeldAt { array: String, held_v: f64, best_v: f64, share: f64, well_share: f64 },
    /// A generator and the wall charger.
    Generator { charger_w: f64, generator_w: f64 },
    /// AC loads on a generator: those it carries and how much they draw at once, those it does not and how much all draw.
    GeneratorFeeds {
        carries: Vec<String>,
        carried_w: f64,
        leaves: Vec<String>,
        all_w: f64,
        up_to_w: f64,
        through: bool,
    },
    /// A motor on AC that a generator has to start, beside what else may run on it and the charger.
    GeneratorStartsMotor { load: String, starting_w: f64, total_w: f64, generator_w: f64 },
    /// A generator and who starts it.
    GeneratorStarts { runs_h: f64, meant_h: f64 },
    /// What may be missed against what vital loads ask for.
    AllowedUnmet { loads: Vec<String>, asked_wh: f64, allowed_wh: f64 },
}

impl Matter {
    /// Whether something may burn, burst or be destroyed: what is to be minded before anything is plugged in.
    #[must_use]
    pub fn endangers(&self) -> bool {
        matches!(
            self,
            Matter::InputLimitUnknown { .. }
                | Matter::PanelVoltsUnknown { .. }
                | Matter::Fuses { .. }
                | Matter::AcidFreezes { .. }
        )
    }
}
