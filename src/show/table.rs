//! Tables for a terminal: columns where they fit, one block a row where they do not.

use std::fmt::Write as _;

use comfy_table::{ContentArrangement, Table, presets};

/// Narrowest terminal that gets columns.
const COLUMNS_FROM: usize = 70;

/// A table of text cells.
#[derive(Clone, Debug, Default)]
pub struct Rows {
    /// Headings.
    pub head: Vec<&'static str>,
    /// Cells, as many a row as there are headings.
    pub rows: Vec<Vec<String>>,
}

impl Rows {
    /// As text of that width.
    pub fn text(&self, width: usize) -> String {
        table(&self.head, &self.rows, width)
    }
}

/// Headings and cells as text of that width.
pub fn table(head: &[&str], rows: &[Vec<String>], width: usize) -> String {
    let lines = Lines { head, rows };
    if width < COLUMNS_FROM {
        lines.blocks()
    } else {
        lines.columns(width)
    }
}

struct Lines<'a> {
    head: &'a [&'a str],
    rows: &'a [Vec<String>],
}

impl Lines<'_> {
    fn columns(&self, width: usize) -> String {
        let mut table = Table::new();
        table
            .load_style(presets::NOTHING)
            .set_content_arrangement(ContentArrangement::Dynamic)
            .set_width(u16::try_from(width).unwrap_or(u16::MAX));
        if self.head.iter().any(|head| !head.is_empty()) {
            table.set_header(self.head.iter().copied());
        }
        for row in self.rows {
            table.add_row(row);
        }
        let mut text = String::new();
        for line in table.to_string().lines() {
            text.push_str(line.trim_end());
            text.push('\n');
        }
        text
    }

    fn blocks(&self) -> String {
        let mut text = String::new();
        for row in self.rows {
            for (head, cell) in self
                .head
                .iter()
                .zip(row)
                .filter(|(_, cell)| !cell.is_empty())
            {
                let colon = if head.is_empty() { "" } else { ": " };
                let _ = writeln!(text, "{head}{colon}{cell}");
            }
            text.push('\n');
        }
        text
    }
}
