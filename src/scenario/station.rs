//! `[station]`: what stores the energy, and the solar input.

use super::amount::{Amount, Told, Unsure, shown};
use super::fields::Fields;
use super::forms::{Fault, OneOf, Text};
use super::model::{Chemistry, MeasuredCapacity, Outlet, OutletKind, Proved, SolarInput, Station};
use super::problem::Problem;
use super::{charger, outlets, wire};
use crate::units::{Amps, Celsius, Fraction, Quantity, Uncertain, Volts, WattHours, Watts};

/// Kinds of cells.
pub(super) const CHEMISTRY: OneOf<Chemistry> = OneOf {
    names: &[("LFP", Chemistry::Lfp), ("NMC", Chemistry::Nmc), ("lead-acid", Chemistry::LeadAcid)],
    also: &[
        ("LiFePO4", Chemistry::Lfp),
        ("LFP battery", Chemistry::Lfp),
        ("NCM", Chemistry::Nmc),
        ("AGM", Chemistry::LeadAcid),
        ("lead", Chemistry::LeadAcid),
    ],
};

/// The three outlets by name.
pub(super) const OUTLET: OneOf<OutletKind> = OneOf {
    names: &[("ac", OutletKind::Ac), ("dc", OutletKind::Dc), ("usb", OutletKind::Usb)],
    also: &[("12 V", OutletKind::Dc), ("mains", OutletKind::Ac)],
};

/// What is assumed of cells that nothing is said about. Typical figures without a source; a test of one's own is better.
struct Typical {
    keep_above: Fraction,
    one_way: Uncertain<Fraction>,
    self_discharge: Fraction,
    charges_between: (Celsius, Celsius),
    works_between: (Celsius, Celsius),
    tapers_from: Fraction,
}

impl Typical {
    fn of(chemistry: Chemistry) -> Self {
        match chemistry {
            Chemistry::Lfp | Chemistry::Nmc => Typical {
                keep_above: Fraction::ZERO,
                one_way: Uncertain::new(Fraction(0.97), 0.02),
                self_discharge: Fraction(0.03),
                charges_between: (Celsius(0.0), Celsius(45.0)),
                works_between: (Celsius(-20.0), Celsius(60.0)),
                tapers_from: Fraction(if chemistry == Chemistry::Lfp { 0.95 } else { 0.85 }),
            },
            Chemistry::LeadAcid => Typical {
                keep_above: Fraction(0.5),
                one_way: Uncertain::new(Fraction(0.9), 0.05),
                self_discharge: Fraction(0.05),
                charges_between: (Celsius(-20.0), Celsius(50.0)),
                works_between: (Celsius(-20.0), Celsius(50.0)),
                tapers_from: Fraction(0.8),
            },
        }
    }
}

/// Load of the trade's bench test in watts per watt-hour of label: empty in about five hours. Common practice, no source.
const BENCH_LOAD_PER_WH: f64 = 0.2;

pub(super) fn read(fields: &mut Fields) -> Option<Station> {
    let share = || Amount::between(Fraction::ZERO, Fraction::ONE);
    let efficiency = || Unsure(Amount::positive_to(Fraction::ONE));
    let rated = fields.required("rated_capacity", &Told(Unsure(Amount::<WattHours>::positive())));
    let (rated_capacity, capacity_told) = (rated.map(|(value, _)| value), rated.is_some_and(|(_, told)| told));
    let measured = measured(fields, rated_capacity);
    let proved = proved(fields);
    let chemistry = fields.or("chemistry", &CHEMISTRY, Chemistry::Lfp);
    let typical = Typical::of(chemistry);
    let state_of_health =
        fields.or("state_of_health", &Unsure(Amount::positive_to(Fraction::ONE)), Uncertain::exact(Fraction::ONE));
    if fields.has("state_of_health") && fields.has("measured_capacity") {
        let unused = Problem::warning(fields.key("state_of_health"), "is of no use beside `measured_capacity`")
            .help("the test says what is left: leave state_of_health out")
            .against(fields.key("measured_capacity"), "the test");
        fields.findings().push(unused);
    }
    let warmth = charger::warmth(fields, chemistry, typical.charges_between, typical.works_between);
    let tapers_from = fields.or("tapers_from", &Amount::positive_to(Fraction::ONE), typical.tapers_from);
    let charge_to = fields.or("charge_to", &Amount::positive_to(Fraction::ONE), Fraction::ONE);
    let keep_above = fields.or("keep_above", &share(), typical.keep_above);
    let charge_efficiency = fields.or("charge_efficiency", &efficiency(), typical.one_way);
    let discharge_efficiency = fields.or("discharge_efficiency", &efficiency(), typical.one_way);
    let charge_limit = fields.optional("charge_limit", &Amount::positive());
    let discharge_limit = fields.optional("discharge_limit", &Amount::positive());
    let own_draw = fields.or("own_draw", &Amount::from_zero(), Watts(3.0));
    let self_discharge_a_month = fields.or("self_discharge", &share(), typical.self_discharge);
    let inverter = section(fields, "inverter", outlets::inverter);
    let dc_outlet = section(fields, "dc_outlet", |inner| {
        let cable = wire::cable(inner, "cable");
        let outlet = outlets::plain(inner, Fraction(0.93), Watts(1.0))?;
        Some(Outlet { cable: cable.ok()?, ..outlet })
    });
    let usb = section(fields, "usb", |inner| outlets::plain(inner, Fraction(0.9), Watts(0.5)));
    let solar_input = section(fields, "solar_input", solar_input);
    let wall_charger = section(fields, "wall_charger", charger::wall_charger);
    check_window(fields, charge_to, keep_above, chemistry);
    Some(Station {
        rated_capacity: rated_capacity?,
        capacity_told,
        measured: measured.ok()?,
        proved: proved.ok()?,
        chemistry,
        state_of_health,
        stands: warmth.stands,
        charges_between: warmth.charges_between,
        works_between: warmth.works_between,
        self_heating: warmth.self_heating,
        heat_capacity: warmth.heat_capacity,
        heat_loss: warmth.heat_loss,
        tapers_from,
        charge_to,
        keep_above,
        charge_efficiency,
        discharge_efficiency,
        charge_limit,
        discharge_limit,
        own_draw,
        self_discharge_a_month,
        inverter: inverter.ok()?,
        dc_outlet: dc_outlet.ok()?,
        usb: usb.ok()?,
        solar_input: solar_input.ok()?,
        wall_charger: wall_charger.ok()?,
    })
}

/// A value that could not be read although something stands there; the reason is among the findings.
pub(super) struct Unreadable;

/// A section that may be absent: nothing, what was read, or `Unreadable`.
fn section<'t, T>(
    fields: &mut Fields<'t>,
    name: &'static str,
    read: impl FnOnce(&mut Fields<'t>) -> Option<T>,
) -> Result<Option<T>, Unreadable> {
    if !fields.has(name) {
        fields.item(name);
        return Ok(None);
    }
    let Some(mut inner) = fields.table(name) else { return Err(Unreadable) };
    let section = read(&mut inner);
    inner.finish();
    section.map(Some).ok_or(Unreadable)
}

/// A test that gives less than this share of the label is doubted. No source.
const LEAST_LIKELY: f64 = 0.5;

fn measured(fields: &mut Fields, rated: Option<Uncertain<WattHours>>) -> Result<Option<MeasuredCapacity>, Unreadable> {
    let given = fields.has("measured_capacity");
    let delivered = fields.optional("measured_capacity", &Unsure(Amount::<WattHours>::positive()));
    let outlet = fields.or("measured_at", &OUTLET, OutletKind::Ac);
    let load = fields.optional("measured_load", &Amount::positive());
    if !given {
        for name in ["measured_at", "measured_load"] {
            if fields.has(name) {
                let lonely = Problem::warning(fields.key(name), "is of no use without `measured_capacity`").help(
                    "add measured_capacity, the energy that came out of the outlet in the test, or leave this out",
                );
                fields.findings().push(lonely);
            }
        }
        return Ok(None);
    }
    let (delivered, rated) = (delivered.ok_or(Unreadable)?, rated.ok_or(Unreadable)?);
    if rated.value.0 + rated.plus_minus < delivered.value.0 - delivered.plus_minus {
        let warning = Problem::warning(fields.key("measured_capacity"), "is more than the label promises")
            .found(delivered.to_string())
            .help("an outlet seldom gives more than the label: check both numbers and the meter")
            .against(fields.key("rated_capacity"), "the label");
        fields.findings().push(warning);
    }
    if delivered.value.0 + delivered.plus_minus < LEAST_LIKELY * rated.value.0 {
        let warning = Problem::warning(fields.key("measured_capacity"), "is less than half of what the label promises")
            .found(delivered.to_string())
            .help(
                "is a digit missing, or was the test broken off? A unit that is really so weak should not be relied on; \
                 write its figures only after a second full discharge",
            )
            .against(fields.key("rated_capacity"), "the label");
        fields.findings().push(warning);
    }
    let load = load.unwrap_or(Watts(BENCH_LOAD_PER_WH * rated.value.0));
    Ok(Some(MeasuredCapacity { delivered, outlet, load }))
}

fn proved(fields: &mut Fields) -> Result<Option<Proved>, Unreadable> {
    let Some(item) = fields.item("proved") else { return Ok(None) };
    let file = fields.read(&item, &Text).ok_or(Unreadable)?;
    if !file.to_lowercase().ends_with(".toml") {
        let fault = Fault::new("must name a record of bench tests").help("write proved = \"my-unit.toml\"");
        fields.refuse(&item, fault, "a file \"….toml\", relative to the scenario".into());
        return Err(Unreadable);
    }
    if fields.has("measured_capacity") {
        let clash = Problem::error(fields.key("measured_capacity"), "and `station.proved` cannot both be given")
            .help("the record holds the capacity with everything that hangs on it: leave measured_capacity out")
            .against(fields.key("proved"), "the record");
        fields.findings().push(clash);
        return Err(Unreadable);
    }
    Ok(Some(Proved { file, kit: None }))
}

fn check_window(fields: &Fields, charge_to: Fraction, keep_above: Fraction, chemistry: Chemistry) {
    let (top, floor) = (fields.key("charge_to"), fields.key("keep_above"));
    let findings = fields.findings();
    if !findings.clean(&top) || !findings.clean(&floor) {
        return;
    }
    if charge_to <= keep_above {
        let at = if fields.has("keep_above") { (&floor, &top) } else { (&top, &floor) };
        let clash = Problem::error(at.0, "leaves nothing to use")
            .found(format!(
                "keep_above {} and charge_to {}",
                shown::<Fraction>(keep_above.0),
                shown::<Fraction>(charge_to.0)
            ))
            .allowed("keep_above below charge_to")
            .against(at.1, "the other end");
        findings.push(clash);
    } else if chemistry == Chemistry::LeadAcid && keep_above < Fraction(0.5) {
        let warning = Problem::warning(floor, "is low for lead-acid cells")
            .found(shown::<Fraction>(keep_above.base()))
            .help("emptying them below half wears them out within a few hundred cycles: write \"50 %\" unless their maker says otherwise");
        findings.push(warning);
    }
}

fn solar_input(fields: &mut Fields) -> Option<SolarInput> {
    let limit = fields.required("limit", &Amount::<Watts>::positive());
    let volts_min = fields.optional("volts_min", &Amount::<Volts>::from_zero());
    let volts_max = fields.optional("volts_max", &Amount::<Volts>::positive());
    let amps_max = fields.optional("amps_max", &Amount::<Amps>::positive());
    let efficiency = fields.or("efficiency", &Amount::positive_to(Fraction::ONE), Fraction(0.97));
    if let (Some(least), Some(most)) = (volts_min, volts_max)
        && most <= least
    {
        let clash = Problem::error(fields.key("volts_max"), "must be above `volts_min`")
            .found(most.to_string())
            .allowed(format!("above {least}"))
            .against(fields.key("volts_min"), "the least voltage");
        fields.findings().push(clash);
    }
    Some(SolarInput { limit: limit?, volts_min, volts_max, amps_max, efficiency })
}
