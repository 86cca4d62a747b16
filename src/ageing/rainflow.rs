//! Rainflow counting (ASTM E1049-85, 5.4.4) of a series that comes value by value.
//!
//! Only the turning points that still wait for their partner are kept, so that ten years of hours need a handful of
//! numbers. What is left at the end counts as half cycles, as the standard says.

/// A counted cycle.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Cycle<T = ()> {
    /// Distance between its two turning points, in the unit of the series.
    pub range: f64,
    /// Middle between them.
    pub mean: f64,
    /// 1 for a full cycle, 0.5 for a half one.
    pub count: f64,
    /// What was noted beside its earlier turning point.
    pub from: T,
    /// What was noted beside its later turning point.
    pub to: T,
}

#[derive(Debug, Clone, Copy, PartialEq)]
struct Point<T> {
    value: f64,
    note: T,
}

/// A count in progress. `T` is noted beside every value and handed back with the cycles.
#[derive(Debug, Clone, PartialEq)]
pub struct Rainflow<T = ()> {
    /// Turning points without a partner yet, the oldest first.
    open: Vec<Point<T>>,
    /// The last value, which the next one may turn into a turning point.
    last: Option<Point<T>>,
}

impl<T: Copy> Default for Rainflow<T> {
    fn default() -> Self {
        Rainflow::new()
    }
}

impl<T: Copy> Rainflow<T> {
    /// Nothing counted yet.
    #[must_use]
    pub fn new() -> Self {
        Rainflow { open: Vec::new(), last: None }
    }

    /// Forgets everything and keeps its room.
    pub fn clear(&mut self) {
        self.open.clear();
        self.last = None;
    }

    /// Takes the next value; every cycle that it closes is handed to `found`. A value that is not a number is passed
    /// over.
    pub fn push(&mut self, value: f64, note: T, found: &mut impl FnMut(Cycle<T>)) {
        if value.is_nan() {
            return;
        }
        let Some(last) = self.last else {
            // The first value is a turning point from the start.
            self.open.push(Point { value, note });
            self.last = Some(Point { value, note });
            return;
        };
        let before = self.open.last().map_or(last.value, |point| point.value);
        let turns = (last.value - before) * (value - last.value) < 0.0;
        if turns {
            self.turn(last, found);
        }
        self.last = Some(Point { value, note });
    }

    /// Ends the series: the last value is a turning point, and what is open counts as half cycles.
    pub fn finish(&mut self, found: &mut impl FnMut(Cycle<T>)) {
        if let Some(last) = self.last.take()
            && self.open.last().is_some_and(|point| point.value != last.value)
        {
            self.turn(last, found);
        }
        for pair in self.open.windows(2) {
            found(cycle(pair[0], pair[1], 0.5));
        }
        self.open.clear();
    }

    fn turn(&mut self, point: Point<T>, found: &mut impl FnMut(Cycle<T>)) {
        self.open.push(point);
        while let [.., a, b, c] = self.open[..] {
            // X, the newest range, and Y, the one before it.
            let (x, y) = ((c.value - b.value).abs(), (b.value - a.value).abs());
            if x < y {
                return;
            }
            if self.open.len() == 3 {
                // Y holds the starting point: half a cycle, and the start moves on.
                found(cycle(a, b, 0.5));
                self.open.remove(0);
                return;
            }
            found(cycle(a, b, 1.0));
            let keep = self.open.len() - 3;
            self.open.truncate(keep);
            self.open.push(c);
        }
    }
}

fn cycle<T: Copy>(from: Point<T>, to: Point<T>, count: f64) -> Cycle<T> {
    Cycle {
        range: (to.value - from.value).abs(),
        mean: 0.5 * (from.value + to.value),
        count,
        from: from.note,
        to: to.note,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn count(series: &[f64]) -> Vec<(f64, f64, f64)> {
        let mut counted = Vec::new();
        let mut rainflow = Rainflow::new();
        let mut keep = |cycle: Cycle| counted.push((cycle.range, cycle.mean, cycle.count));
        for &value in series {
            rainflow.push(value, (), &mut keep);
        }
        rainflow.finish(&mut keep);
        counted
    }

    #[test]
    fn nothing_and_standing_still_are_no_cycles() {
        assert_eq!(count(&[]), []);
        assert_eq!(count(&[3.0]), []);
        assert_eq!(count(&[3.0, 3.0, 3.0]), []);
        assert_eq!(count(&[3.0, f64::NAN, 4.0]), [(1.0, 3.5, 0.5)]);
    }

    #[test]
    fn the_worked_example_of_the_standard_comes_out_in_order() {
        // ASTM E1049-85, figure 6.
        let expected = [
            (3.0, -0.5, 0.5),
            (4.0, -1.0, 0.5),
            (4.0, 1.0, 1.0),
            (8.0, 1.0, 0.5),
            (9.0, 0.5, 0.5),
            (8.0, 0.0, 0.5),
            (6.0, 1.0, 0.5),
        ];
        assert_eq!(count(&[-2.0, 1.0, -3.0, 5.0, -1.0, 3.0, -4.0, 4.0, -2.0]), expected);
    }

    #[test]
    fn notes_are_handed_back() {
        let mut rainflow = Rainflow::new();
        let mut notes = Vec::new();
        for (k, value) in [0.0, 5.0, 1.0, 4.0, 0.0].into_iter().enumerate() {
            rainflow.push(value, k, &mut |cycle: Cycle<usize>| notes.push((cycle.from, cycle.to, cycle.count)));
        }
        rainflow.finish(&mut |cycle| notes.push((cycle.from, cycle.to, cycle.count)));
        assert_eq!(notes, [(2, 3, 1.0), (0, 1, 0.5), (1, 4, 0.5)]);
    }

    #[test]
    fn ten_years_of_hours_keep_few_points_and_every_half_step() {
        // A free check for any series: Σ range × count is half the sum of all absolute steps.
        let mut rng = crate::random::Stream::new(8, 0, crate::random::Purpose::Weather);
        let mut rainflow = Rainflow::new();
        let (mut counted, mut steps, mut level, mut most) = (0.0, 0.0, 0.5_f64, 0);
        let mut add = |cycle: Cycle| counted += cycle.range * cycle.count;
        for _ in 0..87_600 {
            let next = (level + 0.05 * rng.normal()).clamp(0.0, 1.0);
            steps += (next - level).abs();
            level = next;
            rainflow.push(level, (), &mut add);
            most = most.max(rainflow.open.len());
        }
        rainflow.finish(&mut add);
        // The first push is the start itself: its step from 0.5 was never seen.
        assert!((counted - steps / 2.0).abs() < 0.2, "{counted} against {}", steps / 2.0);
        assert!(most < 64, "{most} turning points were kept");
    }
}
