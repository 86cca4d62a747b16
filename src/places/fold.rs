//! Names as they are looked for: small letters without marks, words with one space between.

/// Small letters with a mark, and what is looked for instead: by the number of the letter, empty for letters that stay.
pub(super) struct Letters(Vec<&'static str>);

/// Words that are written out or shortened.
const SHORT: [(&str, &str); 4] = [("saint", "st"), ("sainte", "ste"), ("mount", "mt"), ("fort", "ft")];
/// Left out of a word: "L'Aquila" is looked for as "laquila".
const APOSTROPHES: &str = "'’‘`´ʹʻʼʽʾʿˈ′";

impl Letters {
    /// From lines of the table.
    pub fn of(lines: &'static str) -> Letters {
        let mut letters = Vec::new();
        for (letter, bare) in lines.lines().filter_map(|line| line.split_once('\t')) {
            let at = letter.chars().next().map_or(0, |letter| letter as usize);
            if letters.len() <= at {
                letters.resize(at + 1, "");
            }
            letters[at] = bare;
        }
        Letters(letters)
    }

    /// A name as it is looked for, added to a text. `places/build_places.py` does the same.
    pub fn fold_into(&self, name: &str, out: &mut String) {
        let start = out.len();
        let mut word = out.len();
        for c in name.chars() {
            // Most letters are plain, and their small forms quickly known.
            if c.is_ascii() {
                self.fold_char(c.to_ascii_lowercase(), out, &mut word);
            } else {
                c.to_lowercase().for_each(|c| self.fold_char(c, out, &mut word));
            }
        }
        end_word(out, &mut word);
        if out.len() > start && out.ends_with(' ') {
            out.pop();
        }
    }

    fn fold_char(&self, c: char, out: &mut String, word: &mut usize) {
        if c.is_ascii_alphanumeric() {
            out.push(c);
        } else if c == ' ' {
            end_word(out, word);
        } else if ('\u{300}'..='\u{36f}').contains(&c) || APOSTROPHES.contains(c) {
            // Marks that stand behind their letter.
        } else if let Some(bare) = self.0.get(c as usize).filter(|bare| !bare.is_empty()) {
            out.push_str(bare);
        } else if c.is_alphanumeric() {
            out.push(c);
        } else {
            end_word(out, word);
        }
    }

    /// A name as it is looked for.
    pub fn fold(&self, name: &str) -> String {
        let mut out = String::with_capacity(name.len());
        self.fold_into(name, &mut out);
        out
    }
}

/// Shortens the word that ends here and puts a space behind it.
fn end_word(out: &mut String, word: &mut usize) {
    if out.len() == *word {
        return;
    }
    if let Some((long, short)) = SHORT.iter().find(|(long, _)| out[*word..] == **long) {
        out.truncate(out.len() - long.len());
        out.push_str(short);
    }
    out.push(' ');
    *word = out.len();
}

/// A name without what is doubled for want of a mark, as in "Goeteborg": its keys are compared where no name is the same.
pub(super) fn unmarked(key: &str) -> String {
    let mut out = String::with_capacity(key.len());
    let mut before = ' ';
    for c in key.chars() {
        let doubled = matches!((before, c), ('a' | 'o' | 'u', 'e') | ('a', 'a'));
        if !doubled {
            out.push(c);
        }
        before = c;
    }
    out
}
