//! Short gaps of a record.

use crate::weather::record::Reading;

/// Longest gap in sun readings that is bridged \[min\].
pub(super) const LONGEST_SUN_GAP_MINUTES: usize = 120;
/// Longest gap in air readings that is bridged \[min\].
pub(super) const LONGEST_AIR_GAP_MINUTES: usize = 360;

/// Draws straight lines across missing air temperatures, up to `longest` steps.
pub(super) fn bridge_air(readings: &mut [Reading], longest: usize) {
    let mut last: Option<usize> = None;
    for k in 0..readings.len() {
        if readings[k].air_c.is_nan() {
            continue;
        }
        if let Some(from) = last.filter(|&from| k - from - 1 <= longest) {
            let (a, b) = (readings[from].air_c, readings[k].air_c);
            for (between, reading) in readings[from + 1..k].iter_mut().enumerate() {
                reading.air_c = a + (b - a) * (between + 1) as f64 / (k - from) as f64;
            }
        }
        last = Some(k);
    }
}

/// Fills missing sun by the clearness of its neighbours, up to `longest` lit steps in a row; dark steps become 0.
/// Returns how many lit steps were filled.
pub(super) fn bridge_sun(cells: &mut [Reading], light: &[f64], longest: usize) -> usize {
    let clearness =
        |cell: &Reading, light: f64| (cell.ghi_w_m2 / light).min(crate::sky::extraterrestrial::SOLAR_CONSTANT_W_M2);
    let mut filled = 0;
    let mut k = 0;
    while k < cells.len() {
        if !cells[k].ghi_w_m2.is_nan() {
            k += 1;
            continue;
        }
        if light[k] <= 0.0 {
            cells[k].ghi_w_m2 = 0.0;
            k += 1;
            continue;
        }
        let gap = (k..cells.len()).take_while(|&j| cells[j].ghi_w_m2.is_nan() && light[j] > 0.0).count();
        let before = (k > 0 && light[k - 1] > 0.0).then(|| clearness(&cells[k - 1], light[k - 1]));
        let next = k + gap;
        let after = (next < cells.len() && light[next] > 0.0).then(|| clearness(&cells[next], light[next]));
        if let (true, Some(a), Some(b)) = (gap <= longest, before.or(after), after.or(before)) {
            for j in 0..gap {
                let part = (j + 1) as f64 / (gap + 1) as f64;
                cells[k + j].ghi_w_m2 = (a + part * (b - a)) * light[k + j];
                filled += 1;
            }
        }
        k = next;
    }
    filled
}

#[cfg(test)]
mod tests {
    use super::*;

    fn readings<const N: usize>(of: [f64; N], put: impl Fn(&mut Reading, f64)) -> [Reading; N] {
        of.map(|value| {
            let mut reading = Reading::MISSING;
            put(&mut reading, value);
            reading
        })
    }

    #[track_caller]
    fn same(found: &[f64], expected: &[f64]) {
        let equal = |(a, b): (&f64, &f64)| (a - b).abs() < 1e-12 || (a.is_nan() && b.is_nan());
        assert!(found.len() == expected.len() && found.iter().zip(expected).all(equal), "{found:?} for {expected:?}");
    }

    const GAP: f64 = f64::NAN;

    /// A gap as long as allowed has a straight line, a longer one and the ends have none.
    #[test]
    fn air_goes_straight_across_gaps_as_long_as_allowed() {
        let air = [GAP, 10.0, GAP, GAP, GAP, 18.0, 17.0, GAP, GAP, GAP, GAP, 28.0, GAP, 29.0, GAP];
        let mut found = readings(air, |reading, value| reading.air_c = value);
        bridge_air(&mut found, 3);
        let expected = [GAP, 10.0, 12.0, 14.0, 16.0, 18.0, 17.0, GAP, GAP, GAP, GAP, 28.0, 28.5, 29.0, GAP];
        same(&found.map(|reading| reading.air_c), &expected);
    }

    /// The sun of a gap has its neighbours' clearness, in the measure of its place between them, or the only neighbour's; what is dark is 0.
    #[test]
    fn sun_has_its_neighbours_clearness_across_gaps_as_long_as_allowed() {
        let light = [0.0, 100.0, 200.0, 400.0, 500.0, 400.0, 100.0, 50.0, 0.0, 80.0, 90.0];
        let sun = [GAP, 50.0, GAP, GAP, 100.0, 100.0, GAP, GAP, GAP, GAP, 45.0];
        let bridged = |longest: usize| {
            let mut cells = readings(sun, |reading, value| reading.ghi_w_m2 = value);
            let filled = bridge_sun(&mut cells, &light, longest);
            (filled, cells.map(|cell| cell.ghi_w_m2))
        };
        // From 0.5 to 0.2 over three steps; 0.25 up to the evening; 0.5 from the morning on.
        let whole = [0.0, 50.0, 80.0, 120.0, 100.0, 100.0, 25.0, 12.5, 0.0, 40.0, 45.0];
        let (filled, found) = bridged(2);
        assert_eq!(filled, 5);
        same(&found, &whole);
        let (filled, found) = bridged(1);
        assert_eq!(filled, 1);
        same(&found, &[0.0, 50.0, GAP, GAP, 100.0, 100.0, GAP, GAP, 0.0, 40.0, 45.0]);
        // A day of nothing else stays unknown.
        let mut cells = readings([GAP; 3], |reading, value| reading.ghi_w_m2 = value);
        assert_eq!(bridge_sun(&mut cells, &[0.0, 70.0, 0.0], 2), 0);
        same(&cells.map(|cell| cell.ghi_w_m2), &[0.0, GAP, 0.0]);
    }
}
