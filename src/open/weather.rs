//! Weather records from the disk, in whichever of the known formats they are.

use std::path::Path;

use super::Failure;
use super::input::bytes_of;
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

/// The first line of a file, unpacked if it is packed.
fn first_lines(bytes: &[u8]) -> String {
    use std::io::Read;
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
/// (a column `ghi_kwh_m2_day`), or our own hourly CSV.
pub fn read(path: &Path) -> Result<Record, Failure> {
    let bytes = bytes_of(path)?;
    let name = path.display().to_string();
    let head = first_lines(&bytes);
    let mut lines = head.trim_start_matches('\u{feff}').lines().filter(|line| !line.starts_with('#'));
    let (first, second) = (lines.next().unwrap_or(""), lines.next().unwrap_or(""));
    let wrong = |error: crate::weather::RecordErrors| Failure::Input(error.to_string());
    if first.to_ascii_uppercase().starts_with("LOCATION,") {
        return TypicalYear::parse_epw(&bytes, &name).map(|year| Record::Typical(Box::new(year))).map_err(wrong);
    }
    if second.trim_start().starts_with("Date (MM/DD/YYYY)") {
        return TypicalYear::parse_tmy3(&bytes, &name).map(|year| Record::Typical(Box::new(year))).map_err(wrong);
    }
    if first.to_ascii_lowercase().split(',').any(|column| column.trim() == "ghi_kwh_m2_day") {
        return Ok(Record::Daily(bytes));
    }
    HourlyRecord::parse(&bytes, &name).map(|record| Record::Hourly(Box::new(record))).map_err(wrong)
}

/// Refuses hours that cannot be those of a place, with the likely cause: alike where they are replayed and fitted.
pub fn of_place(record: &HourlyRecord, (latitude_deg, longitude_deg): (f64, f64)) -> Result<(), Failure> {
    let air = world::lookup(latitude_deg, longitude_deg, None).ok();
    let sound = soundness::check(record, (latitude_deg, longitude_deg), air.as_ref());
    sound.map_err(|error| Failure::Input(format!("error: {error}")))
}

/// A climate fitted to a record.
///
/// * `at` — latitude and longitude, where the record does not say them itself.
pub fn fitted(path: &Path, at: Option<(f64, f64)>) -> Result<Fit, Failure> {
    let record = read(path)?;
    let name = path.display().to_string();
    let place = match (&record, at) {
        (_, Some(place)) => place,
        (Record::Typical(year), None) => (year.latitude_deg, year.longitude_deg),
        _ => {
            return Err(Failure::Input(format!(
                "error: {name} does not say where it was taken; add --at LAT,LON, like --at 44.2,-72.6"
            )));
        }
    };
    let (latitude, longitude) = place;
    let failed = |what: String| Failure::Input(format!("error: {what}"));
    match &record {
        Record::Hourly(record) => of_place(record, place)?,
        Record::Typical(year) => of_place(&year.record, place)?,
        Record::Daily(_) => {}
    }
    let calendar = Calendar::fixed(60, (longitude / 15.0).round() as i32 * 60, latitude, longitude);
    let days = match &record {
        Record::Hourly(record) => DailyRecord::from_hourly(record, &calendar).map_err(|e| failed(e.to_string()))?,
        Record::Typical(year) => {
            DailyRecord::from_hourly(&year.record, &calendar).map_err(|e| failed(e.to_string()))?
        }
        Record::Daily(bytes) => {
            DailyRecord::parse(bytes, &name, latitude, longitude).map_err(|error| Failure::Input(error.to_string()))?
        }
    };
    let air: Option<Climate> = world::lookup(latitude, longitude, None).ok();
    fit(&days, air.as_ref()).map_err(|error| failed(error.to_string()))
}
