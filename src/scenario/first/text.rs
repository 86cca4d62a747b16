//! The answers as the text of a scenario.

use super::panels::Panels;
use super::spell::Spell;
use super::stands::Stands;
use super::station::{Ac, Held};
use super::things::Wanted;
use crate::scenario::light::shade_written;

/// Answers, put where a file has them.
pub(super) struct Parts {
    /// The lines of `[site]`.
    pub site: String,
    pub spell: Spell,
    pub month: String,
    pub storm: bool,
    pub capacity: String,
    /// What is left of that, where it is told.
    pub health: Option<String>,
    /// That it is said to be new.
    pub new: bool,
    /// How full it is as the lights go out, where that is told.
    pub charged: Option<String>,
    /// The capacity as the label has it.
    pub label: String,
    pub chemistry: String,
    pub ac: Option<Ac>,
    pub panels: Option<Panels>,
    pub held: Option<Held>,
    /// Of all of them \[W\].
    pub panels_w: f64,
    pub stands: Stands,
    pub loads: Vec<Wanted>,
    /// What a charger draws from the wall between cuts, where there is one.
    pub charger: Option<String>,
    /// Whether that was told.
    pub charger_told: bool,
    /// A battery by itself, without outlets of its own.
    pub block: bool,
    /// Whether there is a 12 V outlet, and USB.
    pub dc: bool,
    pub usb: bool,
    /// What the inverter draws while nothing is asked of it \[W\], where there is one.
    pub idle_w: Option<f64>,
    /// What one of such a station may draw \[W\].
    pub charger_w: f64,
    /// What a discharge test of such a station may show \[Wh\].
    pub measured_wh: f64,
}

/// What a solar input takes where nobody said \[W\] (common practice, no source: small stations take 100 to 400 W).
pub(super) const INPUT_W: u32 = 200;

/// Without what would end a text of the file.
fn q(text: &str) -> String {
    text.replace(['"', '\\'], "").replace(char::is_control, " ")
}

fn line(set: impl AsRef<str>, remark: &str) -> String {
    format!("{:<37} # {remark}\n", set.as_ref())
}

impl Parts {
    pub fn text(&self) -> String {
        let mut out = String::from(
            "# My outage. Every figure below can be changed; what else may be said: docs/scenario.md, or tideover schema.\n\
             title = \"My outage\"\n\n[site]\n",
        );
        out += &format!("{}\n\n[outage]\n", self.site);
        out += &line(format!("month = \"{}\"", q(&self.month)), "every day and hour of it is equally likely");
        let cuts = &self.spell.cuts;
        let lasts = format!("lasts = \"{}\"", q(&self.spell.lasts));
        if cuts.is_empty() {
            out += &format!("{lasts}\n");
        } else {
            out += &line(lasts, "for so many days the cuts come back");
            let cuts: Vec<String> = cuts.iter().map(|cut| format!("\"{}\"", q(cut))).collect();
            out += &line(format!("every_day = [{}]", cuts.join(", ")), "the hours without mains");
            out += "# mains_limit = \"150 W\"   # where weak mains give the charger no more\n\
                    # somebody_home = [\"16:00-24:00\"]   # to switch things on by hand; assumed: at all hours\n";
        }
        out += &match &self.charged {
            Some(charged) => format!("starts_charged = \"{}\"\n", q(charged)),
            None => line("starts_charged = \"80 %\"", "assumed: few stations stand full when the lights go out"),
        };
        out += &line(
            format!("begins_in_a_storm = {}", self.storm),
            "true: the first two days are among the season's darkest",
        );
        self.station(&mut out);
        self.sun(&mut out);
        for load in &self.loads {
            out.push_str(&format!("\n[[load]]\n{}", load.lines));
        }
        out.push_str("\n# priority may be vital, useful or spare: spare things are switched off first.\n");
        out
    }

    fn station(&self, out: &mut String) {
        *out += &format!("\n[station]\nrated_capacity = \"{}\"\n", q(&self.capacity));
        *out += &line(
            format!("# measured_capacity = \"{} Wh ± 3 %\"", self.measured_wh),
            "your own discharge test narrows the answer most",
        );
        *out += &line(
            format!("chemistry = \"{}\"", q(&self.chemistry)),
            "\"LFP\", \"NMC\" or \"lead-acid\": see the label",
        );
        *out += &match &self.health {
            Some(health) => line(
                format!("state_of_health = \"{}\"", q(health)),
                "what its years leave of the label; a discharge test tells more",
            ),
            None => String::new(),
        };
        *out += &line(
            "stands = \"indoors\"",
            "assumed: in a room of 20 °C or as warm as outside; or \"outdoors\", or \"5 °C\"",
        );
        if let Some(ac) = &self.ac {
            *out += &line("\n[station.inverter]", " the AC outlets");
            *out += &format!("rated = \"{}\"\n", q(&ac.rated));
            *out += &ac.surge.as_ref().map_or(String::new(), |surge| format!("surge = \"{}\"\n", q(surge)));
            *out += &line("# idle = \"10 W\"", "drawn with nothing plugged in: measure yours");
            if ac.stays_on {
                *out += &line("switches_off_below = \"0 W\"", "assumed: by itself it stays on");
            }
        }
        if self.dc {
            *out += &line(
                "\n[station.dc_outlet]",
                if self.block {
                    " assumed: a lead of 12 V from the battery, with a fuse close to its pole"
                } else {
                    " the 12 V outlet: leave out what yours does not have"
                },
            );
            *out += "limit = \"120 W\"\n";
        }
        if self.usb {
            *out += &match self.block {
                true => line("\n[station.usb]", " assumed: a converter from the battery to USB, with a fuse"),
                false => "\n[station.usb]\n".into(),
            };
            *out += "limit = \"60 W\"\n";
        }
        if !self.spell.cuts.is_empty() {
            match &self.charger {
                Some(limit) => {
                    *out += &line("\n[station.wall_charger]", " between the cuts");
                    let limit = format!("limit = \"{}\"", q(limit));
                    *out += &if self.charger_told {
                        format!("{limit}\n")
                    } else {
                        line(limit, "a guess, a slow one for its size: write what your charger draws")
                    };
                }
                None => {
                    *out += &line("\n# [station.wall_charger]", "none: the panels alone charge it between the cuts");
                    *out += &line(format!("# limit = \"{} W\"", self.charger_w), "copy it from the charger");
                }
            }
        }
    }

    fn sun(&self, out: &mut String) {
        let Some(panels) = &self.panels else { return };
        let stands = &self.stands;
        *out += "\n[station.solar_input]\n";
        let remark = "assumed: copy it from the label, and volts_min and volts_max";
        *out += &match &panels.input {
            Some(input) => format!("limit = \"{}\"\n", q(input)),
            None if self.block => {
                line(format!("limit = \"{} W\"", self.panels_w), "assumed: a controller for all of the panels")
            }
            None => line(format!("limit = \"{INPUT_W} W\""), remark),
        };
        if let Some(Held { pwm_at, .. }) = &self.held {
            *out +=
                &line(format!("pwm_at = \"{pwm_at}\""), "a simple controller holds the panels at the battery's volts");
        }
        *out += &line("\n[[panel]]", &format!(" {}", stands.said));
        if panels.count > 1 {
            *out += &format!("count = {}\n", panels.count);
            *out += &line("wiring = \"parallel\"", "assumed; or \"series\"");
        }
        *out += &line(format!("rated = \"{}\"", q(&panels.one)), "of one");
        if let Some(Held { vmp, .. }) = &self.held {
            *out += &line(format!("max_power_voltage = \"{vmp}\""), "assumed: copy Vmp from the panel's label");
        }
        *out += &line(format!("tilt = \"{}\"", stands.tilt), "0° lies flat, 90° stands upright");
        *out += &stands.facing.as_ref().map_or(String::new(), |facing| format!("facing = \"{facing}\"\n"));
        *out += &match stands.shade.as_deref() {
            None => "# shade = [{ hours = \"14:00-24:00\", loses = \"90 %\" }]   # assumed: none\n".into(),
            Some([]) => String::new(),
            Some(hours) => format!("shade = {}   # of their light; by the clock\n", shade_written(hours)),
        };
        *out += "# out = { hours = \"08:00-17:00\" }     # assumed: out all day, every day\n";
    }
}
