//! Pictures and their data: what they show is what the answer says, and each can be had as a table.

use std::collections::BTreeMap;
use std::fs;
use std::path::Path;

use serde_json::Value;

use crate::program::{folder, refused, tideover};

/// Heads and rows.
type Table = (Vec<String>, Vec<Vec<String>>);

/// What `--figures` writes for a question, by name: heads and rows; and the answer as JSON and as a page.
#[track_caller]
fn figures(test: &str, arguments: &[&str]) -> (BTreeMap<String, Table>, Value, String) {
    let folder = folder("figures", test);
    let (tables, page) = (folder.join("tables"), folder.join("page.html"));
    let paths = [&tables, &page].map(|path| path.display().to_string());
    let all = [arguments, &["-q", "--json", "--figures", &paths[0], "--html", &paths[1]]].concat();
    let output = tideover(&all);
    assert!(output.status.success(), "{}", String::from_utf8_lossy(&output.stderr));
    let mut out = BTreeMap::new();
    for file in fs::read_dir(&tables).expect("a folder") {
        let path = file.expect("a file").path();
        assert_eq!(path.extension().and_then(|end| end.to_str()), Some("csv"), "{}", path.display());
        let mut reader = csv::Reader::from_path(&path).expect("a table");
        let heads = reader.headers().expect("heads").iter().map(String::from).collect();
        let rows = reader.records().map(|row| row.expect("a row").iter().map(String::from).collect()).collect();
        out.insert(path.file_stem().expect("a name").to_string_lossy().into_owned(), (heads, rows));
    }
    let json = serde_json::from_slice(&output.stdout).expect("JSON");
    (out, json, fs::read_to_string(page).expect("a page"))
}

fn column(table: &Table, name: &str) -> Vec<f64> {
    let at = table.0.iter().position(|head| head == name).unwrap_or_else(|| panic!("{name} in {:?}", table.0));
    table.1.iter().map(|row| row[at].parse().unwrap_or(f64::NAN)).collect()
}

fn scenario(test: &str, text: &str) -> String {
    let path = folder("figures", &format!("{test}-scenario")).join("it.toml");
    fs::write(&path, text).expect("a scenario");
    path.display().to_string()
}

/// A lamp that a rule always holds off from 6:00 to 8:00, and a large battery that nothing else empties.
const HELD_OFF: &str = concat!(
    here!(),
    section!("outage", month = "January", lasts = "3 days", starts_charged = "50 %"),
    section!("station", rated_capacity = "9000 Wh"),
    section!("station.dc_outlet", limit = "120 W"),
    load!("radio", "dc", "vital", "5 W"),
    load!("lamp", "dc", "spare", "10 W", hours = "06:00-08:00", off_below = "95 %"),
);

#[test]
fn a_load_is_dark_at_the_hours_at_which_it_asks_and_gets_nothing() {
    let file = scenario("held-off", HELD_OFF);
    for step in ["60", "20"] {
        let (tables, json, _) = figures("held-off", &["run", &file, "--trials", "700", "--step", step]);
        let dark = &tables["dark"];
        let (clock, lamp) = (column(dark, "clock_h"), column(dark, "lamp_percent"));
        let (running, radio) = (column(dark, "outages_running"), column(dark, "radio_percent"));
        // Three days from any hour on: the clock of four days, less hours at which hardly any outage runs.
        assert!((90..=96).contains(&clock.len()), "{}", clock.len());
        for (k, hour) in clock.iter().enumerate().filter(|(k, _)| lamp[*k].is_finite()) {
            let asks = (6.0..8.0).contains(&(hour % 24.0));
            assert_eq!((lamp[k], radio[k]), (if asks { 100.0 } else { 0.0 }, 0.0), "at {hour} h, step {step}");
        }
        // All 700 run from the second midnight to the third day's end; by then none has begun before another has ended.
        assert!(running[24..72].iter().all(|n| *n == 700.0), "{running:?}");
        assert_eq!(json["loads"][1]["off_share"], 1.0);
    }
}

#[test]
fn the_curve_of_those_still_riding_through_ends_at_the_answer() {
    for (demo, trials) in
        [("winter-storm", "4000"), ("winter-storm", "300"), ("balcony", "2000"), ("night-light", "1500")]
    {
        let file = format!("scenarios/{demo}.toml");
        let (tables, json, page) = figures(&format!("riding-{demo}-{trials}"), &["run", &file, "--trials", trials]);
        let table = &tables["riding"];
        let [low, share, high] = ["low", "", "high"]
            .map(|end| column(table, &format!("riding{}{end}_percent", if end.is_empty() { "" } else { "_" })));
        let last = share.len() - 1;
        let told = |key: &str| 100.0 * json["survival"][key].as_f64().expect("a share");
        assert_eq!((share[last], low[last], high[last]), (told("probability"), told("low"), told("high")), "{demo}");
        assert_eq!((share[0], low[0], high[0]), (100.0, 100.0, 100.0), "{demo}");
        for (k, pair) in share.windows(2).enumerate() {
            assert!(pair[1] <= pair[0], "{demo}: some come back at row {k}");
            assert!(low[k] <= share[k] && share[k] <= high[k], "{demo}: {} {} {}", low[k], share[k], high[k]);
        }
        // Where failures have come by, the curve has fallen as far.
        let failed = json["first_failure"]["failures"].as_f64().unwrap_or(0.0);
        if let Some(half) = json["first_failure"]["after_h_p50"].as_f64() {
            let after = column(table, "after_h").iter().position(|at| *at == half).expect("the hour");
            let trials: f64 = trials.parse().expect("a number");
            assert!(100.0 - share[after] >= 50.0 * failed / trials - 1e-9, "{demo}");
            assert!(100.0 - share[after - 1] < 50.0 * failed / trials + 1e-9, "{demo}");
        }
        assert!(page.contains("of 100 outages") && page.contains("Still riding through"), "{demo}");
    }
}

#[test]
fn flows_balance_and_are_those_of_the_account() {
    for demo in ["winter-storm", "night-light", "frost-in-the-shed", "food-and-little-unmet"] {
        let file = format!("scenarios/{demo}.toml");
        let (tables, json, _) = figures(&format!("flows-{demo}"), &["run", &file, "--trials", "200"]);
        let (energy, sides) = (column(&tables["energy"], "energy_wh"), &tables["energy"].1);
        let sum =
            |side: &str| -> f64 { energy.iter().zip(sides).filter(|(_, row)| row[0] == side).map(|(wh, _)| wh).sum() };
        assert!((sum("in") - sum("out")).abs() < 1e-9 * sum("in"), "{demo}: {} and {}", sum("in"), sum("out"));
        let flow = |name: &str| json["energy"][name].as_f64().expect("a flow");
        assert!((sum("in") - flow("start_wh") - flow("solar_wh") - flow("wall_wh")).abs() < 1e-9 * sum("in"), "{demo}");
        let of = |what: &str| energy.iter().zip(sides).find(|(_, row)| row[1] == what).map_or(0.0, |(wh, _)| *wh);
        assert_eq!(of("AC outlet"), flow("served_ac_wh"), "{demo}");
        assert_eq!(of("left at the end"), flow("end_wh"), "{demo}");
    }
}

#[test]
fn single_outages_are_trials_of_the_run() {
    let question = ["run", "scenarios/winter-storm.toml", "--trials", "400"];
    let (tables, ..) = figures("singles", &question);
    let table = &tables["charge"];
    let singles: Vec<&String> = table.0.iter().filter(|head| head.contains(" outage, trial ")).collect();
    assert_eq!(singles.len(), 3, "{:?}", table.0);
    for (head, rank) in singles.into_iter().zip(["bad", "middling", "good"]) {
        assert!(head.starts_with(&format!("a {rank} outage")), "{head}");
        let trial: String = head.chars().skip_while(|c| !c.is_ascii_digit()).take_while(char::is_ascii_digit).collect();
        let trace = tideover(&["run", "scenarios/winter-storm.toml", "--trace", &trial]);
        let mut reader = csv::Reader::from_reader(trace.stdout.as_slice());
        let at = reader.headers().expect("heads").iter().position(|name| name == "charge_percent").expect("charge");
        let traced: Vec<f64> = reader.records().map(|row| row.expect("a row")[at].parse().expect("a number")).collect();
        let drawn: Vec<f64> = column(table, head).into_iter().filter(|charge| charge.is_finite()).collect();
        assert_eq!(drawn.len(), traced.len(), "{head}");
        // The trace is rounded to hundredths of a percent.
        assert!(drawn.iter().zip(&traced).all(|(a, b)| (a - b).abs() < 0.0051), "{head}");
        // The last step's vital load tells whether it failed: a trial with food or allowance is none of this scenario.
        let failed = traced.iter().any(|charge| *charge < 0.5);
        assert!(!head.ends_with("rides through_percent") || !failed, "{head}");
    }
}

/// The line through the middle of each hour is no outage: of 200 some end empty where it does not.
#[test]
fn the_line_of_charge_is_called_no_outage_and_single_ones_are_drawn_on_every_page() {
    for demo in ["scenarios/balcony.toml", "scenarios/night-light.toml", "scenarios/templates/cabin.toml"] {
        let name = format!("lines-{}", demo.replace('/', "-"));
        let (tables, _, page) = figures(&name, &["run", demo, "--trials", "200"]);
        let bad = tables["charge"].0.iter().find(|head| head.starts_with("a bad outage, trial ")).expect("an outage");
        let trial: String = bad.chars().skip_while(|c| !c.is_ascii_digit()).take_while(char::is_ascii_digit).collect();
        let figure = page.split("<figure class=\"charge\">").nth(1).and_then(|rest| rest.split("</figure>").next());
        let figure = figure.expect("a picture");
        assert_eq!(figure.matches("<polyline").count(), 4, "{demo}: {figure}");
        for part in ["half of the outages hold more at that hour (no single outage)", &format!("--trace {trial} tells")]
        {
            assert!(figure.contains(part), "{demo}: {part}: {figure}");
        }
        assert!(!figure.contains("the middle outage"), "{demo}: {figure}");
        let varies = fs::read_to_string(demo).expect("a demo").contains("median =");
        assert_eq!(figure.contains("the outages still going on"), varies, "{demo}");
    }
}

/// What is dark in a few outages of a hundred is seen all the same: each row is as high as its highest hour, which is told.
#[test]
fn each_row_of_the_strip_reaches_its_top_at_its_own_highest_hour() {
    let (tables, _, page) = figures("rows", &["run", "scenarios/twice-daily-cuts.toml", "--trials", "300"]);
    let dark = &tables["dark"];
    let figure = page.split("<figure class=\"dark\">").nth(1).and_then(|rest| rest.split("</figure>").next());
    let figure = figure.expect("a picture");
    let polygons: Vec<&str> = figure.lines().filter(|line| line.starts_with("<polygon class=\"dark\"")).collect();
    assert_eq!(polygons.len(), 4, "{figure}");
    for (k, (head, polygon)) in dark.0[2..].iter().zip(polygons).enumerate() {
        let most = column(dark, head).into_iter().filter(|share| share.is_finite()).fold(0.0, f64::max);
        assert!(0.0 < most && most < 50.0, "{head}: {most}");
        let told = if most < 0.95 { format!("{most:.1}") } else { format!("{most:.0}") };
        assert!(figure.contains(&format!("highest hour: {told} of 100<")), "{head}: {told}: {figure}");
        let ys = polygon.split(&[',', ' ', '"'][..]).filter_map(|part| part.parse::<f64>().ok());
        let top = ys.skip(1).step_by(2).fold(f64::INFINITY, f64::min);
        assert_eq!(top, 84.0 * k as f64 + 26.0, "{head}: {polygon}");
    }
    assert!(figure.contains("Day 1 is the day on which the spell begins"), "{figure}");
    assert!(page.contains("days since the spell began") && !page.contains("since the lights went out"));
}

#[test]
fn pictures_name_what_feeds_the_kit_and_show_no_sun_where_there_are_no_panels() {
    let shed = "scenarios/templates/load-shedding.toml";
    for (demo, source) in [
        ("scenarios/two-stations.toml", "second station"),
        ("scenarios/night-light.toml", "generator"),
        (shed, "wall between cuts"),
    ] {
        let name = format!("sources-{}", source.replace(' ', "-"));
        let (tables, json, page) = figures(&name, &["run", demo, "--trials", "100"]);
        let energy = column(&tables["energy"], "energy_wh");
        let at =
            tables["energy"].1.iter().position(|row| row[1] == source).unwrap_or_else(|| panic!("{demo}: {source}"));
        assert_eq!(Some(energy[at]), json["energy"]["wall_wh"].as_f64(), "{demo}");
        assert!(page.contains(&format!("from the {source}")) && !page.contains("wall or generator"), "{demo}");
        let panels = json["energy"]["solar_wh"].as_f64() > Some(0.0);
        assert_eq!((tables.contains_key("sun"), page.contains("The sun in these outages")), (panels, panels), "{demo}");
        let notes: Vec<&str> =
            json["notes"].as_array().expect("notes").iter().filter_map(|n| n["text"].as_str()).collect();
        assert_eq!(notes.contains(&"No panels: the wall between cuts feeds it."), demo == shed, "{notes:?}");
    }
    // Where food judges, the curve counts food.
    let (_, _, page) = figures("food-curve", &["run", "scenarios/food-and-little-unmet.toml", "--trials", "100"]);
    let vital = "everything vital has stayed on and no food is lost so far";
    assert!(page.contains(&format!("Outages in a hundred in which {vital}")), "{page}");
}

#[test]
fn every_picture_of_every_answer_can_be_had_as_a_table_with_units() {
    let results = folder("figures", "line-up").join("few.tsv").display().to_string();
    let case = "scenarios/lineup/cases/exam-by-lamps.toml";
    let storm = "scenarios/winter-storm.toml";
    let questions: [(&str, Vec<&str>, &[&str]); 6] = [
        ("run", vec!["run", storm, "--trials", "100"], &["changes", "charge", "dark", "energy", "riding", "sun"]),
        ("compare", vec!["compare", storm, "--trials", "100"], &[]),
        ("size", vec!["size", storm, "--trials", "300"], &["survivors"]),
        (
            "years",
            vec!["years", "scenarios/ten-years.toml", "--histories", "20"],
            &["capacity-by-year", "charge-by-month", "frontier", "readiness-by-month", "readiness-by-year"],
        ),
        ("prove", vec!["prove", "scenarios/records/healthy.toml", "--today", "2027-06-01"], &["shares"]),
        (
            "lineup",
            vec!["lineup", "scenarios/lineup/catalogue.toml", "--cases", case, "--trials", "60", "--results", &results],
            &["matrix"],
        ),
    ];
    for (name, question, expected) in questions {
        let (tables, _, page) = figures(&format!("all-{name}"), &question);
        for figure in expected {
            assert!(tables.contains_key(*figure), "{name} lacks {figure}: {:?}", tables.keys());
        }
        assert_eq!(tables.len(), page.matches("<figure class=").count(), "{name}: {:?}", tables.keys());
        for (figure, (heads, rows)) in &tables {
            assert!(!rows.is_empty(), "{name}: {figure} is empty");
            // Numbers that are no counts have a unit at the end of their head.
            const COUNTS: [&str; 7] = ["number", "outages_running", "of", "panels", "year", "kit", "trials"];
            for (k, head) in heads.iter().enumerate() {
                let number = rows.iter().all(|row| row[k].is_empty() || row[k].parse::<f64>().is_ok());
                let unit = ["_h", "_percent", "_points", "_wh", "_kwh", "_kwh_m2_a_day", "_years"];
                let named = unit.iter().any(|unit| head.ends_with(unit)) || COUNTS.contains(&head.as_str());
                assert!(!number || named, "{name}: {figure} has {head} without a unit");
                assert!(rows.iter().all(|row| row[k] != "NaN" && row[k] != "inf"), "{name}: {figure}, {head}");
            }
        }
        // Whoever hears a page hears the numbers of its pictures.
        let svgs = page.matches("role=\"img\"").count();
        assert_eq!(page.matches("<desc>").count(), svgs, "{name}");
    }
    refused(&["run", storm, "--trials", "50", "-q", "--figures", "Cargo.toml"], &["Cargo.toml", "folder"]);
}

#[test]
fn years_beyond_telling_are_flagged_in_the_table() {
    let folder = folder("figures", "flags");
    let file = folder.join("years.csv");
    let path = file.display().to_string();
    let output = tideover(&["years", "scenarios/ten-years.toml", "--histories", "20", "-q", "--csv", &path]);
    assert!(output.status.success());
    let mut reader = csv::Reader::from_path(&file).expect("a table");
    let heads = reader.headers().expect("heads").clone();
    let at = |name: &str| heads.iter().position(|head| head == name).unwrap_or_else(|| panic!("{name} in {heads:?}"));
    let (years, flag) = (at("years_trade_rule"), at("years_trade_rule_or_more"));
    for row in reader.records() {
        let row = row.expect("a row");
        let beyond = row[years].parse::<f64>().expect("years") >= 39.95;
        assert_eq!(&row[flag], if beyond { "true" } else { "false" }, "{row:?}");
    }
}

#[test]
fn text_has_the_strip_and_the_curve_at_any_width() {
    let output = tideover(&["run", "scenarios/winter-storm.toml", "--trials", "300", "-q"]);
    let text = String::from_utf8_lossy(&output.stdout);
    for part in ["When each is dark", "n night", "Still riding through", "# outages in 100 that still ride through"] {
        assert!(text.contains(part), "{part}: {text}");
    }
    let strip: Vec<&str> = text.lines().skip_while(|line| *line != "When each is dark").skip(1).take(5).collect();
    assert!(strip[4].contains("nnn") && strip[4].contains("---"), "{strip:?}");
    assert!(strip.iter().all(|line| line.chars().count() == strip[0].chars().count()), "{strip:?}");
}

#[test]
fn marks_of_a_line_up_lead_to_their_reasons_and_cases_have_names() {
    let folder = folder("figures", "matrix");
    let path = |name: &str| folder.join(name).display().to_string();
    let question = ["lineup", "scenarios/lineup/catalogue.toml", "--cases", "scenarios/lineup/cases", "--trials", "60"];
    let (results, html) = (path("results.tsv"), path("page.html"));
    let output = tideover(&[&question[..], &["--results", &results, "-q", "--json", "--html", &html]].concat());
    assert!(output.status.success());
    let json: Value = serde_json::from_slice(&output.stdout).expect("JSON");
    let page = fs::read_to_string(Path::new(&html)).expect("a page");
    let links: Vec<&str> = page.split("<a href=\"#").skip(1).filter_map(|rest| rest.split('"').next()).collect();
    assert_eq!(links.len(), json["cells"].as_array().expect("cells").len());
    for link in links {
        // A row of its case's ranking, with the cell's own verdict or why not.
        let row = page.split(&format!("<tr id=\"{link}\">")).nth(1).unwrap_or_else(|| panic!("no {link}"));
        let row = row.split("</tr>").next().unwrap_or_default().replace("&#39;", "'").replace('\u{a0}', " ");
        let row = row.replace("<span class=\"whole\">", "").replace("</span>", "");
        let place: Vec<usize> = link.split('-').skip(1).map(|at| at.parse().expect("a place")).collect();
        let name = |key: &str, at: usize| json[key][at]["name"].as_str().expect("a name").to_string();
        let (case, kit) = (name("cases", place[1]), name("kits", place[2]));
        let cells = json["cells"].as_array().expect("cells");
        let cell =
            cells.iter().find(|cell| cell["case"] == case.as_str() && cell["kit"] == kit.as_str()).expect("a cell");
        let why = [&cell["misfit"]["text"], &cell["verdict"]["text"]].into_iter().find_map(Value::as_str);
        assert!(row.contains(&format!(">{kit}</th>")) && row.contains(why.expect("a verdict")), "{link}: {row}");
        assert!(
            ["nothing failed in only 60 trials", "of failures, half within"].iter().any(|word| row.contains(word))
                || cell["fits"] == false
        );
    }
    for case in json["cases"].as_array().expect("cases") {
        let title = case["title"].as_str().expect("a title");
        assert!(page.contains(&format!("</b> {title}</th>")), "{title}");
    }
    // Shaded and marked: no shade without its sign.
    let mut shades = std::collections::BTreeSet::new();
    for cell in page.split("<td class=\"m").skip(1) {
        let mark = cell.split("</a>").next().unwrap_or_default().rsplit('>').next().unwrap_or_default();
        let signs: &[&str] = match &cell[..1] {
            "4" => &["++ "],
            "3" => &["+ "],
            "2" => &["o "],
            "0" => &["- ", "?"],
            _ => &["x ", "# ", "w "],
        };
        assert!(signs.iter().any(|sign| mark.starts_with(sign)), "m{}: {mark}", &cell[..1]);
        shades.insert(cell[..1].to_string());
    }
    assert!(shades.len() > 3, "{shades:?}");
}
