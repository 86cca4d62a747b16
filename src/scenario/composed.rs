//! Forms made of others, and forms of their own.

use super::fields::Fields;
use super::forms::{Fault, Form, Item};
use super::schema::Section;
use serde_json::{Value as Json, json};

/// A form of its own.
pub(super) struct Custom<T: 'static> {
    pub allowed: &'static str,
    pub example: &'static str,
    pub read: fn(&Item) -> Result<T, Fault>,
    pub json: fn() -> Json,
}

impl<T: Clone + Send + Sync + 'static> Form for Custom<T> {
    type Output = T;
    fn allowed(&self) -> String {
        self.allowed.into()
    }
    fn example(&self) -> String {
        self.example.into()
    }
    fn read(&self, item: &Item) -> Result<T, Fault> {
        (self.read)(item)
    }
    fn json(&self) -> Json {
        (self.json)()
    }
}

/// A form whose value becomes something else.
pub(super) struct Map<F: Form, T>(pub F, pub fn(F::Output) -> T);

impl<F: Form, T: Clone + Send + Sync + 'static> Form for Map<F, T> {
    type Output = T;
    fn allowed(&self) -> String {
        self.0.allowed()
    }
    fn example(&self) -> String {
        self.0.example()
    }
    fn read(&self, item: &Item) -> Result<T, Fault> {
        self.0.read(item).map(self.1)
    }
    fn json(&self) -> Json {
        self.0.json()
    }
}

/// A table in braces with keys of its own, put together to one value.
pub(super) struct Braces<T> {
    /// Its keys.
    pub keys: Section,
    /// What is wrong with anything but a table.
    pub wrong: &'static str,
    /// How it is written.
    pub example: &'static str,
    /// Puts it together; nothing where something is wrong with it.
    pub build: fn(&Fields) -> Option<T>,
}

impl<T: Clone + Send + Sync + 'static> Form for Braces<T> {
    type Output = T;
    fn allowed(&self) -> String {
        self.example.into()
    }
    fn example(&self) -> String {
        self.example.into()
    }
    fn read(&self, item: &Item) -> Result<T, Fault> {
        let fields = Fields::of(item, &self.keys).ok_or_else(|| Fault::new(self.wrong))?;
        (self.build)(&fields).ok_or_else(Fault::told)
    }
    fn json(&self) -> Json {
        self.keys.json()
    }
}

/// One value, or a table in braces.
pub(super) struct OrBraces<F, T> {
    /// The one value.
    pub one: F,
    /// What is allowed in all, where it is not simply the one and the other.
    pub allowed: Option<&'static str>,
    /// The table.
    pub braces: Braces<T>,
}

impl<F: Form> Form for OrBraces<F, F::Output> {
    type Output = F::Output;
    fn allowed(&self) -> String {
        self.allowed.map_or_else(|| format!("{}, or {}", self.one.allowed(), self.braces.example), str::to_string)
    }
    fn example(&self) -> String {
        self.one.example()
    }
    fn read(&self, item: &Item) -> Result<F::Output, Fault> {
        if item.value.is_table() { self.braces.read(item) } else { self.one.read(item) }
    }
    fn json(&self) -> Json {
        json!({ "anyOf": [self.one.json(), self.braces.json()] })
    }
}
