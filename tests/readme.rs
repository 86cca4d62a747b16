//! The README shows what the program prints. With `TIDEOVER_BLESS=1` its answer is written anew.

use std::fs;
use std::path::Path;
use std::process::Command;

const BEGIN: &str = "<!-- answer: begin -->\n";
const END: &str = "<!-- answer: end -->";
/// Lines of the answer that the README shows.
const LINES: usize = 33;

#[test]
fn the_readme_shows_what_its_first_command_prints() {
    let root = Path::new(env!("CARGO_MANIFEST_DIR"));
    let readme = fs::read_to_string(root.join("README.md")).expect("the README").replace("\r\n", "\n");
    assert!(
        readme.contains("cargo run --release -- run scenarios/winter-storm.toml\ncargo test\n"),
        "its two commands"
    );
    let output = Command::new(env!("CARGO_BIN_EXE_tideover"))
        .args(["run", "scenarios/winter-storm.toml", "--quiet"])
        .current_dir(root)
        .output()
        .expect("the binary starts");
    assert_eq!(output.status.code(), Some(0));
    let answer = String::from_utf8(output.stdout).expect("text");
    let shown: Vec<&str> = answer.lines().take(LINES).collect();
    assert_eq!(shown.len(), LINES, "the answer is shorter than what the README shows");
    let block = format!("```text\n{}\n```\n", shown.join("\n").trim_end());
    let from = readme.find(BEGIN).expect("where the answer begins") + BEGIN.len();
    let to = readme.find(END).expect("where it ends");
    if std::env::var_os("TIDEOVER_BLESS").is_some() {
        let text = format!("{}{block}{}", &readme[..from], &readme[to..]);
        fs::write(root.join("README.md"), text).expect("a README that can be written");
        return;
    }
    assert_eq!(&readme[from..to], block, "run with TIDEOVER_BLESS=1 and read the difference");
}
