//! Records of the sun that cannot be those of their place are refused with the likely cause, and no good one is.
//!
//! Small records are made here by the project's own sky: Haurwitz's clear sky, dimmed from day to day. Where the open
//! records lie beside the project, each of them is held to the same, and to faults made of it.

use std::fmt::Write as _;
use std::fs;
use std::path::Path;
use std::process::Command;

use jiff::{Span, Timestamp};
use tideover::random::{Purpose, Stream};
use tideover::sky::sun::Observer;
use tideover::weather::soundness::{Soundness, check};
use tideover::weather::{DailyRecord, HourlyRecord, world};

use crate::records::records;

/// How a record is made.
#[derive(Clone, Copy)]
struct Made {
    latitude_deg: f64,
    longitude_deg: f64,
    /// First label.
    from: &'static str,
    days: usize,
    step_min: usize,
    /// Labels are written so much later than the sun was \[min\].
    late_min: i64,
    factor: f64,
    air_c: f64,
}

const HILLS: Made = Made {
    latitude_deg: 44.2,
    longitude_deg: -72.6,
    from: "2023-01-01T00:00Z",
    days: 365,
    step_min: 60,
    late_min: 0,
    factor: 1.0,
    air_c: 6.0,
};

/// Light of a cloudless sky on the level \[W/m²] (Haurwitz 1945, J. Meteorology 2, 154).
fn haurwitz_ghi_w_m2(zenith_deg: f64) -> f64 {
    let cosine = zenith_deg.to_radians().cos();
    if cosine > 0.0 { 1098.0 * cosine * (-0.059 / cosine).exp() } else { 0.0 }
}

impl Made {
    /// The rows; `keep` says which are written, by day and minute of the day of their labels.
    fn rows(&self, keep: impl Fn(usize, usize) -> bool) -> String {
        let observer = Observer::new(self.latitude_deg, self.longitude_deg).expect("a place");
        let from: Timestamp = self.from.parse().expect("a time");
        let mut rng = Stream::new(4, 0, Purpose::Weather);
        let mut text = String::from("time_utc,ghi_w_m2,temp_c\n");
        // Clouds change at midnight of the place.
        let dim: Vec<f64> = (0..self.days + 2).map(|_| 0.15 + 0.85 * rng.uniform()).collect();
        for day in 0..self.days {
            for minute in (0..1440).step_by(self.step_min) {
                let label = from + Span::new().minutes((day * 1440 + minute) as i64);
                let middle = label.as_second() + 30 * self.step_min as i64 - 60 * self.late_min;
                let zenith = observer.position(middle as f64).expect("a time").zenith_deg;
                let local = (day * 1440 + minute) as f64 - self.late_min as f64 + 4.0 * self.longitude_deg;
                let dim = dim[(local / 1440.0 + 1.0).max(0.0) as usize];
                let sun = self.factor * dim * haurwitz_ghi_w_m2(zenith);
                if keep(day, minute) {
                    writeln!(text, "{label},{sun:.5},{}", self.air_c).expect("room");
                }
            }
        }
        text
    }

    fn record(&self) -> HourlyRecord {
        HourlyRecord::parse(self.rows(|_, _| true).as_bytes(), "made.csv").expect("a record")
    }

    /// What the check says of it, taken as one of this place.
    fn judged(&self) -> Result<(), String> {
        judged(&self.record(), (self.latitude_deg, self.longitude_deg))
    }
}

fn judged(record: &HourlyRecord, place: (f64, f64)) -> Result<(), String> {
    let air = world::lookup(place.0, place.1, None).ok();
    check(record, place, air.as_ref()).map_err(|error| error.to_string())
}

#[track_caller]
fn refused(judged: Result<(), String>, told: &[&str]) {
    let error = judged.expect_err("a fault that is refused");
    for part in told {
        assert!(error.contains(part), "does not say {part:?}: {error}");
    }
}

#[test]
fn good_records_pass_with_leap_days_half_past_labels_holes_and_short_steps() {
    let good = [
        HILLS,
        // The leap day of 2024 is in it.
        Made { from: "2024-01-01T00:00Z", days: 366, ..HILLS },
        // The hours of a clock at +05:30 begin at half past in UTC.
        Made { latitude_deg: 19.1, longitude_deg: 72.9, from: "2022-12-31T18:30Z", air_c: 27.0, ..HILLS },
        Made { latitude_deg: -33.9, longitude_deg: 151.2, air_c: 17.0, ..HILLS },
        Made { latitude_deg: 64.1, longitude_deg: -21.9, air_c: 5.0, ..HILLS },
        // Beyond the polar circle: weeks of night, weeks without.
        Made { latitude_deg: 69.6, longitude_deg: 18.9, air_c: 3.0, ..HILLS },
        // About the line where dates change.
        Made { latitude_deg: -18.1, longitude_deg: 178.4, air_c: 25.0, ..HILLS },
        Made { step_min: 10, days: 120, air_c: -2.0, ..HILLS },
        // A dim country: half of it never seen.
        Made { factor: 0.75, ..HILLS },
    ];
    for made in good {
        let place = (made.latitude_deg, made.longitude_deg);
        made.judged().unwrap_or_else(|error| panic!("{place:?}: {error}"));
        let sound = Soundness::of(&made.record(), place.0, place.1);
        // The sky of this test is symmetrical about noon, and the plain sun of the check is within a minute of the exact one.
        assert!(sound.centre_min.abs() < 3.0 && sound.bright_centre_min.abs() < 3.0, "{place:?}: {sound:?}");
    }
    // Forenoons missing on two days of three, and all of March.
    let missing =
        |day: usize, minute: usize| (!day.is_multiple_of(3) && (660..960).contains(&minute)) || (59..90).contains(&day);
    let holes = HILLS.rows(|day, minute| !missing(day, minute));
    let record = HourlyRecord::parse(holes.as_bytes(), "holes.csv").expect("a record");
    judged(&record, (44.2, -72.6)).unwrap_or_else(|error| panic!("{error}"));
}

#[test]
fn a_wrong_clock_is_refused_with_its_likely_cause() {
    let late = |late_min: i64| Made { late_min, ..HILLS }.judged();
    refused(
        late(720),
        &["made.csv", "12 h", "the sun's noon at 44.2, -72.6", "within 30 minutes", "12 h off: time zone"],
    );
    refused(late(360), &["6 h after the sun's noon", "6 h off", "a longitude of about -163°"]);
    refused(late(60), &["1 h after", "an hour late: labels at the end of the hour, or summer time?"]);
    refused(late(-60), &["1 h before", "an hour early"]);
    // Labels in the clock of the place, five hours behind UTC, in a column of UTC.
    refused(late(-300), &["5 h before", "the clock of the place in a column of UTC", "-05:00"]);
    // Labels at half past that mean the middle of the hour: read as its start, the sun comes half an hour late.
    refused(
        Made { from: "2023-01-01T00:30Z", late_min: 30, ..HILLS }.judged(),
        &["30 min after", "within 20 minutes", "labels at half past the hour that mean its middle"],
    );
    let record = HILLS.record();
    refused(judged(&record, (44.2, 72.6)), &["sign of the longitude?"]);
    refused(judged(&record, (44.2, 17.4)), &["6 h", "a longitude of about -7"]);
    refused(judged(&record, (-44.2, -72.6)), &["sign of the latitude?"]);
}

#[test]
fn a_wrong_unit_is_refused_with_its_likely_cause() {
    let times = |factor: f64| Made { factor, ..HILLS }.judged();
    refused(
        times(0.001),
        &["`ghi_w_m2`", "e-4 times the light outside", "about 1000 times too small: kW/m² for W/m²?"],
    );
    refused(times(0.0036), &["about 280 times too small: MJ/m² an hour"]);
    refused(times(0.36), &["about 2.8 times too small: J/cm² an hour"]);
    let north = Made { latitude_deg: 64.1, longitude_deg: -21.9, ..HILLS };
    refused(
        Made { factor: 2.0, ..north }.judged(),
        &["times the light outside the atmosphere", "0.9 or less", "about twice too much"],
    );
    refused(times(0.0), &["no sun at all", "every reading is 0"]);
    let kilojoules = Made { factor: 3.6, ..HILLS };
    let error = HourlyRecord::parse(kilojoules.rows(|_, _| true).as_bytes(), "kj.csv").expect_err("too bright to read");
    assert!(error.to_string().contains("another unit such as kJ/m² an hour"), "{error}");
    refused(Made { air_c: 43.0, ..HILLS }.judged(), &["`temp_c`", "a mean of 43.0 °C", "°F in a column of °C?"]);
    refused(Made { air_c: -40.0, ..HILLS }.judged(), &["a mean of -40.0 °C", "another place?"]);
    // A night lamp on the sensor.
    let lit = HILLS.rows(|_, _| true).lines().map(|row| row.replace(",0.00000,", ",30,") + "\n").collect::<String>();
    let lit = HourlyRecord::parse(lit.as_bytes(), "lit.csv").expect("a record");
    refused(judged(&lit, (44.2, -72.6)), &["of the sunlight while the sun is down", "up to 2 %"]);
}

#[test]
fn a_record_of_days_in_another_unit_is_refused() {
    let sound = Soundness::of(&HILLS.record(), 44.2, -72.6);
    assert!((0.4..0.9).contains(&sound.bright), "{sound:?}");
    let days = |factor: f64| {
        let mut text = String::from("date,ghi_kwh_m2_day\n");
        let start = jiff::civil::date(2023, 1, 1);
        for day in 0..365 {
            let date = start + Span::new().days(day);
            // Half of what comes in outside the atmosphere, on two days of three.
            let light = tideover::sky::extraterrestrial::daily_horizontal_wh_m2(
                44.2,
                tideover::sky::extraterrestrial::declination_deg(day as f64 + 1.0),
                1361.0,
            );
            let sun = factor * light / 1000.0 * if day % 3 == 0 { 0.2 } else { 0.55 };
            writeln!(text, "{date},{sun:.5}").expect("room");
        }
        DailyRecord::parse(text.as_bytes(), "days.csv", 44.2, -72.6).map(|_| ()).map_err(|error| error.to_string())
    };
    assert_eq!(days(1.0), Ok(()));
    refused(days(0.001), &["days.csv", "`ghi_kwh_m2_day`", "1000 times too small"]);
    refused(days(2.4), &["0.9 or less", "twice too much"]);
    refused(days(0.0), &["no sun at all"]);
}

#[test]
fn replay_and_fit_refuse_alike() {
    let folder = Path::new(env!("CARGO_TARGET_TMPDIR")).join("sound-records");
    fs::create_dir_all(&folder).expect("a folder");
    fs::write(folder.join("late.csv"), Made { late_min: 720, ..HILLS }.rows(|_, _| true)).expect("a record");
    let scenario = fs::read_to_string(Path::new(env!("CARGO_MANIFEST_DIR")).join("scenarios/winter-storm.toml"));
    let scenario = scenario.expect("the scenario");
    let told = |climate: &str, arguments: &[&str]| {
        fs::write(folder.join("storm.toml"), scenario.replace("climate = \"world\"", climate)).expect("a scenario");
        let mut command = Command::new(env!("CARGO_BIN_EXE_tideover"));
        let output = command.args(arguments).current_dir(&folder).output().expect("the binary starts");
        assert_eq!(output.status.code(), Some(2), "{}", String::from_utf8_lossy(&output.stdout));
        assert!(output.stdout.is_empty());
        String::from_utf8_lossy(&output.stderr).into_owned()
    };
    let replayed = "climate = { hourly = \"late.csv\" }";
    let fitted = "climate = { hourly = \"late.csv\" }\nweather_from = \"model\"";
    let run = ["run", "storm.toml", "--quiet"];
    let by_replay = told(replayed, &run);
    assert!(by_replay.contains("late.csv") && by_replay.contains("12 h off: time zone"), "{by_replay}");
    assert_eq!(by_replay, told(fitted, &run));
    assert_eq!(by_replay, told(replayed, &["climate", "fit", "late.csv", "--at", "44.2,-72.6"]));
}

/// The open hourly records, with their places.
const PLACES: &str = "\
bondville-il-typical,40.05,-88.37
desert-rock-nv-typical,36.62,-116.02
fort-peck-mt-typical,48.31,-105.1
goodwin-creek-ms-typical,34.25,-89.87
greensboro-nc-typical,36.1,-79.95
penn-state-pa-typical,40.72,-77.93
sand-point-ak-typical,55.317,-160.517
sioux-falls-sd-typical,43.73,-96.62
table-mountain-co-typical,40.125,-105.24
cuiaba-hourly,-15.607,-56.061
curitiba-br-2007-2025,-25.449,-49.231
de-bilt-nl-2004-2010,52.1,5.18
de-bilt-nl-2011-2025,52.1,5.18
de-kooy-hourly,52.928,4.781
denver-co-2008-2023,39.73,-104.98
desert-rock-nv-2018-2023-2024,36.624,-116.019
fort-peck-mt-2018-2023-2024,48.308,-105.102
goodwin-creek-ms-2018-2023-2024,34.255,-89.873
irece-br-2020-2024,-11.329,-41.864
langtjern-no-2013-2018,60.37,9.73
lubbock-hourly,33.57,-101.86
lyngby-2015-2018,55.791,12.525
manaus-br-2006-2019,-3.1036,-60.0156
manaus-br-2020-2024,-3.1036,-60.0156
miami-fl-2008-2023,25.77,-80.18
mumbai-in-2022-2025,19.076,72.878
new-york-us-2017-2019,40.81,-73.94
phoenix-az-2008-2023,33.49,-112.06
porto-alegre-hourly,-30.054,-51.175
reno-hourly,39.53,-119.82
rio-branco-hourly,-9.959,-67.869
rio-jacarepagua-hourly,-22.94,-43.403
sacramento-hourly,38.65,-121.46
san-francisco-ca-2008-2023,37.77,-122.42
sao-paulo-hourly,-23.496,-46.62
tucson-hourly,32.25,-110.94
vlissingen-hourly,51.442,3.596
daily-wageningen-nl,52.0,5.7
daily-gainesville-fl,29.63,-82.37
daily-la-estanzuela-uy,-34.3,-57.7
daily-carrington-nd,47.51,-99.13
";

/// The first years of a record, its sun times a factor.
fn scaled(text: &str, factor: f64) -> String {
    let mut lines = text.lines();
    let mut out = lines.next().unwrap_or("").to_owned() + "\n";
    for line in lines.take(20_000) {
        let mut fields: Vec<String> = line.split(',').map(str::to_owned).collect();
        if let Ok(sun) = fields[1].parse::<f64>() {
            fields[1] = format!("{:.6}", sun * factor);
        }
        out.push_str(&fields.join(","));
        out.push('\n');
    }
    out
}

#[test]
fn every_open_record_passes_and_every_fault_made_of_it_is_refused() {
    use std::io::Read;
    let Some(folder) = records() else { return };
    for line in PLACES.lines() {
        let fields: Vec<&str> = line.split(',').collect();
        let (name, place) = (fields[0], (fields[1].parse::<f64>().unwrap(), fields[2].parse::<f64>().unwrap()));
        let bytes = fs::read(folder.join(format!("{name}.csv.gz"))).unwrap_or_else(|error| panic!("{name}: {error}"));
        let mut text = String::new();
        flate2::read::MultiGzDecoder::new(&bytes[..]).read_to_string(&mut text).expect("gzip");
        if name.starts_with("daily") {
            let judged = |factor: f64| {
                let text = if factor == 1.0 { text.clone() } else { scaled(&text, factor) };
                DailyRecord::parse(text.as_bytes(), name, place.0, place.1)
                    .map(|_| ())
                    .map_err(|error| error.to_string())
            };
            assert_eq!(judged(1.0), Ok(()));
            refused(judged(2.0), &[]);
            refused(judged(0.001), &["1000 times too small"]);
            refused(judged(0.0), &["no sun at all"]);
            continue;
        }
        let record = HourlyRecord::parse(text.as_bytes(), name).unwrap_or_else(|error| panic!("{error}"));
        judged(&record, place).unwrap_or_else(|error| panic!("{error}"));
        // A clock late by an hour is a place 15° further east.
        let turned = |degrees: f64| judged(&record, (place.0, (place.1 + degrees + 180.0).rem_euclid(360.0) - 180.0));
        for degrees in [15.0, -15.0, 90.0, -90.0, 180.0] {
            assert!(turned(degrees).is_err(), "{name} turned by {degrees}° passes");
        }
        refused(turned(180.0), &["12 h off: time zone"]);
        let read = |factor: f64| {
            let record =
                HourlyRecord::parse(scaled(&text, factor).as_bytes(), name).map_err(|error| error.to_string())?;
            judged(&record, place)
        };
        refused(read(2.0), &[name]);
        refused(read(0.001), &["1000 times too small: kW/m²"]);
        refused(read(0.0), &["no sun at all"]);
    }
}
