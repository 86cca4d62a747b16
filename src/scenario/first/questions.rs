//! The questions, and what is taken for an answer left out.

use super::{Answered, panels, site, spell, station};

/// A question with an example of its answer, and what is taken for an answer left out.
#[derive(Debug, Clone, Copy)]
pub struct Question {
    /// The option of the command line that answers it.
    pub option: &'static str,
    /// The question.
    pub ask: &'static str,
    /// What to answer, for example.
    pub like: &'static str,
    /// What it means, for who asks for help.
    pub help: &'static str,
    /// What holds where nothing is answered; empty where there must be an answer.
    pub otherwise: &'static str,
    /// What is said of that where it is taken, with `{}` for it; empty where it is said elsewhere.
    pub(super) assumes: &'static str,
    /// Keys of the scenario that come of it.
    pub(super) keys: &'static [&'static str],
}

/// The questions, in the order of asking.
pub const QUESTIONS: [Question; 9] = [
    Question {
        option: "place",
        ask: "In or near which town?",
        like: "Bergen, Norway",
        help: "The sun and the cold are those of the place: a town near by is enough, or latitude and longitude. \"Graz, Austria\"; \"47.1, 15.4\".",
        otherwise: "",
        assumes: "",
        keys: &["site"],
    },
    Question {
        option: "capacity",
        ask: "What does the station or battery hold, by its label, and how old is it?",
        like: "1024 Wh, or 12.8 V x 100 Ah, new, or 12 V 100 Ah AGM, 4 years old",
        help: "How much it stores stands on its label in Wh, or as volts and Ah; years take from it. \"1024 Wh, 2 years old\"; \"12 V 100 Ah AGM, 4 years old\".",
        otherwise: "1000 Wh",
        assumes: "It holds {}, which is a guess: the label on the station says what yours holds (station.rated_capacity).",
        keys: &["station.rated_capacity"],
    },
    Question {
        option: "ac",
        ask: "What do its AC outlets give for hours, by the label?",
        like: "1000 W, or 1000 W (2000 W surge), or 600 W separate inverter, or none",
        help: "What the mains-like sockets, or the inverter, may give for hours stands on the label in W. \"1000 W (2000 W surge)\"; \"none\" where there are none.",
        otherwise: "1000 W",
        assumes: "AC outlets: {}, which is a guess; copy the watts from the label (station.inverter.rated).",
        keys: &["station.inverter"],
    },
    Question {
        option: "panels",
        ask: "Which panels?",
        like: "200 W, or 2 x 100 W, or 150 W with PWM controller, or none",
        help: "How many panels there are, and the watts of one, which stand on its back. \"2 x 100 W\"; \"none\".",
        otherwise: "none",
        assumes: "Panels: {} (panel).",
        keys: &["panel.0.rated", "panel.0.count", "panel.0.max_power_voltage", "station.solar_input"],
    },
    Question {
        option: "stand",
        ask: "Where do they stand, and which way do they look?",
        like: "ground, or roof south-west, or balcony south, a tree in the morning, or flat, or 35° south",
        help: "What they stand on gives their slope; the side of the sky that they look at, and what shades them when, their light. \"roof south-west\"; \"balcony south, shade after 15:00\".",
        otherwise: "ground",
        assumes: "",
        keys: &["panel.0.tilt", "panel.0.facing"],
    },
    Question {
        option: "loads",
        ask: "What must stay on?",
        like: "fridge, wifi, 2 phones, aquarium 30 W, desk lamp 12 W 19:00-23:00",
        help: "The things that you would not do without, with commas between; watts and hours of your own make it exact. \"fridge, wifi, 2 phones\"; \"water pump 250 W 07:00-09:00\".",
        otherwise: "fridge, wifi",
        assumes: "What must stay on: {} (load).",
        keys: &["load"],
    },
    Question {
        option: "lasts",
        ask: "How long is the outage that you fear, or at which hours is the power cut every day?",
        like: "2 days, or 18:00-22:00, or 7pm-10pm for 4 weeks",
        help: "One outage from end to end, or the hours of every day without mains. \"2 days\"; \"18:00-22:00\".",
        otherwise: "2 days",
        assumes: "The outage lasts {} (outage.lasts).",
        keys: &["outage.lasts", "outage.every_day"],
    },
    Question {
        option: "charger",
        ask: "What charges it between the cuts: nothing but the panels, or a charger of how many watts?",
        like: "none, or 100 W",
        help: "When the mains are back, something may charge it: the watts stand on the charger. \"100 W\"; \"none\".",
        otherwise: SLOW_CHARGER,
        assumes: "",
        keys: &["station.wall_charger"],
    },
    Question {
        option: "month",
        ask: "In which month, and does it begin in a storm?",
        like: "January, storm, or May, no storm",
        help: "The month that you fear most, for its sun and its cold, and whether dark days come first. \"January, storm\"; \"May, no storm\".",
        otherwise: "January",
        assumes: "It is in {}, and does not begin in a storm (outage.month, outage.begins_in_a_storm).",
        keys: &["outage.month"],
    },
];

/// The answers to [`QUESTIONS`], each in its place; an empty one stands for what is taken otherwise.
pub type Answers = [String; QUESTIONS.len()];

/// Things that a station without AC outlets can keep on.
const WITHOUT_AC: &str = "12 V cooler, phone";

/// What a charger is taken for that nobody knows the watts of.
pub(super) const SLOW_CHARGER: &str = "a slow charger for its size";

/// What people write who do not know (small letters, no apostrophes).
const NOT_KNOWN: [&str; 17] = [
    "n/a",
    "na",
    "no clue",
    "i dont know",
    "i do not know",
    "dont know",
    "do not know",
    "dunno",
    "idk",
    "unknown",
    "not known",
    "not sure",
    "im not sure",
    "no idea",
    "i have no idea",
    "cant say",
    "whatever",
];

/// Whether an answer says nothing, or that it is not known: then [`otherwise`] holds.
#[must_use]
pub fn says_nothing(answer: &str) -> bool {
    let plain = answer.trim().trim_end_matches(['.', '!', '?', ' ']).to_lowercase().replace(['\'', '\u{2019}'], "");
    answer.trim().chars().all(|c| c == '?') || NOT_KNOWN.contains(&plain.as_str())
}

/// An answer, or what is taken for it.
pub(super) fn answer(question: usize, answers: &Answers) -> String {
    if says_nothing(&answers[question]) { otherwise(question, answers) } else { answers[question].trim().to_string() }
}

/// What is taken for a question without an answer; empty where there must be one.
#[must_use]
pub fn otherwise(question: usize, answers: &Answers) -> String {
    let question = &QUESTIONS[question];
    match question.option {
        "ac" if station::is_block(&answer(1, answers)) => "none".into(),
        "loads" if station::no_ac(&answer(2, answers)) => WITHOUT_AC.into(),
        // The month of the least sun, and of the most cold.
        "month" if site(&answers[0], &mut Answered::default()).is_ok_and(|(_, latitude_deg)| latitude_deg < 0.0) => {
            "July".into()
        }
        _ => question.otherwise.into(),
    }
}

/// Whether a question means anything after the others' answers.
#[must_use]
pub fn matters(question: usize, answers: &Answers) -> bool {
    match QUESTIONS[question].option {
        "stand" => !panels::is_none(&answer(3, answers).to_lowercase()),
        "charger" => {
            spell::spell(&answer(6, answers), &mut Answered::default()).is_ok_and(|spell| !spell.cuts.is_empty())
        }
        _ => true,
    }
}
