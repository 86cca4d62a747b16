//! Results as plain text: one line a cell, columns parted by tabs, so that finished work is never done twice.
//!
//! Numbers are written with as many digits as bring back the same number to the last bit. Lines are sorted by case, place,
//! kit and key: the same cells make the same bytes, however they came together.

use std::collections::BTreeMap;
use std::fmt::Write as _;

use super::cell::{Cell, CellAnswer, FirstFailure, Misfit, Wiring};
use super::outcomes::Outcomes;
use crate::study::compare::Pair;
use crate::trials::interval::{Interval, paired_difference};
use crate::trials::unknowns::Survival;

/// What the first line of every file of results begins with.
const KIND: &[u8] = b"# tideover line-up results ";

/// First line of a file of results; another layout gets another number.
const HEAD: &str = "# tideover line-up results 1";

/// Whether a file is one of results, whole or damaged, of this layout or another.
#[must_use]
pub fn is_results(bytes: &[u8]) -> bool {
    bytes.starts_with(KIND)
}

const COLUMNS: &str = "key\tcase\tplace\tkit\tverdict\ttrials\tsurvived\tlow\thigh\tchance_low\tchance_high\tunmet_wh_mean\t\
     first_failure\tfirst_failure_share\tfirst_failure_h\tprobe_trials\tpanel\tdc_outlet\tbattery\toutcomes";

/// A stored cell and whose it is.
#[derive(Debug, Clone, PartialEq)]
pub struct Stored {
    /// Name of the case.
    pub case: String,
    /// The place.
    pub place: String,
    /// Name of the kit.
    pub kit: String,
    /// What it says.
    pub cell: Cell,
}

/// A line that cannot be read.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("line {line} {what}")]
pub struct Unreadable {
    /// From 1.
    pub line: usize,
    /// What is wrong.
    pub what: &'static str,
}

/// Text without what would break a line.
fn flat(text: &str) -> String {
    text.chars().map(|c| if c.is_control() { ' ' } else { c }).collect()
}

/// What stands before the reason of a cell that does not fit.
fn misfit(why: Misfit) -> String {
    match why {
        Misfit::Parts => "does not fit: ".into(),
        Misfit::Overload => "overload: ".into(),
        Misfit::Wiring(None) => "wiring -: ".into(),
        Misfit::Wiring(Some(fits)) => format!("wiring {}x{}: ", fits.series, fits.parallel),
    }
}

/// Why a cell does not fit, and the reason, of what [`misfit`] wrote before it.
fn misfit_of(verdict: &str) -> Option<(Misfit, &str)> {
    for why in [Misfit::Parts, Misfit::Overload] {
        if let Some(reason) = verdict.strip_prefix(&*misfit(why)) {
            return Some((why, reason));
        }
    }
    let (fits, reason) = verdict.strip_prefix("wiring ")?.split_once(": ")?;
    let fits = match fits {
        "-" => None,
        _ => {
            let (series, parallel) = fits.split_once('x')?;
            Some(Wiring { series: series.parse().ok()?, parallel: parallel.parse().ok()? })
        }
    };
    Some((Misfit::Wiring(fits), reason))
}

/// The cells as a file.
#[must_use]
pub fn write(cells: &BTreeMap<String, Stored>) -> String {
    let mut lines: Vec<(&str, &Stored)> = cells.iter().map(|(key, stored)| (key.as_str(), stored)).collect();
    lines.sort_by_key(|(key, s)| (s.case.as_str(), s.place.as_str(), s.kit.as_str(), *key));
    let mut out = format!("{HEAD}\n{COLUMNS}\n");
    for (key, stored) in lines {
        let _ = write!(out, "{key}\t{}\t{}\t{}\t", flat(&stored.case), flat(&stored.place), flat(&stored.kit));
        match &stored.cell {
            Cell::Misfit { why, reason } => {
                let _ = writeln!(out, "{}{}", misfit(*why), flat(reason));
            }
            Cell::Fits(verdict) => line(&mut out, verdict),
        }
    }
    out
}

fn line(out: &mut String, verdict: &CellAnswer) {
    let s = &verdict.survival;
    let survived = verdict.outcomes.survived();
    let _ = write!(
        out,
        "fits\t{}\t{survived}\t{}\t{}\t{}\t{}\t{}\t",
        s.trials, s.interval.low, s.interval.high, s.chance.low, s.chance.high, verdict.unmet_wh_mean
    );
    let _ = match &verdict.first_failure {
        Some(first) => write!(out, "{}\t{}\t{}\t", flat(&first.load), first.share, first.after_h_p50),
        None => write!(out, "-\t-\t-\t"),
    };
    let probe = verdict.additions.iter().flatten().map(|pair| pair.trials).next();
    let _ = write!(out, "{}", probe.map_or("-".to_string(), |probe| probe.to_string()));
    for pair in &verdict.additions {
        let _ = match pair {
            Some(pair) => write!(out, "\t+{}-{}", pair.only_second, pair.only_first),
            None => write!(out, "\t."),
        };
    }
    let _ = writeln!(out, "\t{}", verdict.outcomes.to_hex());
}

/// The cells of a file, by key.
///
/// # Errors
/// The first line that is not one of these.
pub fn parse(text: &str) -> Result<BTreeMap<String, Stored>, Unreadable> {
    let mut lines = (1..).zip(text.lines());
    let wrong = |line, what| Unreadable { line, what };
    if lines.next().is_none_or(|(_, head)| head != HEAD) {
        return Err(wrong(1, "is not that of a file of results, or of one of another version"));
    }
    if lines.next().is_none_or(|(_, columns)| columns != COLUMNS) {
        return Err(wrong(2, "does not name the columns of a file of results"));
    }
    let mut cells = BTreeMap::new();
    for (number, line) in lines {
        let (key, stored) = cell(line).ok_or_else(|| wrong(number, "cannot be read as a result"))?;
        cells.insert(key, stored);
    }
    Ok(cells)
}

fn cell(line: &str) -> Option<(String, Stored)> {
    let mut parts = line.split('\t');
    let mut next = || parts.next();
    let key = next().filter(|key| key.len() == 32 && key.bytes().all(|b| b.is_ascii_hexdigit()))?.to_string();
    let (case, place, kit) = (next()?.to_string(), next()?.to_string(), next()?.to_string());
    let verdict = next()?;
    if let Some((why, reason)) = misfit_of(verdict) {
        return Some((key, Stored { case, place, kit, cell: Cell::Misfit { why, reason: reason.to_string() } }));
    }
    if verdict != "fits" {
        return None;
    }
    let trials: u64 = next()?.parse().ok().filter(|trials| *trials > 0)?;
    let survived: u64 = next()?.parse().ok()?;
    let mut interval = || Some(Interval { low: next()?.parse().ok()?, high: next()?.parse().ok()? });
    let (interval, chance) = (interval()?, interval()?);
    let unmet_wh_mean = next()?.parse().ok()?;
    let (load, share, after) = (next()?, next()?, next()?);
    let first_failure = match share {
        "-" => None,
        _ => {
            Some(FirstFailure { load: load.to_string(), share: share.parse().ok()?, after_h_p50: after.parse().ok()? })
        }
    };
    let probe = next()?;
    let mut additions = [None; 3];
    for pair in &mut additions {
        let text = next()?;
        if text == "." {
            continue;
        }
        let (gained, lost) = text.strip_prefix('+')?.split_once('-')?;
        let (only_second, only_first) = (gained.parse().ok()?, lost.parse().ok()?);
        let trials = probe.parse().ok()?;
        let (difference, interval) = paired_difference(only_first, only_second, trials);
        *pair = Some(Pair { difference, interval, only_first, only_second, trials });
    }
    let outcomes = Outcomes::from_hex(next()?, trials).filter(|outcomes| outcomes.survived() == survived)?;
    let survival = Survival {
        probability: survived as f64 / trials as f64,
        interval,
        chance,
        trials,
        shares: Vec::new(),
        held: Vec::new(),
    };
    let verdict = CellAnswer { survival, unmet_wh_mean, first_failure, outcomes, additions };
    Some((key, Stored { case, place, kit, cell: Cell::Fits(Box::new(verdict)) }))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::random::{Purpose, Stream};

    fn some() -> BTreeMap<String, Stored> {
        let mut rng = Stream::new(5, 0, Purpose::Outage);
        let mut cells = BTreeMap::new();
        for k in 0..40_u64 {
            let survived: Vec<bool> = (0..100 + k).map(|_| rng.uniform() < 0.6).collect();
            let outcomes = Outcomes::of(&survived);
            let mut interval = || Interval { low: rng.uniform() * 1e-3, high: rng.uniform() };
            let survival = Survival {
                probability: outcomes.survived() as f64 / (100 + k) as f64,
                interval: interval(),
                chance: interval(),
                trials: 100 + k,
                shares: Vec::new(),
                held: Vec::new(),
            };
            let (difference, between) = paired_difference(k, 3, 90);
            let pair = Pair { difference, interval: between, only_first: k, only_second: 3, trials: 90 };
            let cell = if k % 7 == 3 {
                let fits = Wiring { series: 2, parallel: 3 };
                let all = [Misfit::Parts, Misfit::Overload, Misfit::Wiring(None), Misfit::Wiring(Some(fits))];
                let why = all[k as usize / 7 % all.len()];
                Cell::Misfit { why, reason: format!("nothing fits, number {k}") }
            } else {
                Cell::Fits(Box::new(CellAnswer {
                    survival,
                    unmet_wh_mean: rng.uniform() * 1e-7,
                    first_failure: (k % 2 == 0).then(|| FirstFailure {
                        load: "a fridge".into(),
                        share: rng.uniform(),
                        after_h_p50: 13.5,
                    }),
                    outcomes,
                    additions: [None, Some(pair), (k % 3 == 0).then_some(pair)],
                }))
            };
            let stored =
                Stored { case: format!("case {}", k % 5), place: "own place".into(), kit: format!("kit {k}"), cell };
            cells.insert(format!("{k:032x}"), stored);
        }
        cells
    }

    #[test]
    fn what_is_written_is_read_back_to_the_last_bit() {
        let cells = some();
        let text = write(&cells);
        assert_eq!(parse(&text).unwrap(), cells);
        assert_eq!(write(&parse(&text).unwrap()), text);
        assert_eq!(text.lines().count(), 42);
        // Every line has the columns that the second line names, or a reason.
        let columns = text.lines().nth(1).unwrap().split('\t').count();
        assert_eq!(columns, 20);
        for line in text.lines().skip(1).filter(|line| !line.contains("nothing fits")) {
            assert_eq!(line.split('\t').count(), columns, "{line}");
        }
    }

    #[test]
    fn a_damaged_file_is_not_believed() {
        let text = write(&some());
        for (old, new, line) in
            [("results 1", "results 9", 1), ("survived", "lived", 2), ("fits\t100", "fits\t101", 3), ("+3-", "3-", 3)]
        {
            let damaged = text.replacen(old, new, 1);
            assert_ne!(damaged, text, "{old}");
            assert_eq!(parse(&damaged).expect_err(old).line, line, "{old}");
        }
        // A line cut in the middle, as by a full disk.
        assert!(parse(&text[..text.len() - 10]).is_err());
    }
}
