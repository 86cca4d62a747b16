use super::*;
use proptest::prelude::*;

#[track_caller]
fn check<Q: Quantity + fmt::Debug>(text: &str, expected: f64) {
    let got = Q::parse(text).unwrap_or_else(|e| panic!("{text}: {e}")).base();
    assert!((got - expected).abs() <= 1e-12 * expected.abs().max(1.0), "{text}: {got}, expected {expected}");
}

#[track_caller]
fn refused<Q: Quantity + fmt::Debug>(text: &str, message: &str) {
    match Q::parse(text) {
        Ok(value) => panic!("{text} was read as {value:?}"),
        Err(error) => assert_eq!(error.to_string(), message, "for {text:?}"),
    }
}

#[test]
fn the_spellings_of_the_manual_are_read() {
    check::<WattHours>("600 Wh", 600.0);
    check::<WattHours>("1.2 kWh", 1200.0);
    check::<WattHours>("600wh", 600.0);
    check::<Watts>("100 W", 100.0);
    check::<Watts>(" 1.8 kW ", 1800.0);
    check::<Celsius>("40 °F", 4.444_444_444_444_445);
    check::<Celsius>("-4 °C", -4.0);
    check::<Celsius>("\u{2212}4 °C", -4.0);
    check::<Fraction>("85 %", 0.85);
    check::<Fraction>("85%", 0.85);
    check::<Hours>("3 h", 3.0);
    check::<Hours>("90 min", 1.5);
    check::<Hours>("4 days", 96.0);
    check::<Degrees>("50°", 50.0);
    check::<PerKelvin>("-0.35 %/K", -0.0035);
    check::<Metres>("100 ft", 30.48);
    check::<Amps>("5.56 A", 5.56);
    check::<Volts>("2.23e1 V", 22.3);
}

#[test]
fn what_is_wrong_is_said() {
    refused::<WattHours>("600", "`600` needs a unit: write it as \"600 Wh\"");
    refused::<WattHours>("", "`` is not a number with a unit; energy is written like \"5 Wh\"");
    refused::<WattHours>("-", "`-` is not a number with a unit; energy is written like \"5 Wh\"");
    refused::<WattHours>("Wh", "`Wh` is not a number with a unit; energy is written like \"5 Wh\"");
    refused::<WattHours>("600 W", "`W` is not a unit of energy; allowed: Wh, kWh");
    refused::<WattHours>("1,20 Wh", "`,20 Wh` is not a unit of energy; allowed: Wh, kWh");
    refused::<WattHours>("-5 Wh", "energy of -5 Wh is out of range; allowed: 0 to 10000000 Wh");
    refused::<WattHours>("nan Wh", "`nan Wh` is not a number with a unit; energy is written like \"5 Wh\"");
    refused::<WattHours>("inf Wh", "`inf Wh` is not a number with a unit; energy is written like \"5 Wh\"");
    refused::<WattHours>("1e999 Wh", "`1e999 Wh` is not a number with a unit; energy is written like \"5 Wh\"");
    // A minus sign in the wrong place is longer than a hyphen.
    refused::<WattHours>("5\u{2212} Wh", "`\u{2212} Wh` is not a unit of energy; allowed: Wh, kWh");
    refused::<WattHours>("5 \u{2212} Wh", "`\u{2212} Wh` is not a unit of energy; allowed: Wh, kWh");
    refused::<Fraction>("0.85", "`0.85` needs a unit: write it as \"85 %\"");
}

#[test]
fn a_mark_that_may_stand_between_thousands_is_refused_with_both_readings() {
    // SI brochure, 9th edition (2019), 5.4.4: thousands are parted by spaces alone, because point and comma are each a decimal
    // marker somewhere.
    let two = |found: &str, one: &str, other: &str| {
        format!("`{found}` can be read in two ways: write \"{one}\" or \"{other}\"")
    };
    refused::<Watts>("1.500 W", &two("1.500 W", "1500 W", "1.5 W"));
    refused::<Watts>("12.000W", &two("12.000W", "12000 W", "12 W"));
    refused::<Watts>("2.200 watts", &two("2.200 watts", "2200 watts", "2.2 watts"));
    refused::<WattHours>("1.024 Wh", &two("1.024 Wh", "1024 Wh", "1.0240 Wh"));
    refused::<WattHours>("1,024 Wh", &two("1,024 Wh", "1024 Wh", "1.0240 Wh"));
    refused::<WattHours>("999.750 wh", &two("999.750 wh", "999750 Wh", "999.75 Wh"));
    assert!(Uncertain::<WattHours>::parse("600 Wh ± 1.500 Wh").is_err());
    // Either reading can be written, and nobody writes thousands of a thousand.
    check::<WattHours>("1.0240 Wh", 1.024);
    check::<WattHours>("1.024 kWh", 1024.0);
    check::<Watts>("0.500 W", 0.5);
    check::<Watts>("1500.250 W", 1500.25);
    check::<Watts>("1.50 W", 1.5);
    check::<Watts>("1.500e3 W", 1500.0);
    check::<Volts>("21.600 V", 21.6);
    for quantity in [1.024, 553.125, 12.5, 1024.125] {
        check::<WattHours>(&WattHours(quantity).to_string(), quantity);
    }
}

#[test]
fn uncertainty_is_a_95_percent_interval() {
    let capacity = Uncertain::<WattHours>::parse("505 Wh ± 3 %").unwrap();
    assert_eq!(capacity.value, WattHours(505.0));
    assert!((capacity.plus_minus - 15.15).abs() < 1e-12);
    assert!((capacity.standard() - 15.15 / 1.959_963_984_540_054).abs() < 1e-12);
    assert_eq!(Uncertain::<WattHours>::parse("505 Wh +/- 15 Wh").unwrap().plus_minus, 15.0);
    assert_eq!(Uncertain::<WattHours>::parse("505 Wh").unwrap().plus_minus, 0.0);
    // After a share, percent means percentage points.
    assert!((Uncertain::<Fraction>::parse("85 % ± 2 %").unwrap().plus_minus - 0.02).abs() < 1e-15);
    // A width of temperature has no offset.
    assert!((Uncertain::<Celsius>::parse("40 °F ± 9 °F").unwrap().plus_minus - 5.0).abs() < 1e-12);
    assert!(Uncertain::<WattHours>::parse("505 Wh ± -3 %").is_err());
    assert!(Uncertain::<WattHours>::parse("505 Wh ±").is_err());
}

#[test]
fn arithmetic_keeps_its_units() {
    assert_eq!(Volts(18.0) * Amps(5.5), Watts(99.0));
    assert_eq!(WattHours(450.0) / Watts(100.0), Hours(4.5));
    assert_eq!(WattHours(600.0) * Fraction(0.5), WattHours(300.0));
    assert_eq!(Celsius(20.0) - Celsius(-5.0), Kelvins(25.0));
    assert_eq!(Celsius(20.0) + Kelvins(5.0), Celsius(25.0));
    assert_eq!([WattHours(1.0), WattHours(2.0)].into_iter().sum::<WattHours>(), WattHours(3.0));
}

proptest! {
    #[test]
    fn what_is_printed_parses_back(value in 0.0..1.0e6_f64, spread in 0.0..0.5_f64) {
        prop_assert_eq!(Watts::parse(&Watts(value).to_string()).unwrap(), Watts(value));
        let back = Fraction::parse(&Fraction(spread).to_string()).unwrap();
        prop_assert!((back.0 - spread).abs() <= 1e-15);
        let uncertain = Uncertain::new(WattHours(value), spread * value);
        prop_assert_eq!(Uncertain::<WattHours>::parse(&uncertain.to_string()).unwrap(), uncertain);
    }

    #[test]
    fn no_text_makes_the_parser_panic(text in "\\PC{0,24}") {
        let _ = Uncertain::<WattHours>::parse(&text);
        let _ = Uncertain::<Celsius>::parse(&text);
        let _ = Fraction::parse(&text);
    }
}
