//! `[[solar]]`: a panel in the sun.

use super::model::{Aim, SkyLook, SolarTest};
use super::run::{Context, the_meter};
use super::times::Moment;
use crate::scenario::amount::Amount;
use crate::scenario::fields::Fields;
use crate::scenario::forms::{OneOf, Text};
use crate::scenario::panel::Facing;
use crate::scenario::problem::Problem;
use crate::units::{Celsius, Degrees, Fraction, PerKelvin, Watts};

const SKY: OneOf<SkyLook> = OneOf {
    names: &[("clear", SkyLook::Clear), ("hazy", SkyLook::Hazy), ("cloudy", SkyLook::Cloudy)],
    also: &[("blue", SkyLook::Clear), ("milky", SkyLook::Hazy), ("overcast", SkyLook::Cloudy)],
};

const AIM: OneOf<()> = OneOf { names: &[("at the sun", ())], also: &[("straight at the sun", ()), ("sun", ())] };

pub(super) fn solar(fields: &mut Fields, number: usize, context: &Context) -> Option<SolarTest> {
    let name = fields.or("name", &Text, format!("solar test {number}"));
    let meter = the_meter(fields, context);
    let at = fields.required("at", &Moment);
    let watts = fields.required("watts", &Amount::from_zero());
    let rated = fields.required("rated", &Amount::<Watts>::positive());
    let sky = fields.required("sky", &SKY);
    let air = fields.optional("air", &Amount::between(Celsius(-50.0), Celsius(60.0)));
    let charge = fields.optional("charge", &Amount::between(Fraction::ZERO, Fraction::ONE));
    let coefficient = Amount::to_below(PerKelvin(-0.01), PerKelvin(0.0));
    let power_coefficient = fields.or("power_coefficient", &coefficient, PerKelvin(-0.004));
    let aim = aim(fields);
    Some(SolarTest {
        name,
        at: at?,
        watts: watts?,
        meter: meter?,
        rated: rated?,
        aim: aim?,
        sky: sky?,
        air,
        charge,
        power_coefficient,
    })
}

fn aim(fields: &mut Fields) -> Option<Aim> {
    let tilt = || Amount::between(Degrees(0.0), Degrees(90.0));
    match (fields.has("aim"), fields.has("tilt") || fields.has("facing")) {
        (true, true) => {
            let _ = (fields.optional("tilt", &tilt()), fields.optional("facing", &Facing));
            fields.optional("aim", &AIM);
            let clash = Problem::error(fields.key("aim"), "and a tilt or facing cannot both be given")
                .help("keep aim = \"at the sun\", or say how the panel stood");
            fields.findings().push(clash);
            None
        }
        (_, true) => {
            fields.item("aim");
            let tilt = fields.required("tilt", &tilt());
            let flat = tilt.is_some_and(|tilt| tilt.0 == 0.0) && !fields.has("facing");
            let facing = if flat { Some(Degrees(180.0)) } else { fields.required("facing", &Facing) };
            Some(Aim::Fixed { tilt: tilt?, facing: facing? })
        }
        _ => {
            fields.item("tilt");
            fields.item("facing");
            fields.required("aim", &AIM).map(|()| Aim::AtTheSun)
        }
    }
}
