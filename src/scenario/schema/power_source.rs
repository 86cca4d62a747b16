//! `[[source]]`: a car, running water or the wind.

use super::{Section, key, name, or_none, or_typical, passed_on, required, required_but, share_above_zero};
use crate::scenario::amount::{Amount, Told, Unsure};
use crate::scenario::clock::Windows;
use crate::scenario::forms::OneOf;
use crate::scenario::power_source::Curve;
use crate::units::{MetresPerSecond, Watts};

pub(in crate::scenario) const CAR: &str = "car";
pub(in crate::scenario) const WATER: &str = "water";
pub(in crate::scenario) const WIND: &str = "wind";

/// The kinds, each with the key that tells it where `kind` is not said.
const KINDS: &[(&str, &str)] = &[(WIND, "curve"), (CAR, "on_days"), (WATER, "")];

const KIND: OneOf<&str> = OneOf { names: &[(CAR, CAR), (WATER, WATER), (WIND, WIND)], also: &[] };

/// Most power of one source.
const MOST: Watts = Watts(100_000.0);

pub(super) fn source() -> Section {
    let keys = vec![
        name(),
        key("kind", KIND, required()).says("what gives the power: a car that is driven, running water, the wind"),
        key("watts", Unsure(Amount::<Watts>::positive_to(MOST)), required_but("required but for wind"))
            .not_for(WIND, "what a wind turbine gives its curve says: leave watts out")
            .says("power that it gives while it runs: of a car what its outlet or a charger at its alternator passes on, \
                   of water the turbine's mean in the season of the outage"),
        key("hours", Windows, or_none("all day; required of a car"))
            .needed_by(&[CAR])
            .says("when it gives, every day; of a car, when it is driven with the station in it"),
        key("on_days", share_above_zero(), or_none("required of a car"))
            .only(&[CAR])
            .needed_by(&[CAR])
            .says("of a car: share of the days on which it is driven at all, drawn day by day"),
        key("mean_wind", Told(Unsure(Amount::<MetresPerSecond>::positive_to(MetresPerSecond(20.0)))),
            or_none("required of wind"))
            .only(&[WIND])
            .needed_by(&[WIND])
            .says("of wind: its mean at the height of the blades in the season of the outage, best measured there. Without a \
                   ± of its own it lies between half of this and this, evenly: maps tell of open land (cautious; *common \
                   practice, no source*)"),
        key("curve", Curve, or_none("required of wind"))
            .only(&[WIND])
            .needed_by(&[WIND])
            .says("of wind: watts by the mean wind of an hour, with rising winds; straight between them, nothing below the \
                   first and above the last"),
        key("efficiency", passed_on(), or_typical("85 %"))
            .says("power arriving in the station over what it gives: its charger and cable"),
    ];
    Section { kinds: KINDS, ..keys.into() }
}

pub(in crate::scenario) fn point() -> Section {
    let keys = vec![
        key("wind", Amount::<MetresPerSecond>::from_zero(), required()).says("wind"),
        key("gives", Amount::<Watts>::between(Watts(0.0), MOST), required()).says("watts there"),
    ];
    keys.into()
}
