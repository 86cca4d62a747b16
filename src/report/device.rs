//! Devices that a person's health hangs on, by themselves: the same sentences in a run, on the card and in a look ahead.

use serde::Serialize;

use super::cautions;
use super::json::Share;
use super::words::{count_word, durations, percent, survival, the_list};
use crate::calendar::clock_time;
use crate::study::device::{DailyUse, DeviceAlone, DeviceHours, LONGEST_H};
use crate::study::fuel::FuelTaken;
use crate::study::now::COSTS_LITTLE;

/// What is said with shares that rest on a generator.
const IF_IT_STARTS: &str = " (both if the generator starts and the fuel is at hand)";
/// The same where its fuel is taken never to end.
const UNTOLD_FUEL: &str = " (both if the generator starts and never lacks fuel: nobody has told how much there is)";

/// What is known of the devices by themselves.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Device {
    /// How long they run without sun; none where there are no devices.
    pub hours: Option<DeviceHours>,
    /// How often they stay on; none where nothing stands beside them, or it was not looked at.
    pub alone: Option<DeviceAlone>,
}

/// How long they run by themselves: "With all else unplugged and nothing charging, not even sun, the breather runs 2.2 days from 100 %, and at least 2 days
/// by the lower end of a 95 % range."
#[must_use]
pub fn hours(hours: &DeviceHours) -> String {
    let many = if hours.devices.len() == 1 { "s" } else { "" };
    let (devices, from) = (the_list(&hours.devices), percent(hours.charge));
    if hours.runs_h <= 0.0 {
        let does = if many.is_empty() { "do" } else { "does" };
        return format!("Even with all else unplugged {devices} {does} not run from {from}.");
    }
    let alone = match hours.has_generator {
        true => "With all else unplugged and nothing charging, neither sun nor generator,",
        false => "With all else unplugged and nothing charging, not even sun,",
    };
    if hours.at_least_h > LONGEST_H {
        return format!("{alone} {devices} run{many} over 14 days from {from}.");
    }
    let told = durations(&[hours.runs_h.min(10.0 * LONGEST_H), hours.at_least_h]);
    if let Some(used) = hours.used.filter(|used| used.whole(hours.runs_h).0 > 0) {
        let DailyUse { from: first, steps, steps_a_day } = used;
        return format!(
            "{alone} {devices} run{many} through {} from {from}, and through at least {} by the lower end of a 95 % range ({} and {} by \
             the clock from {} on, rests counted: used {}-{}).",
            by_use(&used, hours.runs_h),
            by_use(&used, hours.at_least_h),
            told[0],
            told[1],
            clock_time(first, steps_a_day),
            clock_time(first, steps_a_day),
            clock_time((first + steps) % steps_a_day, steps_a_day),
        );
    }
    format!(
        "{alone} {devices} run{many} {} from {from}, and at least {} by the lower end of a 95 % range.",
        told[0], told[1]
    )
}

/// So many hours of a device that rests for part of every day: "two nights and part of a third".
fn by_use(used: &DailyUse, hours_h: f64) -> String {
    let thing = if used.by_night() { "night" } else { "day's use" };
    let (whole, part) = used.whole(hours_h);
    let many = match (whole, used.by_night()) {
        (0, _) => return format!("part of one {thing}"),
        (1, _) => format!("one {thing}"),
        (n, true) => format!("{} nights", count_word(n)),
        (n, false) => format!("{} days' use", count_word(n)),
    };
    if part { format!("{many} and part of the next") } else { many }
}

/// To unplug everything else, where that clearly helps them; nothing where it does not.
#[must_use]
pub fn unplug(device: &DeviceAlone) -> Option<String> {
    if device.gains <= COSTS_LITTLE {
        return None;
    }
    let off = device.unplugged();
    let devices = the_list(&device.devices);
    let all_else = match device.vital.is_empty() {
        true => format!("{}, so that nothing but {devices} is on", the_list(&off)),
        false => format!("{}, and all else but {devices}", the_list(&device.vital)),
    };
    let fuel = match device.fuel {
        FuelTaken::NoGenerator => "",
        FuelTaken::Told => IF_IT_STARTS,
        FuelTaken::UpTo { .. } | FuelTaken::Unmeasured => UNTOLD_FUEL,
    };
    let first = if cautions::phone(&off) { "charge the phone, then " } else { "" };
    Some(format!(
        "If the outage may go on, do this at once: {first}unplug {all_else}. Alone {} through {}, as the plan stands through {}{fuel}.{}",
        if device.devices.len() == 1 { "it then stays on" } else { "they then stay on" },
        survival(&device.alone),
        survival(&device.planned),
        cautions::the_house(&off)
    ))
}

impl Device {
    /// The sentences that stand below the first lines.
    #[must_use]
    pub fn words(&self) -> String {
        let told = self.alone.as_ref().and_then(unplug);
        self.hours.as_ref().map(hours).into_iter().chain(told).collect::<Vec<_>>().join(" ")
    }
}

/// How long devices run with all else unplugged and no sun, mains or generator, for programs.
#[derive(Debug, Serialize)]
pub struct Hours<'a> {
    /// Names of the devices.
    devices: &'a [String],
    /// State of charge that the hours begin at, in percent.
    charge_percent: f64,
    /// How long they run, by best estimates \[h\].
    runs_h: f64,
    /// Lower end of the 95 % range of that \[h\].
    at_least_h: f64,
}

impl<'a> From<&'a DeviceHours> for Hours<'a> {
    fn from(hours: &'a DeviceHours) -> Self {
        let DeviceHours { devices, charge, runs_h, at_least_h, .. } = hours;
        Hours { devices, charge_percent: 100.0 * charge, runs_h: *runs_h, at_least_h: *at_least_h }
    }
}

/// What is known of the devices by themselves, for programs.
#[derive(Debug, Serialize)]
pub struct Json<'a> {
    #[serde(flatten)]
    hours: Hours<'a>,
    /// In how many outages they stay on with all else off from the first hour; null where nothing else is there, or it was not
    /// looked at.
    alone: Option<Share>,
    /// The same as the plan stands.
    planned: Option<Share>,
    /// In words.
    text: String,
}

impl<'a> Json<'a> {
    /// Of what is known; `None` where there are no devices.
    #[must_use]
    pub fn of(device: &'a Device) -> Option<Json<'a>> {
        let hours = device.hours.as_ref()?;
        Some(Json {
            hours: hours.into(),
            alone: device.alone.as_ref().map(|device| Share::of(&device.alone)),
            planned: device.alone.as_ref().map(|device| Share::of(&device.planned)),
            text: device.words(),
        })
    }
}
