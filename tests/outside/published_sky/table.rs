//! Reading tables of expected values, and keeping the worst deviation from them.

/// A table of text cells under named columns.
pub struct Table {
    columns: Vec<String>,
    rows: Vec<Vec<String>>,
}

impl Table {
    /// Reads comma-separated values; the number of rows must be the one expected.
    #[track_caller]
    pub fn csv(text: &str, rows: usize) -> Table {
        let mut reader = csv::Reader::from_reader(text.as_bytes());
        let cells = |record: &csv::StringRecord| record.iter().map(str::to_owned).collect::<Vec<_>>();
        let columns = cells(reader.headers().expect("a header"));
        let read: Vec<_> = reader.records().map(|record| cells(&record.expect("a row"))).collect();
        assert_eq!(read.len(), rows, "rows read");
        Table { columns, rows: read }
    }

    /// Reads a TOML table with the keys `columns` and `rows`.
    #[track_caller]
    pub fn toml(text: &str, name: &str, rows: usize) -> Table {
        let document: toml::Table = text.parse().expect("valid TOML");
        let list = |key: &str| document[name][key].as_array().expect("a list").clone();
        let cell = |value: &toml::Value| value.as_str().map_or_else(|| value.to_string(), str::to_owned);
        let columns = list("columns").iter().map(cell).collect();
        let read: Vec<Vec<_>> =
            list("rows").iter().map(|row| row.as_array().expect("a row").iter().map(cell).collect()).collect();
        assert_eq!(read.len(), rows, "rows read");
        Table { columns, rows: read }
    }

    pub fn rows(&self) -> impl Iterator<Item = Row<'_>> {
        self.rows.iter().map(|cells| Row { columns: &self.columns, cells })
    }
}

/// One row of a [`Table`].
#[derive(Clone, Copy)]
pub struct Row<'a> {
    columns: &'a [String],
    cells: &'a [String],
}

impl<'a> Row<'a> {
    #[track_caller]
    pub fn text(&self, column: &str) -> &'a str {
        let place = self.columns.iter().position(|name| name == column);
        &self.cells[place.unwrap_or_else(|| panic!("no column {column}"))]
    }

    #[track_caller]
    pub fn number(&self, column: &str) -> f64 {
        let text = self.text(column);
        text.parse().unwrap_or_else(|_| panic!("{column}: {text} is no number"))
    }

    /// Seconds since 1970 of an instant written like 2027-03-20T12:30:00Z.
    #[track_caller]
    pub fn instant(&self, column: &str) -> f64 {
        unix_s(self.text(column))
    }

    /// The whole row, to point at it.
    pub fn shown(&self) -> String {
        self.cells.join(",")
    }
}

#[track_caller]
pub fn unix_s(text: &str) -> f64 {
    let instant: jiff::Timestamp = text.parse().unwrap_or_else(|_| panic!("{text} is no instant"));
    instant.as_second() as f64
}

/// The worst deviation met, and where.
pub struct Worst {
    compared: usize,
    off: f64,
    at: String,
}

impl Worst {
    pub fn new() -> Worst {
        Worst { compared: 0, off: 0.0, at: String::new() }
    }

    pub fn add(&mut self, found: f64, expected: f64, row: Row) {
        let off = (found - expected).abs();
        self.compared += 1;
        // A NaN is the worst of all and stays.
        if off.is_nan() || self.off < off {
            self.off = off;
            self.at = format!("found {found}, expected {expected} in {}", row.shown());
        }
    }

    /// Values compared so far.
    pub fn compared(&self) -> usize {
        self.compared
    }

    #[track_caller]
    pub fn within(&self, compared: usize, tolerance: f64) {
        println!("{compared} compared, worst {:.3e}: {}", self.off, self.at);
        assert_eq!(self.compared, compared, "values compared");
        assert!(self.off <= tolerance, "off by {}: {}", self.off, self.at);
    }
}
