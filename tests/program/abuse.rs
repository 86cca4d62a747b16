//! Hostile input: what a file, a name or an option holds steers no terminal and no spreadsheet, takes neither the memory nor the
//! afternoon, and is told in a message of a few lines.

use std::fs;
use std::io::Write as _;
use std::path::Path;
use std::process::{Output, Stdio};
use std::time::{Duration, Instant};

use tideover::weather::{Climate, climate_file, world};

use crate::program::{command, folder, root, tideover};

/// Red, the window's title, a bell; and what turns the direction of writing.
const ESCAPES: &str = "\u{1b}[31mred\u{1b}]0;title\u{7}";
const TURNED: &str = "\u{202e}gnp.exe";

fn demo(name: &str) -> String {
    fs::read_to_string(root().join("scenarios").join(name)).unwrap()
}

fn at(folder: &Path, arguments: &[&str]) -> Output {
    command(arguments).current_dir(folder).output().unwrap()
}

/// Nothing that steers comes out, on either side.
#[track_caller]
fn steers_nothing(output: &Output) {
    for text in [&output.stdout, &output.stderr] {
        let text = String::from_utf8_lossy(text);
        let steering = |c: char| (c.is_control() && c != '\n') || "\u{202e}\u{2066}\u{200f}\u{2028}".contains(c);
        assert!(!text.contains(steering), "{:?}", text.lines().find(|line| line.contains(steering)));
    }
}

#[track_caller]
fn refused(output: &Output, told: &[&str]) {
    let text = String::from_utf8_lossy(&output.stderr);
    assert_eq!(output.status.code(), Some(2), "{text}");
    assert!(output.stdout.is_empty());
    assert!(text.len() < 20_000, "a message of {} characters", text.len());
    for part in told {
        assert!(text.contains(part), "{part:?} is not in {text}");
    }
    steers_nothing(output);
}

#[test]
fn option_values_steer_no_terminal() {
    let storm = "scenarios/winter-storm.toml";
    for nasty in [ESCAPES, TURNED] {
        let file = format!("{nasty}.toml");
        let commands: [&[&str]; 16] = [
            &[nasty],
            &["run", &file],
            &["run", storm, "--trials", nasty],
            &["run", storm, "--require", nasty],
            &["run", storm, nasty],
            &["now", storm, "--charge", nasty],
            &["now", storm, "--charge", "50%", "--sky", nasty],
            &["now", storm, "--charge", "50%", "--until", nasty],
            &["compare", storm, "--set", nasty],
            &["place", nasty],
            &["appliances", nasty],
            &["climate", "show", "--at", nasty],
            &["climate", "show", "--place", nasty],
            &["lineup", "scenarios/lineup/catalogue.toml", "--cases", nasty],
            &["lineup", "scenarios/lineup/catalogue.toml", "--cases", "scenarios/lineup/cases", "--part", nasty],
            &["schema", "--answer", nasty],
        ];
        for arguments in commands {
            let output = tideover(arguments);
            // What the reader of options refuses has its escapes taken out, everything else is written out.
            refused(&output, if nasty == TURNED { &["\\u202E"] } else { &["red"] });
        }
    }
}

#[test]
fn what_files_hold_and_are_called_steers_no_terminal() {
    let folder = folder("abuse", "steers");
    let storm = demo("winter-storm.toml");
    // A name may hold what turns the direction (writing in Arabic needs some of it): it is written out.
    let named = storm.replacen("name = \"fridge\"", "name = \"\\u202Efri\\u2066dge\"", 1);
    assert_ne!(named, storm);
    fs::write(folder.join("named.toml"), &named).unwrap();
    for more in [&[][..], &["--json"], &["--html", "page.html", "--out", "answer.txt"]] {
        let output = at(&folder, &[&["run", "named.toml", "--trials", "100"][..], more].concat());
        assert_eq!(output.status.code(), Some(0));
        steers_nothing(&output);
        assert!(more.len() > 1 || String::from_utf8_lossy(&output.stdout).contains("\\u202Efri\\u2066dge"));
    }
    for written in ["page.html", "answer.txt"] {
        let text = fs::read_to_string(folder.join(written)).unwrap();
        assert!(text.contains("\\u202Efri") && !text.contains('\u{202e}'), "{written}");
    }
    // What a spreadsheet, a log and a climate say.
    let csv = [
        ("cell.csv", format!("time_utc,ghi_w_m2\n{ESCAPES},1\n2020-01-01T00:00Z,{TURNED}\n")),
        ("head.csv", format!("{ESCAPES},{TURNED}\n1,2\n")),
        ("days.csv", format!("date,ghi_kwh_m2_day\n{TURNED},{ESCAPES}\n")),
        ("epw.csv", format!("LOCATION,{ESCAPES},x,y,z,w,{TURNED},1,0,0\n1,2\n")),
        ("tmy.csv", format!("1,{ESCAPES},x,-5,{TURNED},1,1\nDate (MM/DD/YYYY),{TURNED}\n1,2\n")),
    ];
    for (name, text) in &csv {
        fs::write(folder.join(name), text).unwrap();
        refused(&at(&folder, &["climate", "fit", name, "--at", "44,-72"]), &[name]);
    }
    let name = format!("{ESCAPES}{TURNED}");
    let climate = Climate { name, ..world::lookup(44.0, -72.0, None).expect("land") };
    fs::write(folder.join("far.toml"), climate_file::write(&climate)).unwrap();
    let shown = at(&folder, &["climate", "show", "--file", "far.toml"]);
    steers_nothing(&shown);
    assert!(shown.status.success() && String::from_utf8_lossy(&shown.stdout).contains("\\u001B[31mred"));
    // Names of files, where the system lets them be so.
    let name = format!("a{ESCAPES}{TURNED}.toml");
    if fs::write(folder.join(&name), storm.replacen("watts", "wats", 1)).is_ok() {
        refused(&at(&folder, &["run", &name]), &["\\u001B", "\\u202E", "`watts`"]);
    }
    // Results that another hand wrote.
    fs::write(folder.join("x.tsv"), format!("# tideover line-up results {ESCAPES}{TURNED}\n")).unwrap();
    let cases = root().join("scenarios/lineup/cases/van-week.toml").display().to_string();
    let catalogue = root().join("scenarios/lineup/catalogue.toml").display().to_string();
    refused(&at(&folder, &["lineup", &catalogue, "--cases", &cases, "--join", "x.tsv"]), &["x.tsv", "line 1"]);
}

#[test]
fn a_spreadsheet_works_nothing_out_of_a_table_written() {
    let folder = folder("abuse", "formulas");
    let kits = "name,capacity_wh,dc_w,usb_w,solar_w,panels,panel_w\n\"=HYPERLINK(\"\"x\"\")\",300,120,60,120,1,100\n@sum,900,240,60,400,1,100\n";
    fs::write(folder.join("kits.csv"), kits).unwrap();
    fs::copy(root().join("scenarios/lineup/cases/van-week.toml"), folder.join("-1+2.toml")).unwrap();
    let output =
        at(&folder, &["lineup", "kits.csv", "--cases", "./-1+2.toml", "--trials", "200", "-q", "--csv", "out.csv"]);
    assert_eq!(output.status.code(), Some(0), "{}", String::from_utf8_lossy(&output.stderr));
    fs::write(folder.join("years.toml"), demo("ten-years.toml").replacen("name = \"", "name = \"=", 1)).unwrap();
    let years = demo("ten-years.toml");
    let strategy = years.find("[[strategy]]").map(|at| years[..at].len()).unwrap();
    let (head, tail) = years.split_at(strategy);
    fs::write(folder.join("years.toml"), format!("{head}{}", tail.replacen("name = \"", "name = \"+1 and =", 1)))
        .unwrap();
    let output = at(&folder, &["years", "years.toml", "--histories", "20", "-q", "--csv", "years.csv"]);
    assert_eq!(output.status.code(), Some(0), "{}", String::from_utf8_lossy(&output.stderr));
    let storm = demo("winter-storm.toml").replacen("name = \"fridge\"", "name = \"=cmd|'x'!A1\"", 1);
    fs::write(folder.join("storm.toml"), storm).unwrap();
    let output = at(&folder, &["run", "storm.toml", "--trials", "200", "-q", "--figures", "figures"]);
    assert_eq!(output.status.code(), Some(0), "{}", String::from_utf8_lossy(&output.stderr));
    fs::create_dir(folder.join("bench")).unwrap();
    let record = demo("records/open.toml");
    let title = record.find("title = \"").expect("a title") + "title = \"".len();
    fs::write(folder.join("bench/=1.toml"), format!("{}={}", &record[..title], &record[title..])).unwrap();
    let output = at(&folder, &["prove", "bench", "--table", "--csv", "-q"]);
    assert_eq!(output.status.code(), Some(0), "{}", String::from_utf8_lossy(&output.stderr));
    fs::write(folder.join("bench.csv"), &output.stdout).unwrap();

    let mut quoted = 0;
    let figures = fs::read_dir(folder.join("figures")).unwrap().map(|entry| entry.unwrap().path());
    let written = ["out.csv", "years.csv", "bench.csv"].map(|name| folder.join(name));
    for file in written.into_iter().chain(figures) {
        let before = quoted;
        let mut reader = csv::ReaderBuilder::new().has_headers(false).from_path(&file).unwrap();
        for cell in reader.records().flat_map(|row| row.unwrap().iter().map(str::to_owned).collect::<Vec<_>>()) {
            let formula = cell.starts_with(['=', '+', '-', '@']) && cell.parse::<f64>().is_err();
            assert!(!formula, "{}: {cell:?}", file.display());
            quoted += usize::from(cell.starts_with('\''));
        }
        assert!(before < quoted || file.starts_with(folder.join("figures")), "{}: nothing to quote", file.display());
    }
    assert!(fs::read_to_string(folder.join("out.csv")).unwrap().contains("'=HYPERLINK"));
}

#[test]
fn large_input_is_refused_by_name_and_soon() {
    let folder = folder("abuse", "large");
    let storm = demo("night-light.toml");
    let (head, _) = storm.split_at(storm.find("[[load]]").unwrap());
    let load = |k: usize, unit: &str| {
        format!("[[load]]\nname = \"l{k}\"\noutlet = \"dc\"\npriority = \"useful\"\nwatts = \"1 {unit}\"\n")
    };
    let many = |n: usize, unit: &str| (0..n).map(|k| load(k, unit)).collect::<String>();
    let refuse = |name: &str, text: String, told: &[&str]| {
        fs::write(folder.join(name), text).unwrap();
        let begun = Instant::now();
        let output = at(&folder, &["check", name]);
        refused(&output, told);
        // Seconds at the most, on a machine that is busy with other tests and without optimisation.
        assert!(begun.elapsed() < Duration::from_secs(20), "{name}: {:?}", begun.elapsed());
    };
    refuse(
        "loads.toml",
        format!("{head}{}", many(10_000, "W")),
        &["`load` has too many entries", "10000 of them", "at most 64"],
    );
    // All wrong: twenty are drawn, the rest counted.
    refuse(
        "wrong.toml",
        format!("{head}{}", many(64, "Q")),
        &["not in a unit of power", "... and 44 more: 64 errors in all"],
    );
    refuse(
        "array.toml",
        format!("x = [{}1]\n{storm}", "1,".repeat(1_500_000)),
        &["too large", "3.0 MB", "at most 2 MB"],
    );
    refuse("deep.toml", format!("{storm}\nx = {}{}", "[".repeat(100_000), "]".repeat(100_000)), &["deep.toml"]);
    refuse(
        "title.toml",
        storm.replacen("title = \"", &format!("title = \"{}", "x".repeat(9_000)), 1),
        &["longer than 500"],
    );
    let keys: String = (0..5_000).map(|k| format!("key{k} = 1\n")).collect();
    refuse("keys.toml", format!("{keys}{storm}"), &["`key0` is not a known key", "... and 4,980 more"]);
    // Kits of a table.
    let rows: String = (0..3_000).map(|k| format!("kit {k},300,120\n")).collect();
    fs::write(folder.join("kits.csv"), format!("name,capacity_wh,dc_w\n{rows}")).unwrap();
    let cases = root().join("scenarios/lineup/cases/van-week.toml").display().to_string();
    refused(&at(&folder, &["lineup", "kits.csv", "--cases", &cases]), &["too many entries", "at most 1000"]);
    // Trials times hours, and trials times variants.
    fs::write(folder.join("storm.toml"), demo("winter-storm.toml")).unwrap();
    refused(&at(&folder, &["run", "storm.toml", "--trials", "100,000,000"]), &["from 1 to 5,000,000"]);
    refused(
        &at(&folder, &["run", "storm.toml", "--trials", "5000000", "--step", "1"]),
        &["--trials is 5,000,000", "of 5,760 steps", "at most 3,472,222"],
    );
    refused(&at(&folder, &["compare", "storm.toml", "--trials", "5000000"]), &["--trials is", "variants: at most"]);
}

#[test]
fn a_packed_record_is_read_piece_by_piece() {
    let folder = folder("abuse", "bomb");
    let pack = |name: &str, head: &str, block: &[u8], times: usize| {
        let file = fs::File::create(folder.join(name)).unwrap();
        let mut packer = flate2::write::GzEncoder::new(file, flate2::Compression::fast());
        packer.write_all(head.as_bytes()).unwrap();
        for _ in 0..times {
            packer.write_all(block).unwrap();
        }
        packer.finish().unwrap();
        let packed = fs::metadata(folder.join(name)).unwrap().len();
        assert!(packed < 2_000_000, "{packed} bytes");
    };
    let zeros = vec![b'0'; 1 << 20];
    // A hundred megabytes in a line, in a heading, in a comment.
    pack("line.csv.gz", "time_utc,ghi_w_m2\n", &zeros, 100);
    pack("head.csv.gz", "time_utc,ghi_w_m2,", &zeros, 100);
    pack("remark.csv.gz", "# ", &zeros, 100);
    pack("epw.csv.gz", "LOCATION,a,b,c,d,e,50,8,1,0\n", &zeros, 100);
    pack("days.csv.gz", "date,ghi_kwh_m2_day\n", &zeros, 100);
    for name in ["line.csv.gz", "head.csv.gz", "remark.csv.gz", "epw.csv.gz", "days.csv.gz"] {
        let begun = Instant::now();
        refused(
            &at(&folder, &["climate", "fit", name, "--at", "50,8"]),
            &[name, "a line of more than 20000 characters", "unpacked"],
        );
        assert!(begun.elapsed() < Duration::from_secs(10), "{name}: {:?}", begun.elapsed());
    }
    // Cut in the middle, as by a broken connection.
    let whole = fs::read(folder.join("line.csv.gz")).unwrap();
    fs::write(folder.join("cut.csv.gz"), &whole[..40]).unwrap();
    refused(&at(&folder, &["climate", "fit", "cut.csv.gz", "--at", "50,8"]), &["damaged gzip file"]);
}

#[cfg(unix)]
#[test]
fn a_file_without_end_is_no_file() {
    let output = tideover(&["run", "/dev/zero"]);
    refused(&output, &["/dev/zero", "at most 500 MB"]);
    // There, and not to be read: nothing of the same name is meant instead.
    let folder = folder("abuse", "same-name");
    std::os::unix::fs::symlink("nowhere", folder.join("home.toml")).unwrap();
    let output = at(&folder, &["run", "home.toml"]);
    refused(&output, &["cannot read home.toml"]);
    assert!(!String::from_utf8_lossy(&output.stderr).contains("did you mean"));
}

#[test]
fn two_line_ups_at_once_keep_each_others_cells() {
    let folder = folder("abuse", "at-once");
    let kits = "name,capacity_wh,dc_w,usb_w,ac_w,solar_w,panels,panel_w\nsmall,300,120,60,300,120,1,100\nlarge,900,240,60,600,400,1,100\n";
    fs::write(folder.join("kits.csv"), kits).unwrap();
    let cases = ["van-week", "home-office", "street-phones", "weekend-camp"];
    for name in cases {
        let file = format!("{name}.toml");
        fs::copy(root().join("scenarios/lineup/cases").join(&file), folder.join(&file)).unwrap();
    }
    let files = cases.map(|name| format!("{name}.toml"));
    let running: Vec<_> = files
        .iter()
        .map(|file| {
            let arguments = ["lineup", "kits.csv", "--cases", file, "--trials", "2000", "-q", "--threads", "1"];
            command(&arguments).current_dir(&folder).stdout(Stdio::null()).spawn().unwrap()
        })
        .collect();
    for mut child in running {
        assert_eq!(child.wait().unwrap().code(), Some(0));
    }
    let kept = fs::read_to_string(folder.join("kits.results.tsv")).unwrap();
    for name in cases {
        assert_eq!(kept.lines().filter(|line| line.contains(&format!("\t{name}\t"))).count(), 2, "{name}: {kept}");
    }
    // One after the other gives the same file.
    let mut arguments = vec!["lineup", "kits.csv", "--trials", "2000", "-q", "--results", "alone.tsv", "--cases"];
    arguments.extend(files.iter().map(String::as_str));
    assert_eq!(at(&folder, &arguments).status.code(), Some(0));
    assert_eq!(fs::read_to_string(folder.join("alone.tsv")).unwrap(), kept);
    let left = fs::read_dir(&folder).unwrap().map(|entry| entry.unwrap().file_name().into_string().unwrap());
    assert!(left.into_iter().all(|name| !name.ends_with(".part") && !name.contains("aside")));
}

#[cfg(target_os = "linux")]
#[test]
fn help_that_cannot_be_printed_is_no_success() {
    for arguments in [&["--help"][..], &["run", "--help"], &["--version"], &["man"], &["schema"]] {
        let full = fs::OpenOptions::new().write(true).open("/dev/full").unwrap();
        let output = command(arguments).stdout(full).output().unwrap();
        assert_eq!(output.status.code(), Some(1), "{arguments:?}");
        assert!(String::from_utf8_lossy(&output.stderr).contains("cannot print"), "{arguments:?}");
    }
}

#[test]
fn minus_zero_and_a_month_in_pieces_are_no_figures() {
    let folder = folder("abuse", "slips");
    let night = demo("night-light.toml");
    let month = night.lines().find(|line| line.starts_with("month = ")).unwrap();
    for (piece, meant) in [("Jan-uary", "January"), ("Ma y", "May"), ("Jan-Feb", "January"), ("Oct_", "October")] {
        fs::write(folder.join("home.toml"), night.replacen(month, &format!("month = \"{piece}\""), 1)).unwrap();
        let output = at(&folder, &["check", "home.toml"]);
        let told = String::from_utf8_lossy(&output.stderr).into_owned();
        assert_eq!(output.status.code(), Some(2), "{piece}: {told}");
        assert!(told.contains("`outage.month`") && (piece == "Jan-Feb" || told.contains(meant)), "{piece}: {told}");
    }
    for watts in ["-0 W", "-0.0 W", "\u{2212}0 W"] {
        fs::write(folder.join("home.toml"), night.replace("watts = \"5 W\"", &format!("watts = \"{watts}\""))).unwrap();
        refused(&at(&folder, &["check", "home.toml"]), &["is out of range", "above 0 W"]);
    }
    // Where nothing is a value, minus nothing is the same.
    let idle = night.lines().find(|line| line.starts_with("idle = ")).unwrap();
    fs::write(folder.join("home.toml"), night.replacen(idle, "idle = \"-0 W\"", 1)).unwrap();
    let output = at(&folder, &["check", "home.toml"]);
    let told = [&output.stdout[..], &output.stderr[..]].concat();
    assert!(
        !String::from_utf8_lossy(&told).replace("\"-0 W\"", "").contains("-0 W"),
        "{}",
        String::from_utf8_lossy(&told)
    );
}

/// Before there is any work, Ctrl-C ends the program at once and with its own code.
#[cfg(unix)]
#[test]
fn ctrl_c_before_the_work_ends_with_its_code() {
    use std::io::Read as _;
    let folder = folder("abuse", "early");
    let mut child = command(&["new", "--ask"])
        .current_dir(&folder)
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .unwrap();
    // It has asked its first question.
    let mut first = [0; 1];
    child.stderr.as_mut().unwrap().read_exact(&mut first).unwrap();
    let begun = Instant::now();
    // Kept open: an end of its input would be an answer too.
    let input = child.stdin.take();
    crate::program::interrupt(&child);
    let output = child.wait_with_output().unwrap();
    drop(input);
    assert_eq!(output.status.code(), Some(3), "{}", String::from_utf8_lossy(&output.stderr));
    assert!(begun.elapsed() < Duration::from_secs(5) && output.stdout.is_empty());
    assert!(String::from_utf8_lossy(&output.stderr).contains("stopped before there was an answer"));
    assert_eq!(fs::read_dir(&folder).unwrap().count(), 0);
}
