//! Names that must differ.

use super::forms::quoted;
use super::problem::Problem;

/// An error for each name that an earlier entry has already.
///
/// * `names` — the key of each with the name; `same` — what makes two of them one.
/// * `what` — what the entries are, like "load"; `help` — what to write instead.
pub(super) fn twice<'a>(
    names: impl IntoIterator<Item = (String, &'a str)>,
    same: impl Fn(&str) -> String,
    what: &str,
    help: Option<&str>,
) -> Vec<Problem> {
    let mut seen: Vec<(String, String)> = Vec::new();
    let mut taken = Vec::new();
    for (key, name) in names {
        let as_one = same(name);
        let Some((_, first)) = seen.iter().find(|(other, _)| *other == as_one) else {
            seen.push((as_one, key));
            continue;
        };
        let mut problem = Problem::error(key, format!("is taken by another {what}")).found(quoted(name));
        if let Some(help) = help {
            problem = problem.help(help);
        }
        taken.push(problem.against(first.clone(), "the first of this name"));
    }
    taken
}
