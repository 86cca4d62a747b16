//! A record of one's own outages.

use thiserror::Error;

use crate::math;

/// Outages that were written down.
#[derive(Debug, Clone, PartialEq)]
pub struct OutageRecord {
    /// Month in which each began, 0 for January.
    pub months: Vec<usize>,
    /// How long each lasted \[h\].
    pub hours: Vec<f64>,
}

/// Why a record cannot be used.
#[derive(Debug, Clone, PartialEq, Error)]
#[non_exhaustive]
pub enum RecordError {
    /// No table.
    #[error("{0}")]
    Table(String),
    /// A column is missing.
    #[error("there is no column `{0}`; wanted are `start` (2023-02-11T16:40) and `hours`")]
    Column(&'static str),
    /// A cell cannot be read.
    #[error("line {line}: `{found}` is no {wanted}")]
    Cell {
        /// Line of the file, from 1.
        line: u64,
        /// What stands there.
        found: String,
        /// What should.
        wanted: &'static str,
    },
    /// Too few outages.
    #[error("only {0} outages; 3 are the least that tell how long they last: give frequency and lasts instead")]
    Few(usize),
}

/// Least spread of the logarithm of lengths that a record is believed: a few alike are chance.
const LEAST_SIGMA: f64 = 0.3;

impl OutageRecord {
    /// Reads comma-separated values with the columns `start` and `hours`.
    ///
    /// # Errors
    /// [`RecordError`] says what is wrong and where.
    pub fn parse(text: &str) -> Result<OutageRecord, RecordError> {
        let mut reader = csv::ReaderBuilder::new().trim(csv::Trim::All).flexible(true).from_reader(text.as_bytes());
        let heads = reader.headers().map_err(|error| RecordError::Table(error.to_string()))?.clone();
        let column = |name: &'static str| {
            heads.iter().position(|head| head.eq_ignore_ascii_case(name)).ok_or(RecordError::Column(name))
        };
        let (start, hours) = (column("start")?, column("hours")?);
        let mut record = OutageRecord { months: Vec::new(), hours: Vec::new() };
        for row in reader.records() {
            let row = row.map_err(|error| RecordError::Table(error.to_string()))?;
            let line = row.position().map_or(0, csv::Position::line);
            let cell = |index: usize| row.get(index).unwrap_or("");
            let wrong = |index: usize, wanted: &'static str| RecordError::Cell {
                line,
                found: cell(index).chars().take(40).collect(),
                wanted,
            };
            let month = cell(start).split('-').nth(1).and_then(|month| month.parse::<usize>().ok());
            let month = month.filter(|m| (1..=12).contains(m)).ok_or_else(|| wrong(start, "date like 2023-02-11"))?;
            let length = cell(hours).parse::<f64>().ok().filter(|h| *h > 0.0 && *h <= 8760.0);
            record.hours.push(length.ok_or_else(|| wrong(hours, "number of hours above 0"))?);
            record.months.push(month - 1);
        }
        if record.hours.len() < 3 {
            return Err(RecordError::Few(record.hours.len()));
        }
        Ok(record)
    }

    /// Mean and standard deviation of the logarithm of the lengths in hours.
    #[must_use]
    pub fn log_normal(&self) -> (f64, f64) {
        let n = self.hours.len() as f64;
        let mu = self.hours.iter().map(|hours| math::ln(*hours)).sum::<f64>() / n;
        let squares = self.hours.iter().map(|hours| math::powi(math::ln(*hours) - mu, 2)).sum::<f64>();
        (mu, (squares / (n - 1.0)).sqrt().max(LEAST_SIGMA))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_record_is_read_and_its_slips_are_told() {
        let record = OutageRecord::parse("start, hours\n2021-01-03T04:00, 2\n2021-07-09T18:30,8\n2022-02-11,4\n");
        assert_eq!(record, Ok(OutageRecord { months: vec![0, 6, 1], hours: vec![2.0, 8.0, 4.0] }));
        let (mu, sigma) = record.expect("a record").log_normal();
        // ln 2, ln 4, ln 8: mean ln 4, standard deviation ln 2.
        assert!((mu - math::ln(4.0)).abs() < 1e-12 && (sigma - math::ln(2.0)).abs() < 1e-12);
        assert_eq!(OutageRecord::parse("start\n2021-01-03\n"), Err(RecordError::Column("hours")));
        assert_eq!(OutageRecord::parse("start,hours\n2021-01-03,2\n"), Err(RecordError::Few(1)));
        let wrong = OutageRecord::parse("start,hours\n2021-01-03,2\n2021-13-03,2\n").expect_err("no such month");
        assert_eq!(wrong.to_string(), "line 3: `2021-13-03` is no date like 2023-02-11");
    }

    /// Three alike are chance: their logarithms are taken to scatter by 0.3 at least. An outage lasts longer than nothing and no longer
    /// than a year; a column is found by its name wherever it stands, and a slip is told by its line.
    #[test]
    fn what_a_record_may_say() {
        let alike = OutageRecord { months: vec![0; 3], hours: vec![5.0; 3] };
        let (mu, sigma) = alike.log_normal();
        assert!((mu - 1.609_437_9).abs() < 1e-6 && sigma == 0.3, "{mu} {sigma}");
        let of = |hours: &str| {
            OutageRecord::parse(&format!("Hours,note,START\n1,,2020-12-01\n2,a,2021-01-31\n{hours},b,2021-02-02\n"))
        };
        assert_eq!(of("8760"), Ok(OutageRecord { months: vec![11, 0, 1], hours: vec![1.0, 2.0, 8760.0] }));
        for hours in ["0", "-1", "8760.5", "", "NaN"] {
            assert!(matches!(of(hours), Err(RecordError::Cell { line: 4, .. })), "{hours}");
        }
        assert!(matches!(OutageRecord::parse("start,hours\n2021-00-03,2\n"), Err(RecordError::Cell { line: 2, .. })));
        assert_eq!(OutageRecord::parse("start,hours\n2021-01-03,2\n2021-01-04,2\n"), Err(RecordError::Few(2)));
    }
}
