//! Results as plain text: one line a cell, columns parted by tabs, so that finished work is never done twice.
//!
//! Numbers are written with as many digits as bring back the same number to the last bit. Lines are sorted by case, place,
//! kit and key: the same cells make the same bytes, however they came together. Each line ends in a checksum of itself, so that
//! a slip of an editor is noticed; that does not keep out who means to lie, and what a line says is looked at too.

use std::collections::BTreeMap;
use std::fmt::Write as _;

use super::cell::{Cell, CellAnswer, FirstFailure, Misfit, Wiring};
use super::key::Digest;
use super::outcomes::Outcomes;
use crate::study::compare::Pair;
use crate::trials::interval::Interval;
use crate::trials::unknowns::Survival;

/// What the first line of every file of results begins with.
const KIND: &[u8] = b"# tideover line-up results ";

/// First line of a file of results; another layout gets another number.
const HEAD: &str = "# tideover line-up results 2";

/// Whether a file is one of results, whole or damaged, of this layout or another.
#[must_use]
pub fn is_results(bytes: &[u8]) -> bool {
    bytes.starts_with(KIND)
}

const COLUMNS: &str = "key\tcase\tplace\tkit\tverdict\ttrials\tsurvived\tlow\thigh\tchance_low\tchance_high\tunmet_wh_mean\t\
     first_failure\tfirst_failure_share\tfirst_failure_h\tprobe_trials\tpanel\tdc_outlet\tbattery\toutcomes\tchecksum";

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
        let begins = out.len();
        let _ = write!(out, "{key}\t{}\t{}\t{}\t", flat(&stored.case), flat(&stored.place), flat(&stored.kit));
        match &stored.cell {
            Cell::Misfit { why, reason } => {
                let _ = write!(out, "{}{}", misfit(*why), flat(reason));
            }
            Cell::Fits(verdict) => line(&mut out, verdict),
        }
        let sum = checksum(&out[begins..]);
        let _ = writeln!(out, "\t{sum}");
    }
    out
}

/// What stands before the figures of a cell that fits, and of one in which a start may switch an outlet off.
const FITS: &str = "fits";
const MAY_STOP: &str = "may stop";
/// What stands behind either where the range is of chance alone.
const BY_CHANCE: &str = ", by chance";

fn checksum(line: &str) -> Digest {
    Digest::EMPTY.with(line.as_bytes())
}

fn line(out: &mut String, verdict: &CellAnswer) {
    let s = &verdict.survival;
    let survived = verdict.outcomes.survived();
    let _ = write!(
        out,
        "{}{}\t{}\t{survived}\t{}\t{}\t{}\t{}\t{}\t",
        if verdict.may_stop { MAY_STOP } else { FITS },
        if s.chance_alone { BY_CHANCE } else { "" },
        s.trials,
        s.interval.low,
        s.interval.high,
        s.chance.low,
        s.chance.high,
        verdict.unmet_wh_mean
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
    let _ = write!(out, "\t{}", verdict.outcomes.to_hex());
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
        let (line, sum) = line.rsplit_once('\t').ok_or_else(|| wrong(number, "has no checksum"))?;
        if checksum(line).to_string() != sum {
            return Err(wrong(number, "is not what its checksum was made of"));
        }
        if line.chars().any(|c| c.is_control() && c != '\t') {
            return Err(wrong(number, "holds a character that is never written"));
        }
        let (key, stored) = cell(line).ok_or_else(|| wrong(number, "cannot be read as a result"))?;
        if cells.insert(key, stored).is_some() {
            return Err(wrong(number, "is another result of the same cell"));
        }
    }
    Ok(cells)
}

fn cell(line: &str) -> Option<(String, Stored)> {
    let mut parts = line.split('\t');
    let mut next = || parts.next();
    let key = next().filter(|key| key.len() == 32 && key.bytes().all(|b| b.is_ascii_hexdigit()))?.to_string();
    let (case, place, kit) = (next()?.to_string(), next()?.to_string(), next()?.to_string());
    let verdict = next()?;
    // Nothing that no run writes is believed, whatever its checksum says.
    let share = |text: &str| text.parse().ok().filter(|share: &f64| (0.0..=1.0).contains(share));
    let amount = |text: &str| text.parse().ok().filter(|amount: &f64| (0.0..1e12).contains(amount));
    if let Some((why, reason)) = misfit_of(verdict) {
        return Some((key, Stored { case, place, kit, cell: Cell::Misfit { why, reason: reason.to_string() } }));
    }
    let (verdict, chance_alone) = match verdict.strip_suffix(BY_CHANCE) {
        Some(verdict) => (verdict, true),
        None => (verdict, false),
    };
    if ![FITS, MAY_STOP].contains(&verdict) {
        return None;
    }
    let may_stop = verdict == MAY_STOP;
    let trials: u64 = next()?.parse().ok().filter(|trials| *trials > 0)?;
    let survived: u64 = next()?.parse().ok()?;
    let probability = survived as f64 / trials as f64;
    let mut interval = || {
        let (low, high) = (share(next()?)?, share(next()?)?);
        // Room for rounding, where nothing or everything survived.
        (low <= probability + 1e-9 && probability <= high + 1e-9).then_some(Interval { low, high })
    };
    let (interval, chance) = (interval()?, interval()?);
    let unmet_wh_mean = amount(next()?)?;
    let (load, of_failures, after) = (next()?, next()?, next()?);
    let first_failure = match of_failures {
        "-" => None,
        _ => Some(FirstFailure { load: load.to_string(), share: share(of_failures)?, after_h_p50: amount(after)? }),
    };
    let probe = next()?;
    let mut additions = [None; 3];
    for pair in &mut additions {
        let text = next()?;
        if text == "." {
            continue;
        }
        let (gained, lost) = text.strip_prefix('+')?.split_once('-')?;
        let (only_second, only_first): (u64, u64) = (gained.parse().ok()?, lost.parse().ok()?);
        let of: u64 = probe.parse().ok()?;
        if only_second.checked_add(only_first).is_none_or(|changed| changed > of) || of > trials {
            return None;
        }
        *pair = Some(Pair::from_counts(only_first, only_second, of));
    }
    let outcomes = Outcomes::from_hex(next()?, trials).filter(|outcomes| outcomes.survived() == survived)?;
    if next().is_some() {
        return None;
    }
    let (shares, held) = (Vec::new(), Vec::new());
    let survival = Survival { probability, interval, chance, chance_alone, trials, shares, held };
    let verdict = CellAnswer { survival, may_stop, unmet_wh_mean, first_failure, outcomes, additions };
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
            let probability = outcomes.survived() as f64 / (100 + k) as f64;
            let mut interval =
                || Interval { low: rng.uniform() * probability, high: 1.0 - rng.uniform() * (1.0 - probability) };
            let survival = Survival {
                probability,
                interval: interval(),
                chance: interval(),
                chance_alone: k % 3 == 1,
                trials: 100 + k,
                shares: Vec::new(),
                held: Vec::new(),
            };
            let pair = Pair::from_counts(k, 3, 90);
            let cell = if k % 7 == 3 {
                let fits = Wiring { series: 2, parallel: 3 };
                let all = [Misfit::Parts, Misfit::Overload, Misfit::Wiring(None), Misfit::Wiring(Some(fits))];
                let why = all[k as usize / 7 % all.len()];
                Cell::Misfit { why, reason: format!("nothing fits, number {k}") }
            } else {
                Cell::Fits(Box::new(CellAnswer {
                    survival,
                    may_stop: k % 5 == 2,
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
        assert_eq!(columns, 21);
        for line in text.lines().skip(1).filter(|line| !line.contains("nothing fits")) {
            assert_eq!(line.split('\t').count(), columns, "{line}");
        }
    }

    #[test]
    fn a_damaged_file_is_not_believed() {
        let text = write(&some());
        for (old, new, line) in
            [("results 2", "results 9", 1), ("survived", "lived", 2), ("fits\t100", "fits\t101", 3), ("+3-", "3-", 3)]
        {
            let damaged = text.replacen(old, new, 1);
            assert_ne!(damaged, text, "{old}");
            assert_eq!(parse(&damaged).expect_err(old).line, line, "{old}");
        }
        // A line cut in the middle, as by a full disk.
        assert!(parse(&text[..text.len() - 10]).is_err());
    }

    #[test]
    fn a_value_that_no_run_writes_is_not_believed_whatever_its_checksum() {
        let text = write(&some());
        let lines: Vec<&str> = text.lines().collect();
        let line = lines.iter().find(|line| line.contains("a fridge")).expect("a line with a first failure");
        let cells: Vec<&str> = line.split('\t').collect();
        let with = |column: usize, value: &str| {
            let mut changed = cells[..cells.len() - 1].to_vec();
            changed[column] = value;
            let changed = changed.join("\t");
            format!("{}\n{}\n{changed}\t{}\n", lines[0], lines[1], checksum(&changed))
        };
        assert!(parse(&with(1, "another case")).is_ok(), "what is changed with its checksum is read");
        let name = |column: usize| lines[1].split('\t').nth(column).unwrap_or_default();
        for (column, value) in [
            (0, "xyz"),
            (4, "fit"),
            (5, "0"),
            (5, "-1"),
            (6, "99999"),
            (7, "nan"),
            (7, "-0.1"),
            (7, "0.99"),
            (8, "1.01"),
            (8, "0.01"),
            (9, "inf"),
            (10, "1e300"),
            (11, "nan"),
            (11, "-5"),
            (13, "1.5"),
            (14, "inf"),
            (15, "-3"),
            (17, "+80-80"),
            (17, "+18446744073709551615-5"),
            (19, "00"),
        ] {
            assert!(parse(&with(column, value)).is_err(), "{} of {value:?} is believed", name(column));
        }
        // The same cell twice, and a cell too many.
        assert!(parse(&format!("{text}{line}\n")).is_err());
        let long = format!("{}\tmore", cells[..cells.len() - 1].join("\t"));
        assert!(parse(&format!("{}\n{}\n{long}\t{}\n", lines[0], lines[1], checksum(&long))).is_err());
    }
}
