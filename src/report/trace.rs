//! One trial, step by step, as CSV.

use crate::calendar::clock;
use crate::engine::ledger::Flow;
use crate::engine::{CLASSES, Ledger, OUTLETS, Observer, StepView};

/// Collects a trial's steps as lines of CSV, described in docs/trace.md. What is asked for is counted as everywhere else
/// ([`StepView::asked_wh`]). The ledger's columns are the flows of the step \[Wh\]:
/// `solar_wh + wall_wh + source_wh + stored_before_wh = served + losses + curtailed_wh + stored_wh`; `clipped_wh` and `barred_wh` are
/// parts of `curtailed_wh`.
#[derive(Debug)]
pub struct Trace {
    lines: Vec<String>,
    before: Ledger,
    stored_before_wh: f64,
    steps_a_day: usize,
    step_h: f64,
    first_day: u32,
    ghi_w_m2: Vec<f64>,
    air_c: Vec<f64>,
}

/// The columns, in order.
#[must_use]
pub fn columns() -> String {
    let flows: Vec<&str> = Flow::ALL.into_iter().filter(|flow| is_column(*flow)).map(Flow::name).collect();
    format!(
        "step,day_of_year,clock,ghi_w_m2,air_c,station_c,panel_w,asked_vital_w,asked_useful_w,asked_spare_w,served_vital_w,\
         served_useful_w,served_spare_w,charge_percent,stored_before_wh,{},stored_wh",
        flows.join(",")
    )
}

/// What is in the cells stands before and after the step's flows.
fn is_column(flow: Flow) -> bool {
    flow != Flow::Start && flow != Flow::End
}

impl Trace {
    /// A trace of a trial whose weather begins at midnight of `first_day` (0 for 1 January) and is given step by step.
    #[must_use]
    pub fn new(first_day: u32, steps_a_day: usize, start_wh: f64, ghi_w_m2: &[f64], air_c: &[f64]) -> Trace {
        Trace {
            lines: vec![columns()],
            before: Ledger::default(),
            stored_before_wh: start_wh,
            steps_a_day,
            step_h: 24.0 / steps_a_day as f64,
            first_day,
            ghi_w_m2: ghi_w_m2.to_vec(),
            air_c: air_c.to_vec(),
        }
    }

    /// The CSV text.
    #[must_use]
    pub fn csv(&self) -> String {
        let mut text = self.lines.join("\n");
        text.push('\n');
        text
    }
}

impl Observer for Trace {
    fn step(&mut self, index: usize, view: &StepView<'_>) {
        let at = view.weather_step;
        let minute = ((at % self.steps_a_day) as f64 * self.step_h * 60.0).round() as u32;
        let day = (self.first_day + (at / self.steps_a_day) as u32) % 365 + 1;
        let asked = view.asked_wh.map(|wh| wh / self.step_h);
        let mut served = [0.0; CLASSES];
        for class in 0..CLASSES {
            for outlet in 0..OUTLETS {
                served[class] += view.fed() * view.demand.watts[class][outlet] * view.balance.served[class][outlet];
            }
        }
        let flows = view.ledger.since(&self.before);
        let mut line = format!(
            "{index},{day},{},{:.1},{:.1},{:.1},{:.2}",
            clock(minute),
            self.ghi_w_m2[at],
            self.air_c[at],
            view.cell_c,
            view.supply.panel_w
        );
        for value in asked.into_iter().chain(served) {
            line.push_str(&format!(",{value:.3}"));
        }
        line.push_str(&format!(
            ",{:.2},{:.4}",
            100.0 * view.balance.stored_wh / view.rig.capacity_wh,
            self.stored_before_wh
        ));
        for value in flows.entries().filter(|(flow, _)| is_column(*flow)).map(|(_, wh)| wh) {
            // Rounding of differences may leave a negative zero.
            line.push_str(&format!(",{:.4}", if value.abs() < 5e-5 { 0.0 } else { value }));
        }
        line.push_str(&format!(",{:.4}", view.balance.stored_wh));
        self.lines.push(line);
        self.before = *view.ledger;
        self.stored_before_wh = view.balance.stored_wh;
    }
}
