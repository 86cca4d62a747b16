//! Charts for the terminal: characters only, no colour needed.

use crate::trials::tally::ChargeFan;

/// Rows of the charge chart between empty and full.
const ROWS: usize = 11;

/// The battery's charge over the outage: `#` where the middle trial stands, `:` where eight of ten trials lie.
///
/// * `columns` — most characters for the time axis.
/// * `floor` — the charge below which nothing is discharged, 0 to 1, shown by `_`.
#[must_use]
pub fn charge(fan: &ChargeFan, step_h: f64, columns: usize, floor: f64) -> String {
    let steps = fan.steps_with_a_twentieth();
    if steps == 0 || columns == 0 {
        return String::new();
    }
    // A column stands for the last step it covers: charge at its end.
    let wide = steps.min(columns);
    let step_of = |column: usize| ((column + 1) * steps).div_ceil(wide) - 1;
    let row_of = |charge: f64| (charge * (ROWS - 1) as f64).round() as usize;
    let mut grid = vec![vec![' '; wide]; ROWS];
    if floor > 0.0 {
        for cell in &mut grid[row_of(floor)] {
            *cell = '_';
        }
    }
    for column in 0..wide {
        let at = |p: f64| fan.quantile(step_of(column), p);
        let (Some(low), Some(middle), Some(high)) = (at(0.1), at(0.5), at(0.9)) else { continue };
        for row in &mut grid[row_of(low)..=row_of(high)] {
            row[column] = ':';
        }
        grid[row_of(middle)][column] = '#';
    }
    let mut out = String::new();
    for (row, cells) in grid.iter().enumerate().rev() {
        let label = if row % 2 == 0 { format!("{:>4} %", row * 10) } else { String::new() };
        let line: String = cells.iter().collect();
        out.push_str(&format!("{label:>7} |{}\n", line.trim_end()));
    }
    out.push_str(&format!("{:>7} +{}\n", "", axis(wide, steps, step_h)));
    out.push_str(&format!("{:>8} {}\n", "", day_labels(wide, steps, step_h)));
    out
}

fn axis(wide: usize, steps: usize, step_h: f64) -> String {
    let mut marks = vec!['-'; wide];
    for (column, _) in days(wide, steps, step_h) {
        marks[column] = '+';
    }
    marks.into_iter().collect()
}

/// Columns at which days of the outage end, with their number.
fn days(wide: usize, steps: usize, step_h: f64) -> Vec<(usize, usize)> {
    let hours = steps as f64 * step_h;
    let columns_a_day = wide as f64 * 24.0 / hours;
    let every = (6.0 / columns_a_day).ceil().max(1.0) as usize;
    (1..=(hours / 24.0).floor() as usize)
        .filter(|day| day % every == 0)
        .map(|day| (((day as f64 * columns_a_day).round() as usize).clamp(1, wide) - 1, day))
        .collect()
}

fn day_labels(wide: usize, steps: usize, step_h: f64) -> String {
    let marks = days(wide, steps, step_h);
    if marks.is_empty() {
        return format!("{:.0} h", steps as f64 * step_h);
    }
    let mut line = String::new();
    for (column, day) in marks {
        let label = if line.is_empty() { format!("day {day}") } else { day.to_string() };
        let start = (column + 1).saturating_sub(label.len());
        while line.len() < start {
            line.push(' ');
        }
        line.push_str(&label);
    }
    line
}

/// A bar of `#` for a value on a scale that ends at `most`, `width` characters long at most.
#[must_use]
pub fn bar(value: f64, most: f64, width: usize) -> String {
    let n = if most > 0.0 { (value / most * width as f64).round().clamp(0.0, width as f64) as usize } else { 0 };
    "#".repeat(n)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_middle_and_the_band_stand_where_the_trials_are() {
        let mut fan = ChargeFan::default();
        for trial in 0..10 {
            for step in 0..48 {
                fan.add(step, [100 - step as u32 - trial].into_iter());
            }
        }
        let expected = "
  100 % |::
        |#####::
   80 % |   ::#####::
        |        ::#####::
   60 % |             ::#####::
        |                  ::####
   40 % |                       :
        |
   20 % |
        |
    0 % |
        +-----------+-----------+
                day 1           2
";
        assert_eq!(charge(&fan, 1.0, 24, 0.0), &expected[1..]);
    }
}
