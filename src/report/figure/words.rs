//! What a picture shows, for ears.

use super::{Figure, Picture, short};
use crate::report::svg::in_a_hundred;

impl Figure {
    /// Its numbers in words, as many as can be listened to.
    #[must_use]
    pub fn told(&self) -> String {
        let unit = |column: usize| match self.data.get(column).map_or("", |data| data.unit) {
            "" => String::new(),
            "percent" => " %".into(),
            unit => format!(" {unit}"),
        };
        let value =
            |column: usize, row: usize| self.numbers(column).get(row).copied().filter(|value| value.is_finite());
        let name = |column: usize| self.data.get(column).map_or("", |data| data.name.as_str());
        let parts: Vec<String> = match &self.picture {
            Picture::Chart(chart) => {
                let names = chart.points.and_then(|points| points.names).map(|column| self.names(column));
                let columns: Vec<usize> =
                    chart.lines.iter().copied().chain(chart.points.map(|points| points.value)).collect();
                let edges = chart.bands.last().map(|band| (band.low, band.high));
                let edges = chart.points.map(|points| (points.low, points.high)).or(edges);
                let rows = chart.rows.min(self.numbers(chart.over).len());
                let every = rows.div_ceil(if chart.points.is_some() { rows.max(1) } else { 6 }).max(1);
                let told = |column: usize| {
                    let at = |row: usize| {
                        let place = match names {
                            Some(names) => names.get(row).cloned().unwrap_or_default(),
                            None => format!("{}{}", short(value(chart.over, row)?), unit(chart.over)),
                        };
                        let range = match edges.filter(|(low, _)| column == columns[0] && *low != column) {
                            Some((low, high)) => {
                                format!(" ({} to {})", short(value(low, row)?), short(value(high, row)?))
                            }
                            None => String::new(),
                        };
                        Some(format!("{place}: {}{}{range}", short(value(column, row)?), unit(column)))
                    };
                    let rows = (0..rows).filter(|row| (row + 1) % every == 0 || row + 1 == rows);
                    format!("{} at {}", name(column), rows.filter_map(at).collect::<Vec<_>>().join(", "))
                };
                columns.iter().map(|&column| told(column)).collect()
            }
            Picture::Ranges(_) => (self.names(0).iter().enumerate())
                .map(|(row, name)| match (value(1, row), value(2, row), value(3, row)) {
                    (Some(low), Some(middle), Some(high)) => {
                        format!("{name}: {}{} ({} to {})", short(middle), unit(2), short(low), short(high))
                    }
                    _ => format!("{name}: none"),
                })
                .collect(),
            Picture::Strip(strip) => (strip.shown.iter())
                .map(|&column| {
                    let told = self.numbers(column).iter().enumerate().filter(|(_, share)| share.is_finite());
                    let (at, most) =
                        told.fold((0, 0.0), |(at, most), (k, &v)| if most < v { (k, v) } else { (at, most) });
                    let hour = value(strip.over, at).unwrap_or(0.0);
                    match most {
                        0.0 => format!("{}: never dark", name(column)),
                        most => format!(
                            "{}: dark in at most {} of 100 outages then running, on day {} at {:02}:00",
                            name(column),
                            in_a_hundred(most),
                            (hour / 24.0).floor() + 1.0,
                            hour.rem_euclid(24.0).floor()
                        ),
                    }
                })
                .collect(),
            Picture::Flows(flows) => (self.names(0).iter().zip(self.names(1)).zip(&flows.told))
                .map(|((side, what), told)| format!("{side}: {what} {told}"))
                .collect(),
            Picture::Grid(_) | Picture::Matrix(_) => Vec::new(),
        };
        parts.join("; ")
    }
}
