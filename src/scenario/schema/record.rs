//! The record of bench tests, and the kit file that a proof leaves.

use super::panel::{coefficient, tilt};
use super::site::site;
use super::station::chemistry;
use super::{Key, Section, key, many, name, one, or, or_none, or_typical, passed_on, required, share};
use crate::scenario::amount::{Amount, Estimated, Told, Unsure};
use crate::scenario::forms::{Text, Whole, YesNo};
use crate::scenario::panel::Facing;
use crate::scenario::record::arrival::TEXTS;
use crate::scenario::record::kit_file::{Correlation, FigureKind};
use crate::scenario::record::run::{LONGEST, Readings};
use crate::scenario::record::solar::{AIM, SKY};
use crate::scenario::record::times::{DAY, MOMENT};
use crate::scenario::station::OUTLET;
use crate::units::{Amps, Celsius, Fraction, Hours, Volts, WattHours, Watts, WattsPerSquareMetre};

fn remark(name: &'static str) -> Key {
    key(name, Text, or_none("none")).says("a remark")
}

pub(super) fn record() -> Section {
    let keys = vec![
        key("title", Text, or("A unit")).says("what to call it"),
        remark("noise"),
        remark("heat"),
        key("tester", Text, or_none("not told")).says("who tested it, for the page and JSON"),
        key("place", Text, or_none("not told")).says("where, for the page and JSON"),
        key("photographs", TEXTS, or_none("none"))
            .says("files beside the record that the page holds: JPEG or PNG, at most 12 of up to 2 MB each"),
        one("unit", required(), "what the label says", unit()),
        one("site", or_none("clocks never change"), "where it was tested", site()),
        one("arrival", or_none("not told"), "the box and what was in it", arrival()),
        many("meter", or_none("the unit's own display"), "what was measured with", meter()),
        many("meter_check", or_none("none"), "a meter held against a load that is known", meter_check()),
        many("wall", or_none("none"), "charges metered at the wall socket", run(Vec::new())),
        many("capacity", or_none("none"), "discharges",
            run(vec![key("outlet", OUTLET, or("ac")).says("where it was discharged")])),
        many("solar", or_none("none"), "panels at one moment", solar()),
        many("outlet", or_none("none"), "one for each socket, lamp and pad", outlet()),
    ];
    keys.into()
}

fn unit() -> Section {
    let power = Amount::<Watts>::positive;
    let keys = vec![
        key("rated_capacity", Amount::<WattHours>::positive(), required()).says("energy on the label"),
        chemistry(),
        key("inverter", power(), or_none("required once the AC outlet is tested")).says("its power for long"),
        key("solar_limit", power(), or_none("not known")).says("most power taken from panels"),
        key("model", Text, or_none("none")).says("what its maker calls it; units of one model stand together in a table"),
        key("serial_number", Text, or_none("none")).says("for the page and JSON"),
        key("cycles", Whole { least: 0, greatest: 100_000 }, or_none("not known")).says("full cycles so far"),
    ];
    keys.into()
}

fn arrival() -> Section {
    let keys = vec![
        key("date", DAY, or_none("not known")).says("when it came"),
        key("damage", Text, or_none("none")).says("what you saw, or `\"none\"`"),
        key("packing_list", TEXTS, or_none("not checked")).says("what should be in the box"),
        key("found", TEXTS, or_none("not checked")).says("what was in it; what is missing is told"),
        key("packaging_kept", YesNo, or_none("not known")).says("whether the box was kept"),
        key("return_by", DAY, or_none("not known")).says("days left are told"),
        key("warranty_until", DAY, or_none("not known")).says("days left are told"),
        key("charge", share(), or_none("not known")).says("on the display as delivered; about half is usual"),
    ];
    keys.into()
}

fn meter() -> Section {
    let keys = vec![
        name().says("a text that the tests refer to"),
        key("accuracy", Amount::between(Fraction(0.0), Fraction(0.3)), required())
            .says("limits of its error as a share of the reading"),
        key("last_digit", Amount::<Watts>::from_zero(), or("0.1 W")).says("its last digit for power"),
    ];
    keys.into()
}

fn meter_check() -> Section {
    let keys = vec![
        name_of("numbered from 1"),
        which_meter(),
        key("read", Amount::<Watts>::positive(), required()).says("what the meter read"),
        key("known", Told(Unsure(Amount::<Watts>::positive())), required())
            .says("what really flowed, and how well that is known, like \"100 W ± 1 %\": by a better meter, by a load with \
                   a known resistance, or by the supplier's own meter over some hours"),
    ];
    keys.into()
}

fn name_of(numbered: &'static str) -> Key {
    key("name", Text, or_none(numbered)).says("what to call it")
}

fn which_meter() -> Key {
    key("meter", Text, or_none("the only one; else the unit's own display")).says("the name of a meter")
}

fn run(more: Vec<Key>) -> Section {
    let mut keys = vec![name_of("numbered from 1")];
    keys.extend(more);
    keys.extend([
        which_meter(),
        key("start", MOMENT, or_none("needed with `stop`, or `lasted`, or a log"))
            .says("a time that its clock skips or shows twice is refused"),
        key("stop", MOMENT, or_none("as `start`")).says("when it ended"),
        key("lasted", Amount::positive_to(LONGEST), or_none("by `start` and `stop`")).says("how long"),
        key("clock", Amount::between(Hours(0.0), Hours(12.0)), or("1 min").words("; for a log half its step"))
            .says("how far start and stop may each be off"),
        key("ambient", Amount::between(Celsius(-40.0), Celsius(60.0)), or_none("not known"))
            .says("temperature of the air; outside 10 to 35 °C draws a warning"),
        key("from", Unsure(share()), required())
            .says("charge at the start; between empty and full ± 5 % (*typical*, displays are rough)"),
        key("to", Unsure(share()), required()).says("charge at the stop; likewise"),
        key("energy", Unsure(Amount::<WattHours>::positive()), or_none("one of these four"))
            .says("what the meter counted. The best single number"),
        key("load", Amount::<Watts>::from_zero(), or_none(""))
            .says("one reading of the watts; 0 W with only the outlet switched on. Beside `energy` it is held against \
                   it"),
        key("readings", Readings, or_none("")).says("the watts now and then; or `volts` and `amps` for `watts`"),
        key("log", Text, or_none("")).says("a file of comma-separated values beside the record"),
    ]);
    keys.into()
}

pub(in crate::scenario) fn reading() -> Section {
    let keys = vec![
        key("after", Amount::between(Hours(0.0), LONGEST), required()).says("time since the start"),
        key("volts", Amount::<Volts>::from_zero(), or_none("not read")).says("volts"),
        key("amps", Amount::<Amps>::from_zero(), or_none("not read")).says("amps"),
        key("charge", share(), or_none("not read")).says("charge on the display"),
        key("watts", Amount::<Watts>::from_zero(), or_none("required, or `volts` and `amps`")).says("watts"),
    ];
    keys.into()
}

fn solar() -> Section {
    let keys = vec![
        name_of("numbered from 1"),
        which_meter(),
        key("at", MOMENT, required()).says("when"),
        key("watts", Amount::<Watts>::from_zero(), required()).says("power that was read"),
        key("rated", Amount::<Watts>::positive(), required()).says("label of all panels together"),
        key("irradiance", Unsure(Amount::<WattsPerSquareMetre>::positive()), or_none("by the sun and the sky"))
            .says("light on the panel's plane by a meter held in it; without ± it is taken as good to 5 % (*typical*)"),
        key("sky", SKY, or_none("required, or `irradiance`")).says("how the sky looked"),
        key("air", Amount::between(Celsius(-50.0), Celsius(60.0)),
            or_none("the month's mean at the place, give or take 9 K"))
            .says("air temperature"),
        key("charge", share(), or_none("not known"))
            .says("charge of the unit; from 90 % on it takes less than the panel gives"),
        key("power_coefficient", coefficient(), or_typical("-0.4 %/K")).says("change of power with temperature"),
        key("aim", AIM, or_none("this, or `tilt` and `facing`, or `irradiance`")).says("a stick on the panel throws no shadow"),
        key("tilt", tilt(), or_none("")).says("slope of the panels"),
        key("facing", Facing, or_none("")).says("where they looked to"),
    ];
    keys.into()
}

fn outlet() -> Section {
    let keys = vec![
        name(),
        key("load", Amount::<Watts>::positive(), or_none("not known")).says("what hung on it"),
        key("passed", YesNo, required()).says("whether it worked"),
        remark("remark"),
    ];
    keys.into()
}

pub(super) fn kit_file() -> Section {
    let kit = vec![
        key("title", Text, or("A unit")).says("what to call it"),
        key("rated_capacity", Amount::<WattHours>::positive(), required()).says("energy on the label"),
        key("inverter", Amount::<Watts>::positive(), or_none("required with figures of AC"))
            .says("its power for long"),
        key("ac_step_from", Amount::<Watts>::positive(), or_none("required with `ac_step`"))
            .says("the AC load from which a fan or another step takes `ac_step`, below it in proportion"),
        key("defects", TEXTS, or_none("none")).says("what is wrong with the unit beside its figures"),
    ];
    let figure = |kind: FigureKind| match kind {
        FigureKind::UsableEnergy => {
            key(kind.key(), Estimated(Amount::<WattHours>::positive()), required()).says(kind.name())
        }
        FigureKind::Draw(_) | FigureKind::Step => {
            key(kind.key(), Estimated(Amount::<Watts>::from_zero()), or_none("not tested")).says(kind.name())
        }
        FigureKind::RateLoss => {
            key(kind.key(), Estimated(share()), or_none("not told")).says("loss of capacity for each C beyond 0.2 C")
        }
        _ => key(kind.key(), Estimated(passed_on()), or_none("not tested")).says(kind.name()),
    };
    let mut figures: Vec<Key> = FigureKind::ALL.map(figure).into();
    figures.push(key("correlation", Correlation, or_none("none")).says("of the figures, in their order"));
    let keys = vec![
        one("kit", required(), "the unit", kit.into()),
        one("figures", required(), "what its tests leave of it", figures.into()),
    ];
    keys.into()
}
