//! From what came out of an outlet back to what is in the cells.

/// Energy in the cells \[Wh\] that stands behind a bench test from full to empty.
///
/// * `delivered_wh` — energy that came out of the outlet \[Wh\], above 0.
/// * `load_w` — the load during the test \[W\], above 0.
/// * `drawn_w` — what that load draws from the bus, converter losses and idle draw counted \[W\].
/// * `own_draw_w` — what the station's electronics draw from the bus \[W\].
/// * `discharge_efficiency` — bus energy over cell energy, 0 to 1.
///
/// `cells = (drawn + own draw) × (delivered / load) / efficiency`: the test lasted `delivered / load` hours, and in each
/// of them the cells paid for everything. Going forward again through the same losses gives back `delivered`, so the
/// inverter's draw is not counted twice.
#[must_use]
pub fn cells_from_bench_test(
    delivered_wh: f64,
    load_w: f64,
    drawn_w: f64,
    own_draw_w: f64,
    discharge_efficiency: f64,
) -> f64 {
    (drawn_w + own_draw_w) * (delivered_wh / load_w) / discharge_efficiency
}

#[cfg(test)]
mod tests {
    use super::*;

    /// By hand: 480 Wh at 120 W are four hours, in each of which the cells paid for 140 W and 3 W, at 95 % of what they held. Forward again:
    /// 602.1 Wh at 95 % and 143 W are four hours of 120 W.
    #[test]
    fn a_bench_test_goes_back_to_the_cells_and_forward_again() {
        let cells_wh = cells_from_bench_test(480.0, 120.0, 140.0, 3.0, 0.95);
        assert!((cells_wh - 143.0 * 4.0 / 0.95).abs() < 1e-9, "{cells_wh}");
        assert!((cells_wh * 0.95 / 143.0 * 120.0 - 480.0).abs() < 1e-9);
    }
}
