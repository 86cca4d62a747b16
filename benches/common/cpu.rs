//! Processor time as criterion's measure: what other programs do meanwhile does not count.
//!
//! Where the system does not tell it (anything but Linux), the clock on the wall stands in.

use std::time::{Duration, Instant};

use criterion::Throughput;
use criterion::measurement::{Measurement, ValueFormatter};

/// Time that all threads of this process have spent on a processor.
fn spent() -> Option<Duration> {
    let mut nanoseconds = 0_u64;
    for task in std::fs::read_dir("/proc/self/task").ok()? {
        let text = std::fs::read_to_string(task.ok()?.path().join("schedstat")).ok()?;
        nanoseconds += text.split_whitespace().next()?.parse::<u64>().ok()?;
    }
    Some(Duration::from_nanos(nanoseconds))
}

/// Processor time, summed over threads.
pub struct CpuTime;

/// A moment in both times.
pub struct Moment(Option<Duration>, Instant);

impl CpuTime {
    /// Now.
    pub fn now() -> Moment {
        Moment(spent(), Instant::now())
    }

    /// Since then.
    pub fn since(then: &Moment) -> Duration {
        match (then.0, spent()) {
            (Some(then), Some(now)) => now.saturating_sub(then),
            _ => then.1.elapsed(),
        }
    }
}

impl Measurement for CpuTime {
    type Intermediate = Moment;
    type Value = Duration;

    fn start(&self) -> Moment {
        CpuTime::now()
    }

    fn end(&self, then: Moment) -> Duration {
        CpuTime::since(&then)
    }

    fn add(&self, a: &Duration, b: &Duration) -> Duration {
        *a + *b
    }

    fn zero(&self) -> Duration {
        Duration::ZERO
    }

    fn to_f64(&self, value: &Duration) -> f64 {
        value.as_nanos() as f64
    }

    fn formatter(&self) -> &dyn ValueFormatter {
        &PerTrialHour
    }
}

/// Prints milliseconds of processor time, and nanoseconds a trial-hour.
struct PerTrialHour;

impl ValueFormatter for PerTrialHour {
    fn scale_values(&self, typical: f64, values: &mut [f64]) -> &'static str {
        let (factor, unit) = if typical < 1e6 { (1e-3, "us of processor") } else { (1e-6, "ms of processor") };
        values.iter_mut().for_each(|value| *value *= factor);
        unit
    }

    fn scale_throughputs(&self, _: f64, throughput: &Throughput, values: &mut [f64]) -> &'static str {
        if let Throughput::Elements(elements) = throughput {
            values.iter_mut().for_each(|value| *value /= *elements as f64);
        }
        "ns a trial-hour"
    }

    fn scale_for_machines(&self, _: &mut [f64]) -> &'static str {
        "ns"
    }
}
