//! Weather records in whichever of the known formats they are.

use std::io::{Cursor, Read};

use super::OpenError;
use crate::weather::daily::DailyRecord;
use crate::weather::fit::{Fit, fit};
use crate::weather::typical::TypicalYear;
use crate::weather::{Calendar, Climate, HourlyRecord, soundness, world};

/// A weather record and what its heading says of the place.
pub enum Record {
    /// Hours.
    Hourly(Box<HourlyRecord>),
    /// Hours of a typical year, with its place.
    Typical(Box<TypicalYear>),
    /// Days: read once the place is known.
    Daily(Vec<u8>),
}

/// Bytes of a file's beginning that its format is told by.
const HEAD: u64 = 1 << 16;

/// The first lines of a file that begins with these bytes, unpacked if it is packed.
fn first_lines(bytes: &[u8]) -> String {
    let mut head = vec![0; 2048];
    let n = if bytes.starts_with(&[0x1f, 0x8b]) {
        let mut unpacked = flate2::read::GzDecoder::new(bytes);
        let mut n = 0;
        while let Ok(more) = unpacked.read(&mut head[n..]) {
            n += more;
            if more == 0 || n == head.len() {
                break;
            }
        }
        n
    } else {
        let n = bytes.len().min(head.len());
        head[..n].copy_from_slice(&bytes[..n]);
        n
    };
    String::from_utf8_lossy(&head[..n]).into_owned()
}

/// Reads a record: an EPW file (begins with `LOCATION`), a TMY3 file (its second line begins with `Date`), a daily record
/// (a column `ghi_kwh_m2_day`), or our own hourly CSV, which may be large and is never held as a whole.
///
/// # Errors
/// What is wrong with its lines.
pub fn read(mut bytes: impl Read, name: &str) -> Result<Record, OpenError> {
    let unread = |error: std::io::Error| OpenError::file(format!("cannot read {name}: {error}"));
    let mut begins = Vec::new();
    (&mut bytes).take(HEAD).read_to_end(&mut begins).map_err(unread)?;
    let head = first_lines(&begins);
    let mut bytes = Cursor::new(begins).chain(bytes);
    let mut all = || {
        let mut all = Vec::new();
        bytes.read_to_end(&mut all).map_err(unread).map(|_| all)
    };
    let mut lines = head.trim_start_matches('\u{feff}').lines().filter(|line| !line.starts_with('#'));
    let (first, second) = (lines.next().unwrap_or(""), lines.next().unwrap_or(""));
    let wrong = |error: crate::weather::RecordErrors| OpenError::File(error.to_string());
    if first.to_ascii_uppercase().starts_with("LOCATION,") {
        return TypicalYear::parse_epw(&all()?, name).map(|year| Record::Typical(Box::new(year))).map_err(wrong);
    }
    if second.trim_start().starts_with("Date (MM/DD/YYYY)") {
        return TypicalYear::parse_tmy3(&all()?, name).map(|year| Record::Typical(Box::new(year))).map_err(wrong);
    }
    if first.to_ascii_lowercase().split(',').any(|column| column.trim() == "ghi_kwh_m2_day") {
        return all().map(Record::Daily);
    }
    HourlyRecord::parse(bytes, name).map(|record| Record::Hourly(Box::new(record))).map_err(wrong)
}

/// Refuses hours that cannot be those of a place (latitude and longitude \[°\]): alike where they are replayed and fitted.
///
/// # Errors
/// What was found, with the likely cause.
pub fn of_place(record: &HourlyRecord, (latitude_deg, longitude_deg): (f64, f64)) -> Result<(), OpenError> {
    let air = world::lookup(latitude_deg, longitude_deg, None).ok();
    soundness::check(record, (latitude_deg, longitude_deg), air.as_ref()).map_err(OpenError::file)
}

/// A climate fitted to a record.
///
/// * `at` — latitude and longitude \[°\], where the record does not say them itself.
///
/// # Errors
/// What is wrong with the record, or why it says too little.
pub fn fitted(bytes: impl Read, name: &str, at: Option<(f64, f64)>) -> Result<Fit, OpenError> {
    let record = read(bytes, name)?;
    let place = match (&record, at) {
        (_, Some(place)) => place,
        (Record::Typical(year), None) => (year.latitude_deg, year.longitude_deg),
        _ => {
            let what = format!("{name} does not say where it was taken; add --at LAT,LON, like --at 44.2,-72.6");
            return Err(OpenError::file(what));
        }
    };
    let (latitude, longitude) = place;
    match &record {
        Record::Hourly(record) => of_place(record, place)?,
        Record::Typical(year) => of_place(&year.record, place)?,
        Record::Daily(_) => {}
    }
    let calendar = Calendar::fixed(60, (longitude / 15.0).round() as i32 * 60, latitude, longitude);
    let days = match &record {
        Record::Hourly(record) => DailyRecord::from_hourly(record, &calendar).map_err(OpenError::file)?,
        Record::Typical(year) => DailyRecord::from_hourly(&year.record, &calendar).map_err(OpenError::file)?,
        Record::Daily(bytes) => DailyRecord::parse(bytes.as_slice(), name, latitude, longitude)
            .map_err(|error| OpenError::File(error.to_string()))?,
    };
    let air: Option<Climate> = world::lookup(latitude, longitude, None).ok();
    fit(&days, air.as_ref()).map_err(OpenError::file)
}
