//! Files from the disk.

use std::fs;
use std::io::{IsTerminal, Read};
use std::path::{Path, PathBuf};
use std::sync::Arc;

use super::Failure;
use super::output::tell_drawn;
use tideover::ask::Trouble;
use tideover::open::proof::{ProvedRecord, proved};
use tideover::open::{Files, OpenError, Opened, as_text, open};
use tideover::report::judged;
use tideover::scenario::{Level, Paint, Problem, Source, render};
use tideover::weather::{Climate, climate_file};

/// Largest file that is read \[bytes\].
const LARGEST: u64 = 500_000_000;

impl From<OpenError> for Failure {
    fn from(error: OpenError) -> Failure {
        match error {
            OpenError::Refused(found) => Failure::Refused(found),
            OpenError::Unfit(unfit) => Failure::Refused(Box::new((unfit.source.clone(), judged::refusal(&unfit)))),
            OpenError::File(text) => Failure::Input(text),
        }
    }
}

impl From<Trouble> for Failure {
    fn from(trouble: Trouble) -> Failure {
        match trouble {
            Trouble::Open(error) => error.into(),
            Trouble::Option { option, what } => Failure::Input(format!("error: --{option}{what}")),
            Trouble::Question(what) => told(what),
        }
    }
}

/// A folder on the disk.
pub struct Folder(PathBuf);

impl Folder {
    /// The folder of a file.
    pub fn of(path: &Path) -> Folder {
        Folder::at(path.parent().unwrap_or(Path::new(".")))
    }

    /// This one.
    pub fn at(folder: &Path) -> Folder {
        Folder(folder.to_path_buf())
    }
}

impl Files for Folder {
    fn bytes(&self, name: &str) -> Result<Vec<u8>, String> {
        read(&self.0.join(name))
    }
    fn reader(&self, name: &str) -> Result<Box<dyn Read + '_>, String> {
        Ok(Box::new(opened(&self.0.join(name))?))
    }
    fn has(&self, name: &str) -> bool {
        self.0.join(name).is_file()
    }
    fn shown(&self, name: &str) -> String {
        self.0.join(name).display().to_string()
    }
    fn near(&self, name: &str) -> Option<String> {
        near(&self.0.join(name)).map(|near| near.display().to_string())
    }
}

pub fn paint() -> Paint {
    if std::io::stderr().is_terminal() { Paint::Coloured } else { Paint::Plain }
}

/// Problems drawn beside the lines of their file, for the terminal.
pub fn drawn(source: &Source, problems: &[Problem]) -> String {
    render(source, problems, paint())
}

fn told(what: String) -> Failure {
    Failure::Input(format!("error: {what}"))
}

/// Reads a file as text or says plainly why not.
pub fn text_of(path: &Path) -> Result<String, Failure> {
    read(path).and_then(|bytes| as_text(bytes, &path.display().to_string())).map_err(told)
}

/// Reads a file or says plainly why not.
pub fn bytes_of(path: &Path) -> Result<Vec<u8>, Failure> {
    read(path).map_err(told)
}

/// Opens a file to be read from front to back, or says plainly why not.
pub fn reader_of(path: &Path) -> Result<impl Read, Failure> {
    opened(path).map_err(told)
}

fn read(path: &Path) -> Result<Vec<u8>, String> {
    let mut file = opened(path)?;
    let mut bytes = Vec::with_capacity(file.expected as usize);
    file.read_to_end(&mut bytes).map_err(|error| cannot_read(path, &error))?;
    Ok(bytes)
}

fn cannot_read(path: &Path, error: &std::io::Error) -> String {
    let reason = match error.kind() {
        std::io::ErrorKind::NotFound => "there is no such file".to_string(),
        std::io::ErrorKind::PermissionDenied => "it may not be read (permission denied)".to_string(),
        _ => error.to_string(),
    };
    let missing = error.kind() == std::io::ErrorKind::NotFound;
    let near = if missing { near(path) } else { None };
    let help = near.map_or(String::new(), |near| format!("\n  = help: did you mean {}?", near.display()));
    format!("cannot read {}: {reason}{help}", path.display())
}

fn opened(path: &Path) -> Result<Bounded, String> {
    if path.is_dir() {
        return Err(format!("{} is a folder; a file is wanted", path.display()));
    }
    super::output::note_read(path);
    Bounded::open(path).map_err(|error| cannot_read(path, &error))
}

/// A file of up to [`LARGEST`] bytes: a pipe without end would fill the memory.
struct Bounded {
    file: fs::File,
    /// Bytes that it is said to have; a pipe says none.
    expected: u64,
    /// Bytes that may still come.
    left: u64,
}

impl Bounded {
    fn open(path: &Path) -> std::io::Result<Bounded> {
        let file = fs::File::open(path)?;
        let expected = file.metadata()?.len();
        if expected > LARGEST {
            return Err(too_large(&format!("{:.0} MB", expected as f64 / 1e6)));
        }
        Ok(Bounded { file, expected, left: LARGEST })
    }
}

impl Read for Bounded {
    fn read(&mut self, into: &mut [u8]) -> std::io::Result<usize> {
        let read = self.file.read(into)?;
        self.left = self.left.checked_sub(read as u64).ok_or_else(|| too_large("more"))?;
        Ok(read)
    }
}

fn too_large(found: &str) -> std::io::Error {
    std::io::Error::other(format!("it has {found}; allowed: at most {} MB", LARGEST / 1_000_000))
}

/// A file beside the missing one with nearly the same name.
fn near(path: &Path) -> Option<PathBuf> {
    let wanted = path.file_name()?.to_string_lossy().to_lowercase();
    let folder = path.parent().filter(|p| !p.as_os_str().is_empty()).unwrap_or(Path::new("."));
    let mut best: Option<(usize, PathBuf)> = None;
    for entry in fs::read_dir(folder).ok()?.flatten() {
        let name = entry.file_name().to_string_lossy().to_lowercase();
        let distance = strsim::damerau_levenshtein(&wanted, &name);
        let candidate = folder.join(entry.file_name());
        // A link that leads nowhere has the very name that was asked for.
        if path.file_name() == Some(&*entry.file_name()) {
            continue;
        }
        if distance <= 3 && best.as_ref().is_none_or(|(d, p)| (distance, &candidate) < (*d, p)) {
            best = Some((distance, candidate));
        }
    }
    best.map(|(_, path)| path)
}

/// Reads a scenario and everything it names; a kit whose parts must not be put together is refused.
pub fn load(path: &Path, step_minutes: u32) -> Result<Opened, Failure> {
    Ok(judge(path, step_minutes)?.usable()?)
}

/// As [`load`], for a scenario given as text, with the folder of the files that it names.
///
/// * `beside` — a scenario opened before, whose weather is shared where place and outage are the same.
pub fn load_text(source: Source, folder: &Path, step_minutes: u32, beside: Option<&Opened>) -> Result<Opened, Failure> {
    Ok(open(source, Arc::new(Folder::at(folder)), step_minutes, beside)?.usable()?)
}

/// Reads a scenario and everything it names, and judges whether its parts fit.
pub fn judge(path: &Path, step_minutes: u32) -> Result<Opened, Failure> {
    let source = Source::new(path.display().to_string(), text_of(path)?);
    Ok(open(source, Arc::new(Folder::of(path)), step_minutes, None)?)
}

/// Tells what is to be said of a scenario that is answered; cautions for safety even when nothing else is told.
pub fn tell_remarks(loaded: &Opened, quiet: bool) {
    let mut shown = judged::remarks(loaded);
    shown.retain(|remark| remark.level == Level::Note || !quiet);
    tell_problems(&loaded.source, &shown);
}

/// Draws problems beside the lines of their file, where there are any.
pub fn tell_problems(source: &Source, problems: &[Problem]) {
    if !problems.is_empty() {
        tell_drawn(&format!("{}\n", drawn(source, problems)));
    }
}

/// Reads a record with its logs and proves it.
pub fn record(path: &Path) -> Result<ProvedRecord, Failure> {
    Ok(proved(Source::new(path.display().to_string(), text_of(path)?), &Folder::of(path))?)
}

/// Reads a climate file.
pub fn climate_file(path: &Path) -> Result<Climate, Failure> {
    climate_file::read(&text_of(path)?, &path.display().to_string()).map_err(|error| told(error.to_string()))
}
