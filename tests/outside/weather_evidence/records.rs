//! The records, and what is known of their days.

pub use tideover::calendar::{MONTH_STARTS as MONTHS, month_of_day as month_of};
use tideover::sky::extraterrestrial::{declination_deg, sunset_hour_angle_deg};
use tideover::sky::profile::DayProfile;
use tideover::weather::{Calendar, Climate, DailyRecord, HourlyRecord, WeatherPlan, world};

pub struct Site {
    pub name: &'static str,
    pub files: &'static [&'static str],
    pub latitude_deg: f64,
    pub longitude_deg: f64,
    pub hourly: bool,
}

pub const fn site(
    name: &'static str,
    files: &'static [&'static str],
    latitude_deg: f64,
    longitude_deg: f64,
    hourly: bool,
) -> Site {
    Site { name, files, latitude_deg, longitude_deg, hourly }
}

/// Long records first: ten years and more.
pub const SITES: [Site; 30] = [
    site("Phoenix", &["phoenix-az-2008-2023"], 33.49, -112.06, true),
    site("Denver", &["denver-co-2008-2023"], 39.73, -104.98, true),
    site("San Francisco", &["san-francisco-ca-2008-2023"], 37.77, -122.42, true),
    site("Miami", &["miami-fl-2008-2023"], 25.77, -80.18, true),
    site("De Bilt", &["de-bilt-nl-2004-2010", "de-bilt-nl-2011-2025"], 52.1, 5.18, true),
    site("Manaus", &["manaus-br-2006-2019", "manaus-br-2020-2024"], -3.1036, -60.0156, true),
    site("Curitiba", &["curitiba-br-2007-2025"], -25.449, -49.231, true),
    site("Wageningen", &["daily-wageningen-nl"], 52.0, 5.7, false),
    site("Gainesville", &["daily-gainesville-fl"], 29.63, -82.37, false),
    site("La Estanzuela", &["daily-la-estanzuela-uy"], -34.3, -57.7, false),
    site("Carrington", &["daily-carrington-nd"], 47.51, -99.13, false),
    site("Lubbock", &["lubbock-hourly"], 33.57, -101.86, true),
    site("Reno", &["reno-hourly"], 39.53, -119.82, true),
    site("Tucson", &["tucson-hourly"], 32.25, -110.94, true),
    site("Sacramento", &["sacramento-hourly"], 38.65, -121.46, true),
    site("Vlissingen", &["vlissingen-hourly"], 51.442, 3.596, true),
    site("De Kooy", &["de-kooy-hourly"], 52.928, 4.781, true),
    site("Langtjern", &["langtjern-no-2013-2018"], 60.37, 9.73, true),
    site("Lyngby", &["lyngby-2015-2018"], 55.79064, 12.52505, true),
    site("New York", &["new-york-us-2017-2019"], 40.81, -73.94, true),
    site("Mumbai", &["mumbai-in-2022-2025"], 19.076, 72.878, true),
    site("Irece", &["irece-br-2020-2024"], -11.329, -41.864, true),
    site("Desert Rock", &["desert-rock-nv-2018-2023-2024"], 36.624, -116.019, true),
    site("Goodwin Creek", &["goodwin-creek-ms-2018-2023-2024"], 34.255, -89.873, true),
    site("Fort Peck", &["fort-peck-mt-2018-2023-2024"], 48.308, -105.102, true),
    site("Sao Paulo", &["sao-paulo-hourly"], -23.496, -46.62, true),
    site("Porto Alegre", &["porto-alegre-hourly"], -30.054, -51.175, true),
    site("Cuiaba", &["cuiaba-hourly"], -15.607, -56.061, true),
    site("Rio Branco", &["rio-branco-hourly"], -9.959, -67.868, true),
    site("Jacarepagua", &["rio-jacarepagua-hourly"], -22.94, -43.403, true),
];
pub const LONG: usize = 17;

impl Site {
    fn bytes(&self, file: &str, folder: &std::path::Path) -> Vec<u8> {
        let path = folder.join(format!("{file}.csv.gz"));
        std::fs::read(&path).unwrap_or_else(|e| panic!("{}: {e}", path.display()))
    }

    /// The hours as they were recorded.
    pub fn hourly_record(&self, folder: &std::path::Path) -> HourlyRecord {
        let mut text: Vec<u8> = Vec::new();
        for (k, file) in self.files.iter().enumerate() {
            use std::io::Read;
            let mut part = Vec::new();
            flate2::read::MultiGzDecoder::new(&self.bytes(file, folder)[..]).read_to_end(&mut part).expect("gzip");
            let skip = if k == 0 { 0 } else { part.iter().position(|b| *b == b'\n').expect("a heading") + 1 };
            text.extend_from_slice(&part[skip..]);
        }
        // The two Manaus files share an hour at the turn of their years.
        let mut seen = std::collections::HashSet::new();
        let lines = String::from_utf8(text).expect("UTF-8");
        let once: String =
            lines.lines().filter(|l| seen.insert(l[..20.min(l.len())].to_owned())).map(|l| format!("{l}\n")).collect();
        HourlyRecord::parse(once.as_bytes(), self.name).unwrap_or_else(|e| panic!("{e}"))
    }

    /// The table's climate, its sun as it is made without this place and all within 300 km (`weather/fit_doubt.py`).
    pub fn left_out(&self) -> Climate {
        let mut climate = world::lookup(self.latitude_deg, self.longitude_deg, None).expect("land");
        let mut months = 0;
        for line in include_str!("../../data/world_left_out_days.csv").lines().skip(1) {
            let mut cells = line.split(',');
            if cells.next() != Some(self.files[0]) {
                continue;
            }
            let mut figures = cells.map(|text| text.parse::<f64>().expect("a number"));
            let month = figures.next().expect("a month") as usize - 1;
            let levels: Vec<f64> = figures.collect();
            climate.months[month].clearness = levels.try_into().expect("all levels");
            months += 1;
        }
        assert!(months > 0, "no figures for {}", self.name);
        // The figures are over the light that the table's are over.
        world::under_true_sun(climate)
    }
}

/// One record, ready to be judged by.
pub struct Truth {
    pub days: DailyRecord,
    /// The sun of each hour \[W/m²\] of each day of `days`.
    pub hours: Vec<[f64; 24]>,
    pub calendar: Calendar,
    pub hourly: bool,
    /// Mean sun of a day by month \[Wh/m²\].
    pub mean_wh_m2: [f64; 12],
    pub air: Climate,
}

/// Hours of a day of given clearness on the mean course of light.
pub fn mean_course(plan: &WeatherPlan, latitude_deg: f64, day: usize, clearness: f64, shift_h: f64) -> [f64; 24] {
    let sunset = sunset_hour_angle_deg(latitude_deg, declination_deg(day as f64 + 1.0));
    let total: f64 = plan.extraterrestrial_w_m2(day as u32).iter().sum();
    let course = DayProfile::new(sunset);
    std::array::from_fn(|h| {
        let from = h as f64 + shift_h;
        course.map_or(0.0, |course| course.share(from, from + 1.0)) * total * clearness
    })
}

impl Truth {
    pub fn read(site: &Site, folder: &std::path::Path) -> Truth {
        let offset = (site.longitude_deg / 15.0).round() as i32 * 60;
        let zone = if site.hourly { offset } else { (site.longitude_deg * 4.0).round() as i32 };
        let calendar = Calendar::fixed(60, zone, site.latitude_deg, site.longitude_deg);
        let air = world::lookup(site.latitude_deg, site.longitude_deg, None).expect("land");
        let (days, hours) = if site.hourly {
            let record = site.hourly_record(folder);
            let days = DailyRecord::from_hourly(&record, &calendar).expect("a calendar");
            let mut civil = record.civil_days(&calendar).expect("a calendar");
            civil.sort_by_key(|day| day.number);
            let hours = civil.iter().map(|day| std::array::from_fn(|h| day.ghi_w_m2[h])).collect();
            (days, hours)
        } else {
            let record = DailyRecord::parse(
                &site.bytes(site.files[0], folder),
                site.name,
                site.latitude_deg,
                site.longitude_deg,
            )
            .unwrap_or_else(|e| panic!("{e}"));
            let plan = WeatherPlan::stochastic(&air, &calendar).expect("a climate");
            let hours =
                record.days().iter().map(|d| mean_course(&plan, site.latitude_deg, d.day, d.clearness, 0.0)).collect();
            (record, hours)
        };
        let mut truth = Truth { days, hours, calendar, hourly: site.hourly, mean_wh_m2: [0.0; 12], air };
        truth.take_means();
        truth
    }

    /// Fills in the mean sun of each month.
    pub fn take_means(&mut self) {
        let mut counts = [0.0; 12];
        for (day, hours) in self.days.days().iter().zip(&self.hours) {
            if day.clearness.is_finite() {
                self.mean_wh_m2[month_of(day.day)] += hours.iter().sum::<f64>();
                counts[month_of(day.day)] += 1.0;
            }
        }
        for (mean, count) in self.mean_wh_m2.iter_mut().zip(counts) {
            *mean /= count;
        }
    }

    pub fn years(&self) -> usize {
        let mut years: Vec<i64> = self.days.days().iter().map(|d| d.year).collect();
        years.dedup();
        years.len()
    }
}
