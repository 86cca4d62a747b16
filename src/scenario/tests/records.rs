//! What sound scenarios are read as, defaults included.

use super::{CAPACITY, COMPLETE, SMALLEST, reads};
use crate::kit::inverter::LossCurve;
use crate::scenario::model::*;
use crate::scenario::{Level, Source, read};
use crate::units::{
    Amps, Celsius, Degrees, Fraction, Hours, Kelvins, Kilograms, Litres, Metres, PerKelvin, SquareMillimetres,
    Uncertain, Volts, WattHours, Watts,
};

#[test]
fn the_smallest_scenario_gets_every_default() {
    let source = Source::new("smallest.toml", SMALLEST);
    let (scenario, _, problems) = read(&source).expect("a sound scenario");
    assert_eq!(problems, []);
    let one_way = Uncertain::new(Fraction(0.97), 0.02);
    let expected = Scenario {
        title: "Untitled".into(),
        site: Site {
            latitude_deg: 44.2,
            longitude_deg: -72.6,
            height: None,
            timezone: TimeZone::FromLongitude,
            climate: ClimateSource::World,
            monthly_sun: None,
            ground_reflection: Fraction(0.2),
            room: None,
        },
        outage: Outage {
            begins: Begins::At { year: 2027, month: 1, day: 14, minute_of_day: 1080 },
            lasts: Lasts::Fixed(Hours(96.0)),
            starts_charged: Uncertain::exact(Fraction(0.8)),
            begins_in_a_storm: false,
            allow_unmet: WattHours(0.0),
            cuts: DailyCuts::default(),
            mains_limit: None,
            somebody_home: Vec::new(),
        },
        station: Station {
            rated_capacity: Uncertain::exact(WattHours(600.0)),
            measured: None,
            proved: None,
            chemistry: Chemistry::Lfp,
            state_of_health: Uncertain::exact(Fraction(1.0)),
            stands: Stands::Indoors,
            charges_between: (Celsius(0.0), Celsius(45.0)),
            works_between: (Celsius(-20.0), Celsius(60.0)),
            self_heating: None,
            heat_capacity: None,
            heat_loss: None,
            tapers_from: Fraction(0.95),
            charge_to: Fraction(1.0),
            keep_above: Fraction(0.0),
            charge_efficiency: one_way,
            discharge_efficiency: one_way,
            capacity_told: false,
            charge_limit: None,
            discharge_limit: None,
            own_draw: Watts(3.0),
            self_discharge_a_month: Fraction(0.03),
            loses_by_rate: Fraction(0.08),
            inverter: Some(Inverter {
                rated: Watts(500.0),
                surge: None,
                idle: Uncertain::new(Watts(7.5), 3.75),
                efficiency: vec![EfficiencyPoint { load: Watts(250.0), efficiency: Fraction(0.9) }],
                sleeps: false,
                switchover: None,
                stays: StaysOn {
                    least: (Watts(4.0), Watts(16.0)),
                    assumed: true,
                    off_after: (Hours(1.0), Hours(8.0)),
                    ups: false,
                    comes_back: false,
                },
                idle_assumed: true,
                efficiency_assumed: true,
            }),
            dc_outlet: Some(Outlet { limit: Watts(120.0), efficiency: Fraction(0.93), idle: Watts(1.0), cable: None }),
            usb: Some(Outlet { limit: Watts(60.0), efficiency: Fraction(0.9), idle: Watts(0.5), cable: None }),
            usb_ports: Vec::new(),
            packs: Vec::new(),
            solar_inputs: vec![SolarInput {
                name: String::new(),
                key: "station.solar_input".into(),
                limit: Watts(200.0),
                volts_min: None,
                volts_max: None,
                amps_max: None,
                held_at: None,
                efficiency: Fraction(0.97),
            }],
            solar_limit: None,
            wall_charger: None,
        },
        panels: vec![Panel {
            name: "panel 1".into(),
            input: String::new(),
            rated: Uncertain::exact(Watts(100.0)),
            series: 1,
            parallel: 1,
            aim: Aim::Fixed { tilt: Degrees(50.0), facing: Degrees(180.0) },
            shade: vec![],
            out: None,
            open_circuit_voltage: None,
            max_power_voltage: None,
            voltage_coefficient: None,
            power_coefficient: PerKelvin(-0.004),
            soiling: Fraction(0.03),
            cable: PanelCable::Loses(Fraction(0.02)),
        }],
        generator: None,
        second_station: None,
        sources: Vec::new(),
        loads: vec![Load {
            name: "router".into(),
            outlet: OutletKind::Ac,
            priority: Priority::Vital,
            watts: Uncertain::exact(Watts(9.0)),
            count: 1,
            tolerates: None,
            starting: None,
            pattern: Pattern::Steady,
            days: Weekdays::ALL,
            varies: Fraction(0.0),
            off_below: None,
            could_use: None,
            medical: false,
        }],
        years: None,
        seen: vec![],
        variants: vec![],
        size: None,
    };
    assert_eq!(scenario, expected);
}

#[test]
fn defaults_follow_what_is_given() {
    let station = reads(&[(CAPACITY, "rated_capacity = \"600 Wh\"\nchemistry = \"lead-acid\"")]).station;
    assert_eq!(station.keep_above, Fraction(0.5));
    assert_eq!(station.charge_efficiency, Uncertain::new(Fraction(0.9), 0.05));
    assert_eq!(station.discharge_efficiency, Uncertain::new(Fraction(0.9), 0.05));
    assert_eq!(station.self_discharge_a_month, Fraction(0.05));
    let measured = reads(&[(CAPACITY, "rated_capacity = \"600 Wh\"\nmeasured_capacity = \"505 Wh\"")]).station.measured;
    let expected =
        MeasuredCapacity { delivered: Uncertain::exact(WattHours(505.0)), outlet: OutletKind::Ac, load: Watts(120.0) };
    assert_eq!(measured, Some(expected));
    // The default start never exceeds the ceiling.
    let outage = reads(&[(CAPACITY, "rated_capacity = \"600 Wh\"\ncharge_to = \"75 %\"")]).outage;
    assert_eq!(outage.starts_charged, Uncertain::exact(Fraction(0.75)));
}

#[test]
fn a_default_of_the_inverter_never_contradicts_what_is_given() {
    let inverter = |lines: &str| reads(&[("rated = \"500 W\"", lines)]).station.inverter.expect("an inverter");
    assert_eq!(inverter("rated = \"150 W\"").idle, Uncertain::new(Watts(5.0), 2.5));
    // 95 % at 10 W of half load leaves 0.526 W to lose.
    let small = inverter("rated = \"20 W\"\nefficiency = \"95 %\"");
    assert!((small.idle.value.0 - (10.0 / 0.95 - 10.0)).abs() < 1e-12, "{:?}", small.idle);
    // 30 W of idle draw and 4 % of 150 W: 150 of 186 W arrive.
    let hungry = inverter("rated = \"300 W\"\nidle = \"30 W\"");
    assert!((hungry.efficiency[0].efficiency.0 - 150.0 / 186.0).abs() < 1e-12, "{:?}", hungry.efficiency);
    // Whatever is filled in, the loss curve exists.
    for rated in [10.0, 60.0, 72.0, 300.0, 1000.0, 5000.0] {
        for more in ["", "idle = \"20 W\"", "idle = \"0 W\"", "efficiency = \"80 %\"", "efficiency = \"97 %\""] {
            let filled = inverter(&format!("rated = \"{rated} W\"\n{more}"));
            let points: Vec<_> = filled.efficiency.iter().map(|point| (point.load.0, point.efficiency.0)).collect();
            let curve = LossCurve::from_points(filled.rated.0, filled.idle.value.0, &points);
            assert!(curve.is_ok(), "{rated} W, {more}: {curve:?}");
        }
    }
    assert_eq!(inverter("rated = \"500 W\"\nidle = \"6 W\"").efficiency[0].efficiency, Fraction(0.9));
}

#[test]
fn the_complete_scenario_is_read_to_the_letter() {
    let source = Source::new("complete.toml", COMPLETE);
    let (scenario, places, problems) = read(&source).expect("a sound scenario");
    assert_eq!(
        problems.iter().map(|p| (p.level, p.key.as_str())).collect::<Vec<_>>(),
        [
            (Level::Warning, "site.room"),
            (Level::Warning, "outage.allow_unmet"),
            (Level::Warning, "station.state_of_health"),
            (Level::Warning, "generator"),
            (Level::Note, "load.3.medical")
        ]
    );
    let site = &scenario.site;
    assert_eq!(scenario.title, "Winter storm at the cabin");
    assert!((site.height.unwrap_or(Metres(0.0)).0 - 365.76).abs() < 1e-9);
    assert_eq!(site.timezone, TimeZone::Named("America/New_York".into()));
    assert_eq!(site.ground_reflection, Fraction(0.6));
    assert_eq!(scenario.outage.begins, Begins::Month(1));
    assert_eq!(scenario.outage.lasts, Lasts::LogNormal { median: Hours(18.0), p95: Hours(96.0) });
    assert!(scenario.outage.begins_in_a_storm);
    let station = &scenario.station;
    assert_eq!(station.chemistry, Chemistry::Nmc);
    assert_eq!(station.measured.map(|m| m.load), Some(Watts(100.0)));
    assert_eq!(station.charge_limit, Some(Watts(250.0)));
    let inverter = station.inverter.as_ref().expect("an inverter");
    assert_eq!(inverter.surge, Some(Watts(1000.0)));
    assert_eq!(inverter.idle, Uncertain::new(Watts(8.0), 1.0));
    assert_eq!(inverter.efficiency[0], EfficiencyPoint { load: Watts(50.0), efficiency: Fraction(0.8) });
    assert!(inverter.sleeps);
    let input = station.solar_inputs.first().expect("a solar input");
    assert_eq!(
        (input.volts_min, input.volts_max, input.amps_max),
        (Some(Volts(12.0)), Some(Volts(50.0)), Some(Amps(10.0)))
    );
    let panel = &scenario.panels[0];
    assert_eq!((panel.series, panel.parallel, panel.count()), (2, 2, 4));
    let Aim::Fixed { facing, .. } = panel.aim else { panic!("a fixed panel") };
    assert_eq!(facing, Degrees(157.5));
    let [by_clock, by_sun] = panel.shade.as_slice() else { panic!("two shades") };
    assert_eq!(by_clock.when, ShadeWhen::Clock(ClockWindow { from_minute: 870, to_minute: 1440 }));
    let (from, to, below) = (Degrees(45.0), Degrees(110.0), Degrees(20.0));
    assert_eq!((by_sun.when, by_sun.loses), (ShadeWhen::Sun { from, to, below }, Fraction(0.6)));
    let folding = &scenario.panels[1];
    assert_eq!(folding.aim, Aim::ByHand { times_a_day: 3 });
    let hours = vec![ClockWindow { from_minute: 480, to_minute: 1020 }];
    assert_eq!(folding.out, Some(PutOut { hours, if_clearer_than: Fraction(0.25) }));
    let wire = Cable { length: Metres(5.0), gauge: Gauge::Metric(SquareMillimetres(2.5)) };
    assert_eq!(folding.cable, PanelCable::Wire(wire));
    assert_eq!(station.stands, Stands::Outdoors);
    assert_eq!(station.charges_between, (Celsius(2.0), Celsius(40.0)));
    assert_eq!(station.dc_outlet.and_then(|o| o.cable).map(|c| c.gauge), Some(Gauge::Awg(12)));
    assert_eq!(station.wall_charger, Some(WallCharger { limit: Watts(300.0), efficiency: Fraction(0.88) }));
    let generator = scenario.generator.as_ref().expect("a generator");
    let thirst = Uncertain::new(Litres(0.6), 0.15 * 0.6);
    assert_eq!((generator.hours.len(), generator.fuel_per_kwh), (2, Some(thirst)));
    let [fridge, lamp, router, machine, freezer, laptop, well, pump, fan] = scenario.loads.as_slice() else {
        panic!("nine loads")
    };
    assert_eq!(fridge.pattern, Pattern::Duty { share: Fraction(0.25), hours: vec![] });
    assert_eq!(lamp.watts, Uncertain::exact(Watts(18.0)));
    let windows = [(360, 450), (1080, 1380)].map(|(from_minute, to_minute)| ClockWindow { from_minute, to_minute });
    assert_eq!(lamp.pattern, Pattern::Schedule(windows.to_vec()));
    assert_eq!(router.could_use, Some((OutletKind::Dc, Watts(8.0))));
    assert!(machine.medical);
    let part = |volume, contents, set| Compartment {
        volume: Litres(volume),
        contents: Kilograms(contents),
        set: Celsius(set),
    };
    let Pattern::Cooler(cooler) = &freezer.pattern else { panic!("a cooler") };
    assert_eq!(freezer.starting, Some(Watts(600.0)));
    assert!((cooler.label.plus_minus - 24_000.0).abs() < 1e-9 && cooler.label.value == WattHours(240_000.0));
    assert!((cooler.label_room.0 - 32.0 - 2.0 / 9.0).abs() < 1e-9);
    assert_eq!(cooler.fridge, Some(part(20.0, 2.0, 2.0)));
    assert_eq!(cooler.freezer, Some(part(7.0 * 28.316_846_592, 50.0, -20.0)));
    assert_eq!((cooler.band, cooler.room, cooler.door_openings), (Kelvins(3.0), Room::At(Celsius(14.0)), 4));
    let FoodRule::Above { limit, hours } = cooler.food else { panic!("a thermometer") };
    assert!((limit.0 - 40.0 / 9.0).abs() < 1e-9 && hours == Hours(2.0));
    let Pattern::Charge(charge) = &laptop.pattern else { panic!("a device") };
    assert_eq!((charge.energy_a_day, charge.holds), (Uncertain::new(WattHours(60.0), 12.0), WattHours(90.0)));
    assert_eq!((charge.efficiency, charge.hours.len()), (Fraction(0.85), 1));
    let Pattern::Charge(lifted) = &well.pattern else { panic!("a pump") };
    // 400 L and 1,000 L up 12 m, at 9.80665 m/s².
    let joules = [400.0, 1000.0].map(|litres: f64| litres * 12.0 * 9.806_65);
    assert!((lifted.energy_a_day.value.0 - joules[0] / 3600.0).abs() < 1e-9);
    assert!((lifted.holds.0 - joules[1] / 3600.0).abs() < 1e-9 && (lifted.efficiency.0 - 0.35).abs() < 1e-12);
    assert_eq!((lifted.hours.len(), well.off_below), (1, Some(Fraction(0.9))));
    let Pattern::Profile(profile) = &pump.pattern else { panic!("a profile") };
    assert_eq!((profile.file.as_str(), profile.column.as_deref()), ("pump.csv", Some("watts")));
    assert!(pump.lacks_profile());
    assert_eq!((fan.name.as_str(), fan.outlet, fan.watts.value), ("fan, 12 V", OutletKind::Dc, Watts(8.0)));
    assert_eq!(fan.days, Weekdays([true, false, false, false, false, true, true]));
    // Places: exact, nearest parent, and whose.
    let at = |key| places.nearest(key).map(|span| &source.text[span]);
    assert_eq!(at("panel.0.tilt"), Some("\"50°\""));
    assert_eq!(at("panel.0.no_such_key"), Some("[[panel]]"));
    assert_eq!(at("station.inverter.efficiency.1.load"), Some("\"100 W\""));
    assert_eq!(at("nothing.of.the.kind"), None);
    assert_eq!(places.whose("load.1.hours").as_deref(), Some("load 2, \"lamp\""));
    assert_eq!(places.whose("station.usb"), None);
}
