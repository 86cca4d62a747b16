//! `[[variant]]`, `[size]`, and the catalogue of kits.

use super::{Section, key, many, name, or, or_none, required};
use crate::scenario::amount::Amount;
use crate::scenario::catalogue::ANYTHING;
use crate::scenario::forms::{Text, Whole};
use crate::scenario::size::{MOST, PRICE, battery_steps, panel_steps};
use crate::scenario::variant::{REMOVALS, SETTINGS};
use crate::units::{Fraction, Kilograms, WattHours};

pub(super) fn variant() -> Section {
    let keys = vec![
        name(),
        key("set", SETTINGS, or_none("nothing differs")).says("the keys that differ and their values"),
        key("without", REMOVALS, or_none("none")).says("entries left out"),
    ];
    keys.into()
}

fn capacity() -> Amount<WattHours> {
    Amount::positive_to(WattHours(1e7))
}

fn weight() -> Amount<Kilograms> {
    Amount::from_zero()
}

const COUNT: Whole = Whole { least: 0, greatest: 1000 };

pub(super) fn size() -> Section {
    let keys = vec![
        key("target", Amount::between(Fraction(0.01), Fraction(0.9999)), or("95 %"))
            .says("survival that the lower end of the range must reach")
            .exactly("", Fraction(0.95)),
        key("currency", Text, or_none("none")).says("a word for the money of all prices, which are plain numbers"),
        key("battery_steps", battery_steps(), or_none("eight from half to four times the scenario's own"))
            .says("capacities by the label in equal ratios; prices and weights may be left out"),
        key("panel_steps", panel_steps(), or_none("none to twice the scenario's own strings, and two more"))
            .says("numbers of panels of the first `[[panel]]`; what makes no whole strings of its `series` is left \
                   out, and the answer says so"),
        many("battery", or_none("none"), "one battery to buy", battery()),
        many("panels", or_none("none"), "one set of panels to buy", panels()),
    ];
    keys.into()
}

fn battery() -> Section {
    let mut section = to_buy();
    section.keys.insert(1, key("capacity", capacity(), required()).says("energy on its label"));
    section
}

fn panels() -> Section {
    let mut section = to_buy();
    section.keys.insert(1, key("count", COUNT, required()).says("how many panels: whole strings"));
    section
}

fn to_buy() -> Section {
    let keys = vec![
        key("name", Text, or_none("by its size")).says("what to call it"),
        key("price", PRICE, or_none("not known")).says("what it costs"),
        key("weight", weight(), or_none("not known")).says("what it weighs"),
    ];
    keys.into()
}

pub(in crate::scenario) fn steps_of_batteries() -> Section {
    let keys = vec![
        key("from", capacity(), required()).says("the smallest"),
        key("to", capacity(), required()).says("the largest"),
        key("steps", Whole { least: 2, greatest: MOST }, required()).says("how many in all"),
        key("price_per_kwh", PRICE, or_none("not known")).says("what a kWh of it costs"),
        key("weight_per_kwh", weight(), or_none("not known")).says("what a kWh of it weighs"),
    ];
    keys.into()
}

pub(in crate::scenario) fn steps_of_panels() -> Section {
    let keys = vec![
        key("from", COUNT, required()).says("the fewest"),
        key("to", COUNT, required()).says("the most"),
        key("price_each", PRICE, or_none("not known")).says("what one costs"),
        key("weight_each", weight(), or_none("not known")).says("what one weighs"),
    ];
    keys.into()
}

pub(super) fn catalogue() -> Section {
    let kit = vec![
        name(),
        key("price", PRICE, or_none("not known")).says("what it costs, panels included"),
        key("currency", Text, or_none("the catalogue's")).says("the money of its price"),
        key("weight", weight(), or_none("not known")).says("what it weighs, panels included"),
        key("remark", Text, or_none("none")).says("for people"),
        key("station", ANYTHING, or_none("required")).says("as in a scenario"),
        key("panel", ANYTHING, or_none("none")).says("as in a scenario"),
    ];
    let keys = vec![
        key("title", Text, or_none("none")).says("what to call it"),
        key("currency", Text, or_none("none")).says("the money of all prices"),
        many("kit", or_none("required"), "something to buy", kit.into()),
    ];
    keys.into()
}
