use super::*;
use crate::math;
use crate::report::figure::{Axis, Data, Grid, Picture, Ranges};

fn table() -> Table {
    Table::new([Column::left("load"), Column::right("asks a day"), Column::left("goes without in")])
        .rows([["fridge", "360 Wh", "35 of 100 outages (32-38)"], ["lamp <b>", "12 Wh", "2 of 100 outages (1-4)"]])
}

fn document() -> Document {
    let mut out = Document::new("A & B");
    out.caution("Mind <this>.").lead("The lead.").under("What explains it.");
    out.head("Loads").table(table());
    out.head("Steps").steps(["one", "two"]).list(["a", "b"]);
    out.entries(vec![("fits".into(), vec!["panels: watts".into(), "600 W".into()])]);
    out
}

#[test]
fn a_table_turns_into_what_there_is_room_for() {
    let text = |columns: usize| {
        let mut out = Document::new("");
        out.table(table());
        out.text(columns)
    };
    let flat = "
  load      asks a day  goes without in
  fridge        360 Wh  35 of 100 outages (32-38)
  lamp <b>       12 Wh  2 of 100 outages (1-4)
";
    assert_eq!(text(80), flat[1..]);
    let hung = "
  asks a day  goes without in
  fridge
      360 Wh  35 of 100 outages (32-38)
  lamp <b>
       12 Wh  2 of 100 outages (1-4)
";
    assert_eq!(text(40), hung[1..]);
    let stacked = "
  fridge
    asks a day: 360 Wh
    goes without in: 35 of
      100 outages (32-38)
  lamp <b>
    asks a day: 12 Wh
    goes without in: 2 of
      100 outages (1-4)
";
    assert_eq!(text(0), stacked[1..]);
}

#[test]
fn a_table_that_scrolls_is_broken_into_pieces_with_the_names_in_each() {
    let heads = (0..10).map(|k| Column::right(format!("head {k}")));
    let rows = [(0..11).map(|k| if k == 0 { "kit".to_string() } else { format!("{k}") }).collect::<Vec<_>>()];
    let mut out = Document::new("");
    out.table(Table::new([Column::left("name")].into_iter().chain(heads)).scrolls().rows(rows));
    let text = out.text(40);
    assert!(text.lines().all(|line| line.chars().count() <= 40), "{text}");
    assert_eq!(text.matches("kit").count(), 3, "{text}");
    assert!((0..10).all(|k| text.contains(&format!("head {k}"))), "{text}");
}

#[test]
fn no_line_is_wider_than_the_terminal() {
    for columns in [36, 60, 80, 200] {
        let text = document().text(columns);
        assert!(text.lines().all(|line| line.chars().count() <= columns), "{columns}: {text}");
        for part in ["A & B", "Mind <this>.", "What explains it.", "35 of 100", "lamp <b>", "1. one", "- a", "600 W"] {
            assert!(text.replace('\n', " ").contains(part), "{columns}, {part}: {text}");
        }
    }
}

#[test]
fn a_page_says_what_the_text_says_and_escapes_it() {
    let page = document().page();
    for part in [
        "A &amp; B",
        "Mind &lt;this&gt;.",
        "lamp &lt;b&gt;",
        "data-head=\"asks a day\"><span class=\"whole\">360 Wh</span>",
        "<li>one</li>",
    ] {
        assert!(page.contains(part), "{part}: {page}");
    }
    assert!(!page.contains("<b>") && !page.contains("<script") && !page.contains("http"), "{page}");
    for tag in ["table", "tr", "td", "th", "ul", "ol", "li", "p", "h2", "section", "div", "dl", "dd"] {
        let opened = page.matches(&format!("<{tag}>")).count() + page.matches(&format!("<{tag} ")).count();
        assert_eq!(opened, page.matches(&format!("</{tag}>")).count(), "{tag}");
    }
    let fragments = document().fragments();
    let heads: Vec<&str> = fragments.iter().map(|fragment| fragment.heading.as_str()).collect();
    assert_eq!(heads, ["", "Loads", "Steps"]);
    assert!(fragments.iter().all(|fragment| page.contains(&fragment.html)), "the page is made of its pieces");
}

#[test]
fn every_picture_has_a_text_alternative_and_a_size() {
    let mut out = Document::new("");
    let data = vec![
        Data::names("kit", ["one <i>"]),
        Data::numbers("low", "", [1.0]),
        Data::numbers("value", "", [2.0]),
        Data::numbers("high", "", [3.0]),
    ];
    let ranges =
        Picture::Ranges(Ranges { axis: Axis::new("x", (0.0, 4.0), 4), zero: None, band: None, unbanded: Vec::new() });
    let grid = Grid {
        down: "Wh".into(),
        across: "panels".into(),
        heads: vec!["1".into()],
        rows: vec![("8".into(), vec![("99*".into(), 0.99)])],
        contour: None,
    };
    for picture in [ranges, Picture::Grid(grid)] {
        out.figure(Figure {
            name: "f",
            title: "What it shows".into(),
            data: data.clone(),
            picture,
            legend: "How to read it.".into(),
            quiet: false,
        });
    }
    let page = out.page();
    assert!(page.contains("<svg viewBox=\"0 0 650 ") && page.contains("<title>What it shows</title>"), "{page}");
    assert!(page.contains("one &lt;i&gt;") && page.contains("<td class=\"t9\">99<i>*</i></td>"), "{page}");
    assert_eq!(page.matches("How to read it.").count(), 2);
    assert!(out.text(80).contains("99*"), "{}", out.text(80));
}

/// Relative luminance and contrast of WCAG 2.2 (W3C 2023, "relative luminance" and "contrast ratio").
#[test]
fn words_and_strokes_stand_out_from_their_ground_by_day_and_by_night() {
    let channel = |hex: &str| {
        let c = f64::from(u8::from_str_radix(hex, 16).expect("two digits")) / 255.0;
        if c <= 0.04045 { c / 12.92 } else { math::pow((c + 0.055) / 1.055, 2.4) }
    };
    let luminance = |colour: &str| {
        0.2126 * channel(&colour[1..3]) + 0.7152 * channel(&colour[3..5]) + 0.0722 * channel(&colour[5..7])
    };
    let themes: Vec<&str> = STYLE.split(":root {").skip(1).take(2).collect();
    assert_eq!(themes.len(), 2);
    for theme in themes {
        let of = |name: &str| {
            let rest = theme.split_once(&format!("--{name}: ")).unwrap_or_else(|| panic!("no {name}")).1;
            luminance(&rest[..7])
        };
        let contrast = |a: &str, b: &str| {
            let (a, b) = (of(a), of(b));
            (a.max(b) + 0.05) / (a.min(b) + 0.05)
        };
        for (words, ground) in [("ink", "paper"), ("soft", "paper"), ("ink", "mind")] {
            assert!(contrast(words, ground) >= 4.5, "{words} on {ground}: {}", contrast(words, ground));
        }
        for stroke in ["a", "b", "c", "d", "e", "f", "soft"] {
            assert!(contrast(stroke, "paper") >= 4.5, "{stroke}: {}", contrast(stroke, "paper"));
        }
    }
}

#[test]
fn no_line_ends_within_a_range_or_between_a_number_and_its_unit() {
    let sentence = "It gives 3.2 kWh ± 8.0 % in 43-83 of 100, from 41 h to 70 h, at 20 °C, and 95 %, in 4 days.";
    let kept = ["3.2 kWh ± 8.0 %", "43-83", "41 h", "70 h,", "20 °C,", "95 %,", "4 days."];
    for columns in 30..70 {
        let mut out = Document::new("");
        out.say(sentence);
        let text = out.text(columns);
        for part in kept {
            assert!(text.contains(part), "{columns}, {part}: {text}");
        }
    }
    // On a page wherever sentences stand: in a paragraph, a list, a table, beside a mark.
    let mut out = Document::new("");
    out.say(sentence).list([sentence]).entries(vec![("fits".into(), vec![sentence.into()])]);
    out.table(Table::new([Column::left("what"), Column::right("how")]).rows([["row", sentence]]));
    let page = out.page();
    for part in kept {
        assert_eq!(page.matches(&format!("<span class=\"whole\">{part}</span>")).count(), 4, "{part}: {page}");
    }
}
