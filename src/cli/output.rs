//! Progress on the terminal, stopping by Ctrl-C, and files written whole or not at all.

use std::fs;
use std::io::{self, Write};
use std::path::{Path, PathBuf};
use std::sync::Mutex;
use std::sync::atomic::{AtomicBool, Ordering};

use indicatif::{ProgressBar, ProgressDrawTarget, ProgressStyle};

use clap::Args;
use serde::Serialize;

use super::Failure;
use tideover::ask::Answer;
use tideover::report::document::{COLUMNS, Document};
use tideover::report::figure::Figure;
use tideover::report::json;
use tideover::trials::Progress;
use tideover::visible::visible;

static STOP: AtomicBool = AtomicBool::new(false);
/// Whether there is work that looks at [`STOP`].
static AT_WORK: AtomicBool = AtomicBool::new(false);

/// Lets Ctrl-C end the program with exit code 3, at once as long as no trials have begun.
pub fn mind_interrupts() {
    // Without a handler Ctrl-C ends the program as it does any other.
    let _ = ctrlc::set_handler(interrupt);
}

/// Ctrl-C asks for the answer of what has been done so far; a second one does not wait for it.
fn interrupt() {
    let at_work = AT_WORK.load(Ordering::Relaxed);
    if STOP.swap(true, Ordering::Relaxed) || !at_work {
        if !at_work {
            tell("stopped before there was an answer\n");
        }
        if let Ok(mut pending) = PENDING.lock() {
            for beside in pending.drain(..) {
                let _ = fs::remove_file(beside);
            }
        }
        std::process::exit(3);
    }
}

/// A bar on the terminal (nowhere else) that Ctrl-C can stop.
pub struct Bar(ProgressBar);

impl Bar {
    pub fn new(trials: u64, quiet: bool) -> Bar {
        Bar::counting("outages", trials, quiet)
    }

    /// A bar that counts something else than outages.
    pub fn counting(what: &str, trials: u64, quiet: bool) -> Bar {
        AT_WORK.store(true, Ordering::Relaxed);
        let bar = ProgressBar::with_draw_target(
            Some(trials),
            if quiet { ProgressDrawTarget::hidden() } else { ProgressDrawTarget::stderr() },
        );
        if let Ok(style) =
            ProgressStyle::with_template(&format!("  {{human_pos}} of {{human_len}} {what} {{wide_bar}} {{eta}} left"))
        {
            bar.set_style(style.progress_chars("=> "));
        }
        Bar(bar)
    }

    pub fn finish(&self) {
        self.0.finish_and_clear();
    }
}

impl Progress for Bar {
    fn done(&self, trials: u64) {
        self.0.set_position(trials);
    }
    fn stop(&self) -> bool {
        STOP.load(Ordering::Relaxed)
    }
}

/// The files that were read and those that are to be written, so that none is written over.
static READ: Mutex<Vec<PathBuf>> = Mutex::new(Vec::new());
static WRITTEN: Mutex<Vec<PathBuf>> = Mutex::new(Vec::new());
/// Files beside those that are to be written, not in their place yet.
static PENDING: Mutex<Vec<PathBuf>> = Mutex::new(Vec::new());

/// Notes that a file is read.
pub fn note_read(path: &Path) {
    if let (Ok(path), Ok(mut read)) = (fs::canonicalize(path), READ.lock()) {
        read.push(path);
    }
}

/// A file that appears whole when it is committed and not at all otherwise.
pub struct PendingFile {
    path: PathBuf,
    /// Where it is written first; `None` for devices and pipes, which are written to as they are.
    beside: Option<PathBuf>,
    /// Whether it may be a file that was read.
    kept: bool,
}

impl PendingFile {
    /// Tries whether the file can be written, before the long work. A file that was read, or that is to be written already,
    /// is refused.
    pub fn open(path: &Path) -> Result<PendingFile, Failure> {
        let file = PendingFile::ready(path, false)?;
        file.refuse_input()?;
        file.claim(path)?;
        Ok(file)
    }

    /// The same for a file that is kept from run to run, read and written; to be called before it is read.
    pub fn claim_kept(path: &Path) -> Result<(), Failure> {
        let file = PendingFile::ready(path, false)?;
        file.refuse_input()?;
        file.claim(path)
    }

    /// A file that was claimed by [`PendingFile::claim_kept`].
    pub fn open_kept(path: &Path) -> Result<PendingFile, Failure> {
        PendingFile::ready(path, true)
    }

    /// Nothing else is written to the same file.
    fn claim(&self, path: &Path) -> Result<(), Failure> {
        if let Ok(mut written) = WRITTEN.lock() {
            if self.beside.is_some() && written.contains(&self.path) {
                return Err(wrong(path, "another answer goes into the same file".into()));
            }
            written.push(self.path.clone());
        }
        Ok(())
    }

    fn ready(path: &Path, kept: bool) -> Result<PendingFile, Failure> {
        if path.is_dir() {
            return Err(wrong(path, "it is a folder".into()));
        }
        if path == Path::new("-") {
            return Err(wrong(path, "it names no file; without the option the answer is printed".into()));
        }
        // A link stays a link: what it leads to is written.
        let real = match fs::canonicalize(path) {
            Ok(real) => real,
            Err(_) => {
                let (Some(name), Some(parent)) = (path.file_name(), path.parent()) else {
                    return Err(wrong(path, "it names no file".into()));
                };
                let parent = if parent.as_os_str().is_empty() { Path::new(".") } else { parent };
                fs::canonicalize(parent).map_err(|error| wrong(path, error.to_string()))?.join(name)
            }
        };
        if fs::metadata(&real).is_ok_and(|data| !data.is_file()) {
            return Ok(PendingFile { path: real, beside: None, kept });
        }
        let Some(name) = real.file_name() else { return Err(wrong(path, "it names no file".into())) };
        let mut hidden = std::ffi::OsString::from(".");
        hidden.push(name);
        hidden.push(format!(".{}.part", std::process::id()));
        let beside = real.with_file_name(hidden);
        fs::write(&beside, b"").map_err(|error| wrong(path, error.to_string()))?;
        if let Ok(mut pending) = PENDING.lock() {
            pending.push(beside.clone());
        }
        Ok(PendingFile { path: real, beside: Some(beside), kept })
    }

    /// An answer never takes the place of what it was worked out from.
    fn refuse_input(&self) -> Result<(), Failure> {
        let read = READ.lock().is_ok_and(|read| read.contains(&self.path));
        if read && !self.kept && self.beside.is_some() {
            return Err(wrong(&self.path, "it was read for this answer and would be lost; give another name".into()));
        }
        Ok(())
    }

    /// Writes the text and puts the file in its place.
    pub fn commit(self, text: &str) -> Result<(), Failure> {
        self.refuse_input()?;
        let done = match &self.beside {
            Some(beside) => fs::write(beside, text).and_then(|()| fs::rename(beside, &self.path)),
            None => {
                fs::OpenOptions::new().write(true).open(&self.path).and_then(|mut out| out.write_all(text.as_bytes()))
            }
        };
        done.map_err(|error| Failure::Other(format!("cannot write {}: {error}", self.path.display())))
    }
}

fn wrong(path: &Path, why: String) -> Failure {
    Failure::Input(format!("error: cannot write {}: {why}", path.display()))
}

impl Drop for PendingFile {
    fn drop(&mut self) {
        // After a commit there is nothing left to remove.
        if let Some(beside) = &self.beside {
            let _ = fs::remove_file(beside);
            if let Ok(mut pending) = PENDING.lock() {
                pending.retain(|other| other != beside);
            }
        }
    }
}

/// Where an answer goes.
#[derive(Debug, Args)]
pub struct OutputArgs {
    /// Print the answer as JSON
    #[arg(long)]
    json: bool,
    /// Also write the answer as one self-contained page
    #[arg(long, value_name = "FILE")]
    html: Option<PathBuf>,
    /// Write the answer to a file instead of printing it
    #[arg(long, short, value_name = "FILE")]
    out: Option<PathBuf>,
    /// Also write the data of every picture into a folder, each as NAME.csv; it is made where it is not there
    #[arg(long, value_name = "FOLDER")]
    figures: Option<PathBuf>,
}

/// Where an answer goes, its files tried.
pub struct Outlets {
    json: bool,
    html: Option<PendingFile>,
    out: Option<PendingFile>,
    figures: Option<PathBuf>,
}

impl OutputArgs {
    /// Refuses a folder for pictures, of a command whose answer has none.
    pub fn no_figures(&self, command: &str) -> Result<(), Failure> {
        match &self.figures {
            None => Ok(()),
            Some(folder) => Err(Failure::Input(format!(
                "error: --figures {} cannot be given to {command}, whose answer has no pictures; allowed: --html, --json",
                folder.display()
            ))),
        }
    }

    /// Tries the files before the long work.
    pub fn open(&self) -> Result<Outlets, Failure> {
        let out = self.out.as_deref().map(PendingFile::open).transpose()?;
        let html = self.html.as_deref().map(PendingFile::open).transpose()?;
        let figures = self.figures.as_deref().map(folder).transpose()?;
        Ok(Outlets { json: self.json, html, out, figures })
    }
}

impl Outlets {
    /// An answer as text, at most `columns` wide, or as JSON.
    pub fn give_answer(self, answer: &Answer, columns: Option<usize>) -> Result<(), Failure> {
        self.give_either(&answer.document, columns, || answer.json.clone().unwrap_or_default())
    }

    /// The same of a document and facts of a kind.
    pub fn give(
        self,
        document: &Document,
        columns: Option<usize>,
        (kind, facts): (&str, &impl Serialize),
    ) -> Result<(), Failure> {
        self.give_either(document, columns, || json::text(kind, facts))
    }

    fn give_either(
        self,
        document: &Document,
        columns: Option<usize>,
        json: impl FnOnce() -> String,
    ) -> Result<(), Failure> {
        let page = self.html.map(|file| (file, document.page()));
        // All of them are opened before any is written.
        let figures: Vec<(PendingFile, String)> = match &self.figures {
            None => Vec::new(),
            Some(folder) => named(document)
                .into_iter()
                .map(|(name, figure)| Ok((PendingFile::open(&folder.join(name))?, figure.csv())))
                .collect::<Result<_, Failure>>()?,
        };
        let text = if self.json { json() } else { document.text(columns.unwrap_or_else(terminal_columns)) };
        match self.out {
            Some(file) => file.commit(&text)?,
            None => print(&text)?,
        }
        page.map_or(Ok(()), |(file, page)| file.commit(&page))?;
        figures.into_iter().try_for_each(|(file, data)| file.commit(&data))
    }

    /// Writes the page, where one is wanted, from a document of its own.
    pub fn write_page(&mut self, document: impl FnOnce() -> Document) -> Result<(), Failure> {
        self.html.take().map_or(Ok(()), |file| file.commit(&document().page()))
    }

    /// Something that is neither document nor JSON.
    pub fn give_text(self, text: &str) -> Result<(), Failure> {
        self.out.map_or_else(|| print(text), |file| file.commit(text))
    }
}

/// A folder to write into, made where it is not there.
pub fn folder(path: &Path) -> Result<PathBuf, Failure> {
    fs::create_dir_all(path).map_err(|error| wrong(path, format!("it cannot be made a folder: {error}")))?;
    Ok(path.to_path_buf())
}

/// A document's pictures with the names of their files: those of one name are numbered from the second on.
fn named(document: &Document) -> Vec<(String, &Figure)> {
    let mut out: Vec<(String, &Figure)> = Vec::new();
    for figure in document.figures() {
        let before = out.iter().filter(|(_, other)| other.name == figure.name).count();
        let number = if before > 0 { format!("-{}", before + 1) } else { String::new() };
        out.push((format!("{}{number}.csv", figure.name), figure));
    }
    out
}

/// How wide text may be: the terminal's width, or what is usual where none is there.
pub fn terminal_columns() -> usize {
    let term = console::Term::stdout();
    term.is_term().then(|| term.size_checked()).flatten().map_or(COLUMNS, |(_, columns)| usize::from(columns))
}

/// Prints an answer to standard output. A reader that has gone away (`| head`) is no error. What would steer the terminal is
/// written as TOML and JSON write it in their texts, so that those mean the same.
pub fn print(text: &str) -> Result<(), Failure> {
    let mut out = io::stdout().lock();
    match out.write_all(visible(text).as_bytes()).and_then(|()| out.flush()) {
        Err(error) if error.kind() != io::ErrorKind::BrokenPipe => {
            Err(Failure::Other(format!("cannot print the answer: {error}")))
        }
        _ => Ok(()),
    }
}

/// Says something on standard error, which nothing hangs on: one that cannot be written to (a full disk) is passed over.
/// Whatever a file or an option holds, it does not steer the terminal.
pub fn tell(text: &str) {
    tell_drawn(&visible(text));
}

/// The same of text that is safe to show and may be coloured.
pub fn tell_drawn(text: &str) {
    let mut out = anstream::stderr().lock();
    let _ = out.write_all(text.as_bytes()).and_then(|()| out.flush());
}
