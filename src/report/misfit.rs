//! Why a kit does not fit a case, in an owner's words.

use super::words::count_word;
use crate::scenario::Problem;
use crate::study::lineup::{Misfit, Wiring};

/// What of a kit's panels its solar input cannot bear.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct TooManyVolts {
    /// How they are wired.
    pub wired: Wiring,
    /// Volts of a string on the coldest morning \[V\].
    pub cold_v: f64,
    /// Design cold of the place \[°C\].
    pub cold_c: f64,
    /// What the input takes \[V\].
    pub most_v: f64,
    /// How they would fit.
    pub fits: Option<Wiring>,
    /// Whether they would then give more amps than the input takes, which does no harm.
    pub spills: bool,
}

/// A sign and a word or two for a cell.
#[must_use]
pub fn mark(why: Misfit) -> &'static str {
    match why {
        Misfit::Wiring(_) => "w  wiring",
        Misfit::Overload => "#  too big",
        Misfit::Parts => "x  no fit",
    }
}

/// What it is called: in sentences and tables.
#[must_use]
pub fn word(why: Misfit) -> &'static str {
    match why {
        Misfit::Wiring(_) => "wrong wiring",
        Misfit::Overload => "a load too big",
        Misfit::Parts => "does not fit",
    }
}

/// What the marks mean.
pub(super) const LEGEND: [(&str, &str); 3] = [
    (
        "w",
        "wrong wiring: the panels as they are wired would destroy the solar input on a cold morning; the reason says how they fit",
    ),
    ("#", "a load too big, do not count on it: what must stay on is more than an outlet, or the cells, give"),
    ("x", "does not fit: a part is missing, as an outlet that a load needs"),
];

impl TooManyVolts {
    /// As a sentence without its point: "the two panels in series give up to 58 V on the coldest morning of the year (-16 °C); this input takes 50 V; in
    /// parallel they fit".
    #[must_use]
    pub fn words(&self) -> String {
        let Wiring { series, parallel } = self.wired;
        let count = series * parallel;
        let who = match (series, parallel) {
            (1, 1) => "the panel gives".to_string(),
            (1, _) => format!("each of the {} panels gives", count_word(count)),
            (_, 1) => format!("the {} panels in series give", count_word(series)),
            _ => {
                format!(
                    "the {} panels in series, {} such strings side by side, give",
                    count_word(series),
                    count_word(parallel)
                )
            }
        };
        let then = match self.fits {
            None => "no wiring of these panels fits it: use panels of fewer volts, or another station".to_string(),
            Some(Wiring { series: 1, parallel }) if parallel == count => "in parallel they fit".into(),
            Some(fits) if fits.series * fits.parallel == count => {
                format!(
                    "{} in series and {} such strings side by side fit",
                    count_word(fits.series),
                    count_word(fits.parallel)
                )
            }
            Some(Wiring { series: 1, parallel: 1 }) => "one of them fits".into(),
            Some(Wiring { series, parallel: 1 }) => format!("{} of them in series fit", count_word(series)),
            Some(Wiring { series, parallel }) => format!(
                "fewer of them fit: {} in series, {} such strings side by side",
                count_word(series),
                count_word(parallel)
            ),
        };
        format!(
            "{who} up to {:.0} V on the coldest morning of the year ({:.0} °C); this input takes {:.0} V; {then}{}",
            self.cold_v.ceil(),
            self.cold_c,
            self.most_v,
            if self.spills { ", though it does not take all of their amps then" } else { "" }
        )
    }
}

/// A problem between kit and case, without the names of keys.
#[must_use]
pub fn words(problem: &Problem) -> String {
    // A load's own name stands in quotes behind its number.
    let named = problem.whose.as_deref().and_then(|whose| whose.split('"').nth(1));
    let mut parts = problem.key.split('.');
    let (section, last) = (parts.next().unwrap_or_default(), problem.key.rsplit('.').next().unwrap_or_default());
    let who = match (section, named) {
        ("load", Some(name)) => format!("the {name}"),
        ("load", None) => "a load".into(),
        ("panel", _) => "the panels".into(),
        ("generator", _) => "the generator".into(),
        ("station", _) => "the station".into(),
        ("", _) => "the kit".into(),
        (other, _) => format!("the {other}"),
    };
    let most = problem.allowed.trim_end_matches(", count included").trim_start_matches("up to ");
    match (section, last) {
        ("load", "outlet") => format!("this station does not have the outlet for {who}"),
        ("load", "watts") if !most.is_empty() => {
            format!("the outlet gives {most}, too little for {who} ({})", problem.found)
        }
        ("load", "starting_watts") if !most.is_empty() => format!(
            "the inverter gives {} for a moment, too little for {who} ({}): a start never succeeds",
            most.trim_start_matches("surge "),
            problem.found
        ),
        ("generator", "generator") => "the generator can charge nothing: this station has no wall charger".into(),
        _ => {
            let label = problem.label();
            let rest = if label.is_empty() { label } else { format!(" ({label})") };
            format!("{who}: {}{rest}", problem.what)
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn told(wired: (u32, u32), fits: Option<(u32, u32)>) -> String {
        let wiring = |(series, parallel)| Wiring { series, parallel };
        let fits = fits.map(wiring);
        TooManyVolts { wired: wiring(wired), cold_v: 57.3, cold_c: -16.2, most_v: 50.0, fits, spills: false }.words()
    }

    #[test]
    fn a_wrong_wiring_is_said_as_an_owner_would() {
        assert_eq!(
            told((2, 1), Some((1, 2))),
            "the two panels in series give up to 58 V on the coldest morning of the year (-16 °C); this input takes 50 V; in parallel they fit"
        );
        assert!(told((4, 1), Some((2, 2))).ends_with("two in series and two such strings side by side fit"));
        assert!(told((3, 1), Some((2, 1))).ends_with("two of them in series fit"));
        assert!(told((1, 1), None).starts_with("the panel gives up to 58 V"));
        assert!(told((1, 1), None).contains("no wiring of these panels fits it"));
    }

    #[test]
    fn a_misfit_names_no_keys() {
        let whose = Some("load 2, \"fridge\"".to_string());
        let watts = Problem::error("load.1.watts", "is more than its outlet gives").found("290 W");
        let watts = Problem { whose: whose.clone(), ..watts.allowed("up to 250 W, count included") };
        assert_eq!(words(&watts), "the outlet gives 250 W, too little for the fridge (290 W)");
        let outlet = Problem { whose, ..Problem::error("load.1.outlet", "is an outlet that the station lacks") };
        assert_eq!(words(&outlet), "this station does not have the outlet for the fridge");
    }
}
