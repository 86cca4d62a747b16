use super::*;
use crate::scenario::model::{Aim, Begins, Scenario};
use crate::scenario::{Level, Source, read as read_scenario};

const TWO: &str = r#"
currency = "crowns"
[[kit]]
name = "Small"
price = 300
weight = "6 kg"
[kit.station]
rated_capacity = "300 Wh"
[kit.station.dc_outlet]
limit = "120 W"
[[kit]]
name = "Large"
[kit.station]
rated_capacity = "2 kWh"
[kit.station.inverter]
rated = "1000 W"
[kit.station.solar_input]
limit = "400 W"
[[kit.panel]]
count = 2
wiring = "series"
rated = "120 W"
"#;

const CASE: &str = concat!(
    keys!(title = "Lamp"),
    here!(),
    section!("outage", month = "January", lasts = "2 days"),
    load!("lamp", "dc", "vital", "5 W"),
);

fn case(text: &str) -> Case {
    let source = Source::new("lamp.toml", text);
    Case::read(&source, "lamp", None).unwrap_or_else(|problems| panic!("{problems:?}")).0
}

/// What is wrong with a catalogue, line by line.
fn wrong(name: &str, text: &str) -> Vec<String> {
    let source = Source::new(name, text);
    read(&source).expect_err("something is wrong").iter().map(|problem| source.one_line(problem)).collect()
}

#[test]
fn kits_come_with_the_figures_that_everyone_asks_for() {
    let (catalogue, problems) = read(&Source::new("c.toml", TWO)).unwrap();
    assert!(problems.is_empty(), "{problems:?}");
    let [small, large] = &catalogue.kits[..] else { panic!("two kits") };
    assert_eq!((small.price, small.weight_kg, small.capacity_wh, small.panels_w), (Some(300.0), Some(6.0), 300.0, 0.0));
    assert_eq!((large.price, large.capacity_wh, large.panels_w, large.string_w), (None, 2000.0, 240.0, Some(240.0)));
    assert_eq!(catalogue.currency, "crowns");
}

#[test]
fn a_problem_of_a_kit_is_marked_at_its_own_line() {
    let text = TWO.replace("\"2 kWh\"", "2000").replace("limit = \"120 W\"", "limit = \"120 Wh\"");
    let found = wrong("c.toml", &text);
    assert_eq!(found.len(), 2, "{found:?}");
    assert!(found[0].starts_with("10:9 error: kit.0.station.dc_outlet.limit"), "{}", found[0]);
    assert!(found[1].starts_with("14:18 error: kit.1.station.rated_capacity needs a unit"), "{}", found[1]);
}

#[test]
fn slips_in_a_catalogue_are_told() {
    let check = |old: &str, new: &str, told: &str| {
        let found = wrong("c.toml", &TWO.replacen(old, new, 1));
        assert!(found.iter().any(|line| line.contains(told)), "{told:?} is not in {found:?}");
    };
    check("name = \"Large\"", "name = \"small\"", "kit.1.name is taken by another kit");
    check("price = 300", "prise = 300", "kit.0.prise is not a known key");
    check("price = 300", "price = \"300 crowns\"", "kit.0.price must be a price");
    check("price = 300", "price = 1.299", "kit.0.price can be read in two ways; found 1.299");
    check("price = 300", "price = 300\ncurrency = \"thalers\"", "kit.0.currency is other money than the catalogue's");
    check("\"300 Wh\"", "\"1.024 Wh\"", "kit.0.station.rated_capacity can be read in two ways");
    check("weight = \"6 kg\"", "weight = 6", "kit.0.weight needs a unit");
    check("wiring = \"series\"", "wirring = \"series\"", "kit.1.panel.0.wirring is not a known key");
    check("[kit.station.dc_outlet]\nlimit = \"120 W\"", "", "kit.0.station has no outlet at all");
    check("[kit.station.solar_input]\nlimit = \"400 W\"", "", "kit.1.panel.0 has nowhere to be plugged in");
    check("name = \"Small\"", "", "kit.0.name is missing");
    assert!(wrong("c.toml", "currency = \"x\"\n")[0].contains("kit is missing"));
    assert!(wrong("c.toml", "[[kit]\n")[0].contains("header that is not closed"));
}

#[test]
fn a_table_gives_the_same_kits_as_toml() {
    let csv = "name,price,weight_kg,capacity_wh,ac_w,dc_w,solar_w,panels,panel_w,panel_wiring\n\
               Small,300,6,300,,120,,0,,\n\"Large\",,,2000,1000,,400,2,120,series\n";
    let (table, problems) = read(&Source::new("c.csv", csv)).unwrap_or_else(|p| panic!("{p:?}"));
    assert!(problems.is_empty(), "{problems:?}");
    let (toml, _) = read(&Source::new("c.toml", TWO)).unwrap();
    let lamp = case(&CASE.replace("\"dc\"", "\"ac\""));
    for (a, b) in table.kits.iter().zip(&toml.kits) {
        let scenario = |kit| read_scenario(&Source::new("s", compose(kit, &lamp, None)));
        match (scenario(a), scenario(b)) {
            (Ok(a), Ok(b)) => assert_eq!(a.0, b.0),
            (Err(a), Err(b)) => assert_eq!(a, b),
            (a, b) => panic!("{a:?}\n{b:?}"),
        }
        assert_eq!((a.price, a.weight_kg, a.capacity_wh), (b.price, b.weight_kg, b.capacity_wh));
    }
    // A table of a country that writes decimals with commas parts its columns by semicolons.
    let (semicolons, _) = read(&Source::new("c.csv", csv.replace(',', ";"))).unwrap();
    assert_eq!(semicolons.kits[1].parts, table.kits[1].parts);
}

#[test]
fn slips_in_a_table_are_marked_at_their_cell() {
    let csv = "name,price,capacity_wh,dc_w,panel_w\nSmall,300,30O,120,\nLarge,dear,2000,100,\n";
    let found = wrong("c.csv", csv);
    assert!(found[0].starts_with("2:11 error: kit.0.station.rated_capacity"), "{found:?}");
    assert!(found.iter().any(|line| line.starts_with("3:7 error: kit.1.price must be a number")), "{found:?}");
    assert!(
        wrong("c.csv", "name,capacity\nSmall,300\n").iter().any(|l| l.contains("did you mean") || l.contains("column"))
    );
    let two = wrong("c.csv", "name,price,currency,capacity_wh,dc_w\nA,1.299,EUR,1.024,120\nB,300,USD,500,120\n");
    assert!(two[0].starts_with("2:3 error: kit.0.price can be read in two ways; found 1.299"), "{two:?}");
    assert!(two[1].starts_with("2:13 error: kit.0.station.rated_capacity can be read in two ways"), "{two:?}");
    assert!(
        two[2].starts_with("3:7 error: kit.1.currency is other money than the catalogue's; found USD; allowed: EUR")
    );
    assert!(
        read(&Source::new("c.csv", "name,price,currency,capacity_wh,dc_w\nA,9,EUR,300,120\nB,8,,500,120\n")).is_ok()
    );
    let many = wrong("c.csv", "name,capacity_wh,dc_w\nSmall, light,300,120\n");
    assert!(many[0].contains("more cells than there are columns"), "{many:?}");
}

#[test]
fn a_table_tells_when_the_outlet_switches_itself_off() {
    let csv = "name,capacity_wh,ac_w,ac_switches_off_below_w,ac_switches_off_after_h\nA,300,200,6,1.5\nB,300,200,0,\n";
    let (catalogue, _) = read(&Source::new("c.csv", csv)).expect("a table");
    let stays = |kit: usize| {
        let text = compose(&catalogue.kits[kit], &case(&CASE.replace("\"dc\"", "\"ac\"")), None);
        let scenario = read_scenario(&Source::new("s", text)).unwrap_or_else(|p| panic!("{p:?}")).0;
        scenario.station.inverter.expect("an inverter").stays
    };
    assert_eq!((stays(0).least.0.0, stays(0).least.1.0, stays(0).off_after.0.0), (6.0, 6.0, 1.5));
    assert_eq!((stays(1).least.0.0, stays(1).least.1.0), (0.0, 0.0));
}

#[test]
fn a_case_is_a_scenario_without_a_kit() {
    let lamp = case(CASE);
    assert_eq!((lamp.title.as_str(), lamp.month), ("Lamp", Some(1)));
    let source = Source::new("lamp.toml", CASE.replace("5 W", "5"));
    let found = Case::read(&source, "lamp", None).unwrap_err();
    let error = found.iter().find(|problem| problem.level == crate::scenario::Level::Error).expect("an error");
    assert!(source.one_line(error).starts_with("12:9 error: load.0.watts needs a unit"), "{found:?}");
    let source = Source::new("lamp.toml", CASE.replace("lasts", "last"));
    let found = Case::read(&source, "lamp", None).unwrap_err();
    assert!(source.one_line(&found[0]).contains("outage.last is not a known key"), "{found:?}");
    // A whole scenario serves as well; its kit is left out, and it is said so. Where it stands belongs to the life.
    let whole = format!("{CASE}\n[station]\nrated_capacity = \"1 Wh\"\nstands = \"outdoors\"\n");
    let (with_kit, problems) = Case::read(&Source::new("w.toml", whole), "w", None).unwrap();
    assert!(problems.iter().any(|p| p.level == Level::Note && p.key == "station"), "{problems:?}");
    let text = compose(&CatalogueKit::neutral(), &with_kit, None);
    assert!(text.contains("1000 kWh") && text.contains("outdoors"), "{text}");
}

#[test]
fn a_place_across_the_equator_keeps_the_season_and_turns_the_panels() {
    let (catalogue, _) = read(&Source::new("c.toml", TWO)).unwrap();
    let kit = &catalogue.kits[1];
    let lamp = Case { ..case(&CASE.replace("\"dc\"", "\"ac\"")) };
    let at = |latitude_deg| {
        let text = compose(kit, &lamp, Some(Spot { latitude_deg, longitude_deg: 10.0 }));
        read_scenario(&Source::new("s", text)).unwrap_or_else(|p| panic!("{p:?}")).0
    };
    let (north, south) = (at(60.0), at(-33.0));
    assert_eq!((north.outage.begins, south.outage.begins), (Begins::Month(1), Begins::Month(7)));
    let stands = |scenario: &Scenario| match &scenario.panels[0].aim {
        Aim::Fixed { tilt, facing } => (tilt.0, facing.0),
        other => panic!("{other:?}"),
    };
    assert_eq!([stands(&north), stands(&south), stands(&at(2.0))], [(60.0, 180.0), (33.0, 0.0), (15.0, 180.0)]);
}

#[test]
fn the_neutral_kit_is_usable() {
    let kit = CatalogueKit::neutral();
    assert!(read_scenario(&Source::new("s", compose(&kit, &case(CASE), None))).is_ok());
}

#[test]
fn a_life_with_a_generator_is_read_and_charges_a_kit_that_can_be_charged() {
    let text = CASE.to_string() + "[generator]\nlimit = \"500 W\"\nhours = \"08:00-12:00\"\n";
    let case = case(&text);
    let (mut catalogue, _) = read(&Source::new("c.toml", TWO)).unwrap();
    let kit = &mut catalogue.kits[0];
    let of = |kit: &CatalogueKit| read_scenario(&Source::new("cell", compose(kit, &case, None)));
    assert!(of(kit).is_err(), "a kit without a charger has nothing to take it with");
    let station = kit.parts.get_mut("station").and_then(Value::as_table_mut).expect("a station");
    station.insert("wall_charger".into(), "limit = \"300 W\"".parse::<Table>().map(Value::Table).expect("a table"));
    let (scenario, _, _) = of(kit).expect("a scenario");
    assert!(scenario.generator.is_some() && scenario.station.wall_charger.is_some());
}

/// A wall charger has its columns; remarks and what begins with `my_` are the owner's own.
#[test]
fn a_table_has_a_wall_charger_and_columns_of_the_owners_own() {
    let csv = "name,capacity_wh,dc_w,charger_w,charger_efficiency_percent,remarks,my_shelf\n\
               A,300,120,200,88,\"loud, warm\",12\nB,500,120,,,,\n";
    let (table, problems) = read(&Source::new("c.csv", csv)).unwrap_or_else(|p| panic!("{p:?}"));
    assert!(problems.is_empty(), "{problems:?}");
    let charger = &table.kits[0].parts["station"]["wall_charger"];
    assert_eq!((charger["limit"].as_str(), charger["efficiency"].as_str()), (Some("200 W"), Some("88 %")));
    assert!(table.kits[1].parts["station"].get("wall_charger").is_none());
    assert!(wrong("c.csv", "name,capacity_wh,dc_w,shelf\nA,300,120,12\n").iter().any(|l| l.contains("not known")));
}
