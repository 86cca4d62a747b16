//! Places by name, without a net: towns and villages of 1,000 people and more with their region, country, people, position,
//! height and time zone; the nearest one to a position; whether a position and a time zone agree. Sources, licences and
//! what is not in it: `places/README.md`.
//!
//! ```
//! use tideover::places::{Found, find, nearest};
//! let Found::One { place, .. } = find("Barre, Vermont, USA") else { panic!() };
//! assert_eq!((place.latitude_deg, place.longitude_deg, place.zone), (44.2, -72.5, "America/New_York"));
//! assert_eq!(nearest(44.2, -72.5).unwrap().0.title(), "Barre, Vermont, USA");
//! ```

mod against_zone;
pub mod countries;
mod fold;
mod near;
mod search;
mod slips;
mod table;
pub mod zones;

pub use against_zone::{Agreement, against_offset, against_zone};
pub use near::{LONELY_KM, nearest, zone_of};
pub use search::{Found, TIMES_LARGER, find, is_called};
pub use table::Country;

/// What the licence of the places asks to be shown.
pub const ATTRIBUTION: &str = "Places: GeoNames, CC BY 4.0, changed (positions, heights and people rounded)";

/// A town or village.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Place {
    /// Its name.
    pub name: &'static str,
    /// The first-order division of the country that it lies in, where known.
    pub region: Option<&'static str>,
    /// Its country or territory.
    pub country: &'static Country,
    /// People, in steps of a tenth, to two digits; `None` where not known.
    pub people: Option<u32>,
    /// Latitude \[°], -90 to 90, north positive, to 0.01°.
    pub latitude_deg: f64,
    /// Longitude \[°], -180 to 180, east positive, to 0.01°.
    pub longitude_deg: f64,
    /// Height above sea level \[m], to 10 m; `None` where not known.
    pub height_m: Option<f64>,
    /// Its time zone, a name of the IANA time zone database.
    pub zone: &'static str,
}

impl Place {
    /// Name, region and country: "Barre, Vermont, USA". A region that is called like the place or the country is left out.
    #[must_use]
    pub fn title(&self) -> String {
        let told = |region: &&str| *region != self.name && *region != self.country.name;
        self.with(self.region.filter(told))
    }

    /// The same with the region, whatever it is called: "Nagasaki, Nagasaki, Japan", which tells it from others in Japan.
    #[must_use]
    pub fn full_title(&self) -> String {
        self.with(self.region)
    }

    fn with(&self, region: Option<&str>) -> String {
        let region = region.map_or(String::new(), |name| format!("{name}, "));
        format!("{}, {region}{}", self.name, self.country.short())
    }
}

#[cfg(test)]
mod tests;
