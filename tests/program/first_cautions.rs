//! What a beginner's file is warned of: frost, a low sun, figures that were left out; each said once, with what to write.

use std::fs;

use super::program::{folder, tideover, unbroken};

const KIT: &str = "[site]\nplace = \"Fairbanks, Alaska\"\n[outage]\nmonth = \"January\"\nlasts = \"2 days\"\n[station]\n\
                   rated_capacity = \"12 V 100 Ah\"\nchemistry = \"AGM\"\nstands = \"outdoors\"\n[station.dc_outlet]\n\
                   limit = \"120 W\"\n[station.solar_input]\nlimit = \"200 W\"\n[[panel]]\nrated = \"100 W\"\ntilt = \"70°\"\n\
                   facing = \"south\"\n[[panel]]\nrated = \"100 W\"\ntilt = \"60°\"\nfacing = \"south\"\n[[load]]\n\
                   name = \"lantern\"\npriority = \"vital\"\nwatts = \"10 W\"\noutlet = \"dc\"\n";

/// What a command says of the kit with some lines changed.
fn told(name: &str, changes: &[(&str, &str)], command: &[&str]) -> String {
    let file = folder("first-cautions", name).join("kit.toml").display().to_string();
    let kit = changes.iter().fold(KIT.to_string(), |kit, (from, to)| {
        assert!(kit.contains(from), "{from}");
        kit.replace(from, to)
    });
    fs::write(&file, kit).expect("a file");
    let output = tideover(&[&command[..1], &[&file], &command[1..]].concat());
    unbroken(&output.stdout) + &unbroken(&output.stderr)
}

const RUN: [&str; 4] = ["run", "--quiet", "--trials", "200"];

/// Acid of 1.10 kg/l, that of flat cells, freezes at -7 °C (handbooks of batteries, from memory).
#[test]
fn lead_acid_cells_that_may_freeze_are_warned_of() {
    let freezes = |name: &str, changes: &[(&str, &str)]| {
        let (checked, run) = (told(name, changes, &["check"]), told(name, changes, &RUN));
        let says = |text: &str| text.contains("flat cells freeze at about -7 °C");
        assert_eq!(says(&checked), says(&run), "{checked}\n{run}");
        assert_eq!(
            says(&checked),
            checked.contains("never charge, load or open a battery that may be frozen"),
            "{checked}"
        );
        says(&checked)
    };
    assert!(freezes("frost", &[]));
    assert!(freezes("frost-8", &[("\"outdoors\"", "\"-8 °C\"")]));
    assert!(!freezes("frost-6", &[("\"outdoors\"", "\"-6 °C\"")]));
    assert!(!freezes("indoors", &[("\"outdoors\"", "\"indoors\"")]));
    assert!(!freezes("lithium", &[("AGM", "LFP"), ("12 V 100 Ah", "1200 Wh")]));
    assert!(!freezes("warm", &[("Fairbanks, Alaska", "Kumasi, Ghana")]));
    let cools = "place = \"Fairbanks, Alaska\"\nroom = { falls_to = \"-10 °C\", in = \"24 h\" }";
    assert!(freezes("cools", &[("place = \"Fairbanks, Alaska\"", cools), ("\"outdoors\"", "\"indoors\"")]));
}

/// At noon the sun stands at 90° less the latitude and the declination, -23.4° at the solstice: 64.8° N leaves 2° on 1 January
/// (declination -23.0°); Innsbruck's 47.3° lies among ridges, Budapest's 47.5° in a plain.
#[test]
fn a_low_sun_is_said_where_nothing_is_known_of_the_skyline() {
    let low = |name: &str, place: &str, month: &str| {
        told(name, &[("Fairbanks, Alaska", place), ("January", month)], &RUN).contains("The sun climbs no higher than")
    };
    let fairbanks = told("fairbanks", &[], &RUN);
    assert!(fairbanks.contains("The sun climbs no higher than 2° on the darkest day of this month"), "{fairbanks}");
    assert!(fairbanks.contains("2 m higher than the panels and 50 m away"), "{fairbanks}");
    assert!(!low("summer", "Fairbanks, Alaska", "June"));
    assert!(low("innsbruck", "Innsbruck, Austria", "February"));
    assert!(!low("budapest", "Budapest, Hungary", "February"));
    assert!(low("punta-arenas", "Punta Arenas, Chile", "July") && !low("kumasi", "Kumasi, Ghana", "July"));
    // The sun stays down.
    assert!(
        told("tromso", &[("Fairbanks, Alaska", "Tromsø, Norway"), ("January", "December")], &RUN)
            .contains("does not rise")
    );
    // What is told to write silences it.
    let shade = "facing = \"south\"\nshade = [{ hours = \"00:00-24:00\", loses = \"90 %\" }]";
    let shaded = told("shaded", &[("facing = \"south\"", shade)], &RUN);
    assert!(!shaded.contains("climbs no higher") && shaded.contains("Fairbanks"), "{shaded}");
}

#[test]
fn one_cause_is_said_once() {
    let volts = told("volts", &[], &["check"]);
    assert_eq!(volts.matches("does not say which volts it bears").count(), 1, "{volts}");
    let thing =
        told("thing", &[("name = \"lantern\"", "like = \"gramophone\""), ("outlet = \"dc\"\n", "")], &["check"]);
    assert!(thing.contains("is not an appliance of the library") && thing.matches("error:").count() == 1, "{thing}");
}

#[test]
fn what_is_no_month_and_no_place_says_what_to_write() {
    let summer = told("summer-word", &[("\"January\"", "\"summer\"")], &["check"]);
    for says in [
        "is a season of three months",
        "\"June\", \"July\" or \"August\"",
        "south of the equator \"December\", \"January\"",
    ] {
        assert!(summer.contains(says), "{says}: {summer}");
    }
    let clock = told("clock", &[("Fairbanks, Alaska", "GMT+1")], &["check"]);
    assert!(clock.contains("is a clock, 01:00 ahead of UTC, and no place: name a town"), "{clock}");
    let nowhere = told("nowhere", &[("place = \"Fairbanks, Alaska\"", "latitude = 0\nlongitude = 0")], &["check"]);
    assert!(nowhere.contains("lies at sea") && nowhere.contains("error:"), "{nowhere}");
}
