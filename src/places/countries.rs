//! Countries and territories by name.

use super::table::{Country, Table};
use super::zones;

/// Common names of countries that no table has, with their codes (common practice, no source).
const COMMON: [(&str, &str); 17] = [
    ("america", "US"),
    ("bolivia", "BO"),
    ("britain", "GB"),
    ("burma", "MM"),
    ("cape verde", "CV"),
    ("czech republic", "CZ"),
    ("dr congo", "CD"),
    ("drc", "CD"),
    ("great britain", "GB"),
    ("holland", "NL"),
    ("ivory coast", "CI"),
    ("swaziland", "SZ"),
    ("turkiye", "TR"),
    ("uae", "AE"),
    ("uk", "GB"),
    ("united states of america", "US"),
    ("us of a", "US"),
];

/// Letters that regions go by where the table has figures: country, code of ISO 3166-2 (from memory), name in the table.
pub(super) const SUBDIVISIONS: [(&str, &str, &str); 48] = [
    ("CA", "AB", "Alberta"),
    ("CA", "BC", "British Columbia"),
    ("CA", "MB", "Manitoba"),
    ("CA", "NB", "New Brunswick"),
    ("CA", "NL", "Newfoundland and Labrador"),
    ("CA", "NS", "Nova Scotia"),
    ("CA", "NT", "Northwest Territories"),
    ("CA", "NU", "Nunavut"),
    ("CA", "ON", "Ontario"),
    ("CA", "PE", "Prince Edward Island"),
    ("CA", "QC", "Quebec"),
    ("CA", "SK", "Saskatchewan"),
    ("CA", "YT", "Yukon"),
    ("AU", "ACT", "Australian Capital Territory"),
    ("AU", "NSW", "New South Wales"),
    ("AU", "NT", "Northern Territory"),
    ("AU", "QLD", "Queensland"),
    ("AU", "SA", "South Australia"),
    ("AU", "TAS", "Tasmania"),
    ("AU", "VIC", "Victoria"),
    ("AU", "WA", "Western Australia"),
    ("BR", "AC", "Acre"),
    ("BR", "AL", "Alagoas"),
    ("BR", "AP", "Amapá"),
    ("BR", "AM", "Amazonas"),
    ("BR", "BA", "Bahia"),
    ("BR", "CE", "Ceará"),
    ("BR", "DF", "Federal District"),
    ("BR", "ES", "Espírito Santo"),
    ("BR", "GO", "Goiás"),
    ("BR", "MA", "Maranhão"),
    ("BR", "MT", "Mato Grosso"),
    ("BR", "MS", "Mato Grosso do Sul"),
    ("BR", "MG", "Minas Gerais"),
    ("BR", "PA", "Pará"),
    ("BR", "PB", "Paraíba"),
    ("BR", "PR", "Paraná"),
    ("BR", "PE", "Pernambuco"),
    ("BR", "PI", "Piauí"),
    ("BR", "RJ", "Rio de Janeiro"),
    ("BR", "RN", "Rio Grande do Norte"),
    ("BR", "RS", "Rio Grande do Sul"),
    ("BR", "RO", "Rondônia"),
    ("BR", "RR", "Roraima"),
    ("BR", "SC", "Santa Catarina"),
    ("BR", "SP", "São Paulo"),
    ("BR", "SE", "Sergipe"),
    ("BR", "TO", "Tocantins"),
];

/// A country by its code of two or three letters, its English name, a name in its official languages, in German, French or
/// Spanish, or a common other one;
/// marks and capitals don't count.
#[must_use]
pub fn by_name(text: &str) -> Option<&'static Country> {
    let table = Table::get();
    let wanted = table.letters.fold(text);
    let is = |name: &str| table.letters.fold(name) == wanted;
    // "The Gambia", "Gambia"; "Korea (South)" is not "Korea".
    let bare = wanted.strip_prefix("the ").unwrap_or(&wanted);
    let code = |code: &str| table.countries.iter().find(|country| country.code == code);
    let coded = || table.countries.iter().find(|country| is(country.code) || is(country.code3));
    let named = || {
        table.countries.iter().find(|country| {
            let name = table.letters.fold(country.name);
            name.strip_prefix("the ").unwrap_or(&name) == bare
        })
    };
    let common = || COMMON.iter().find(|(name, _)| *name == bare).and_then(|(_, found)| code(found));
    let at_home = || table.countries.iter().find(|country| country.at_home.split('|').any(|name| name == wanted));
    let listed = || zones::country_code(bare).and_then(code);
    if wanted.is_empty() {
        return None;
    }
    coded().or_else(named).or_else(common).or_else(at_home).or_else(listed)
}

impl Country {
    /// Its name as it stands behind a place's.
    #[must_use]
    pub fn short(&self) -> &'static str {
        match self.code {
            "US" => "USA",
            _ => self.name,
        }
    }
}
