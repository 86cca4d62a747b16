//! What the fuzz targets begin with, and whatever they found: run through the same functions. `fuzz/README.md` says how to search on.

use std::fs;
use std::path::Path;

use tideover::random::{Purpose, Stream};

#[path = "../hostile/mod.rs"]
pub mod targets;

#[test]
fn nothing_found_breaks_a_promise_again() {
    let root = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/hostile");
    for (name, target) in targets::TARGETS {
        let mut tried = 0;
        for folder in ["seeds", "found"] {
            let Ok(cases) = fs::read_dir(root.join(folder).join(name)) else { continue };
            for case in cases {
                let path = case.expect("a case").path();
                // What a panic says does not name the case.
                println!("{}", path.display());
                target(&fs::read(path).expect("a case"));
                tried += 1;
            }
        }
        assert!(tried > 0, "no seed for {name}");
    }
}

/// Most made scenarios come far enough that their trials are tried.
#[test]
fn more_than_a_quarter_of_made_scenarios_is_answered() {
    let mut reached = [0_u32; 3];
    for case in 0..120 {
        let mut rng = Stream::new(11, case, Purpose::Outage);
        let bytes: Vec<u8> =
            (0..(2.0 + 22.0 * rng.uniform()) as usize).map(|_| (256.0 * rng.uniform()) as u8).collect();
        reached[targets::depth(&bytes) as usize] += 1;
    }
    println!("refused, opened, answered: {reached:?}");
    assert!(reached[2] > 30 && reached[0] > 10, "{reached:?}");
}
