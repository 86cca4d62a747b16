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
