//! The station: where it stands, what its tests say, the inverter's appetite, the generator.

use super::Sentence;
use crate::kit::Matter;
use crate::kit::matter::{CellsIn, DrawFrom};
use crate::report::words::the_list;
use crate::units::{Celsius, Watts};

/// An inverter's draw up to this share of what its loads ask for is small beside them; common practice, no source.
const SMALL_DRAW: f64 = 0.1;

pub(super) fn words(matter: &Matter, fits: bool) -> Sentence {
    match matter {
        Matter::Temperature { .. } => temperature(matter),
        Matter::AcidFreezes { coldest_c, flat_c, kept, kept_c } => {
            Sentence::new("lead-acid: frost", "may freeze a battery that is nearly empty")
                .found(format!("down to {} where it stands", Celsius(*coldest_c)))
                .allowed(format!(
                    "flat cells freeze at about {}{} (handbooks, from memory)",
                    Celsius(*flat_c),
                    if *kept > 0.0 {
                        format!(", those kept at {:.0} % at about {}", 100.0 * kept, Celsius(kept_c.round()))
                    } else {
                        String::new()
                    }
                ))
                .because(
                    "the emptier lead-acid cells are the more their acid is like water; ice bursts plates and case, and acid runs out. \
                     That is not counted here: the answer takes a battery that was empty to charge again",
                )
                .remedy(
                    "keep it where it does not freeze, or charged; switch everything off before it is flat; never charge, load or open \
                     a battery that may be frozen: thaw it in a ventilated place and have it looked at",
                )
        }
        Matter::TestImpossible { least_wh, hours, most_wh } => {
            // A load that is off by many powers of ten makes cells that no row of digits should tell.
            let cells = if *least_wh < 1e7 { format!("{least_wh:.0} Wh") } else { "over 10 MWh".into() };
            let hours = if *hours < 1e4 { format!("{hours:.1} h") } else { "more than a year".into() };
            test(*most_wh)
                .found(format!("{cells} in the cells, by the least losses that can be, over a test of {hours}"))
                .because("the station and its outlet draw through all the hours that energy and load make of the test: energy cannot come from nothing")
                .remedy("correct the test's load, its capacity, the losses or the label; where one of them is rough, say its ± (in the file: measured_load, measured_capacity, rated_capacity)")
        }
        Matter::TestBeyondAssumed { cells_wh, most_wh } => test(*most_wh)
            .found(format!("{cells_wh:.0} Wh in the cells with the losses of outlet and station counted"))
            .because("the losses assumed must be smaller in this unit; the cells are taken to hold no more than the label allows")
            .remedy("measure the draw of the outlet with nothing plugged in (in the file: idle under station.inverter)"),
        Matter::TestBeyondWritten { cells_wh, most_wh } => test(*most_wh)
            .found(format!("{cells_wh:.0} Wh in the cells with the losses of outlet and station counted"))
            .because("the idle draw and efficiency written do not quite agree with the test and the label; the cells are held to what the label allows")
            .remedy("check the meter, the idle draw and the efficiency"),
        Matter::RateTested { share } => Sentence::new("rate of discharge", "tells a capacity for slower loads")
            .found(format!("{:.0} % of it comes out at the rate of these loads", 100.0 * share))
            .allowed("all of it at a fifth of it an hour")
            .because("cells give less the faster they are emptied; what the tests say of it is counted"),
        Matter::RateOfLithium { share } => Sentence::new("rate of discharge", "is the energy of a slow discharge")
            .found(format!("{:.0} % of it comes out at the rate of these loads", 100.0 * share))
            .because("cells give less the faster they are emptied, and the answer counts that"),
        Matter::RateOfLead { share, label_hours, exponent } => {
            Sentence::new("lead-acid: rate of discharge", "has a label that counts a slow discharge")
                .found(format!("over {label_hours:.0} hours"))
                .allowed(format!("at the rate of these loads {:.0} % of it comes out", 100.0 * share))
                .because(format!(
                    "lead-acid cells give less the faster they are emptied; it is counted by Peukert's law with an exponent of {exponent:.1} \
                     (common practice, no source)"
                ))
        }
        Matter::InverterDraw { draw_w, by, on_h, draw_wh, asked_wh, movable } => {
            let told = match by {
                DrawFrom::Typical => {
                    format!("{draw_w:.1} W, a typical figure that no bench test told, the station's own draw counted,")
                }
                DrawFrom::Tests => format!("{draw_w:.1} W by the bench tests, the station's own draw counted,"),
                DrawFrom::Written => format!("{} W", (10.0 * draw_w).round() / 10.0),
            };
            let what = match draw_wh / asked_wh {
                share if !fits && share > 1.0 => "eats more than all AC loads together".to_string(),
                _ if !fits => "eats more than half of what the AC loads need".into(),
                share if share <= SMALL_DRAW => "is small beside the loads".into(),
                share => format!("takes {:.0} % of what the AC loads ask for, on top of it", 100.0 * share),
            };
            let said = Sentence::new("inverter: its own appetite", what)
                .found(format!("{told} for {on_h:.0} h make {draw_wh:.0} Wh a day; the AC loads ask for {asked_wh:.0} Wh"));
            if fits {
                return said;
            }
            said.because("an inverter draws this day and night while it is on, whatever hangs on it").remedy(
                if movable.is_empty() {
                    "feed small things from the 12 V or USB outlet, or switch AC off while nothing needs it".to_string()
                } else {
                    format!("{} could hang on another outlet; with nothing left on AC, switch it off", movable.join(", "))
                },
            )
        }
        Matter::Generator { charger_w, generator_w } => {
            let said = |what: &str| {
                Sentence::new("generator and wall charger", what)
                    .found(format!("the charger draws up to {}", Watts(*charger_w)))
                    .allowed(format!("the generator gives {}", Watts(*generator_w)))
            };
            if fits {
                return said("carries the wall charger");
            }
            said("is less than the wall charger draws")
                .because("an overloaded generator stalls; the answer assumes that the charger is held to what the generator gives")
                .remedy("set the charger to a slower speed, if it has one")
                .there("draws this")
        }
        Matter::GeneratorFeeds { carries, carried_w, leaves, all_w, up_to_w, through } => {
            let said = |what: &str, found: String| {
                Sentence::new("generator: AC loads on it", what)
                    .found(found)
                    .allowed(format!("{up_to_w:.0} W go to AC loads"))
            };
            if fits {
                return said("carries them, the charger on what they leave", format!("up to {carried_w:.0} W at once: {}", the_list(carries)));
            }
            if carries.is_empty() && leaves.is_empty() {
                return said("finds none to carry: no AC load may run in its hours", "none".into())
                    .remedy("leave out that it feeds AC loads (in the file: feeds_ac under generator), or move its hours into those in which AC loads run");
            }
            let beside = if carries.is_empty() { "" } else { " and all that matters more" };
            let what = match (carries.is_empty(), through) {
                (true, true) => "asks it to carry all of them through the station, which is too much: the station feeds them, as without it",
                (true, false) => "asks for more than it can carry, even of the most important: the station feeds them, as without it",
                (false, _) => "gets those carried that matter most: the others stay on the station",
            };
            said(what, format!("up to {all_w:.0} W at once: {}{beside}", the_list(leaves)))
                .because("a priority at a time is plugged over, vital loads first, where all that may run at once fit, each at its running watts and ±")
                .remedy("give those that need not run meanwhile other hours or a lower priority")
        }
        Matter::GeneratorStartsMotor { load, starting_w, total_w, generator_w } => {
            let said = |what: &str| {
                Sentence::new(format!("generator: start of the {load}"), what)
                    .found(format!("{} to start, {total_w:.0} W with what else may run on it", Watts(*starting_w)))
                    .allowed(format!("the generator gives {} for long", Watts(*generator_w)))
            };
            if fits {
                return said("is within what the generator gives");
            }
            said("is more than the generator gives for long")
                .because("a motor takes several times its running watts for a moment; a generator that cannot give them stalls, and the answer does not count that")
                .remedy("look up its surge, try it before the outage, and start the motor before the charger is plugged in")
                .there("for long")
        }
        Matter::GeneratorStarts { runs_h, meant_h } => Sentence::new(
            "generator: who starts it",
            if *runs_h <= 0.0 {
                "is never started: nobody is at home in its hours"
            } else {
                "starts later than its hours say, or not in all of them: nobody is at home then"
            },
        )
        .found(format!("{runs_h:.1} h a day of {meant_h:.1} h"))
        .because("a generator is started by hand, and the answer counts only what runs")
        .remedy("move its hours into those in which somebody is at home, or say otherwise who starts it")
        .there("somebody is there"),
        _ => Sentence::default(),
    }
}

fn test(most_wh: f64) -> Sentence {
    Sentence::new("bench test against the label", "asks for more cells than the label has")
        .allowed(format!("{most_wh:.0} Wh by the label and the ± of label and test"))
}

const WARM_ROOM: &str = "bring the station into a warm room and lead the panel's cable inside";

fn temperature(matter: &Matter) -> Sentence {
    let Matter::Temperature {
        how,
        mean_c,
        high_c,
        low_c,
        at_c,
        usable_share,
        heater_lift_k,
        charges_between_c,
        works_between_c,
        lead_acid,
    } = matter
    else {
        return Sentence::default();
    };
    let outside = format!("outside: mean {mean_c:.0} °C, warm hours {high_c:.0} °C, design cold {low_c:.0} °C");
    let heater = match *heater_lift_k > 0.0 {
        true => format!("; its heater keeps it {heater_lift_k:.0} K warmer at most"),
        false => String::new(),
    };
    let usable = format!("{:.0} % of the energy usable", 100.0 * usable_share);
    let (there, usable_out) = (Celsius(*at_c), format!("{outside}; {usable} at {at_c:.0} °C{heater}"));
    let between = |[from, to]: [f64; 2]| format!("from {} to {}", Celsius(from), Celsius(to));
    let works = format!("working {}", between(*works_between_c));
    let charges = format!("charging from {}", Celsius(charges_between_c[0]));
    let said = |what: &str| Sentence::new("station: temperature", what);
    let too_cold = |when: &str| {
        said(&format!("leaves the station too cold to work at all {when}"))
            .found(format!("{outside}{heater}"))
            .allowed(&*works)
            .because("outside its limits it serves nothing, whether from cells, sun or generator, and warms nothing")
            .remedy(WARM_ROOM)
    };
    match how {
        CellsIn::Sun => said("puts the station in the sun")
            .found(format!("{outside}; up to 25 K more in full sun"))
            .because("a station in the sun slows down or stops charging when it gets hot, and hot cells age fast")
            .remedy("shade it: only the panels belong in the sun"),
        CellsIn::ClosedBox => said("shuts the station in a box or car in the sun")
            .found(format!("{outside}; up to {at_c:.0} °C inside in the sun of a warm hour"))
            .allowed(charges)
            .because(
                "closed in, a station slows down, stops charging or switches itself off in the sun; hot lithium cells age fast and \
                 can catch fire, and cells of lead-acid give off hydrogen that must get out",
            )
            .remedy("put it in the shade with air all round, as its maker's manual says; never leave it in a closed car in the sun"),
        CellsIn::TooColdToWorkMostly => too_cold("most of the time"),
        CellsIn::TooColdToWorkAtTimes => too_cold("on the coldest days"),
        CellsIn::TooColdToCharge => said("leaves the cells too cold to be charged most of the time")
            .found(usable_out)
            .allowed(charges)
            .because(if *lead_acid {
                "below its limit the station refuses to charge"
            } else {
                "lithium cells must not be charged below freezing: the station refuses, however bright the sun"
            })
            .remedy(WARM_ROOM),
        CellsIn::FrostStopsCharging => said("leaves the cells too cold to be charged in hard frost")
            .found(usable_out)
            .allowed(charges)
            .because("below its limit the station refuses to charge, however bright the sun")
            .remedy("bring the station inside on such days"),
        CellsIn::ColdAtTimes => said("is cold at times, but can be charged").found(usable_out),
        CellsIn::NeverCold => said("keeps the station where it is never cold").found(outside),
        CellsIn::DoesNotWorkThere => said("is a temperature at which the station does not work at all")
            .found(there.to_string())
            .allowed(works)
            .because("outside its limits it serves nothing, whether from cells, sun or generator")
            .remedy("find it a place of milder air"),
        CellsIn::NotChargedThere => said("is a temperature at which the cells are not charged")
            .found(format!("{there}; {usable}{heater}"))
            .allowed(format!("charging {}", between(*charges_between_c)))
            .because("the station refuses to charge outside its limits")
            .remedy("find it a place of milder air"),
        CellsIn::WorksThere => said("lets the cells work").found(format!("{there}; {usable}{heater}")),
        CellsIn::WarmRoom => said("keeps the station in a room taken to be as warm as the air outside")
            .found(format!("{at_c:.0} °C, the month's mean; outside: warm hours {high_c:.0} °C"))
            .remedy("where the room gets hotter, say how hot (in the file: stands = \"35 °C\" under station)"),
        CellsIn::CoolingRoom => {
            said("stands in a room that cools").found(format!("towards {there}; {usable}{heater}"))
        }
        CellsIn::CoolingRoomStopsCharging => said("stands in a room that cools until the cells are not charged")
            .found(format!("towards {there}; {usable}{heater}"))
            .because("the station refuses to charge outside its limits")
            .remedy("find it a place of milder air, or insulate it"),
        CellsIn::HeatedRoom => said("keeps the station in a heated room")
            .found(format!("{at_c:.0} °C; outside: mean {mean_c:.0} °C"))
            .remedy(if *mean_c < 5.0 {
                "if the outage takes the heating too, say how the room cools (in the file: room = { falls_to = \"8 °C\", in = \"24 h\" } under site)"
            } else {
                ""
            }),
    }
}
