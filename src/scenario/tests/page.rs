//! The tables of the manual are those of the schema. With `TIDEOVER_BLESS=1` they are written anew.

use crate::scenario::schema::{Holds, Key, RECORD, SCENARIO, Section};
use crate::scenario::source::join;
use std::collections::BTreeSet;
use std::fs;
use std::path::Path;

const HEAD: &str = "| key | what it says | values | when left out |\n| --- | --- | --- | --- |\n";

fn row(path: &str, key: &Key) -> String {
    let at = join(path, key.name);
    let (shown, values) = match &key.holds {
        Holds::Value(_) => (key.name.to_string(), key.values()),
        Holds::One(_) => (format!("[{at}]"), "a section".to_string()),
        Holds::Many(_) => (format!("[[{at}]]"), "a section for each".to_string()),
        Holds::Few(_) => (format!("[{at}]"), format!("a section; of several, `[[{at}]]` for each")),
    };
    let cells = [format!("`{shown}`"), key.text.to_string(), values, key.left_out()];
    let row = cells.map(|cell| cell.replace('|', "\\|")).join(" | ");
    format!("| {} |\n", row.trim())
}

/// What a marker asks for: the path of a section, and the kind of load that has a table of its own.
fn asked(line: &str) -> Option<(&str, Option<&str>)> {
    let words = line.strip_prefix("<!-- keys of ")?.strip_suffix(" -->")?;
    let (path, kind) = words.split_once(", kind ").map_or((words, None), |(path, kind)| (path, Some(kind)));
    Some((if path == "the file" { "" } else { path }, kind))
}

/// The page with its tables as the schema has them; a table follows its marker.
fn written(page: &str, document: &Section, seen: &mut BTreeSet<String>) -> String {
    let sections = document.all("");
    let apart: Vec<&str> = page.lines().filter_map(|line| asked(line)?.1).collect();
    let mut out = String::new();
    let mut lines = page.lines().peekable();
    while let Some(line) = lines.next() {
        out.push_str(line);
        out.push('\n');
        let Some((wanted, kind)) = asked(line) else { continue };
        while lines.peek().is_some_and(|line| line.starts_with('|')) {
            lines.next();
        }
        let (path, section) = sections.iter().find(|(path, _)| path == wanted).expect("a section of the schema");
        out.push_str(HEAD);
        for key in &section.keys {
            let own = apart.iter().copied().find(|kind| key.only == [*kind]);
            if own == kind {
                out.push_str(&row(path, key));
                seen.insert(join(path, key.name));
            }
        }
    }
    out
}

#[test]
fn the_manual_has_the_tables_of_the_schema() {
    for (name, document, elsewhere) in [("scenario.md", &*SCENARIO, ""), ("prove.md", &*RECORD, "site")] {
        let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("docs").join(name);
        let page = fs::read_to_string(&path).expect("the page").replace("\r\n", "\n");
        let mut seen = BTreeSet::new();
        let written = written(&page, document, &mut seen);
        for (path, section) in document.all("").iter().filter(|(path, _)| elsewhere.is_empty() || path != elsewhere) {
            for key in &section.keys {
                assert!(seen.contains(&join(path, key.name)), "{name} has no table with {} of {path:?}", key.name);
            }
        }
        if std::env::var_os("TIDEOVER_BLESS").is_some() {
            fs::write(&path, &written).expect("a page that can be written");
        } else {
            assert!(written == page, "docs/{name} is not what the schema says: TIDEOVER_BLESS=1 writes it anew");
        }
    }
}
