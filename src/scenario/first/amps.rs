//! Amps where watts are asked for.

/// What is wrong with amps where watts are wanted, with what to write; `None` where no amps are told, or watts beside them.
pub(super) fn amps(text: &str) -> Option<String> {
    let words: Vec<&str> = text.split_whitespace().map(|word| word.trim_matches(['(', ')', ',', ';'])).collect();
    let (mut amps, mut volts) = (None, None);
    for (at, word) in words.iter().enumerate() {
        let number = word.trim_end_matches(char::is_alphabetic);
        let Ok(figure) = number.parse::<f64>() else { continue };
        let next = words.get(at + 1).copied().unwrap_or_default();
        // "4 a" may begin another word.
        let begins = next == "a" && at + 2 < words.len();
        let unit = if word.len() > number.len() { &word[number.len()..] } else { next };
        match unit.to_lowercase().as_str() {
            "a" if begins => {}
            "a" | "amp" | "amps" | "ampere" | "amperes" => amps = Some(figure),
            "v" | "volt" | "volts" => volts = Some(figure),
            "w" | "watt" | "watts" | "kw" => return None,
            _ => {}
        }
    }
    let watts = |volts: f64| amps.map(|amps| (amps * volts * 10.0).round() / 10.0);
    let told = amps?;
    Some(match volts {
        Some(volts) => format!("`{text}` tells volts and amps: write their product, \"{} W\"", watts(volts)?),
        None => format!(
            "`{text}` is a current: multiply by the volts that stand beside it on the label: {told} A at 12 V are \"{} W\", {told} A \
             at 230 V are \"{} W\"",
            watts(12.0)?,
            watts(230.0)?
        ),
    })
}
