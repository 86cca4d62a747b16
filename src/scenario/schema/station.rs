//! `[station]` with its outlets and inputs, `[generator]` and `[second_station]`.

use super::{
    Key, Otherwise, Section, few, key, many, one, or, or_by, or_none, or_typical, passed_on, required, share, share_above_zero, yes_no,
};
use crate::scenario::amount::{Amount, Told, Unsure};
use crate::scenario::charger::{FEEDS_AC, StandsForm, SPAN};
use crate::scenario::clock::Windows;
use crate::scenario::forms::{Text, Whole};
use crate::scenario::outlets::Points;
use crate::scenario::ports::PORTS;
use crate::scenario::station::{CHEMISTRY, OUTLET, RECORD_NAME};
use crate::scenario::wire::cable;
use crate::units::{Amps, Fraction, Hours, Litres, Milliseconds, Volts, WattHours, WattHoursPerKelvin, Watts, WattsPerKelvin};

pub(super) fn station() -> Section {
    let mut keys = capacity();
    keys.extend(warmth());
    keys.extend(limits());
    keys.extend([
        one("inverter", or_none("no mains outlet"), "the mains outlets", inverter()),
        one("dc_outlet", or_none("no 12 V outlet"), "the 12 V outlet", dc_outlet()),
        one("usb", or_none("no USB outlet"), "the USB outlets together", usb()),
        few("solar_input", or_none("no solar input"), "where the panels are plugged in", solar_input()),
        key("solar_limit", Amount::<Watts>::positive(), or_none("what each of them takes"))
            .says("most power that all solar inputs take together"),
        many("pack", or_none("none"), "one battery that is plugged into the station", pack()),
        one("wall_charger", or_none("no wall charger"), "what charges from the mains, a generator or a second station",
            wall_charger()),
    ]);
    keys.into()
}

pub(super) fn chemistry() -> Key {
    key("chemistry", CHEMISTRY, or("LFP")).says("kind of cells")
}

fn capacity() -> Vec<Key> {
    vec![
        key("rated_capacity", Told(Unsure(Amount::<WattHours>::positive())), required())
            .says("energy on the label. Alone it means that the cells hold 97 % ± 8 % of it (*typical* of units that \
                   nobody has tested). With a ± of its own it is what the cells hold: `\"1000 Wh ± 3 %\"` is 970 to \
                   1030 Wh, `\"1000 Wh ± 0 %\"` exactly 1000 Wh"),
        key("measured_capacity", Unsure(Amount::<WattHours>::positive()), or_none("the label is believed"))
            .says("energy that came out of an outlet from full to empty. Losses of the inverter that are only assumed \
                   put no more in the cells than the label and the ± of label and test allow: they are lowered \
                   instead, with a warning. Where the cells would be beyond that even so, energy would come from \
                   nothing: an error for every command"),
        key("measured_at", OUTLET, or("ac")).says("the outlet of that test"),
        key("measured_load", Amount::<Watts>::positive(),
            or_none("0.2 W for each Wh of `rated_capacity`: empty in about five hours (*typical* bench test)"))
            .says("the load of that test"),
        key("proved", RECORD_NAME, or_none("nobody has proved it"))
            .says("a record of bench tests or a kit file, `\"records/my-unit.toml\"` (see [prove.md](prove.md)): \
                   capacity, draws and efficiencies come from it, with their ±; instead of `measured_capacity`. \
                   Figures that cannot be believed are an error ([prove.md](prove.md))"),
        chemistry(),
        key("state_of_health", Unsure(share_above_zero()), or("100 %"))
            .says("what is left of the label's capacity; of no use beside `measured_capacity`"),
    ]
}

fn pack() -> Section {
    let keys = vec![
        key("rated_capacity", Told(Unsure(Amount::<WattHours>::positive())), required())
            .says("energy on its label, read as the station's: alone it means 97 % ± 8 % of it, with a ± of its own what the \
                   cells hold"),
        key("state_of_health", Unsure(share_above_zero()), or("100 %"))
            .says("what is left of that: its own age, whatever the station's"),
    ];
    keys.into()
}

fn warmth() -> Vec<Key> {
    vec![
        key("stands", StandsForm, or("indoors"))
            .says("`\"indoors\"` (20 °C, or the mean of the month outside where that is warmer), `\"outdoors\"` (follows the air), `\"in the sun\"` (up to 25 K warmer than \
                   the air), `\"in a closed box\"` or car in the sun (22 K warmer in full sun while that leaves it cool, 40 K \
                   where it is warm anyway: see [model.md](model.md))"),
        key("charges_between", SPAN,
            typical(&[("lithium", "[\"0 °C\", \"45 °C\"]"), ("lead-acid", "[\"-20 °C\", \"50 °C\"]")]))
            .says("cells are charged between these temperatures"),
        key("works_between", SPAN,
            typical(&[("lithium", "[\"-20 °C\", \"60 °C\"]"), ("lead-acid", "[\"-20 °C\", \"50 °C\"]")]))
            .says("the station works at all between these; outside nothing is charged or served, whether from cells, \
                   sun or generator"),
        key("self_heating", Amount::<Watts>::positive(), or_none("none"))
            .says("most watts of a heater that warms cells too cold to be charged, fed by what sun or wall leave over, \
                   before the cells are charged (see below)"),
        key("heat_capacity", Amount::between(WattHoursPerKelvin(0.01), WattHoursPerKelvin(1.0e6)),
            or_none("4 Wh/K for each kWh of `rated_capacity`, lead-acid 8.3 Wh/K (*typical*)"))
            .says("heat that warms the station by a kelvin"),
        key("heat_loss", Amount::between(WattsPerKelvin(0.01), WattsPerKelvin(1.0e5)),
            or_none("`heat_capacity` over three hours (*typical*)"))
            .says("heat that it loses for each kelvin above what is around it"),
    ]
}

fn limits() -> Vec<Key> {
    vec![
        key("tapers_from", share_above_zero(), typical(&[("LFP", "95 %"), ("NMC", "85 %"), ("lead-acid", "80 %")]))
            .says("charging slows down from here on, to nothing at 100 %")
            .exactly("LFP", Fraction(0.95)),
        key("charge_to", share_above_zero(), or("100 %")).says("charging stops here, above `keep_above`"),
        key("keep_above", share(), typical(&[("lithium", "0 %"), ("lead-acid", "50 %")]))
            .says("discharging stops here; below 50 % draws a warning for lead-acid (half-full rule)"),
        key("charge_efficiency", Unsure(passed_on()),
            typical(&[("lithium", "97 % ± 2 %"), ("lead-acid", "90 % ± 5 %")]))
            .says("one way: share of the energy sent to the cells that arrives in them"),
        key("discharge_efficiency", Unsure(passed_on()),
            typical(&[("lithium", "97 % ± 2 %"), ("lead-acid", "90 % ± 5 %")]))
            .says("the same on the way out, before the outlets' own losses"),
        key("charge_limit", Amount::<Watts>::positive(),
            or_none("lithium 1 W for each Wh they hold, lead-acid 0.2 W (*typical*)"))
            .says("most power sent to the cells: what arrives in them is less by `charge_efficiency`"),
        key("discharge_limit", Amount::<Watts>::positive(), or_none("no limit but the outlets'"))
            .says("most power out of the cells, losses counted: what arrives at the outlets' converters is less by \
                   `discharge_efficiency` (100 W at 97 % leave 97 W there). A load that draws more while it runs never \
                   runs, however short its hours; loads that only together draw more are counted by the hour, and the \
                   answer begins with it (vital loads alone: `judged_survival` is 0)"),
        key("own_draw", Amount::<Watts>::from_zero(), or("3 W").words(" (*typical*; measure yours)"))
            .says("what the electronics draw while the station is on"),
        key("loses_by_rate", Amount::between(Fraction(0.0), Fraction(0.5)),
            or("8 %").words(" (twice what makers' sheets of lithium cells give, from memory: cautious)"))
            .says("lithium alone: how much less of the energy comes out for each C (a full battery in an hour) beyond a fifth of a C, or \
                   beyond the rate of `measured_load`; a proof's own figure comes first. At 8 %, 1 kWh under 700 W gives 4 % less"),
        key("self_discharge", share(), typical(&[("lithium", "3 %"), ("lead-acid", "5 %")]))
            .says("lost in 30 days of standing"),
    ]
}

/// Defaults by chemistry, habits of the trade without a source; lithium is LFP and NMC alike.
fn typical(values: &[(&'static str, &'static str)]) -> Otherwise {
    or_by(values).words(" (*typical*)")
}

fn inverter() -> Section {
    let keys = vec![
        key("rated", Amount::between(Watts(1.0), Watts(1e6)), required()).says("power for hours"),
        key("surge", Amount::<Watts>::positive(), or_none("not known")).says("power for a moment, `rated` or more"),
        key("idle", Unsure(Amount::<Watts>::from_zero()),
            or_none("1.5 % of `rated`, at least 5 W, but no more than `efficiency` leaves to lose; ± half of it \
                     (*typical*, on the high side; measure yours)"))
            .says("drawn with nothing connected"),
        key("efficiency", Points,
            or_none("90 % ± 3 % at half load, less where `idle` and 4 % of the load lose more (*typical*)"))
            .says("at half load, idle draw included; or at points, each load once, up to `rated`"),
        yes_no("sleeps", "draws nothing while less than `wakes_above` asks for it, and wakes by itself for more"),
        key("wakes_above", Amount::<Watts>::from_zero(), or_none("4 to 16 W, drawn (*common practice, no source*)"))
            .says("only with `sleeps`: the least load that wakes it. Loads that together draw less go without, but \
                   while one that comes and goes, as a compressor, wakes it for itself"),
        key("switches_off_below", Amount::<Watts>::from_zero(),
            or_none("4 to 16 W, drawn, where it does not sleep (*common practice, no source*)"))
            .says("the outlet switches itself off under less than this, until somebody switches it on again \
                   (`outage.somebody_home`); `\"0 W\"` for one that stays on"),
        key("switches_off_after", Amount::between(Hours(0.0), Hours(48.0)),
            or_none("1 to 8 h, drawn (*common practice, no source*)"))
            .says("after so long under less. Compressors' pauses are taken to last up to an hour: under an hour, \
                   what comes and goes keeps nothing on"),
        yes_no("ups", "takes over by itself as the mains fails; otherwise somebody switches loads over"),
        key("switchover", Amount::<Milliseconds>::positive(), or_none("not known"))
            .says("only with `ups`: the gap as it takes over, held against what loads `tolerates`"),
        yes_no("comes_back",
            "is on again by itself once there is something in the cells after they ran empty, or after too much was \
             asked for; otherwise somebody switches it on"),
    ];
    keys.into()
}

pub(in crate::scenario) fn point() -> Section {
    let keys = vec![
        key("load", Amount::<Watts>::positive(), required()).says("AC load"),
        key("efficiency", passed_on(), required()).says("AC power over DC power there"),
    ];
    keys.into()
}

fn plain_outlet(efficiency: &'static str, idle: &'static str) -> Section {
    let keys = vec![
        key("limit", Amount::<Watts>::positive(), required()).says("most power"),
        key("efficiency", passed_on(), or_typical(efficiency)).says("at any load, idle draw not counted"),
        key("idle", Amount::<Watts>::from_zero(), or_typical(idle)).says("drawn with nothing connected"),
    ];
    keys.into()
}

fn dc_outlet() -> Section {
    let mut section = plain_outlet("93 %", "1 W");
    section.keys.push(key("cable", cable(), or_none("none")).says("the cable to what hangs on it, see below"));
    section
}

fn usb() -> Section {
    let mut section = plain_outlet("90 %", "0.5 W");
    section.keys.push(
        key("ports", PORTS, or_none("any of them gives what the outlet gives"))
            .says("most power of each port. What has no battery of its own needs a port that gives its watts; devices that charge do \
                   so slower at a weaker port, and take turns where they are more than the ports"),
    );
    section
}

fn solar_input() -> Section {
    let keys = vec![
        key("name", Text, or_none("required where there are several"))
            .says("what to call it; a panel says by it which input it feeds"),
        key("limit", Amount::<Watts>::positive(), required()).says("most power taken"),
        key("volts_min", Amount::<Volts>::from_zero(), or_none("not known")).says("least voltage that it starts at"),
        key("volts_max", Amount::<Volts>::positive(), or_none("not known: copy it from the label"))
            .says("voltage that must never be exceeded, above `volts_min`"),
        key("amps_max", Amount::<Amps>::positive(), or_none("no limit")).says("most current taken"),
        key("pwm_at", Amount::<Volts>::positive(), or_none("it searches for the panels' best power"))
            .says("a simple controller (pulse width modulation) holds the panels at the battery's voltage: this, 13 V for a \
                   12 V battery that is being charged (*common practice, no source*). They then give their current times it: a \
                   panel of 18 V loses more than a quarter, one of 36 V more than half"),
        key("efficiency", passed_on(), or_typical("97 %"))
            .says("of the panels' best power, found and passed on; of several inputs the lowest counts for all (cautious)"),
    ];
    keys.into()
}

fn wall_charger() -> Section {
    let keys = vec![
        key("limit", Amount::<Watts>::positive(), required()).says("most power drawn from the plug"),
        key("efficiency", passed_on(), or_typical("90 %"))
            .says("power arriving in the station over power from the plug"),
    ];
    keys.into()
}

pub(super) fn generator() -> Section {
    let keys = vec![
        key("limit", Amount::<Watts>::positive(), required()).says("most power for long"),
        key("hours", Windows, required()).says("when it runs, every day: a window or a list of windows"),
        key("fuel_per_kwh", Told(Unsure(Amount::<Litres>::positive_to(Litres(10.0)))), or_none("not known"))
            .says("fuel for each kWh it gives, beside `fuel_per_hour`; without a ±, ± 15 % (*common practice, no source*)"),
        key("fuel_per_hour", Told(Unsure(Amount::between(Litres(0.0), Litres(50.0)))), or_none("none"))
            .says("fuel for each hour it runs, however little it gives: what it burns without a load; likewise ± 15 %"),
        key("fuel", Amount::<Litres>::positive(), or_none("it never ends"))
            .says("on hand as the outage begins. What is not enough for a step at full power runs the generator for a part \
                   of it; with `outage.somebody_home`, a run waits for somebody to start it"),
        key("feeds_ac", FEEDS_AC, or("no"))
            .says("whether AC loads run on it while it runs. `\"no\"`: it charges the station alone. `\"by hand\"`: somebody plugs \
                   those into it that it can carry, a priority at a time, vital ones first, and back into the station; the \
                   others stay there. `\"through the station\"`: the station passes its AC on to its own outlets (see its \
                   manual), to all AC loads or, where those are too much, to none. It carries loads that may run at once, \
                   each at its running watts and ±; the charger has what they leave"),
        key("feeds_ac_up_to", Amount::<Watts>::positive(), or_none("`limit`"))
            .says("only with `feeds_ac`: the most that goes to AC loads: what the station passes on, or the cord allows"),
    ];
    keys.into()
}

pub(super) fn second_station() -> Section {
    let keys = vec![
        key("rated_capacity", Amount::<WattHours>::positive(), required()).says("energy on its label"),
        key("delivers", Unsure(share_above_zero()), or("83 % ± 6 %").words(" (*common practice, no source*)"))
            .says("of that, what comes out of its outlet from full to empty"),
        key("limit", Amount::<Watts>::positive(), required()).says("most power at its outlet"),
        key("starts_charged", share(), or("100 %")).says("its charge as the outage begins"),
        key("away", Windows, or_none("it never leaves"))
            .says("from when to when it is carried away to be charged: one window; a step that it is away for any part of \
                   counts whole"),
        key("every_days", Whole { least: 1, greatest: 60 }, or("1"))
            .says("only with `away`: days from one trip to the next. The first is so many days after the one on which the \
                   outage begins"),
        key("returns_at", share_above_zero(), or("100 %"))
            .says("only with `away`: its charge as it is back, if that is more than it left with"),
    ];
    keys.into()
}
