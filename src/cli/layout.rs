//! Columns and wrapped lines for a terminal of 80 columns.

use unicode_width::UnicodeWidthStr;

/// Columns of the narrowest terminal in use.
const WIDTH: usize = 80;
/// A cell wider than this is cut, so that one long name does not push the others off the screen.
const WIDEST_CELL: usize = 36;

/// Rows in columns, two blanks apart and indented by two; the columns named in `right` are set to the right.
pub fn table(rows: &[Vec<String>], right: &[usize]) -> String {
    let rows: Vec<Vec<String>> = rows.iter().map(|row| row.iter().map(|cell| cut(cell)).collect()).collect();
    let columns = rows.iter().map(Vec::len).max().unwrap_or(0);
    let width = |column: usize| rows.iter().filter_map(|row| row.get(column)).map(|c| c.width()).max().unwrap_or(0);
    let widths: Vec<usize> = (0..columns).map(width).collect();
    let mut text = String::new();
    for row in &rows {
        let mut line = String::new();
        for (column, cell) in row.iter().enumerate().filter(|(column, _)| widths[*column] > 0) {
            let gap = " ".repeat(widths[column] - cell.width());
            line.push_str("  ");
            line.push_str(&if right.contains(&column) { format!("{gap}{cell}") } else { format!("{cell}{gap}") });
        }
        text.push_str(line.trim_end());
        text.push('\n');
    }
    text
}

/// Text in lines of at most 80 columns: `lead` before the first, as many blanks before the others. A word wider
/// than that stands in a line of its own.
pub fn wrapped(lead: &str, text: &str) -> String {
    let indent = " ".repeat(lead.width());
    let mut out = String::new();
    let mut line = lead.to_owned();
    let mut is_begun = false;
    for word in text.split_whitespace() {
        if is_begun && line.width() + 1 + word.width() > WIDTH {
            out.push_str(&line);
            out.push('\n');
            line.clone_from(&indent);
            is_begun = false;
        }
        if is_begun {
            line.push(' ');
        }
        line.push_str(word);
        is_begun = true;
    }
    out + &line + "\n"
}

fn cut(cell: &str) -> String {
    if cell.width() <= WIDEST_CELL {
        return cell.to_owned();
    }
    let mut kept = String::new();
    for letter in cell.chars() {
        if kept.width() + letter.to_string().width() > WIDEST_CELL - 1 {
            break;
        }
        kept.push(letter);
    }
    kept.trim_end().to_owned() + "…"
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn columns_stand_below_each_other_in_any_script() {
        let rows = [["лампа", "off", "8.0 s"], ["電灯", "terminated", "124.0 s"], ["", "", ""]];
        let rows: Vec<Vec<String>> = rows.iter().map(|row| row.map(str::to_owned).to_vec()).collect();
        assert_eq!(table(&rows, &[2]), "  лампа  off           8.0 s\n  電灯   terminated  124.0 s\n\n");
    }

    #[test]
    fn a_long_cell_is_cut_and_an_empty_column_takes_no_room() {
        let rows = vec![vec!["x".repeat(50), String::new(), "on".to_owned()]];
        assert_eq!(table(&rows, &[]), format!("  {}…  on\n", "x".repeat(35)));
        assert_eq!(table(&[], &[]), "");
    }

    #[test]
    fn lines_end_before_the_screen_does() {
        let text = wrapped("  ! ", &"seven77 ".repeat(20));
        assert!(text.lines().all(|line| line.width() <= WIDTH), "{text}");
        assert!(text.starts_with("  ! seven77 seven77") && text.contains("\n    seven77"), "{text}");
        assert_eq!(text.matches("seven77").count(), 20);
        assert_eq!(wrapped("", &"x".repeat(100)), format!("{}\n", "x".repeat(100)));
    }
}
