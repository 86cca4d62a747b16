//! The packed world table: unpacked once, looked up by cell. `weather/README.md` describes the layout byte by byte.

use std::sync::OnceLock;

use crate::packed::{self, Reader, unpacked};
use crate::weather::climate::LEVELS;

static PACKED: &[u8] = packed::table!("weather/", "world.bin");

/// Step of the stored clearness \[–].
pub(super) const CLEARNESS_STEP: f64 = 0.002;
/// Step of the stored temperatures \[K].
const AIR_STEP_K: f64 = 0.1;
/// Step of the stored mean clearness \[–].
const MEAN_STEP: f64 = 0.002;
/// Rows and columns of the land mask: 0.25° boxes, the first row around 90° S, the first column around 180° W.
pub(super) const LAND_ROWS: usize = 721;
/// See [`LAND_ROWS`].
pub(super) const LAND_COLUMNS: usize = 1440;

const SUN_ROWS: usize = 61;
const SUN_COLUMNS: usize = 120;
const AIR_ROWS: usize = 181;
const AIR_COLUMNS: usize = 360;
const NO_CELL: u16 = u16::MAX;

/// A place of the table.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Node {
    pub latitude_deg: f64,
    pub longitude_deg: f64,
}

/// Means of one node of the 1° grid.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct AirNode {
    /// Mean height of the node's land \[m], 0 without land.
    pub height_m: f64,
    /// Air temperature, January to December \[°C].
    pub mean_c: [f64; 12],
    /// Mean clearness; `None` where the sun hardly rises and beyond the reach of the cells of clearness.
    pub clearness: [Option<f64>; 12],
}

/// The unpacked table.
pub(super) struct Table {
    sun_index: Vec<u16>,
    sun_nodes: Vec<Node>,
    /// Clearness in steps: cell, month, level.
    clearness: Vec<u16>,
    air_index: Vec<u16>,
    air: Vec<AirNode>,
    land: Vec<u8>,
}

impl Table {
    /// The table of this program, unpacked at the first call.
    pub fn get() -> &'static Table {
        static TABLE: OnceLock<Table> = OnceLock::new();
        TABLE.get_or_init(|| {
            Table::unpack(PACKED).expect("the packed table belongs to the program and its tests read it")
        })
    }

    fn unpack(packed: &[u8]) -> Option<Table> {
        let payload = unpacked(packed)?;
        let mut rest = Reader(&payload);
        let known = rest.take(8)? == b"TIDEWRLD" && rest.u16()? == 5 && usize::from(rest.u16()?) == LEVELS.len();
        let (cells, nodes, _) = (usize::from(rest.u16()?), usize::from(rest.u16()?), rest.u16()?);
        if !known {
            return None;
        }

        let rows = rest.take(cells)?;
        let columns = rest.take(cells)?;
        let mut sun_index = vec![NO_CELL; SUN_ROWS * SUN_COLUMNS];
        let mut sun_nodes = Vec::with_capacity(cells);
        for (cell, (&row, &column)) in rows.iter().zip(columns).enumerate() {
            *sun_index.get_mut(usize::from(row) * SUN_COLUMNS + usize::from(column))? = cell as u16;
            sun_nodes.push(Node {
                latitude_deg: 3.0 * f64::from(row) - 90.0,
                longitude_deg: 3.0 * f64::from(column) - 180.0,
            });
        }
        // Stored by cell, month, level: the rise from one level to the next.
        let mut clearness: Vec<u16> = rest.plain(LEVELS.len() * 12 * cells)?.collect();
        for levels in clearness.chunks_exact_mut(LEVELS.len()) {
            let mut steps = 0_u16;
            for level in levels {
                steps = steps.wrapping_add(*level);
                *level = steps;
            }
        }

        let rows = rest.take(nodes)?;
        let columns = rest.differences(nodes)?;
        let heights = rest.differences(nodes)?;
        let air_steps = rest.monthly(nodes)?;
        let land = rest.take(LAND_ROWS * LAND_COLUMNS / 8)?.to_vec();
        let clearness_steps = rest.monthly(nodes)?;
        let mut air_index = vec![NO_CELL; AIR_ROWS * AIR_COLUMNS];
        let mut air = Vec::with_capacity(nodes);
        for node in 0..nodes {
            let column = usize::from(columns[node].wrapping_add(180)) % AIR_COLUMNS;
            *air_index.get_mut(usize::from(rows[node]) * AIR_COLUMNS + column)? = node as u16;
            air.push(AirNode {
                height_m: f64::from(heights[node].cast_signed()),
                mean_c: air_steps[node].map(|tenths| f64::from(tenths.cast_signed()) * AIR_STEP_K),
                clearness: clearness_steps[node].map(|steps| (steps != 0).then_some(f64::from(steps) * MEAN_STEP)),
            });
        }
        rest.0.is_empty().then_some(Table { sun_index, sun_nodes, clearness, air_index, air, land })
    }

    /// The four cells around a place with their weights (bilinear); absent cells are left out, so the weights may
    /// sum to less than 1.
    pub fn sun_around(&self, latitude_deg: f64, longitude_deg: f64) -> impl Iterator<Item = (usize, f64)> + '_ {
        around((latitude_deg + 90.0) / 3.0, (longitude_deg + 180.0) / 3.0, SUN_ROWS, SUN_COLUMNS, &self.sun_index)
    }

    /// The same for the 1° grid of means.
    pub fn air_around(&self, latitude_deg: f64, longitude_deg: f64) -> impl Iterator<Item = (usize, f64)> + '_ {
        around(latitude_deg + 90.0, longitude_deg + 180.0, AIR_ROWS, AIR_COLUMNS, &self.air_index)
    }

    /// Where the cells of clearness are.
    pub fn sun_nodes(&self) -> &[Node] {
        &self.sun_nodes
    }

    /// Clearness of a cell and month (0 to 11) at [`LEVELS`].
    pub fn clearness(&self, cell: usize, month: usize) -> [f64; 25] {
        let from = (cell * 12 + month) * LEVELS.len();
        std::array::from_fn(|level| f64::from(self.clearness[from + level]) * CLEARNESS_STEP)
    }

    /// A node of the 1° grid.
    pub fn air(&self, node: usize) -> &AirNode {
        &self.air[node]
    }

    /// Whether a 0.25° box holds land.
    pub fn is_land(&self, row: usize, column: usize) -> bool {
        self.land[(row * LAND_COLUMNS + column) / 8] & (0x80 >> (column % 8)) != 0
    }
}

/// Bilinear weights of the cells around a place given in grid steps; columns wrap around the world.
fn around(
    row: f64,
    column: f64,
    rows: usize,
    columns: usize,
    index: &[u16],
) -> impl Iterator<Item = (usize, f64)> + '_ {
    let (south, west) = (row.floor(), column.floor());
    let (north_share, east_share) = (row - south, column - west);
    [(0.0, 1.0 - north_share), (1.0, north_share)].into_iter().flat_map(move |(up, row_weight)| {
        [(0.0, 1.0 - east_share), (1.0, east_share)].into_iter().filter_map(move |(right, column_weight)| {
            let (row, column) = (south + up, (west + right).rem_euclid(columns as f64));
            if !(0.0..rows as f64).contains(&row) {
                return None;
            }
            let cell = index[row as usize * columns + column as usize % columns];
            (cell != NO_CELL).then_some((usize::from(cell), row_weight * column_weight))
        })
    })
}

impl Reader<'_> {
    /// Twelve values of each node, stored by month as the change from the month before, and those as [differences].
    ///
    /// [differences]: Reader::differences
    fn monthly(&mut self, nodes: usize) -> Option<Vec<[u16; 12]>> {
        let changes = self.differences(12 * nodes)?;
        let year = |node: usize| {
            let mut steps = 0_u16;
            std::array::from_fn(|month| {
                steps = steps.wrapping_add(changes[month * nodes + node]);
                steps
            })
        };
        Some((0..nodes).map(year).collect())
    }

    /// 16-bit values, all low bytes first, then all high bytes.
    fn plain(&mut self, count: usize) -> Option<impl Iterator<Item = u16>> {
        let (low, high) = (self.take(count)?, self.take(count)?);
        Some(low.iter().zip(high).map(|(&low, &high)| u16::from_le_bytes([low, high])))
    }

    /// 16-bit values stored as differences from the value before, the sign in the lowest bit.
    fn differences(&mut self, count: usize) -> Option<Vec<u16>> {
        let mut value = 0_u16;
        let step = |coded: u16| (coded >> 1) ^ (coded & 1).wrapping_neg();
        let values = self.plain(count)?.map(|coded| {
            value = value.wrapping_add(step(coded));
            value
        });
        Some(values.collect())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn means_are_there_and_physical() {
        let table = Table::get();
        let with_means = table.air.iter().filter(|node| node.clearness.iter().any(Option::is_some)).count();
        assert!(20_000 < with_means, "{with_means}");
        for node in &table.air {
            // A month of the tropics' heaviest rain is under 2 m; a lit month's mean lies between 5 % and a clear sky's.
            assert!(node.clearness.iter().flatten().all(|mean| (0.05..0.80).contains(mean)), "{node:?}");
        }
    }

    #[test]
    fn a_broken_table_is_refused() {
        assert!(Table::unpack(PACKED).is_some());
        assert!(Table::unpack(&PACKED[..PACKED.len() / 2]).is_none());
        assert!(Table::unpack(b"").is_none());
    }

    #[test]
    fn quantiles_rise_and_stay_physical() {
        let table = Table::get();
        assert!(2_000 < table.sun_nodes().len());
        for cell in 0..table.sun_nodes().len() {
            for month in 0..12 {
                let quantiles = table.clearness(cell, month);
                let rising = quantiles.windows(2).all(|pair| pair[0] <= pair[1]);
                let physical = 0.0 <= quantiles[0] && quantiles[24] <= 0.9 && 0.1 < quantiles[24];
                assert!(rising && physical, "{:?} month {}: {quantiles:?}", table.sun_nodes()[cell], month + 1);
            }
        }
    }

    #[test]
    fn weights_are_bilinear_and_wrap() {
        // A grid of 2 x 4 cells, all present.
        let index: Vec<u16> = (0..8).collect();
        let at = |row, column| around(row, column, 2, 4, &index).collect::<Vec<_>>();
        assert_eq!(at(0.25, 3.5), [(3, 0.375), (0, 0.375), (7, 0.125), (4, 0.125)]);
        // North of the last row only that row is left.
        assert_eq!(at(1.5, 1.0), [(5, 0.5), (6, 0.0)]);
    }
}
