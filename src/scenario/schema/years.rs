//! `[[strategy]]`, `[outages]`, `[tariff]` and `[wear]`: what the years are made of.

use super::site::length;
use super::{Key, Otherwise, Section, key, name, or, or_none, required, share, share_above_zero, yes_no};
use crate::scenario::amount::Amount;
use crate::scenario::clock::Windows;
use crate::scenario::forms::{Text, YesNo};
use crate::scenario::years::{
    Between, KWH, LOAD_NAMES, Often, PRICE, STORED_AT, WEAR_MODEL, WEIGHT, WARNED, YEARS_LONG, before_a_storm, daily_use,
    history, reliability, season_weights, weight_names,
};
use crate::units::{Hours, Watts};

pub(super) fn strategy() -> Section {
    let keys = vec![
        name().says("what to call it; no two strategies share a name"),
        key("charge_to", share_above_zero(), or_none("`charge_to` of the station"))
            .says("charging stops here, in outages too"),
        key("rest_at", share_above_zero(), or_none("`charge_to`"))
            .says("where it rests between outages, up to `charge_to`"),
        key("top_up_every", Amount::between(Hours(24.0), Hours(8760.0)),
            or_none("plugged in and held at `rest_at`; its electronics then draw from the wall"))
            .says("switched off, loses a little by itself, and is topped up this often"),
        key("daily_use", daily_use(), or_none("not used between outages"))
            .says("these loads run from the battery until the lower share is reached, then from the wall; it recharges \
                   in the hours of `recharge` (the cheap ones of the tariff when left out, else 00:00-06:00; with \
                   `use_solar_daily` not from the wall at all)"),
        key("before_a_storm", before_a_storm(), or_none("nothing is done"))
            .says("what is done when a storm is announced"),
        key("use_solar_daily", YesNo, or("false")).says("`true`: the panels charge it all year, not in outages only"),
        key("stored_at", STORED_AT, or("22 °C").words(" (a room, *typical*)"))
            .says("its place; `\"outside\"` for the air of the place"),
        key("charge_with", Amount::<Watts>::positive_to(Watts(100_000.0)),
            or_none("a fifth of the capacity in an hour (*typical*)"))
            .says("power from the wall"),
    ];
    keys.into()
}

pub(in crate::scenario) fn daily() -> Section {
    let keys = vec![
        key("between", Between, required()).says("how far down and up it goes"),
        key("loads", LOAD_NAMES, required()).says("the loads that it runs"),
        key("recharge", Windows,
            or_none("the cheap hours of the tariff, else 00:00-06:00; with `use_solar_daily` not from the wall at all"))
            .says("when it recharges"),
    ];
    keys.into()
}

pub(in crate::scenario) fn storm() -> Section {
    let keys = vec![
        key("charge_to", share_above_zero(), or("100 %")).says("charged to this"),
        key("warned", WARNED, required()).says("how many outages are announced, and how long before"),
    ];
    keys.into()
}

pub(super) fn outages() -> Section {
    let keys = vec![
        key("frequency", Often, or_none("this and `lasts`, or `history`, or `reliability`"))
            .says("how often the mains fail"),
        Key { otherwise: or_none("with `frequency`"), ..length() }.says("as in `[outage]`"),
        key("history", history(), or_none(""))
            .says("your own record; columns `start` (`2023-02-11T16:40`, clock time) and `hours`. Months and lengths \
                   are drawn from it, and how often from what so many outages in so many years allow"),
        key("reliability", reliability(), or_none(""))
            .says("your utility's indices (IEEE 1366): mean minutes without power and mean interruptions of a customer \
                   in a year; their ratio is the mean length. Ask for the figures with major events included"),
        key("season_weights", season_weights(), or_none("1 each"))
            .says("how likely against the others: by season (`winter`, `spring`, `summer`, `autumn` of your half of \
                   the earth) or month (`january` …)"),
        key("in_bad_weather", share(), or("50 %").words(" (*typical*, cautious)"))
            .says("of the outages, those that begin with the darkest days of their month"),
    ];
    keys.into()
}

pub(in crate::scenario) fn record_of_outages() -> Section {
    let keys = vec![
        key("file", Text, required()).says("the file"),
        key("years", YEARS_LONG, required()).says("how long was watched"),
    ];
    keys.into()
}

pub(in crate::scenario) fn indices() -> Section {
    let keys = vec![
        key("saidi", Amount::<Hours>::positive_to(Hours(8760.0)), required()).says("mean time without power in a year"),
        key("saifi", Often, required()).says("mean interruptions of a customer"),
    ];
    keys.into()
}

pub(in crate::scenario) fn weights() -> Section {
    let weight = |name| key(name, WEIGHT, or_none("1")).says("how likely against the others");
    weight_names().map(weight).collect::<Vec<_>>().into()
}

pub(super) fn tariff() -> Section {
    let keys = vec![
        key("price", KWH, required()).says("of a kWh from the wall"),
        key("cheap", KWH, one_price()).says("of a kWh in cheap hours"),
        key("cheap_hours", Windows, one_price()).says("when they are"),
        key("station", PRICE, or_none("no such cost is told"))
            .says("what the station costs, for the cost of a kWh over its life"),
    ];
    keys.into()
}

fn one_price() -> Otherwise {
    or_none("one price all day")
}

pub(super) fn wear() -> Section {
    let keys = vec![
        key("model", WEAR_MODEL, or("worst").words(" (cautious)"))
            .says("`\"worst\"`: of all laws the one that has lost most; `\"published\"`: laboratory measurements; \
                   `\"trade rule\"`: LFP 2000 full cycles to 80 %, 4000 between 80 and 20 %, NMC 500 and 1000 (common practice, no source), \
                   blind to standing still"),
        yes_no("resistance_grows", "losses in the battery grow with its age (LFP)"),
    ];
    keys.into()
}
