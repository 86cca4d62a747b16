//! What a line-up says in words: which kit to take, what few trials leave open, and why a kit is what it is.

use std::collections::BTreeMap;
use std::fs;

use serde_json::Value;

use crate::program::{answered, folder, unbroken};

const CATALOGUE: &str = "scenarios/lineup/catalogue.toml";
const CASES: &str = "scenarios/lineup/cases";

/// A line-up of the invented catalogue in so many trials: its text with every ranking, its JSON and its page.
fn told(test: &str, more: &[&str]) -> (String, Value, String) {
    let here = folder("lineup-words", test);
    let [results, html] = ["results.tsv", "page.html"].map(|name| here.join(name).display().to_string());
    let ask = [&["lineup", CATALOGUE, "--cases", CASES, "--quiet", "--results", &results][..], more].concat();
    let json = serde_json::from_str(&answered(&[&ask[..], &["--json", "--html", &html]].concat())).expect("JSON");
    let text = answered(&[&ask[..], &["--details"]].concat());
    (text, json, fs::read_to_string(html).expect("a page"))
}

fn list<'a>(json: &'a Value, key: &str) -> &'a [Value] {
    json[key].as_array().unwrap_or_else(|| panic!("no {key}"))
}

fn name<'a>(json: &'a Value, key: &str) -> &'a str {
    json[key].as_str().unwrap_or_else(|| panic!("no {key}: {json}"))
}

/// What stands between two parts of a text, line breaks left out.
fn between(text: &str, from: &str, to: &str) -> String {
    let rest = text.split(from).nth(1).unwrap_or_else(|| panic!("no {from:?}: {text}"));
    unbroken(rest.split(to).next().unwrap_or_default())
}

/// Letters of the cases by their short names.
fn letters(json: &Value) -> BTreeMap<&str, char> {
    list(json, "cases").iter().map(|case| name(case, "name")).zip('A'..).collect()
}

fn cell<'a>(json: &'a Value, kit: &str, case: &str) -> &'a Value {
    let here = list(json, "cells").iter().find(|cell| cell["kit"] == kit && cell["case"] == case);
    here.unwrap_or_else(|| panic!("no cell of {kit} and {case}"))
}

fn price(json: &Value, kit: &str) -> f64 {
    let kit = list(json, "kits").iter().find(|known| known["name"] == kit).expect("the kit");
    kit["price"].as_f64().expect("a price")
}

#[test]
fn the_top_names_the_kit_for_the_most_cases_and_the_cheapest_for_each() {
    for trials in ["100", "1000"] {
        let (text, json, page) = told(&format!("top-{trials}"), &["--trials", trials]);
        let top = unbroken(text.split("Each case at its own place").next().expect("a top"));
        let target = json["target"].as_f64().expect("a target");
        let low = |cell: &&Value| cell["survival"]["low"].as_f64().is_some_and(|low| target <= low);
        // The kit that suffices most often, the cheapest of several, counted from the cells.
        let mut counts: BTreeMap<&str, usize> = BTreeMap::new();
        list(&json, "cells").iter().filter(low).for_each(|cell| *counts.entry(name(cell, "kit")).or_default() += 1);
        let most = *counts.values().max().expect("some kit suffices somewhere");
        let best = counts.iter().filter(|(_, n)| **n == most).map(|(kit, _)| *kit);
        let best = best.min_by(|a, b| price(&json, a).total_cmp(&price(&json, b))).expect("a kit");
        assert_eq!(
            (name(&json["all_round"], "kit"), json["all_round"]["suffices"].as_u64()),
            (best, Some(most as u64))
        );
        let sure = list(&json, "least").iter().filter(|least| !least["kit"].is_null()).count();
        let many = if sure == most { "all".into() } else { most.to_string() };
        let named = |text: &str| {
            let parts: Vec<&str> =
                text.split(&format!("In {sure} of 8 cases some kit is sure enough of 95 %; {best} (")).collect();
            parts.get(1).is_some_and(|rest| {
                rest.split("crowns)").nth(1).is_some_and(|r| r.starts_with(&format!(" is in {many} of them.")))
            })
        };
        assert!(named(&top), "{top}");
        // Each case has its letter behind the cheapest kit that suffices, or else behind the cheapest that is likely.
        let letters = letters(&json);
        for least in list(&json, "least") {
            let case = name(least, "case");
            let likely = list(&json, "cells").iter().filter(|cell| {
                cell["case"] == case && ["count_on_it", "likely"].iter().any(|kind| cell["verdict"]["kind"] == *kind)
            });
            let likely =
                likely.map(|cell| name(cell, "kit")).min_by(|a, b| price(&json, a).total_cmp(&price(&json, b)));
            let (head, kit) = match least["kit"].as_str() {
                Some(kit) => ("The cheapest that suffices:", kit),
                None => ("the cheapest that is likely:", likely.expect("a kit that is likely")),
            };
            assert!(least["kit"].is_null() || least["by"] == "price", "{least}");
            let there = between(&top, head, ".");
            let group =
                there.split("; ").find(|group| group.trim().starts_with(kit)).unwrap_or_else(|| panic!("{there}"));
            let cases = group.split(") for ").nth(1).expect("cases");
            assert!(cases.contains(letters[case]), "{case}, {kit}: {group}");
        }
        // Few trials are told of before anything hangs on them, and so on the page.
        let few = format!("{trials} trials are few");
        assert_eq!((top.contains(&few), page.contains(&few)), (trials == "100", trials == "100"), "{top}");
        assert_eq!(list(&json, "notes").iter().any(|note| note["kind"] == "few_trials"), trials == "100");
        // The cheaper kits that more trials may find to suffice, from their cells.
        for least in list(&json, "least") {
            let most = least["kit"].as_str().map_or(f64::INFINITY, |kit| price(&json, kit));
            let may = |cell: &&Value| {
                let share = |key: &str| cell["survival"][key].as_f64();
                cell["case"] == least["case"]
                    && share("trials").is_some_and(|trials| trials < 1000.0)
                    && share("probability").is_some_and(|share| target <= share)
                    && share("low").is_some_and(|low| low < target)
                    && price(&json, name(cell, "kit")) < most
            };
            let mut kits: Vec<&str> = list(&json, "cells").iter().filter(may).map(|cell| name(cell, "kit")).collect();
            kits.sort_by(|a, b| price(&json, a).total_cmp(&price(&json, b)));
            assert_eq!(list(least, "may_suffice"), kits, "{least}");
            let case = name(least, "case");
            let head = format!("{}: {}\n", letters[case], title(&json, case));
            let told = between(&text, &head, "    verdict: ");
            assert_eq!(told.contains("more trials tell"), !kits.is_empty(), "{told}");
            assert!(
                kits.first().is_none_or(|kit| told.split("may suffice").next().is_some_and(|told| told.contains(kit))),
                "{told}"
            );
        }
        let may: usize = list(&json, "least").iter().map(|least| list(least, "may_suffice").len()).sum();
        assert_eq!(may > 5, trials == "100", "{may}");
        let nothing =
            if trials == "100" { "nothing failed in only 100 trials" } else { "nothing failed in 1,000 trials" };
        assert!(text.contains(nothing) && page.contains(nothing), "{text}");
        let footing =
            format!("load luck: {} for each kit and case, seed 1", if trials == "100" { "100" } else { "1,000" });
        assert!(unbroken(&text).contains(&footing), "{text}");
    }
}

fn title<'a>(json: &'a Value, case: &str) -> &'a str {
    name(list(json, "cases").iter().find(|known| known["name"] == case).expect("the case"), "title")
}

#[test]
fn each_sign_that_bars_a_kit_has_its_own_line_and_cases_go_by_their_letters() {
    let (text, json, page) = told("signs", &["--trials", "60"]);
    let kits = between(&text, "\nKit by kit\n", "What this rests on");
    let letters = letters(&json);
    for case in letters.keys() {
        assert!(!kits.contains(case), "{case} is a file's name: {kits}");
    }
    assert!(!kits.contains("cells") && kits.contains("of 100 in the mean of 8 cases"), "{kits}");
    let heads =
        [("wiring", "Wrong wiring (w): "), ("overload", "A load too big (#): "), ("parts", "Does not fit (x): ")];
    let mut seen = 0;
    for kit in list(&json, "kits").iter().map(|kit| name(kit, "name")) {
        let own = between(&kits, &format!("{kit} ("), " crowns)");
        let own = between(&kits, &format!("{kit} ({own} crowns)"), " crowns)");
        for (kind, head) in heads {
            let barred = letters.iter().filter(|(case, _)| cell(&json, kit, case)["misfit"]["kind"] == kind);
            let mut barred: Vec<(char, &str)> = barred.map(|(case, letter)| (*letter, *case)).collect();
            barred.sort_unstable();
            let told: Vec<String> = barred.iter().map(|(letter, _)| letter.to_string()).collect();
            let line = format!("{head}{}. ", told.join(", "));
            assert_eq!(own.contains(head), !barred.is_empty(), "{kit}, {kind}: {own}");
            let Some((letter, first)) = barred.first() else { continue };
            assert!(own.contains(&line), "{kit}, {line}: {own}");
            // Its reason stands behind it, with the case that it is of where others have another.
            let reason = |case: &str| name(&cell(&json, kit, case)["misfit"], "text").trim_end_matches('.').to_string();
            let own_reason = reason(first);
            let one = barred.iter().all(|(_, case)| reason(case) == own_reason);
            let rest = own.split(&line).nth(1).expect("a reason");
            let rest =
                if one { rest } else { rest.strip_prefix(&format!("In {letter}: ")).expect("whose reason it is") };
            assert!(rest.to_lowercase().starts_with(&own_reason.to_lowercase()), "{own_reason}: {rest}");
            seen += 1;
        }
    }
    assert!(seen > 4, "{seen}");
    assert!(page.contains("hatched: does not work so, the sign says why"), "{page}");
    // Cold is the year's, whatever the month of the case.
    assert!(text.contains("on the coldest morning of the year") && !text.contains("in the cold here"), "{text}");
}

#[test]
fn a_ranking_has_prices_and_weights_and_no_kit_another_ones_figures() {
    let (text, json, page) = told("rankings", &["--trials", "100"]);
    for gone in ["for each of 100", "least kit", "Cell by cell"] {
        assert!(!text.contains(gone) && !page.contains(gone), "{gone}");
    }
    let heads: String = ["verdict", "rank"].iter().map(|head| format!("<th scope=\"col\">{head}</th>")).collect();
    let amounts: String = ["rides through", "crowns", "kg"]
        .iter()
        .map(|head| format!("<th scope=\"col\" class=\"number\">{head}</th>"))
        .collect();
    let last = "<th scope=\"col\">fails first, or why not</th>";
    let head = format!("<th scope=\"col\">kit</th>{heads}{amounts}{last}");
    assert_eq!(page.matches(&head).count(), 8, "{page}");
    // Where kits share the top, the sentence has the best and the last of them, or one figure for all that have it.
    let (mut alike, mut apart) = (0, 0);
    for (case, letter) in letters(&json) {
        let top = list(&json, "cells").iter().filter(|cell| cell["case"] == case && cell["rank"] == 1);
        let mut shares: Vec<(f64, f64)> = top
            .map(|cell| ["probability", "low"].map(|key| cell["survival"][key].as_f64().expect("a share")).into())
            .collect();
        shares.sort_by(|a, b| b.0.total_cmp(&a.0).then(b.1.total_cmp(&a.1)));
        if shares.len() < 2 {
            continue;
        }
        let words = between(&text, &format!("\n{letter}: {}\n", title(&json, case)), "    verdict: ");
        let told = between(&words, "cannot be told apart with these trials: ", ".");
        let share = |(share, _): &(f64, f64)| format!("{:.0} of 100 (", 100.0 * share);
        if told.contains(" each") {
            assert!(shares.iter().all(|one| share(one) == share(&shares[0])), "{told}: {shares:?}");
            let lows = shares.iter().map(|(_, low)| (100.0 * low).floor());
            let (least, most) = lows.fold((100.0, 0.0), |(least, most), low| (low.min(least), low.max(most)));
            assert!(least == most || told.ends_with(&format!("each, their lower ends {least:.0}-{most:.0}")), "{told}");
            alike += 1;
        } else {
            let [first, last] = [0, shares.len() - 1].map(|k| share(&shares[k]));
            assert!(told.starts_with(&format!("from {first}")) && told.contains(&format!(" to {last}")), "{told}");
            apart += 1;
        }
    }
    assert!(alike + apart > 5 && apart > 2, "{alike} {apart}");
}
