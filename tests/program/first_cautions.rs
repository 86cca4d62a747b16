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
    assert_eq!(volts.matches("does not say its highest voltage").count(), 1, "{volts}");
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

/// Verdict, overloads and the first lines of a kit whose inverter may not bear the fridge's start.
fn starting(name: &str, inverter: &str) -> (String, Vec<(bool, bool)>, String) {
    let file = folder("first-cautions", name).join("kit.toml").display().to_string();
    let kit = format!(
        "[site]\nplace = \"Kumasi, Ghana\"\n[outage]\nmonth = \"January\"\nlasts = \"3 h\"\n[station]\nrated_capacity = \"2 kWh\"\n\
         [station.inverter]\n{inverter}\nswitches_off_below = \"0 W\"\n[[load]]\nname = \"fridge\"\noutlet = \"ac\"\npriority = \"vital\"\nwatts = \"80 W\"\n\
         starting_watts = \"500 W\"\n[[load]]\nname = \"fan\"\noutlet = \"ac\"\npriority = \"vital\"\nwatts = \"40 W\"\n"
    );
    fs::write(&file, kit).expect("a file");
    let output = tideover(&["run", &file, "--json", "--quiet", "--trials", "1000"]);
    let answer: serde_json::Value = serde_json::from_slice(&output.stdout).expect("JSON");
    let overloads = answer["overloads"].as_array().expect("a list").iter();
    let overloads = overloads.map(|one| (one["vital"] == true, one["certain"] == true)).collect();
    (
        answer["verdict"]["kind"].as_str().expect("a verdict").into(),
        overloads,
        answer["text"].as_str().expect("words").into(),
    )
}

/// The sums are arithmetic: 500 W of the start and 40 W of the fan make 540 W. That inverters give twice their rated power for a
/// moment at most is common practice, no source.
#[test]
fn a_start_that_may_stop_the_outlet_is_nothing_to_count_on() {
    for (name, inverter, verdict, overloads) in [
        ("start-borne", "rated = \"300 W\"\nsurge = \"540 W\"", "count_on_it", &[][..]),
        ("start-rated", "rated = \"540 W\"", "count_on_it", &[]),
        ("start-together", "rated = \"300 W\"\nsurge = \"539 W\"", "do_not_count", &[(true, true)]),
        ("start-untold", "rated = \"539 W\"", "likely", &[(true, false)]),
        ("start-untold-twice", "rated = \"270 W\"", "likely", &[(true, false)]),
        ("start-untold-more", "rated = \"269 W\"", "do_not_count", &[(true, true)]),
    ] {
        let (told, found, text) = starting(name, inverter);
        assert!(told == verdict && found == overloads, "{name}: {told} {found:?} {text}");
        let says = match overloads {
            [] => "",
            [(_, true)] => "inverter switches off when the fridge starts",
            _ => "inverter may switch off when the fridge starts",
        };
        assert!(text.contains(says), "{name}: {text}");
    }
    // One that never starts is refused, and no file is left in the way of the next try.
    let file = folder("first-cautions", "start-alone").join("mine.toml").display().to_string();
    let kit = ["new", &file, "--place", "Kumasi, Ghana", "--loads", "fridge", "--ac"];
    let output = tideover(&[&kit[..], &["300 W (500 W surge)"]].concat());
    let told = unbroken(&output.stderr);
    assert!(output.status.code() == Some(2) && told.contains("it will never start"), "{told}");
    let output = tideover(&[&kit[..], &["700 W (1400 W surge)"]].concat());
    assert_eq!(output.status.code(), Some(0), "{}", unbroken(&output.stderr));
    let (_, _, text) = starting("start-words", "rated = \"539 W\"");
    assert!(
        text.contains("while the fan runs (540 W for a moment; it gives 539 W for hours")
            && text.contains("its label says that (surge)"),
        "{text}"
    );
}

/// What `new` makes of a place and a kit, and what a command says of it.
fn made(name: &str, place: &str, options: &[&str], command: &[&str]) -> String {
    let file = folder("first-cautions", name).join("mine.toml").display().to_string();
    let output = tideover(&[&["new", &file, "--place", place], options].concat());
    assert_eq!(output.status.code(), Some(0), "{}", unbroken(&output.stderr));
    let output = tideover(&[&command[..1], &[&file], &command[1..]].concat());
    unbroken(&output.stdout) + &unbroken(&output.stderr)
}

#[test]
fn a_size_without_panels_says_that_none_was_tried() {
    let size = ["size", "--quiet", "--trials", "200"];
    let loads = ["--loads", "phone, lamp 5 W usb", "--ac", "none"];
    let without = made("size-without", "Kumasi, Ghana", &loads, &size);
    assert!(
        without.contains("No panel was tried. Where there is a place for one, say its watts, tilt and facing"),
        "{without}"
    );
    let with = made("size-with", "Kumasi, Ghana", &[&loads[..], &["--panels", "100 W"]].concat(), &size);
    assert!(!with.contains("No panel was tried"), "{with}");
}

/// What USDA FSIS says of food in a snowstorm (from memory): none outdoors, but ice made there. Oulu has a mean of about -9 °C in
/// January, Kumasi 26 °C (climate tables, from memory).
#[test]
fn ice_for_the_food_is_made_outdoors_where_it_freezes() {
    let now = ["now", "--quiet", "--charge", "60%", "--trials", "300", "--at", "2027-01-14 18:00"];
    let cold = made("ice", "Oulu, Finland", &["--loads", "fridge"], &now);
    let warm = made("no-ice", "Kumasi, Ghana", &["--loads", "fridge"], &now);
    let says =
        |text: &str| text.contains("let water freeze out there in bottles or boxes") && text.contains("stays indoors");
    assert!(says(&cold) && !says(&warm), "{cold}");
    // Where all outages end alike nothing is above the middle one.
    assert!(cold.contains(", fridge: no warmer than") && !cold.contains("above 19.5 °C in one of ten"), "{cold}");
}
