//! `[site]`, `[[seen]]` and `[outage]`: where, and what is feared.

use super::{Key, Section, key, or, or_none, required, share, yes_no};
use crate::scenario::amount::{Amount, Unsure};
use crate::scenario::clock::Windows;
use crate::scenario::forms::Text;
use crate::scenario::cuts::{CutWindows, cut_table};
use crate::scenario::outage::{LONGEST, LONGEST_WITH_CUTS, MONTH, START, lasts};
use crate::scenario::seen::{DAY, SUN};
use crate::scenario::whereabouts::PLACE;
use crate::scenario::site::{FROM, LATITUDE, LONGITUDE, TWELVE_SUNS, ZONE, climate, room};
use crate::units::{Celsius, Fraction, Hours, Metres, WattHours, Watts};

pub(super) fn site() -> Section {
    let keys = vec![
        key("place", PLACE, or_none("this, or `latitude` and `longitude`"))
            .says("a town of 1,000 people or more ([places.md](places.md)): gives latitude, longitude and time zone, and \
                   the height where no position of your own stands beside it. What you write yourself comes first; a \
                   position more than 50 km from the town is refused"),
        key("latitude", LATITUDE, or_none("the place's")).says("north is positive: `44.2` or `\"44.2°\"`"),
        key("longitude", LONGITUDE, or_none("the place's")).says("east is positive"),
        key("height", Amount::between(Metres(-450.0), Metres(9000.0)), or_none("the place's, else not known"))
            .says("above the sea"),
        key("timezone", ZONE, or_none("the place's, else the whole hour nearest to the sun"))
            .says("clock of the place: an offset (-12:00 to +14:00) or a name of the IANA data base, which minds \
                   summer time. `\"GMT+1\"` is refused, because `Etc/GMT+1` means an hour *behind* UTC: write \
                   `\"+01:00\"`. A country or an abbreviation (`\"Germany\"`, `\"PST\"`) is answered with the zones \
                   that it may mean"),
        key("climate", climate(), or("world")).says("where the weather comes from; `{ hourly = … }` replays a record"),
        key("weather_from", FROM, or("replay"))
            .says("only with an hourly record: `\"replay\"` draws real stretches of days of the season, `\"model\"` \
                   fits a climate to the record and draws from that"),
        key("monthly_sun_kwh_m2_day", TWELVE_SUNS, or_none("the climate's own"))
            .says("mean sun from a local almanac, taken to be good to 5 % (one standard deviation): the climate moves \
                   towards it as far as it is surer, and the answer with it"),
        key("ground_reflection", share(), or("20 %").words(" (usual for grass and soil)"))
            .says("light that the ground sends back; fresh snow about 60 %"),
        key("room", room(), or_none("rooms stay as warm as they are"))
            .says("how the rooms indoors cool where the outage takes the heating: from 20 °C towards `falls_to`, or the air outdoors \
                   where that is left out; after `in`, nineteen twentieths of the way are gone. It counts for a station \
                   `\"indoors\"` (its charge, and what cold leaves of its energy) and for coolers with `room = \"indoors\"`; not \
                   with cuts that come back. `tideover now` takes the room to have cooled already (cautious for the battery)"),
    ];
    keys.into()
}

pub(super) fn seen() -> Section {
    let keys = vec![
        key("from", DAY, required()).says("the first day"),
        key("to", DAY, required()).says("the last day, which counts; 1 to 366 days in all"),
        key("sun_kwh_m2", SUN, or_none("this, or `panel` and `energy`")).says("sun on a level plane over the days"),
        key("panel", Text, or_none("")).says("the name of a `[[panel]]`"),
        key("energy", Amount::<WattHours>::positive(), or_none("")).says("what it gave over the days"),
        key("plus_minus", Amount::between(Fraction(0.0), Fraction(0.5)),
            super::or_by(&[("level", "5 %"), ("panel", "8 %")]))
            .says("how far the reading may be off, 95 % interval: typical meters, and a panel's dirt (*typical*)"),
    ];
    keys.into()
}

/// The length of an outage: `[outage]` and `[outages]` have it.
///
/// * `longest` — where it is always the same.
fn length_to(longest: Hours) -> Key {
    key("lasts", lasts(longest), required())
        .says("of the two, half of all outages are shorter than `median`, and one in twenty is longer than `p95` \
               (log-normal). A length that is no whole number of steps (an hour, or `--step`) is rounded up, and the \
               answer says so")
}

/// The length of an outage that comes by chance.
pub(super) fn length() -> Key {
    length_to(LONGEST)
}

/// The parts of a room that cools.
pub(in crate::scenario) fn cooling_room() -> Section {
    let keys = vec![
        key("falls_to", Amount::between(Celsius(-60.0), Celsius(40.0)), or_none("the air outdoors"))
            .says("what it comes to in the end"),
        key("in", Amount::between(Hours(0.5), Hours(30.0 * 24.0)), required())
            .says("when it is nearly there: 95 % of the way"),
    ];
    keys.into()
}

/// The parts of a length that varies.
pub(in crate::scenario) fn spread_of_lengths(longest: Hours) -> Section {
    let form = || Amount::positive_to(longest);
    let keys = vec![
        key("median", form(), required()).says("half of all outages are shorter"),
        key("p95", form(), required()).says("one outage in twenty is longer"),
    ];
    keys.into()
}

pub(super) fn outage() -> Section {
    let keys = vec![
        key("month", MONTH, or_none("this or `start`, not both")).says("every day and hour of it is equally likely"),
        key("start", START, or_none("this or `month`")).says("the moment when the lights go out"),
        length_to(LONGEST_WITH_CUTS),
        key("starts_charged", Unsure(share()),
            or("80 %").words(", or `charge_to` where that is less (cautious: few stations stand full)"))
            .says("charge as the lights go out; what ± adds reaches no higher than `charge_to`"),
        yes_no("begins_in_a_storm",
            "the first two days are among the darkest fifth of the season's days. `tideover now` assumes the same from \
             the day on which it is asked, unless `--sky` tells the days; where `start` and `lasts` say that the \
             outage is under way, only what is left of the two days"),
        key("allow_unmet", Amount::<WattHours>::from_zero(), or("0 Wh"))
            .says("energy that the vital loads may miss before the outage counts as failed; draws a warning beside a \
                   `medical` load"),
        key("every_day", CutWindows, or_none("one outage from end to end"))
            .says("cuts that come back: the hours of the day in which the mains is off, a window or a list of windows, for \
                   as many days as it `lasts` (a year at most; without cuts 60 days). Between them the mains feeds the loads \
                   and the wall charger, to the minute"),
        key("happens", share(), or("100 %"))
            .says("only with `every_day`: on so many of the days its cuts come, drawn day by day; all of a day's or none \
                   (cautious)"),
        key("wanders", Amount::between(Hours(0.0), Hours(6.0)), or("0 h"))
            .says("only with `every_day`: so much earlier or later each of its cuts may begin, drawn for each, all equally \
                   likely; as long as ever"),
        key("cuts_from", cut_table(), or_none(""))
            .says("a file of your own cuts, beside `every_day` or in its place: each line from and to, \
                   `2026-02-03 18:00, 2026-02-03 22:30`, clock time of the place, 14 days or more from the first to the last. \
                   Each trial follows a stretch of it that begins on a day of it drawn by chance, of the same day of the week; \
                   behind its end it begins again"),
        key("mains_limit", Amount::<Watts>::from_zero(), or_none("what the wall charger draws"))
            .says("only with cuts: the most that a weak mains gives the wall charger between cuts"),
        key("somebody_home", Windows, or_none("at all hours"))
            .says("when somebody is there and awake to switch an outlet on by hand: a window or a list of windows. Said, \
                   an AC outlet without `ups` waits for it as the lights go out, and one without `comes_back` after the \
                   cells ran empty or it was asked for too much"),
    ];
    keys.into()
}
