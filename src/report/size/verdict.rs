//! Whether kits reach the target, and which to take.

use serde::Serialize;

use super::{Facts, kit_name, price, target_word, weight};
use crate::report::headline::hangs_on;
use crate::report::json::Share;
use crate::report::surer;
use crate::report::told::Words;
use crate::report::words::{duration, energy, survival, the_list, thousands};
use crate::study::OutageAnswer;
use crate::study::changes::{Change, Costs, Effect};
use crate::study::size::{Account, Lack, Largest, Sizing};
use crate::study::verdict::EVEN;
use crate::trials::unknowns::Survival;

/// Whether kits reach the target, and which.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[serde(tag = "kind", rename_all = "snake_case")]
pub enum SizeVerdict {
    /// The run was stopped before kits were judged.
    NotJudged {
        /// Trials of the grid that were done.
        trials: u64,
        /// Trials asked for.
        asked: u64,
    },
    /// None does.
    None {
        /// Survival of the largest kit with its range, and why it falls short; null where the run was stopped before.
        largest: Option<JsonLargest>,
    },
    /// Some do; `frontier`, `cheapest` and `lightest` say which.
    Reached,
}

impl SizeVerdict {
    /// Of an answer.
    #[must_use]
    pub fn of(sizing: &Sizing) -> SizeVerdict {
        match sizing.frontier.first() {
            _ if !sizing.judged => SizeVerdict::NotJudged { trials: sizing.trials, asked: sizing.asked },
            None => SizeVerdict::None {
                largest: sizing.largest.as_ref().map(|largest| JsonLargest {
                    battery_wh: sizing.batteries[largest.kit.battery].amount,
                    panel_count: sizing.panels[largest.kit.panels].amount,
                    survival: Share::of(&largest.kit.survival),
                    lacks: largest.lacks.clone(),
                }),
            },
            Some(_) => SizeVerdict::Reached,
        }
    }
}

/// The largest kit for programs.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct JsonLargest {
    battery_wh: f64,
    panel_count: f64,
    survival: Share,
    lacks: Lack,
}

/// What is there and what it takes, in a sentence.
fn account(account: &Account) -> String {
    let Account { drawn_a_day_wh, sun_a_day_wh, other_a_day_wh, battery_wh, days } = *account;
    let comes = |what: &str, wh: f64| (wh >= 0.5).then(|| format!("{what} {} a day", energy(wh)));
    let gives = [comes("its panels can give", sun_a_day_wh), comes("all else that charges it gives", other_a_day_wh)];
    let gives: Vec<String> = gives.into_iter().flatten().collect();
    let gives = if gives.is_empty() { "nothing charges it".to_string() } else { gives.join(" and ") };
    format!(
        "what runs takes {} a day, losses counted; in a mean outage ({}) {gives}, and its battery holds {} as it begins",
        energy(drawn_a_day_wh),
        duration(24.0 * days),
        energy(battery_wh)
    )
}

impl Words for Largest {
    /// Why it falls short, and what to do.
    fn words(&self) -> String {
        let helps = |told: &str| match self.effects.first().filter(|best| best.survival.probability >= EVEN) {
            None => format!("{told} No single change carries it: bring down what runs, or let larger kits be tried."),
            Some(best) => format!(
                "{told} What helps most: {}, {}.{}",
                best.change.words(),
                survival(&best.survival),
                if self.effects.len() > 1 { " More of that below." } else { "" }
            ),
        };
        match &self.lacks {
            Lack::Power { loads } => format!(
                "The cause: {} {} more than this station gives. No battery and no panel mends that: take a station that gives more, \
                 or leave {} out.",
                the_list(loads),
                if loads.len() == 1 { "asks for" } else { "ask for" },
                if loads.len() == 1 { "it" } else { "them" }
            ),
            Lack::Knowledge => {
                let measure =
                    self.surer.first().map_or_else(String::new, |surer| format!(" {}", surer::sentences(surer)));
                format!(
                    "The cause: its best estimate reaches the target, but what nobody has measured keeps the lower end of the range \
                     below.{measure}"
                )
            }
            Lack::Energy(sums) => helps(&format!(
                "The cause: the load is too big for it: {}. That is enough for {} a day.",
                account(sums),
                energy(sums.enough_for_wh())
            )),
            Lack::Outlet(sums) => helps(&format!(
                "The cause: the AC outlet. There is energy enough ({}), but the outlet is off in hours in which something vital hangs on \
                 it: until somebody is there to switch it on, or because it switches itself off, or sleeps, under so small a load. A \
                 setting that keeps it on, or another outlet, does more than any battery.",
                account(sums)
            )),
            Lack::Cells(sums) => helps(&format!(
                "The cause: the place where the station stands, too cold or too hot for its cells. There is energy enough ({}); indoors \
                 they could give and take it, which does more than any battery.",
                account(sums)
            )),
            Lack::WorstOutages(sums) => helps(&format!(
                "The cause: outages worse than a mean one, longer or darker, or hours in which nothing comes: a mean one has enough ({}).",
                account(sums)
            )),
        }
    }
}

/// What the kit as it is comes to, and what costs nothing, before anything is bought; nothing where that was not looked at.
///
/// * `own` — the kit as it is, through the same outages.
pub(super) fn free_first(facts: &Facts, own: &OutageAnswer) -> String {
    let sizing = facts.answer;
    let target = target_word(sizing.target);
    let now = survival(&own.survival);
    let health = hangs_on(facts.devices, own.survival.interval);
    if own.survival.interval.low >= sizing.target {
        return format!(
            "Your kit as it is rides through {now}: that reaches {target}, and nothing need be bought.{health}"
        );
    }
    let Some((changes, with)) = free(own) else {
        return format!("Your kit as it is rides through {now}.{health}");
    };
    let what = changes.iter().map(|change| change.words()).collect::<Vec<_>>().join("; ");
    let reaches = if with.interval.low >= sizing.target {
        format!("that reaches {target}, and nothing need be bought")
    } else if sizing.frontier.is_empty() {
        format!("the lower end stays below {target}")
    } else {
        format!("the lower end stays below {target}, which the kits below reach as things are used now")
    };
    format!(
        "Free first: your kit as it is rides through {now}.{health} With what costs nothing ({what}) it rides through {}: {reaches}.",
        survival(with)
    )
}

/// What costs nothing and surely helps the kit as it is, all of it together, and its survival with that; none where nothing does.
pub(super) fn free(own: &OutageAnswer) -> Option<(Vec<&Change>, &Survival)> {
    match &own.together {
        Some(all) => Some((all.changes.iter().collect(), &all.survival)),
        None => {
            let best = own.effects.iter().find(|effect| effect.helps_for_nothing());
            best.map(|effect| (vec![&effect.change], &effect.survival))
        }
    }
}

/// What costs nothing and carries the largest kit over the target where no kit reaches it; none where nothing does.
pub(super) fn free_to_the_largest(sizing: &Sizing) -> Option<&Effect> {
    let effects = &sizing.largest.as_ref()?.effects;
    effects
        .iter()
        .find(|effect| effect.change.costs() == Costs::Nothing && effect.survival.interval.low >= sizing.target)
}

/// The verdict in sentences.
#[must_use]
pub fn verdict(sizing: &Sizing) -> String {
    let none = matches!(SizeVerdict::of(sizing), SizeVerdict::None { .. });
    let cause = sizing.largest.as_ref().filter(|_| none).map(|largest| format!(" {}", largest.words()));
    let again = free_to_the_largest(sizing)
        .filter(|_| none)
        .map_or("", |_| " Write what costs nothing into the scenario and size it again: a smaller kit may do then.");
    verdict_alone(sizing) + &cause.unwrap_or_default() + again
}

/// The same without why the largest kit falls short: beside a cause that comes before all others.
pub(super) fn verdict_alone(sizing: &Sizing) -> String {
    let target = target_word(sizing.target);
    let stopped = match sizing.stopped_early {
        true => {
            "Stopped before its time: of the other targets under \"What reliability costs\" not all are worked out. "
        }
        false => "",
    };
    match SizeVerdict::of(sizing) {
        SizeVerdict::NotJudged { trials, asked } => {
            return format!(
                "Stopped before its time: {} of {} trials of the grid are done, and no kit was judged yet. Which kits reach \
                 {target} is not known.",
                thousands(trials),
                thousands(asked)
            );
        }
        SizeVerdict::None { .. } => {
            let none = format!("{stopped}No kit of this grid reaches {target} at the lower end of its range");
            return match &sizing.largest {
                None => format!("{none}."),
                Some(largest) => format!(
                    "{none}; the largest, {}, rides through {}.",
                    kit_name(sizing, &largest.kit),
                    survival(&largest.kit.survival),
                ),
            };
        }
        SizeVerdict::Reached => {}
    }
    // Between two of these a kit may fall short: the table has them all.
    let least = match &sizing.frontier[..] {
        [only] => format!("{} is the least that does", kit_name(sizing, only)),
        several => format!(
            "the least are the {} kits of the table below, each with the least battery for its panels; any kit with at least as much of both as \
             one of them does too",
            several.len()
        ),
    };
    // Without prices nobody can say whether battery or panels are dearer.
    let unpriced = match (sizing.frontier.first(), sizing.proposed()) {
        (Some(fewest), Some(kit)) if !sizing.priced() && sizing.frontier.len() > 1 => format!(
            " Which is cheapest hangs on prices, and none are given (price, under [size]): named first is the one with the least battery, \
             {}; the one with the fewest panels is {}.",
            kit_name(sizing, kit),
            kit_name(sizing, fewest)
        ),
        _ => String::new(),
    };
    let cheapest = sizing
        .cheapest
        .as_ref()
        .map(|kit| format!(" Cheapest: {} for {}.", kit_name(sizing, kit), price(sizing, kit.price)));
    let lightest = sizing
        .lightest
        .as_ref()
        .filter(|kit| sizing.cheapest.as_ref().is_none_or(|c| (c.battery, c.panels) != (kit.battery, kit.panels)))
        .map(|kit| format!(" Lightest: {} at {}.", kit_name(sizing, kit), weight(kit)));
    format!(
        "{stopped}To ride through {target} of these outages, counted at the lower end of the range, {least}.{unpriced}{}{}",
        cheapest.unwrap_or_default(),
        lightest.unwrap_or_default()
    )
}
