//! The packed tables of places, each unpacked once, when something of it is first asked for. `places/README.md` describes their
//! layout.

use std::sync::OnceLock;

use super::Place;
use super::fold::Letters;
use crate::math;
use crate::packed::{self, Reader, unpacked};

static PACKED: &[u8] = packed::table!("places/", "places.bin");
static NAMES: &[u8] = packed::table!("places/", "names.bin");
/// Of large places, and of the others.
#[cfg(not(feature = "all-names"))]
static OTHER_NAMES: [&[u8]; 1] = [packed::table!("places/", "other_names.bin")];
#[cfg(feature = "all-names")]
static OTHER_NAMES: [&[u8]; 2] =
    [packed::table!("places/", "other_names.bin"), packed::table!("places/", "more_names.bin")];

/// Steps of people in a decade.
const CLASSES: f64 = 24.0;
/// Step of the stored heights \[m].
const HEIGHT_STEP_M: f64 = 10.0;
/// Steps of latitude and longitude in a degree.
const STEPS: f64 = 100.0;

/// A country or territory.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Country {
    /// Two letters of ISO 3166-1.
    pub code: &'static str,
    /// Three letters of ISO 3166-1.
    pub code3: &'static str,
    /// Its English name.
    pub name: &'static str,
    /// Its names in its official languages, in German, French and Spanish, as they are looked for, with `|` between.
    pub(super) at_home: &'static str,
}

/// A first-order division of a country.
pub(super) struct Region {
    pub country: &'static Country,
    pub code: &'static str,
    /// Empty where not known.
    pub name: &'static str,
}

/// A place as it is kept.
struct Row {
    region: u16,
    zone: u16,
    latitude: i16,
    longitude: i16,
    /// In steps; [`NO_HEIGHT`] where not known.
    height: i16,
    people: u8,
}

const NO_HEIGHT: i16 = i16::MIN;

/// The unpacked table.
pub(super) struct Table {
    pub letters: Letters,
    pub countries: &'static [Country],
    pub regions: Vec<Region>,
    zones: Vec<&'static str>,
    rows: Vec<Row>,
    names: OnceLock<Vec<&'static str>>,
    keys: OnceLock<Keys>,
    /// Places by latitude.
    by_latitude: Vec<u32>,
}

/// Names as they are looked for, one behind the other, with where each ends and whose it is. Made when a name is first looked
/// for: positions do without.
struct Keys {
    text: String,
    ends: Vec<(u32, u32)>,
}

impl Table {
    /// The table of this program, unpacked at the first call.
    pub fn get() -> &'static Table {
        static TABLE: OnceLock<Table> = OnceLock::new();
        TABLE.get_or_init(|| {
            Table::unpack(PACKED).expect("the packed table belongs to the program and its tests read it")
        })
    }

    /// Name of every place.
    fn names(&self) -> &[&'static str] {
        self.names.get_or_init(|| {
            let names: Option<Vec<&str>> = text(NAMES).map(|names| names.lines().collect());
            names
                .filter(|names| names.len() == self.rows.len())
                .expect("names belong to the table and its tests read them")
        })
    }

    fn unpack(packed: &[u8]) -> Option<Table> {
        // Kept as long as the program runs, so that names need not be copied.
        let mut rest = Reader(&*Vec::leak(unpacked(packed)?));
        if rest.take(8)? != b"TIDEPLCE" || rest.u32()? != 2 {
            return None;
        }
        let many = rest.u32()? as usize;
        let mut sections = [&[][..]; 10];
        for section in &mut sections {
            let length = rest.u32()? as usize;
            *section = rest.take(length)?;
        }
        let [countries, regions, zones, letters, latitudes, longitudes, people, of_zone, known, heights] = sections;
        let lines = |section: &'static [u8]| std::str::from_utf8(section).ok();

        let letters = Letters::of(lines(letters)?);
        let countries: &'static [Country] =
            lines(countries)?.lines().map(Country::of).collect::<Option<Vec<_>>>()?.leak();
        let zones: Vec<&'static str> = lines(zones)?.lines().collect();
        let (regions, of_region) = regions_of(lines(regions)?, countries)?;
        let heights = rises(heights, known.iter().filter(|known| **known == 1).count())?;
        let (latitudes, longitudes) = (rises(latitudes, many)?, rises(longitudes, many)?);
        let of_zone = rises(of_zone, many)?;
        let mut heights = heights.into_iter();
        let mut rows = Vec::with_capacity(many);
        for place in 0..many {
            let height = if *known.get(place)? == 1 { heights.next()? } else { i32::from(NO_HEIGHT) };
            rows.push(Row {
                region: *of_region.get(place)?,
                zone: u16::try_from(of_zone[place]).ok().filter(|zone| usize::from(*zone) < zones.len())?,
                latitude: i16::try_from(latitudes[place]).ok()?,
                longitude: i16::try_from(longitudes[place]).ok()?,
                height: i16::try_from(height).ok()?,
                people: *people.get(place)?,
            });
        }
        let by_latitude = by_latitude(&rows)?;
        let (names, keys) = (OnceLock::new(), OnceLock::new());
        Some(Table { letters, countries, regions, zones, rows, names, keys, by_latitude })
    }

    /// How many places there are.
    pub fn len(&self) -> usize {
        self.rows.len()
    }

    /// Every name as it is looked for, with its place; the place's own name stands before its others.
    pub fn keys(&self) -> impl Iterator<Item = (&str, usize)> {
        let Keys { text, ends } = self.keys.get_or_init(|| self.make_keys());
        let starts = std::iter::once(0).chain(ends.iter().map(|(end, _)| *end as usize));
        starts.zip(ends).map(|(start, (end, place))| (&text[start..*end as usize], *place as usize))
    }

    fn make_keys(&self) -> Keys {
        let others = OTHER_NAMES.map(|packed| text(packed).unwrap_or_default());
        let mut others = others.map(|names| names.split('\n'));
        let mut text = String::with_capacity(4_000_000);
        let mut ends = Vec::with_capacity(3 * self.rows.len());
        for (place, name) in (0..).zip(self.names()) {
            self.letters.fold_into(name, &mut text);
            ends.push((text.len() as u32, place));
            // "Biel/Bienne", "Halle (Saale)": one of the names will do.
            if name.contains(['/', '(']) {
                for part in name.split(['/', '(', ')']).filter(|part| part.chars().any(char::is_alphanumeric)) {
                    self.letters.fold_into(part, &mut text);
                    ends.push((text.len() as u32, place));
                }
            }
            let others = others.iter_mut().filter_map(Iterator::next).flat_map(|names| names.split('|'));
            for other in others.filter(|other| !other.is_empty()) {
                text.push_str(other);
                ends.push((text.len() as u32, place));
            }
        }
        Keys { text, ends }
    }

    /// The region of a place, as its index.
    pub fn region_of(&self, place: usize) -> usize {
        usize::from(self.rows[place].region)
    }

    /// Latitude and longitude of a place \[°].
    pub fn position(&self, place: usize) -> (f64, f64) {
        let row = &self.rows[place];
        (f64::from(row.latitude) / STEPS, f64::from(row.longitude) / STEPS)
    }

    /// A place by its index.
    pub fn place(&self, place: usize) -> Place {
        let row = &self.rows[place];
        let region = &self.regions[usize::from(row.region)];
        let (latitude_deg, longitude_deg) = self.position(place);
        Place {
            name: self.names()[place],
            region: Some(region.name).filter(|name| !name.is_empty()),
            country: region.country,
            people: people_of(row.people),
            latitude_deg,
            longitude_deg,
            height_m: (row.height != NO_HEIGHT).then(|| f64::from(row.height) * HEIGHT_STEP_M),
            zone: self.zone(place),
        }
    }

    /// The time zone of a place.
    pub fn zone(&self, place: usize) -> &'static str {
        self.zones[usize::from(self.rows[place].zone)]
    }

    /// The country of a place.
    pub fn country(&self, place: usize) -> &'static Country {
        self.regions[self.region_of(place)].country
    }

    /// People of a place, to two digits; `None` where not known.
    pub fn people(&self, place: usize) -> Option<u32> {
        people_of(self.rows[place].people)
    }

    /// Places by latitude, from the south.
    pub fn by_latitude(&self) -> &[u32] {
        &self.by_latitude
    }
}

impl Country {
    fn of(line: &'static str) -> Option<Country> {
        let mut fields = line.split('\t');
        Some(Country { code: fields.next()?, code3: fields.next()?, name: fields.next()?, at_home: fields.next()? })
    }
}

/// Regions, and of which one each place is.
fn regions_of(lines: &'static str, countries: &'static [Country]) -> Option<(Vec<Region>, Vec<u16>)> {
    let (mut regions, mut of_place) = (Vec::new(), Vec::new());
    for line in lines.lines() {
        let mut fields = line.split('\t');
        let country = fields.next()?;
        let country = countries.iter().find(|known| known.code == country)?;
        let at = u16::try_from(regions.len()).ok()?;
        regions.push(Region { country, code: fields.next()?, name: fields.next()? });
        let many: usize = fields.next()?.parse().ok()?;
        of_place.resize(of_place.len() + many, at);
    }
    Some((regions, of_place))
}

/// People of a class, to two digits.
fn people_of(class: u8) -> Option<u32> {
    let people = math::pow(10.0, f64::from(class.checked_sub(1)?) / CLASSES);
    let digit = math::pow(10.0, (math::log10(people).floor() - 1.0).max(0.0));
    Some(((people / digit).round() * digit) as u32)
}

/// Places from the south, of equals in their order; `None` beyond the poles.
fn by_latitude(rows: &[Row]) -> Option<Vec<u32>> {
    const POLE: i16 = 90 * STEPS as i16;
    let mut before = vec![0_usize; 2 * POLE as usize + 2];
    let at = |row: &Row| usize::try_from(row.latitude.checked_add(POLE)?).ok();
    for row in rows {
        *before.get_mut(at(row)? + 1)? += 1;
    }
    for k in 1..before.len() {
        before[k] += before[k - 1];
    }
    let mut places = vec![0; rows.len()];
    for (place, row) in (0..).zip(rows) {
        let next = before.get_mut(at(row)?)?;
        *places.get_mut(*next)? = place;
        *next += 1;
    }
    Some(places)
}

/// Text that was packed, kept as long as the program runs.
fn text(packed: &[u8]) -> Option<&'static str> {
    std::str::from_utf8(Vec::leak(unpacked(packed)?)).ok()
}

/// Numbers stored as rises.
fn rises(bytes: &[u8], many: usize) -> Option<Vec<i32>> {
    let (mut at, mut value) = (bytes.iter(), 0_i32);
    (0..many)
        .map(|_| {
            let (mut coded, mut shift) = (0_u32, 0);
            loop {
                let byte = *at.next()?;
                coded |= u32::from(byte & 127).checked_shl(shift)?;
                shift += 7;
                if byte < 128 {
                    break;
                }
            }
            let rise = (coded >> 1) as i32 ^ -((coded & 1) as i32);
            value = value.wrapping_add(rise);
            Some(value)
        })
        .collect()
}
