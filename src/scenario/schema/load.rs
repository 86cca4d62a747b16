//! `[[load]]`: the kinds of load and their keys.

use super::{
    Key, Section, key, name, or, or_none, or_typical, passed_on, required, required_but, share, share_above_zero, yes_no,
};
use crate::scenario::appliances::LIKE;
use crate::scenario::amount::{Amount, Told, Unsure};
use crate::scenario::clock::Windows;
use crate::scenario::cooler::{ROOM, FOOD_RULE, YEARLY};
use crate::scenario::forms::{OneOf, Text, Whole};
use crate::scenario::kinds::profile_file;
use crate::scenario::load::{Days, PRIORITY};
use crate::scenario::station::OUTLET;
use crate::units::{Celsius, Kelvins, Kilograms, Litres, Metres, Milliseconds, WattHours, Watts};

pub(in crate::scenario) const STEADY: &str = "steady";
pub(in crate::scenario) const SCHEDULE: &str = "schedule";
pub(in crate::scenario) const DUTY: &str = "duty";
pub(in crate::scenario) const PROFILE: &str = "profile";
pub(in crate::scenario) const CHARGE: &str = "charge";
pub(in crate::scenario) const COOLER: &str = "cooler";
pub(in crate::scenario) const PUMP: &str = "pump";

/// The kinds, each with the key that tells it where `kind` is not said: the first that is there.
const KINDS: &[(&str, &str)] = &[
    (PROFILE, "profile"),
    (COOLER, "label"),
    (CHARGE, "energy_a_day"),
    (PUMP, "water_a_day"),
    (DUTY, "duty"),
    (SCHEDULE, "hours"),
    (STEADY, ""),
];

/// The kinds as they are offered.
const KIND: OneOf<&str> = OneOf {
    names: &[
        (STEADY, STEADY),
        (SCHEDULE, SCHEDULE),
        (DUTY, DUTY),
        (PROFILE, PROFILE),
        (CHARGE, CHARGE),
        (COOLER, COOLER),
        (PUMP, PUMP),
    ],
    also: &[],
};

/// Most power of one load.
const MOST: Watts = Watts(100_000.0);

pub(super) fn load() -> Section {
    let mut keys = of_all_kinds();
    keys.extend(by_the_clock());
    keys.extend(of_use());
    keys.extend(profile());
    keys.extend(charge());
    keys.extend(cooler());
    keys.extend(pump());
    Section { kinds: KINDS, ..keys.into() }
}

fn power() -> Amount<Watts> {
    Amount::positive_to(MOST)
}

fn of_all_kinds() -> Vec<Key> {
    vec![
        key("like", LIKE, or_none("none"))
            .says("an appliance of the library: `\"fridge-freezer, 300 litres\"`; `tideover appliances` lists them \
                   with the sources of their figures. It gives every key that you leave out, `name` and `outlet` \
                   included"),
        name().says("what to call it; no two loads share a name"),
        key("outlet", OUTLET, required()).says("where it is plugged in"),
        key("priority", PRIORITY, required())
            .says("`\"vital\"`: the outage has failed when it stops; `\"spare\"`: given up first"),
        key("kind", KIND,
            or_none("by what else is given: `profile`, else `label` (cooler), else `energy_a_day` (charge), else \
                     `water_a_day` (pump), else `duty`, else `hours` (schedule), else steady"))
            .says("how it draws its power"),
        key("watts", Told(Unsure(power())), required_but("required, but for a profile"))
            .says("power while it runs, of one; no ± for coolers, pumps and devices that are charged: what its \
                   compressor, motor or charger draws")
            .not_for(PROFILE, "the file says the watts; leave this out"),
        key("starting_watts", power(), or_none("not known"))
            .says("power of one of them for the moment in which its motor starts, `watts` or more; only `check` looks \
                   at it"),
        key("tolerates", Amount::<Milliseconds>::positive(), or_none("not known"))
            .says("the longest gap at an AC outlet that it rides through, as the station takes over from the mains; only judged, see \
                   `station.inverter.switchover`"),
        key("count", Whole { least: 1, greatest: 1000 }, or("1"))
            .says("how many of the same; multiplies `watts`, `watts_there`, `energy_a_day`, `holds`, `water_a_day`, \
                   `tank` and a profile; not for coolers"),
    ]
}

fn by_the_clock() -> Vec<Key> {
    vec![
        key("hours", Windows, or_none("all day"))
            .says("when it runs, or when it is plugged in: a window, or a list of windows that do not overlap; 24:00 \
                   may end one")
            .only(&[SCHEDULE, DUTY, CHARGE, PUMP])
            .needed_by(&[SCHEDULE]),
        key("days", Days, or("every day"))
            .says("days of use, or a list of them; a window over midnight belongs to the day on which it begins")
            .only(&[SCHEDULE, DUTY]),
        key("duty", share_above_zero(), or_none(""))
            .says("of the time that it runs by itself (a compressor)")
            .only(&[DUTY])
            .needed_by(&[DUTY]),
    ]
}

fn of_use() -> Vec<Key> {
    vec![
        key("varies", share(), or("0 %"))
            .says("day-to-day standard deviation of its use as a share of the mean; not for coolers")
            .not_for(COOLER,
                "room and door decide: leave it out; an unsure label is written label = \"290 kWh a year ± 10 %\""),
        key("off_below", share(), or_none("never; a pump that is not vital 90 %: it runs on what is left over"))
            .says("switched off once the charge is below this; back on when it is 5 points higher, at most at 100 %"),
        key("could_use", OUTLET, or_none("none")).says("another outlet that would do as well"),
        key("watts_there", power(), or_none("as `watts`")).says("what it would draw there, only with `could_use`"),
        yes_no("medical",
            "a person's health hangs on it; adds a caution, and the answer is to be judged by the lower end of its \
             range; make it `vital`: of one that is not, the answer says how often it goes without"),
    ]
}

fn profile() -> Vec<Key> {
    vec![
        key("profile", profile_file(), or_none(""))
            .says("the file; with its column, where it has several")
            .only(&[PROFILE])
            .needed_by(&[PROFILE]),
    ]
}

/// A file with a column.
pub(in crate::scenario) fn file_and_column() -> Section {
    vec![
        key("file", Text, required()).says("the file"),
        key("column", Text, required()).says("its column of watts"),
    ]
    .into()
}

fn charge() -> Vec<Key> {
    let most = WattHours(100_000.0);
    vec![
        key("energy_a_day", Unsure(Amount::positive_to(most)), or_none("required"))
            .says("what its use takes out of its own battery in a day, evenly")
            .only(&[CHARGE])
            .needed_by(&[CHARGE]),
        key("holds", Amount::positive_to(most), or_none("a day's use (cautious)"))
            .says("what its battery holds")
            .only(&[CHARGE]),
        key("charging_efficiency", passed_on(), or_typical("80 %"))
            .says("of the charger's energy, what arrives in its battery")
            .only(&[CHARGE]),
    ]
}

fn pump() -> Vec<Key> {
    let litres = || Amount::<Litres>::positive_to(Litres(10_000.0));
    let keys = vec![
        key("lift", Amount::positive_to(Metres(300.0)), or_none("required"))
            .says("from the water's level to where it leaves the pipe; add a tenth yourself for the pipe's friction (*typical*)")
            .needed_by(&[PUMP]),
        key("water_a_day", litres(), or_none("required")).says("what is used, evenly over the day").needed_by(&[PUMP]),
        key("tank", litres(), or_none("a day's water (cautious)")).says("what the tank holds; it begins as on a usual day"),
        key("pump_efficiency", passed_on(), or_typical("30 %"))
            .says("of the energy at the outlet, what lifts water"),
    ];
    keys.into_iter().map(|key| key.only(&[PUMP])).collect()
}

fn cooler() -> Vec<Key> {
    let volume = || Amount::<Litres>::positive_to(Litres(3000.0));
    let contents = || Amount::<Kilograms>::positive_to(Kilograms(3000.0));
    let keys = vec![
        key("label", YEARLY, or_none("required")).says("energy by its label; ± allowed").needed_by(&[COOLER]),
        key("label_room", Amount::between(Celsius(10.0), Celsius(45.0)),
            or("25 °C").words(" (cautious: with a label tested warmer it reads high)"))
            .says("room of the label's test: 90 °F in the United States, about 25 °C in Europe"),
        key("fridge_volume", volume(), or_none("at least one volume")).says("of its part for fresh food"),
        key("fridge_contents", contents(), or_none("0.15 kg/L (*typical*)"))
            .says("food in it, up to a kilogram a litre"),
        key("fridge_set", Amount::between(Celsius(0.0), Celsius(15.0)), or("3 °C")).says("what the thermostat holds"),
        key("freezer_volume", volume(), or_none("at least one volume")).says("of its part for frozen food"),
        key("freezer_contents", contents(), or_none("0.25 kg/L (half full) (*typical*)")).says("food in it"),
        key("freezer_set", Amount::between(Celsius(-40.0), Celsius(-5.0)), or("-18 °C"))
            .says("what the thermostat holds"),
        key("thermostat_band", Amount::between(Kelvins(0.0), Kelvins(10.0)), or_typical("2 K"))
            .says("how far the thermostat lets the temperature swing"),
        key("room", ROOM,
            or("indoors").words(": 21 °C, or as warm as outdoors where that is warmer (no air conditioning)"))
            .says("how warm it is around it"),
        key("door_openings", Whole { least: 0, greatest: 500 }, or("10"))
            .says("in a day: few, one knows that the power is out"),
        key("food", FOOD_RULE,
            or("lost by the sooner clock") .words(": 4 °C for 2 h or 4 h without power, whichever comes first \
                                                   (cautious)"))
            .says("with a thermometer that somebody looks at, degrees and hours, added up over the outage; without \
                   one, doors closed, hours without power: a full freezer lasts twelve times as long, a half-full one \
                   six"),
    ];
    keys.into_iter().map(|key| key.only(&[COOLER])).collect()
}
