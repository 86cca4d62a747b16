//! What would make an answer surer, in words.

use serde::Serialize;

use super::json::Difference;
use super::notes::Note;
use super::told::{Told, Words};
use super::words::{duration, label, percent, share};
use crate::kit::Matter;
use crate::open::assumed::Assumption;
use crate::study::surer::{Measure, NARROWER_BY, Surer};

impl Words for Measure {
    fn words(&self) -> String {
        match self {
            Measure::IdleDraw { outlet, hours_h, watts_a_percent_w, expected_percent, assumed_w, own_draw_w } => {
                let outlet = match *outlet {
                    "dc" => "the 12 V outlet",
                    "usb" => "USB",
                    _ => "AC",
                };
                let before = 100.0 - expected_percent;
                let own = match *own_draw_w {
                    own if own > 0.0 => format!("; {own:.1} W of that is the station's own draw"),
                    _ => String::new(),
                };
                format!(
                    "Charge to 100 %, disconnect everything, switch {outlet} on with nothing plugged in and read the charge \
                     after {}. Each percent lost means {watts_a_percent_w:.2} W: 100 -> {before:.0} % in {} means \
                     {assumed_w:.1} W, which is assumed here{own}.",
                    duration(*hours_h),
                    duration(*hours_h)
                )
            }
            Measure::CapacityTest { capacity_wh } => format!(
                "Run the battery from full to empty through one known load and a meter; the test's plan for {} Wh (tideover prove plan) \
                 says which load, how long and how to stay safe.",
                label(*capacity_wh).trim_end_matches(" Wh").replace(',', "")
            ),
            Measure::TwoLoads { capacity_wh } => format!(
                "Run the battery from full to empty twice, through a small load and a large one, with a meter: the difference is \
                 what the outlet's electronics lose. The test's plan for {} Wh (tideover prove plan) says how.",
                label(*capacity_wh).trim_end_matches(" Wh").replace(',', "")
            ),
            Measure::PlugMeter { load } => format!(
                "Put a plug meter between the outlet and the {load} for two ordinary days, and write what it counted, with its \
                 ±, in place of what stands there now."
            ),
            Measure::NightWithSmallLoad { key } => format!(
                "Leave the smallest load alone on the AC outlet for a night, look in the morning whether it still runs, and write \
                 what the outlet does into the file, as 0 W if it stays on (in the file: {key} under station.inverter)."
            ),
            Measure::SecondStation { capacity_wh } => format!(
                "Charge the second station full and empty it once through a plug meter and a steady load: what the meter counted \
                 over the {} Wh of its label is the share that it delivers.",
                label(*capacity_wh).trim_end_matches(" Wh").replace(',', "")
            ),
            Measure::FuelOfARun => {
                "Fill the generator to a mark, let it charge the station for an hour through a plug meter, and with the engine off and \
                 cold fill it to the mark again from a measured can: these litres over the kWh of the meter are what it burns, to be \
                 written with their ± in place of what stands there now."
                    .into()
            }
            Measure::PanelAtNoon { panel } => format!(
                "On a clear day around noon turn {panel} straight at the sun while the battery is well below full, and read the \
                 watts at the station's input; do it on three days. A proof (tideover prove) takes them as a test of the panel."
            ),
            Measure::CountedSun => {
                "Note what your own panel gives over some weeks of the season, on days when the battery is never full, and write \
                 the sum into the file as sun that you have seen; twelve monthly figures of a local almanac tell more."
                    .into()
            }
            Measure::RecordOfDays => {
                "No look or meter at home tells this in days: it takes daily sums of sun from a weather station near by, the more years the better, \
                 and a climate fitted to them (tideover climate fit)."
                    .into()
            }
            Measure::RecordOfAir => {
                "Get air temperatures from a weather station near by and fit a climate to them (tideover climate fit).".into()
            }
            Measure::MoreYears => "Add further years to the record.".into(),
        }
    }
}

/// Where nothing would.
pub const NOTHING: &str =
    "No single measurement: none would change the verdict, or make the range narrower by a tenth.";

/// Looks that cost nothing: what an answer takes for granted, where it hangs on that clearly. They stand beside the measurements.
///
/// * `notes` — what the answer rests on.
#[must_use]
pub fn looks(notes: &[Note]) -> Vec<String> {
    let clearly = |turned: &Difference| turned.difference_high < 0.0 && turned.difference <= -NARROWER_BY;
    let look = |note: &Note| {
        match note {
        Note::Assumed { what: Assumption::PanelsInTheSun, turned: Some(turned) } if clearly(turned) => Some(format!(
            "Whether anything shades the panels costs one look: on a clear day photograph them, or their place, at nine, at noon, at two \
             and at four. Whatever lies in shadow then goes into the file as shade of that panel, with its hours. If their sun were gone from two \
             o'clock on, {:.0} more of 100 outages would fail.",
            -100.0 * turned.difference
        )),
        Note::Kit(judged) if matches!(judged.matter, Matter::Snow { .. }) => Some(
            "Whether snow stays on the panels costs one look: the morning after a snowfall see whether they lie bare, and until when. The \
             answer takes them as swept; hours in which they are not go into the file as shade of that panel."
                .into(),
        ),
        _ => None,
    }
    };
    notes.iter().filter_map(look).collect()
}

/// One thing that would make an answer surer, in sentences.
#[must_use]
pub fn sentences(surer: &Surer) -> String {
    let first = format!(
        "Of what nobody has measured {} lies in {}. {}",
        percent(surer.share),
        surer.unknown.words(),
        surer.measure.words()
    );
    // An outlet stays on or it does not: what would come out halfway between the two is no figure to plan by.
    if matches!(surer.measure, Measure::NightWithSmallLoad { .. }) {
        return first;
    }
    format!(
        "{first} If that were known exactly and came out as assumed, the answer would be {}, on the same trials.",
        share(surer.held.probability, surer.held.interval)
    )
}

/// The same for programs.
#[derive(Debug, Serialize)]
pub struct Json<'a> {
    /// What is not known.
    quantity: &'static str,
    /// Name of the panels or the load that it belongs to; null for the station's and the place's.
    of: Option<&'a str>,
    /// Its share of what is not known, above 0 to 1.
    share: f64,
    /// What to measure.
    measure: Told<&'a Measure>,
    /// Share of the trials that would survive if it came out as assumed, 0 to 1.
    then_probability: f64,
    /// Lower end of the 95 % interval that counts chance and what else is not known.
    then_low: f64,
    /// Upper end of the same.
    then_high: f64,
    /// The same in words.
    text: String,
}

impl<'a> Json<'a> {
    /// For the schema.
    #[must_use]
    pub fn of(surer: &'a Surer) -> Json<'a> {
        Json {
            quantity: surer.unknown.quantity,
            of: surer.unknown.of.as_deref(),
            share: surer.share,
            measure: (&surer.measure).into(),
            then_probability: surer.held.probability,
            then_low: surer.held.interval.low,
            then_high: surer.held.interval.high,
            text: sentences(surer),
        }
    }
}
