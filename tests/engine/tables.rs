//! The figures that are written out for other programs are those that trials are made of.

use tideover::engine::plan::Plan;
use tideover::random::{Purpose, Stream};
use tideover::sky::split::hourly_diffuse_fraction;
use tideover::weather::{Calendar, Climates, Opening, WeatherPlan, WeatherTrace, world};

use crate::common::{plan_of, scenario_of};

const DAY: u32 = 70;

fn plan() -> Plan {
    plan_of(&scenario_of(include_str!("../../benches/four-loads.toml")), 60)
}

#[test]
fn panels_give_what_their_tables_say() {
    let plan = plan();
    let mut rng = Stream::new(1, 0, Purpose::Weather);
    let mut weather = WeatherTrace::default();
    plan.season.weather.generate(DAY, 20, &Opening::Any, &mut rng, Climates::BEST, &mut weather);
    let geometry = &plan.arrays[0].geometry;
    let mut lit = 0;
    for (step, &ghi) in weather.ghi_w_m2.iter().enumerate().filter(|(_, ghi)| **ghi > 0.0) {
        let (day, h) = (DAY + step as u32 / 24, step % 24);
        let tables = geometry.day_tables(day);
        let air = (weather.air_c[step], weather.daily_clearness[step / 24]);
        let (per_watt, _) = geometry.power_and_warmth((day, h), (ghi, f64::NAN), air);
        // Hay & Davies (1980) on Erbs et al. (1982), cells by Faiman (2008), as `sky` has them.
        let outside = tables.per_extraterrestrial[h];
        let diffuse = ghi * hourly_diffuse_fraction(ghi * outside);
        let around = ((ghi - diffuse) * outside).min(1.0);
        let (ratio, dome) = (tables.beam_ratio[h], tables.dome[h]);
        let sky = diffuse * (around * ratio + (1.0 - around) * dome);
        let plane = (ghi - diffuse) * ratio + sky + ghi * tables.ground[h];
        let cell_c = weather.air_c[step] + plane * tables.rise_k_per_w_m2;
        let expected = plane / 1000.0 * (1.0 + tables.power_per_k * (cell_c - 25.0)) * tables.kept[h];
        assert!((per_watt / expected - 1.0).abs() < 1e-12, "step {step}: {per_watt} {expected}");
        lit += 1;
    }
    assert!(lit > 200, "{lit} steps with light");
}

#[test]
fn days_keep_to_their_tables() {
    let plan = plan();
    let season = &plan.season;
    let mut weather = WeatherTrace::default();
    season.weather.generate(
        DAY,
        60,
        &Opening::Any,
        &mut Stream::new(1, 0, Purpose::Weather),
        Climates::BEST,
        &mut weather,
    );
    for (k, clearness) in weather.daily_clearness.iter().enumerate() {
        let tables = season.weather.day_tables(DAY + k as u32).expect("hourly days");
        let sum: f64 = weather.ghi_w_m2[24 * k..24 * (k + 1)].iter().sum();
        // Days and hours are drawn in single precision.
        assert!((sum / (clearness * tables.total_wh_m2) - 1.0).abs() < 2e-6, "day {k}");
        let (least, most) = (tables.clearness[0], tables.clearness[tables.clearness.len() - 1]);
        assert!(least * (1.0 - 1e-6) <= *clearness && *clearness <= most * (1.0 + 1e-6));
        for (h, ghi) in weather.ghi_w_m2[24 * k..24 * (k + 1)].iter().enumerate() {
            assert!(*ghi <= tables.ceiling[h] * tables.light_w_m2[h] * (1.0 + 1e-6), "day {k}, hour {h}");
            assert_eq!(*ghi > 0.0, (tables.lit.0..tables.lit.1).contains(&h));
        }
        let mean: f64 = tables.profile.iter().zip(&tables.light_w_m2).map(|(p, light)| p * light).sum();
        assert!((mean / tables.total_wh_m2 - 1.0).abs() < 1e-12);
        let squares: f64 = tables.weights.iter().map(|w| w * w).sum();
        assert!((squares - 1.0).abs() < 1e-12, "the latent score has variance {squares}");
    }
}

#[test]
fn the_shape_of_the_spells_comes_back_from_its_course() {
    let mut climate = world::lookup(44.2, -72.6, None).expect("land");
    let calendar = Calendar::fixed(60, -300, 44.2, -72.6);
    for settled in [0.0, 0.2, 0.6] {
        climate.months.iter_mut().for_each(|month| month.habits.settled = settled);
        let weather = WeatherPlan::stochastic(&climate, &calendar).expect("a climate");
        let found = weather.day_tables(DAY).expect("hourly days").settled;
        assert!((found - settled).abs() < 1e-12, "{found} for {settled}");
    }
    let half_hours = WeatherPlan::stochastic(&climate, &Calendar::fixed(30, -300, 44.2, -72.6)).expect("a climate");
    assert!(half_hours.day_tables(DAY).is_none());
}
