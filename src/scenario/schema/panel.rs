//! `[[panel]]`.

use super::{Section, key, or, or_none, or_typical, required, share, share_above_zero, share_below_one};
use crate::scenario::amount::{Amount, Unsure};
use crate::scenario::clock::{WINDOW, Windows};
use crate::scenario::forms::{Text, Whole};
use crate::scenario::light::{MOST_TURNS, Shades, aim, out};
use crate::scenario::panel::{Facing, MOST, wiring};
use crate::scenario::wire::cable;
use crate::units::{Degrees, PerKelvin, Volts, Watts};

/// Change with temperature: falls with heat, by at most 1 % for each kelvin.
pub(super) fn coefficient() -> Amount<PerKelvin> {
    Amount::to_below(PerKelvin(-0.01), PerKelvin(0.0))
}

pub(super) fn tilt() -> Amount<Degrees> {
    Amount::between(Degrees(0.0), Degrees(90.0))
}

pub(super) fn panel() -> Section {
    let keys = vec![
        key("name", Text, or_none("\"panel 1\", \"panel 2\" …")).says("what to call it"),
        key("count", Whole { least: 1, greatest: MOST }, or_none("1, or what `wiring` multiplies to"))
            .says("panels in all"),
        key("rated", Unsure(Amount::<Watts>::positive()), required()).says("power of *one* panel on its label"),
        key("input", Text, or_none("required where the station has several"))
            .says("name of the solar input that it feeds"),
        key("wiring", wiring(), or_none("required for more than one panel"))
            .says("in series volts add up, in parallel amps add up"),
        key("tilt", tilt(), or_none("required for a fixed panel")).says("0° lies flat, 90° stands upright"),
        key("facing", Facing, or_none("required for a fixed panel that does not lie flat")).says("where it looks to"),
        key("aim", aim(), or("fixed"))
            .says("turned to the sun by hand so many times a day, 1 to 48, each time set for the middle of the time \
                   until the next, and missing by 10° (*typical*); `\"at the sun\"`: always straight at it, the best \
                   case"),
        key("shade", Shades, or_none("none"))
            .says("a list: by the clock, or while the sun stands between two directions (clockwise) and lower than \
                   `below` (90° when left out). Of several shades at once the deepest counts"),
        key("out", out(), or_none("always out"))
            .says("for a folding panel put out by hand: only in these hours, and only on days on which that share of \
                   the light outside the air comes down (a day of rain has less than a quarter)"),
        key("open_circuit_voltage", Amount::<Volts>::positive(),
            or_none("not known; a warning where `volts_max` is given"))
            .says("Voc of one panel on its label"),
        key("max_power_voltage", Amount::<Volts>::positive(),
            or_none("82 % of Voc (*typical*); with neither known, volts and amps are not looked at"))
            .says("Vmp of one panel, below Voc"),
        key("voltage_coefficient", coefficient(),
            or_none("the code's table for cold mornings (NEC 690.7(A)), and -0.3 %/K (*typical*) beside it"))
            .says("change of Voc with temperature"),
        key("power_coefficient", coefficient(), or_typical("-0.4 %/K")).says("change of power with temperature"),
        key("soiling", share_below_one(), or_typical("3 %")).says("light lost to dirt"),
        key("cable_loss", share_below_one(), or_typical("2 %"))
            .says("power lost in the cable, whatever flows; not beside `cable`"),
        key("cable", cable(), or_none("`cable_loss`"))
            .says("the cable one way, from the array to the station; gauges 18 to 4 AWG in even numbers, or a \
                   cross-section. The loss follows from the amps of each hour"),
    ];
    keys.into()
}

pub(in crate::scenario) fn strings() -> Section {
    let whole = || Whole { least: 1, greatest: MOST };
    let keys = vec![
        key("series", whole(), required()).says("panels one after another in a string"),
        key("parallel", whole(), required()).says("strings side by side"),
    ];
    keys.into()
}

pub(in crate::scenario) fn turns() -> Section {
    vec![
        key("times_a_day", Whole { least: 1, greatest: MOST_TURNS }, required()).says("how often it is turned"),
    ].into()
}

pub(in crate::scenario) fn shade() -> Section {
    let keys = vec![
        key("loses", share_above_zero(), required()).says("share of the power that goes"),
        key("hours", WINDOW, or_none("this, or `sun_from` and `sun_to`")).says("by the clock"),
        key("sun_from", Facing, or_none("")).says("where the sun stands as the shade begins"),
        key("sun_to", Facing, or_none("")).says("where it stands as the shade ends, going clockwise"),
        key("below", Amount::positive_to(Degrees(90.0)), or("90°")).says("only while the sun is lower"),
    ];
    keys.into()
}

pub(in crate::scenario) fn put_out() -> Section {
    let keys = vec![
        key("hours", Windows, or_none("all day")).says("when it is out"),
        key("if_clearer_than", share(), or("0 %")).says("least share of the light outside the air"),
    ];
    keys.into()
}
