//! Windows of clock time: `"18:00-23:00"`, or a list of them.

use super::as_written;
use super::forms::{Custom, Fault, Form, Item, text_like};
use super::problem::Problem;
use crate::units::Hours;
use serde_json::{Value as Json, json};

/// A window of clock time, which may run over midnight.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct ClockWindow {
    /// Minutes after midnight, 0 to 1439.
    pub from_minute: u16,
    /// Minutes after midnight, 1 to 1440; at or below `from_minute` the window ends on the next day.
    pub to_minute: u16,
}

impl ClockWindow {
    /// Length of the window.
    #[must_use]
    pub fn hours(&self) -> Hours {
        let minutes = i32::from(self.to_minute) - i32::from(self.from_minute);
        Hours(f64::from(if minutes <= 0 { minutes + 1440 } else { minutes }) / 60.0)
    }

    /// Whether a time of the day lies in it \[minutes after midnight, 0 to below 1440\].
    #[must_use]
    pub fn contains(&self, minute: f64) -> bool {
        let (from, to) = (f64::from(self.from_minute), f64::from(self.to_minute));
        if from < to { from <= minute && minute < to } else { from <= minute || minute < to }
    }
}

/// Minutes of a day.
const DAY: u16 = 1440;

/// From and to.
pub(super) const WINDOW: Custom<ClockWindow> = Custom {
    allowed: "from and to on the 24-hour clock, like \"18:00-23:00\"; \"22:00-06:00\" runs over midnight",
    example: "\"18:00-23:00\"",
    read: read_window,
    json: || text_like("([01]?[0-9]|2[0-4]):[0-5][0-9] *[-–—] *([01]?[0-9]|2[0-4]):[0-5][0-9]"),
};

fn read_window(item: &Item) -> Result<ClockWindow, Fault> {
    let Some(text) = item.value.as_str() else { return Err(Fault::new("cannot be read as hours of the day")) };
    let plain = |text: &str| -> Result<(u16, u16), Fault> {
        let (from, to) = text.split_once(['-', '–', '—']).ok_or_else(|| Fault::new("needs a beginning and an end"))?;
        Ok((minute(from)?, minute(to)?))
    };
    let (from, to) = match plain(text) {
        Ok(both) => both,
        Err(fault) => match as_written::window(text) {
            Some(reading) => plain(&reading.told(item)?)?,
            None => return Err(fault),
        },
    };
    // Midnight as an end is the end of the day, as a beginning its start.
    let to_minute = if to == 0 { DAY } else { to };
    if from == DAY {
        return Err(Fault::new("begins at 24:00").help("write 00:00 for the beginning"));
    }
    if from == to_minute {
        return Err(Fault::new("begins and ends at the same time").help("write \"00:00-24:00\" for all day"));
    }
    Ok(ClockWindow { from_minute: from, to_minute })
}

/// Minutes after midnight, 0 to 1440, from `H:MM` or `HH:MM`.
fn minute(text: &str) -> Result<u16, Fault> {
    let digits = |part: &str, longest: usize| {
        let fits = (1..=longest).contains(&part.len()) && part.bytes().all(|byte| byte.is_ascii_digit());
        fits.then(|| part.parse::<u16>().ok()).flatten()
    };
    let wrong = || Fault::new("cannot be read as hours of the day").help("write hours and minutes: \"07:30-09:00\"");
    let (hours, minutes) = text.trim().split_once(':').ok_or_else(wrong)?;
    let minutes = if minutes.len() == 2 { digits(minutes, 2) } else { None };
    let (hours, minutes) = digits(hours, 2).zip(minutes).ok_or_else(wrong)?;
    let total = 60 * hours + minutes;
    if minutes < 60 && total <= DAY { Ok(total) } else { Err(Fault::new("has a clock time that no day has")) }
}

/// One window or a list of windows that do not overlap.
pub(super) struct Windows;

impl Form for Windows {
    type Output = Vec<ClockWindow>;
    fn allowed(&self) -> String {
        WINDOW.allowed()
    }
    fn example(&self) -> String {
        WINDOW.example()
    }
    fn read(&self, item: &Item) -> Result<Vec<ClockWindow>, Fault> {
        let Some(entries) = item.entries() else { return WINDOW.read(item).map(|window| vec![window]) };
        if entries.is_empty() {
            return Err(Fault::new("is empty").help("leave it out for all day"));
        }
        let windows: Vec<Option<ClockWindow>> = entries.iter().map(|entry| entry.read(&WINDOW)).collect();
        for (index, window) in windows.iter().enumerate() {
            let earlier = windows[..index].iter().zip(&entries).find(|(earlier, _)| match (earlier, window) {
                (Some(a), Some(b)) => overlap(*a, *b),
                _ => false,
            });
            if let Some((_, first)) = earlier {
                let clash = Problem::error(&entries[index].key, "overlaps another window")
                    .found(entries[index].found())
                    .help("join the two into one window")
                    .against(&first.key, "the other one");
                item.findings.push(clash);
                return Err(Fault::told());
            }
        }
        windows.into_iter().collect::<Option<_>>().ok_or_else(Fault::told)
    }
    fn json(&self) -> Json {
        json!({ "anyOf": [WINDOW.json(), { "type": "array", "items": WINDOW.json(), "minItems": 1 }] })
    }
}

fn overlap(a: ClockWindow, b: ClockWindow) -> bool {
    let inside = |minute: u16, window: ClockWindow| {
        let (from, to) = (window.from_minute, window.to_minute);
        if from < to { from <= minute && minute < to } else { from <= minute || minute < to }
    };
    inside(a.from_minute, b) || inside(b.from_minute, a)
}
