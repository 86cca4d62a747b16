//! Whether kits reach the target, and which to take.

use serde::Serialize;

use super::{kit_name, price, target_word, weight};
use crate::report::words::{share_by_chance, thousands};
use crate::scenario::either;
use crate::study::size::Sizing;
use crate::trials::interval::{Interval, Z_95, wilson};

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
        /// Survival of the largest kit, 0 to 1.
        largest_survival: f64,
        /// Lower end of the 95 % Wilson interval of that, of chance alone.
        chance_low: f64,
        /// Upper end of the same.
        chance_high: f64,
        /// Trials that it went through.
        trials: u64,
    },
    /// Some do; `frontier`, `cheapest` and `lightest` say which.
    Reached,
}

impl SizeVerdict {
    /// Of an answer.
    #[must_use]
    pub fn of(sizing: &Sizing) -> SizeVerdict {
        let best = || sizing.survived.last().and_then(|row| row.last()).copied().unwrap_or(0);
        match sizing.frontier.first() {
            _ if !sizing.judged => SizeVerdict::NotJudged { trials: sizing.trials, asked: sizing.asked },
            None => {
                let chance = wilson(best(), sizing.trials, Z_95);
                let largest_survival = best() as f64 / sizing.trials as f64;
                let (chance_low, chance_high) = (chance.low, chance.high);
                SizeVerdict::None { largest_survival, chance_low, chance_high, trials: sizing.trials }
            }
            Some(_) => SizeVerdict::Reached,
        }
    }
}

/// The verdict in sentences.
#[must_use]
pub fn verdict(sizing: &Sizing) -> String {
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
        SizeVerdict::None { largest_survival, chance_low, chance_high, trials } => {
            return format!(
                "{stopped}No kit of this grid reaches {target} at the lower end of its range; in {} trials the largest rides \
                 through {}.",
                thousands(trials),
                share_by_chance(largest_survival, Interval { low: chance_low, high: chance_high })
            );
        }
        SizeVerdict::Reached => {}
    }
    // Between two of these a kit may fall short: each is told, and what holds of more than one of them.
    let least = match &sizing.frontier[..] {
        [only] => format!("{} is the least that does", kit_name(sizing, only)),
        several => {
            let names: Vec<String> = several.iter().map(|kit| kit_name(sizing, kit)).collect();
            let names: Vec<&str> = names.iter().map(String::as_str).collect();
            format!("take {}, or any kit that has at least as much of both as one of these", either(&names))
        }
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
        "{stopped}To ride through {target} of these outages, counted at the lower end of the range, {least}.{}{}",
        cheapest.unwrap_or_default(),
        lightest.unwrap_or_default()
    )
}
