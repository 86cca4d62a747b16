//! A fact with its sentence, for JSON: the kind and the numbers of the fact, and the same in words under `text`.

use serde::Serialize;

/// What can be said in words.
pub trait Words {
    /// It in words.
    fn words(&self) -> String;
}

impl<T: Words + ?Sized> Words for &T {
    fn words(&self) -> String {
        (**self).words()
    }
}

/// A fact and the same in words.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Told<T> {
    /// Its kind and numbers.
    #[serde(flatten)]
    pub fact: T,
    /// It in words.
    pub text: String,
}

impl<T: Words> From<T> for Told<T> {
    fn from(fact: T) -> Told<T> {
        let text = fact.words();
        Told { fact, text }
    }
}

/// All of some facts, told.
pub fn all<T: Words>(facts: impl IntoIterator<Item = T>) -> Vec<Told<T>> {
    facts.into_iter().map(Told::from).collect()
}
