//! What a page's script calls. Bytes come in through a room that the script fills and go out from where the answer lies; both are
//! the engine's own memory, and the script writes and reads between calls alone.
#![allow(unsafe_code)] // Names that the script finds; no memory is touched here but by safe means.

use std::collections::BTreeMap;
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::{Arc, LazyLock, Mutex, MutexGuard, PoisonError};

use super::{Last, Question};
use crate::trials::Progress;

#[link(wasm_import_module = "page")]
unsafe extern "C" {
    /// Told after each round how many trials are done; anything but 0 ends the run.
    safe fn progress(trials: f64) -> i32;
    /// Told what went wrong inside before the engine ends.
    safe fn broken(at: *const u8, length: usize);
}

#[derive(Default)]
struct Engine {
    room: Vec<u8>,
    answer: Vec<u8>,
    files: Arc<BTreeMap<String, Vec<u8>>>,
    last: Last,
    /// The file that was asked about last: what it says is read anew each time.
    about: String,
}

static ENGINE: LazyLock<Mutex<Engine>> = LazyLock::new(Mutex::default);
static STOP: AtomicBool = AtomicBool::new(false);

fn engine() -> MutexGuard<'static, Engine> {
    ENGINE.lock().unwrap_or_else(PoisonError::into_inner)
}

struct Script;

impl Progress for Script {
    fn done(&self, trials: u64) {
        if progress(trials as f64) != 0 {
            STOP.store(true, Ordering::Relaxed);
        }
    }
    fn stop(&self) -> bool {
        STOP.load(Ordering::Relaxed)
    }
}

/// To be called once, first.
#[unsafe(no_mangle)]
pub extern "C" fn begin() {
    std::panic::set_hook(Box::new(|panic| {
        let text = panic.to_string();
        broken(text.as_ptr(), text.len());
    }));
}

/// Makes room for so many bytes and says where.
#[unsafe(no_mangle)]
pub extern "C" fn room(bytes: usize) -> *mut u8 {
    let mut engine = engine();
    engine.room = vec![0; bytes];
    engine.room.as_mut_ptr()
}

/// Keeps a file: the room holds its name, of so many bytes, and behind it what is in it.
#[unsafe(no_mangle)]
pub extern "C" fn keep(name_bytes: usize) {
    let mut engine = engine();
    let room = std::mem::take(&mut engine.room);
    let (name, content) = room.split_at(name_bytes.min(room.len()));
    let name = String::from_utf8_lossy(name).into_owned();
    if name != engine.about {
        engine.last = Last::default();
    }
    Arc::make_mut(&mut engine.files).insert(name, content.to_vec());
}

/// Forgets all files.
#[unsafe(no_mangle)]
pub extern "C" fn forget() {
    let mut engine = engine();
    (engine.files, engine.last) = (Arc::new(BTreeMap::new()), Last::default());
}

/// Answers the question in the room; returns the answer's length in bytes.
#[unsafe(no_mangle)]
pub extern "C" fn ask() -> usize {
    let (question, files, mut last) = {
        let mut engine = engine();
        (std::mem::take(&mut engine.room), engine.files.clone(), std::mem::take(&mut engine.last))
    };
    STOP.store(false, Ordering::Relaxed);
    let question = String::from_utf8_lossy(&question);
    let about = serde_json::from_str::<Question>(&question).ok().and_then(|question| question.file);
    let answer = super::answer_after(&mut last, &question, &files, &Script);
    let mut engine = engine();
    engine.last = last;
    if let Some(about) = about {
        engine.about = about;
    }
    engine.answer = answer.into_bytes();
    engine.answer.len()
}

/// Where the last answer lies.
#[unsafe(no_mangle)]
pub extern "C" fn answered() -> *const u8 {
    engine().answer.as_ptr()
}
