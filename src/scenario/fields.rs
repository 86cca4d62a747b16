//! Reading a section by its schema: every key of it at once, so that all that is wrong is told; readers then ask for values by
//! name.

use super::forms::{Fault, Form, Item, either, tidy};
use super::nearest::nearest;
use super::problem::{Level, Problem};
use super::schema::{Held, Holds, Key, Section};
use super::source::{Places, join};
use super::{appliances, problem};
use std::cell::RefCell;
use std::ops::Range;
use toml::de::{DeTable, DeValue};

/// The problems found so far, and the places to mark.
pub(super) struct Findings {
    list: RefCell<Vec<Problem>>,
    places: Places,
    /// The whole of what a file of this kind may hold, for hints about keys in the wrong place.
    document: Option<&'static Section>,
}

impl Findings {
    pub fn new(places: Places, document: Option<&'static Section>) -> Self {
        Findings { list: RefCell::new(Vec::new()), places, document }
    }

    /// Takes in a problem and finds its places.
    pub fn push(&self, problem: Problem) {
        self.list.borrow_mut().push(self.places.locate(problem));
    }

    /// Whether no error was found at this key or inside it; checks that compare keys ask first, so that one cause is
    /// reported once.
    pub fn clean(&self, key: &str) -> bool {
        !self.list.borrow().iter().any(|problem| {
            problem.level == Level::Error
                && problem.key.strip_prefix(key).is_some_and(|rest| rest.is_empty() || rest.starts_with('.'))
        })
    }

    /// Whether there is any error.
    pub fn any_error(&self) -> bool {
        self.list.borrow().iter().any(|problem| problem.level == Level::Error)
    }

    /// What was made of the file, with its places and problems; the problems alone where one is an error.
    pub fn verdict<T>(self, made: Option<T>) -> Result<(T, Places, Vec<Problem>), Vec<Problem>> {
        let failed = self.any_error();
        let (mut problems, places) = self.into_parts();
        problem::sort(&mut problems);
        match made {
            Some(made) if !failed => Ok((made, places, problems)),
            _ => Err(problems),
        }
    }

    pub fn into_parts(self) -> (Vec<Problem>, Places) {
        (self.list.into_inner(), self.places)
    }
}

/// A section that was read.
pub(super) struct Fields<'t> {
    path: String,
    header: Option<Range<usize>>,
    section: &'t Section,
    table: &'t DeTable<'t>,
    findings: &'t Findings,
    stands_in: Option<StandIn<'t>>,
    /// Keys that a misspelt one most likely means.
    misspelt: Vec<&'static str>,
    /// What stands at each key of the section, in its order.
    entries: Vec<Entry<'t>>,
}

/// A table that gives what another leaves out.
struct StandIn<'t> {
    table: &'t DeTable<'t>,
    /// What named it: marked when something in it does not suit.
    named_at: Range<usize>,
    /// Whether it is of another kind, and does not give what only some kinds have.
    of_another_kind: bool,
}

enum Entry<'t> {
    /// Nothing, or nothing that can be used.
    None,
    Value(Held),
    One(Fields<'t>),
    Many(Vec<Fields<'t>>),
}

impl<'t> Fields<'t> {
    /// The document itself.
    pub fn root(table: &'t DeTable<'t>, section: &'t Section, findings: &'t Findings) -> Self {
        Fields::new(String::new(), table, None, section, findings)
    }

    /// The table that stands at an item, if it is one.
    pub fn of(item: &Item<'t>, section: &'t Section) -> Option<Self> {
        let table = item.value.as_table()?;
        Some(Fields::new(item.key.clone(), table, Some(item.span.clone()), section, item.findings))
    }

    fn new(
        path: String,
        table: &'t DeTable<'t>,
        header: Option<Range<usize>>,
        section: &'t Section,
        findings: &'t Findings,
    ) -> Self {
        let mut fields = Fields {
            path,
            header,
            section,
            table,
            findings,
            stands_in: None,
            misspelt: Vec::new(),
            entries: Vec::new(),
        };
        if section.key("like").is_some() {
            fields.like();
        }
        let kind = fields.kind();
        let mut missing = Vec::new();
        for key in &section.keys {
            fields.entries.push(match fields.item(key.name) {
                Some(item) => fields.entry(key, &item),
                None => {
                    if key.required_of(kind) {
                        let problem = fields.missing(key);
                        missing.push(match kind {
                            Some(_) if key.of_a_kind() => {
                                (key.name, problem.against(fields.key("kind"), "this kind needs it"))
                            }
                            _ => (key.name, problem),
                        });
                    }
                    Entry::None
                }
            });
            fields.of_another_kind(key, kind);
        }
        fields.misspelt = fields.unknown();
        missing.retain(|(name, _)| !fields.misspelt.contains(name));
        missing.into_iter().for_each(|(_, problem)| findings.push(problem));
        fields
    }

    fn entry(&self, key: &'t Key, item: &Item<'t>) -> Entry<'t> {
        match &key.holds {
            Holds::Value(form) => form.take(item).map_or(Entry::None, Entry::Value),
            Holds::One(section) => match Fields::of(item, section) {
                Some(fields) => Entry::One(fields),
                None => {
                    let help = match item.value {
                        DeValue::Array(_) => format!("write [{}] with single brackets, once", item.key),
                        _ => format!("write a section [{}] with its keys below it", item.key),
                    };
                    item.refuse(Fault::new("must be a section of its own").help(help), "one section".into());
                    Entry::None
                }
            },
            Holds::Few(section) if !matches!(item.value, DeValue::Array(_)) => match Fields::of(item, section) {
                Some(fields) => Entry::Many(vec![fields]),
                None => {
                    let help = format!("write a section [{}] with its keys below it", item.key);
                    item.refuse(Fault::new("must be a section of its own").help(help), String::new());
                    Entry::None
                }
            },
            Holds::Many(section) | Holds::Few(section) => {
                let help = || format!("write [[{}]] with double brackets, one for each", key.name);
                let Some(entries) = item.entries() else {
                    item.refuse(Fault::new("must be a list of sections").help(help()), String::new());
                    return Entry::None;
                };
                if let Some(problem) = too_many(key.name, entries.len(), item) {
                    self.findings.push(problem);
                    return Entry::None;
                }
                let read = |entry: Item<'t>| {
                    let fields = Fields::of(&entry, section);
                    if fields.is_none() {
                        entry.refuse(Fault::new("must be a section").help(help()), String::new());
                    }
                    fields
                };
                Entry::Many(entries.into_iter().filter_map(read).collect())
            }
        }
    }

    /// Looks up an appliance and lets it stand in for what the file leaves out.
    fn like(&mut self) {
        let Some(item) = self.item("like") else { return };
        let (named, wrong) = appliances::named(&item);
        if let Some(fault) = wrong {
            item.refuse(fault, appliances::LIKE.allowed());
        }
        let Some(appliance) = named else { return };
        let said = self.table.get("kind").and_then(|kind| self.section.kind_named(kind.get_ref().as_str()?));
        let its = appliance.table.get("kind").and_then(|kind| self.section.kind_named(kind.get_ref().as_str()?));
        let of_another_kind = said.is_some() && said != its;
        self.stands_in = Some(StandIn { table: &appliance.table, named_at: item.span, of_another_kind });
    }

    /// The kind of a section that has kinds, said or told by what else is given; nothing where it is said wrongly.
    pub fn kind(&self) -> Option<&'static str> {
        match self.item("kind").filter(|_| !self.section.kinds.is_empty()) {
            Some(item) => self.section.kind_named(item.value.as_str()?),
            None => {
                let told = |(_, told_by): &&(&str, &str)| told_by.is_empty() || self.has(told_by);
                self.section.kinds.iter().find(told).map(|(kind, _)| *kind)
            }
        }
    }

    /// Tells of a key that this kind does not have.
    fn of_another_kind(&self, key: &Key, kind: Option<&str>) {
        let Some(kind) = kind.filter(|kind| self.says(key.name) && key.foreign_to(kind)) else { return };
        let help = key.not_for.map_or_else(
            || {
                let kinds: Vec<String> = key.only.iter().map(|kind| format!("\"{kind}\"")).collect();
                let kinds: Vec<&str> = kinds.iter().map(String::as_str).collect();
                format!("leave it out, or write kind = {}", either(&kinds))
            },
            |(_, help)| help.to_string(),
        );
        let of = self.path.split('.').next().unwrap_or("load");
        let what = format!("has no meaning for a {of} of kind \"{kind}\"");
        self.findings.push(Problem::error(self.key(key.name), what).help(help).against(self.key("kind"), "this kind"));
    }

    /// Tells of keys that the section does not have; returns those that are most likely meant, so that a misspelt key that
    /// must be there is one problem, not two.
    fn unknown(&self) -> Vec<&'static str> {
        // In the order of the file, so that the first of two misspellings gets the name.
        let mut unknown: Vec<_> =
            self.table.iter().filter(|(key, _)| self.section.key(key.get_ref()).is_none()).collect();
        unknown.sort_by_key(|(key, _)| key.span().start);
        let names = || self.section.keys.iter().map(|key| key.name);
        let mut meant = Vec::new();
        let mut free: Vec<&'static str> = names().filter(|name| !self.says(name)).collect();
        for (key, value) in unknown {
            let word = key.get_ref().as_ref();
            let shown = tidy(word);
            let noun = match value.get_ref() {
                DeValue::Table(_) => "section",
                DeValue::Array(list) if list.iter().any(|entry| entry.get_ref().is_table()) => "section",
                _ => "key",
            };
            let what = format!("is not a known {noun}");
            let mut problem = Problem::error(self.key(&shown), what).at(Some(key.span())).found(format!("`{shown}`"));
            if let Some(near) = nearest(word, free.iter().copied()) {
                meant.extend(free.extract_if(.., |name| *name == near));
                problem = problem.allowed(format!("`{near}`")).help(format!("did you mean `{near}`?"));
            } else if let Some(home) = self.findings.document.and_then(|document| document.home_of(word, &self.path)) {
                problem =
                    problem.help(format!("`{shown}` belongs under {home}: a section runs until the next [header]"));
            } else {
                problem = problem.allowed(names().collect::<Vec<_>>().join(", "));
            }
            self.findings.push(problem);
        }
        meant
    }

    /// What stands in for a key.
    fn instead(&self, name: &str) -> Option<(&'t DeValue<'t>, Range<usize>)> {
        let hidden =
            |stand_in: &&StandIn| stand_in.of_another_kind && self.section.key(name).is_some_and(Key::of_a_kind);
        let stand_in = self.stands_in.as_ref().filter(|stand_in| !hidden(stand_in))?;
        Some((stand_in.table.get(name)?.get_ref(), stand_in.named_at.clone()))
    }

    /// Where the section stands.
    pub fn path(&self) -> &str {
        &self.path
    }

    /// Full path of one of this section's keys.
    pub fn key(&self, name: &str) -> String {
        join(&self.path, name)
    }

    /// Where problems go.
    pub fn findings(&self) -> &'t Findings {
        self.findings
    }

    /// Whether the key is there, right or wrong.
    pub fn has(&self, name: &str) -> bool {
        self.says(name) || self.instead(name).is_some()
    }

    /// Whether the file itself says it.
    pub fn says(&self, name: &str) -> bool {
        self.table.contains_key(name)
    }

    /// Whether a key that is not there is most likely meant by a misspelt one, which is told.
    pub fn misspells(&self, name: &str) -> bool {
        self.misspelt.contains(&name)
    }

    /// What stands at a key.
    pub fn item(&self, name: &str) -> Option<Item<'t>> {
        let (value, span) = match self.table.get(name) {
            Some(value) => (value.get_ref(), value.span()),
            None => self.instead(name)?,
        };
        Some(Item { key: self.key(name), span, value, findings: self.findings })
    }

    /// Refuses what stands at a key.
    pub fn refuse(&self, name: &str, fault: Fault) {
        if let (Some(item), Some((key, _))) = (self.item(name), self.at(name)) {
            item.refuse(fault, key.to_write("").0);
        }
    }

    fn at(&self, name: &str) -> Option<(&'t Key, &Entry<'t>)> {
        let place = self.section.keys.iter().position(|key| key.name == name);
        debug_assert!(place.is_some(), "the schema has no {}", self.key(name));
        place.and_then(|place| Some((&self.section.keys[place], self.entries.get(place)?)))
    }

    /// The value of a key; its default where it is absent or wrong and has one.
    pub fn get<T: Clone + 'static>(&self, name: &str) -> Option<T> {
        self.get_of(name, &[""])
    }

    /// As [`Self::get`], where the default hangs on what else is given: the first of the names that has one.
    pub fn get_of<T: Clone + 'static>(&self, name: &str, of: &[&str]) -> Option<T> {
        let (key, entry) = self.at(name)?;
        let held = match entry {
            Entry::Value(held) => held,
            _ => of.iter().find_map(|of| key.default_of(of))?,
        };
        let value = held.downcast_ref::<T>();
        debug_assert!(value.is_some(), "another type at {}", self.key(name));
        value.cloned()
    }

    /// The value of a key that must be there after all; that it is missing is told.
    pub fn needed<T: Clone + 'static>(&self, name: &str) -> Option<T> {
        let (key, _) = self.at(name)?;
        if !self.has(name) && !self.misspelt.contains(&key.name) {
            self.findings.push(self.missing(key));
        }
        self.get(name)
    }

    fn missing(&self, key: &Key) -> Problem {
        let (allowed, line) = key.to_write(&self.path);
        Problem::error(self.key(key.name), "is missing").at(self.header.clone()).allowed(allowed).help(line)
    }

    /// The `[section]` under a key, if it is there.
    pub fn one(&self, name: &str) -> Option<&Fields<'t>> {
        match self.at(name)?.1 {
            Entry::One(fields) => Some(fields),
            _ => None,
        }
    }

    /// What the `[[sections]]` under a key are read as; nothing where one of them cannot be used.
    pub fn all<T>(&self, name: &str, read: impl FnMut(&Fields<'t>) -> Option<T>) -> Option<Vec<T>> {
        let read: Vec<Option<T>> = self.many(name).iter().map(read).collect();
        read.into_iter().collect()
    }

    /// The `[[sections]]` under a key, possibly none.
    pub fn many(&self, name: &str) -> &[Fields<'t>] {
        match self.at(name) {
            Some((_, Entry::Many(list))) => list,
            _ => &[],
        }
    }
}

/// Most `[[sections]]` of one name in a file.
const MOST_SECTIONS: usize = 64;
/// Most kits of a catalogue.
pub(super) const MOST_KITS: usize = 1_000;

/// More sections than an answer can be worked out and told with.
pub(super) fn too_many(name: &str, found: usize, item: &Item) -> Option<Problem> {
    let most = if name == "kit" { MOST_KITS } else { MOST_SECTIONS };
    let problem = || {
        Problem::error(item.key.clone(), "has too many entries")
            .at(Some(item.span.clone()))
            .found(format!("{found} of them"))
            .allowed(format!("at most {most}"))
            .help("count things that are alike as one (a panel's count, one load of their watts together), or part the file")
    };
    (found > most).then(problem)
}

/// A value that cannot be wrong, from its text as it would stand in a file; a text may lack its quotes.
pub(super) fn told<F: Form>(form: &F, text: &str) -> Option<F::Output> {
    let quoted = format!("v = {:?}", text);
    let plain = format!("v = {text}");
    let document = DeTable::parse(&plain).or_else(|_| DeTable::parse(&quoted)).ok()?;
    let findings = Findings::new(Places::default(), None);
    Fields {
        path: String::new(),
        header: None,
        section: &Section::default(),
        table: document.get_ref(),
        findings: &findings,
        stands_in: None,
        misspelt: Vec::new(),
        entries: Vec::new(),
    }
    .item("v")
    .and_then(|item| item.read(form))
}
