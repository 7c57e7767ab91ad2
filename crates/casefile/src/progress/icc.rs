//! Agreement of several measurings of the same pages.

use super::square;

/// The three single-measure intraclass correlations of Shrout & Fleiss 1979.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Icc {
    /// (1,1): each page measured by others.
    pub one_way: f64,
    /// (2,1): all pages measured by the same few, taken for any.
    pub two_way_random: f64,
    /// (3,1): all pages measured by the same few, and only they matter.
    pub two_way_mixed: f64,
}

/// Agreement over a table with a row for each page and a column for each measuring; `None` unless
/// it is a full table of at least two by two whose pages differ.
pub fn icc(rows: &[Vec<f64>]) -> Option<Icc> {
    let n = rows.len();
    let k = rows.first()?.len();
    if n < 2 || k < 2 || rows.iter().any(|row| row.len() != k) {
        return None;
    }
    let (rows_f, columns_f) = (n as f64, k as f64);
    let mean = |values: &[f64]| values.iter().sum::<f64>() / values.len() as f64;
    let row_means: Vec<f64> = rows.iter().map(|row| mean(row)).collect();
    let column = |at: usize| -> Vec<f64> { rows.iter().map(|row| row[at]).collect() };
    let column_means: Vec<f64> = (0..k).map(|at| mean(&column(at))).collect();
    let grand = mean(&row_means);
    let about = |means: &[f64]| -> f64 { means.iter().map(|mean| square(mean - grand)).sum() };
    let total: f64 = rows
        .iter()
        .flatten()
        .map(|value| square(value - grand))
        .sum();
    let (between, judges) = (columns_f * about(&row_means), rows_f * about(&column_means));
    let bms = between / (rows_f - 1.0);
    let wms = (total - between) / (rows_f * (columns_f - 1.0));
    let jms = judges / (columns_f - 1.0);
    let ems = (total - between - judges) / ((rows_f - 1.0) * (columns_f - 1.0));
    let share = |others: f64, more: f64| (bms - others) / (bms + (columns_f - 1.0) * others + more);
    let found = Icc {
        one_way: share(wms, 0.0),
        two_way_random: share(ems, columns_f * (jms - ems) / rows_f),
        two_way_mixed: share(ems, 0.0),
    };
    found.one_way.is_finite().then_some(found)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_table_of_shrout_and_fleiss_1979() {
        // Shrout & Fleiss 1979, Psychol. Bull. 86:420-428, table 2; six targets, four judges.
        let rows = [
            [9.0, 2.0, 5.0, 8.0],
            [6.0, 1.0, 3.0, 2.0],
            [8.0, 4.0, 6.0, 8.0],
            [7.0, 1.0, 2.0, 6.0],
            [10.0, 5.0, 6.0, 9.0],
            [6.0, 2.0, 4.0, 7.0],
        ];
        let rows: Vec<Vec<f64>> = rows.into_iter().map(Vec::from).collect();
        let found = icc(&rows).unwrap();
        assert!((found.one_way - 0.165_742).abs() < 1e-6, "{found:?}");
        assert!((found.two_way_random - 0.289_764).abs() < 1e-6, "{found:?}");
        assert!((found.two_way_mixed - 0.714_841).abs() < 1e-6, "{found:?}");
    }

    #[test]
    fn a_ragged_or_single_row_has_no_agreement() {
        assert_eq!(icc(&[vec![1.0, 2.0]]), None);
        assert_eq!(icc(&[vec![1.0, 2.0], vec![1.0]]), None);
        assert_eq!(icc(&[vec![1.0, 1.0], vec![1.0, 1.0]]), None);
    }
}
