//! What lies in a cold compartment: how warm it is for the heat it holds, and how it warms and cools.
//!
//! Food is mostly water. Below the melting point it holds little heat per kelvin, at the melting point it takes up the
//! heat of melting without getting warmer, above it holds more heat per kelvin. The state is the heat held, counted from
//! food that is frozen through at its melting point \[Wh\]; it has no jump, the temperature follows from it.

use crate::math;

/// Heat that melts ice \[kJ/kg\] (handbook constant).
pub const ICE_LATENT_KJ_PER_KG: f64 = 333.55;
/// Heat capacity of water \[kJ/kg K\] (handbook constant).
pub const WATER_KJ_PER_KG_K: f64 = 4.186;
/// Heat capacity of ice \[kJ/kg K\] (handbook constant).
pub const ICE_KJ_PER_KG_K: f64 = 2.05;
/// Heat capacity of what is not water in food \[kJ/kg K\] (fats 1.9, carbohydrates and proteins about 1.5; typical).
const DRY_KJ_PER_KG_K: f64 = 1.5;
/// Share of water in food by weight. Typical of a mixed stock (meat 60 to 75 %, vegetables 90 %, bread 40 %); no source.
const WATER_SHARE: f64 = 0.7;
/// Food begins to freeze a little below water \[°C\] (dissolved salts and sugars; typical).
pub const FOOD_MELTS_C: f64 = -1.0;

const KJ_PER_WH: f64 = 3.6;

/// Some mass with a melting point.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Contents {
    /// Heat to warm it by one kelvin while frozen \[Wh/K\], above 0.
    pub frozen_wh_per_k: f64,
    /// The same while thawed \[Wh/K\], above 0.
    pub thawed_wh_per_k: f64,
    /// Heat to melt it \[Wh\], 0 or more.
    pub latent_wh: f64,
    /// Melting point \[°C\].
    pub melts_c: f64,
}

impl Contents {
    /// So many kilograms of mixed food.
    #[must_use]
    pub fn food(kg: f64) -> Contents {
        let mix = |wet: f64| kg * (WATER_SHARE * wet + (1.0 - WATER_SHARE) * DRY_KJ_PER_KG_K) / KJ_PER_WH;
        Contents {
            frozen_wh_per_k: mix(ICE_KJ_PER_KG_K),
            thawed_wh_per_k: mix(WATER_KJ_PER_KG_K),
            latent_wh: kg * WATER_SHARE * ICE_LATENT_KJ_PER_KG / KJ_PER_WH,
            melts_c: FOOD_MELTS_C,
        }
    }

    /// So many kilograms of plain water or ice.
    #[must_use]
    pub fn water(kg: f64) -> Contents {
        Contents {
            frozen_wh_per_k: kg * ICE_KJ_PER_KG_K / KJ_PER_WH,
            thawed_wh_per_k: kg * WATER_KJ_PER_KG_K / KJ_PER_WH,
            latent_wh: kg * ICE_LATENT_KJ_PER_KG / KJ_PER_WH,
            melts_c: 0.0,
        }
    }

    /// Temperature \[°C\] at `heat_wh` held.
    #[must_use]
    pub fn temperature_c(&self, heat_wh: f64) -> f64 {
        if heat_wh < 0.0 {
            self.melts_c + heat_wh / self.frozen_wh_per_k
        } else {
            self.melts_c + (heat_wh - self.latent_wh).max(0.0) / self.thawed_wh_per_k
        }
    }

    /// Heat held \[Wh\] at a temperature; at the melting point itself, that of the thawed.
    #[must_use]
    pub fn heat_wh(&self, temperature_c: f64) -> f64 {
        let above_k = temperature_c - self.melts_c;
        if above_k < 0.0 { above_k * self.frozen_wh_per_k } else { self.latent_wh + above_k * self.thawed_wh_per_k }
    }
}

/// Contents behind walls that leak heat, with what depends on the length of the step worked out.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Insulated {
    /// What lies inside.
    pub contents: Contents,
    /// Heat that comes in for each kelvin between room and inside \[W/K\], above 0.
    pub ua_w_per_k: f64,
    step_h: f64,
    frozen_kept: f64,
    thawed_kept: f64,
}

impl Insulated {
    /// Walls of `ua_w_per_k` \[W/K\] for steps of `step_h` \[h\].
    #[must_use]
    pub fn new(contents: Contents, ua_w_per_k: f64, step_h: f64) -> Insulated {
        let kept = |wh_per_k: f64| math::exp(-step_h * ua_w_per_k / wh_per_k);
        Insulated {
            contents,
            ua_w_per_k,
            step_h,
            frozen_kept: kept(contents.frozen_wh_per_k),
            thawed_kept: kept(contents.thawed_wh_per_k),
        }
    }

    /// Heat held after a step that begins with `heat_wh` \[Wh\] in a room of `room_c` \[°C\], `removed_w` \[W\] being taken
    /// out all the while. Exact for a steady room: `T(t) = T∞ + (T0 − T∞) exp(−t UA / C)` with `T∞ = room − removed / UA`
    /// while nothing melts, a steady flow while it does.
    #[must_use]
    pub fn after_step(&self, heat_wh: f64, room_c: f64, removed_w: f64) -> f64 {
        let Contents { frozen_wh_per_k, thawed_wh_per_k, latent_wh, melts_c } = self.contents;
        let settles_c = room_c - removed_w / self.ua_w_per_k;
        let mut heat_wh = heat_wh;
        let mut left_h = self.step_h;
        // Frozen, melting, thawed: a step passes through each at most once.
        for _ in 0..3 {
            let warming = settles_c > melts_c;
            if heat_wh < 0.0 || (heat_wh == 0.0 && !warming) {
                let now_c = melts_c + heat_wh / frozen_wh_per_k;
                let then_c = self.relaxed(now_c, settles_c, left_h, frozen_wh_per_k, self.frozen_kept);
                if then_c <= melts_c {
                    return (then_c - melts_c) * frozen_wh_per_k;
                }
                left_h -= frozen_wh_per_k / self.ua_w_per_k * math::ln((now_c - settles_c) / (melts_c - settles_c));
                heat_wh = 0.0;
            } else if heat_wh < latent_wh || (heat_wh == latent_wh && !warming) {
                let flow_w = self.ua_w_per_k * (settles_c - melts_c);
                let then_wh = heat_wh + flow_w * left_h;
                if (0.0..=latent_wh).contains(&then_wh) {
                    return then_wh;
                }
                let edge_wh = if flow_w > 0.0 { latent_wh } else { 0.0 };
                left_h -= (edge_wh - heat_wh) / flow_w;
                heat_wh = edge_wh;
            } else {
                let now_c = melts_c + (heat_wh - latent_wh) / thawed_wh_per_k;
                let then_c = self.relaxed(now_c, settles_c, left_h, thawed_wh_per_k, self.thawed_kept);
                if then_c >= melts_c {
                    return latent_wh + (then_c - melts_c) * thawed_wh_per_k;
                }
                left_h -= thawed_wh_per_k / self.ua_w_per_k * math::ln((now_c - settles_c) / (melts_c - settles_c));
                heat_wh = latent_wh;
            }
            if left_h <= 0.0 {
                break;
            }
        }
        heat_wh
    }

    fn relaxed(&self, now_c: f64, settles_c: f64, left_h: f64, wh_per_k: f64, kept: f64) -> f64 {
        let kept = if left_h == self.step_h { kept } else { math::exp(-left_h * self.ua_w_per_k / wh_per_k) };
        settles_c + (now_c - settles_c) * kept
    }

    /// Mean power \[W\] that must be taken out during a step so that it ends at `target_c`; 0 where it ends colder by
    /// itself. Exact where nothing melts or freezes on the way; otherwise by the heat to be moved and the mean
    /// temperature, which the next step puts right. A cooler works it out in lanes; this is what that is held to.
    #[cfg(test)]
    pub(super) fn needed_w(&self, heat_wh: f64, target_c: f64, room_c: f64) -> f64 {
        let now_c = self.contents.temperature_c(heat_wh);
        let target_wh = self.contents.heat_wh(target_c);
        let frozen = heat_wh <= 0.0 && target_wh <= 0.0;
        let thawed = heat_wh >= self.contents.latent_wh && target_wh >= self.contents.latent_wh;
        let removed_w = if frozen || thawed {
            let kept = if frozen { self.frozen_kept } else { self.thawed_kept };
            let settles_c = (target_c - now_c * kept) / (1.0 - kept);
            self.ua_w_per_k * (room_c - settles_c)
        } else {
            (heat_wh - target_wh) / self.step_h + self.ua_w_per_k * (room_c - 0.5 * (now_c + target_c))
        };
        removed_w.max(0.0)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn food_safety(table: &str, key: &str) -> f64 {
        let file: toml::Table = include_str!("../../tests/data/food_safety.toml").parse().expect("the file is TOML");
        file[table][key].as_float().or_else(|| file[table][key].as_integer().map(|i| i as f64)).expect("a number")
    }

    /// A mass that does not melt within the range looked at.
    fn plain(kj_per_k: f64) -> Contents {
        let wh_per_k = kj_per_k / KJ_PER_WH;
        Contents { frozen_wh_per_k: wh_per_k, thawed_wh_per_k: wh_per_k, latent_wh: 0.0, melts_c: -50.0 }
    }

    #[test]
    fn a_fridge_without_power_warms_by_the_closed_form() {
        // tests/data/food_safety.toml, worked_thermal: T(t) = Ta + (T0 − Ta) exp(−t UA / C).
        let worked = |key| food_safety("worked_thermal", key);
        let contents = plain(worked("heat_capacity_kj_per_k"));
        for (hours, expected_c) in [
            (4.0, worked("temperature_after_4_h")),
            (12.0, worked("temperature_after_12_h")),
            (worked("hours_to_10_c"), 10.0),
        ] {
            for parts in [1, 7, 60] {
                let box_ = Insulated::new(contents, worked("ua_w_per_k"), hours / f64::from(parts));
                let mut heat = contents.heat_wh(worked("start_celsius"));
                for _ in 0..parts {
                    heat = box_.after_step(heat, worked("room_celsius"), 0.0);
                }
                let found_c = contents.temperature_c(heat);
                // Six decimals are printed.
                assert!((found_c - expected_c).abs() < 1e-6, "{hours} h in {parts} steps: {found_c}, not {expected_c}");
            }
        }
    }

    #[test]
    fn ice_melts_by_the_closed_form() {
        // tests/data/food_safety.toml, worked_ice: hours = m L / (UA ΔT).
        let worked = |key| food_safety("worked_ice", key);
        let ice = Contents::water(worked("ice_kg"));
        let hours = worked("hours_until_melted");
        let until = |hours: f64| {
            let box_ = Insulated::new(ice, worked("ua_w_per_k"), hours);
            box_.after_step(0.0, worked("room_celsius"), 0.0)
        };
        assert!(ice.temperature_c(until(hours - 0.001)) == 0.0);
        assert!(ice.temperature_c(until(hours + 0.001)) > 0.0);
    }

    #[test]
    fn ice_takes_up_its_watt_hours() {
        // tests/data/cooler_energy.toml, [ice].
        let file: toml::Table = include_str!("../../tests/data/cooler_energy.toml").parse().expect("the file is TOML");
        let rows = file["ice"]["rows"].as_array().expect("rows");
        assert_eq!(rows.len(), 4);
        for row in rows {
            let at = |k: usize| row[k].as_float().expect("a number");
            assert!((Contents::water(at(0)).latent_wh - at(2)).abs() < 1e-3, "{row}");
        }
        // Food that is mostly water takes 3.2 to 4.0 kJ/kg K (food_safety.toml, [handbook]).
        let per_kg = Contents::food(1.0).thawed_wh_per_k * KJ_PER_WH;
        assert!((3.2..=4.0).contains(&per_kg), "{per_kg} kJ/kg K");
    }

    #[test]
    fn the_length_of_the_step_does_not_matter_in_a_steady_room() {
        // Through all three stretches both ways: thaw 2 kg from -18 °C at 30 °C, then freeze it again.
        let contents = Contents::food(2.0);
        for (start_c, room_c, removed_w) in [(-18.0, 30.0, 0.0), (20.0, 30.0, 60.0), (-0.999, 30.0, 0.0)] {
            let run = |steps: u32| {
                let box_ = Insulated::new(contents, 1.0, 48.0 / f64::from(steps));
                (0..steps).fold(contents.heat_wh(start_c), |heat, _| box_.after_step(heat, room_c, removed_w))
            };
            let (one, many) = (run(1), run(2880));
            assert!(
                (one - many).abs() < 1e-9 * many.abs().max(1.0),
                "{start_c} °C: {one} Wh in one step, {many} in many"
            );
        }
    }

    #[test]
    fn what_is_needed_brings_it_to_the_target() {
        let contents = Contents::food(20.0);
        for (now_c, target_c) in [(3.0, 3.0), (8.0, 3.0), (2.0, 3.0), (-10.0, -18.0), (-18.0, -18.0)] {
            let box_ = Insulated::new(contents, 1.2, 1.0);
            let heat = contents.heat_wh(now_c);
            let removed = box_.needed_w(heat, target_c, 22.0);
            let then_c = contents.temperature_c(box_.after_step(heat, 22.0, removed));
            assert!((then_c - target_c).abs() < 1e-9, "from {now_c} °C to {then_c}, not {target_c}");
        }
        // Thawed food on its way to -18 °C is frozen within some steps with power to spare.
        let box_ = Insulated::new(contents, 1.2, 1.0);
        let heat =
            (0..5).fold(contents.heat_wh(5.0), |heat, _| box_.after_step(heat, 22.0, box_.needed_w(heat, -18.0, 22.0)));
        assert!((contents.temperature_c(heat) + 18.0).abs() < 1e-6, "{}", contents.temperature_c(heat));
    }

    /// Mixed by weight from the handbook's water and ice and from dry matter of 1.5 kJ/kg K, seven tenths water, by hand: (0.7 · 2.05 +
    /// 0.3 · 1.5) / 3.6 = 0.523611 Wh/kg K frozen, (0.7 · 4.186 + 0.45) / 3.6 = 0.938944 thawed, 0.7 · 333.55 / 3.6 = 64.8569 Wh/kg to melt.
    /// Siebel's rule of the trade (1892, from memory) has 0.84 + 1.26 w and 0.84 + 3.35 w kJ/kg K: a tenth less at w = 0.7.
    #[test]
    fn food_is_mixed_of_water_and_dry_matter() {
        let food = Contents::food(20.0);
        assert!((food.frozen_wh_per_k - 10.472_222).abs() < 1e-6 && (food.thawed_wh_per_k - 18.778_889).abs() < 1e-6);
        assert!((food.latent_wh - 1_297.138_889).abs() < 1e-6);
        for (found, siebel) in [(food.frozen_wh_per_k, 0.84 + 1.26 * 0.7), (food.thawed_wh_per_k, 0.84 + 3.35 * 0.7)] {
            assert!((found * 3.6 / 20.0 / siebel - 1.0).abs() < 0.1, "{found}");
        }
        let water = Contents::water(9.0);
        assert!((water.thawed_wh_per_k - 9.0 * 4.186 / 3.6).abs() < 1e-12, "{water:?}");
        assert!((water.frozen_wh_per_k - 9.0 * 2.05 / 3.6).abs() < 1e-12 && water.melts_c == 0.0);
        // As cold or warm as the heat it holds, on either side of melting and while it melts.
        for (temperature_c, heat_wh) in [(-18.0, -178.027_778), (-1.0, 1_297.138_889), (4.0, 1_391.033_333)] {
            assert!((food.heat_wh(temperature_c) - heat_wh).abs() < 1e-5, "{}", food.heat_wh(temperature_c));
            assert!((food.temperature_c(heat_wh) - temperature_c).abs() < 1e-6, "{}", food.temperature_c(heat_wh));
        }
        assert_eq!((food.temperature_c(0.0), food.temperature_c(700.0)), (-1.0, -1.0));
    }

    /// Newton's law of cooling on either side of melting and a steady flow in between, each from where it begins to where it ends, and all
    /// three one after the other: by the closed forms, `t = C / UA ln((T0 - T∞) / (T1 - T∞))` for a change of temperature.
    #[test]
    fn food_warms_and_cools_through_melting_by_the_closed_forms() {
        let food = Contents::food(2.0);
        let Contents { frozen_wh_per_k: frozen, thawed_wh_per_k: thawed, latent_wh, .. } = food;
        let ua = 0.8;
        let after = |heat_wh: f64, room_c: f64, removed_w: f64, hours: f64| {
            Insulated::new(food, ua, hours).after_step(heat_wh, room_c, removed_w)
        };
        let near = |found: f64, expected: f64| assert!((found - expected).abs() < 1e-9, "{found} for {expected}");
        // From one edge of melting or the other into a room on this side or that, for three quarters of an hour.
        let kept = |wh_per_k: f64| math::exp(-0.75 * ua / wh_per_k);
        near(after(0.0, -20.0, 0.0, 0.75), -19.0 * (1.0 - kept(frozen)) * frozen);
        near(after(0.0, 30.0, 0.0, 0.75), 31.0 * ua * 0.75);
        near(after(latent_wh, -20.0, 0.0, 0.75), latent_wh - 19.0 * ua * 0.75);
        near(after(latent_wh, 30.0, 0.0, 0.75), latent_wh + 31.0 * (1.0 - kept(thawed)) * thawed);
        // What is taken out works as a colder room: 8 W at 0.8 W/K as 10 K. Where the two balance nothing moves.
        near(after(0.4 * latent_wh, 30.0, 8.0, 0.75), 0.4 * latent_wh + 21.0 * ua * 0.75);
        near(after(0.4 * latent_wh, 9.0, 8.0, 0.75), 0.4 * latent_wh);
        near(after(0.0, 9.0, 8.0, 0.75), 0.0);
        near(after(latent_wh, 9.0, 8.0, 0.75), latent_wh);
        // From -18 °C in a room of 30 °C to 5 °C, and from 20 °C in a room of -20 °C to -7 °C.
        let takes = |wh_per_k: f64, from_k: f64, to_k: f64| wh_per_k / ua * math::ln(from_k / to_k);
        let up_h = takes(frozen, 48.0, 31.0) + latent_wh / (31.0 * ua) + takes(thawed, 31.0, 25.0);
        near(after(food.heat_wh(-18.0), 30.0, 0.0, up_h), latent_wh + 6.0 * thawed);
        let down_h = takes(thawed, 40.0, 19.0) + latent_wh / (19.0 * ua) + takes(frozen, 19.0, 13.0);
        near(after(food.heat_wh(20.0), -20.0, 0.0, down_h), -6.0 * frozen);
    }
}
