//! A record of bench tests to fill in.

use crate::scenario::model::Chemistry;
use crate::scenario::record::model::Unit;
use crate::study::prove::plan::{TestPlan, plan};
use crate::units::one_reading;

/// A record fitted to a unit: its label filled in, its tests as lines to take the `#` from once they are done.
#[must_use]
pub fn of(unit: &Unit) -> String {
    text(unit, &plan(unit.rated_capacity.0, unit.chemistry, unit.inverter.map(|watts| watts.0)))
}

fn text(unit: &Unit, plan: &TestPlan) -> String {
    let watts = |watts: f64| format!("\"{} W\"", one_reading(watts));
    let inverter_w = unit.inverter.map_or(unit.rated_capacity.0, |rated| rated.0);
    let chemistry = match unit.chemistry {
        Chemistry::Lfp => "LFP",
        Chemistry::Nmc => "NMC",
        Chemistry::LeadAcid => "lead-acid",
    };
    let solar = unit.solar_limit.map_or(String::new(), |limit| {
        format!(
            "\n# A panel in the sun. With a light meter held flat in the panel's plane give its reading as `irradiance`; without one the \
             place\n# is needed, the panel aimed squarely at a sun in a blue sky.\n#[site]\n#latitude = 0.0\n#longitude = 0.0\n#timezone = \
             \"UTC\"\n#[[solar]]\n#at = \"?\" # like 2027-03-14T12:30\n#watts = \"? W\" # a good panel: about {}\n#rated = {}\n#irradiance = \"? W/m² ± 5 %\"\n#aim = \"at the \
             sun\"\n#sky = \"clear\"\n#air = \"10 °C\"\n#charge = \"40 %\"\n",
            format_args!("{:.0} W", 0.8 * limit.0),
            watts(limit.0)
        )
    });
    let limit = unit.solar_limit.map_or(String::new(), |limit| format!("solar_limit = {}\n", watts(limit.0)));
    let (load, second) = (plan.load_w, plan.second_load_w);
    let wh = |hours: (f64, f64), load: f64| format!("{:.0}", 0.5 * (hours.0 + hours.1) * load);
    let cells_wh = 1.2 * unit.rated_capacity.0;
    format!(
        "# A record of bench tests. What is known stands filled in; take the # from the lines of each test once it is done, and put what\n\
         # your meter said for each question mark; what stands beside is what a healthy unit may show. Then: tideover prove THIS-FILE\n\
         title = \"My unit\"\n\
         #tester = \"your name\"\n#place = \"kitchen, 20 °C\"\n#photographs = [\"label.jpg\", \"meter.jpg\"]\n\
         \n[unit]\nrated_capacity = \"{} Wh\"\nchemistry = \"{chemistry}\"\ninverter = {}\n{limit}\
         #model = \"as its maker calls it\"\n#serial_number = \"A-0001\"\n#cycles = 1\n\
         \n# The box: photograph it first.\n#[arrival]\n#date = \"2027-03-06\"\n#damage = \"none\"\n#packing_list = [\"station\", \"wall cable\"]\n\
         #found = [\"station\", \"wall cable\"]\n#packaging_kept = true\n#return_by = \"2027-04-05\"\n#charge = \"50 %\"\n\
         \n# What you measure with: its limits stand in its manual.\n[[meter]]\nname = \"plug meter\"\naccuracy = \"1 %\"\nlast_digit = \"0.1 W\"\n\
         \n# The meter held against a load that is known, by a better meter beside it or the supplier's own over some hours.\n\
         #[[meter_check]]\n#meter = \"plug meter\"\n#read = \"? W\"\n#known = \"? W ± 0.5 %\"\n\
         \n# A full charge, metered at the wall socket.\n#[[wall]]\n#name = \"first charge\"\n#start = \"?\" # like 2027-03-08T18:05\n\
         #stop = \"?\"\n#from = \"0 %\"\n#to = \"100 %\"\n#energy = \"? Wh\" # a healthy unit: about {cells_wh:.0} Wh\n\
         \n# From full until it switches itself off, under about a fifth of the label in watts: {}.\n#[[capacity]]\n#name = \"{load:.0} W\"\n\
         #outlet = \"ac\"\n#lasted = \"? h\" # a healthy unit: about {:.1} h\n#from = \"100 %\"\n#to = \"0 %\"\n#energy = \"? Wh\" # about {} Wh\n#ambient = \"20 °C\"\n\
         \n# The same under less: the two together tell the inverter from the cells, and its fan. Fan and rate of discharge have no keys here:\n\
         # runs at different loads tell them, and the kit of --write-kit holds them (ac_step, rate_loss).\n#[[capacity]]\n#name = \"{second:.0} W\"\n\
         #outlet = \"ac\"\n#lasted = \"? h\" # about {:.1} h\n#from = \"100 %\"\n#to = \"0 %\"\n#energy = \"? Wh\" # about {} Wh\n#ambient = \"20 °C\"\n\
         \n# A night with the AC outlet switched on and nothing plugged in: the charge in the morning.\n#[[capacity]]\n#name = \"a night idle\"\n\
         #outlet = \"ac\"\n#lasted = \"{:.0} h\"\n#from = \"100 %\"\n#to = \"? %\" # about {:.0} %\n#load = \"0 W\"\n{solar}\
         \n# Each socket once, with a load that it should carry.\n#[[outlet]]\n#name = \"AC, left\"\n#load = {}\n#passed = true\n",
        one_reading(unit.rated_capacity.0),
        watts(inverter_w),
        plan.load_from,
        0.5 * (plan.hours.0 + plan.hours.1),
        wh(plan.hours, load),
        0.5 * (plan.second_hours.0 + plan.second_hours.1),
        wh(plan.second_hours, second),
        plan.night_h,
        (100.0 * (1.0 - plan.night_h * plan.draw_w / unit.rated_capacity.0)).clamp(5.0, 95.0),
        watts(load),
    )
}
