//! `[[solar]]`: a panel in the sun.

use super::model::{Aim, LIGHT_METER, SkyLook, SolarTest};
use super::run::{Context, the_meter};
use crate::scenario::fields::Fields;
use crate::scenario::forms::OneOf;
use crate::scenario::light::tilt_and_facing;
use crate::scenario::problem::Problem;
use crate::units::{Uncertain, WattsPerSquareMetre};

pub(in crate::scenario) const SKY: OneOf<SkyLook> = OneOf {
    names: &[("clear", SkyLook::Clear), ("hazy", SkyLook::Hazy), ("cloudy", SkyLook::Cloudy)],
    also: &[("blue", SkyLook::Clear), ("milky", SkyLook::Hazy), ("overcast", SkyLook::Cloudy)],
};

pub(in crate::scenario) const AIM: OneOf<()> =
    OneOf { names: &[("at the sun", ())], also: &[("straight at the sun", ()), ("sun", ())] };

pub(super) fn solar(fields: &Fields, number: usize, context: &Context) -> Option<SolarTest> {
    let (meter, aim) = (the_meter(fields, context), aim(fields));
    let irradiance = fields.get("irradiance").map(|light: Uncertain<WattsPerSquareMetre>| {
        let half = if light.plus_minus > 0.0 { light.plus_minus } else { LIGHT_METER * light.value.0 };
        Uncertain { plus_minus: half, ..light }
    });
    let sky = if fields.has("irradiance") { fields.get("sky") } else { Some(fields.needed("sky")?) };
    Some(SolarTest {
        name: fields.get("name").unwrap_or_else(|| format!("solar test {number}")),
        at: fields.get("at")?,
        watts: fields.get("watts")?,
        meter: meter?,
        rated: fields.get("rated")?,
        irradiance,
        aim: aim?,
        sky,
        air: fields.get("air"),
        charge: fields.get("charge"),
        power_coefficient: fields.get("power_coefficient")?,
    })
}

/// Which way the panels looked; `None` inside where a measured irradiance makes it needless.
fn aim(fields: &Fields) -> Option<Option<Aim>> {
    let stood = fields.has("tilt") || fields.has("facing");
    if fields.has("aim") && stood {
        let clash = Problem::error(fields.key("aim"), "and a tilt or facing cannot both be given")
            .help("keep aim = \"at the sun\", or say how the panel stood");
        fields.findings().push(clash);
        return None;
    }
    if stood {
        return tilt_and_facing(fields).map(|(tilt, facing)| Some(Aim::Fixed { tilt, facing }));
    }
    if fields.has("irradiance") && !fields.has("aim") {
        return Some(None);
    }
    fields.needed("aim").map(|()| Some(Aim::AtTheSun))
}
