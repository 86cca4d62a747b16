//! Sun, sky and tilted planes.
//!
//! Pure functions from an instant, a place and an irradiance to what falls on a panel and how warm its cells get.
//! They are called while tables are prepared, never inside a trial.
//!
//! Conventions everywhere in this module:
//!
//! * Angles are in degrees at the public face. Azimuth and facing count clockwise from north (east is 90).
//! * Latitude is positive north, longitude positive east.
//! * Zenith angles are geometric (no refraction) unless the name says `apparent`.
//! * Tilt is 0 for a panel lying flat and 90 for one standing upright.
//! * Irradiance is in W/m², irradiation in Wh/m².
//! * `NaN` in, `NaN` out: a missing hour must not pass for a bright or a dark one.

pub mod cell;
pub mod clear;
pub mod extraterrestrial;
pub mod globe;
pub mod incidence;
pub mod plane;
pub mod profile;
pub mod split;
pub mod sun;
pub mod year;
