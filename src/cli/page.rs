//! `tideover page`.

use std::collections::BTreeMap;
use std::path::{Path, PathBuf};
use std::sync::{Arc, Mutex, PoisonError};

use clap::Args;
use serde::Serialize;

use super::input::{Folder, text_of};
use super::output::PendingFile;
use super::{Done, Failure};
use tideover::ask;
use tideover::open::{Files, open};
use tideover::report::base64::base64;
use tideover::scenario::Source;

/// Arguments of `page`.
#[derive(Debug, Args)]
pub struct PageArgs {
    /// What to put in: scenarios; catalogues of kits, kit files and records of bench tests, whose kits may be picked in the sheet. The
    /// files that they name go with them
    #[arg(required = true, value_name = "SCENARIO or KITS")]
    scenarios: Vec<PathBuf>,
    /// The page with the engine, as it was built or published
    #[arg(long, value_name = "PAGE")]
    into: PathBuf,
    /// The page to write
    #[arg(long, short, value_name = "FILE")]
    out: PathBuf,
}

/// A folder that notes what was read from it.
struct Noted {
    folder: Folder,
    read: Mutex<BTreeMap<String, Vec<u8>>>,
}

impl Files for Noted {
    fn bytes(&self, name: &str) -> Result<Vec<u8>, String> {
        let bytes = self.folder.bytes(name)?;
        self.read.lock().unwrap_or_else(PoisonError::into_inner).insert(name.to_string(), bytes.clone());
        Ok(bytes)
    }
    fn has(&self, name: &str) -> bool {
        self.folder.has(name)
    }
    fn shown(&self, name: &str) -> String {
        self.folder.shown(name)
    }
    fn near(&self, name: &str) -> Option<String> {
        self.folder.near(name)
    }
}

/// A file as the page holds it.
#[derive(Debug, PartialEq, Serialize)]
#[serde(untagged)]
enum Content {
    Text(String),
    Packed { base64: String },
}

/// What the page finds in its element "scenarios".
#[derive(Debug, Serialize)]
struct Held {
    scenarios: Vec<String>,
    /// Those of the files from which kits can be picked.
    kits: Vec<String>,
    files: BTreeMap<String, Content>,
}

const BEGINS: &str = "<script type=\"application/json\" id=\"scenarios\">";
const ENDS: &str = "</script>";

/// Runs the command.
pub fn main(args: &PageArgs) -> Result<Done, Failure> {
    let page = text_of(&args.into)?;
    let place = page.find(BEGINS).map(|at| at + BEGINS.len());
    let place = place.and_then(|from| page[from..].find(ENDS).map(|length| from..from + length));
    let Some(place) = place else {
        return Err(Failure::Input(format!(
            "error: {} is not a page with the engine inside: it has no place for scenarios\n  = help: page/build.sh builds one",
            args.into.display()
        )));
    };
    let mut held = Held { scenarios: Vec::new(), kits: Vec::new(), files: BTreeMap::new() };
    for path in &args.scenarios {
        let name = path.file_name().map_or_else(String::new, |name| name.to_string_lossy().into_owned());
        let text = text_of(path)?;
        let files = Arc::new(Noted { folder: Folder::of(path), read: Mutex::default() });
        let offers_kits = ask::offers_kits(&text);
        if offers_kits {
            ask::kits(&*files, &name, 0.0)?;
            for named in ask::named_by_kits(&text).iter().filter(|named| files.has(named)) {
                // Read to be noted.
                files.bytes(named).map_err(|why| Failure::Input(format!("error: {}: {why}", path.display())))?;
            }
        } else {
            open(Source::new(path.display().to_string(), text.clone()), files.clone(), 60, None)?;
        }
        let read = std::mem::take(&mut *files.read.lock().unwrap_or_else(PoisonError::into_inner));
        for (name, content) in read {
            keep(&mut held, path, name, content)?;
        }
        keep(&mut held, path, name.clone(), text.into_bytes())?;
        let list = if offers_kits { &mut held.kits } else { &mut held.scenarios };
        if !list.contains(&name) {
            list.push(name);
        }
    }
    let out = PendingFile::open(&args.out)?;
    // `<` never ends the element from inside a string, written like this.
    let json = serde_json::to_string(&held).map_err(|error| Failure::Other(error.to_string()))?.replace('<', "\\u003c");
    out.commit(&format!("{}{json}{}", &page[..place.start], &page[place.end..]))?;
    Ok(Done::Answered)
}

/// Takes a file in; another of the same name is refused.
fn keep(held: &mut Held, scenario: &Path, name: String, bytes: Vec<u8>) -> Result<(), Failure> {
    let content = String::from_utf8(bytes)
        .map_or_else(|bytes| Content::Packed { base64: base64(bytes.as_bytes()) }, Content::Text);
    if held.files.get(&name).is_some_and(|there| *there != content) {
        return Err(Failure::Input(format!(
            "error: {}: another file is called {name} too; in one page each needs a name of its own",
            scenario.display()
        )));
    }
    held.files.insert(name, content);
    Ok(())
}
