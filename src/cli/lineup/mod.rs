//! `tideover lineup`.

mod field;
mod results;
mod work;

use std::path::PathBuf;
use std::time::{Duration, Instant};

use clap::Args;

use self::field::{Field, Job};
use self::results::Results;
use super::output::{Bar, Outlets, OutputArgs, PendingFile, tell_drawn};
use super::run::{parse_share, with_threads};
use super::{Done, Failure};
use tideover::report::{lineup as report, lineup_data};
use tideover::study::lineup::{Lineup, Rule, part};
use tideover::trials::Progress;

/// Arguments of `lineup`.
#[derive(Debug, Args)]
pub struct LineupArgs {
    /// The catalogue of kits: TOML, or a table when its name ends in .csv
    catalogue: PathBuf,
    /// Case files, or folders of them: ordinary scenarios without a kit
    #[arg(long, value_name = "FOLDER", required = true, num_args = 1..)]
    cases: Vec<PathBuf>,
    /// A place to hold every case at instead of its own, like 44.2,-72.6; may be given several times
    #[arg(long, value_name = "LAT,LON", allow_hyphen_values = true)]
    at: Vec<String>,
    /// The same by a town's name, like "Bergen, Norway"; may be given several times, and stands behind those of --at
    #[arg(long, value_name = "NAME")]
    place: Vec<String>,
    /// Survival that the lower end of the range should reach
    #[arg(long, value_name = "PERCENT", default_value = "95 %")]
    target: String,
    /// Most trials for each cell
    #[arg(long, default_value_t = 10_000, value_parser = clap::value_parser!(u64).range(1..=1_000_000))]
    trials: u64,
    /// Give clear cells all trials too: slower, with finer rankings
    #[arg(long)]
    all_trials: bool,
    /// Seed of the random numbers: the same seed gives the same answer
    #[arg(long, default_value_t = 1)]
    seed: u64,
    /// Threads (default: all cores); the answer does not depend on them
    #[arg(long, value_parser = clap::value_parser!(u16).range(1..=1024))]
    threads: Option<u16>,
    /// Print no progress and no warnings
    #[arg(long, short)]
    quiet: bool,
    /// Where results are kept (default: beside the catalogue, NAME.results.tsv)
    #[arg(long, value_name = "FILE")]
    results: Option<PathBuf>,
    /// Forget the results that are kept and compute every cell
    #[arg(long)]
    fresh: bool,
    /// Compute one part of the cells only, like 3/20, into a file of its own, for --join
    #[arg(long, value_name = "K/N", conflicts_with = "join")]
    part: Option<String>,
    /// Compute nothing: put the parts in these files together to the whole
    #[arg(long, value_name = "FILES", num_args = 1..)]
    join: Vec<PathBuf>,
    /// Show every ranking in full
    #[arg(long)]
    details: bool,
    #[command(flatten)]
    output: OutputArgs,
    /// Also write one row for each cell as CSV
    #[arg(long, value_name = "FILE")]
    csv: Option<PathBuf>,
    /// Print the scenario that a cell is, at the first place, ready for `tideover run`, and do nothing else
    #[arg(long, num_args = 2, value_names = ["KIT", "CASE"], conflicts_with_all = ["part", "join", "json", "csv", "html", "figures"])]
    write_scenario: Option<Vec<String>>,
}

/// Time between two savings of the results.
const SAVE_EVERY: Duration = Duration::from_secs(1);

fn parse_part(text: &str) -> Result<(usize, usize), Failure> {
    let wrong = || Failure::Input(format!("error: --part is `{text}`; allowed: K/N with K from 1 to N, like 3/20"));
    let (part, parts) = text.split_once('/').ok_or_else(wrong)?;
    let number = |text: &str| text.trim().parse::<usize>().map_err(|_| wrong());
    let (part, parts) = (number(part)?, number(parts)?);
    if (1..=parts).contains(&part) && parts <= 1_000_000 { Ok((part, parts)) } else { Err(wrong()) }
}

/// Runs the command.
pub fn main(args: &LineupArgs) -> Result<Done, Failure> {
    let target = parse_share("target", &args.target, 0.01, 0.9999)?;
    let slice = args.part.as_deref().map(parse_part).transpose()?;
    let rule = Rule { seed: args.seed, trials: args.trials, target, all_trials: args.all_trials };
    let (field, remarks) = Field::read(&args.catalogue, &args.cases, (&args.at, &args.place))?;
    if !args.quiet && !remarks.is_empty() {
        tell_drawn(&remarks);
    }
    if let Some(words) = &args.write_scenario {
        args.output.open()?.give_text(&field.scenario(&words[0], &words[1])?)?;
        return Ok(Done::Answered);
    }
    let output = args.output.open()?;
    let csv = args.csv.as_deref().map(PendingFile::open).transpose()?;

    // Before anything is read from there: what was read for the answer, or takes another answer, holds no results.
    let kept_in = args.results.clone().unwrap_or_else(|| args.catalogue.with_extension("results.tsv"));
    let save_to = match slice {
        None => kept_in.clone(),
        Some((k, n)) => kept_in.with_extension(format!("part-{k}-of-{n}.tsv")),
    };
    PendingFile::claim_kept(&save_to)?;
    let jobs = field.jobs(&rule);
    let kept = Results::load_if_there(&kept_in, args.quiet)?.unless(args.fresh);
    if !args.join.is_empty() {
        let mut all = kept;
        for file in &args.join {
            all.add(Results::load(file)?);
        }
        if let Some(job) = jobs.iter().find(|job| all.get(&job.key).is_none()) {
            let missing = jobs.iter().filter(|job| all.get(&job.key).is_none()).count();
            return Err(Failure::Input(format!(
                "error: {missing} of {} cells are in none of the files; the first is {}\n  = help: join with the same \
                 catalogue, cases, places, seed, trials, target and version as the parts, and give all parts",
                jobs.len(),
                field.words(job)
            )));
        }
        all.keep_one_each(&field, &jobs);
        all.save(&kept_in)?;
        return answer(args, &field, &rule, &jobs, &all, (output, csv));
    }

    let mine = &jobs[slice.map_or(0..jobs.len(), |(k, n)| part(jobs.len(), k, n))];
    let mut results = kept;
    if slice.is_some() {
        // A part that was stopped goes on from its own file.
        results.add(Results::load_if_there(&save_to, args.quiet)?.unless(args.fresh));
        results = results.only(mine);
    }
    // Tried before the work, so that a folder that cannot be written to costs nothing.
    drop(PendingFile::open_kept(&save_to)?);
    let todo: Vec<&Job> = mine.iter().filter(|job| results.get(&job.key).is_none()).collect();
    let bar = Bar::counting("cells", todo.len() as u64, args.quiet);
    let worked = with_threads(args.threads, || compute(&field, &rule, &todo, &mut results, &save_to, &bar))?;
    bar.finish();
    worked?;
    results.keep_one_each(&field, mine);
    if !todo.is_empty() || slice.is_some() || args.fresh {
        results.save(&save_to)?;
    }
    if let Some((k, n)) = slice {
        let done = mine.iter().filter(|job| results.get(&job.key).is_some()).count();
        let text = format!("Part {k} of {n}: {done} of {} cells in {}\n", mine.len(), save_to.display());
        output.give_text(&text)?;
        return Ok(if done < mine.len() { Done::Partial } else { Done::Answered });
    }
    answer(args, &field, &rule, &jobs, &results, (output, csv))
}

/// Computes cells, all of one case and place together, and saves now and then.
fn compute(
    field: &Field,
    rule: &Rule,
    todo: &[&Job],
    results: &mut Results,
    save_to: &std::path::Path,
    bar: &Bar,
) -> Result<(), Failure> {
    let mut done = 0;
    let mut saved = Instant::now();
    work::check_places(field, todo)?;
    for group in todo.chunk_by(|a, b| (a.place, a.case) == (b.place, b.case)) {
        if bar.stop() {
            break;
        }
        let Some(cells) = work::group(field, rule, group, bar)? else { break };
        for (job, cell) in group.iter().zip(cells) {
            results.insert(field, job, cell);
        }
        done += group.len();
        bar.done(done as u64);
        if SAVE_EVERY <= saved.elapsed() {
            results.save(save_to)?;
            saved = Instant::now();
        }
    }
    Ok(())
}

/// Shows what there is.
fn answer(
    args: &LineupArgs,
    field: &Field,
    rule: &Rule,
    jobs: &[Job],
    results: &Results,
    (mut output, csv): (Outlets, Option<PendingFile>),
) -> Result<Done, Failure> {
    let cells: Vec<_> = jobs.iter().map(|job| results.get(&job.key).map(|stored| stored.cell.clone())).collect();
    if cells.iter().all(Option::is_none) {
        return Err(Failure::Interrupted);
    }
    let lineup = Lineup {
        kits: field.kit_facts(),
        cases: field.case_facts(),
        places: field.place_names(),
        currency: field.catalogue.currency.clone(),
        rule: rule.clone(),
        cells,
        notes: field.notes(rule),
    };
    // A page has room for every ranking.
    output.write_page(|| report::document(&lineup, true))?;
    output.give(&report::document(&lineup, args.details), None, ("lineup", &lineup_data::json(&lineup)))?;
    if let Some(file) = csv {
        file.commit(&lineup_data::csv(&lineup))?;
    }
    Ok(if lineup.complete() { Done::Answered } else { Done::Partial })
}
