//! Which outlet a thing is on, by the words beside it: "on the 12 V socket", "usb".

/// Words before the outlet that say nothing more.
const BEFORE: [&str; 16] =
    ["on", "at", "by", "from", "via", "through", "to", "in", "into", "using", "off", "the", "a", "an", "its", "my"];
/// Words behind it.
const BEHIND: [&str; 11] =
    ["socket", "outlet", "plug", "port", "lead", "side", "output", "supply", "adapter", "adaptor", "cable"];

/// The outlet that words tell of, "dc" or "usb", and the words without it.
pub(super) fn plugged<'w>(words: &[&'w str]) -> Option<(&'static str, Vec<&'w str>)> {
    (0..words.len()).find_map(|from| {
        let plain = |at: usize| words.get(at).map(|word| word.trim_matches([',', ';', '(', ')']).to_lowercase());
        let is = |at: usize, known: &[&str]| plain(at).is_some_and(|word| known.contains(&word.as_str()));
        let mut at = from;
        while is(at, &BEFORE) {
            at += 1;
        }
        let (outlet, of) = match (plain(at)?.as_str(), plain(at + 1).unwrap_or_default().as_str()) {
            ("12v" | "12vdc" | "12-volt" | "dc", _) => ("dc", 1),
            ("12", "v" | "volt" | "volts" | "vdc") | ("cigarette", "lighter" | "socket") => ("dc", 2),
            ("usb" | "usb-a" | "usb-c", _) => ("usb", 1),
            _ => return None,
        };
        let mut to = at + of;
        while is(to, &BEHIND) || is(to, &["dc"]) {
            to += 1;
        }
        let rest = [&words[..from], &words[to..]].concat();
        (!rest.is_empty()).then_some((outlet, rest))
    })
}
