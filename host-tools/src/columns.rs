//! Tables as plain text.

/// Sets rows in columns, those from `right` on to the right.
pub fn columns(rows: &[Vec<String>], right: usize) -> String {
    let count = rows.iter().map(Vec::len).max().unwrap_or(0);
    let widths: Vec<usize> = (0..count)
        .map(|i| rows.iter().filter_map(|row| row.get(i)).map(|cell| cell.chars().count()).max())
        .map(Option::unwrap_or_default)
        .collect();
    let mut text = String::new();
    for row in rows {
        let cells: Vec<String> = row
            .iter()
            .zip(&widths)
            .enumerate()
            .map(|(i, (cell, &wide))| if i < right { format!("{cell:<wide$}") } else { format!("{cell:>wide$}") })
            .collect();
        text.push_str(cells.join("  ").trim_end());
        text.push('\n');
    }
    text
}
